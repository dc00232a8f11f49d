"""Mite counts: rate and interval, chance over a limit, how much more to sample, growth, and whether a treatment worked."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from hiveweek.colony.edge import BadNumber, numbers
from hiveweek.colony.estimate import Estimate, estimate
from hiveweek.numbers import Branch, shipped
from hiveweek.numbers.normal import ndtr

METHODS = ("wash", "sugar_roll", "co2")
_RECOVERY = ("recovery_wash", "recovery_sugar", "recovery_co2", "recovery_unknown")
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(5)
_NORMAL_NODES, _NORMAL_WEIGHTS = np.polynomial.hermite_e.hermegauss(5)


def _counts(mites: ArrayLike, bees: ArrayLike) -> tuple[np.ndarray, np.ndarray]:
    mites = numbers("mites in the sample", mites, 0, 5000, "mites")
    bees = numbers("bees in the sample", bees, 1, 5000, "bees")
    mites, bees = np.broadcast_arrays(mites, bees)
    bad = mites > bees
    if bad.any():
        row = int(np.flatnonzero(bad)[0])
        raise BadNumber(
            f"mites in the sample: {mites.reshape(-1)[row]:g} mites on {bees.reshape(-1)[row]:g} bees is more "
            f"than one a bee (row {row})"
        )
    return mites, bees


def exact_interval(mites: ArrayLike, bees: ArrayLike, confidence: float = 0.95) -> Estimate:
    """Share of infested bees with its exact binomial interval.

    Parameters
    ----------
    mites, bees : array_like of float
        Mites found on so many bees (mites <= bees). NaN gives NaN.
    confidence : float
        Between 0 and 1.

    Returns
    -------
    Estimate
        Share from 0 to 1 (Clopper-Pearson by the inverse incomplete beta function). Bees are taken as independent; mites
        sit clumped [V36], so the true spread is wider.
    """
    if not 0 < confidence < 1:
        raise BadNumber(f"confidence: {confidence!r} is outside 0 to 1")
    mites, bees = _counts(mites, bees)
    if np.isnan(mites).all():
        return estimate(mites, mites, mites)
    from scipy.special import betaincinv  # loading it takes longer than many an answer, and only a sample needs it

    tail = (1 - confidence) / 2
    with np.errstate(invalid="ignore", divide="ignore"):
        low = np.where(mites > 0, betaincinv(np.maximum(mites, 1e-9), bees - mites + 1, tail), 0.0)
        high = np.where(mites < bees, betaincinv(mites + 1, np.maximum(bees - mites, 1e-9), 1 - tail), 1.0)
    return estimate(mites / bees, np.where(np.isnan(mites / bees), np.nan, low), high)


def _recovery(method: ArrayLike, *, p: Branch | None = None) -> tuple[np.ndarray, np.ndarray]:
    """Lowest and highest share found, against a wash, by method code (NaN = method not known)."""
    p = p or shipped().model
    method = numbers("method", method, 0, len(METHODS) - 1)
    code = np.where(np.isnan(method), len(METHODS), method).astype(int)
    rows = [p.mites[name] for name in _RECOVERY]
    return np.array([r.low for r in rows])[code], np.array([r.high for r in rows])[code]


def rate(mites: ArrayLike, bees: ArrayLike, method: ArrayLike = np.nan, *, p: Branch | None = None) -> Estimate:
    """Mites on 100 bees.

    Parameters
    ----------
    mites, bees : array_like of float
        Sample. NaN gives NaN.
    method : array_like of float
        Place in ``METHODS``; NaN = not known.

    Returns
    -------
    Estimate
        Value: mites found per 100 bees, as published limits are stated. Interval: exact 95 % of the count, its upper end
        raised by what the method may miss against a wash [V32, V34]. 9 in 300 by wash: 3.00 (1.38-5.62).
    """
    p = p or shipped().model
    share = exact_interval(mites, bees)
    least, _ = _recovery(method, p=p)
    return estimate(100 * share.value, 100 * share.low, 100 * share.high / least, 0.0, p.mites.rate_most)


def chance_over(
    mites: ArrayLike, bees: ArrayLike, limit: ArrayLike, method: ArrayLike = np.nan, *, p: Branch | None = None
) -> np.ndarray:
    """Chance that the true level is over a limit.

    Parameters
    ----------
    mites, bees, method : array_like of float
        As in :func:`rate`.
    limit : array_like of float
        Mites per 100 bees, above 0 to 100.

    Returns
    -------
    ndarray
        0 to 1: upper tail of beta(mites + 0.5, bees - mites + 0.5), averaged over what the method may have missed. NaN where
        the count is unknown.
    """
    mites, bees = _counts(mites, bees)
    limit = numbers("limit", limit, 1e-6, 100, "mites/100 bees")
    least, most = _recovery(method, p=p)
    mites, bees, limit, least, most = np.broadcast_arrays(mites, bees, limit, least, most)
    if np.isnan(mites).all():
        return np.full(mites.shape, np.nan)
    from scipy.special import betainc

    chance = np.zeros(mites.shape)
    for node, weight in zip(_NODES, _WEIGHTS, strict=False):
        found = least + (most - least) * (node + 1) / 2
        chance = chance + weight / 2 * (
            1 - betainc(mites + 0.5, bees - mites + 0.5, np.minimum(found * limit / 100, 1.0))
        )
    return chance


def chance_over_grown(
    mites: ArrayLike,
    bees: ArrayLike,
    limit: ArrayLike,
    growth: Estimate,
    method: ArrayLike = np.nan,
    *,
    p: Branch | None = None,
) -> np.ndarray:
    """Chance that the level is over a limit some time after a count, averaged over how the mites have grown since.

    Parameters
    ----------
    mites, bees, limit, method : array_like of float
        As in :func:`chance_over`.
    growth : Estimate
        Times the level of the count; its range is the 95 % interval of a log-normal. All 1 gives :func:`chance_over`.
    """
    spread = (np.log(growth.high) - np.log(growth.low)) / (2 * 1.959963984540054)
    middle = np.log(growth.value)
    limit = np.asarray(limit, dtype=float)
    chance = np.zeros(np.broadcast(mites, bees, limit, growth.value).shape)
    for node, weight in zip(_NORMAL_NODES, _NORMAL_WEIGHTS, strict=True):
        then = np.clip(limit / np.exp(middle + spread * node), 1e-6, 100.0)
        chance = chance + weight / _NORMAL_WEIGHTS.sum() * chance_over(mites, bees, then, method, p=p)
    return chance


def chance_over_range(level: Estimate, limit: ArrayLike) -> np.ndarray:
    """Chance over a limit where only a range is known (a drop): log-normal with the range as its 95 % interval."""
    limit = numbers("limit", limit, 1e-6, 400, "mites/100 bees")
    middle = np.sqrt(np.maximum(level.low, 1e-6) * np.maximum(level.high, 1e-6))
    with np.errstate(divide="ignore", invalid="ignore"):
        sd = np.log(np.maximum(level.high, 1e-6) / np.maximum(level.low, 1e-6)) / (2 * 1.959963984540054)
        above = ndtr((np.log(middle) - np.log(limit)) / np.maximum(sd, 1e-9))
    return np.where(np.isnan(level.value), np.nan, above)


def more_bees(mites: ArrayLike, bees: ArrayLike, limit: ArrayLike, *, p: Branch | None = None) -> np.ndarray:
    """How many more bees to sample so that the count would decide, if the rate stays as found.

    Returns
    -------
    ndarray
        Bees, in steps of ``more_bees_step``; 0 where the exact interval already lies on one side; at most
        ``more_bees_most``, which means that the level is too near the limit to tell.

    Notes
    -----
    Wilson bound: n = z^2 q (1 - q) / (rate - q)^2 with q the limit, less what is sampled.
    """
    p = p or shipped().model
    mites, bees = _counts(mites, bees)
    limit = numbers("limit", limit, 1e-6, 100, "mites/100 bees")
    q = limit / 100
    share = exact_interval(mites, bees)
    decided = (share.low > q) | (share.high < q)
    with np.errstate(divide="ignore", invalid="ignore"):
        need = 1.959963984540054**2 * q * (1 - q) / (share.value - q) ** 2
    step = p.mites.more_bees_step
    more = np.ceil(np.maximum(np.minimum(need, 1e9) * p.mites.more_bees_margin - bees, 1) / step) * step
    more = np.where(decided, 0.0, np.minimum(more, p.mites.more_bees_most))
    return np.where(np.isnan(share.value), np.nan, more)


def drop_per_day(mites: ArrayLike, days: ArrayLike) -> np.ndarray:
    """Daily drop: mites on the tray over the days it lay (0.2 to 30). NaN gives NaN."""
    return numbers("mites on the tray", mites, 0, 100_000, "mites") / numbers(
        "days the tray lay", days, 0.2, 30, "days"
    )


def colony_mites_from_drop(drop_per_day: ArrayLike, brood_state: ArrayLike, *, p: Branch | None = None) -> Estimate:
    """Mites in the whole colony from the daily drop.

    Parameters
    ----------
    drop_per_day : array_like of float
        Mites a day, 0 to 5000.
    brood_state : array_like of float
        0 no brood, 1 some (spring, autumn), 2 full. NaN gives the whole band.

    Notes
    -----
    Published factors run from about 25 with much brood [V13, V14] over about 100 to 300-500 without brood [V22, V24]; one
    factor for the year is wrong by up to ten times, so the range is the answer.
    """
    p = p or shipped().model
    drop = numbers("mites a day", drop_per_day, 0, 5000, "mites/day")
    state = numbers("brood state", brood_state, 0, 2)
    rows = [p.mites["drop_factor_none"], p.mites["drop_factor_some"], p.mites["drop_factor_full"]]
    value, low, high = (
        _band(state, [getattr(r, part) for r in rows], unknown)
        for part, unknown in (("value", p.mites.drop_factor_some), ("low", rows[2].low), ("high", rows[0].high))
    )
    return estimate(drop * value, drop * low, drop * high)


def rate_from_drop(
    drop_per_day: ArrayLike, brood_state: ArrayLike, bees: ArrayLike, *, p: Branch | None = None
) -> Estimate:
    """Mites on 100 bees from the daily drop: colony mites x share on adults / bees, as a wide range; NaN where unknown."""
    p = p or shipped().model
    state = numbers("brood state", brood_state, 0, 2)
    bees = numbers("bees", bees, 0, 200_000, "bees")
    total = colony_mites_from_drop(drop_per_day, state, p=p)
    full, some = p.mites["adult_share_full"], p.mites["adult_share_some"]
    value, low, high = (
        _band(state, (1.0, getattr(some, part), getattr(full, part)), unknown)
        for part, unknown in (("value", some.value), ("low", full.low), ("high", 1.0))
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        per = np.where(bees > 0, 100.0 / bees, np.nan)
    # Factor and share are independent guesses, so their ranges add as logarithms in quadrature.
    middle = total.value * value * per
    down = np.exp(-np.hypot(_log(total.value, total.low), _log(value, low)))
    up = np.exp(np.hypot(_log(total.high, total.value), _log(high, value)))
    return estimate(middle, middle * down, middle * up, 0.0, p.mites.rate_most)


def _band(state, values, unknown):
    known = ~np.isnan(state)
    return np.where(known, np.asarray(values, dtype=float)[np.where(known, np.round(state), 0).astype(int)], unknown)


def _log(a, b):
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where((a > 0) & (b > 0), np.log(a / np.where(b > 0, b, 1)), 0.0)


def grow(
    level: Estimate, brood_days: ArrayLike, broodless_days: ArrayLike = 0.0, *, p: Branch | None = None
) -> Estimate:
    """Level after so many days with and without brood, untreated.

    Parameters
    ----------
    level : Estimate
        Mites per 100 bees, or mites.
    brood_days, broodless_days : array_like of float
        Days, 0 to 400. NaN gives NaN.

    Notes
    -----
    exp(0.021 t), band 0.015 to 0.030 a day (doubling in 23 to 46 days) [V7, V26, V50]; a loss of 0.0024 a day without brood
    [V52]. Mites carried in from dying colonies (0.7 to 11 a day, [V57]) come on top.
    """
    p = p or shipped().model
    with_brood = numbers("days with brood", brood_days, 0, 400, "days")
    without = numbers("days without brood", broodless_days, 0, 400, "days")
    up, down = p.mites["growth_per_day"], p.mites["winter_loss_per_day"]
    return estimate(
        level.value * np.exp(up.value * with_brood - down.value * without),
        level.low * np.exp(up.low * with_brood - down.high * without),
        level.high * np.exp(up.high * with_brood - down.low * without),
    )


def efficacy(
    before: Estimate, after: Estimate, days_between: ArrayLike, brood_share: ArrayLike, *, p: Branch | None = None
) -> Estimate:
    """Share of mites that a course took away, per cent, from counts before and after.

    Parameters
    ----------
    before, after : Estimate
        Mites per 100 bees.
    days_between : array_like of float
        Days between the counts.
    brood_share : array_like of float
        Part of those days with brood (0 to 1), in which an untreated colony would have grown.

    Returns
    -------
    Estimate
        0 to 100: Henderson-Tilton with the usual growth in place of a control colony. NaN where the count before was 0.
    """
    p = p or shipped().model
    days = numbers("days between the counts", days_between, 0, 400, "days")
    share = numbers("part of days with brood", brood_share, 0, 1)
    growth = [
        np.exp(p.mites["growth_per_day"].low * days * share),
        np.exp(p.mites.growth_per_day * days * share),
        np.exp(p.mites["growth_per_day"].high * days * share),
    ]
    with np.errstate(divide="ignore", invalid="ignore"):
        value = np.where(before.value > 0, 100 * (1 - after.value / before.value / growth[1]), np.nan)
        low = 100 * (1 - after.high / np.maximum(before.low, 1e-6) / growth[0])
        high = 100 * (1 - after.low / np.maximum(before.high, 1e-6) / growth[2])
    return estimate(value, low, high, 0.0, 100.0)

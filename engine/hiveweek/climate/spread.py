"""Many possible weeks from a few numbers: evenly spread, repeatable draws of correlated days.

Nothing here is random. A fixed set of evenly spread points (Richtmyer's: multiples of the square roots of primes,
less their whole part) stands for all the weeks that a climate can bring, so the same input gives the same answer.
Ours, since scipy.stats.qmc takes a second to import, as long as the whole answer.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

WEEKS = 2048
_PRIMES = (2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53)


@lru_cache(maxsize=2)
def _points() -> np.ndarray:
    steps = np.arange(1, WEEKS + 1)[:, None] * np.sqrt(np.array(_PRIMES, dtype=float))
    return np.clip((steps + 0.5) % 1.0, 1e-9, 1 - 1e-9)


@lru_cache(maxsize=2)
def _standard_normals() -> np.ndarray:
    """Eight columns of independent standard normal values (Box and Muller 1958, Ann. Math. Stat. 29:610)."""
    points = _points()[:, :8]
    radius = np.sqrt(-2 * np.log(points[:, 0::2]))
    angle = 2 * np.pi * points[:, 1::2]
    normal = np.concatenate([radius * np.cos(angle), radius * np.sin(angle)], axis=1)
    return (normal - normal.mean(axis=0)) / normal.std(axis=0)


def week_anomalies(known: np.ndarray, lag1: float, first: int = 0) -> np.ndarray:
    """Return possible weeks of day anomalies, given those days that are known.

    A first-order autoregressive chain: days k apart correlate by ``lag1 ** k`` (Richardson 1981, Water Resour. Res.
    17:182, one variable). Known days hold in every week and pull their neighbours along.

    Parameters
    ----------
    known : ndarray of float, shape (days,)
        Anomaly of each day in standard deviations; NaN where unknown.
    lag1 : float
        Correlation of neighbouring days, 0 to less than 1.
    first : int
        The place of the week's first day; known days before it only pull the others along. From it on, at most eight
        days may be unknown.

    Returns
    -------
    ndarray of float, shape (WEEKS, days - first)
        Standard deviations from the usual.

    Raises
    ------
    ValueError
        For a correlation out of range or too many unknown days.
    """
    known = np.asarray(known, dtype=float)
    if not 0 <= lag1 < 1:
        raise ValueError(f"lag1 must lie in 0 <= lag1 < 1, not {lag1}")
    place = np.arange(len(known))
    missing = np.isnan(known) & (place >= first)
    told = ~np.isnan(known)
    count = int(missing.sum())
    if count > 8:
        raise ValueError("at most eight days of a week can be unknown")
    weeks = np.tile(known, (WEEKS, 1))
    if count:
        covariance = lag1 ** np.abs(place[:, None] - place[None, :])
        expected = np.zeros(count)
        spread = covariance[np.ix_(missing, missing)]
        if told.any():
            link = covariance[np.ix_(missing, told)]
            weight = np.linalg.solve(covariance[np.ix_(told, told)], link.T).T
            expected = weight @ known[told]
            spread = spread - weight @ link.T
        weeks[:, missing] = expected + _standard_normals()[:, :count] @ np.linalg.cholesky(spread).T
    return weeks[:, first:]


def week_rain(
    known: np.ndarray, share: np.ndarray, after_dry: float, heavy_share: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return possible weeks of wet days and of days with heavy rain, given those days that are known.

    A two-state chain whose chances come from the share f of wet days: ``P(wet|dry) = a f``,
    ``P(wet|wet) = 1 - a + a f`` with a = ``after_dry`` (Geng et al. 1986, Agric. For. Meteorol. 36:363).

    Parameters
    ----------
    known : ndarray of float, shape (days,)
        1 wet, 0 dry, NaN unknown; at most eight days.
    share : ndarray of float, shape (days,)
        Share of wet days usual at that date, 0 to 1; NaN where the climate does not say.
    after_dry : float
        The factor a, 0 to 1.
    heavy_share : ndarray of float, shape (days,)
        Share of the wet days that are heavy, 0 to 1; NaN counts every wet day as heavy.

    Returns
    -------
    wet, heavy : ndarray of float, shape (WEEKS, days)
        1 or 0; NaN on days of which nothing is known. ``heavy`` is NaN on days whose wetness was given.
    """
    known, share = np.asarray(known, dtype=float), np.asarray(share, dtype=float)
    heavy_share = np.nan_to_num(np.asarray(heavy_share, dtype=float), nan=1.0)
    draws = _points()[:, 8 : 8 + len(known)]
    wet = np.full((WEEKS, len(known)), np.nan)
    heavy = np.full((WEEKS, len(known)), np.nan)
    for day in range(len(known)):
        if not np.isnan(known[day]):
            wet[:, day] = known[day]
            continue
        if np.isnan(share[day]):
            continue
        chance = np.full(WEEKS, share[day])
        if day:
            before = wet[:, day - 1]
            chance = np.where(
                before == 1,
                1 - after_dry + after_dry * share[day],
                np.where(before == 0, after_dry * share[day], chance),
            )
        wet[:, day] = draws[:, day] < chance
        heavy[:, day] = draws[:, day] < chance * heavy_share[day]
    return wet, heavy


def interval(samples: np.ndarray) -> tuple[float, float]:
    """Return the 2.5 and 97.5 % points of a sample (nearest rank, so a count stays a count)."""
    ordered = np.sort(np.asarray(samples, dtype=float))
    last = len(ordered) - 1
    return float(ordered[round(0.025 * last)]), float(ordered[round(0.975 * last)])

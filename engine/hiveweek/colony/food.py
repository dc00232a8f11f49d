"""What a colony eats, what is left of its stores, how long it lasts and what it needs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtri

from hiveweek.colony import heat, population
from hiveweek.colony.edge import numbers
from hiveweek.colony.estimate import Estimate, estimate
from hiveweek.numbers import Branch, shipped

CHUNK = 32_768  # hives worked on together, so that their arrays stay in the processor's cache
NEVER = 999.0  # days left where stores outlast the horizon
Z10 = 1.2815515655446004
Z95 = 1.959963984540054
CHANCES = (0.025, 0.10, 0.50, 0.975)
_SCALES = (-Z95, -Z10, 0.0, Z95)


def daily_use(
    bees: ArrayLike, brood_cells: ArrayLike, outdoor_c: ArrayLike, w_per_k: ArrayLike, *, p: Branch | None = None
) -> np.ndarray:
    """Honey eaten in a day with nothing coming in, kg.

    Parameters
    ----------
    bees, brood_cells : array_like of float
        Adults and cells with brood, 0 to 200,000. NaN gives NaN.
    outdoor_c : array_like of float
        Mean outdoor temperature, -60 to 50 degC.
    w_per_k : array_like of float
        Heat loss of the hive, W/K (:func:`hiveweek.colony.heat.hive_w_per_k`).

    Notes
    -----
    Heat of the colony at 12.72 MJ/kg [W76], food of the brood, and activity above the temperature of least use. It gives
    about 1 kg a month broodless and 3 kg with spring brood in central Europe [W14], and 0.039 kg a day in SW Sweden [W22].
    One colony differs from it by about a quarter (``use_sd``).
    """
    bees = numbers("bees", bees, 0, 200_000, "bees")
    cells = numbers("brood cells", brood_cells, 0, 200_000, "cells")
    outdoor = numbers("outdoor temperature", outdoor_c, -60, 50, "degC")
    loss = numbers("heat loss of the hive", w_per_k, 0.05, 20, "W/K")
    p = p or shipped().model
    return _use(bees, cells, outdoor, loss, p, heat.cluster_share(p))


def _use(
    bees: np.ndarray,
    cells: np.ndarray,
    outdoor: np.ndarray,
    loss: np.ndarray,
    p: Branch,
    share: float,
    least: np.ndarray | None = None,
    nest: np.ndarray | None = None,
) -> np.ndarray:
    warm = (outdoor - p.heat.activity_from_c) / (p.heat.activity_full_c - p.heat.activity_from_c)
    busy = np.clip(warm, 0.0, 1.0) * p.heat.activity_mw_per_bee * 1e-3
    watts = heat.heat_w(bees, cells, outdoor, loss, p, share, least, nest)
    if np.any(busy > 0):
        watts = watts + busy * bees
    per_watt = heat.SECONDS_A_DAY / (p.heat.honey_energy_mj_per_kg * 1e6)
    return watts * per_watt + cells * p.heat.brood_feed_mg_per_cell_day * 1e-6


@dataclass(frozen=True)
class Days:
    """The usual days of a place, one entry a day.

    Attributes
    ----------
    outdoor_c : ndarray, shape (days,)
        Mean temperature.
    laying : ndarray, shape (days,)
        Share of full laying (:func:`hiveweek.colony.population.brood_share`).
    income : ndarray, shape (days,)
        Share of its use that a colony finds outside: 0 none, 1 all of it.
    flow : ndarray, shape (days,)
        1 on days of a usual nectar flow.
    dying : ndarray, shape (days,)
        Deaths of adults a day (:func:`hiveweek.colony.population.death_rate`).
    """

    outdoor_c: np.ndarray
    laying: np.ndarray
    income: np.ndarray
    flow: np.ndarray
    dying: np.ndarray

    def __len__(self) -> int:
        return len(self.outdoor_c)

    def take(self, index: np.ndarray | slice) -> Days:
        """Return the days at these places."""
        return Days(*(x[index] for x in (self.outdoor_c, self.laying, self.income, self.flow, self.dying)))


@dataclass
class Runway:
    """How long stores last and what is needed, one entry a hive.

    Attributes
    ----------
    use_kg_week : Estimate
        Use of the coming seven days if nothing comes in.
    days : dict of float to ndarray
        Day by which that share of such hives would be empty if nothing comes in, for each of ``CHANCES``; 999 = beyond a
        year.
    days_left : Estimate
        The 10 % day; its interval tells how far an old or rough knowledge of the stores moves that day.
    use_check_kg : ndarray
        Use up to the next check (``candy_days``) or forage, at its 90 % end.
    need_kg : Estimate
        What lasts from today to reliable forage and through the reserve for 9 in 10 such colonies, what is found outside
        taken off; its interval tells how far an old count of bees moves it.
    """

    use_kg_week: Estimate
    days: dict
    days_left: Estimate
    use_check_kg: np.ndarray
    need_kg: Estimate


def runway(
    bees: ArrayLike,
    cells: ArrayLike,
    stores: Estimate,
    w_per_k: ArrayLike,
    ahead: Days,
    forage_days: float,
    *,
    this_week_c: ArrayLike = np.nan,
    room_c: ArrayLike = np.nan,
    bees_sd: ArrayLike = 0.0,
    p: Branch | None = None,
) -> Runway:
    """Project use, stores and need from today.

    Parameters
    ----------
    bees, cells : array_like of float, shape (hives,)
        Adults and brood cells today; unknown cells are taken as usual for the season and widen the spread.
    stores : Estimate
        kg today; unknown stores leave days unknown, use and need known.
    w_per_k : array_like of float
        Heat loss of each hive.
    ahead : Days
        At least 365 days from today.
    forage_days : float
        Days to the first reliable forage, 0 where forage is normal now.
    this_week_c : array_like of float
        Mean temperature of the coming seven days where it is known better than usual.
    room_c : array_like of float
        Temperature of the wintering room, for hives wintered indoors; NaN outdoors.
    bees_sd : array_like of float
        Relative spread that an old count of bees adds (0 for a fresh one).

    Returns
    -------
    Runway
        Unknown bees make everything unknown.

    Notes
    -----
    Colonies of one strength differ by ``use_sd`` (log-normal); stores seen carry ``stores_estimate_sd`` besides.
    """
    p = p or shipped().model
    bees, cells, loss, week_c, room, aged, *kg = np.broadcast_arrays(
        numbers("bees", bees, 0, 200_000, "bees"),
        numbers("brood cells", cells, 0, 200_000, "cells"),
        numbers("heat loss of the hive", w_per_k, 0.05, 20, "W/K"),
        numbers("mean of the week", this_week_c, -60, 50, "degC"),
        numbers("room", room_c, -30, 50, "degC"),
        numbers("spread of the bees", bees_sd, 0, 5, unknown_ok=False),
        *(numbers("stores", x, 0, 250, "kg") for x in stores),
    )
    if len(ahead) < int(p.food.runway_horizon_days):
        raise ValueError(f"{len(ahead)} days ahead are too few, {int(p.food.runway_horizon_days)} are needed")
    numbers("days to forage", forage_days, 0, 366, "days", unknown_ok=False)
    n = bees.shape[0] if bees.ndim else 1
    flat = [np.ascontiguousarray(np.broadcast_to(x, n)) for x in (bees, cells, loss, week_c, room, aged, *kg)]
    parts = [_runway([x[i : i + CHUNK] for x in flat], ahead, round(forage_days), p) for i in range(0, n, CHUNK)]
    joined = [np.concatenate(x) for x in zip(*parts, strict=False)] if parts else [np.zeros(0)] * 10
    week, check, need, sd, d025, d10, d50, d975, d_low, d_high = joined
    spread = np.exp(Z95 * sd)
    margin = np.exp(ndtri(1.0 - p.food.need_chance) * p.food.use_sd)
    moved = np.exp(Z95 * p.food.use_by_bees * flat[5])
    return Runway(
        estimate(week, week / spread, week * spread),
        dict(zip(CHANCES, (d025, d10, d50, d975), strict=False)),
        estimate(d10, d_low, d_high),
        check * np.exp(Z10 * sd),
        estimate(need * margin, need * margin / moved, need * margin * moved),
    )


def _runway(flat: Sequence[np.ndarray], ahead: Days, forage: int, p: Branch) -> tuple[np.ndarray, ...]:
    bees, cells, loss, week_c, room, aged, kg, kg_low, kg_high = flat
    share = heat.cluster_share(p)
    guessed = np.isnan(cells)
    use_sd = np.where(guessed, p.food.use_sd_brood_unknown, p.food.use_sd)
    cells = np.where(guessed, population.usual_cells(bees, ahead.laying[0], p), cells)
    with np.errstate(divide="ignore", invalid="ignore"):
        rough = np.log(np.maximum(kg_high, kg) / np.maximum(kg_low, 1e-3)) / (2 * Z95)
    rough = np.hypot(np.where(kg > 0, np.minimum(rough, p.food.stores_spread_most), 0.0), p.food.use_by_bees * aged)
    total_sd = np.sqrt(use_sd**2 + p.hive.stores_estimate_sd**2 + rough**2)
    marks = [kg * np.exp(z * total_sd) for z in _SCALES]
    marks += [marks[1] * np.exp(-Z95 * rough), marks[1] * np.exp(Z95 * rough)]
    empty = [np.where(np.isnan(kg + bees), np.nan, np.where(mark > 0, NEVER, 0.0)) for mark in marks]
    longest = np.max(marks, axis=0)
    eaten = np.zeros_like(bees)
    week = check = need = np.zeros_like(bees)
    horizon = int(p.food.runway_horizon_days)
    reserve = int(p.food.reserve_days if forage > p.food.candy_days else p.food.season_reserve_days)
    check_days = int(p.food.candy_days) if forage == 0 else min(int(p.food.candy_days), forage)
    last = max(forage + reserve, check_days, 7)
    for day in range(horizon):
        outdoor = ahead.outdoor_c[day]
        here = np.where(np.isnan(week_c), outdoor, week_c) if day < 7 else outdoor
        here = np.where(np.isnan(room), here, np.maximum(room, here))
        use = _use(bees, cells, here, loss, p, share)
        before, eaten = eaten, eaten + use
        for i, mark in enumerate(marks):
            now = (before < mark) & (eaten >= mark)
            if now.any():
                empty[i] = np.where(now, day + (mark - before) / np.maximum(use, 1e-12), empty[i])
        beyond = not (eaten < longest).any()
        if day < forage:
            need = need + use * (1.0 - ahead.income[day])
        elif day < forage + reserve:
            need = need + use
        if day == 6:
            week = eaten
        if day == check_days - 1:
            check = eaten
        if beyond and day + 1 >= last:
            break
        bees, cells = population.step(bees, cells, ahead.laying[day], ahead.dying[day], p)
    return week, check, need, use_sd + 0 * bees, *empty


def carry_forward(
    stores: Estimate,
    days: ArrayLike,
    bees: ArrayLike,
    cells: ArrayLike,
    w_per_k: ArrayLike,
    past: Days,
    *,
    fed_kg: ArrayLike | None = None,
    room_c: ArrayLike = np.nan,
    p: Branch | None = None,
) -> Estimate:
    """Stores today, from stores seen some days ago.

    Parameters
    ----------
    stores : Estimate
        kg as seen (an exact sighting may have low = value = high).
    days : array_like of float, shape (hives,)
        Days since they were seen; NaN gives NaN.
    bees, cells : array_like of float
        Adults and brood cells now; unknown cells are taken as usual on each day.
    past : Days
        The days gone by, the last entry being yesterday.
    fed_kg : ndarray, shape (hives,), optional
        Sugar given since; it enters as 0.93 to 1.25 kg of stores a kg [W16, W108].

    Returns
    -------
    Estimate
        kg today: less each day's use, plus what is usually found outside. Unknown where bees are unknown or the sighting is
        older than ``carry_days_winter`` (or holds more than ``carry_days_season`` days with income). On days of a usual flow
        the upper end grows by ``flow_gain_kg_day``; a longer gap always widens the interval until it meets zero.
    """
    p = p or shipped().model
    value, low, high = (numbers("stores", x, 0, 250, "kg") for x in stores)
    days = numbers("days since stores were seen", days, 0, 4000, "days")
    bees = numbers("bees", bees, 0, 200_000, "bees")
    cells = numbers("brood cells", cells, 0, 200_000, "cells")
    loss = numbers("heat loss of the hive", w_per_k, 0.05, 20, "W/K")
    room = numbers("room", room_c, -30, 50, "degC")
    fed = numbers("sugar given", 0.0 if fed_kg is None else fed_kg, 0, 250, "kg")
    value, low, high, days, bees, cells, loss, room, fed = np.broadcast_arrays(
        value, low, high, np.round(days), bees, cells, loss, room, fed
    )
    share = heat.cluster_share(p)
    reach = min(len(past), int(p.food.carry_days_winter))
    usable = days <= reach
    oldest = int(np.max(np.where(usable, days, 0), initial=0))
    used = np.zeros(value.shape)
    found = np.zeros(value.shape)
    most = np.zeros(value.shape)
    open_days = np.zeros(value.shape)
    least = heat.least_w(bees, p)
    full = population.usual_cells(bees, 1.0, p)
    guessed = np.isnan(cells)
    for ago in range(oldest, 0, -1):
        i = len(past) - ago
        on = usable & (days >= ago)
        brood = np.where(guessed, full * past.laying[i], cells)
        here = np.where(np.isnan(room), past.outdoor_c[i], np.maximum(room, past.outdoor_c[i]))
        use = np.where(on, _use(bees, brood, here, loss, p, share, least), 0.0)
        used = used + use
        found = found + use * past.income[i]
        most = most + np.where(on, p.food.flow_gain_kg_day * past.flow[i], 0.0)
        open_days = open_days + np.where(on, past.income[i] > 0, 0.0)
    rate = p.food["stores_per_sugar"]
    sd = np.where(np.isnan(cells), p.food.use_sd_brood_unknown, p.food.use_sd)
    seen = np.where(days >= 1, p.hive.stores_estimate_sd * value, 0.0)
    noise = Z95 * np.hypot(seen, sd * used)
    mid = value - used + found + fed * rate.value
    below = np.hypot(noise, value - low) + found + fed * (rate.value - rate.low)
    above = np.hypot(noise, high - value) + most + fed * (rate.high - rate.value)
    gone = ~usable | (open_days > p.food.carry_days_season) | np.isnan(bees)
    gone &= days > 0
    mid = np.where(gone | np.isnan(days), np.nan, mid)
    return estimate(mid, mid - below, mid + above)


@dataclass
class Feed:
    """What makes up a shortfall, one entry a hive (all kg or L; 0 where nothing is missing to the need or to the next check)."""

    candy_kg: np.ndarray
    sugar_kg: Estimate
    litres_thick: np.ndarray
    litres_thin: np.ndarray
    missing_share: np.ndarray


def feed_for(stores_kg: ArrayLike, need_kg: ArrayLike, use_check_kg: ArrayLike, *, p: Branch | None = None) -> Feed:
    """Candy, sugar and syrup that make up what is missing.

    Parameters
    ----------
    stores_kg, need_kg : array_like of float
        kg today and needed. NaN gives NaN.
    use_check_kg : array_like of float
        Use up to the next check or forage.

    Notes
    -----
    Sugar = shortfall / 1.2 (0.93 to 1.25) kg stores per kg sugar [W16, W108]; 2:1 syrup holds 0.887 and 1:1 syrup 0.615 kg
    sugar a litre. Candy: what is missing to the next check, at least 1 kg, in half kilos (``candy_step_kg``). Thin syrup is for
    use, not for store: where the stores do not last to the next check it makes up at least ``thin_share`` of the use up to it.
    """
    p = p or shipped().model
    stores = numbers("stores", stores_kg, 0, 250, "kg")
    need = numbers("need", need_kg, 0, 250, "kg")
    check = numbers("use to the next check", use_check_kg, 0, 250, "kg")
    missing = np.maximum(need - stores, 0.0)
    rate = p.food["stores_per_sugar"]
    sugar = estimate(missing / rate.value, missing / rate.high, missing / rate.low)
    spell = np.minimum(np.maximum(check - stores, p.food.candy_least_kg), np.maximum(missing, p.food.candy_least_kg))
    hungry, step = stores < check, p.food.candy_step_kg
    candy = np.where((missing > 0) | hungry, np.ceil(spell / step) * step, 0.0)
    candy = np.where(np.isnan(missing + check), np.nan, candy)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(need > 0, (need - stores) / need, 0.0)
    share = np.where(np.isnan(need - stores), np.nan, share)
    thin = np.maximum(missing, np.where(hungry, check * p.food.thin_share, 0.0)) / rate.value
    return Feed(candy, sugar, sugar.value / p.food.sugar_per_litre_thick, thin / p.food.sugar_per_litre_thin, share)


def use_ratio(
    before_kg: ArrayLike,
    after_kg: ArrayLike,
    days_ago_before: ArrayLike,
    days_ago_after: ArrayLike,
    fed_kg: ArrayLike,
    bees: ArrayLike,
    cells: ArrayLike,
    w_per_k: ArrayLike,
    past: Days,
    *,
    p: Branch | None = None,
) -> Estimate:
    """Stores eaten between two sightings over stores expected to be eaten.

    Parameters
    ----------
    before_kg, after_kg : array_like of float
        kg at the earlier and the later sighting.
    days_ago_before, days_ago_after : array_like of float
        How many days ago each was.
    fed_kg : array_like of float
        Sugar given between.

    Returns
    -------
    Estimate
        1 = as expected. Unknown where the sightings are less than ``ratio_days`` apart, less than ``ratio_least_kg`` was to be
        eaten, or a flow or forage day lies between (income would hide what was eaten).
    """
    p = p or shipped().model
    before, after, first, last, fed, bees, cells, loss = np.broadcast_arrays(
        numbers("earlier stores", before_kg, 0, 250, "kg"),
        numbers("later stores", after_kg, 0, 250, "kg"),
        numbers("days since the earlier sighting", days_ago_before, 0, 4000),
        numbers("days since the later sighting", days_ago_after, 0, 4000),
        numbers("sugar given", fed_kg, 0, 250, "kg"),
        numbers("bees", bees, 0, 200_000),
        numbers("brood cells", cells, 0, 200_000),
        numbers("heat loss of the hive", w_per_k, 0.05, 20, "W/K"),
    )
    share = heat.cluster_share(p)
    oldest = int(np.nanmax(np.where(first <= len(past), first, 0), initial=0))
    expected = np.zeros(before.shape)
    income = np.zeros(before.shape)
    for ago in range(oldest, 0, -1):
        i = len(past) - ago
        on = (first >= ago) & (last < ago)
        brood = np.where(np.isnan(cells), population.usual_cells(bees, past.laying[i], p), cells)
        expected = expected + np.where(on, _use(bees, brood, past.outdoor_c[i], loss, p, share), 0.0)
        income = income + np.where(on, past.income[i] + past.flow[i], 0.0)
    usable = (first - last >= p.food.ratio_days) & (first <= len(past))
    usable &= (expected >= p.food.ratio_least_kg) & (income == 0)
    eaten = before - after + fed * p.food.stores_per_sugar
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(usable, np.maximum(eaten, 0.0) / expected, np.nan)
        sd = np.hypot(p.food.use_sd * ratio, p.hive.stores_estimate_sd * np.hypot(before, after) / expected)
    return estimate(ratio, ratio - Z95 * sd, ratio + Z95 * sd)


def winter_saving(
    bees: ArrayLike, loss_now: ArrayLike, loss_then: ArrayLike, year: Days, *, p: Branch | None = None
) -> np.ndarray:
    """Honey a winter that a better hive saves here, kg.

    Parameters
    ----------
    bees : array_like of float
        Wintering bees. NaN gives NaN.
    loss_now, loss_then : array_like of float
        Heat loss as the hive is, and as it could be, W/K.
    year : Days
        A usual year; days with a mean of ``saving_below_c`` or more do not count.

    Returns
    -------
    ndarray
        0 or more: insulation never raises use. Trust it to about a half: the trial that measured covers [W31] printed no
        kilograms in its abstract.
    """
    bees = numbers("bees", bees, 0, 200_000, "bees")
    now = numbers("heat loss of the hive", loss_now, 0.05, 20, "W/K")
    then = numbers("heat loss of the insulated hive", loss_then, 0.05, 20, "W/K")
    p = p or shipped().model
    share = heat.cluster_share(p)
    saved = np.zeros(np.broadcast_shapes(bees.shape, now.shape, then.shape))
    least = heat.least_w(bees, p)
    full = population.usual_cells(bees, 1.0, p)
    nest = heat.nest_w_per_k(full, p)
    for outdoor, laying in zip(year.outdoor_c, year.laying, strict=False):
        if outdoor < p.heat.saving_below_c:
            cells, held = full * laying, nest * np.cbrt(laying * laying)
            saved = saved + heat.heat_w(bees, cells, outdoor, now, p, share, least, held)
            saved = saved - heat.heat_w(bees, cells, outdoor, then, p, share, least, held)
    return np.maximum(saved, 0.0) * heat.SECONDS_A_DAY / (p.heat.honey_energy_mj_per_kg * 1e6)

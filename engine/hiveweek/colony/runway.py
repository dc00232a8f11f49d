"""How long stores last, and what is needed until forage."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from hiveweek.colony import heat, population
from hiveweek.colony.edge import numbers
from hiveweek.colony.estimate import Z10, Z95, Estimate, estimate
from hiveweek.colony.food import Days, use_kg
from hiveweek.numbers import Branch, shipped
from hiveweek.numbers.normal import ndtri

CHUNK = 256  # hives worked on together: their days stay in the processor's cache
NEVER = 999.0  # days left where stores outlast this many days
CHANCES = (0.025, 0.10, 0.50, 0.975)
_SCALES = (-Z95, -Z10, 0.0, Z95)


@dataclass(frozen=True)
class Horizon:
    """The days for which food must be there: the same for all hives, or each hive's own.

    Attributes
    ----------
    forage : float or ndarray, shape (hives,)
        Days to the first reliable forage, 0 where it is normal now.
    gap_from, gap_to : float or ndarray
        The coming days that lie in a dearth: from which, and up to which (not included).
    winter : float or ndarray
        Days to the far side of the winter that is ahead; 0 where none is.
    winter_share : float or ndarray
        How much of the winter's need counts by now: 0 while the last crop is still to come, 1 once it is over.
    """

    forage: Any = 0.0
    gap_from: Any = 0.0
    gap_to: Any = 0.0
    winter: Any = 0.0
    winter_share: Any = 0.0

    @classmethod
    def each(cls, hives: Sequence[Horizon]) -> Horizon:
        """Return those of single hives as one."""
        if all(one == hives[0] for one in hives):
            return hives[0]
        return cls(*(np.array([getattr(one, f.name) for one in hives], dtype=float) for f in fields(cls)))

    def of(self, hives: slice) -> Horizon:
        """Return those of some hives."""
        if np.ndim(self.forage) == 0:
            return self
        return Horizon(*(getattr(self, f.name)[hives] for f in fields(self)))

    @property
    def days(self) -> float:
        """Days for which food must be there, as far as they count."""
        near = max(self.forage, self.gap_to)
        return near + self.winter_share * (self.winter - near)


@dataclass
class Runway:
    """How long stores last and what is needed, one entry a hive.

    Attributes
    ----------
    use_kg_week : Estimate
        Use of the coming seven days if nothing comes in.
    days : dict of float to ndarray
        Day by which that share of such hives would be empty if nothing comes in, for each of ``CHANCES``; beyond a year at
        the pace of that year, 999 at most.
    days_left : Estimate
        The 10 % day; its interval tells how far an old or rough knowledge of the stores moves that day.
    use_check_kg : ndarray
        Use up to the next check (``candy_days``), at its 90 % end.
    need_kg : Estimate
        What lasts from today to reliable forage and through the reserve for 9 in 10 such colonies, what is found outside
        taken off: of the winter ahead as much as counts by now; its interval tells how far an old count of bees moves it.
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
    horizon: Horizon,
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
    horizon : Horizon
        The days for which food must be there (:func:`hiveweek.colony.year.food_horizon`), the same for all hives or each its own.
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
    for name in ("forage", "gap_from", "gap_to", "winter"):
        numbers(f"days to {name}", getattr(horizon, name), 0, 366, "days", unknown_ok=False)
    numbers("share of the winter", horizon.winter_share, 0, 1, unknown_ok=False)
    n = bees.shape[0] if bees.ndim else 1
    flat = [np.ascontiguousarray(np.broadcast_to(x, n)) for x in (bees, cells, loss, week_c, room, aged, *kg)]
    chunks = [slice(i, i + CHUNK) for i in range(0, n, CHUNK)]
    parts = [_runway([x[hives] for x in flat], ahead.of(hives), horizon.of(hives), p) for hives in chunks]
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


def _runway(flat: Sequence[np.ndarray], ahead: Days, horizon: Horizon, p: Branch) -> tuple[np.ndarray, ...]:
    bees, cells, loss, week_c, room, aged, kg, kg_low, kg_high = flat
    guessed = np.isnan(cells)
    use_sd = np.where(guessed, p.food.use_sd_brood_unknown, p.food.use_sd)
    cells = np.where(guessed, population.usual_cells(bees, ahead.laying[0], p), cells)
    with np.errstate(divide="ignore", invalid="ignore"):
        spread = (np.maximum(kg_high, kg) - np.minimum(kg_low, kg)) / (2 * Z95 * kg)
        rough = np.sqrt(np.log1p(spread * spread))  # of a log-normal with that spread
    rough = np.hypot(np.where(kg > 0, np.minimum(rough, p.food.stores_spread_most), 0.0), p.food.use_by_bees * aged)
    total_sd = np.sqrt(use_sd**2 + p.hive.stores_estimate_sd**2 + rough**2)
    marks = [kg * np.exp(z * total_sd) for z in _SCALES]
    marks += [marks[1] * np.exp(-Z95 * rough), marks[1] * np.exp(Z95 * rough)]
    empty = [np.where(np.isnan(kg + bees), np.nan, np.where(mark > 0, NEVER, 0.0)) for mark in marks]
    days = int(p.food.runway_horizon_days)
    use = _use_ahead(bees, cells, loss, week_c, room, ahead, days, p)
    eaten_by = np.cumsum(use, axis=0)
    eaten = eaten_by[-1]
    week, check = eaten_by[6], eaten_by[int(p.food.candy_days) - 1]
    # Added day by day as the use is, so that a hive's need does not hang on how many are worked on together.
    need = np.cumsum(use * _by_hive(wanted_days(horizon, ahead, p)), axis=0)[-1]
    hives = np.arange(len(bees))
    for i, mark in enumerate(marks):
        day = np.argmax(eaten_by >= mark, axis=0)
        before = np.where(day > 0, eaten_by[day - 1, hives], 0.0)
        now = (before < mark) & (eaten_by[day, hives] >= mark)
        empty[i] = np.where(now, day + (mark - before) / np.maximum(use[day, hives], 1e-12), empty[i])
    with np.errstate(divide="ignore", invalid="ignore"):
        for i, mark in enumerate(marks):  # what outlasts the year goes on at that year's pace
            beyond_year = np.minimum(days + (mark - eaten) * days / eaten, NEVER)
            empty[i] = np.where((empty[i] == NEVER) & (eaten > 0), beyond_year, empty[i])
    return week, check, need, use_sd + 0 * bees, *empty


def _by_hive(days: np.ndarray) -> np.ndarray:
    """Return a curve of days with a column a hive."""
    return days if days.ndim == 2 else days[:, None]


def _use_ahead(
    bees: np.ndarray,
    cells: np.ndarray,
    loss: np.ndarray,
    week_c: np.ndarray,
    room: np.ndarray,
    ahead: Days,
    days: int,
    p: Branch,
) -> np.ndarray:
    """Return what is used on each coming day, kg, shape (days, hives): the colony grows day by day, its use follows at once."""
    outdoor = np.broadcast_to(_by_hive(ahead.outdoor_c[:days]), (days, len(bees))).copy()
    outdoor[:7] = np.where(np.isnan(week_c), outdoor[:7], week_c)
    here = np.where(np.isnan(room), outdoor, np.maximum(room, outdoor))
    then_bees, then_cells = np.empty_like(here), np.empty_like(here)
    for day in range(days):
        then_bees[day], then_cells[day] = bees, cells
        bees, cells = population.step(bees, cells, ahead.laying[day], ahead.dying[day], p)
    return use_kg(then_bees, then_cells, here, loss, p, heat.cluster_share(p))


def wanted_days(horizon: Horizon, ahead: Days, p: Branch) -> np.ndarray:
    """Return the share of each coming day's use that has to be in the hive, shape (days,), or (days, hives) where hives differ.

    What is found outside is taken off. Of the dearth that lies before a winter only the days up to the next check count: the
    rest is looked after from check to check.
    """
    days = int(p.food.runway_horizon_days)
    hungry, dearth = 1.0 - ahead.income[:days], ahead.dearth[:days]
    day = np.arange(days)
    if np.ndim(horizon.forage) or hungry.ndim == 2:
        day, hungry, dearth = day[:, None], _by_hive(hungry), _by_hive(dearth)

    def until(forage: ArrayLike, counted: np.ndarray) -> np.ndarray:
        last = np.round(np.asarray(forage, dtype=float))
        reserve = np.where(last > p.food.candy_days, int(p.food.reserve_days), int(p.food.season_reserve_days))
        return np.where(day < last, counted, np.where(day < last + reserve, 1.0, 0.0))

    gap = (day >= np.round(horizon.gap_from)) & (day < np.round(horizon.gap_to))
    later_gap = (dearth > 0) & (day >= p.food.candy_days)
    near = until(horizon.forage, hungry) + np.where(gap, hungry, 0.0)
    far = until(horizon.winter, np.where(later_gap, 0.0, hungry))
    return (1.0 - horizon.winter_share) * near + horizon.winter_share * far

"""What a colony eats, and what a better hive would save; how long stores last stands in ``runway``, what is left in ``stores``."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from hiveweek.colony import heat, population
from hiveweek.colony.edge import numbers
from hiveweek.colony.estimate import Z95, Estimate, estimate
from hiveweek.numbers import Branch, shipped

CHUNK = 256  # hives worked on together: their days stay in the processor's cache


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
    return use_kg(bees, cells, outdoor, loss, p, heat.cluster_share(p))


def use_kg(
    bees: np.ndarray,
    cells: np.ndarray,
    outdoor: np.ndarray,
    loss: np.ndarray,
    p: Branch,
    share: float,
    least: np.ndarray | None = None,
    nest: np.ndarray | None = None,
) -> np.ndarray:
    """Return ``daily_use`` of arrays that were checked, with what does not change from day to day worked out before."""
    warm = (outdoor - p.heat.activity_from_c) / (p.heat.activity_full_c - p.heat.activity_from_c)
    busy = np.clip(warm, 0.0, 1.0) * p.heat.activity_mw_per_bee * 1e-3
    watts = heat.heat_w(bees, cells, outdoor, loss, p, share, least, nest)
    if np.any(busy > 0):
        watts = watts + busy * bees
    per_watt = heat.SECONDS_A_DAY / (p.heat.honey_energy_mj_per_kg * 1e6)
    return watts * per_watt + cells * p.heat.brood_feed_mg_per_cell_day * 1e-6


@dataclass(frozen=True)
class Days:
    """The usual days of a place, one entry a day; with a column a hive where each is asked about days of its own.

    Attributes
    ----------
    outdoor_c : ndarray, shape (days,) or (days, hives)
        Mean temperature.
    laying : ndarray
        Share of full laying (:func:`hiveweek.colony.population.brood_share`).
    income : ndarray
        Share of its use that a colony finds outside: 0 none, 1 all of it.
    flow : ndarray
        1 on days of a usual nectar flow.
    dying : ndarray
        Deaths of adults a day (:func:`hiveweek.colony.population.death_rate`).
    dearth : ndarray
        1 on days of a usual nectar gap.
    """

    outdoor_c: np.ndarray
    laying: np.ndarray
    income: np.ndarray
    flow: np.ndarray
    dying: np.ndarray
    dearth: np.ndarray

    def __len__(self) -> int:
        return len(self.outdoor_c)

    def take(self, index: np.ndarray | slice) -> Days:
        """Return the days at these places."""
        return Days(*(x[index] for x in self._parts))

    def of(self, hives: int | slice | np.ndarray) -> Days:
        """Return the days of some hives."""
        if self.laying.ndim == 1:
            return self
        if isinstance(hives, np.ndarray):  # ``take`` copies some five times faster than an index in brackets
            return Days(*(x.take(hives, axis=1) for x in self._parts))
        return Days(*(x[:, hives] for x in self._parts))

    def repeated(self, times: int | np.ndarray) -> Days:
        """Return each column so many times, one beside the other."""
        return Days(*(np.repeat(x, times, axis=1) for x in self._parts))

    @property
    def _parts(self) -> tuple[np.ndarray, ...]:
        return self.outdoor_c, self.laying, self.income, self.flow, self.dying, self.dearth

    @classmethod
    def joined(cls, several: Sequence[Days]) -> Days:
        """Return several runs of days as one, the first one first."""
        return cls(*(np.concatenate(x) for x in zip(*(one._parts for one in several), strict=True)))


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
        1 = as expected. Unknown where the sightings are less than ``ratio_days`` apart, or less than ``ratio_least_kg`` was to be
        eaten. Where a flow or forage day lies between, income hides what was eaten: then it is the least that is gone where
        that is more than expected, and else unknown.
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
        expected = expected + np.where(on, use_kg(bees, brood, past.outdoor_c[i], loss, p, share), 0.0)
        income = income + np.where(on, past.income[i] + past.flow[i], 0.0)
    usable = (first - last >= p.food.ratio_days) & (first <= len(past))
    usable &= expected >= p.food.ratio_least_kg
    eaten = before - after + fed * p.food.stores_per_sugar
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(usable, np.maximum(eaten, 0.0) / expected, np.nan)
        # what came in meanwhile was lost as well: more than was to be eaten is then the least that is gone
        ratio = np.where((income == 0) | (ratio > 1), ratio, np.nan)
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
    bees, now, then = np.broadcast_arrays(bees, now, then)
    flat = [x.reshape(-1) for x in (bees, now, then)]
    parts = [_saved_w([x[i : i + CHUNK] for x in flat], year, p) for i in range(0, bees.size, CHUNK)]
    saved = np.concatenate([np.zeros(0), *parts]).reshape(bees.shape)
    return np.maximum(saved, 0.0) * heat.SECONDS_A_DAY / (p.heat.honey_energy_mj_per_kg * 1e6)


def _saved_w(flat: Sequence[np.ndarray], year: Days, p: Branch) -> np.ndarray:
    """Return the heat that some hives save, W, added up over the cold days of a year."""
    bees, now, then = flat
    cold = year.outdoor_c < p.heat.saving_below_c
    outdoor, laying = year.outdoor_c[cold, None], year.laying[cold, None]
    share, least, full = heat.cluster_share(p), heat.least_w(bees, p), population.usual_cells(bees, 1.0, p)
    cells, held = full * laying, heat.nest_w_per_k(full, p) * np.cbrt(laying * laying)
    saved = np.zeros((1 + 2 * len(outdoor), len(bees)))
    saved[1::2] = heat.heat_w(bees, cells, outdoor, now, p, share, least, held)
    saved[2::2] = -heat.heat_w(bees, cells, outdoor, then, p, share, least, held)
    # Added day by day, so that what a hive saves does not hang on how many are worked on together.
    return np.cumsum(saved, axis=0)[-1]

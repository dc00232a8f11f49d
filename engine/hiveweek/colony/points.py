"""What acting is worth, in points: colonies saved in a hundred that stand in the same situation."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike

from hiveweek.colony.edge import numbers
from hiveweek.numbers import Branch, shipped

SEASONS = ("spring", "late_summer", "autumn")


def starvation(
    days_left: ArrayLike,
    missing_share: ArrayLike,
    cold: ArrayLike,
    before_winter: ArrayLike,
    *,
    p: Branch | None = None,
) -> np.ndarray:
    """Points of feeding now.

    Parameters
    ----------
    days_left : array_like of float
        The 10 % day. NaN leaves the missing share to decide.
    missing_share : array_like of float
        Share of the need to forage that is missing; NaN leaves the days to decide.
    cold : array_like of float
        1 where clustering weather is usual or winter is near, 0 in the warm season.
    before_winter : array_like of float
        1 where the need counts to the far side of a winter that has not ended.

    Returns
    -------
    ndarray
        0 to 60, the larger of the two; NaN where both are unknown. Curves of judgement (``starvation_*``).
    """
    p = p or shipped().model
    days = numbers("days left", days_left, 0, 999, "days")
    missing = np.clip(numbers("missing share", missing_share, -1000, 1), 0, 1)
    cold = numbers("cold season", cold, 0, 1, unknown_ok=False)
    ahead = numbers("before winter", before_winter, 0, 1, unknown_ok=False)
    soon = np.where(cold > 0, p.points["starvation_cold"].at(days), p.points["starvation_warm"].at(days))
    later = np.where(ahead > 0, p.points["starvation_autumn"].at(missing), 0.0)
    later = np.where(np.isnan(missing), np.nan, later)
    return np.fmax(soon, later)


def insulation(
    coldest_month_c: ArrayLike, has_roof: ArrayLike, has_wrap: ArrayLike, foam: ArrayLike, *, p: Branch | None = None
) -> np.ndarray:
    """Points of insulating before winter, by the mean of the coldest month and by what is there already (1 or 0).

    NaN where an input is unknown.
    """
    p = p or shipped().model
    coldest = numbers("coldest month", coldest_month_c, -60, 40, "degC")
    roof, wrap, foam = (
        numbers(n, x, 0, 1) for n, x in (("insulated roof", has_roof), ("wrap", has_wrap), ("polystyrene", foam))
    )
    left = np.where(roof > 0, p.points.insulation_has_roof, 1.0) * np.where(wrap > 0, p.points.insulation_has_wrap, 1.0)
    left = np.where((roof > 0) & (wrap > 0), 0.0, left)
    left = left * np.where(foam > 0, p.points.insulation_foam_walls, 1.0)
    return np.where(np.isnan(roof + wrap + foam), np.nan, p.points["insulation_cold"].at(coldest) * left)


def treating(over: Callable[[float], np.ndarray], season: ArrayLike, *, p: Branch | None = None) -> np.ndarray:
    """Points of treating, from a count read as chances.

    Parameters
    ----------
    over : callable
        Gives the chance (0 to 1, an array) that the level is over a limit, in mites per 100 bees.
    season : array_like of float
        Place in ``SEASONS``: before winter bees are reared and until they are (late_summer), after (autumn), before that
        (spring). NaN gives NaN.

    Notes
    -----
    Chances of each step times its points, ``mites.step_*`` and ``points.mites_*``: late summer P(1-3) 8 + P(3-5) 20 +
    P(over 5) 35; autumn 4, 12, 20; spring P(2-3) 8 + P(over 3) 15. Three steps, not a curve: no published curve of loss on
    count was found.
    """
    p = p or shipped().model
    season = numbers("season", season, 0, len(SEASONS) - 1)
    steps = p.mites
    low, early, middle, high = (
        over(step) for step in (steps.step_low, steps.step_spring, steps.step_middle, steps.step_high)
    )
    late, autumn = (
        (low - middle) * getattr(p.points, f"mites_{name}_low")
        + (middle - high) * getattr(p.points, f"mites_{name}_middle")
        + high * getattr(p.points, f"mites_{name}_high")
        for name in ("late", "autumn")
    )
    spring = (early - middle) * p.points.mites_spring_low + middle * p.points.mites_spring_high
    points = np.where(season == 0, spring, np.where(season == 1, late, autumn))
    return np.where(np.isnan(season), np.nan, np.maximum(points, 0.0))

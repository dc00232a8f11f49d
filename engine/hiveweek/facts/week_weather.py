"""Weather facts at each hive: the week's, reconciled with temperatures that a file sets."""

from __future__ import annotations

import numpy as np

from hiveweek.numbers import Branch
from hiveweek.vocabulary.model import Fact

MOVED = "usual here, moved to the temperatures given"

# each pair: the first is never above the second
ORDER = (
    ("weather.low_c", "weather.lowest_high_c"),
    ("weather.low_c", "weather.mean_c"),
    ("weather.mean_c", "weather.mean_high_c"),
    ("weather.lowest_high_c", "weather.mean_high_c"),
    ("weather.mean_high_c", "weather.high_c"),
    ("weather.lowest_high_c", "weather.open_high_c"),
    ("weather.open_high_c", "weather.high_c"),
    ("weather.lowest_high_c", "weather.high_c_3d"),
    ("weather.high_c_3d", "weather.high_c"),
)


def temperatures(facts: dict[str, Fact], *of: str) -> list[str]:
    """Return the weather facts that are temperatures of a day: all of them, or of the highs, means or lows alone."""
    return [fact.id for fact in facts.values() if fact.day in (of or ("high_c", "mean_c", "low_c"))]


def reconcile(
    columns: dict[str, list[np.ndarray]], fixed: dict[str, np.ndarray], facts: dict[str, Fact], numbers: Branch
) -> np.ndarray:
    """Move the temperatures that nobody set along with those that a file sets, in place.

    A file that says only how warm the week will get leaves the nights and the other days to the usual weather; those are
    shifted by as much as the given ones differ, and held in order (no night warmer than the days).

    Parameters
    ----------
    columns : dict of str to [value, low, high]
        Arrays a hive, the usual weather with the fixed cells already set.
        ``usual:FACT`` holds the values before they were set.
    fixed : dict of str to ndarray of bool
        Which cells the file sets.
    facts : dict of str to Fact
        For the range of each fact.
    numbers : Branch
        ``weather.*``.

    Returns
    -------
    ndarray of bool
        The hives where anything was moved.
    """
    n = len(next(iter(columns.values()))[0]) if columns else 0
    none = np.zeros(n, dtype=bool)

    def gap(names):
        """Mean of given minus usual over the facts that are given; NaN where none is."""
        total, count = np.zeros(n), np.zeros(n)
        for name in names:
            usual = columns.get("usual:" + name)
            where = fixed.get(name, none)
            if usual is None or not where.any():
                continue
            difference = columns[name][0] - usual[0]
            use = where & ~np.isnan(difference)
            total[use] += difference[use]
            count[use] += 1
        with np.errstate(invalid="ignore"):
            return np.where(count > 0, total / np.maximum(count, 1), np.nan)

    highs, lows, mean = (gap(temperatures(facts, of)) for of in ("high_c", "low_c", "mean_c"))
    both = (np.where(np.isnan(highs), lows, highs) + np.where(np.isnan(lows), highs, lows)) / 2
    moved = ~np.isnan(highs) | ~np.isnan(lows) | ~np.isnan(mean)
    for name in temperatures(facts):
        if name not in columns:
            continue
        own = {"high_c": highs, "low_c": lows, "mean_c": mean}[facts[name].day]
        shift = np.where(np.isnan(own), np.where(np.isnan(mean), both, mean), own)
        free = moved & ~fixed.get(name, none) & ~np.isnan(shift)
        for array in columns[name]:
            array[free] = np.clip(np.round(array[free] + shift[free], 1), facts[name].low, facts[name].high)
    _order(columns, fixed, moved, none, facts)
    if "weather.flight_days" in columns and "weather.high_c" in columns:
        free = moved & ~fixed.get("weather.flight_days", none)
        with np.errstate(invalid="ignore"):
            cold = (
                free & fixed.get("weather.high_c", none) & (columns["weather.high_c"][0] < numbers.days.flight_high_c)
            )
        for array in columns["weather.flight_days"]:
            array[cold] = 0.0
    return moved


def _order(columns, fixed, moved, none, facts) -> None:
    """Hold every pair in order where something was moved: the free one of the two gives way."""
    for _ in range(3):
        for below, above in ORDER:
            if below not in columns or above not in columns:
                continue
            for small, large in zip(columns[below], columns[above], strict=True):
                with np.errstate(invalid="ignore"):
                    wrong = moved & (small > large)
                down = wrong & ~fixed.get(below, none)
                small[down] = large[down]
                up = wrong & ~down & ~fixed.get(above, none)
                large[up] = small[up]
    for name in temperatures(facts):
        if name in columns:
            value, low, high = columns[name]
            np.minimum(low, value, out=low, where=moved & ~np.isnan(low))
            np.maximum(high, value, out=high, where=moved & ~np.isnan(high))

"""Daily curves from twelve monthly values.

A line through mid-month points loses the monthly means and cuts the peaks. Here the curve is the smoothest
year-round one (least sum of squared second differences, 31 December joined to 1 January) whose twelve monthly
means are exactly the values given: the constrained form of what Epstein (1991, J. Climate 4:365) and Rymes
and Myers (2001, Solar Energy 71:225) set out to do. It is linear in the twelve values, so one matrix serves
every place.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np

from hiveweek.kept import kept, key_of

DAYS = 365
MONTH_LENGTHS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
MONTH_OF_DAY = np.repeat(np.arange(12), MONTH_LENGTHS)


@lru_cache(maxsize=1)
def _averaging() -> np.ndarray:
    averaging = np.zeros((12, DAYS))
    averaging[MONTH_OF_DAY, np.arange(DAYS)] = 1.0
    return averaging / MONTH_LENGTHS[:, None]


@lru_cache(maxsize=1)
def _matrix() -> np.ndarray:
    """Return the 365 x 12 matrix that turns monthly means into the smoothest curve with those means."""
    key = key_of(("smooth", np.__version__), [Path(__file__)])
    return np.array(kept("smooth", key, list[list[float]], lambda: _solve().tolist()))


def _solve() -> np.ndarray:
    identity = np.eye(DAYS)
    difference = np.roll(identity, -1, axis=0) - identity
    bend = difference @ difference
    averaging = _averaging()
    system = np.block([[2 * bend.T @ bend, averaging.T], [averaging, np.zeros((12, 12))]])
    wanted = np.vstack([np.zeros((DAYS, 12)), np.eye(12)])
    return np.ascontiguousarray(np.linalg.solve(system, wanted)[:DAYS])


def month_means(daily: np.ndarray) -> np.ndarray:
    """Return the twelve monthly means of a 365-day curve (any unit)."""
    return _averaging() @ daily


def smooth_days(monthly: np.ndarray) -> np.ndarray:
    """Turn twelve monthly means into 365 daily values.

    Parameters
    ----------
    monthly : array of 12 floats
        Mean of each month, any unit; none may be NaN.

    Returns
    -------
    array of 365 floats
        Smooth through the new year; each month's mean equals the value given to rounding.
    """
    return _matrix() @ np.asarray(monthly, dtype=float)


def bounded_days(monthly: np.ndarray, low: float = -np.inf, high: float = np.inf) -> np.ndarray:
    """Turn twelve monthly means into 365 daily values that stay inside bounds.

    Where the smooth curve leaves the bounds it is cut there, and the other days of that month are drawn
    towards the bound by a common factor, so that the monthly means still hold.

    Parameters
    ----------
    monthly : array of 12 floats
        Mean of each month; values outside the bounds are moved to the bound first.
    low, high : float
        Bounds in the same unit.
    """
    monthly = np.clip(np.asarray(monthly, dtype=float), low, high)
    daily = smooth_days(monthly)
    for _ in range(20):
        if daily.min() >= low and daily.max() <= high:
            break
        if np.isfinite(low) and daily.min() < low:
            daily = low + _rescaled(np.maximum(daily - low, 0.0), monthly - low)
        if np.isfinite(high) and daily.max() > high:
            daily = high - _rescaled(np.maximum(high - daily, 0.0), high - monthly)
    return np.clip(daily, low, high)


def _rescaled(distance: np.ndarray, wanted: np.ndarray) -> np.ndarray:
    have = month_means(distance)
    factor = np.divide(wanted, have, out=np.zeros(12), where=have > 0)
    return distance * factor[MONTH_OF_DAY]


def days_with_gaps(monthly: np.ndarray, low: float = -np.inf, high: float = np.inf) -> np.ndarray:
    """As `bounded_days`, for a column in which some months are unknown.

    The curve is laid through the known months, the gaps being bridged in a straight line; days of an unknown
    month are NaN in the result. With no known month at all every day is NaN.
    """
    monthly = np.asarray(monthly, dtype=float)
    known = np.isfinite(monthly)
    if not known.any():
        return np.full(DAYS, np.nan)
    if known.all():
        return bounded_days(monthly, low, high)
    at = np.arange(12)[known]
    bridged = np.interp(np.arange(12), np.concatenate([at - 12, at, at + 12]), np.tile(monthly[known], 3))
    daily = bounded_days(bridged, low, high)
    return np.where(known[MONTH_OF_DAY], daily, np.nan)

"""A value with its 95 % interval, over all hives at once."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

Z10 = 1.2815515655446004  # the normal law's 90 % point
Z95 = 1.959963984540054  # half of its 95 % interval


class Estimate(NamedTuple):
    """Value and 95 % interval.

    Attributes
    ----------
    value, low, high : ndarray of float
        One entry a hive; NaN in all three = unknown; low <= value <= high elsewhere.
    """

    value: np.ndarray
    low: np.ndarray
    high: np.ndarray


def estimate(
    value: ArrayLike, low: ArrayLike, high: ArrayLike, floor: float = 0.0, ceiling: float = np.inf
) -> Estimate:
    """Return an Estimate held between floor and ceiling, unknown in all three where any part is."""
    value, low, high = np.broadcast_arrays(*(np.asarray(x, dtype=float) for x in (value, low, high)))
    gone = np.isnan(value) | np.isnan(low) | np.isnan(high)
    value = np.clip(value, floor, ceiling)
    low = np.clip(np.minimum(low, value), floor, ceiling)
    high = np.clip(np.maximum(high, value), floor, ceiling)
    return Estimate(*(np.where(gone, np.nan, x) for x in (value, low, high)))

"""The normal distribution from the standard library: every answer needs it, and ``scipy.special`` takes longer to load than most of them."""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike

_STANDARD = NormalDist()
_ROOT_2 = math.sqrt(2.0)


def ndtr(x: ArrayLike) -> np.ndarray:
    """Return the share of a standard normal distribution below each value; NaN where a value is NaN."""
    x = np.asarray(x, dtype=float)
    return 0.5 * np.fromiter(map(math.erfc, (x / -_ROOT_2).ravel().tolist()), float, x.size).reshape(x.shape)


def ndtri(share: float) -> float:
    """Return the value below which a share of a standard normal distribution lies.

    Parameters
    ----------
    share : float
        Between 0 and 1, ends left out.

    Raises
    ------
    StatisticsError
        For any other.
    """
    return _STANDARD.inv_cdf(share)

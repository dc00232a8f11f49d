"""Normal and beta distributions for arrays, without loading scipy for them: on a cold start that takes longer than all the sums.

Long arrays go to scipy, where the sums would take longer than loading it.
"""

from __future__ import annotations

import math

import numpy as np

LONG = 2_000
_erfc = np.frompyfunc(math.erfc, 1, 1)


def ndtr(x) -> np.ndarray:
    """Return the chance that a standard normal value lies below x.

    Parameters
    ----------
    x : array_like of float
        Any shape; NaN gives NaN, infinities 0 and 1.

    Notes
    -----
    Half the complementary error function of -x over the root of two (NIST Digital Library of Mathematical Functions, 7.2.2 and
    the normal distribution in 7.20.1).
    """
    x = np.asarray(x, dtype=float)
    if x.size > LONG:
        from scipy.special import ndtr as scipy_ndtr

        return scipy_ndtr(x)
    with np.errstate(all="ignore"):
        return np.asarray(0.5 * np.asarray(_erfc(-x / math.sqrt(2.0)), dtype=float))[()]


def ndtri(p) -> np.ndarray:
    """Return the standard normal value below which a share p lies: the inverse of ``ndtr``.

    Parameters
    ----------
    p : array_like of float
        Strictly between 0 and 1.

    Raises
    ------
    statistics.StatisticsError
        Outside 0 to 1.

    Notes
    -----
    M. J. Wichura, Algorithm AS 241, Applied Statistics 37 (1988), as in Python's own statistics module.
    """
    from statistics import NormalDist  # loads decimal fractions and random numbers, which nobody else here needs

    inverse = np.frompyfunc(NormalDist().inv_cdf, 1, 1)
    return np.asarray(inverse(np.asarray(p, dtype=float)), dtype=float)[()]


def betainc(a, b, x) -> np.ndarray:
    """Return the regularised incomplete beta function I_x(a, b).

    Parameters
    ----------
    a, b : array_like of float
        Above 0.
    x : array_like of float
        0 to 1. NaN anywhere gives NaN.

    Notes
    -----
    Continued fraction of DLMF 8.17.22 by the modified Lentz method, on the side of (a + 1) / (a + b + 2) where it converges
    fast, with I_x(a, b) = 1 - I_(1-x)(b, a) (DLMF 8.17.4) on the other.
    """
    a, b, x = np.broadcast_arrays(*(np.asarray(v, dtype=float) for v in (a, b, x)))
    if x.size > LONG:
        from scipy.special import betainc as scipy_betainc

        return scipy_betainc(a, b, x)
    with np.errstate(all="ignore"):
        return np.asarray(_betainc(a, b, x), dtype=float)[()]


def _betainc_one(a: float, b: float, x: float) -> float:
    if a != a or b != b or x != x:
        return math.nan
    if x <= 0.0 or x >= 1.0:
        return float(x >= 1.0)
    if x > (a + 1) / (a + b + 2):
        return 1.0 - _betainc_one(b, a, 1.0 - x)
    front = math.exp(math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)) / a
    c, d = 1.0, 1.0 / _away(1.0 - (a + b) * x / (a + 1))
    fraction = d
    for m in range(1, 1_000):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        d = 1.0 / _away(1.0 + even * d)
        c = _away(1.0 + even / c)
        fraction *= d * c
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        d = 1.0 / _away(1.0 + odd * d)
        c = _away(1.0 + odd / c)
        fraction *= d * c
        if abs(d * c - 1.0) < 1e-15:
            break
    return min(max(front * fraction, 0.0), 1.0)


def _away(x: float) -> float:
    return x if abs(x) > 1e-300 else 1e-300


_betainc = np.frompyfunc(_betainc_one, 3, 1)


def betaincinv(a, b, p) -> np.ndarray:
    """Return the x at which the regularised incomplete beta function reaches p.

    Parameters
    ----------
    a, b : array_like of float
        Above 0.
    p : array_like of float
        0 to 1. NaN anywhere gives NaN.

    Notes
    -----
    Newton's steps on the density, halving the bracket wherever a step would leave it.
    """
    a, b, p = np.broadcast_arrays(*(np.asarray(v, dtype=float) for v in (a, b, p)))
    if p.size > LONG:
        from scipy.special import betaincinv as scipy_betaincinv

        return scipy_betaincinv(a, b, p)
    with np.errstate(all="ignore"):
        return np.asarray(_betaincinv(a, b, p), dtype=float)[()]


def _betaincinv_one(a: float, b: float, p: float) -> float:
    if a != a or b != b or p != p:
        return math.nan
    if p <= 0.0 or p >= 1.0:
        return float(p >= 1.0)
    constant = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b)
    low, high, x = 0.0, 1.0, a / (a + b)
    for _ in range(200):
        miss = _betainc_one(a, b, x) - p
        if miss < 0.0:
            low = x
        else:
            high = x
        density = math.exp(constant + (a - 1.0) * math.log(x) + (b - 1.0) * math.log1p(-x)) if 0.0 < x < 1.0 else 0.0
        step = x - miss / density if density > 0.0 else low
        new = step if low < step < high else (low + high) / 2
        if abs(new - x) <= 1e-15 * max(new, 1e-300) or new in (low, high):
            return new
        x = new
    return x


_betaincinv = np.frompyfunc(_betaincinv_one, 3, 1)

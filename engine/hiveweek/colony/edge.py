"""Refusing impossible numbers where they enter a model, by name."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike


class BadNumber(ValueError):
    """A number that no hive can have; the message names the quantity, the row, the value and the range."""


def numbers(
    name: str, values: ArrayLike, low: float, high: float, unit: str = "", unknown_ok: bool = True
) -> np.ndarray:
    """Return values as floats, checked.

    Parameters
    ----------
    name : str
        What the values are, for the message.
    values : array_like of float
        NaN = unknown.
    low, high : float
        Range allowed, ends included.
    unknown_ok : bool
        Whether NaN may pass.

    Raises
    ------
    BadNumber
        For infinity, a value outside low..high, or NaN where it may not pass; also for what is no number.
    """
    try:
        out = np.asarray(values, dtype=float)
    except (TypeError, ValueError):
        raise BadNumber(f"{name}: needs numbers, not {values!r}") from None
    bad = ~((out >= low) & (out <= high))
    if unknown_ok:
        bad &= ~np.isnan(out)
    if bad.any():
        row = int(np.flatnonzero(bad)[0])
        value = float(out.reshape(-1)[row])
        words = "must be known" if np.isnan(value) else f"{value:g} is outside {low:g} to {high:g} {unit}".rstrip()
        raise BadNumber(f"{name}: {words} (row {row})")
    return out

"""Which day of a week is best for opening a hive: warm, still and dry."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from hiveweek.numbers import Branch, shipped


def score(high_c: ArrayLike, wind_kmh: ArrayLike, wet: ArrayLike, numbers: Branch | None = None) -> np.ndarray:
    """Score days for opening, in degrees: the day's high less what wind, rain and heat cost.

    Parameters
    ----------
    high_c : array_like of float
        Daily high [degC]; NaN gives NaN.
    wind_kmh : array_like of float
        Mean wind of the day [km/h]; NaN costs nothing, since it is then unknown for comparing days.
    wet : array_like of float
        1 wet, 0 dry or a chance between; NaN counts as the declared chance.
    numbers : Branch, optional
        ``weather.*``; the shipped ones by default.

    Returns
    -------
    ndarray of float
        Higher is better. ``min(high, enough) - hot - wind - rain``; the numbers, with their sources, stand in
        rulesets/vocabulary/numbers/weather.yaml.
    """
    n = numbers or shipped().weather
    high = np.asarray(high_c, dtype=float)
    wind = np.nan_to_num(np.asarray(wind_kmh, dtype=float), nan=0.0)
    wet = np.nan_to_num(np.asarray(wet, dtype=float), nan=n.opening.unknown_rain_chance)
    hot = n.opening.hot_cost * np.maximum(0, high - n.opening.too_hot_c)
    breeze = n.opening.wind_cost * np.maximum(0, wind - n.opening.still_kmh) + n.opening.wind_stop_cost * (
        wind > n.opening.wind_stop_kmh
    )
    return np.minimum(high, n.opening.warm_enough_c) - hot - breeze - n.opening.rain_cost * wet


def best(scores: ArrayLike) -> np.ndarray:
    """Return the place of the best day along the last axis; the earlier day on a tie, -1 where no day has a score."""
    scores = np.round(np.asarray(scores, dtype=float), 6)
    filled = np.where(np.isnan(scores), -np.inf, scores)
    return np.where(np.isneginf(filled).all(axis=-1), -1, filled.argmax(axis=-1))

"""Koeppen-Geiger class of a place by the rules of Peel, Finlayson and McMahon (2007, HESS 11:1633, table 1).

Ours, since the kept library (``climaclass``, which the tests hold it against) takes summer from the sign of the latitude
where the table takes the warmer half of the year: near the equator it gives another class.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from hiveweek.climate.smooth import MONTH_LENGTHS


def koppen_class(tmean_c: ArrayLike, precip_mm: ArrayLike) -> str:
    """Return the class, such as ``Cfb``.

    Parameters
    ----------
    tmean_c : array of 12
        Monthly mean temperature, degC.
    precip_mm : array of 12
        Monthly precipitation, mm.

    Returns
    -------
    str
        Boundary between C and D at 0 degC in the coldest month. Dry climates (B) are decided first, then E,
        so that a cold dry steppe is BSk. Summer is the warmer of the half years April to September and
        October to March.
    """
    temp = np.asarray(tmean_c, dtype=float)
    rain = np.asarray(precip_mm, dtype=float)
    mean, total = float((temp * MONTH_LENGTHS).sum() / 365.0), rain.sum()
    # Peel takes the mean annual temperature; weighting by days or not moves it by under 0.1 degC
    april_to_september = np.array([3 <= m <= 8 for m in range(12)])
    warm_half = temp[april_to_september].mean() >= temp[~april_to_september].mean()
    summer = april_to_september if warm_half else ~april_to_september
    winter_share = rain[~summer].sum() / total if total else 0.5
    threshold = 2 * mean + (0 if winter_share >= 0.7 else 28 if winter_share <= 0.3 else 14)
    hot, cold = temp.max(), temp.min()
    if hot >= 10 and total < 10 * threshold:
        return "B" + ("W" if total < 5 * threshold else "S") + ("h" if mean >= 18 else "k")
    if hot < 10:
        return "ET" if hot > 0 else "EF"
    if cold >= 18:
        driest = rain.min()
        return "Af" if driest >= 60 else "Am" if driest >= 100 - total / 25 else "Aw"
    return ("C" if cold > 0 else "D") + _rain_letter(rain, summer) + _heat_letter(temp, cold)


def _rain_letter(rain: np.ndarray, summer: np.ndarray) -> str:
    dry_summer = rain[summer].min() < 40 and rain[summer].min() < rain[~summer].max() / 3
    dry_winter = rain[~summer].min() < rain[summer].max() / 10
    if dry_summer and dry_winter:  # the wetter half year decides
        return "w" if rain[summer].sum() > rain[~summer].sum() else "s"
    return "s" if dry_summer else "w" if dry_winter else "f"


def _heat_letter(temp: np.ndarray, cold: float) -> str:
    if temp.max() >= 22:
        return "a"
    if (temp >= 10).sum() >= 4:
        return "b"
    return "d" if cold < -38 else "c"

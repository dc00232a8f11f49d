"""What kind of climate a place has, in a few figures."""

from __future__ import annotations

from typing import Any

import numpy as np

from hiveweek.climate.daily import DailyClimate
from hiveweek.climate.koppen import koppen_class
from hiveweek.climate.moist_air import relative_humidity_pct
from hiveweek.climate.smooth import DAYS
from hiveweek.numbers import Branch, shipped


def snow_share(daily: DailyClimate, numbers: Branch | None = None) -> tuple[np.ndarray, bool]:
    """Return the share of days with snow lying for each day of the year, and whether any of it is estimated.

    Reported months stand as reported. Others follow a logistic curve of the usual mean temperature (numbers
    ``season.snow.*``, the shipped ones by default), fitted to stations that report snow.
    """
    numbers = numbers or shipped().season
    estimated = 1.0 / (1.0 + np.exp(numbers.snow.snow_share_per_c * (daily.tmean - numbers.snow.snow_half_c)))
    estimated *= np.minimum(1.0, daily.precip_mm * 30.0 / numbers.snow.snow_full_rain_mm)
    known = np.isfinite(daily.snow_share)
    return np.where(known, daily.snow_share, estimated), not known.all()


def humidity(daily: DailyClimate) -> np.ndarray:
    """Return the relative humidity of each day in percent: as published, else from vapour pressure.

    NaN where the normals hold neither.
    """
    derived = relative_humidity_pct(daily.tmean, daily.vapour_hpa, daily.sd)
    return np.where(np.isfinite(daily.rh_pct), daily.rh_pct, derived)


def traits(
    daily: DailyClimate, monthly: dict[str, np.ndarray], profile_id: str, numbers: Branch | None = None
) -> dict[str, Any]:
    """Return the climate facts of a place.

    Returns
    -------
    dict
        ``climate.profile``; ``climate.koppen``; ``climate.winter_weeks`` (weeks with a usual mean below the
        clustering temperature); ``climate.snow_weeks`` (weeks with snow lying); ``climate.coldest_month_c``;
        ``climate.winter_rh_pct`` (mean over the winter weeks, or the coldest 13 weeks where there is no
        winter; None where dampness is unknown).
    """
    numbers = numbers or shipped().season
    cold = daily.tmean < numbers.winter.cluster_autumn_mean_c
    weeks = float(cold.sum()) / 7.0
    snow, _ = snow_share(daily, numbers)
    winter = cold if cold.any() else np.isin(np.arange(DAYS), np.argsort(daily.tmean)[:91])
    damp = humidity(daily)[winter]
    known = np.isfinite(damp)
    return {
        "climate.profile": profile_id,
        "climate.koppen": koppen(monthly),
        "climate.winter_weeks": round(weeks, 2),
        "climate.snow_weeks": round(float(snow.sum()) / 7.0, 2),
        "climate.coldest_month_c": float(np.min(monthly["tmean_c"])),
        "climate.winter_rh_pct": round(float(damp[known].mean()), 1) if known.mean() >= 0.5 else None,
    }


def koppen(monthly: dict[str, np.ndarray]) -> str:
    """Return the Koeppen-Geiger class of twelve months (`koppen.koppen_class`)."""
    return koppen_class(monthly["tmean_c"], monthly["precip_mm"])


def dampness_unknown(monthly: dict[str, np.ndarray]) -> bool:
    """Tell whether neither humidity nor vapour pressure is published for a place."""
    return not any(name in monthly and np.isfinite(monthly[name]).any() for name in ("rh_pct", "vapour_hpa"))

"""Usual weather for each day of the year, from monthly normals."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np

from hiveweek.climate.daylength import day_length
from hiveweek.climate.smooth import (
    DAYS,
    MONTH_LENGTHS,
    bounded_days,
    days_with_gaps,
    smooth_days,
)
from hiveweek.numbers import Branch, shipped

_FIRST = dt.date(2023, 1, 1).toordinal()  # any common year
_MONTH_DAY = [dt.date.fromordinal(_FIRST + day).strftime("%m-%d") for day in range(DAYS)]


def day_index(date: dt.date) -> int:
    """Return the place of a date in a 365-day year, 0 for 1 January; 29 February counts as 28 February."""
    if date.month == 2 and date.day == 29:
        return 58
    return dt.date(2023, date.month, date.day).toordinal() - _FIRST


def month_day(index: int) -> str:
    """Return ``MM-DD`` for a day of the 365-day year; numbers outside 0..364 wrap."""
    return _MONTH_DAY[int(index) % DAYS]


@dataclass(frozen=True)
class DailyClimate:
    """Usual weather of each day, arrays of 365 (0 = 1 January), NaN where the normals do not tell.

    Attributes
    ----------
    lat : float
        Degrees, north positive.
    tmean, tmin, tmax : array
        Usual mean, lowest and highest temperature of the day, degC; tmin <= tmean <= tmax.
    sd : array
        Spread (standard deviation) of single days about the daily mean, degC.
    sd_high, sd_low : array
        Spread of the day's high and of its low, degC.
    sd_is_default : bool
        Whether the spread was estimated from the normals because the station does not report it.
    precip_mm : array
        Usual precipitation a day, mm.
    wet_chance, snow_share, windy_share : array
        Share of days with at least 1 mm (or the station's own limit), with snow lying, with wind of 10 m/s or
        more; 0 to 1.
    vapour_hpa : array
        Water vapour pressure, hPa.
    sunshine_h : array
        Hours of sun a day.
    rh_pct : array
        Relative humidity as published, percent.
    wind_kmh : array
        Mean wind, km/h.
    """

    lat: float
    tmean: np.ndarray
    tmin: np.ndarray
    tmax: np.ndarray
    sd: np.ndarray
    sd_high: np.ndarray
    sd_low: np.ndarray
    sd_is_default: bool
    precip_mm: np.ndarray
    wet_chance: np.ndarray
    snow_share: np.ndarray
    windy_share: np.ndarray
    vapour_hpa: np.ndarray
    sunshine_h: np.ndarray
    rh_pct: np.ndarray
    wind_kmh: np.ndarray

    COLUMNS = (
        "tmean",
        "tmin",
        "tmax",
        "sd",
        "sd_high",
        "sd_low",
        "precip_mm",
        "wet_chance",
        "snow_share",
        "windy_share",
        "vapour_hpa",
        "sunshine_h",
        "rh_pct",
        "wind_kmh",
    )

    def at(self, date: dt.date) -> dict[str, float]:
        """Return the usual values of one date by column name; NaN where unknown."""
        index = day_index(date)
        return {name: float(getattr(self, name)[index]) for name in self.COLUMNS}

    def days(self, start: dt.date, n: int) -> dict[str, np.ndarray]:
        """Return the usual values of ``n`` days from ``start`` on, arrays of n; the year wraps."""
        dates = [start + dt.timedelta(days=i) for i in range(n)]
        index = np.array([day_index(d) for d in dates], dtype=int)
        return {name: getattr(self, name)[index] for name in self.COLUMNS}

    def day_length(self, date: dt.date) -> float:
        """Return the hours of daylight on a date; 0 in polar night, 24 in polar day."""
        return day_length(self.lat, date)


def default_spread(tmean_monthly: np.ndarray, numbers: Branch | None = None) -> np.ndarray:
    """Estimate the day-to-day spread of twelve months from their mean temperatures.

    Parameters
    ----------
    tmean_monthly : array of 12 floats
        degC.
    numbers : Branch, optional
        ``season.*``; the shipped ones by default.

    Returns
    -------
    array of 12 floats
        degC, at least the declared minimum. A linear fit on monthly spreads of 38 stations on all continents
        (numbers ``season.spread.sd_default_*``), typical error 0.8 degC.
    """
    numbers = numbers or shipped().season
    tmean_monthly = np.asarray(tmean_monthly, dtype=float)
    swing = tmean_monthly.max() - tmean_monthly.min()
    spread = (
        numbers.spread.sd_default_base_c
        + numbers.spread.sd_default_per_swing * swing
        + numbers.spread.sd_default_per_cold * (tmean_monthly.mean() - tmean_monthly)
    )
    return np.maximum(spread, numbers.spread.sd_minimum_c)


def from_monthly(monthly: dict[str, np.ndarray], lat: float, numbers: Branch | None = None) -> DailyClimate:
    """Make the daily curves.

    Parameters
    ----------
    monthly : dict of arrays of 12
        Columns of the normals file; unknown months NaN, a missing column absent. tmean_c, tmin_c, tmax_c and
        precip_mm must be complete.
    lat : float
        Degrees, north positive.
    numbers : Branch, optional
        ``season.*``; the shipped ones by default.
    """
    numbers = numbers or shipped().season
    unknown = np.full(12, np.nan)

    def column(name):
        return np.asarray(monthly.get(name, unknown), dtype=float)

    tmean = smooth_days(column("tmean_c"))
    below = bounded_days(column("tmean_c") - column("tmin_c"), low=0.0)
    above = bounded_days(column("tmax_c") - column("tmean_c"), low=0.0)
    spread = column("sd_daily_c")
    estimated = ~np.isfinite(spread)
    spread = np.where(estimated, default_spread(column("tmean_c"), numbers), spread)
    sd = bounded_days(spread, low=numbers.spread.sd_minimum_c)
    lengths = MONTH_LENGTHS.astype(float)
    return DailyClimate(
        lat=lat,
        tmean=tmean,
        tmin=tmean - below,
        tmax=tmean + above,
        sd=sd,
        sd_high=sd * numbers.spread.sd_high_over_mean,
        sd_low=sd * numbers.spread.sd_low_over_mean,
        sd_is_default=bool(estimated.any()),
        precip_mm=bounded_days(column("precip_mm") / lengths, low=0.0),
        wet_chance=days_with_gaps(column("precip_days") / lengths, 0.0, 1.0),
        snow_share=days_with_gaps(column("snow_days") / lengths, 0.0, 1.0),
        windy_share=days_with_gaps(column("days_wind_ge10ms") / lengths, 0.0, 1.0),
        vapour_hpa=days_with_gaps(column("vapour_hpa"), 0.0),
        sunshine_h=days_with_gaps(column("sunshine_h") / lengths, 0.0, 24.0),
        rh_pct=days_with_gaps(column("rh_pct"), 0.0, 100.0),
        wind_kmh=days_with_gaps(column("wind_kmh"), 0.0),
    )

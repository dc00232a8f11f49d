"""The weather of one week: from a forecast, a station near the apiary, or what is usual in the climate.

Days that are known count as they are; days that are not come from the usual weather with its spread, drawn along by
their known neighbours. What is not known of wind and rain stays unknown.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from hiveweek.climate import forecast as forecast_file
from hiveweek.climate import opening, spread
from hiveweek.climate.forecast import Day
from hiveweek.climate.profiles import Profile
from hiveweek.climate.unusual import far_from_usual
from hiveweek.numbers import Branch, Numbers, shipped
from hiveweek.problems import InputProblems, Problem
from hiveweek.texts.parts import Message, MonthDay, Phrase, message
from hiveweek.texts.speaker import says

DAYS = 7
BEFORE = 3  # days before the week whose weather pulls the first days along

YEARS = (1900, 2200)
USUAL_HERE = "usual-here."  # how the ids of notes begin that say so
ORIGINS = {"forecast": "forecast", "observed": "observed nearby", "normals": "usual here"}

Told = Any  # a plain value, or (value, low, high)


@dataclass
class WeekWeather:
    """The weather facts of one week.

    Attributes
    ----------
    date : date
        First of the seven days.
    basis : str
        ``forecast``, ``observed`` or ``normals``.
    facts : dict
        Fact id to a value (exact) or to (value, low, high) with a 95 % interval. A fact that is not known is absent.
    best_day : date or None
        Best day for opening a hive; None where no single day is known to be best.
    days : list of Day
        The seven days; lows and highs from the usual weather have ``source`` normals.
    notes : list of str
        One line each, for people.
    attribution : str
        Whose data this is; empty for a keeper's own file.
    """

    date: dt.date
    basis: str
    facts: dict = field(default_factory=dict)
    best_day: dt.date | None = None
    days: list = field(default_factory=list)
    notes: list = field(default_factory=list)
    attribution: str = ""

    @property
    def origin(self) -> str:
        """Where the facts come from, as a word of the fact table."""
        return ORIGINS[self.basis]

    def as_json(self) -> dict:
        """Return a plain mapping: basis, best_day, days, notes, attribution; None where unknown."""

        def number(value):
            return None if math.isnan(value) else round(value, 1)

        return {
            "basis": self.basis,
            "best_day": self.best_day.isoformat() if self.best_day else None,
            "days": [
                {
                    "date": day.date.isoformat(),
                    "tmin_c": number(day.tmin),
                    "tmax_c": number(day.tmax),
                    "precip_mm": number(day.precip),
                    "wind_kmh": number(day.wind),
                    "from": day.source,
                }
                for day in self.days
            ],
            "notes": list(map(str, self.notes)),
            "attribution": self.attribution,
        }


@dataclass(frozen=True)
class Usual:
    """What is usual on a run of days: arrays of one length; NaN where the climate does not say.

    ``tmean, tmin, tmax, sd, sd_high`` [degC] (spread of daily means and of daily highs), ``wet`` share of wet days 0-1,
    ``rain`` [mm a day], ``wind`` mean [km/h].
    """

    tmean: np.ndarray
    tmin: np.ndarray
    tmax: np.ndarray
    sd: np.ndarray
    sd_high: np.ndarray
    wet: np.ndarray
    rain: np.ndarray
    wind: np.ndarray


def week(
    profile: Profile,
    date: dt.date,
    forecast: Path | str | None = None,
    coords: tuple | None = None,
    offline: bool = False,
    cache_dir: Path | None = None,
    numbers: Numbers | None = None,
) -> WeekWeather:
    """Return the weather facts of the week that starts on a date.

    Parameters
    ----------
    profile : Profile
        The climate of the place.
    date : date
        First day of the week.
    forecast : path, optional
        CSV of forecast or observed days; wins over everything else. See `forecast.read`.
    coords : (lat, lon, elev_m), optional
        The apiary's own place, degrees and metres (height may be None). Only these are ever looked up over the network.
    offline : bool
        True never touches the network.
    cache_dir : path, optional
        Where fetched weather is kept; the user's cache folder by default.
    numbers : Numbers, optional
        By whose ``weather.*`` the week is read; the shipped ones by default.

    Raises
    ------
    InputProblems
        With every problem of the forecast file; for one whose days lie farther from what is usual here than weather does; for a
        date far outside living memory.
    """
    if not YEARS[0] <= date.year <= YEARS[1]:
        raise InputProblems(
            [Problem("", 0, 0, "bad-date", f"the year {date.year} lies outside {YEARS[0]} to {YEARS[1]}")]
        )
    by = (numbers or shipped()).weather
    dates = [date + dt.timedelta(days=step) for step in range(-BEFORE, DAYS)]
    notes: list[Phrase] = []
    attribution = ""
    known: dict[dt.date, Day] = {}
    basis = "normals"
    if forecast is not None:
        known = {day.date: day for day in forecast_file.read(forecast)}
        notes += far_from_usual([known[day] for day in dates if day in known], profile, str(forecast), by)
        if any(_says_something(known.get(day)) for day in dates[BEFORE:]):
            basis = "forecast"
        else:
            notes.append(message("note.forecast-covers-none", days=_span(dates[BEFORE:])))
            known = {}
    if basis == "normals" and coords is not None and not offline:
        from hiveweek.climate import station  # only here: nobody without coordinates pays for it

        lat, lon, elev = coords
        found = station.days_near(lat, lon, elev, dates[0], dates[-1], cache_dir=cache_dir, numbers=by)
        known = {day.date: day for day in found.days}
        notes += found.notes
        week_days = [known[day] for day in dates[BEFORE:] if _says_something(known.get(day))]
        if week_days:
            basis = "forecast" if any(day.source == "forecast" for day in week_days) else "observed"
        if known:
            attribution = found.attribution
    result = from_days(known, usual_days(profile, date), date, basis, by)
    last = notes[-1] if notes else None
    if basis == "normals" and isinstance(last, Message) and last.id.startswith(USUAL_HERE):
        result.notes = [message("note.check-the-day")]
    result.notes = notes + result.notes
    result.attribution = attribution or (profile_attribution(profile) if basis == "normals" else "")
    return result


def from_days(known: dict, usual: Usual, date: dt.date, basis: str, numbers: Branch | None = None) -> WeekWeather:
    """Work out the facts from known days and the usual weather.

    Parameters
    ----------
    known : dict of date to Day
        Days that are known, in the week or up to three days before it; others are ignored.
    usual : Usual
        Ten days: the three before the week and the week.
    date : date
        First day of the week.
    basis : str
        ``forecast``, ``observed`` or ``normals``.
    numbers : Branch, optional
        ``weather.*``; the shipped ones by default.
    """
    n = numbers or shipped().weather
    dates = [date + dt.timedelta(days=step) for step in range(-BEFORE, DAYS)]
    given = [known.get(day) or Day(day) for day in dates]
    low, high = np.array([day.tmin for day in given]), np.array([day.tmax for day in given])
    middle = (low + high) / 2
    highs = _weeks(high, usual.tmax, usual.sd_high * n.spread.year_spread, n)
    lows = _weeks(low, usual.tmin, usual.sd * n.spread.low_spread * n.spread.year_spread, n)
    means = _weeks(middle, usual.tmean, usual.sd * n.spread.year_spread, n)

    seven = given[BEFORE:]
    rain, wind = np.array([day.precip for day in seven]), np.array([day.wind for day in seven])
    wet_known = np.where(np.isnan(rain), np.nan, (rain >= n.days.wet_day_mm).astype(float))
    wet, heavy = spread.week_rain(
        wet_known, usual.wet[BEFORE:], n.spread.rain_after_dry, _heavy_share(usual, n)[BEFORE:]
    )
    heavy = np.where(np.isnan(rain), heavy, (rain >= n.days.flight_rain_mm).astype(float))

    facts: dict[str, Any] = {"weather.basis": basis}
    facts["weather.high_c"] = _degrees(highs.max(axis=1))
    facts["weather.low_c"] = _degrees(lows.min(axis=1))
    facts["weather.mean_c"] = _degrees(means.mean(axis=1))
    facts["weather.mean_high_c"] = _degrees(highs.mean(axis=1))
    facts["weather.lowest_high_c"] = _degrees(highs.min(axis=1))
    facts["weather.high_c_3d"] = _degrees(highs[:, :3].max(axis=1))
    facts["weather.flight_days"] = _flight_days(highs, heavy, wind, n)
    if not np.isnan(wet).any():
        facts["weather.dry_days"] = _count((wet == 0).sum(axis=1))
    if (wet_known == 0).any():
        facts["weather.rain_all_week"] = False
    elif not np.isnan(wet).any():
        facts["weather.rain_all_week"] = _chance((wet == 1).all(axis=1))

    best, opened = _opening(seven, highs, wet, wet_known, wind, usual, basis, n)
    facts.update(opened)
    days = [
        day
        if _says_something(day)
        else Day(day.date, float(usual.tmin[place]), float(usual.tmax[place]), source="normals")
        for place, day in enumerate(seven, start=BEFORE)
    ]
    return WeekWeather(date, basis, facts, best, days, _notes(seven, basis))


def _says_something(day: Day | None) -> bool:
    return day is not None and not (math.isnan(day.tmin) and math.isnan(day.tmax))


def _weeks(known: np.ndarray, usual: np.ndarray, sd: np.ndarray, n: Branch) -> np.ndarray:
    """Possible weeks of one daily value, shape (weeks, 7); days that are known are the same in all."""
    sd = np.maximum(sd, 0.1)
    anomaly = np.clip((known - usual) / sd, -3, 3)  # a freak day does not drag the next ones beyond reason
    weeks = usual[BEFORE:] + sd[BEFORE:] * spread.week_anomalies(anomaly, n.spread.lag1, first=BEFORE)
    return np.where(np.isnan(known[BEFORE:]), weeks, known[BEFORE:])


def _heavy_share(usual: Usual, n: Branch) -> np.ndarray:
    """Share of wet days with too much rain for flight: amounts fall off exponentially above the least of a wet day."""
    with np.errstate(divide="ignore", invalid="ignore"):
        mean = np.where(usual.wet > 0, usual.rain / usual.wet, np.nan)
        return np.exp(-(n.days.flight_rain_mm - n.days.wet_day_mm) / np.maximum(mean - n.days.wet_day_mm, 0.1))


def _flight_days(highs: np.ndarray, heavy: np.ndarray, wind: np.ndarray, n: Branch) -> Told:
    """Days fit for flight. Where neither file nor climate tells of rain, the low end leaves the day out.

    A day whose wind is unknown counts by its warmth and rain alone (the notes say so).
    """
    warm = (highs >= n.days.flight_high_c) & ~(wind > n.days.flight_wind_kmh)
    sure, perhaps = (warm & (heavy == 0)).sum(axis=1), (warm & ~(heavy == 1)).sum(axis=1)
    low, high = spread.interval(sure)[0], spread.interval(perhaps)[1]
    return _tidy(round(float(perhaps.mean())), int(low), int(high))


def _opening(
    seven: list[Day],
    highs: np.ndarray,
    wet: np.ndarray,
    wet_known: np.ndarray,
    wind: np.ndarray,
    usual: Usual,
    basis: str,
    n: Branch,
) -> tuple[dt.date | None, dict[str, Any]]:
    """The best day to open a hive, and its high, wind and rain."""
    chance = np.where(np.isnan(wet_known), np.where(np.isnan(wet).any(axis=0), np.nan, wet.mean(axis=0)), wet_known)
    expected = opening.score(highs.mean(axis=0), wind, chance, n)
    # one day can be named only if its own warmth is known and no other day promises more
    named = int(opening.best(expected))
    usual_wind = usual.wind[BEFORE:]
    facts: dict[str, Told] = {}
    if basis != "normals" and not math.isnan(seven[named].tmax):
        day = seven[named]
        facts["weather.open_high_c"] = round(day.tmax, 1)
        if not math.isnan(day.wind):
            facts["weather.open_wind_kmh"] = round(day.wind, 1)
        if not math.isnan(day.precip):
            facts["weather.open_dry"] = bool(day.precip < n.days.wet_day_mm)
        mean_wind = usual_wind[named]
        best = day.date
    else:
        place = opening.best(opening.score(highs, wind, wet, n))
        facts["weather.open_high_c"] = _degrees(highs[np.arange(len(highs)), place])
        mean_wind = usual_wind.mean()
        best = None
    if "weather.open_wind_kmh" not in facts and not math.isnan(mean_wind):
        shares = (1, n.spread.wind_low_share, n.spread.wind_high_share)
        facts["weather.open_wind_kmh"] = tuple(round(float(mean_wind * share), 1) for share in shares)
    return best, facts


def _degrees(samples: np.ndarray) -> Told:
    low, high = spread.interval(samples)
    return _tidy(round(float(samples.mean()), 1), round(low, 1), round(high, 1))


def _count(samples: np.ndarray) -> Told:
    low, high = spread.interval(samples)
    return _tidy(round(float(samples.mean())), int(low), int(high))


def _chance(samples: np.ndarray) -> Told:
    low, high = spread.interval(samples)
    return _tidy(bool(samples.mean() >= 0.5), bool(low), bool(high))


def _tidy(value, low, high):
    """A plain value where nothing is left open, else (value, low, high) in order."""
    if low == high == value:
        return value
    return value, min(low, value), max(high, value)


def _span(dates: list[dt.date]) -> Phrase:
    first, last = dates[0], dates[-1]
    start, end = (MonthDay(day.month, day.day, wide=False) for day in (first, last))
    return start if first == last else message("climate.span", start=start, end=end)


def _notes(seven: list[Day], basis: str) -> list[Phrase]:
    if basis == "normals":
        return [message("note.usual-weather")]
    notes: list[Phrase] = []
    covered = [day for day in seven if not (math.isnan(day.tmin) or math.isnan(day.tmax))]
    source = "forecast" if basis == "forecast" else "station"
    if len(covered) < DAYS:
        notes.append(message(f"note.{source}-covers", n=len(covered)))
    for name, attribute in (("wind", "wind"), ("rain", "precip")):
        told = [day for day in covered if not math.isnan(getattr(day, attribute))]
        if not told:
            notes.append(message(f"note.{name}-not-in-{source}"))
        elif len(told) < len(covered):
            notes.append(message(f"note.{name}-missing"))
    return notes


def usual_days(profile: Profile, date: dt.date) -> Usual:
    """Return what is usual in a climate on the three days before a date and the week from it on.

    Parameters
    ----------
    profile : Profile
        Only its daily climate counts.
    date : date
        First day of the week.
    """
    days = profile.daily.days(date - dt.timedelta(days=BEFORE), BEFORE + DAYS)
    return Usual(
        days["tmean"],
        days["tmin"],
        days["tmax"],
        days["sd"],
        days["sd_high"],
        days["wet_chance"],
        days["precip_mm"],
        days["wind_kmh"],
    )


def profile_attribution(profile: Profile) -> str:
    """Return whose normals a profile rests on, in one line; empty where it does not say."""
    source = getattr(profile, "source", None) or {}
    station, period, owner = (source.get(key) for key in ("station", "period", "attribution"))
    if not station:
        return owner or ""
    place = message("note.place-period", station=station, period=str(period)) if period else station
    return says("note.normals-of-owner" if owner else "note.normals-of", place=place, owner=owner)

"""A usual year of a place as the colony models need it: laying, deaths, income and how far off forage is."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

import numpy as np

from hiveweek.colony import population
from hiveweek.colony.food import Days
from hiveweek.colony.runway import Horizon
from hiveweek.numbers import Branch, shipped

NO_WEEKS = 60.0  # more weeks than this stand for "this climate has none"


class Daily(Protocol):
    """The usual weather of a place: arrays of 365 days, 1 January first."""

    @property
    def tmean(self) -> np.ndarray:
        """Mean temperature of each day, degC."""
        ...

    @property
    def rh_pct(self) -> np.ndarray:
        """Relative humidity of each day, percent; NaN where unknown."""
        ...


class Calendar(Protocol):
    """The season calendar of a place."""

    def facts(self, date: dt.date) -> dict:
        """Return the season facts of a day by name."""
        ...


def plain(value):
    """Return the middle of a season fact that may come as (value, low, high)."""
    return value[0] if isinstance(value, tuple) else value


@dataclass(frozen=True)
class UsualYear:
    """A usual year of a place, 365 entries, 1 January first.

    Attributes
    ----------
    days : Days
        Temperature, laying, income, flow, deaths, dearth.
    to_forage : ndarray
        Days to reliable forage; 0 where it is normal.
    cold : ndarray of bool
        Clustering weather is usual.
    crop_over : float
        Days before the clustering season at which no crop is waited for any more: the last flow is over, or too little of
        the time for syrup is left (``winter_store_weeks``). NaN where there is no winter.
    """

    days: Days
    to_forage: np.ndarray
    cold: np.ndarray
    crop_over: float


def usual_year(daily: Daily, calendar: Calendar, *, p: Branch | None = None) -> UsualYear:
    """Return the usual year of a place (kept for each calendar and set of numbers)."""
    p = p or shipped().model
    kept = _YEARS.get((id(calendar), id(p)))
    if kept is not None and kept[0] is calendar and kept[1] is p:
        return kept[2]
    first = dt.date(2023, 1, 1)
    season = getattr(calendar, "usual", calendar.facts)  # the days to each event are not asked here
    rows = [
        {name: plain(value) for name, value in season(first + dt.timedelta(days=day)).items()} for day in range(365)
    ]
    tmean = np.asarray(daily.tmean, dtype=float)
    states = [row["season.brood"] for row in rows]
    laying = laying_through(states, p=p)
    days = Days(
        tmean,
        laying,
        np.array([income_share(row, c, p=p) for row, c in zip(rows, tmean, strict=False)]),
        np.array([float(bool(row["season.flow"])) for row in rows]),
        population.death_rate(wear_through(states, laying, p=p), p=p),
        np.array([float(bool(row["season.dearth"])) for row in rows]),
    )
    weeks = np.array([float(row["season.weeks_to_forage"]) for row in rows])
    year = UsualYear(
        days,
        np.where(weeks > NO_WEEKS, 0.0, np.round(weeks * 7)),
        np.array([bool(row["season.cold"]) for row in rows]),
        _crop_over(rows, p),
    )
    if len(_YEARS) > 64:
        _YEARS.clear()
    _YEARS[id(calendar), id(p)] = (calendar, p, year)
    return year


def _crop_over(rows: list[dict], p: Branch) -> float:
    to_winter = np.array([float(row["season.weeks_to_winter"]) for row in rows]) * 7
    ahead = (to_winter > 0) & (to_winter <= NO_WEEKS * 7)
    flow = np.array([bool(row["season.flow"]) for row in rows])
    syrup = np.array([float(row["season.syrup_weeks_left"]) > 0 for row in rows])
    if not ahead.any():
        return float("nan")
    last_flow, last_syrup = ahead & flow, ahead & syrup
    over = to_winter[last_flow].min() - 1 if last_flow.any() else 0.0
    no_time = to_winter[last_syrup].min() - 1 + p.food.winter_store_weeks * 7 if last_syrup.any() else 0.0
    return float(max(over, no_time))


_YEARS: dict[tuple[int, int], tuple[object, Branch, UsualYear]] = {}


def laying_through(states: list[str], *, p: Branch | None = None) -> np.ndarray:
    """Return the share of full laying on each day of a year of brood states.

    Within a stretch of one state the share runs straight from where the stretch before left it to where the next begins:
    nothing at the end of the pause, half at the start of the rise, all at its end, little at the end of the fall. A count
    of colonies killed through the winter shows this rise from soon after the solstice [W113].
    """
    p = p or shipped().model
    own = {name: getattr(p.bees, f"brood_share_{name}") for name in population.BROOD_STATES}
    turns = [i for i in range(len(states)) if states[i] != states[i - 1]]
    if not turns:
        return np.full(len(states), own[states[0]])

    def border(before: str, after: str) -> float:
        if "full" in (before, after):
            return own["full"]
        if "none" in (before, after):
            return own["none"]
        if after == "rising":
            return own["rising"] if before == "little" else own["falling"]
        return own["little"]

    share = np.zeros(len(states))
    for start, stop in pairwise([*turns, turns[0] + len(states)]):
        here = states[start]
        left = border(states[start - 1], here)
        right = border(here, states[stop % len(states)])
        run = np.arange(start, stop)
        share[run % len(states)] = left + (right - left) * (run - start + 0.5) / (stop - start)
    return share


def wear_through(states: list[str], laying: np.ndarray, *, p: Branch | None = None) -> np.ndarray:
    """Return how worn adults are on each day (0 winter bees at rest, 1 full rearing).

    It follows the brood, but not on the way down: while the brood falls the summer bees go on dying, and the rate comes to
    rest only at the start of the pause.
    """
    p = p or shipped().model
    n = len(states)
    worn = np.minimum(laying, 1.0)
    for start in (i for i in range(n) if states[i] != states[i - 1]):
        length = next((k for k in range(1, n + 1) if states[(start + k) % n] != states[start]), n)
        run = (start + np.arange(length)) % n
        if states[start] == "falling":
            worn[run] = p.bees.death_autumn_share
        elif states[start] == "little" and states[start - 1] == "falling":
            worn[run] = p.bees.death_autumn_share * (1.0 - (np.arange(length) + 0.5) / length)
    return worn


def income_share(season: dict, tmean: float, *, p: Branch | None = None) -> float:
    """Return the share of its use that a colony usually finds outside on a day, from that day's season facts."""
    p = p or shipped().model
    if season["season.flow"]:
        return 1.0
    if season["season.cold"]:
        return 0.0
    if season["season.dearth"]:
        return p.food.dearth_income_share
    autumn = season["season.winter_bees"] or season["season.brood"] in ("falling", "little", "none")
    if autumn and season["season.weeks_to_winter"] <= NO_WEEKS:
        warm = (tmean - p.food.autumn_income_none_c) / (p.food.autumn_income_full_c - p.food.autumn_income_none_c)
        return float(np.clip(warm, 0.0, 1.0)) * p.food.autumn_income_share
    forage = season["season.weeks_to_forage"]
    return p.food.season_income_share if forage <= 0 or forage > NO_WEEKS else 0.0


def food_horizon(
    year: UsualYear,
    date: dt.date,
    to_forage: np.ndarray,
    to_winter: np.ndarray,
    dearth: np.ndarray,
    *,
    p: Branch | None = None,
) -> list[Horizon | None]:
    """Return the days for which food must be there at each hive.

    Parameters
    ----------
    to_forage, to_winter : ndarray
        Weeks, as in the season facts. NaN gives None.
    dearth : ndarray
        1 inside a dearth.

    Returns
    -------
    list of (Horizon or None)
        In clustering weather to forage; of a dearth the days that lie in the next ``candy_days``. The winter that is ahead
        counts to its far side: not at all until ``winter_ramp_weeks`` before the last crop is over, since it may still fill
        the combs; from there on in step with the days, and wholly once it is over. So the need never jumps from one day to
        the next.
    """
    p = p or shipped().model
    asked = np.column_stack(np.broadcast_arrays(*(np.atleast_1d(x) for x in (to_forage, to_winter, dearth))))
    keys = [tuple(row) for row in np.nan_to_num(asked, nan=-1.0).tolist()]
    found: dict[tuple, Horizon | None] = {}
    for key, row in zip(keys, asked, strict=True):
        if key not in found:
            found[key] = None if np.isnan(row[:2]).any() else _horizon(year, day_of_year(date), *map(float, row), p=p)
    return [found[key] for key in keys]


def _horizon(year: UsualYear, today: int, to_forage: float, to_winter: float, dearth: float, *, p: Branch) -> Horizon:
    forage = 0.0 if to_forage > NO_WEEKS else min(round(to_forage * 7), p.food.horizon_most_days)
    check = p.food.candy_days
    if dearth == 1:
        forage, gap = 0.0, (0.0, min(forage, check))
    else:
        coming = year.days.dearth[(today + np.arange(int(check))) % 365]
        begins = np.flatnonzero(np.diff(coming) > 0)
        start = float(begins[0] + 1) if len(begins) else check
        over = np.flatnonzero(coming[int(start) :] == 0)
        gap = (start, start + float(over[0]) if len(over) else check)
    ahead = round(to_winter * 7)
    if not 0 < to_winter <= NO_WEEKS or np.isnan(year.crop_over):
        return Horizon(forage, *gap)
    beyond = min(ahead + year.to_forage[(today + ahead) % 365], p.food.horizon_most_days)
    counted = (year.crop_over - ahead) / (p.food.winter_ramp_weeks * 7) + 1.0
    return Horizon(forage, *gap, float(beyond), float(np.clip(counted, 0.0, 1.0)))


def day_of_year(date: dt.date) -> int:
    """Return the place of a date in a year of 365 days; 29 February counts as 28 February."""
    if (date.month, date.day) == (2, 29):
        return 58
    return (dt.date(2023, date.month, date.day) - dt.date(2023, 1, 1)).days


def around(days: Days, date: dt.date, past: int = 366, ahead: int = 400) -> tuple[Days, Days]:
    """Return the days before a date (the last entry yesterday) and from it on (the first entry today)."""
    start = day_of_year(date)
    back = (start - past + np.arange(past)) % 365
    on = (start + np.arange(ahead)) % 365

    return days.take(back), days.take(on)


def around_each(
    years: Sequence[Days], dates: Sequence[dt.date], hives: int | np.ndarray, past: int = 366, ahead: int = 400
) -> tuple[Days, Days]:
    """Return the same for several dates: a column a hive, all hives of the first date first.

    Parameters
    ----------
    years : sequence of Days
        The year of each date.
    hives : int or ndarray of int, shape (dates,)
        How many stand below each other on each date.
    """
    if len(dates) == 1:
        return around(years[0], dates[0], past, ahead)
    distinct = list({id(one): one for one in years}.values())
    begin = np.array([next(k for k, one in enumerate(distinct) if one is year) for year in years]) * 365
    start = np.array([day_of_year(date) for date in dates])
    joined = Days.joined(distinct)

    def columns(first: np.ndarray, length: int) -> Days:
        index = begin + (first + np.arange(length)[:, None]) % 365
        return joined.take(index).repeated(hives)

    return columns(start - past, past), columns(start, ahead)

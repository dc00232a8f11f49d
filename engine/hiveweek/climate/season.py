"""The season calendar of a place: dated events, windows that may overlap, phases that share out the year."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from hiveweek.climate import events as ev
from hiveweek.climate import signs
from hiveweek.climate.daily import DailyClimate, day_index, month_day
from hiveweek.climate.phases import local_phases
from hiveweek.climate.smooth import DAYS
from hiveweek.numbers import Branch, shipped
from hiveweek.texts.parts import Phrase, Word, message
from hiveweek.vocabulary.events import EVENTS

NONE_WEEKS = 99.0  # what a climate lacks lies this far off
NONE_DAYS = 999
# A beginning, its end and the usual days between, used only where one of the two is given locally.
PAIRS = (
    ("swarm_season_start", "swarm_season_end", 63),
    ("main_flow_start", "main_flow_end", 49),
    ("second_flow_start", "second_flow_end", 42),
    ("broodless_start", "broodless_end", 60),
)
SPRING_EVENTS = (
    "first_pollen",
    "end_of_cluster",
    "first_full_inspection",
    "spring_build_up_start",
    "swarm_season_start",
    "swarm_season_end",
    "main_flow_start",
    "main_flow_end",
    "unwrap",
    "syrup_opens",
)


@dataclass(frozen=True)
class Override:
    """A date known better on the spot: first and last usual day (0 = 1 January), and the reason."""

    event: str
    start: int
    end: int
    note: str


class SeasonCalendar:
    """When things happen in a usual year at one place.

    Parameters
    ----------
    daily : DailyClimate
    overrides : iterable of Override
        Local dates that replace the computed ones; what follows from them (windows, phases) follows the new
        dates.
    numbers : Branch, optional
        ``season.*``; the shipped ones by default.

    Attributes
    ----------
    events : dict
        Event id -> ``(from, to)`` as ``MM-DD``, or None where the climate lacks it, in the order of
        `vocabulary.events.EVENTS`. A point event's range holds the middle half of years; spans (summer_dearth,
        late_summer_mite_treatment, winter_bee_rearing) run from first to last day. ``from`` may be later in
        the year than ``to`` (over the new year).
    phases : list of (phase, from, to)
        Every day of the 365 belongs to exactly one; both days included. A phase that crosses the new year is
        one item whose ``from`` is later than its ``to``. In order of the calendar year, the one in force on 1
        January first.
    windows : dict
        Window -> list of ``(from, to)``: cold, swarming, flow, dearth, broodless, winter_bees.
    notes : list of Phrase
        What a keeper should know about this calendar.
    """

    def __init__(
        self, daily: DailyClimate, overrides: Iterable[Override] = (), shift: int = 0, numbers: Branch | None = None
    ):
        self.daily = daily
        self.numbers = numbers or shipped().season
        self.overrides = tuple(overrides)
        self.shift = shift
        self._year = ev.LocalYear(daily, self.numbers)
        self._found = ev.find(daily, self.numbers)
        self._apply_overrides()
        self._apply_shift()
        self._windows = self._make_windows()
        self._phase_by_day, self.phases = self._make_phases()
        self.events = {name: self._range(name) for name in EVENTS}
        self.windows = {
            name: [(month_day(a), month_day(b - 1)) for a, b in spans] for name, spans in self._windows.items()
        }
        self.notes = self._make_notes()
        self._masks = {name: self._mask(spans) for name, spans in self._windows.items()}

    def _apply_overrides(self) -> None:
        for item in self.overrides:
            start = self._year.local(item.start)
            end = start + (item.end - item.start) % DAYS
            usual = self._found.get(item.event)
            middle = _middle(usual)
            if middle is not None and middle - start > DAYS / 2:
                start, end = start + DAYS, end + DAYS
            if item.event in ev.SPANS:
                self._found[item.event] = ev.Span(start, end)
            else:
                self._found[item.event] = ev.Point((start + end) / 2, (end - start) / 2)
        for first, last, length in PAIRS:
            self._join(first, last, length, {item.event for item in self.overrides})

    def _join(self, first: str, last: str, length: int, given: set[str]) -> None:
        """Keep a beginning before its end when one of the two was given locally: the other keeps the length."""
        start, end = self._point(first), self._point(last)
        if not given & {first, last} or (start is None and end is None):
            return
        gap = None if start is None or end is None else end.day - start.day
        if last == "broodless_end" and gap is not None:
            gap += DAYS
        if gap is not None and 0 < gap < DAYS / 2:
            return
        if first in given and last in given:
            raise ValueError(f"{first} must come before {last}, and within half a year")
        over_new_year = DAYS if last == "broodless_end" else 0
        if start is not None and first in given:
            self._found[last] = start.later(length - over_new_year)
        elif end is not None:
            self._found[first] = end.later(over_new_year - length)

    def _apply_shift(self) -> None:
        if not self.shift:
            return
        named = {item.event for item in self.overrides}
        for name in SPRING_EVENTS:
            point = self._found.get(name)
            if isinstance(point, ev.Point) and name not in named:
                self._found[name] = point.later(self.shift)

    def _day(self, name: str) -> float:
        """Middle of an event that this climate has, in days after the coldest day."""
        middle = _middle(self._found.get(name))
        assert middle is not None, f"this climate has no {name}"
        return middle

    def _point(self, name: str) -> ev.Point | None:
        item = self._found[name]
        assert not isinstance(item, ev.Span), f"{name} lasts"
        return item

    def _span(self, name: str) -> ev.Span | None:
        item = self._found[name]
        assert not isinstance(item, ev.Point), f"{name} is one day"
        return item

    def _make_windows(self) -> dict[str, list[tuple[int, int]]]:
        """Return each window as half-open stretches of calendar days (start, end), end may pass 365."""
        found = self._found
        windows: dict[str, list[tuple[int, int]]] = {
            "cold": [],
            "swarming": [],
            "flow": [],
            "dearth": [],
            "broodless": [],
            "winter_bees": [],
            "syrup": [],
        }

        def add(name: str, start: float, end: float) -> None:
            if end > start:
                first = self._year.calendar(start)
                windows[name].append((first, first + round(end - start)))

        if found["broodless_start"] is not None:
            add("broodless", self._day("broodless_start"), self._day("broodless_end") + DAYS)
        if found["cold_start"] is not None:
            add("cold", self._day("cold_start"), self._day("end_of_cluster") + DAYS)
            add("syrup", self._day("syrup_opens"), self._day("stop_syrup_by") + 1)
        add("swarming", self._day("swarm_season_start"), self._day("swarm_season_end"))
        add("flow", self._day("main_flow_start"), self._day("main_flow_end"))
        if found["second_flow_start"] is not None:
            add("flow", self._day("second_flow_start"), self._day("second_flow_end"))
        for window, event in (("dearth", "summer_dearth"), ("winter_bees", "winter_bee_rearing")):
            span = self._span(event)
            if span is not None:
                add(window, span.start, span.end)
        return windows

    @staticmethod
    def _mask(spans: Iterable[tuple[int, int]]) -> np.ndarray:
        mask = np.zeros(DAYS, dtype=bool)
        for start, end in spans:
            mask[np.arange(start, end) % DAYS] = True
        return mask

    def _make_phases(self) -> tuple[list[str], list[tuple[str, str, str]]]:
        starts = local_phases(self._found, self.numbers)
        by_day: list[str] = [""] * DAYS
        for i, (name, start) in enumerate(starts):
            end = starts[i + 1][1] if i + 1 < len(starts) else starts[0][1] + DAYS
            for day in range(start, end):
                by_day[self._year.calendar(day)] = name
        phases = []
        changes = [i for i in range(DAYS) if by_day[i] != by_day[i - 1]]
        if not changes:
            return by_day, [(by_day[0], "01-01", "12-31")]
        order = changes if changes[0] == 0 else [changes[-1]] + changes[:-1]
        for i, start in enumerate(order):
            following = order[(i + 1) % len(order)]
            phases.append((by_day[start], month_day(start), month_day(following - 1)))
        return by_day, phases

    def _range(self, name: str) -> tuple[str, str] | None:
        item = self._found[name]
        if item is None:
            return None
        if isinstance(item, ev.Span):
            return month_day(self._year.calendar(item.start)), month_day(self._year.calendar(item.end))
        return (
            month_day(self._year.calendar(item.day - item.half)),
            month_day(self._year.calendar(item.day + item.half)),
        )

    def _make_notes(self) -> list[Phrase]:
        notes: list[Phrase] = []
        if self._found["cold_start"] is None:
            notes.append(message("note.no-cluster"))
        rearing = self._span("winter_bee_rearing")
        flows = [self._day(name) for name in ("main_flow_end", "second_flow_end") if self._found[name] is not None]
        if rearing is not None and max(flows) > rearing.start:
            notes.append(message("note.late-flow"))
        if self.daily.tmean.min() < self.numbers.winter.indoor_coldest_c:
            notes.append(message("note.indoors"))
        if self._found["second_flow_start"] is not None:
            notes.append(message("note.second-flow"))
        if self._found["cold_start"] is None:
            notes.append(message("note.no-winter"))
        notes.extend(message("note.local-date", event=Word(item.event), note=item.note) for item in self.overrides)
        return notes

    def event_date(self, event: str, near: dt.date) -> dt.date | None:
        """Return the date of an event in the year in which it lies closest to a date.

        Parameters
        ----------
        event : str
            One of `vocabulary.events.EVENTS`. A point event gives the middle of its range, a span the day it begins.
        near : date

        Returns
        -------
        date or None
            None where the climate lacks the event.

        Raises
        ------
        KeyError
            For a name that is no event.
        """
        item = self._found[event]
        if item is None:
            return None
        return _nearest(self._year.calendar(item.start if isinstance(item, ev.Span) else item.day), near)

    def days_to(self, event: str, date: dt.date) -> int:
        """Return the days from a date to an event, negative when it is past; 999 where the climate lacks it.

        A point event counts to the middle of its range, in the year in which it lies closest. A span counts 0
        on each of its days, before it the days to its beginning, after it (negative) the days since its end,
        whichever is nearer.
        """
        item = self._found[event]
        nearest = self.event_date(event, date)
        if item is None or nearest is None:
            return NONE_DAYS
        if isinstance(item, ev.Point):
            return (nearest - date).days
        today = day_index(date)
        first, length = self._year.calendar(item.start), round(item.end - item.start)
        since = (today - first) % DAYS
        if since <= length:
            return 0
        ahead = (first - today) % DAYS
        return ahead if ahead <= since - length else length - since

    def phase(self, date: dt.date) -> str:
        """Return the phase a date lies in."""
        return self._phase_by_day[day_index(date)]

    def inside(self, window: str, date: dt.date) -> bool:
        """Tell whether a date lies in a window (cold, swarming, flow, dearth, broodless, winter_bees)."""
        return bool(self._masks[window][day_index(date)])

    def shifted(self, days: int) -> SeasonCalendar:
        """Return this calendar with the events of spring and early summer moved by days (later is positive)."""
        return _shifted(self, int(days))

    def sign_shift(self, sign: str | None, on: dt.date) -> int:
        """Return by how many days this year's spring runs late or early by a sign (`signs.shift`)."""
        return signs.shift(self, sign, on)

    def facts(self, date: dt.date, local_sign: str | None = None, local_sign_on: dt.date | None = None) -> dict:
        """Return every season fact of a date.

        Parameters
        ----------
        date : date
        local_sign : str or None
            What the keeper sees outside (`signs.SIGNS`); moves this year's spring events.
        local_sign_on : date or None
            When it was seen; None means on ``date``.

        Returns
        -------
        dict
            Fact id -> value. Weeks and days are exact for a usual year; 99 weeks and 999 days stand for what
            the climate does not have.
        """
        shift = self.sign_shift(local_sign, local_sign_on or date)
        if shift and not self.shift:
            return self.shifted(shift).facts(date)
        facts = self.usual(date)
        for name in EVENTS:
            facts[f"season.days_to_{name}"] = self.days_to(name, date)
        return facts

    def usual(self, date: dt.date) -> dict:
        """Return the season facts of a date without the days to each event, for those who ask of every day of a year."""
        return {
            "season.phase": self.phase(date),
            "season.brood": self._brood(date),
            "season.cold": self.inside("cold", date),
            "season.swarming": self.inside("swarming", date),
            "season.flow": self.inside("flow", date),
            "season.dearth": self.inside("dearth", date),
            "season.broodless": self.inside("broodless", date),
            "season.winter_bees": self.inside("winter_bees", date),
            "season.weeks_above_15": self._weeks_left(self.daily.tmax, 15.0, date),
            "season.weeks_mean_above_15": self._weeks_left(self.daily.tmean, 15.0, date),
            "season.weeks_high_above_10": self._weeks_left(self.daily.tmax, 10.0, date),
            "season.weeks_to_winter": self._weeks_to("cold", date),
            "season.weeks_to_forage": self._weeks_to_forage(date),
            "season.weeks_to_winter_bees": self._weeks_to("winter_bees", date),
            "season.weeks_to_swarming": self._weeks_to("swarming", date),
            "season.weeks_to_flow": self._weeks_to("flow", date),
            "season.syrup_weeks_left": self._syrup_weeks(date),
        }

    def _weeks_to(self, window: str, date: dt.date) -> float:
        spans = self._windows[window]
        if not spans:
            return NONE_WEEKS
        today = day_index(date)
        if self._masks[window][today]:
            return 0.0
        return min((start - today) % DAYS for start, _ in spans) / 7.0

    def _weeks_left(self, curve: np.ndarray, limit: float, date: dt.date) -> float:
        """Weeks with a curve at or above a limit to the next coldest day; the whole year if always."""
        if curve.min() >= limit:
            return DAYS / 7.0
        left = (self._year.coldest - day_index(date) - 1) % DAYS + 1
        ahead = curve[(day_index(date) + np.arange(left)) % DAYS]
        return float((ahead >= limit).sum()) / 7.0

    def _weeks_to_forage(self, date: dt.date) -> float:
        """Weeks to pollen and nectar: the end of a dearth, or in clustering weather the start of build-up."""
        today = day_index(date)
        for _, end in self._windows["dearth"]:
            if self._masks["dearth"][today]:
                back = end % DAYS
                return ((back - today) % DAYS) / 7.0
        if self._found["cold_start"] is None:
            return 0.0
        local = self._year.local(today)
        if local >= self._day("cold_start"):
            local -= DAYS
        return max(self._day("spring_build_up_start") - local, 0.0) / 7.0

    def _syrup_weeks(self, date: dt.date) -> float:
        if not self._windows["syrup"]:
            return NONE_WEEKS
        start, end = self._windows["syrup"][0]
        today = day_index(date)
        since = (today - start) % DAYS
        return (end - start - since) / 7.0 if since < end - start else 0.0

    def _brood(self, date: dt.date) -> str:
        """What a normal colony has here now: none, little, rising, full or falling."""
        local = self._year.local(day_index(date))
        build_up, swarm = self._day("spring_build_up_start"), self._day("swarm_season_start")
        if self.inside("broodless", date):
            return "none"
        if self._found["cold_start"] is None:
            half = self.numbers.autumn.mild_winter_half_days
            if local < swarm:
                return "rising"
            return "falling" if local >= DAYS - 2 * half else "full"
        if local < build_up or local >= self._day("cold_start"):
            return "little"
        if local < swarm:
            return "rising"
        rearing = self._span("winter_bee_rearing")
        return "falling" if rearing is not None and local >= rearing.start else "full"


@lru_cache(maxsize=512)
def _shifted(calendar: SeasonCalendar, days: int) -> SeasonCalendar:
    return SeasonCalendar(calendar.daily, calendar.overrides, days, calendar.numbers)


def _middle(item: ev.Point | ev.Span | None) -> float | None:
    if item is None:
        return None
    return (item.start + item.end) / 2 if isinstance(item, ev.Span) else item.day


def _nearest(index: int, near: dt.date) -> dt.date:
    month, day = map(int, month_day(index).split("-"))
    options = [dt.date(year, month, day) for year in (near.year - 1, near.year, near.year + 1) if 1 <= year <= 9999]
    return min(options, key=lambda d: (abs((d - near).days), d))

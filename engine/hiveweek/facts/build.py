"""Builds the fact table of an apiary for one day: what was seen, what follows, what the season and the models say."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from hiveweek import vocabulary as vocabulary_room
from hiveweek.climate import Profile
from hiveweek.climate.weather import WeekWeather
from hiveweek.facts.constraints import most_seams
from hiveweek.facts.courses import course_facts
from hiveweek.facts.estimates import MODELS, EstimateContext, add_estimates
from hiveweek.facts.implied import imply
from hiveweek.facts.inside import inside_facts, told_by_what_lies_in
from hiveweek.facts.observed import Turned, current, noted_first, turned
from hiveweek.facts.scenario import Scenario, record_of
from hiveweek.facts.some import Some
from hiveweek.facts.table import FactTable, in_rows
from hiveweek.facts.treatments import treatment_facts
from hiveweek.facts.week_weather import MOVED, reconcile, temperatures
from hiveweek.numbers import Numbers, shipped
from hiveweek.record import known
from hiveweek.record.history import History
from hiveweek.texts.parts import Phrase, message
from hiveweek.vocabulary.model import Vocabulary

YARD = {
    "apiary.robbed": "colony.robbed",
    "apiary.dead_share": "colony.alive",
}  # what concerns the whole yard, and what it is told by


@dataclass
class Built:
    """The facts of one answer.

    Attributes
    ----------
    table : FactTable
        A row a hive.
    history : History
        What the table was built from.
    alive : ndarray of bool, shape (hives,)
        False only where the colony is known to be dead.
    fixed : dict of str to ndarray of bool
        Computed facts that the file sets, and at which hives.
    notes : list of Phrase
        One line each, for people.
    """

    table: FactTable
    history: History
    alive: np.ndarray
    date: dt.date
    profile: object
    weather: object = None
    fixed: dict[str, np.ndarray] = field(default_factory=dict)
    notes: list[Phrase] = field(default_factory=list)


def history_of(scenario: Scenario, date: dt.date, words: Vocabulary, numbers: Numbers | None = None) -> History:
    """Return what a scenario says was seen, set and done, up to a day; its hives a row each."""
    record, apiary, hives = record_of(scenario, words)
    names = [hive.id for hive in scenario.hives]
    return known.history_of(record, apiary, hives, date, words, names=names, numbers=numbers)


def build(
    scenario: Scenario,
    date: dt.date | None = None,
    profile=None,
    weather=None,
    words: Vocabulary | None = None,
    numbers: Numbers | None = None,
    law: Mapping[str, bool] | None = None,
    history: History | None = None,
) -> Built:
    """Build the fact table.

    Parameters
    ----------
    scenario : Scenario
        The hives and what is known of them.
    date : date, optional
        Day of the answer; the scenario's date by default. What was seen keeps its own dates.
    profile : Profile
        Climate of the place (``climate.load_profile`` or ``Profile.from_normals``), the apiary's own dates applied.
    weather : WeekWeather, optional
        The coming week (``weather.week``); without it only the weather that the file sets is known.
    words : Vocabulary, optional
        The shipped one by default.
    numbers : Numbers, optional
        What the models are worked out with, as moved by overlays; the shipped ones by default.
    law : mapping of str to bool, optional
        Facts of the group ``law`` for the place (``rules.law``); what it lacks stays unknown.
    history : History, optional
        What was seen and done up to that day, where it has been read already.

    Returns
    -------
    Built
        Unknown stays NaN. A computed fact set in the file wins, for ``model.file.own_days`` from the file's
        date. The table is settled (``FactTable.settle``): whatever reads it, either inference channel too, sees the same rounded figures.
    """
    words = words or vocabulary_room.load()
    date = date or scenario.date
    history = history or history_of(scenario, date, words, numbers)
    table = FactTable(words, history.hives)
    builder = Builder(scenario, [date], profile, [weather], words, history, table, numbers or shipped(), law or {})
    builder.run(MODELS)
    dead = table.column("colony.alive").value == 0
    return Built(table, history, ~dead, date, profile, weather, builder.fixed, builder.notes)


def build_days(
    scenario: Scenario,
    dates: Sequence[dt.date],
    profile: Profile,
    weather: Sequence[WeekWeather],
    words: Vocabulary,
    history: History,
    *,
    law: Mapping[str, bool] | None = None,
    models: frozenset[str] = MODELS,
    some: Some | None = None,
) -> FactTable:
    """Build the tables of several days below each other, the hives of the first day first.

    Parameters
    ----------
    dates : sequence of date
    weather : sequence of WeekWeather
        The week from each of them on.
    history : History
        What was seen and done, up to the last of them or longer.
    models : frozenset of str
        The models that are asked (`estimates.MODELS`); what others work out stays unknown.
    some : Some, optional
        Which hives are wanted of each day; all of them by default.

    Returns
    -------
    FactTable
        As that of `build` for each day, with the numbers of the profile; without origins.
    """
    over = history.over([date.toordinal() for date in dates], None if some is None else some.hives)
    table = FactTable(words, over.hives, origins=False)
    builder = Builder(scenario, dates, profile, weather, words, over, table, profile.numbers, law or {}, some)
    builder.run(models)
    return table


class Builder:
    """A table on its way: of one day, or of several below each other."""

    def __init__(self, scenario, dates, profile, weather, words, history, table, numbers, law, some=None):
        self.scenario, self.dates, self.profile, self.weather = scenario, dates, profile, weather
        self.words, self.history, self.table, self.numbers = words, history, table, numbers
        self.law = law
        self.n = len(table)
        self.some: Some | None = some
        self.hives: Sequence[Sequence[int]] = some.hives if some else [range(self.n // len(dates))] * len(dates)
        self.starts = np.cumsum([0, *map(len, self.hives)]).tolist()
        self.blank = np.full(self.n, np.nan)
        self.fixed: dict[str, np.ndarray] = {}
        self.notes: list[Phrase] = []

    def rows(self, place: int) -> slice:
        """Return the rows of one of the dates."""
        return slice(self.starts[place], self.starts[place + 1])

    def noted(self, wanted: frozenset[str]) -> None:
        """Fill in some facts that are noted, and what follows from them without season, weather and models."""
        self.set_in_file()
        self.seen(wanted)
        self.place()
        self.counts(wanted)
        self.yard()
        self.table.settle()

    def run(self, models: frozenset[str]) -> None:
        """Fill the table, step by step."""
        self.set_in_file()
        self.seen()
        calendars = self.season()
        self.climate()
        self.week()
        self.place()
        self.counts()
        self.treatments()
        self.yard()
        if self.profile is not None and self.n:
            daily = self.profile.daily
            starts = self.starts
            context = EstimateContext(self.dates, starts, daily, calendars, self.history, self.fixed, self.numbers)
            add_estimates(self.table, context, models)
        self.table.settle()

    def put(self, name: str, value, low=None, high=None, *, origin: str | list[str | None] = "computed") -> None:
        """Set a column, leaving the cells alone that the file sets; cells without a new value keep what they had."""
        new = [in_rows(x, self.n) for x in (value, value if low is None else low, value if high is None else high)]
        if name not in self.table.columns and name not in self.fixed:
            self.table.set(name, *new, origin=origin)
            return
        column = self.table.column(name)
        keep = self.fixed.get(name, np.zeros(self.n, dtype=bool)) | (np.isnan(new[0]) & column.known)
        merged = [
            np.where(keep, before, after)
            for before, after in zip((column.value, column.low, column.high), new, strict=True)
        ]
        if isinstance(origin, str) and not self.table.origins:
            self.table.set(name, *merged, origin=column.origin)
            return
        words = origin if isinstance(origin, list) else [None if gone else origin for gone in np.isnan(new[0])]
        old = column.origin or [None] * self.n
        self.table.set(name, *merged, origin=[o if k else w for k, o, w in zip(keep, old, words, strict=True)])

    # --- what the file says
    def set_in_file(self) -> None:
        """Take over computed facts that the file sets, while its week lasts."""
        yard = {k: v for k, v in self.scenario.apiary.site.items() if self.words.facts[k].comes_from == "computed"}
        rows = [
            {**yard, **{k: v for k, v in hive.facts.items() if self.words.facts[k].comes_from == "computed"}}
            for hive in self.scenario.hives
        ]
        if not any(rows):
            return
        for place, date in enumerate(self.dates):
            if 0 <= (date - self.scenario.date).days <= self.numbers.model.file.own_days:
                for row, hive in enumerate(self.hives[place], self.starts[place]):
                    self.set_row(row, rows[hive])
            else:
                self.notes.append(message("note.file-sets-other-day", date=self.scenario.date.isoformat()))

    def set_row(self, row: int, facts: Mapping) -> None:
        """Take over what the file sets at one hive."""
        for name, value in facts.items():
            if value is None:
                continue
            self.table.set_one(row, name, self.words.facts[name].encode(value), origin="set")
            self.fixed.setdefault(name, np.zeros(self.n, dtype=bool))[row] = True

    def seen(self, wanted: frozenset[str] | None = None) -> None:
        """Take over what was seen and still counts, and what it implies; of some facts or of all."""
        columns, seen_on, origins = {}, {}, {}
        for name in self._wanted(self.history.facts(), wanted):
            fact = self.words.facts[name]
            columns[name], seen_on[name], origins[name] = current(self.history, fact)
        self._turn(columns, seen_on, origins, wanted)
        for name, mask in self.fixed.items():
            columns[name] = self.table.column(name).value.copy()
            seen_on[name] = np.where(mask, float(self.scenario.date.toordinal()), np.nan)
        imply(self.words, columns, seen_on, origins, self.fixed, self.blank)
        self._end(columns, origins)
        for name, value in columns.items():
            if name in origins:
                self.put(name, value, origin=origins[name])

    @staticmethod
    def _wanted(names: Iterable[str], wanted: frozenset[str] | None) -> list[str]:
        return [name for name in names if wanted is None or name in wanted]

    def _turn(self, columns, seen_on, origins, wanted) -> None:
        """Take over what facts are by the clock because others were seen, where nothing was seen of them since."""
        for fact in self.words.facts.values():
            for row in turned(self.history, fact) if fact.becomes else ():
                keeps = self.words.facts[row.fact].keeps
                if keeps is not None and self.history.days[row.hive] - row.day > keeps:
                    continue
                if self.history.seen_since(row.hive, row.fact, row.seen_on):
                    continue
                self._by_the_clock(row, columns, seen_on, origins)
        for row in told_by_what_lies_in(self.history):
            if wanted is None or row.fact in wanted:
                self._by_the_clock(row, columns, seen_on, origins)

    def _by_the_clock(self, row: Turned, columns, seen_on, origins) -> None:
        for found, value in ((columns, row.value), (seen_on, row.day)):
            found.setdefault(row.fact, self.blank.copy())[row.hive] = value
        words = origins.setdefault(row.fact, [None] * self.n)
        words[row.hive] = f"by the clock from {dt.date.fromordinal(row.seen_on).isoformat()}"

    def _end(self, columns, origins) -> None:
        """What ends with a date, such as a fire ban, holds to that day, and is over after it."""
        for fact in self.words.facts.values():
            until = columns.get(fact.until)
            if until is None:
                continue
            old = columns.get(fact.id, self.blank)
            told = ~np.isnan(until) & np.isnan(old)
            columns[fact.id] = np.where(told, (until >= self.history.days).astype(float), old)
            words = origins.setdefault(fact.id, [None] * self.n)
            for hive in np.flatnonzero(told):
                words[hive] = f"implied by {fact.until}"

    # --- place and time
    def season(self) -> list:
        """Season facts; what the keeper sees in bloom moves this year's spring. Returns the calendar of the yard on each day."""
        if self.profile is None:
            return []
        calendar = self.profile.calendar
        sign, seen_on, _ = current(self.history, self.words.facts["season.local_sign"])
        pairs: dict[tuple, list[int]] = {}
        day_of = np.repeat(np.arange(len(self.dates)), np.diff(self.starts)).tolist()
        for hive, (word, day) in enumerate(zip(sign.tolist(), seen_on.tolist(), strict=True)):
            key = (None, None) if word != word else (word, day)
            pairs.setdefault((day_of[hive], *key), []).append(hive)
        columns: dict[str, list[np.ndarray]] = {}
        origins: list = ["usual here"] * self.n
        shifts: list[set[int]] = [set() for _ in self.dates]
        for (place, word, day), found in pairs.items():
            hives = self.rows(place) if len(found) == len(self.hives[place]) else found
            said = None if word is None else self.words.facts["season.local_sign"].decode(word)
            on = None if day is None else dt.date.fromordinal(int(day))
            shift = calendar.sign_shift(said, on) if said else 0
            shifts[place].add(shift)
            for name, value in calendar.facts(self.dates[place], said, on).items():
                self._spread(columns, name, value, hives)
            if shift:
                for hive in found:
                    origins[hive] = "usual here, moved by season.local_sign"
        for name, (value, low, high) in columns.items():
            if name != "season.local_sign":
                self.put(name, value, low, high, origin=list(origins) if self.table.origins else "usual here")
        yard = [each.pop() if len(each) == 1 else 0 for each in shifts]
        return [calendar.shifted(shift) if shift else calendar for shift in yard]

    def _spread(self, columns, name, value, hives) -> None:
        """Write a value, or a value with its interval, into the rows of some hives."""
        if name not in self.words.facts or value is None:
            return
        fact = self.words.facts[name]
        parts = value if isinstance(value, tuple) else (value, value, value)
        arrays = columns.setdefault(name, [self.blank.copy() for _ in range(3)])
        for array, part in zip(arrays, parts, strict=True):
            array[hives] = float(part) if fact.kind in ("number", "integer") else fact.encode(part)

    def climate(self) -> None:
        """Traits of the climate."""
        if self.profile is None:
            return
        traits = {**self.profile.traits(), "climate.profile": self.profile.id, "climate.koppen": self.profile.koppen}
        for name, value in traits.items():
            if value is not None and name in self.words.facts:
                self.put(name, self.words.facts[name].encode(value))

    def week(self) -> None:
        """Weather of the coming week; temperatures that the file sets carry the others along."""
        columns: dict[str, list[np.ndarray]] = {}
        for place, weather in enumerate(self.weather):
            for name, value in weather.facts.items() if weather is not None else ():
                self._spread(columns, name, value, self.rows(place))
        if not columns:
            return
        usual = set(columns)
        for name in list(columns):
            if name in self.fixed:
                columns["usual:" + name] = [array.copy() for array in columns[name]]
                given = self.table.column(name).value
                for array in columns[name]:
                    np.copyto(array, given, where=self.fixed[name])
        moving = temperatures(self.words.facts)
        for name in moving:
            if name in self.fixed and name not in columns:
                columns[name] = [self.table.column(name).value.copy() for _ in range(3)]
        moved = reconcile(columns, self.fixed, self.words.facts, self.numbers.weather)
        for name, parts in columns.items():
            if name not in usual:
                continue
            words: str | list = ""
            if self.table.origins:
                words = [
                    MOVED if moved[h] and (name in moving or name == "weather.flight_days") else self.weather[0].origin
                    for h in range(self.n)
                ]
                words = [None if np.isnan(v) else w for v, w in zip(parts[0], words, strict=True)]
            self.put(name, *parts, origin=words)

    def place(self) -> None:
        """What the law of the place says."""
        for name, said in self.law.items():
            self.put(name, float(said), origin="of the place")

    # --- what is counted
    def counts(self, wanted: frozenset[str] | None = None) -> None:
        """Days since something was seen or done, and what fits; of some facts or of all."""
        today = self.history.days
        observed = [
            f
            for f in self.history.facts()
            if self.words.facts[f].comes_from == "observed" and not self.words.facts[f].shared
        ]
        for fact in [self.words.facts[name] for name in self._wanted(self.words.facts, wanted)]:
            if fact.days_of[0]:
                first = noted_first(self.history, self.words.facts[fact.days_of[0]], fact.days_of[1])
                for act in fact.days_since:  # each begins the count anew
                    latest = self.history.last_act(act)
                    first = np.where((latest > first) & (latest <= today), latest, first)
                self.put(fact.id, today - first)
                continue
            if not fact.days_since:
                continue
            latest = self.blank
            for name in observed if fact.days_since == ("observed",) else fact.days_since:
                if name in self.words.acts:
                    latest = np.fmax(latest, self.history.last_act(name))
                    continue
                value, day = self.history.latest(name)
                if self.words.facts[name].kind == "date" and self.words.facts[name].comes_from != "computed":
                    day = value
                latest = np.fmax(latest, day)
            self.put(fact.id, np.where(latest <= today, today - latest, np.nan))
        self.put(
            "hive.most_seams",
            most_seams(
                self.table.column("hive.frames").value,
                self.table.column("hive.supers").value,
                self.numbers.model.hive.super_frames,
            ),
        )

    def treatments(self) -> None:
        """The story of mite treatments; a value the file gives for the last active wins over the history."""
        for name, (value, low, high) in treatment_facts(self.history, self.numbers.model).items():
            self.put(name, value, low, high)
        days = self.history.days
        for name, value in (*course_facts(self.table, days).items(), *inside_facts(self.table, days).items()):
            self.put(name, value)

    def yard(self) -> None:
        """What concerns all hives of the yard."""
        self.put("apiary.hives", float(len(self.scenario.hives)))
        if self.some is not None:
            for name, of_days in self.some.yard.items():
                self.put(name, np.repeat(of_days, np.diff(self.starts)))
            return
        if not self.n:
            return
        hives = len(self.hives[0])
        robbed, alive = (self.table.column(YARD[name]).value.reshape(-1, hives) for name in YARD)
        anywhere = np.where((robbed == 0).all(axis=1), 0.0, np.nan)
        anywhere[(robbed == 1).any(axis=1)] = 1.0
        if not np.isnan(anywhere).all():
            self.put("apiary.robbed", np.repeat(anywhere, hives))
        dead, unseen = (np.repeat(found.mean(axis=1), hives) for found in (alive == 0, np.isnan(alive)))
        self.put("apiary.dead_share", dead, dead, dead + unseen)

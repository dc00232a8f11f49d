"""The tables of days gone by: what today's record says of each hive on them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, TypeVar

import numpy as np

from hiveweek.climate import Profile
from hiveweek.climate import weather as weather_room
from hiveweek.climate.weather import WeekWeather
from hiveweek.facts.build import YARD, build_days
from hiveweek.facts.build_noted import build_noted
from hiveweek.facts.estimates import models_for
from hiveweek.facts.scenario import Scenario
from hiveweek.facts.some import Some
from hiveweek.facts.table import Column, FactTable
from hiveweek.record.history import History
from hiveweek.vocabulary.model import Vocabulary

ROWS = 2048  # of the tables that are built together
T = TypeVar("T")


class Past:
    """Builds the tables of days before the answer's, each with the usual weather and what had been noted by then.

    Parameters
    ----------
    scenario : Scenario
    profile : Profile
        With the numbers that everything is worked out with.
    words : Vocabulary
    history : History
        All that was seen and done up to the answer's day.
    law : mapping of str to bool, optional
        As for `build`.

    Notes
    -----
    No forecast is read, and no network is asked. What was built of a day is kept, and so is what rules were found to say of it.
    """

    def __init__(
        self,
        scenario: Scenario,
        profile: Profile,
        words: Vocabulary,
        history: History,
        law: Mapping[str, bool] | None = None,
    ):
        self.scenario, self.profile, self.words, self.history = scenario, profile, words, history
        self.law = law
        self.noted = history.noted()
        self._built: dict[int, list[_Built]] = {}
        self._told: tuple[object, dict[int, Any]] = (None, {})

    def __len__(self) -> int:
        return len(self.history)

    def tables(self, days: Sequence[int], wanted: frozenset[str]) -> FactTable:
        """Return the values of some days below each other, all hives of the first day first; without their intervals.

        Parameters
        ----------
        days : sequence of int
            Day numbers.
        wanted : frozenset of str
            Facts that are asked for; others may be missing.
        """
        models = models_for(wanted, self.words)
        self._build([day for day in days if self._found(day, models) is None], models)
        parts = [found for day in days if (found := self._found(day, models)) is not None]
        rows = [(part.table, np.arange(part.first, part.first + len(self))) for part in parts]
        return self._stacked(wanted, rows, self.history.hives * len(parts))

    def noted_only(self, days: Sequence[int], wanted: frozenset[str]) -> FactTable:
        """Return the same of facts that are told by what was noted alone (`only_noted`), and of what concerns the whole yard."""
        dates = [dt.date.fromordinal(day) for day in days]
        return build_noted(self.scenario, dates, self.profile, self.words, self.history, wanted, law=self.law)

    def tables_of(self, hives: Mapping[int, Sequence[int]], wanted: frozenset[str], noted: FactTable) -> FactTable:
        """Return the values of some hives on some days, those of the first day first; what is built for it is not kept.

        Parameters
        ----------
        hives : mapping of int to sequence of int
            The hives by day number.
        noted : FactTable
            What concerns the whole yard on these days (`noted_only`).
        """
        models = models_for(wanted, self.words)
        yard = {name: noted.column(name).value[:: len(self)] for name in YARD if name in noted.columns}
        parts = []
        todo = [(place, day) for place, day in enumerate(hives) if self._found(day, models) is None]
        new: dict[int, tuple[FactTable, np.ndarray]] = {}
        for block in _blocks(todo, [len(hives[day]) for _, day in todo]):
            places, days = zip(*block, strict=True)
            some = Some([hives[day] for day in days], {name: found[list(places)] for name, found in yard.items()})
            table = self._built_together(days, models, some)
            first = 0
            for day in days:
                new[day] = table, np.arange(first, first + len(hives[day]))
                first += len(hives[day])
        for day, wanted_here in hives.items():
            found = self._found(day, models)
            parts.append(new[day] if found is None else (found.table, found.first + np.array(wanted_here)))
        return self._stacked(wanted, parts, [self.history.hives[hive] for some in hives.values() for hive in some])

    def told(self, rules: object) -> dict[int, Any]:
        """Return what has been found out by some rules, by day number, for the one who asks to add to; others begin anew."""
        if self._told[0] is not rules:
            self._told = (rules, {})
        return self._told[1]

    def _stacked(
        self, wanted: frozenset[str], parts: Sequence[tuple[FactTable, np.ndarray]], hives: list[str]
    ) -> FactTable:
        """Return rows of some tables below each other; those of one table that follow each other are taken together."""
        spans: list[tuple[FactTable, list[np.ndarray]]] = []
        for table, rows in parts:
            if spans and spans[-1][0] is table:
                spans[-1][1].append(rows)
            else:
                spans.append((table, [rows]))
        joined = [(table, _index(np.concatenate(rows))) for table, rows in spans]
        stacked = FactTable(self.words, hives, origins=False)
        for name in sorted(wanted):
            if any(name in table.columns for table, _ in joined):
                values = [table.column(name).value[rows] for table, rows in joined]
                value = values[0] if len(values) == 1 else np.concatenate(values)
                stacked.columns[name] = Column(value, value, value)
        return stacked

    def _found(self, day: int, models: frozenset[str]) -> _Built | None:
        return next((built for built in self._built.get(day, ()) if models <= built.models), None)

    def _build(self, days: Sequence[int], models: frozenset[str]) -> None:
        """Build days together, so many at once that what belongs to them stays small."""
        for block in _blocks(days, [len(self)] * len(days)):
            table = self._built_together(block, models)
            for place, day in enumerate(block):
                self._built.setdefault(day, []).append(_Built(models, table, place * len(self)))

    def _built_together(self, days: Sequence[int], models: frozenset[str], some: Some | None = None) -> FactTable:
        dates = [dt.date.fromordinal(day) for day in days]
        weather = [_usual_week(self.profile, date) for date in dates]
        return build_days(
            self.scenario,
            dates,
            self.profile,
            weather,
            self.words,
            self.history,
            law=self.law,
            models=models,
            some=some,
        )


@dataclass(frozen=True)
class _Built:
    """A day that has been built: with which models, in which table, and where it begins there."""

    models: frozenset[str]
    table: FactTable
    first: int


def _index(rows: np.ndarray) -> np.ndarray | slice:
    """Return places in a table, as a slice where they follow each other."""
    return slice(rows[0], rows[-1] + 1) if np.all(np.diff(rows) == 1) else rows


def _blocks(days: Sequence[T], rows: Sequence[int]) -> Iterator[list[T]]:
    """Yield days in their order, so many at once as have few enough rows together."""
    block: list[T] = []
    left = ROWS
    for day, count in zip(days, rows, strict=True):
        if block and count > left:
            yield block
            block, left = [], ROWS
        block.append(day)
        left -= count
    if block:
        yield block


@lru_cache(maxsize=512)
def _usual_week(profile: Profile, date: dt.date) -> WeekWeather:
    """The usual weather of a week, kept for the apiaries of one climate."""
    return weather_room.week(profile, date, offline=True, numbers=profile.numbers)

"""The tables of days gone by: what today's record says of each hive on them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from hiveweek.climate import Profile
from hiveweek.climate import weather as weather_room
from hiveweek.climate.weather import WeekWeather
from hiveweek.facts.build import build_days
from hiveweek.facts.estimates import models_for
from hiveweek.facts.scenario import Scenario
from hiveweek.facts.table import Column, FactTable
from hiveweek.record.history import History
from hiveweek.vocabulary.model import Vocabulary

ROWS = 2048  # of the tables that are built together


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
        stacked = FactTable(self.words, self.history.hives * len(parts), origins=False)
        for name in sorted(wanted):
            if any(name in part.table.columns for part in parts):
                value = self._stacked(name, parts)
                stacked.columns[name] = Column(value, value, value)
        return stacked

    def told(self, rules: object) -> dict[int, Any]:
        """Return what has been found out by some rules, by day number, for the one who asks to add to; others begin anew."""
        if self._told[0] is not rules:
            self._told = (rules, {})
        return self._told[1]

    def _stacked(self, name: str, parts: Sequence[_Built]) -> np.ndarray:
        """Return the values of a fact on several days; days that were built together are taken together."""
        spans: list[tuple[FactTable, int, int]] = []
        for part in parts:
            if spans and spans[-1][0] is part.table and spans[-1][2] == part.first:
                spans[-1] = (part.table, spans[-1][1], part.first + len(self))
            else:
                spans.append((part.table, part.first, part.first + len(self)))
        columns = [table.column(name).value[first:last] for table, first, last in spans]
        return columns[0] if len(columns) == 1 else np.concatenate(columns)

    def _found(self, day: int, models: frozenset[str]) -> _Built | None:
        return next((built for built in self._built.get(day, ()) if models <= built.models), None)

    def _build(self, days: Sequence[int], models: frozenset[str]) -> None:
        """Build days together, so many at once that what belongs to them stays small."""
        most = max(1, ROWS // max(1, len(self)))
        for begin in range(0, len(days), most):
            block = days[begin : begin + most]
            dates = [dt.date.fromordinal(day) for day in block]
            weather = [_usual_week(self.profile, date) for date in dates]
            table = build_days(
                self.scenario, dates, self.profile, weather, self.words, self.history, law=self.law, models=models
            )
            for place, day in enumerate(block):
                self._built.setdefault(day, []).append(_Built(models, table, place * len(self)))


@dataclass(frozen=True)
class _Built:
    """A day that has been built: with which models, in which table, and where it begins there."""

    models: frozenset[str]
    table: FactTable
    first: int


@lru_cache(maxsize=512)
def _usual_week(profile: Profile, date: dt.date) -> WeekWeather:
    """The usual weather of a week, kept for the apiaries of one climate."""
    return weather_room.week(profile, date, offline=True, numbers=profile.numbers)

"""The tables of days gone by: what today's record says of each hive on them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from functools import lru_cache

import numpy as np

from hiveweek.climate import Profile
from hiveweek.climate import weather as weather_room
from hiveweek.climate.weather import WeekWeather
from hiveweek.facts.build import build
from hiveweek.facts.estimates import models_for
from hiveweek.facts.scenario import Scenario
from hiveweek.facts.table import FactTable
from hiveweek.record.history import History
from hiveweek.vocabulary.model import Vocabulary


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
    No forecast is read, and no network is asked. What was built of a day is kept.
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
        self._tables: dict[int, dict[frozenset[str], FactTable]] = {}

    def __len__(self) -> int:
        return len(self.history)

    def tables(self, days: Sequence[int], wanted: frozenset[str]) -> FactTable:
        """Return the tables of some days below each other, all hives of the first day first.

        Parameters
        ----------
        days : sequence of int
            Day numbers.
        wanted : frozenset of str
            Facts that are asked for; others may be missing.
        """
        models = models_for(wanted, self.words)
        built = [self._table(day, models) for day in days]
        stacked = FactTable(self.words, self.history.hives * len(built))
        for name in sorted(wanted):
            columns = [table.column(name) for table in built]
            if any(name in table.columns for table in built):
                stacked.set(name, *(np.concatenate([getattr(c, part) for c in columns]) for part in _PARTS))
        return stacked

    def _table(self, day: int, models: frozenset[str]) -> FactTable:
        kept = self._tables.setdefault(day, {})
        found = next((table for of, table in kept.items() if models <= of), None)
        if found is None:
            date = dt.date.fromordinal(day)
            found = kept[models] = build(
                self.scenario,
                date,
                self.profile,
                _usual_week(self.profile, date),
                self.words,
                numbers=self.profile.numbers,
                law=self.law,
                history=self.history.at(day),
                models=models,
            ).table
        return found


@lru_cache(maxsize=512)
def _usual_week(profile: Profile, date: dt.date) -> WeekWeather:
    """The usual weather of a week, kept for the apiaries of one climate."""
    return weather_room.week(profile, date, offline=True, numbers=profile.numbers)


_PARTS = ("value", "low", "high")

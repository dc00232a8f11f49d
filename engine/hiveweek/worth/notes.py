"""What the keepers of many simulated hives have noted, held as arrays: a history that the facts are built from as from any other."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

import numpy as np

from hiveweek.record.history import History
from hiveweek.vocabulary.model import Vocabulary

# Facts of which more than the last note is asked for.
STORIES = (
    "mites.in_hive",
    "mites.treated_on",
    "mites.last_active",
    "mites.form",
    "mites.sample_mites",
    "mites.sample_bees",
    "mites.method",
    "mites.drop_per_day",
    "food.heft",
    "food.hive_weight_kg",
    "food.fed_kg",
    "colony.frames_of_brood",
)


class Notes(History):
    """A history of many hives that are looked at on the same days.

    Of most facts only the last note is kept. Jobs of a day were done after its looks.

    Parameters
    ----------
    words : Vocabulary
    rows : int
    """

    def __init__(self, words: Vocabulary, rows: int):
        super().__init__(words, [str(row) for row in range(rows)], 0)
        self.rows, self.everywhere = rows, np.ones(rows, dtype=bool)
        self.values: dict[str, np.ndarray] = {}
        self.noted_on: dict[str, np.ndarray] = {}
        self.told: dict[str, list[list[tuple[int, float]]]] = {name: [[] for _ in range(rows)] for name in STORIES}
        self.acted: dict[str, np.ndarray] = {}
        self.all_acts: dict[str, list[list[int]]] = {}
        self.first = 0

    def on(self, day: dt.date) -> None:
        """Go on to a day: what is noted from now on is of that day."""
        self.until = day.toordinal()
        self.first = self.first or self.until
        self.days = np.full(self.rows, float(self.until))
        self._ends = [self.until] * self.rows

    def say(self, fact: str, value: np.ndarray | float, where: np.ndarray | None = None) -> None:
        """Note values, as the vocabulary encodes them; NaN says nothing."""
        value = np.broadcast_to(np.asarray(value, dtype=float), (self.rows,))
        where = (self.everywhere if where is None else where) & ~np.isnan(value)
        if fact not in self.values:
            self.values[fact], self.noted_on[fact] = np.full((2, self.rows), np.nan)
        self.values[fact] = np.where(where, value, self.values[fact])
        self.noted_on[fact] = np.where(where, self.until, self.noted_on[fact])
        if fact in self.told:
            for row in np.flatnonzero(where).tolist():
                rows = self.told[fact][row]
                if rows and rows[-1][0] == self.until:
                    rows.pop()
                rows.append((self.until, float(value[row])))

    def unsay(self, fact: str, where: np.ndarray) -> None:
        """Say that a fact is not known again at some hives."""
        if fact in self.values:
            self.values[fact] = np.where(where, np.nan, self.values[fact])
            self.noted_on[fact] = np.where(where, np.nan, self.noted_on[fact])
            if fact in self.told:
                for row in np.flatnonzero(where).tolist():
                    self.told[fact][row] = []

    def act(self, name: str, where: np.ndarray) -> None:
        """Note an act as done."""
        self.acted[name] = np.where(where, self.until, self.acted.get(name, np.full(self.rows, np.nan)))
        lists = self.all_acts.setdefault(name, [[] for _ in range(self.rows)])
        for row in np.flatnonzero(where).tolist():
            if lists[row][-1:] != [self.until]:
                lists[row].append(self.until)

    # --- as a history
    def facts(self) -> Iterable[str]:
        """Return the facts with any entry, in the order of the vocabulary."""
        return [fact for fact in self.vocabulary.facts if fact in self.values]

    def entries(self, hive: int, fact: str) -> list[tuple[int, float]]:
        """Return the entries of one hive: of most facts the last one only."""
        if fact in self.told:
            return self.told[fact][hive]
        value = self.values.get(fact)
        if value is None or np.isnan(value[hive]):
            return []
        return [(int(self.noted_on[fact][hive]), float(value[hive]))]

    def ever(self, hive: int, fact: str) -> list[tuple[int, float]]:
        """Return the same: what is not known again is noted anew when it is."""
        return self.entries(hive, fact)

    def noted_at(self, fact: str) -> Iterable[int]:
        """Return the rows that have an entry of a fact."""
        return np.flatnonzero(~np.isnan(self.values[fact])).tolist() if fact in self.values else []

    def latest(self, fact: str) -> tuple[np.ndarray, np.ndarray]:
        """Return (value, day number) of the last entry at each hive."""
        if fact not in self.values:
            blank = np.full(self.rows, np.nan)
            return blank, blank
        return self.values[fact], self.noted_on[fact]

    def is_snapshot(self, hive: int, fact: str, day: int) -> bool:
        """Whether the entry is of the first day, when what stood there was found."""
        return day == self.first

    def acts(self, name: str) -> list[list[int]]:
        """Return the day numbers of an act at each hive."""
        return self.all_acts.setdefault(name, [[] for _ in range(self.rows)])

    def last_act(self, name: str) -> np.ndarray:
        """Return the day number of the last such act at each hive; NaN where there was none."""
        found = self.acted.get(name)
        return np.full(self.rows, np.nan) if found is None else found

    def found_later(self, name: str, hive: int, day: int) -> bool:
        """Return that nothing is found done: all is noted as it is done."""
        return False

    def done_after_look(self, name: str, hive: int, fact: str, day: int) -> bool:
        """Whether something was done on a day; jobs come after the looks."""
        return name in self.acted and self.acted[name][hive] == day

"""Dated values of each fact at each hive, and the acts that can be read from them."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from copy import copy
from itertools import pairwise

import numpy as np

from hiveweek.vocabulary.model import Vocabulary


class History:
    """What was seen, set and done at each hive, by day.

    Parameters
    ----------
    vocabulary : Vocabulary
        The facts and acts that count.
    hives : list of str
        Hive ids, one a row.
    until : int
        Day number of the answer; later entries stand in the history but are not read.

    Attributes
    ----------
    days : ndarray of float, shape (rows,)
        Day number of each row: that of the answer, or its own where one hive has several rows (``over``).
    """

    def __init__(self, vocabulary: Vocabulary, hives: list[str], until: int):
        self.vocabulary = vocabulary
        self.hives = list(hives)
        self.until = until
        self.days = np.full(len(self.hives), float(until))
        self._ends = [until] * len(self.hives)  # the same as plain numbers
        self._hive_at = list(range(len(self.hives)))  # the hive of each row, by its place among those that were noted
        self._rows_at = [[row] for row in range(len(self.hives))]  # the rows of each of those
        self._rows: dict[str, dict[int, list[tuple[int, float]]]] = {}
        self._snapshots: set[tuple[int, str, int]] = set()
        self._days: dict[str, dict[int, tuple[list[tuple[int, float]], list[int], list[int]]]] = {}
        self._read: dict[str, dict[int, list[tuple[int, float]]]] = {}
        self._last: dict[str, tuple[np.ndarray, np.ndarray]] = {}
        self._acts: dict[str, list[list[int]]] = {}
        self._found: dict[str, set[tuple[int, int]]] = {}
        self._done: dict[str, dict[int, dict[int, int]]] = {}
        self._order: dict[tuple[int, str, int], int] = {}
        self._count = 0

    def __len__(self) -> int:
        return len(self.hives)

    def add(self, hive: int, fact: str, day: int, value: float, snapshot: bool = False) -> None:
        """Add one entry.

        Parameters
        ----------
        hive : int
            Row of the hive.
        day : int
            Day number (``date.toordinal()``).
        value : float
            As the vocabulary encodes it; NaN is left out.
        snapshot : bool
            True for a state found on that day (put there at some earlier, unknown time), False for a change noted on
            its own day.
        """
        if value != value:
            return
        self._note(hive, fact, day)
        self._rows.setdefault(fact, {}).setdefault(hive, []).append((day, value))
        if snapshot:
            self._snapshots.add((hive, fact, day))

    def forget(self, hive: int, fact: str, day: int) -> None:
        """Say that a fact is not known again from a day on: what was said of it up to that day counts no longer."""
        self._note(hive, fact, day)
        self._rows.setdefault(fact, {}).setdefault(hive, []).append((day, np.nan))

    def add_act(self, hive: int, name: str, day: int) -> None:
        """Add an act that was noted as done, by the act's or the fact's name; what was added before it was seen before it."""
        self._count += 1
        self._done.setdefault(name, {}).setdefault(hive, {})[day] = self._count
        self._acts = {}

    def _note(self, hive: int, fact: str, day: int) -> None:
        self._count += 1
        self._order[hive, fact, day] = self._count
        if self._days or self._read or self._last or self._acts:
            self._days, self._read, self._last, self._acts = {}, {}, {}, {}

    def over(self, days: Sequence[int], hives: Sequence[Sequence[int]] | None = None) -> History:
        """Return this history as it stands on other days, the hives of the first day first: a row a hive and day.

        What is noted for days after that of a row is not read there. Nothing is added to it.

        Parameters
        ----------
        hives : sequence of sequence of int, optional
            The rows of the hives that are wanted of each day; all of them by default.
        """
        other = copy(self)
        wanted = [range(len(self))] * len(days) if hives is None else hives
        other._hive_at = [hive for some in wanted for hive in some]
        other.hives = [self.hives[hive] for hive in other._hive_at]
        other.until = max(days)
        other._ends = [day for day, some in zip(days, wanted, strict=True) for _ in some]
        other.days = np.array(other._ends, dtype=float)
        # Each hive's rows in the order of their days, so that those with nothing noted in between stand side by side.
        other._rows_at = [[] for _ in self.hives]
        for row in sorted(range(len(other.hives)), key=lambda row: other._ends[row]):
            other._rows_at[other._hive_at[row]].append(row)
        other._read, other._last, other._acts, other._found = {}, {}, {}, {}
        return other

    def done_after_look(self, name: str, hive: int, fact: str, day: int) -> bool:
        """Whether something was noted as done on a day after the last value of a fact that day."""
        hive = self._hive_at[hive]
        return self._done.get(name, {}).get(hive, {}).get(day, 0) > self._order.get((hive, fact, day), np.inf)

    def on_day(self, hive: int, fact: str, day: int) -> float:
        """Return the last value of a hive up to a day; NaN where there is none."""
        hive = self._hive_at[hive]
        rows = [row for row in self._rows.get(fact, {}).get(hive, []) if row[0] <= day]
        return sorted(rows, key=lambda row: row[0])[-1][1] if rows else np.nan

    def _rows_of(self, fact: str) -> dict[int, list[tuple[int, float]]]:
        """Entries by row up to its day, oldest first; of one day the entry added last. Rows with the same entries share one list."""
        if fact not in self._read:
            found = self._read[fact] = {}
            for hive, (entries, days, gone) in self._days_of(fact).items():
                before, told = -1, entries
                for row in self._rows_at[hive]:
                    last = bisect_right(days, self._ends[row])
                    if last != before:
                        # What is not known again takes what was said before it along.
                        first = next((place + 1 for place in reversed(gone) if place < last), 0)
                        before, told = last, entries[first:last]
                    if told:
                        found[row] = told
        return self._read[fact]

    def _days_of(self, fact: str) -> dict[int, tuple[list[tuple[int, float]], list[int], list[int]]]:
        """Entries by hive of all days, oldest first, their days, and the places at which nothing is known again."""
        if fact not in self._days:
            found = {}
            for hive, rows in self._rows.get(fact, {}).items():
                by_day = sorted(dict(rows).items())
                gone = [place for place, (_, value) in enumerate(by_day) if np.isnan(value)]
                found[hive] = (by_day, [day for day, _ in by_day], gone)
            self._days[fact] = found
        return self._days[fact]

    def noted(self) -> list[dict[int, set[str]]]:
        """Return, for each hive, the days on which something was noted, up to the answer's: what facts, and what acts were done."""
        found: list[dict[int, set[str]]] = [{} for _ in self.hives]
        for told in (self._rows, self._done):
            for name, by_hive in told.items():
                for hive, rows in by_hive.items():
                    for day in dict(rows):
                        if day <= self.until:
                            found[hive].setdefault(day, set()).add(name)
        return found

    def facts(self) -> Iterable[str]:
        """Return the facts with any entry, in the order of the vocabulary."""
        return [fact for fact in self.vocabulary.facts if fact in self._rows]

    def entries(self, hive: int, fact: str) -> list[tuple[int, float]]:
        """Return (day number, encoded value) of one hive up to the answer's day, oldest first."""
        return self._rows_of(fact).get(hive, [])

    def ever(self, hive: int, fact: str) -> list[tuple[int, float]]:
        """Return the same with what was said before it was not known again; NaN from the day on which it was not."""
        entries, days, _ = self._days_of(fact).get(self._hive_at[hive], ([], [], []))
        return entries[: bisect_right(days, self._ends[hive])]

    def noted_at(self, fact: str) -> Iterable[int]:
        """Return the rows that have an entry of a fact."""
        return self._rows_of(fact).keys()

    def between(self, hive: int, fact: str, first: float, last: float) -> list[tuple[int, float]]:
        """Return the entries of one hive from one day number to another, both included; none where the first is not known."""
        rows = self.entries(hive, fact)
        if not rows or not first <= rows[-1][0]:
            return []
        start = bisect_left(rows, first, key=lambda row: row[0])
        return rows[start : bisect_right(rows, last, key=lambda row: row[0])]

    def is_snapshot(self, hive: int, fact: str, day: int) -> bool:
        """Whether the entry of that day is a state found, not a change noted."""
        return (self._hive_at[hive], fact, day) in self._snapshots

    def seen_since(self, hive: int, fact: str, day: int) -> bool:
        """Whether a fact was noted again after a day, up to the answer's."""
        return any(row[0] > day for row in self.entries(hive, fact))

    def latest(self, fact: str) -> tuple[np.ndarray, np.ndarray]:
        """Return (value, day number) of the last entry at each hive, only to be read; NaN where there is none."""
        if fact not in self._last:
            values, days = np.full((2, len(self.hives)), np.nan)
            told = self._rows_of(fact)
            if told:
                rows = list(told)
                days[rows], values[rows] = np.array([entries[-1] for entries in told.values()]).T
            values.flags.writeable = days.flags.writeable = False
            self._last[fact] = values, days
        return self._last[fact]

    # --- acts
    def acts(self, name: str) -> list[list[int]]:
        """Return the day numbers of an act at each hive, oldest first.

        Parameters
        ----------
        name : str
            An act of the vocabulary (``feeding``, ``treatment``, ...).

        Raises
        ------
        KeyError
            For an act that the vocabulary does not have.
        """
        if name not in self._acts:
            days: list[frozenset[int]] = [frozenset()] * len(self.hives)
            later: set[tuple[int, int]] = set()
            for sign in self.vocabulary.acts[name]["signs"]:
                self._read_sign(sign, days, later)
            for hive, done in self._done.get(name, {}).items():
                for row in self._rows_at[hive]:
                    days[row] = days[row].union(done)
                    later -= {(row, day) for day in done}
            self._found[name] = later
            if not any(days):
                self._acts[name] = [[] for _ in days]
                return self._acts[name]
            in_order = {id(found): sorted(found) for found in days}  # rows share their sets
            told = [(in_order[id(found)], end) for found, end in zip(days, self._ends, strict=True)]
            self._acts[name] = [
                [day for day in found if day <= end] if found and found[-1] > end else found for found, end in told
            ]
        return self._acts[name]

    def found_later(self, name: str, hive: int, day: int) -> bool:
        """Whether an act dated so was only found done on that day: a look met the new state, the act itself lies before."""
        self.acts(name)
        return (hive, day) in self._found[name]

    def last_act(self, name: str) -> np.ndarray:
        """Return the day number of the last such act at each hive; NaN where there was none."""
        return np.array([days[-1] if days else np.nan for days in self.acts(name)], dtype=float)

    def _read_sign(self, sign: dict, days: list[frozenset[int]], later: set[tuple[int, int]]) -> None:
        """Add the days that one sign tells to those of each row; what rows with the same entries tell is read once."""
        kind = next(k for k in ("turns", "recorded", "falls", "changes", "on", "event", "seen") if k in sign)
        fact = self.vocabulary.facts[sign[kind]]
        wanted = {fact.encode(word) for word in sign.get("to", ())}
        dated = self._rows_of(sign["day"]) if kind == "event" else {}
        known: dict[tuple[int, int], tuple[frozenset[int], frozenset[int]]] = {}
        for row, entries in self._rows_of(fact.id).items():
            key = (id(entries), id(dated.get(row)))
            if key not in known:
                told = frozenset(self._told(kind, row, fact.id, entries, wanted, dict(dated.get(row, ()))))
                looked = kind == "turns" and {day for day in told if self.is_snapshot(row, fact.id, day)}
                known[key] = told, frozenset(looked or ())
            told, found = known[key]
            if told:
                days[row] = days[row] | told if days[row] else told
                later.update((row, day) for day in found)

    def _told(
        self,
        kind: str,
        row: int,
        fact: str,
        entries: list[tuple[int, float]],
        wanted: set[float],
        dated: dict[int, float],
    ) -> Iterable[int]:
        """Return the days of an act that a sign of one kind reads from the entries of a row."""
        if kind == "recorded":
            return (day for day, value in entries if value > 0)
        if kind == "seen":
            return (day for day, value in entries if value in wanted)
        if kind == "on":
            return (int(value) for _, value in entries)
        if kind == "falls":
            return (day for (_, before), (day, value) in pairwise(entries) if value < before)
        if kind == "changes":
            return (day for (_, before), (day, value) in pairwise(entries) if value != before)
        if kind == "turns":
            return (day for day, _ in self.turns(row, fact, wanted))
        return self._event_days(row, fact, entries, wanted, dated)

    def turns(self, hive: int, fact: str, wanted: set[float]) -> list[tuple[int, float]]:
        """Return (day, value) where a fact takes one of the wanted values and did not have that value before.

        A first entry counts only where it was noted on its own day: a state found at the first look began at an unknown
        time.
        """
        found, before = [], None
        for day, value in self.entries(hive, fact):
            first = before is None
            if value in wanted and value != before and not (first and self.is_snapshot(hive, fact, day)):
                found.append((day, value))
            before = value
        return found

    def _event_days(
        self, row: int, fact: str, entries: list[tuple[int, float]], wanted: set[float], dated: dict[int, float]
    ) -> Iterable[int]:
        """Days of an event whose word stands in one fact and whose day in another."""
        before = None
        for day, value in entries:
            if value in wanted:
                if day in dated:
                    yield int(dated[day])
                elif value != before and not self.is_snapshot(row, fact, day):
                    yield day
            before = value

"""What a record is asked for."""

from __future__ import annotations

import contextlib
import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Self

from hiveweek.record.entries import Entry, in_order
from hiveweek.record.practised import Practised, practised_of
from hiveweek.record.record import Apiary, Hive, Placement, Record, folded
from hiveweek.record.store import codec
from hiveweek.record.store.backend import Backend
from hiveweek.record.store.faults import problem

HORIZON_DAYS = 800  # entries of the last two years and more are read whole; of older ones the last words on each thing


class Reading:
    """A record that is there, and one transaction at a time on it."""

    def __init__(self, backend: Backend):
        self.backend = backend
        self._writing = False

    @property
    def where(self) -> str:
        """The record's place, without passwords."""
        return self.backend.where

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close it."""
        self.backend.close()

    @contextlib.contextmanager
    def writing(self) -> Iterator[None]:
        """Hold the record for several changes that stand or fall as one; inside it every change joins in."""
        if self._writing:
            yield
            return
        with self.backend.write():
            self._writing = True
            try:
                yield
            finally:
                self._writing = False

    def apiaries(self) -> list[Apiary]:
        """Return all apiaries by name."""
        return [codec.apiary_of(row) for row in self.backend.rows("apiaries")]

    def hives(self, apiary: str | None = None) -> list[Hive]:
        """Return all hives, or those that ever stood in an apiary, in the order in which they were added."""
        if apiary is None:
            rows, places = self.backend.rows("hives"), self.backend.rows("placements")
        else:
            rows, places = (
                self.backend.rows("hives_of", apiary=apiary),
                self.backend.rows("placements_of", apiary=apiary),
            )
        return _hives(rows, places)

    def hives_named(self, name: str) -> list[Hive]:
        """Return all hives of a name, ended ones too, in the order in which they were added."""
        called = folded(name)
        return _hives(
            self.backend.rows("hives_named", folded=called), self.backend.rows("placements_named", folded=called)
        )

    def record(self, apiaries: Iterable[str], day: dt.date) -> Record:
        """Return what bears on an answer for some apiaries on a day.

        Parameters
        ----------
        apiaries : iterable of str
            Ids.
        day : date
            Entries of the two years before it are all there; of older ones the last few words on each fact and action of each hive.
        """
        since = (day - dt.timedelta(days=HORIZON_DAYS)).isoformat()
        wanted = list(dict.fromkeys(apiaries))
        record = Record()
        found: dict[str, Entry] = {}
        with self.backend.read():
            record.apiaries = {a.id: a for a in self.apiaries()}
            for apiary in wanted:
                record.hives.update({hive.id: hive for hive in self.hives(apiary)})
                for name in ("recent_of_hives", "recent_of_apiary", "old_of_hives", "old_of_apiary"):
                    for row in self.backend.rows(name, apiary=apiary, since=since):
                        found[row["id"]] = codec.entry_of(row)
            # What was noted of a whole apiary counts for the hives that stood there then.
            before = {place.apiary for hive in record.hives.values() for place in hive.placements}
            for apiary in sorted(before - set(wanted)):
                for name in ("recent_of_apiary", "old_of_apiary"):
                    for row in self.backend.rows(name, apiary=apiary, since=since):
                        found[row["id"]] = codec.entry_of(row)
            record.corrected = self._corrected(found)
        record.entries = sorted(found.values(), key=lambda e: (e.apiary, e.sequence))
        return record

    def _corrected(self, found: Mapping[str, Entry]) -> list[Entry]:
        """Return what entries correct, and what that corrects, where it is not among them."""
        before: dict[str, Entry] = {}
        todo = [entry.replaces for entry in found.values()]
        while todo:
            key = todo.pop()
            if key is None or key in found or key in before:
                continue
            for row in self.backend.rows("entry", id=key):
                before[key] = codec.entry_of(row)
                todo.append(before[key].replaces)
        return list(before.values())

    def of_hive(self, hive: str, since: dt.date) -> list[Entry]:
        """Return the entries of one hive from a day on that count, wherever it stood, in their order."""
        rows = self.backend.rows("recent_of_hive", hive=hive, since=since.isoformat())
        found = {row["id"]: codec.entry_of(row) for row in rows}
        return in_order(found.values(), self._corrected(found))

    def everything(self) -> Record:
        """Return the whole record, with what was taken back or corrected."""
        with self.backend.read():
            return Record(
                {a.id: a for a in self.apiaries()},
                {hive.id: hive for hive in self.hives()},
                [codec.entry_of(row) for row in self.backend.rows("all_entries")],
                {row["entry"] for row in self.backend.rows("withdrawn")},
                self.practised(),
            )

    def practised(self) -> list[Practised]:
        """Return what was practised, the oldest first."""
        return [practised_of(row) for row in self.backend.rows("practised")]

    def revision(self, apiary: str) -> int:
        """Return the revision of an apiary: it grows with whatever is written for it."""
        return int(self._apiary(apiary)["revision"])

    def _apiary(self, apiary: str) -> Mapping[str, Any]:
        rows = self.backend.rows("apiary", id=apiary)
        if not rows:
            raise problem("unknown-apiary", "that apiary is not in the record")
        return rows[0]

    def hive(self, hive: str) -> Hive:
        """Return a hive by its id.

        Raises
        ------
        InputProblems
            Where it is not in the record.
        """
        rows = self.backend.rows("hive", id=hive)
        if not rows:
            raise problem("unknown-hive", "that hive is not in the record")
        places = [
            Placement(row["apiary"], dt.date.fromisoformat(row["since"]))
            for row in self.backend.rows("placements_of_hive", hive=hive)
        ]
        return codec.hive_of(rows[0], places)

    def last_note(self, apiary: str, who: str | None = None) -> str | None:
        """Return the id of the last note written for an apiary (by one person) that still stands; None where there is none."""
        if who is None:
            rows = self.backend.rows("last_note", apiary=apiary)
            return str(rows[0]["note"]) if rows else None
        for row in self.backend.rows("last_entries", apiary=apiary):
            if folded(codec.entry_of(row).who) == folded(who):
                return str(row["note"])
        return None

    def numbered(self, apiary: str, number: int) -> str | None:
        """Return the id of the entry of a number in its apiary; None where there is none."""
        rows = self.backend.rows("numbered", apiary=apiary, sequence=number)
        return str(rows[0]["id"]) if rows else None

    def has(self, entry: str) -> bool:
        """Whether an entry of this id was ever written."""
        return bool(self.backend.rows("has_entry", id=entry))

    def withdrawn(self) -> set[str]:
        """Return the ids of all entries that were taken back."""
        return {row["entry"] for row in self.backend.rows("withdrawn")}

    def of_note(self, note: str) -> list[str]:
        """Return the ids of the entries that were written in one go."""
        return [row["id"] for row in self.backend.rows("of_note", note=note)]

    def written_as(self, note: str) -> list[Entry]:
        """Return the entries that were written in one go, also those that were taken back."""
        return [entry for entry in map(self.entry, self.of_note(note)) if entry is not None]

    def entry(self, entry: str) -> Entry | None:
        """Return an entry by its id; None where there is none."""
        rows = self.backend.rows("entry", id=entry)
        return codec.entry_of(rows[0]) if rows else None


def _hives(rows: Iterable[Mapping[str, Any]], places: Iterable[Mapping[str, Any]]) -> list[Hive]:
    """Return the hives of some rows, with the places where they stood."""
    stood: dict[str, list[Placement]] = {}
    for row in places:
        stood.setdefault(row["hive"], []).append(Placement(row["apiary"], dt.date.fromisoformat(row["since"])))
    return [codec.hive_of(row, stood[row["id"]]) for row in rows]

"""Entries of a record: written, taken back, forgotten, restored."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterable, Mapping, Sequence

from hiveweek.record.entries import Entry
from hiveweek.record.practised import Practised, row_of
from hiveweek.record.record import Record
from hiveweek.record.store import codec
from hiveweek.record.store.faults import problem, writable
from hiveweek.record.store.placing import Placing


class Writing(Placing):
    """Writes entries; all of one call or none."""

    def add(self, entries: Sequence[Entry]) -> list[Entry]:
        """Write entries, all or none; return them with their numbers.

        An entry that is there already, word for word, is kept once.

        Raises
        ------
        InputProblems
            Other words under an id that is there; an apiary, hive or corrected entry that is not.
        """
        kept: dict[str, Entry] = {}
        for entry in entries:
            writable(codec.texts(entry))
        with self.writing():
            by_apiary: dict[str, list[Entry]] = {}
            for entry in entries:
                by_apiary.setdefault(entry.apiary, []).append(entry)
            # In one order everywhere, so that two writers never wait for each other.
            for apiary in sorted(by_apiary):
                rows = self.backend.rows("lock_apiary", id=apiary)
                if not rows:
                    raise problem("unknown-apiary", "that apiary is not in the record")
                number = int(rows[0]["revision"])
                for entry in by_apiary[apiary]:
                    known = self._known(entry, kept)
                    if known is not None:
                        kept[entry.id] = known
                        continue
                    number += 1
                    kept[entry.id] = self._write(dataclasses.replace(entry, sequence=number))
                self.backend.run("set_revision", [{"key": apiary, "revision": number}])
        return [kept[entry.id] for entry in entries]

    def add_practised(self, sittings: Iterable[Practised]) -> int:
        """Write what was practised; what is there already stays as it is. Return how many are new."""
        with self.writing():
            here = {one.id for one in self.practised()}
            new = {one.id: one for one in sittings if one.id not in here}
            if new:
                self.backend.run("add_practised", [row_of(one) for one in new.values()])
        return len(new)

    def restore(self, record: Record) -> dict[str, int]:
        """Take in a whole record, as it was exported: what is there already stays, what is new is added.

        An apiary that is new here keeps the numbers of its entries. All or nothing.

        Returns
        -------
        dict
            How many apiaries, hives, entries, withdrawals and sittings of practice are new.

        Raises
        ------
        InputProblems
            Names that are taken, entries whose id is there with other words, references to nothing.
        """
        for entry in record.entries:
            writable(codec.texts(entry))
        new = {"apiaries": 0, "hives": 0, "entries": 0, "withdrawn": 0, "practised": 0}
        with self.writing():
            here = {apiary.id for apiary in self.apiaries()}
            for apiary in record.apiaries.values():
                if apiary.id not in here:
                    self.add_apiary(apiary)
                    new["apiaries"] += 1
            hives = {hive.id for hive in self.hives()}
            for hive in record.hives.values():
                if hive.id not in hives:
                    self.add_hive(hive)
                    new["hives"] += 1
            number = {key: 0 if key not in here else self.revision(key) for key in record.apiaries}
            for entry in _replaced_first(record.entries):
                if self._known(entry, {}) is None:
                    fresh = entry.apiary not in here and entry.sequence > 0
                    number[entry.apiary] = (
                        max(number[entry.apiary], entry.sequence) if fresh else number[entry.apiary] + 1
                    )
                    kept = entry.sequence if fresh else number[entry.apiary]
                    self._write(dataclasses.replace(entry, sequence=kept))
                    new["entries"] += 1
            for key, last in number.items():
                self.backend.run("set_revision", [{"key": key, "revision": max(last, self.revision(key))}])
            new["withdrawn"] = len(self.withdraw(sorted(record.withdrawn - self.withdrawn())))
            new["practised"] = self.add_practised(record.practised)
        return new

    def _known(self, entry: Entry, kept: Mapping[str, Entry]) -> Entry | None:
        rows = self.backend.rows("entry", id=entry.id)
        if not rows:
            return None
        if rows[0]["digest"] != codec.digest(entry):
            raise problem(
                "entry-differs", "an entry of this id is there already and says something else; nothing was written"
            )
        return kept.get(entry.id) or codec.entry_of(rows[0])

    def _write(self, entry: Entry) -> Entry:
        if entry.hive is not None and not self.backend.rows("hive", id=entry.hive):
            raise problem("unknown-hive", "that hive is not in the record")
        if entry.replaces is not None:
            if not self.backend.rows("entry", id=entry.replaces):
                raise problem("unknown-entry", "the entry to correct is not in the record")
            self.backend.run("untell", [{"key": entry.replaces}])
        self.backend.run("add_entry", [codec.entry_row(entry)])
        self._tell(entry)
        return entry

    def _tell(self, entry: Entry) -> None:
        rows = codec.told_rows(entry)
        if rows:
            self.backend.run("tell", rows)

    def withdraw(self, entries: Sequence[str], who: str = "", now: dt.datetime | None = None) -> list[Entry]:
        """Take entries back, all or none; what they corrected counts again. Return those that counted until now.

        Raises
        ------
        InputProblems
            For an entry that is not there.
        """
        at = (now or dt.datetime.now(dt.UTC)).isoformat()
        taken: list[Entry] = []
        with self.writing():
            for key in entries:
                entry = self.entry(key)
                if entry is None:
                    raise problem("unknown-entry", "that entry is not in the record")
                if self.backend.rows("is_withdrawn", entry=key):
                    continue
                self.backend.run("withdraw", [{"entry": key, "at": at, "who": who}])
                self.backend.run("untell", [{"key": key}])
                taken.append(entry)
            for entry in taken:
                self._free_corrected(entry)
            for apiary in sorted({entry.apiary for entry in taken}):
                rows = self.backend.rows("lock_apiary", id=apiary)
                self.backend.run("set_revision", [{"key": apiary, "revision": int(rows[0]["revision"]) + 1}])
        return taken

    def _free_corrected(self, entry: Entry) -> None:
        """Let what a withdrawn entry corrected tell again, unless something else holds it back."""
        key = entry.replaces
        if key is None or self.backend.rows("is_withdrawn", entry=key) or self.backend.rows("correcting", replaces=key):
            return
        corrected = self.entry(key)
        if corrected is not None:
            self.backend.run("untell", [{"key": key}])
            self._tell(corrected)

    def forget(self, entries: Sequence[str]) -> int:
        """Blank what names or shows people in entries (text, who, reason, photos); facts of the hive stay. Return how many."""
        with self.writing():
            for key in entries:
                entry = self.entry(key)
                if entry is None:
                    raise problem("unknown-entry", "that entry is not in the record")
                blank = dataclasses.replace(entry, text="", who="", reason="", files=())
                row = codec.entry_row(blank)
                self.backend.run("forget_entry", [{"key": key, "body": row["body"], "digest": row["digest"]}])
                self.backend.run("forget_withdrawal", [{"key": key}])
        return len(entries)

    def forget_practised(self, sittings: Iterable[str]) -> None:
        """Delete sittings of practice, which tell of nothing but a learner."""
        with self.writing():
            self.backend.run("forget_practised", [{"key": key} for key in sittings])


def _replaced_first(entries: Iterable[Entry]) -> list[Entry]:
    """Return entries by number, but none before the one that it corrects."""
    by_id = {entry.id: entry for entry in sorted(entries, key=lambda e: (e.apiary, e.sequence))}
    placed: dict[str, Entry] = {}
    for entry in by_id.values():
        chain: list[Entry] = []
        one = entry
        while one.id not in placed and one not in chain:
            chain.append(one)
            one = by_id.get(one.replaces or "", one)
        placed.update({link.id: link for link in reversed(chain)})
    return list(placed.values())

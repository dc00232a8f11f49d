"""The record on disk or on a server: what may be read and written, and what always holds."""

from __future__ import annotations

import contextlib
import dataclasses
import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Protocol

from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.record.entries import Entry
from hiveweek.record.record import Apiary, Hive, Placement, Record, folded
from hiveweek.record.store import codec

HORIZON_DAYS = 800  # entries of the last two years and more are read whole; of older ones the last words on each thing


class Backend(Protocol):
    """What a database must do for the store."""

    where: str

    def rows(self, name: str, **values: Any) -> Sequence[Mapping[str, Any]]:
        """Return the rows of a statement."""

    def run(self, name: str, many: Sequence[Mapping[str, Any]]) -> None:
        """Run a statement once for each mapping of values."""

    def write(self) -> contextlib.AbstractContextManager[None]:
        """Hold the record for writing."""

    def read(self) -> contextlib.AbstractContextManager[None]:
        """Hold one state of the record for several reads."""

    def copy(self, target: Path) -> None:
        """Copy the whole record into a new file."""

    def faults(self) -> list[str]:
        """Return what the database itself finds wrong."""

    def close(self) -> None:
        """Close it."""


def open_store(where: Path | str) -> Store:
    """Open a record.

    Parameters
    ----------
    where : path or str
        A file (made where there is none), or a database URL.

    Raises
    ------
    StoreFault
        In one line: newer than this program, damaged, not to be reached. Nothing is changed.
    """
    if "://" in str(where):
        from hiveweek.record.store.server import ServerBackend

        return Store(ServerBackend(str(where)))
    from hiveweek.record.store.sqlite import SqliteBackend

    return Store(SqliteBackend(Path(where)))


def _problem(code: str, message: str) -> InputProblems:
    return InputProblems([Problem("", 0, 0, code, message)])


def _writable(texts: Iterable[str]) -> None:
    """Refuse what one of the databases cannot keep, so that every record can go into each."""
    for text in texts:
        if "\0" in text or (not text.isascii() and any("\ud800" <= letter <= "\udfff" for letter in text)):
            raise _problem("bad-text", f"{text[:40]!r} holds a letter that no record can keep")


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


class Store:
    """A record that lasts.

    Writing is whole or not at all. An entry sent twice is kept once; the same id with other words is refused.
    """

    def __init__(self, backend: Backend):
        self.backend = backend
        self._writing = False

    @property
    def where(self) -> str:
        """The record's place, without passwords."""
        return self.backend.where

    def __enter__(self) -> Store:
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

    # --- reading
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
        stood: dict[str, list[Placement]] = {}
        for row in places:
            stood.setdefault(row["hive"], []).append(Placement(row["apiary"], dt.date.fromisoformat(row["since"])))
        return [codec.hive_of(row, stood[row["id"]]) for row in rows]

    def hives_named(self, name: str) -> list[Hive]:
        """Return all hives of a name, ended ones too, in the order in which they were added."""
        return [self.hive(row["id"]) for row in self.backend.rows("hives_named", folded=folded(name))]

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
        record.entries = sorted(found.values(), key=lambda e: (e.apiary, e.sequence))
        return record

    def everything(self) -> Record:
        """Return the whole record, with what was taken back or corrected."""
        with self.backend.read():
            return Record(
                {a.id: a for a in self.apiaries()},
                {hive.id: hive for hive in self.hives()},
                [codec.entry_of(row) for row in self.backend.rows("all_entries")],
                {row["entry"] for row in self.backend.rows("withdrawn")},
            )

    def revision(self, apiary: str) -> int:
        """Return the revision of an apiary: it grows with whatever is written for it."""
        return int(self._apiary(apiary)["revision"])

    def _apiary(self, apiary: str) -> Mapping[str, Any]:
        rows = self.backend.rows("apiary", id=apiary)
        if not rows:
            raise _problem("unknown-apiary", "that apiary is not in the record")
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
            raise _problem("unknown-hive", "that hive is not in the record")
        places = [
            Placement(row["apiary"], dt.date.fromisoformat(row["since"]))
            for row in self.backend.rows("placements_of_hive", hive=hive)
        ]
        return codec.hive_of(rows[0], places)

    # --- apiaries and hives
    @contextlib.contextmanager
    def _changing(self, apiary: str, revision: int | None = None) -> Iterator[int]:
        """Hold an apiary for a change; give the new revision, which stands when the change does."""
        with self.writing():
            rows = self.backend.rows("lock_apiary", id=apiary)
            if not rows:
                raise _problem("unknown-apiary", "that apiary is not in the record")
            now = int(rows[0]["revision"])
            if revision is not None and revision != now:
                raise _problem(
                    "changed-meanwhile", "somebody else has changed this apiary meanwhile; look again, then repeat it"
                )
            yield now + 1
            self.backend.run("set_revision", [{"key": apiary, "revision": now + 1}])

    def add_apiary(self, apiary: Apiary) -> None:
        """Add an apiary; its name must be new."""
        _writable((apiary.name, apiary.note))
        with self.writing():
            for other in self.apiaries():
                if folded(other.name) == folded(apiary.name):
                    raise _problem("name-taken", f"there is an apiary '{other.name}' already")
            self.backend.run("add_apiary", [codec.apiary_row(apiary, 0)])

    def change_apiary(self, apiary: Apiary, revision: int | None = None) -> None:
        """Change what an apiary is called, where it lies, its climate, law or rules.

        Parameters
        ----------
        revision : int, optional
            The revision that the change was made on; another one now is refused.
        """
        _writable((apiary.name, apiary.note))
        with self._changing(apiary.id, revision) as number:
            for other in self.apiaries():
                if other.id != apiary.id and folded(other.name) == folded(apiary.name):
                    raise _problem("name-taken", f"there is an apiary '{other.name}' already")
            row = codec.apiary_row(apiary, number)
            row["key"] = row.pop("id")
            self.backend.run("change_apiary", [row])

    def _free_name(self, apiary: str, name: str, day: dt.date, besides: str = "") -> None:
        for other in self.hives(apiary):
            alive = other.ended is None and other.placements[-1].apiary == apiary
            if other.id != besides and alive and folded(other.name) == folded(name):
                raise _problem("name-taken", f"a hive '{other.name}' stands there already")

    def add_hive(self, hive: Hive) -> None:
        """Add a hive to the apiary of its first placement; its name must be free among the living there."""
        _writable((hive.name, hive.ended_because))
        apiary = hive.placements[-1].apiary
        with self._changing(apiary):
            if hive.ended is None:
                self._free_name(apiary, hive.name, hive.placements[-1].since)
            last = self.backend.rows("last_added")
            number = next(iter(dict(last[0]).values())) if last else None
            self.backend.run(
                "add_hive",
                [
                    {
                        "id": hive.id,
                        "name": hive.name,
                        "folded": folded(hive.name),
                        "added": 1 if number is None else int(number) + 1,
                        "ended": hive.ended.isoformat() if hive.ended else None,
                        "ended_because": hive.ended_because,
                    }
                ],
            )
            self.backend.run(
                "add_placement",
                [{"hive": hive.id, "since": p.since.isoformat(), "apiary": p.apiary} for p in hive.placements],
            )

    def rename_hive(self, hive: str, name: str) -> None:
        """Give a hive another name."""
        _writable((name,))
        found = self.hive(hive)
        apiary = found.placements[-1].apiary
        with self._changing(apiary):
            self._free_name(apiary, name, found.placements[-1].since, hive)
            self.backend.run("rename_hive", [{"key": hive, "name": name, "folded": folded(name)}])

    def place(self, hive: str, placement: Placement) -> None:
        """Note that a hive stands in another apiary from a day on."""
        found = self.hive(hive)
        if placement.since <= found.placements[-1].since:
            raise _problem(
                "wrong-order",
                f"'{found.name}' stands where it is since {found.placements[-1].since}; a move comes later",
            )
        with self._changing(placement.apiary):
            self._free_name(placement.apiary, found.name, placement.since, hive)
            self.backend.run(
                "add_placement", [{"hive": hive, "since": placement.since.isoformat(), "apiary": placement.apiary}]
            )

    def unplace(self, hive: str) -> None:
        """Take back the last move of a hive; its first placement stays."""
        found = self.hive(hive)
        if len(found.placements) < 2:
            raise _problem("no-move", f"'{found.name}' stands where it was added; there is no move to take back")
        last, before = found.placements[-1], found.placements[-2]
        with self._changing(last.apiary):
            self._free_name(before.apiary, found.name, before.since, hive)
            self.backend.run("remove_placement", [{"key": hive, "day": last.since.isoformat()}])

    def forget_place(self, apiary: str) -> None:
        """Blank where an apiary lies and what is noted of it, and why its hives ended."""
        with self.writing():
            place = codec.apiary_of(self._apiary(apiary))
            self.change_apiary(dataclasses.replace(place, lat=None, lon=None, elev_m=None, note=""))
            for hive in self.hives(apiary):
                if hive.ended is not None and hive.ended_because:
                    self.end_hive(hive.id, hive.ended)

    def end_hive(self, hive: str, day: dt.date | None, because: str = "") -> None:
        """Note that a hive is no longer kept from a day on; None takes that back."""
        _writable((because,))
        found = self.hive(hive)
        apiary = found.placements[-1].apiary
        with self._changing(apiary):
            if day is None:
                self._free_name(apiary, found.name, found.placements[-1].since, hive)
            self.backend.run(
                "end_hive", [{"key": hive, "ended": day.isoformat() if day else None, "ended_because": because}]
            )

    # --- entries
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
            _writable(codec.texts(entry))
        with self.writing():
            by_apiary: dict[str, list[Entry]] = {}
            for entry in entries:
                by_apiary.setdefault(entry.apiary, []).append(entry)
            # In one order everywhere, so that two writers never wait for each other.
            for apiary in sorted(by_apiary):
                rows = self.backend.rows("lock_apiary", id=apiary)
                if not rows:
                    raise _problem("unknown-apiary", "that apiary is not in the record")
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

    def restore(self, record: Record) -> dict[str, int]:
        """Take in a whole record, as it was exported: what is there already stays, what is new is added.

        An apiary that is new here keeps the numbers of its entries. All or nothing.

        Returns
        -------
        dict
            How many apiaries, hives, entries and withdrawals are new.

        Raises
        ------
        InputProblems
            Names that are taken, entries whose id is there with other words, references to nothing.
        """
        for entry in record.entries:
            _writable(codec.texts(entry))
        new = {"apiaries": 0, "hives": 0, "entries": 0, "withdrawn": 0}
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
        return new

    def _known(self, entry: Entry, kept: Mapping[str, Entry]) -> Entry | None:
        rows = self.backend.rows("entry", id=entry.id)
        if not rows:
            return None
        if rows[0]["digest"] != codec.digest(entry):
            raise _problem(
                "entry-differs", "an entry of this id is there already and says something else; nothing was written"
            )
        return kept.get(entry.id) or codec.entry_of(rows[0])

    def _write(self, entry: Entry) -> Entry:
        if entry.hive is not None and not self.backend.rows("hive", id=entry.hive):
            raise _problem("unknown-hive", "that hive is not in the record")
        if entry.replaces is not None:
            if not self.backend.rows("entry", id=entry.replaces):
                raise _problem("unknown-entry", "the entry to correct is not in the record")
            self.backend.run("untell", [{"key": entry.replaces}])
        self.backend.run("add_entry", [codec.entry_row(entry)])
        self._tell(entry)
        return entry

    def _tell(self, entry: Entry) -> None:
        rows = [
            {"hive": entry.hive or entry.apiary, "what": what, "date": entry.date.isoformat(), "entry": entry.id}
            for what in codec.tellings(entry)
        ]
        if rows:
            self.backend.run("tell", rows)

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

    def entry(self, entry: str) -> Entry | None:
        """Return an entry by its id; None where there is none."""
        rows = self.backend.rows("entry", id=entry)
        return codec.entry_of(rows[0]) if rows else None

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
                    raise _problem("unknown-entry", "that entry is not in the record")
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
                    raise _problem("unknown-entry", "that entry is not in the record")
                blank = dataclasses.replace(entry, text="", who="", reason="", files=())
                row = codec.entry_row(blank)
                self.backend.run("forget_entry", [{"key": key, "body": row["body"], "digest": row["digest"]}])
                self.backend.run("forget_withdrawal", [{"key": key}])
        return len(entries)

    # --- soundness
    def copy(self, target: Path) -> None:
        """Copy the whole record into a new file, as it stands at one moment.

        Raises
        ------
        StoreFault
            On a server, which keeps copies by its own means.
        """
        self.backend.copy(target)

    def check(self) -> list[str]:
        """Return what is wrong with the record, in words; nothing where all is well.

        Looks at the database itself, at every entry's fingerprint, at numbers without gaps upwards of a revision, and at the index of
        what was told, which is compared with the live entries.
        """
        wrong = list(self.backend.faults())
        if wrong:
            return wrong
        record = self.everything()
        for row in self.backend.rows("all_entries"):
            if codec.digest(codec.entry_of(row)) != row["digest"]:
                wrong.append(f"entry {row['id']} is not what was written")
        highest: dict[str, int] = {}
        for entry in record.entries:
            highest[entry.apiary] = max(highest.get(entry.apiary, 0), entry.sequence)
        for apiary, number in highest.items():
            if number > self.revision(apiary):
                wrong.append(
                    f"apiary {record.apiaries[apiary].name}: entry {number} is newer than the apiary's revision"
                )
        wanted = {
            (e.hive or e.apiary, what, e.date.isoformat(), e.id) for e in record.live() for what in codec.tellings(e)
        }
        found = {(row["hive"], row["what"], row["date"], row["entry"]) for row in self.backend.rows("all_told")}
        if wanted != found:
            wrong.append("the index of what was told does not fit the entries; 'record check --mend' makes it anew")
        return wrong

    def mend(self) -> None:
        """Make the index of what was told anew from the live entries."""
        record = self.everything()
        with self.writing():
            self.backend.run("untell_all", [{}])
            for entry in record.live():
                self._tell(entry)


def unknown_name(what: str, name: str, known: Iterable[str]) -> InputProblems:
    """Return the complaint about a name that is not in the record."""
    names = list(known)
    return _problem(
        f"unknown-{what}", f"no {what} '{name}'; there are {', '.join(names) or 'none'}{nearest(name, names)}"
    )

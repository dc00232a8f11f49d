"""One entry of the record. Entries are never changed, only superseded."""

from __future__ import annotations

import datetime as dt
import sys
import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from operator import attrgetter, itemgetter
from types import MappingProxyType

Plain = float | int | bool | str | dt.date | None
BRING = "bring"  # the detail of a remark that holds a thing to bring next time
_NOTHING: Mapping[str, Plain] = MappingProxyType({})


class Kind(StrEnum):
    """What an entry says, in the order in which the entries of one note count."""

    SEEN = "seen"
    SET = "set"
    DONE = "done"
    ANSWERED = "answered"
    REMARK = "remark"


class Answer(StrEnum):
    """What a keeper answers to an advice."""

    LATER = "later"
    NOT_HERE = "not_here"


_ORDER = {kind: number for number, kind in enumerate(Kind)}
_LATE = (Kind.DONE, Kind.ANSWERED, Kind.REMARK)
_WRITTEN = attrgetter("date", "sequence", "recorded_at", "id")


def new_id() -> str:
    """Return an id for an entry, a hive or an apiary; made where it is written, so that sending it twice keeps one."""
    return str(uuid.uuid4())


@dataclass(frozen=True, slots=True)
class Entry:
    """One dated entry.

    Attributes
    ----------
    id : str
        A UUID made by whoever wrote it.
    kind : Kind
    apiary : str
        Id of the apiary it was written for.
    hive : str or None
        Id of the hive; None for what concerns the whole apiary.
    date : date
        Local day of the apiary.
    time : time or None
        Local time, where given.
    until_date : date or None
        Last day on which it may have been ("about 5 August"); None = on ``date`` itself.
    facts : mapping of str to plain value
        For ``seen`` and ``set``: fact id to value; None says that it is not known again.
    since : date or None
        For ``set``: the day from which it holds, where that is another than ``date``.
    found : bool
        The state was met at a look, brought about at an unknown earlier time; False = a change noted on its own day.
    action : str or None
        For ``done`` and ``answered``.
    details : mapping of str to plain value
        For ``done``: amount, active, form, partner and what else the action asks for.
    answer : Answer or None
        For ``answered``.
    until : date or None
        For ``answered`` later: the day until which the advice is put away.
    reason : str
        For ``answered``: why.
    rule, rules_hash : str
        For ``done`` and ``answered``: the rule that asked for it and the fingerprint of the rules then; empty where nobody asked.
    text : str
        As it was typed.
    files : tuple of str
        Names of photo files.
    who : str
        Who wrote it; empty where not given.
    source : str
        typed, file, sheet or page.
    note : str
        Id shared by the entries that were written in one go; undo takes all of them back.
    recorded_at : datetime
        When it was written, UTC.
    sequence : int
        Number within its apiary, given by the store; 0 before.
    replaces : str or None
        Id of the entry that this one corrects.
    """

    id: str
    kind: Kind
    apiary: str
    hive: str | None
    date: dt.date
    time: dt.time | None = None
    until_date: dt.date | None = None
    facts: Mapping[str, Plain] = field(default_factory=lambda: _NOTHING)
    since: dt.date | None = None
    found: bool = False
    action: str | None = None
    details: Mapping[str, Plain] = field(default_factory=lambda: _NOTHING)
    answer: Answer | None = None
    until: dt.date | None = None
    reason: str = ""
    rule: str = ""
    rules_hash: str = ""
    text: str = ""
    files: tuple[str, ...] = ()
    who: str = ""
    source: str = "typed"
    note: str = ""
    recorded_at: dt.datetime = dt.datetime(1, 1, 1, tzinfo=dt.UTC)
    sequence: int = 0
    replaces: str | None = None


def in_order(entries: Iterable[Entry], corrected: Iterable[Entry] = ()) -> list[Entry]:
    """Return entries in the order in which they count.

    Parameters
    ----------
    entries : iterable of Entry
    corrected : iterable of Entry, optional
        What they correct: a correction takes the place of what it corrects. Where that is not at hand, what was seen by it counts
        from the morning and what was done by it from the evening.

    Notes
    -----
    By day, and within a day as they were entered; inside one note what was seen and set comes before what was done, so that 8 kg
    seen and 4 kg fed in one note make 12, and 12 kg noted after the feed are 12. What has a time stands before what is later; what
    has none, after what was entered before it of the same hive.
    """
    written = sorted(entries, key=_WRITTEN)
    corrections = any(entry.replaces is not None for entry in written)
    known = {entry.id: entry for entry in (*corrected, *written)} if corrections else {}
    notes: dict[tuple[dt.date, str], int] = {}
    clock: dict[tuple[dt.date, str | None], dt.time] = {}
    placed = []
    for entry in written:
        first = entry if entry.replaces is None else _corrected(entry, known)
        note = notes.setdefault((entry.date, first.note or first.id), first.sequence)
        where = (entry.date, entry.hive)
        if entry.time is not None:
            time = entry.time
            clock[where] = max(time, clock.get(where, time))
        elif first.replaces is not None:
            late = first.kind in _LATE
            time, note = (dt.time.max, sys.maxsize) if late else (dt.time.min, -1)
        else:
            time = clock.get(where, dt.time.min)
        placed.append(
            ((entry.date, time, note, _ORDER[entry.kind], entry.sequence, entry.recorded_at, entry.id), entry)
        )
    placed.sort(key=itemgetter(0))
    return [entry for _, entry in placed]


def _corrected(entry: Entry, known: Mapping[str, Entry]) -> Entry:
    """The entry that a chain of corrections began with, as far as it is at hand and of the same day."""
    first, seen = entry, {entry.id}
    while first.replaces in known and first.replaces not in seen:
        before = known[str(first.replaces)]
        if before.date != entry.date:
            break
        seen.add(before.id)
        first = before
    return first

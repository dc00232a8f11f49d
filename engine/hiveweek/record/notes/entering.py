"""What was read from a note, as entries of the record."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from hiveweek.record.entries import BRING, Entry, Kind, Plain, new_id
from hiveweek.record.notes.found import Asked, Left, Read, Said
from hiveweek.record.notes.grammar import Reading
from hiveweek.vocabulary.model import Vocabulary


def parted(facts: Mapping[str, Plain], words: Vocabulary) -> Iterator[tuple[Kind, bool, dict[str, Plain]]]:
    """Part facts as entries hold them: what was seen from what was set, what is of a hive from what the whole apiary shares."""
    for kind in (Kind.SEEN, Kind.SET):
        for shared in (False, True):
            some = {
                name: value
                for name, value in facts.items()
                if (words.facts[name].comes_from == "observed") == (kind is Kind.SEEN)
                and words.facts[name].shared == shared
            }
            if some:
                yield kind, shared, some


def chosen(asked: Asked, reading: Reading, words: Vocabulary) -> list[Said]:
    """Return what an answer to a question gives."""
    until = asked.day.last if asked.day.last != asked.day.first else None
    whole = {
        fact: int(value) if words.facts[fact].kind == "integer" and isinstance(value, float) else value
        for fact, value in reading.facts.items()
    }
    found = [
        Said(kind, asked.day.first, asked.text, until, facts, shared=shared)
        for kind, shared, facts in parted(whole, words)
    ]
    for action, details in reading.acts:
        found.append(Said(Kind.DONE, asked.day.first, asked.text, until, action=action, details=details))
    return found


def answered(read: Read, words: Vocabulary, pick: Callable[[int, Asked], int | Left | None]) -> Read:
    """Return a note with its questions answered.

    Parameters
    ----------
    read : Read
    words : Vocabulary
    pick : callable
        Called with the place of each question and the question: gives the number of a reading, what is kept as a remark in its
        place, or None to leave it open.
    """
    entries, left, still = list(read.entries), list(read.left), []
    for place, asked in enumerate(read.asked):
        said = pick(place, asked)
        if said is None:
            still.append(asked)
        elif isinstance(said, Left):
            left.append(said)
        else:
            entries += chosen(asked, asked.readings[said], words)
    return dataclasses.replace(read, entries=tuple(entries), asked=tuple(still), left=tuple(left))


def entries_of(
    read: Read,
    day: dt.date,
    words: Vocabulary,
    *,
    apiary: str,
    hive: str,
    hives: Mapping[str, str],
    note: str,
    who: str = "",
    now: dt.datetime,
    replaces: str | None = None,
) -> list[Entry]:
    """Return the entries of a note about one hive.

    Parameters
    ----------
    read : Read
    day : date
        Of the note, for what is kept as a remark.
    words : Vocabulary
    apiary, hive : str
        Ids.
    hives : mapping of name to id
        For details that name another hive.
    note : str
        Id that the entries of one note share.
    who : str
    now : datetime
    replaces : str, optional
        Id of the entry that is corrected.
    """
    common: dict[str, Any] = {"who": who, "note": note, "recorded_at": now, "replaces": replaces}
    found = []
    for said in read.entries:
        details = {name: _detail(name, value, words, hives) for name, value in said.details.items()}
        found.append(
            Entry(
                new_id(),
                said.kind,
                apiary,
                None if said.shared else hive,
                said.date,
                until_date=said.until_date,
                facts=said.facts,
                action=said.action,
                details=details,
                text=said.text,
                **common,
            )
        )
    if read.remark:
        found.append(Entry(new_id(), Kind.REMARK, apiary, hive, day, text=read.remark, **common))
    for one in read.bring:
        found.append(
            Entry(new_id(), Kind.REMARK, apiary, hive, day, details={BRING: one.thing}, text=one.text, **common)
        )
    return found


def once(entries: Sequence[Entry]) -> list[Entry]:
    """Leave what is of the whole apiary once, where a note is of several hives."""
    seen: dict[tuple, Entry] = {}
    for entry in entries:
        key = (entry.apiary, entry.date, tuple(entry.facts.items())) if entry.hive is None else (entry.id,)
        seen.setdefault(key, entry)
    return list(seen.values())


def _detail(name: str, value: Plain, words: Vocabulary, hives: Mapping[str, str]) -> Plain:
    kind = words.details[name].kind
    if kind == "hive":
        return hives.get(str(value), value)
    return int(value) if isinstance(value, float) and value.is_integer() else value

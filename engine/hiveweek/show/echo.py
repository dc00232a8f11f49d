"""What was understood of a note, said back in the words and ids that it is kept in."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from hiveweek.record import Entry
from hiveweek.record.entries import Plain
from hiveweek.record.notes.found import Read
from hiveweek.record.notes.grammar import Reading
from hiveweek.record.values import UNKNOWN_AGAIN
from hiveweek.texts.english import MESSAGES
from hiveweek.texts.parts import ABSOLUTE
from hiveweek.texts.speaker import says
from hiveweek.texts.units import number, to_imperial
from hiveweek.vocabulary.model import Vocabulary


def typed(value: Any) -> str:
    """Return a value as it is typed."""
    if value is None:
        return UNKNOWN_AGAIN
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)


def label_of(reading: Reading) -> str:
    """Return what one reading of a phrase means."""
    told = [f"{fact} {typed(value)}" for fact, value in reading.facts.items()]
    told += [
        " ".join([action, *(f"{key} {typed(value)}" for key, value in details.items())])
        for action, details in reading.acts
    ]
    return f"{reading.label} ({', '.join(told)})" if reading.label and told else reading.label or ", ".join(told)


def why(key: str) -> str:
    """Return the sentence of a key; what a value's fault says as it stands."""
    return says(f"cli.note.why.{key}") if f"cli.note.why.{key}" in MESSAGES else key


def told(entry: Entry, names: Mapping[str, str], words: Vocabulary, imperial: bool, day: dt.date) -> str:
    """Return what an entry tells, by the ids that it is kept under; its day where that is another."""
    said = [f"{fact} {value_in(value, words.facts[fact].unit, imperial)}" for fact, value in entry.facts.items()]
    if entry.action:
        details = [
            f"{key} {names.get(str(value)) or value_in(value, words.details[key].unit, imperial)}"
            for key, value in entry.details.items()
        ]
        said.append(" ".join([entry.action, *details]))
    when = [] if entry.date == day else [entry.date.isoformat()]
    return ", ".join([*when, *said])


def lines(read: Read, entries: Iterable[Entry], tell: Callable[[Entry], str], *, with_asked: bool = True) -> list[str]:
    """Return what was understood of a note about one hive, what is asked, and what is kept as a remark.

    Parameters
    ----------
    read : Read
    entries : iterable of Entry
        What it gives at this hive, and at its apiary.
    tell : callable
        Says what an entry tells.
    with_asked : bool
        With a line for each open question.
    """
    found = [
        says("cli.note.understood", text=entry.text, told=tell(entry))
        for entry in entries
        if entry.facts or entry.action
    ]
    found += [says("cli.note.brings", text=brought.thing) for brought in read.bring]
    for asked in read.asked if with_asked else ():
        labels = "; ".join(label_of(reading) for reading in asked.readings)
        found.append(says("cli.note.asked", text=asked.text, why=why(asked.why), readings=labels).rstrip(" :"))
    for left in read.left:
        known = "cli.note.remark" if left.known else "cli.note.not-understood"
        found.append(says(known, text=left.text, why=why(left.why)).rstrip(" :"))
    return found


def value_in(value: Plain, unit: str | None, imperial: bool) -> str:
    """Return a value in digits or words, with the imperial figure beside where that is wanted."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return typed(value)
    said = number(float(value), 2)
    other = to_imperial(float(value), unit, ABSOLUTE) if imperial else None
    return f"{said} ({number(other[0], other[2])} {other[1]})" if other else said

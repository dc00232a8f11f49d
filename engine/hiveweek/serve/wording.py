"""A note in words: read back first, with what may be two things asked; then kept."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any

from starlette.responses import JSONResponse, Response

from hiveweek.record import Entry
from hiveweek.record.notes.entering import answered, entries_of, once
from hiveweek.record.notes.found import Asked, Left, Read
from hiveweek.record.notes.many import read_notes
from hiveweek.record.notes.table import shipped
from hiveweek.record.places import place_on
from hiveweek.serve import noted, noting
from hiveweek.serve.desk import Visit
from hiveweek.serve.noting import Note
from hiveweek.show.echo import lines, why
from hiveweek.texts.parts import Day, listed, message
from hiveweek.texts.speaker import says

ANSWER = "a:"
NONE = "none"


@dataclass(frozen=True)
class Written:
    """A note in words.

    Attributes
    ----------
    note : Note
    read : dict of str to Read
        What was read, by the name of the hive.
    beside : dict of str to str
        The hives that stand where its hives do, name to id.
    """

    note: Note
    read: dict[str, Read]
    beside: dict[str, str]


def read(visit: Visit) -> Response:
    """Say what is understood of a note; nothing is written."""
    return _read_back(visit, _read(visit))


def _read_back(visit: Visit, written: Written) -> Response:
    note, found = written.note, written.read
    names = {key: name for name, key in written.beside.items()} | {hive.id: hive.name for hive in note.hives}
    _write(written, found, visit)
    shown: dict[tuple, dict[str, Any]] = {}
    for number, (hive, one) in enumerate(zip(note.hives, found.values(), strict=True)):
        mine = [entry for entry in note.entries if entry.hive in (None, hive.id)]
        said = lines(one, mine, lambda entry: _told(entry, names, visit, note.date), with_asked=False)
        asked = [
            {
                "name": _field(number, place),
                "text": ask.text,
                "why": why(ask.why),
                "readings": [noted.reading(r, visit.desk.words) for r in ask.readings],
            }
            for place, ask in enumerate(one.asked)
        ]
        key = (tuple(said), number if asked else None)
        shown.setdefault(key, {"hives": [], "lines": said, "asked": asked})["hives"].append(hive.name)
    return visit.show(
        "read.html.j2",
        title=message("page.understood"),
        shown=list(shown.values()),
        text=visit.said("text"),
        fields=[
            (name, value)
            for name, values in visit.form.items()
            if name in ("note", "at", "hive", "apiary", "text", "next", "who")
            for value in values
        ],
        back=noting.back_to(note.hives, note.apiary),
        questions=[visit.desk.speaker.say(question) for question in note.questions],
        any=bool(note.entries) or any(one.asked for one in found.values()),
    )


def _told(entry: Entry, names: Mapping[str, str], visit: Visit, day: dt.date) -> str:
    when = [] if entry.date == day else [Day(entry.date)]
    return visit.desk.speaker.say(listed([*when, *noted.told(entry, names, visit.desk.words)], "comma"))


def keep(visit: Visit) -> Response:
    """Keep a note in words; what may be two things and was not answered keeps it waiting."""
    written = _read(visit)
    note, found = written.note, {}
    for number, (name, one) in enumerate(written.read.items()):
        found[name] = answered(one, visit.desk.words, partial(_pick, visit, number))
    if any(one.asked for one in found.values()) and not note.sure:
        if visit.script:
            every = [ask for one in written.read.values() for ask in one.asked]
            why_not = [says("page.ask.words", text=ask.text, why=why(ask.why)) for ask in every]
            return JSONResponse({"state": "asked", "why": list(dict.fromkeys(why_not)), "read": True}, 422)
        return _read_back(visit, written)
    _write(written, found, visit)
    if not note.entries:
        raise noting.problem("empty-note", "a note has a text")
    return noting.finish(note, visit)


def _field(number: int, place: int) -> str:
    """Return the name under which the answer to a question is sent."""
    return f"{ANSWER}{number}.{place}"


def _read(visit: Visit) -> Written:
    note = noting.begin(visit)
    text = noting.short(visit.said("text"))
    if not text:
        raise noting.problem("empty-note", "a note has a text")
    own = [hive.name for hive in note.hives]
    if len(set(own)) < len(own):
        raise noting.problem("two-hives", "a note for hives of one name; write it for each by itself")
    places = dict.fromkeys(place_on(hive, note.date) for hive in note.hives)
    beside = {hive.name: hive.id for place in places for hive in visit.store.hives(place)}
    typed = note.date if note.time is not None else visit.desk.settings.today(note.apiary)
    found = read_notes(text, note.date, visit.desk.words, shipped(), hives=own, known=beside, typed_on=typed)
    return Written(note, found, beside)


def _pick(visit: Visit, number: int, place: int, asked: Asked) -> int | Left | None:
    """Return which reading of a question was meant; what is none of them stays as a remark."""
    said = visit.said(_field(number, place))
    if said.isdecimal() and int(said) < len(asked.readings):
        return int(said)
    return Left(asked.text) if said == NONE or visit.said("sure") else None


def _write(written: Written, found: Mapping[str, Read], visit: Visit) -> None:
    note, made = written.note, []
    for hive, one in zip(note.hives, found.values(), strict=True):
        made += entries_of(
            one,
            note.date,
            visit.desk.words,
            apiary=place_on(hive, note.date),
            hive=hive.id,
            hives=written.beside,
            note=note.id,
            who=visit.who,
            now=dt.datetime.now(dt.UTC),
        )
    noting.adopt(note, once(made))

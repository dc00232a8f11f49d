"""A note in words: read back first, with what may be two things asked; then kept."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Mapping
from typing import Any

from starlette.responses import JSONResponse, Response

from hiveweek.record import Entry
from hiveweek.record.notes.entering import chosen, entries_of, once
from hiveweek.record.notes.found import Left, Read
from hiveweek.record.notes.many import read_notes
from hiveweek.record.notes.table import shipped
from hiveweek.record.places import apiary_of
from hiveweek.serve import noting
from hiveweek.serve.desk import Visit
from hiveweek.serve.noting import Note
from hiveweek.show.echo import label_of, told, why
from hiveweek.texts.parts import message
from hiveweek.texts.speaker import says

ANSWER = "a:"
NONE = "none"


def read(visit: Visit) -> Response:
    """Say what is understood of a note; nothing is written."""
    note, found = _read(visit)
    names = {
        hive.id: hive.name
        for place in {hive.placements[-1].apiary for hive in note.hives}
        for hive in visit.store.hives(place)
    }
    _write(note, visit, found)
    shown: dict[tuple, dict[str, Any]] = {}
    for number, (hive, one) in enumerate(zip(note.hives, found.values(), strict=True)):
        lines = _lines(hive.id, note, one, names, visit)
        asked = [
            {
                "name": f"{ANSWER}{number}.{place}",
                "text": ask.text,
                "why": why(ask.why),
                "readings": [label_of(r) for r in ask.readings],
            }
            for place, ask in enumerate(one.asked)
        ]
        key = (tuple(lines), number if asked else None)
        shown.setdefault(key, {"hives": [], "lines": lines, "asked": asked})["hives"].append(hive.name)
    return visit.show(
        "read.html.j2",
        title=message("page.understood"),
        shown=list(shown.values()),
        text=visit.said("text"),
        fields=[
            (name, value)
            for name, values in visit.form.items()
            if name in ("note", "at", "hive", "apiary", "text", "next")
            for value in values
        ],
        back=noting.back_to(note.hives, note.apiary),
        questions=[visit.desk.speaker.say(question) for question in note.questions],
        any=bool(note.entries) or any(one.asked for one in found.values()),
    )


def keep(visit: Visit) -> Response:
    """Keep a note in words; what may be two things and was not answered keeps it waiting."""
    note, found = _read(visit)
    answered, waits = {}, False
    for number, (name, one) in enumerate(found.items()):
        answered[name], open_still = _answered(one, number, visit)
        waits = waits or open_still
    if waits and not note.sure:
        lines = [says("page.ask.words", text=ask.text, why=why(ask.why)) for one in found.values() for ask in one.asked]
        if visit.script:
            return JSONResponse({"state": "asked", "why": list(dict.fromkeys(lines)), "read": True}, 422)
        return read(visit)
    _write(note, visit, answered)
    if not note.entries:
        raise noting.problem("empty-note", "a note has a text")
    return noting.finish(note, visit)


def _read(visit: Visit) -> tuple[Note, dict[str, Read]]:
    note = noting.begin(visit)
    text = noting.short(visit.said("text"))
    if not text:
        raise noting.problem("empty-note", "a note has a text")
    own = [hive.name for hive in note.hives]
    if len(set(own)) < len(own):
        raise noting.problem("two-hives", "a note for hives of one name; write it for each by itself")
    known = _beside(note, visit)
    typed = note.date if note.time is not None else visit.desk.settings.today(note.apiary)
    return note, read_notes(text, note.date, visit.desk.words, shipped(), hives=own, known=known, typed_on=typed)


def _beside(note: Note, visit: Visit) -> dict[str, str]:
    places = dict.fromkeys(apiary_of(visit.store, hive, note.date).id for hive in note.hives)
    return {hive.name: hive.id for place in places for hive in visit.store.hives(place)}


def _answered(one: Read, number: int, visit: Visit) -> tuple[Read, bool]:
    """Return a note with its questions answered, and whether some are open; what is none of its readings stays as a remark."""
    entries, left, open_still = list(one.entries), list(one.left), []
    for place, ask in enumerate(one.asked):
        said = visit.said(f"{ANSWER}{number}.{place}")
        if said.isdecimal() and int(said) < len(ask.readings):
            entries += chosen(ask, ask.readings[int(said)], visit.desk.words)
        elif said == NONE or visit.said("sure"):
            left.append(Left(ask.text))
        else:
            open_still.append(ask)
    return dataclasses.replace(one, entries=tuple(entries), asked=tuple(open_still), left=tuple(left)), bool(open_still)


def _write(note: Note, visit: Visit, found: Mapping[str, Read]) -> None:
    beside, made = _beside(note, visit), []
    for hive, one in zip(note.hives, found.values(), strict=True):
        made += entries_of(
            one,
            note.date,
            visit.desk.words,
            apiary=apiary_of(visit.store, hive, note.date).id,
            hive=hive.id,
            hives=beside,
            note=note.id,
            who=visit.session.who,
            now=dt.datetime.now(dt.UTC),
        )
    noting.adopt(note, once(made))


def _lines(hive: str, note: Note, one: Read, names: Mapping[str, str], visit: Visit) -> list[str]:
    words = visit.desk.words

    def understood(entry: Entry) -> str:
        return says("cli.note.understood", text=entry.text, told=told(entry, names, words, False, note.date))

    lines = [
        understood(entry) for entry in note.entries if entry.hive in (None, hive) and (entry.facts or entry.action)
    ]
    lines += [says("cli.note.brings", text=thing.thing) for thing in one.bring]
    for left in one.left:
        known = "cli.note.remark" if left.known else "cli.note.not-understood"
        lines.append(says(known, text=left.text, why=why(left.why)).rstrip(" :"))
    return lines

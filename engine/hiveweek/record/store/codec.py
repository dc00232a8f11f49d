"""Entries, hives and apiaries as rows, and back. Bodies are JSON with sorted keys, so that the same entry is the same text."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from hiveweek.record.entries import Answer, Entry, Kind, Plain
from hiveweek.record.record import Apiary, Hive, Placement, folded

_NONE: Mapping[str, Plain] = MappingProxyType({})
_KINDS = {kind.value: kind for kind in Kind}  # looked up some ten times faster than made
_DAY = "day"  # {"day": "2026-08-10"} is a date; every other value is itself
_APIARY = ("climate", "lat", "lon", "elev_m", "jurisdiction", "timezone", "note")


def _out(values: Mapping[str, Plain]) -> dict[str, Any]:
    return {key: _written(value) for key, value in values.items()}


def _written(value: Plain) -> Any:
    if isinstance(value, dt.date):
        return {_DAY: value.isoformat()}
    if isinstance(value, float) and value.is_integer():
        return int(value)  # 12 and 12.0 say the same, so that a sheet's 12 is the same entry
    return value


def _in(values: Mapping[str, Any] | None) -> Mapping[str, Plain]:
    if not values:
        return _NONE
    return MappingProxyType(
        {key: dt.date.fromisoformat(value[_DAY]) if isinstance(value, dict) else value for key, value in values.items()}
    )


def entry_body(entry: Entry) -> str:
    """Return what an entry says as JSON: everything but its place in the store."""
    data: dict[str, Any] = {
        "kind": str(entry.kind),
        "date": entry.date.isoformat(),
        "at": entry.recorded_at.isoformat(),
    }
    if entry.time is not None:
        data["time"] = entry.time.isoformat()
    for name in ("until_date", "since", "until"):
        day = getattr(entry, name)
        if day is not None:
            data[name] = day.isoformat()
    for name in ("facts", "details"):
        if getattr(entry, name):
            data[name] = _out(getattr(entry, name))
    for name in ("action", "reason", "rule", "rules_hash", "text", "who", "source", "note", "replaces"):
        if getattr(entry, name):
            data[name] = getattr(entry, name)
    if entry.answer is not None:
        data["answer"] = str(entry.answer)
    if entry.found:
        data["found"] = True
    if entry.files:
        data["files"] = list(entry.files)
    return json.dumps(data, sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def digest(entry: Entry) -> str:
    """Return the fingerprint by which an entry sent twice is known: all it says but the moment of writing it down."""
    said = json.loads(entry_body(entry))
    said.pop("at")
    text = json.dumps([entry.id, entry.apiary, entry.hive, said], sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def texts(entry: Entry) -> list[str]:
    """Return every text of an entry."""
    values = (*entry.facts.items(), *entry.details.items())
    words = [word for pair in values for word in pair if isinstance(word, str)]
    fields = ("action", "reason", "rule", "rules_hash", "text", "who", "source", "note", "id")
    return [*words, *(getattr(entry, name) for name in fields if getattr(entry, name)), *entry.files]


def entry_row(entry: Entry) -> dict[str, Any]:
    """Return the row of an entry."""
    return {
        "id": entry.id,
        "apiary": entry.apiary,
        "sequence": entry.sequence,
        "hive": entry.hive,
        "date": entry.date.isoformat(),
        "note": entry.note,
        "replaces": entry.replaces,
        "digest": digest(entry),
        "body": entry_body(entry),
    }


def _day(text: str | None) -> dt.date | None:
    return None if text is None else dt.date.fromisoformat(text)


def entry_of(row: Mapping[str, Any]) -> Entry:
    """Return the entry of a row."""
    said = json.loads(row["body"])
    time, answer = said.get("time"), said.get("answer")
    return Entry(
        id=row["id"],
        kind=_KINDS[said["kind"]],
        apiary=row["apiary"],
        hive=row["hive"],
        date=dt.date.fromisoformat(said["date"]),
        time=None if time is None else dt.time.fromisoformat(time),
        until_date=_day(said.get("until_date")),
        facts=_in(said.get("facts")),
        since=_day(said.get("since")),
        found=said.get("found", False),
        action=said.get("action"),
        details=_in(said.get("details")),
        answer=None if answer is None else Answer(answer),
        until=_day(said.get("until")),
        reason=said.get("reason", ""),
        rule=said.get("rule", ""),
        rules_hash=said.get("rules_hash", ""),
        text=said.get("text", ""),
        files=tuple(said.get("files", ())),
        who=said.get("who", ""),
        source=said.get("source", ""),
        note=said.get("note", ""),
        recorded_at=dt.datetime.fromisoformat(said["at"]),
        sequence=row["sequence"],
        replaces=said.get("replaces"),
    )


def tellings(entry: Entry) -> list[str]:
    """Return what an entry tells of: its facts, or the action that was done or answered."""
    if entry.kind in (Kind.SEEN, Kind.SET):
        return sorted(entry.facts)
    if entry.kind in (Kind.DONE, Kind.ANSWERED) and entry.action:
        return [f"{entry.kind}:{entry.action}"]
    return []


def told_rows(entry: Entry) -> list[dict[str, str]]:
    """Return the rows of the index for what an entry tells of."""
    return [
        {"hive": entry.hive or entry.apiary, "what": what, "date": entry.date.isoformat(), "entry": entry.id}
        for what in tellings(entry)
    ]


def apiary_row(apiary: Apiary, revision: int) -> dict[str, Any]:
    """Return the row of an apiary."""
    said: dict[str, Any] = {name: getattr(apiary, name) for name in _APIARY if getattr(apiary, name) not in (None, "")}
    if apiary.rulesets:
        said["rulesets"] = list(apiary.rulesets)
    if apiary.overrides:
        said["overrides"] = {event: dict(moved) for event, moved in apiary.overrides.items()}
    return {
        "id": apiary.id,
        "name": apiary.name,
        "folded": folded(apiary.name),
        "body": json.dumps(said, sort_keys=True, ensure_ascii=False, allow_nan=False),
        "revision": revision,
    }


def apiary_of(row: Mapping[str, Any]) -> Apiary:
    """Return the apiary of a row."""
    said = json.loads(row["body"])
    said["rulesets"] = tuple(said.get("rulesets", ()))
    return Apiary(id=row["id"], name=row["name"], **said)


def hive_of(row: Mapping[str, Any], placements: list[Placement]) -> Hive:
    """Return the hive of a row and its placements."""
    return Hive(row["id"], row["name"], tuple(placements), _day(row["ended"]), row["ended_because"])

"""Apiaries, hives and entries as plain data: what ``--json`` prints and what is exported, and back."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Mapping
from typing import Any

from hiveweek.record.entries import Answer, Entry, Kind
from hiveweek.record.practised import practised_in, practised_out
from hiveweek.record.record import Apiary, Hive, Placement, Record

FORM = 1
PEOPLE = ("text", "who", "reason")  # what may name people; photos are left out with them
_APIARY = ("id", "name", "climate", "lat", "lon", "elev_m", "jurisdiction", "rulesets", "timezone", "overrides", "note")
_DAYS = {"date", "until_date", "since", "until"}
_ENTRY = [field.name for field in dataclasses.fields(Entry)]
_DEFAULTS = {f.name: f.default for f in dataclasses.fields(Entry)} | {"facts": {}, "details": {}, "hive": None}


def apiary_out(apiary: Apiary) -> dict[str, Any]:
    """Return an apiary as plain data; what is not said is left out."""
    data = {name: getattr(apiary, name) for name in _APIARY}
    data["rulesets"] = list(apiary.rulesets)
    data["overrides"] = {event: dict(moved) for event, moved in apiary.overrides.items()}
    return {name: value for name, value in data.items() if value not in (None, "", [], {})}


def apiary_in(data: Mapping[str, Any]) -> Apiary:
    """Return the apiary of plain data."""
    return Apiary(**{**data, "rulesets": tuple(data.get("rulesets", ()))})


def hive_out(hive: Hive) -> dict[str, Any]:
    """Return a hive as plain data."""
    data: dict[str, Any] = {
        "id": hive.id,
        "name": hive.name,
        "placements": [{"apiary": p.apiary, "since": p.since} for p in hive.placements],
    }
    if hive.ended is not None:
        data["ended"] = hive.ended
    if hive.ended_because:
        data["ended_because"] = hive.ended_because
    return data


def hive_in(data: Mapping[str, Any]) -> Hive:
    """Return the hive of plain data."""
    places = tuple(
        sorted((Placement(p["apiary"], _day(p["since"])) for p in data["placements"]), key=lambda p: p.since)
    )
    return Hive(
        data["id"],
        data["name"],
        places,
        _day(data["ended"]) if "ended" in data else None,
        data.get("ended_because", ""),
    )


def entry_out(entry: Entry) -> dict[str, Any]:
    """Return an entry as plain data; what is not said is left out, but for its number."""
    data: dict[str, Any] = {}
    for name in _ENTRY:
        value = getattr(entry, name)
        if name in ("facts", "details"):
            value = {key: _whole(one) for key, one in value.items()}
        if name in _DEFAULTS and value == _DEFAULTS[name] and name not in ("recorded_at", "source", "sequence"):
            continue
        data[name] = value
    data["kind"] = str(entry.kind)
    if entry.answer is not None:
        data["answer"] = str(entry.answer)
    if entry.time is not None:
        data["time"] = entry.time.isoformat()
    if entry.files:
        data["files"] = list(entry.files)
    data["recorded_at"] = entry.recorded_at.isoformat()
    return data


def _whole(value: Any) -> Any:
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _day(value: dt.date | str) -> dt.date:
    return dt.date.fromisoformat(value) if isinstance(value, str) else value


def entry_in(data: Mapping[str, Any]) -> Entry:
    """Return the entry of plain data."""
    said = dict(data)
    said["kind"] = Kind(said["kind"])
    if "answer" in said:
        said["answer"] = Answer(said["answer"])
    if "time" in said:
        said["time"] = dt.time.fromisoformat(said["time"])
    if "files" in said:
        said["files"] = tuple(said["files"])
    for name in _DAYS & said.keys():
        said[name] = _day(said[name])
    said["recorded_at"] = dt.datetime.fromisoformat(said["recorded_at"])
    return Entry(**{"hive": None, **said})


def record_out(record: Record, *, people: bool = True) -> dict[str, Any]:
    """Return a whole record as plain data.

    Parameters
    ----------
    record : Record
    people : bool
        False leaves out what may name or show people: texts as typed, who, reasons, photos, coordinates and notes.
    """
    apiaries = [apiary_out(apiary) for apiary in record.apiaries.values()]
    hives = [hive_out(hive) for hive in record.hives.values()]
    entries = [entry_out(entry) for entry in record.entries]
    if not people:
        apiaries = [{k: v for k, v in a.items() if k not in ("lat", "lon", "elev_m", "note")} for a in apiaries]
        hives = [{k: v for k, v in hive.items() if k != "ended_because"} for hive in hives]
        entries = [{k: v for k, v in e.items() if k not in (*PEOPLE, "files")} for e in entries]
    return {
        "hiveweek_record": FORM,
        "apiaries": apiaries,
        "hives": hives,
        "entries": entries,
        "withdrawn": sorted(record.withdrawn),
        **({"practised": [practised_out(one) for one in record.practised]} if record.practised else {}),
    }


def record_in(data: Mapping[str, Any]) -> Record:
    """Return the record of plain data whose shape has been held against its schema."""
    apiaries = [apiary_in(one) for one in data.get("apiaries") or ()]
    hives = [hive_in(one) for one in data.get("hives") or ()]
    return Record(
        {apiary.id: apiary for apiary in apiaries},
        {hive.id: hive for hive in hives},
        [entry_in(one) for one in data.get("entries") or ()],
        set(data.get("withdrawn") or ()),
        [practised_in(one) for one in data.get("practised") or ()],
    )


def jsonable(value: Any) -> Any:
    """Return plain data with days as ``YYYY-MM-DD``."""
    if isinstance(value, dict):
        return {key: jsonable(one) for key, one in value.items()}
    if isinstance(value, list):
        return [jsonable(one) for one in value]
    return value.isoformat() if isinstance(value, dt.date) else value

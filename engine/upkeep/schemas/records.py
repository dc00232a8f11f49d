"""Schema of an exported record."""

from __future__ import annotations

from hiveweek.record.entries import Answer, Kind
from hiveweek.record.plain_form import FORM
from hiveweek.vocabulary.definitions import DATE
from upkeep.schemas.parts import NOTE, NUMBER, TEXT, file, mapping, ref, rows, shape

_VALUE = {"type": ["number", "boolean", "string", "null"]}
_ID = {**TEXT, "maxLength": 64}
_ANY = {"type": "string"}
_TIME = {"type": "string", "pattern": r"^\d\d:\d\d(:\d\d(\.\d+)?)?$", "errorMessage": "a time like 09:30"}
_MOMENT = {"type": "string", "description": "Day and time with its offset, ISO 8601."}
_APIARY = shape(
    {
        "id": _ID,
        "name": TEXT,
        "climate": TEXT,
        "lat": {**NUMBER, "minimum": -90, "maximum": 90},
        "lon": {**NUMBER, "minimum": -180, "maximum": 180},
        "elev_m": NUMBER,
        "jurisdiction": TEXT,
        "rulesets": rows(TEXT),
        "timezone": TEXT,
        "overrides": mapping(mapping(_ANY)),
        "note": _ANY,
    },
    ["id", "name"],
)
_HIVE = shape(
    {
        "id": _ID,
        "name": TEXT,
        "placements": rows(shape({"apiary": _ID, "since": DATE}, ["apiary", "since"]), minItems=1),
        "ended": DATE,
        "ended_because": _ANY,
    },
    ["id", "name", "placements"],
)
_ENTRY = shape(
    {
        "id": _ID,
        "kind": {"enum": [str(kind) for kind in Kind], "noun": "kind"},
        "apiary": _ID,
        "hive": _ID,
        "date": DATE,
        "time": _TIME,
        "until_date": DATE,
        "facts": mapping(_VALUE),
        "since": DATE,
        "found": {"type": "boolean"},
        "action": TEXT,
        "details": mapping(_VALUE),
        "answer": {"enum": [str(answer) for answer in Answer], "noun": "answer"},
        "until": DATE,
        "reason": _ANY,
        "rule": _ANY,
        "rules_hash": _ANY,
        "text": _ANY,
        "files": rows(_ANY),
        "who": _ANY,
        "source": _ANY,
        "note": {**_ANY, "maxLength": 64},
        "recorded_at": _MOMENT,
        "sequence": {"type": "integer", "minimum": 0},
        "replaces": _ID,
    },
    ["id", "kind", "apiary", "date", "recorded_at"],
)
_PRACTISED = shape(
    {
        "id": _ID,
        "lesson": {**TEXT, "maxLength": 96},
        "at": _MOMENT,
        "marks": {**NUMBER, "minimum": 0, "maximum": 100},
        "jobs": rows(TEXT),
        "looks": rows(TEXT),
        "chance": {**NUMBER, "minimum": 0, "maximum": 1},
        "sound": {"type": "boolean"},
        "who": {**TEXT, "description": "The name of the learner on the served page; without it the keeper."},
    },
    ["id", "lesson", "at", "marks"],
)


def schemas(defined: dict) -> dict[str, dict]:
    """Return the schema of an exported record, by the kind of its file."""
    body = shape(
        {
            "hiveweek_record": {"const": FORM},
            "apiaries": rows(_APIARY),
            "hives": rows(_HIVE),
            "entries": rows(_ENTRY),
            "withdrawn": rows(_ID),
            "practised": rows(_PRACTISED, description="Sittings of practice."),
        },
        ["hiveweek_record"],
    )
    return {"record": file("An exported record", body, defined), "sheet_map": _sheet_map(defined)}


def _sheet_map(defined: dict) -> dict:
    """Return the schema of what the columns of a keeper's own sheet mean."""
    name = {"type": ["string", "number"]}
    somewhere = {"type": ["object", "string", "number"], "additionalProperties": False, "required": ["column"]}
    somewhere["properties"] = {"column": name}
    form = {**TEXT, "description": "As in %d.%m.%Y: %d day, %m month, %Y year."}
    date = {**somewhere, "properties": {"column": name, "form": {"type": ["string", "array"], "items": form}}}
    column = shape(
        {
            "fact": ref("fact"),
            "action": ref("action"),
            "detail": ref("detail"),
            "unit": {**TEXT, "description": "Where it is not the fact's: lb, degF, in, g."},
            "words": mapping(TEXT, description="Words of the sheet to those of the vocabulary."),
            "note": NOTE,
        },
        minProperties=1,
        dependentRequired={"detail": ["action"]},
    )
    body = shape(
        {
            "sheet": {**TEXT, "description": "Name of the sheet in a spreadsheet; the first without it."},
            "apiary": {**somewhere, "description": "Name of the apiary, or {column: NAME}."},
            "hive": {**somewhere, "description": "{column: NAME}"},
            "date": {**date, "description": "{column: NAME, form: '%d.%m.%Y'}"},
            "who": somewhere,
            "text": somewhere,
            "decimal": {"enum": ["comma", "point"]},
            "empty": rows({"type": "string"}, description="What a cell says that says nothing."),
            "columns": mapping(column, description="Column of the sheet to a fact, or to an action and its detail."),
        }
    )
    return file("What the columns of a sheet mean", body, defined)

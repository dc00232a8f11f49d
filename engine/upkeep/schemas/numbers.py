"""The shape of a number and of a number file, as JSON Schemas: the reader checks with them, editors complete from them."""

from __future__ import annotations

from hiveweek.shapes.names import NAME

STATUSES = ("seen", "seen-2nd", "memory", "calc", "derived", "judgement", "practice")

SOURCE = {
    "description": "Where it was read: keys of vocabulary/sources.yaml, or common-practice where only practice tells.",
    "anyOf": [
        {"enum": ["common-practice", "judgement"]},
        {"type": "array", "minItems": 1, "items": {"type": "string", "minLength": 1}},
    ],
}
STATUS = {
    "enum": list(STATUSES),
    "description": "How the figure was come by: read in its source, read in a text about the source, from memory, reckoned "
    "exactly, derived by an argument, judged, or usual practice.",
}
PAIR = {"type": "array", "minItems": 2, "maxItems": 2, "items": {"type": "number"}}
ROW = {
    "type": "object",
    "additionalProperties": False,
    "required": ["source"],
    "oneOf": [{"required": ["value"]}, {"required": ["curve"]}],
    "description": "A named number. An overlay can move it, unless it is a constant.",
    "properties": {
        "value": {"type": "number", "description": "The number."},
        "curve": {
            "type": "array",
            "minItems": 2,
            "items": PAIR,
            "description": "In place of a value: corners [x, y], x rising.",
        },
        "unit": {
            "type": "string",
            "minLength": 1,
            "description": "Unit of the number; of a limit the unit of the facts it is compared with. Absent for a bare count.",
        },
        "source": SOURCE,
        "status": STATUS,
        "note": {"type": "string", "description": "What a reader must know of it."},
        "band": {**PAIR, "description": "Lowest and highest value that sources or judgement leave open. It binds."},
        "outside_band": {"type": "string", "minLength": 5, "description": "Why the value lies outside its band."},
        "constant": {"const": True, "description": "A constant of nature, or true by definition: nothing moves it."},
        "tighter": {"enum": ["up", "down"], "description": "Safety limits only: the one way an overlay may move it."},
    },
}
NUMBERS = {
    "$schema": "https://json-schema.org/draft/2020-12/schema",
    "title": "hiveweek numbers",
    "type": "object",
    "additionalProperties": False,
    "required": ["numbers"],
    "properties": {
        "numbers": {
            "type": "object",
            "minProperties": 1,
            "propertyNames": {"pattern": NAME},
            "description": "Groups of numbers; the full name of each is FILE.GROUP.NAME.",
            "additionalProperties": {
                "type": "object",
                "minProperties": 1,
                "propertyNames": {"pattern": NAME},
                "additionalProperties": {**ROW, "required": ["unit", "source", "status"]},
            },
        }
    },
}

"""Pieces that several schemas share."""

from __future__ import annotations

from hiveweek.shapes.reading import reached
from hiveweek.vocabulary.events import EVENTS

DRAFT = "https://json-schema.org/draft/2020-12/schema"
TEXT = {"type": "string", "minLength": 1}
NOTE = {"type": ["string", "null"]}
NUMBER = {"type": "number"}
WORDS = {"type": "array", "items": TEXT, "uniqueItems": True}
MONTH_DAY = {
    "type": "string",
    "pattern": r"^((0[13578]|1[02])-(0[1-9]|[12]\d|3[01])|(0[469]|11)-(0[1-9]|[12]\d|30)|02-(0[1-9]|[12]\d))$",
    "description": "Month and day like 04-15.",
    "errorMessage": "a month and day like 04-15",
    "code": "no-such-date",
}
CONDITION = {
    "description": "fact OP value | fact in [..] | fact is known | a yes/no fact | finding.name; with all / any / not around it.",
    "anyOf": [
        {"type": "string", "minLength": 1},
        {"type": "array", "minItems": 1, "items": {"$ref": "#/$defs/condition"}},
        {
            "type": "object",
            "minProperties": 1,
            "maxProperties": 1,
            "additionalProperties": False,
            "properties": {
                "all": {"type": "array", "minItems": 1, "items": {"$ref": "#/$defs/condition"}},
                "any": {"type": "array", "minItems": 1, "items": {"$ref": "#/$defs/condition"}},
                "not": {"$ref": "#/$defs/condition"},
            },
        },
    ],
}
IF_CONDITION = {"$ref": "#/$defs/condition"}


def shape(properties: dict, required: list[str] | None = None, **more) -> dict:
    """Return the schema of a mapping of these keys and no others."""
    found = {"type": "object", "additionalProperties": False, **more, "properties": properties}
    return {**found, "required": required} if required else found


def mapping(of: dict, **more) -> dict:
    """Return the schema of a mapping from any name to values of one shape."""
    return {"type": "object", **more, "additionalProperties": of}


def rows(of: dict, **more) -> dict:
    """Return the schema of a list of one shape."""
    return {"type": "array", **more, "items": of}


def ref(name: str, **more) -> dict:
    """Return a reference to a definition."""
    return {**more, "$ref": f"#/$defs/{name}"}


def names(of: str, **more) -> dict:
    """Return the schema of a list of words of the vocabulary, each once."""
    return {"type": "array", "uniqueItems": True, **more, "items": ref(of)}


def file(title: str, body: dict, definitions: dict) -> dict:
    """Return the schema of a kind of file, with the definitions that it reaches."""
    used = reached(body, definitions)
    found = {"$schema": DRAFT, "title": title, **body}
    return {**found, "$defs": {name: definitions[name] for name in definitions if name in used}} if used else found


def block(title: str, definitions: dict, /, **blocks: dict) -> dict:
    """Return the schema of a vocabulary file: ``about`` and its blocks, all of them needed."""
    return file(title, shape({"about": {"type": "object"}, **blocks}, list(blocks)), definitions)


PLACE = {
    "lat": {
        "type": ["number", "null"],
        "minimum": -90,
        "maximum": 90,
        "description": "Degrees, north positive; lat and lon go together.",
    },
    "lon": {
        "type": ["number", "null"],
        "minimum": -180,
        "maximum": 180,
        "description": "Degrees, east positive; lat and lon go together.",
    },
    "elev_m": {
        "type": ["number", "null"],
        "minimum": -430,
        "maximum": 6000,
        "unit": "m",
        "description": "Height above the sea.",
    },
}
MOVED = shape(
    {"from": MONTH_DAY, "to": MONTH_DAY, "note": {**TEXT, "description": "How it is known."}}, ["from", "to", "note"]
)
OVERRIDES = {
    "type": ["object", "null"],
    "additionalProperties": False,
    "properties": dict.fromkeys(EVENTS, MOVED),
    "noun": "event",
    "description": "Season events moved for this place.",
}

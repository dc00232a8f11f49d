"""The schemas of what must not be advised, and of the treatments with what bars each."""

from __future__ import annotations

from hiveweek.shapes.names import NAME
from upkeep.schemas.numbers import SOURCE, STATUS
from upkeep.schemas.parts import ref
from upkeep.schemas.rule_parts import LIMITS, ROLES

ACTIONS = {"type": "array", "items": ref("action")}
PROHIBITION = {
    "type": "object",
    "additionalProperties": False,
    "required": ["id", "never", "when", "effect", "if_unknown", "because", "source"],
    "properties": {
        "id": {"type": "string", "pattern": NAME},
        "no": {"type": "integer"},
        "never": {
            "type": "array",
            "minItems": 1,
            "items": {
                "anyOf": [
                    {"type": "string"},
                    {
                        "type": "object",
                        "minProperties": 1,
                        "maxProperties": 1,
                        "additionalProperties": False,
                        "properties": {
                            "uses": {"type": "string"},
                            "moves": {"type": "string"},
                            "opens": {"enum": ["lid", "frames", "any"]},
                        },
                    },
                ]
            },
        },
        "except": ACTIONS,
        "when": {"$ref": "#/$defs/condition"},
        "for": ROLES,
        "at": {"type": "string"},
        "effect": {
            "anyOf": [
                {"enum": ["stop", "day"]},
                {
                    "type": "object",
                    "additionalProperties": False,
                    "required": ["first"],
                    "properties": {"first": {**ACTIONS, "minItems": 1}},
                },
            ]
        },
        "if_unknown": {"enum": ["ask", "check", "pass"]},
        "instead": ACTIONS,
        "spares": {
            "type": "object",
            "additionalProperties": False,
            "required": ["actions", "where", "say"],
            "description": "Actions it leaves alone where a condition is known to hold.",
            "properties": {
                "actions": {**ACTIONS, "minItems": 1},
                "where": {"$ref": "#/$defs/condition"},
                "say": {"type": "string", "minLength": 10},
            },
        },
        "because": {"type": "string", "minLength": 10},
        "check": {"type": "string"},
        "source": SOURCE,
        "status": STATUS,
        "note": {"type": "string"},
    },
}
BAR = {
    "type": "object",
    "additionalProperties": False,
    "required": ["when", "because"],
    "properties": {
        "when": {"$ref": "#/$defs/condition"},
        "because": {"type": "string"},
        "source": SOURCE,
        "status": STATUS,
        "note": {"type": "string"},
    },
}
OPTION = {
    "type": "object",
    "additionalProperties": False,
    "required": ["id", "active", "form", "because", "safety", "source", "bars"],
    "properties": {
        "id": {"type": "string", "pattern": NAME},
        "active": {"$ref": "#/$defs/active"},
        "form": {"$ref": "#/$defs/form"},
        "because": {"type": "string"},
        "length": {"type": "string"},
        "withdrawal": {"type": "string"},
        "safety": {"type": "string"},
        "source": SOURCE,
        "evidence": {"enum": ["trial", "survey", "guide", "practice"]},
        "status": STATUS,
        "note": {"type": "string"},
        "bars": {"type": "array", "items": BAR},
    },
}


def _rows(name: str, of: dict) -> dict:
    """Return the schema of a file of rows of one shape, with its limits."""
    return {
        "type": "object",
        "additionalProperties": False,
        "required": [name],
        "properties": {
            "version": {"type": "integer"},
            "note": {"type": "string"},
            "limits": LIMITS,
            name: {"type": "array", "items": of},
        },
    }


SAFETY = ("hiveweek prohibitions", _rows("prohibitions", PROHIBITION))
TREATMENTS = ("hiveweek treatment options", _rows("options", OPTION))

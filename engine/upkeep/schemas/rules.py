"""Schemas of rule files: topics, overlays, jurisdictions, prohibitions, treatment options."""

from __future__ import annotations

from hiveweek.shapes.names import NAME
from upkeep.schemas import law, order, safety
from upkeep.schemas.numbers import NUMBERS
from upkeep.schemas.parts import file
from upkeep.schemas.rule_parts import CLIMATES, LAYERED, LIMITS, RULE

RULESET = (
    "hiveweek ruleset",
    {
        "type": "object",
        "additionalProperties": False,
        "required": ["ruleset", "version", "rules"],
        "properties": {
            "ruleset": {"type": "string", "pattern": NAME, "description": "Topic; the same as the file's name."},
            "version": {"type": "integer", "minimum": 1},
            "climates": CLIMATES,
            "locked": {
                "type": "boolean",
                "description": "true: no overlay changes the findings of this file but in their words.",
            },
            "note": {"type": "string"},
            "limits": LIMITS,
            "rules": {"type": "array", "items": {"$ref": "#/$defs/rule"}},
        },
    },
)
OVERLAY = (
    "hiveweek overlay",
    {
        "type": "object",
        "additionalProperties": False,
        "required": ["overlay", "layer", "version"],
        "properties": {
            "overlay": {"type": "string", "pattern": NAME},
            "layer": {"enum": ["profile", "jurisdiction", "author", "apiary"]},
            "for": {
                "type": "array",
                "minItems": 1,
                "items": {"type": "string"},
                "description": "Profiles (or the jurisdiction) it holds for; absent: wherever it is named.",
            },
            "version": {"type": "integer", "minimum": 1},
            "note": {"type": "string"},
            **LAYERED,
        },
    },
)


def schemas(definitions: dict) -> dict[str, dict]:
    """Return the schemas by kind."""
    defined = {**definitions, "rule": RULE}
    kinds = {
        "ruleset": RULESET,
        "overlay": OVERLAY,
        "jurisdiction": law.JURISDICTION,
        "safety": safety.SAFETY,
        "treatments": safety.TREATMENTS,
        "order": order.ORDER,
        "troubles": order.TROUBLES,
        "late": order.LATE,
    }
    return {"numbers": NUMBERS, **{kind: file(title, body, defined) for kind, (title, body) in kinds.items()}}

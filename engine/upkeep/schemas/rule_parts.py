"""Schema of a rule, and of what ruleset files of every kind share: limits, climates, what an overlay may move and add."""

from __future__ import annotations

from typing import Any

from hiveweek.shapes.names import NAME, RULE_ID
from upkeep.schemas.numbers import ROW, SOURCE, STATUS
from upkeep.schemas.parts import ref

ROLES: dict[str, Any] = {
    "type": "object",
    "minProperties": 2,
    "maxProperties": 2,
    "additionalProperties": {"const": "hive"},
    "propertyNames": {"pattern": NAME},
}

STAKES = {
    "type": "object",
    "additionalProperties": False,
    "required": ["loses", "gain_pts", "source"],
    "description": "What acting this week rather than not is worth.",
    "properties": {
        "loses": {"enum": ["colony", "crop", "neighbours"], "description": "What is lost by not acting."},
        "gain_pts": {
            "type": "number",
            "minimum": 0,
            "maximum": 100,
            "description": "Colonies in a hundred saved; for crop, points of a usual crop of 25.",
        },
        "gain_fact": {
            "type": "string",
            "description": "A computed fact in points that replaces gain_pts where it is known.",
        },
        "source": SOURCE,
        "note": {"type": "string"},
    },
}
RULE: dict[str, Any] = {
    "type": "object",
    "additionalProperties": False,
    "required": ["id", "when"],
    "oneOf": [{"required": ["advise"]}, {"required": ["finding"]}],
    "allOf": [
        {
            "if": {"required": ["advise"]},
            "then": {
                "required": ["because", "safety", "source", "evidence"],
                "errorMessage": "what is advised says why",
            },
        },
        {
            "if": {"required": ["advise"], "not": {"properties": {"band": {"const": 0}}, "required": ["band"]}},
            "then": {"required": ["stakes"], "errorMessage": "what is advised says what it is worth"},
        },
    ],
    "properties": {
        "id": {
            "type": "string",
            "pattern": RULE_ID,
            "description": "topic.name; permanent, never used again once retired.",
        },
        "when": {"$ref": "#/$defs/condition"},
        "unless": {
            "description": "Blocks the rule only where it is known to hold; unknown does not block. A list blocks where "
            "any item holds.",
            "$ref": "#/$defs/condition",
        },
        "advise": ref("action", description="The action this rule advises."),
        "finding": {
            "type": "string",
            "pattern": NAME,
            "description": "The conclusion it gives, elsewhere finding.NAME.",
        },
        "reach": {"enum": ["hive", "apiary"], "description": "apiary: true at one hive holds for the whole yard."},
        "amount": {"type": "string", "description": "How much, with {facts} filled in."},
        "by": {
            "anyOf": [{"type": "string"}, {"type": "integer"}],
            "description": "Last day to start: today, 7 d, food.empty_on - 7 d, event.stop_syrup_by - 14 d.",
        },
        "stakes": STAKES,
        "band": {"enum": [0, 1], "description": "0 for law and people; they stand above all points."},
        "chance": {
            "type": "number",
            "minimum": 0,
            "maximum": 1,
            "description": "For looks: how likely the undecided condition is.",
        },
        "because": {"type": "string", "minLength": 10, "description": "One or two sentences with {facts} filled in."},
        "safety": {"type": "string", "minLength": 10, "description": "One or two sentences on what could hurt."},
        "source": SOURCE,
        "evidence": {"enum": ["trial", "survey", "guide", "practice"]},
        "for": {**ROLES, "description": "Two roles, as in {weak: hive, strong: hive}."},
        "at": {"type": "string", "description": "The role whose list the advice joins."},
        "prefer": {"type": "string", "description": "Which partner is best: role.fact desc (or asc)."},
        "note": {"type": "string"},
    },
}
CLIMATES = {
    "description": "all, a list of profile ids, or {where: [conditions on climate facts]}.",
    "anyOf": [
        {"const": "all"},
        {"type": "array", "minItems": 1, "items": {"type": "string"}},
        {
            "type": "object",
            "additionalProperties": False,
            "required": ["where"],
            "properties": {"where": {"type": "array", "minItems": 1, "items": {"type": "string"}}},
        },
    ],
}
LIMITS = {
    "type": "object",
    "propertyNames": {"pattern": NAME},
    "additionalProperties": ROW,
    "description": "Named numbers of this file; elsewhere limit.TOPIC.NAME.",
}


_FIELDS = ("when", "unless", "amount", "by", "stakes", "chance", "because", "safety", "source", "evidence")
OVERRIDE = {
    "type": "object",
    "additionalProperties": False,
    "required": ["value", "was", "reason", "source"],
    "oneOf": [{"required": ["number"]}, {"required": ["limit"]}, {"required": ["rule", "field"]}],
    "allOf": [
        {
            "if": {"properties": {"field": {"const": field}}, "required": ["field"]},
            "then": {"properties": {"value": RULE["properties"][field]}},
        }
        for field in _FIELDS
    ],
    "properties": {
        "limit": {"type": "string", "pattern": r"^limit\.", "description": "The limit to move."},
        "number": {
            "type": "string",
            "description": "The number to move, by its full name: limit.*, model.*, season.*, weather.* or plan.*.",
        },
        "outside_band": {"type": "string", "minLength": 5, "description": "Why the value lies outside its band."},
        "rule": {"type": "string", "description": "The rule to change, with the field."},
        "field": {"enum": list(_FIELDS)},
        "value": {"description": "The new value."},
        "was": {"description": "The value it replaces; if the base has moved, the entry is stale and an error."},
        "reason": {"type": "string", "minLength": 5},
        "source": SOURCE,
        "status": STATUS,
        "note": {"type": "string"},
    },
}
LAYERED = {
    "override": {"type": "array", "items": OVERRIDE},
    "disable": {
        "type": "array",
        "items": {
            "type": "object",
            "additionalProperties": False,
            "required": ["rule", "reason"],
            "properties": {"rule": {"type": "string"}, "reason": {"type": "string", "minLength": 5}, "source": SOURCE},
        },
    },
    "add": {
        "type": "object",
        "additionalProperties": False,
        "required": ["reason"],
        "properties": {
            "reason": {"type": "string", "minLength": 5},
            "limits": LIMITS,
            "source": SOURCE,
            "rules": {"type": "array", "items": {"$ref": "#/$defs/rule"}},
        },
    },
}

"""The schemas of what comes before what, of the serious troubles, and of what is too late for its time."""

from __future__ import annotations

from typing import Any

from hiveweek.shapes.names import NAME
from upkeep.schemas.numbers import SOURCE, STATUS
from upkeep.schemas.parts import IF_CONDITION, TEXT, mapping, names, ref, rows, shape
from upkeep.schemas.rule_parts import LIMITS
from upkeep.schemas.safety import ACTIONS

_WAY: dict[str, Any] = {
    "before": {
        "type": "array",
        "minItems": 1,
        "items": {"type": "string"},
        "description": "Actions or groups of which any comes first.",
    },
    "after": {
        "type": "array",
        "minItems": 1,
        "items": {"type": "string"},
        "description": "Actions or groups that follow.",
    },
    "when": {"$ref": "#/$defs/condition"},
    "fits": {
        "type": "array",
        "minItems": 1,
        "items": ref("active"),
        "description": "Only where one of these may be used at the hive this week.",
    },
    "wait": {
        "type": "object",
        "additionalProperties": False,
        "minProperties": 1,
        "maxProperties": 1,
        "description": "How long between the two; absent: the same visit.",
        "properties": {
            "days": {"type": "integer", "minimum": 1, "maximum": 60, "unit": "days"},
            "until": {
                "enum": ["out", "count"],
                "description": "out: the treatment that goes in may come out again; count: mites are counted after what lies in.",
            },
        },
    },
    "why": {"type": "string", "minLength": 10, "description": "Why, in a sentence for the card."},
    "source": SOURCE,
    "status": STATUS,
    "note": {"type": "string"},
}
_WAY_NEEDS = ["before", "after", "why", "source", "status"]
ORDER = (
    "hiveweek order of jobs",
    {
        "type": "object",
        "additionalProperties": False,
        "required": ["version", "chains"],
        "properties": {
            "version": {"type": "integer", "minimum": 1},
            "groups": {
                "type": "object",
                "propertyNames": {"pattern": NAME},
                "additionalProperties": {**ACTIONS, "minItems": 1},
                "description": "Names for several actions.",
            },
            "chains": {
                "type": "array",
                "items": {
                    "type": "object",
                    "additionalProperties": False,
                    "required": ["id"],
                    "oneOf": [{"required": ["either"]}, {"required": _WAY_NEEDS}],
                    "properties": {
                        "id": {"type": "string", "pattern": NAME},
                        **_WAY,
                        "either": {
                            "type": "array",
                            "minItems": 2,
                            "description": "Ways of which the first that holds counts.",
                            "items": {
                                "type": "object",
                                "additionalProperties": False,
                                "required": _WAY_NEEDS,
                                "properties": _WAY,
                            },
                        },
                    },
                },
            },
        },
    },
)
TROUBLES = (
    "hiveweek serious troubles",
    shape(
        {
            "limits": LIMITS,
            "troubles": mapping(
                shape(
                    {
                        "label": TEXT,
                        "when": IF_CONDITION,
                        "unless": IF_CONDITION,
                        "acts": names("action", minItems=1, description="Actions that count as an answer."),
                        "looks": names("action", description="Looks that would decide it."),
                        "kills_days": {
                            "type": "number",
                            "minimum": 0,
                            "description": "Days after which what it is about is lost; 0 for law and people.",
                        },
                        "source": SOURCE,
                        "shows": rows(
                            shape(
                                {
                                    "facts": mapping({}, propertyNames=ref("fact"), minProperties=1),
                                    "days_ago": {"type": "integer", "minimum": 0, "unit": "days"},
                                },
                                ["facts"],
                            ),
                            description="What a keeper notes where it stands; of a list any one, days for a date count back.",
                        ),
                        "more": rows(
                            ref("values", type="object", minProperties=1),
                            description="More signs of the same trouble: they never weaken its answer.",
                        ),
                        "worse": mapping(
                            {"enum": ["up", "down"]},
                            propertyNames=ref("fact"),
                            description="Numbers that make it worse as they rise or fall: then the answer is no milder.",
                        ),
                    },
                    ["label", "when", "acts", "looks", "kills_days", "source", "shows"],
                ),
                propertyNames={"pattern": NAME},
            ),
        },
        ["troubles"],
    ),
)


LATE = (
    "hiveweek jobs missed",
    shape(
        {
            "version": {"type": "integer", "minimum": 1},
            "late": mapping(
                shape(
                    {
                        "harm": {
                            "type": "array",
                            "minItems": 1,
                            "items": {"type": "string"},
                            "description": "Days after which it no longer prevents what it is for: food.empty_on - 7 d, event.stop_syrup_by.",
                        },
                        "until": {
                            **IF_CONDITION,
                            "description": "Its last sensible time is over where this is known to hold.",
                        },
                        "say": {**TEXT, "description": "What having missed it costs, and what now."},
                        "instead": ref("action"),
                        "because": {**TEXT, "description": "Why the other, where no rule advises it."},
                        "safety": TEXT,
                        "source": SOURCE,
                        "status": STATUS,
                        "note": {"type": "string"},
                    },
                    ["source", "status"],
                    dependentRequired={
                        "until": ["say"],
                        "say": ["until"],
                        "instead": ["until"],
                        "because": ["instead"],
                    },
                ),
                propertyNames=ref("action"),
            ),
        },
        ["version", "late"],
    ),
)

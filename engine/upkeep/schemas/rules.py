"""Schemas of rule files: topics, overlays, jurisdictions, prohibitions, treatment options."""

from __future__ import annotations

from typing import Any

from hiveweek.shapes.names import NAME, RULE_ID
from hiveweek.vocabulary.definitions import DATE
from upkeep.schemas.numbers import NUMBERS, ROW, SOURCE, STATUS
from upkeep.schemas.parts import IF_CONDITION, TEXT, file, mapping, names, ref, rows, shape

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
        "for": {
            "type": "object",
            "minProperties": 2,
            "maxProperties": 2,
            "additionalProperties": {"const": "hive"},
            "propertyNames": {"pattern": NAME},
            "description": "Two roles, as in {weak: hive, strong: hive}.",
        },
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
    "required": ["value", "was", "reason"],
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
_LAW: dict[str, Any] = {
    "type": "array",
    "items": {
        "type": "object",
        "additionalProperties": False,
        "required": ["what", "source", "status"],
        "properties": {"what": {"type": "string", "minLength": 5}, "source": SOURCE, "status": STATUS},
    },
}
_LISTED = {
    "type": "array",
    "items": {
        **_LAW["items"],
        "properties": {
            **_LAW["items"]["properties"],
            "key": {
                "enum": [
                    "afb",
                    "efb",
                    "chalkbrood",
                    "sacbrood",
                    "stonebrood",
                    "nosemosis",
                    "acarapis",
                    "braula",
                    "small_hive_beetle",
                    "tropilaelaps",
                    "varroa",
                    "wax_moth",
                    "exotic_bees",
                    "exotic_hornet",
                    "exotic_pests",
                    "losses",
                ],
                "description": "Which disease or pest it is, for the rules.",
            },
            "duty": {
                "enum": ["report", "record", "listed"],
                "description": "What the list asks: report each find (also where absent); tell that it is present, for the record; "
                "listed, with no duty to report each find read.",
            },
        },
    },
    "description": "Diseases and pests that must be told.",
}
JURISDICTION = (
    "hiveweek jurisdiction",
    {
        "type": "object",
        "additionalProperties": False,
        "required": ["jurisdiction", "name", "checked", "note"],
        "properties": {
            "jurisdiction": {"type": "string", "pattern": NAME, "description": "The same as the file's name."},
            "name": {"type": "string"},
            "place": {"type": "string", "description": "What it covers, in words."},
            "version": {"type": "integer", "minimum": 1},
            "checked": {**DATE, "description": "The day on which the law was last looked up."},
            "note": {"type": "string"},
            "tell": {"type": "string", "description": "Whom to tell of a disease."},
            "list_read": {
                "enum": ["whole", "part", "none"],
                "description": "Whether the list of what must be reported was read whole: only then is what it lacks known not "
                "to be listed.",
            },
            "sample": {
                "enum": ["call_first"],
                "description": "A sample is sent only after the authority was spoken to.",
            },
            "moves": {
                "enum": ["ask_first"],
                "description": "A move wants a certificate, a permit or a notice first.",
            },
            "mites_treated": {
                "enum": ["duty"],
                "description": "Every colony is treated against varroa by law, whatever a count says.",
            },
            "frames": {
                "enum": ["movable"],
                "description": "Bees are kept on combs that can be lifted.",
            },
            "notifiable": _LISTED,
            "movement": {**_LAW, "description": "What the law says of moving bees."},
            "records": {**_LAW, "description": "What must be written down."},
            "duties": {**_LAW, "description": "What else the law asks."},
            "registered_actives": {
                "type": "array",
                "description": "Active ingredients that may be used against mites.",
                "items": {
                    "type": "object",
                    "additionalProperties": False,
                    "required": ["active", "source", "status"],
                    "properties": {
                        "active": {"type": "string"},
                        "source": SOURCE,
                        "status": STATUS,
                        "note": {"type": "string"},
                    },
                },
            },
            "registered_note": {"type": "string"},
            **LAYERED,
        },
    },
)
_ACTIONS = {"type": "array", "items": ref("action")}
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
        "except": _ACTIONS,
        "when": {"$ref": "#/$defs/condition"},
        "for": {"type": "object", "minProperties": 2, "maxProperties": 2},
        "at": {"type": "string"},
        "effect": {
            "anyOf": [
                {"enum": ["stop", "day"]},
                {
                    "type": "object",
                    "additionalProperties": False,
                    "required": ["first"],
                    "properties": {"first": {**_ACTIONS, "minItems": 1}},
                },
            ]
        },
        "if_unknown": {"enum": ["ask", "check", "pass"]},
        "instead": _ACTIONS,
        "spares": {
            "type": "object",
            "additionalProperties": False,
            "required": ["actions", "where", "say"],
            "description": "Actions it leaves alone where a condition is known to hold.",
            "properties": {
                "actions": {**_ACTIONS, "minItems": 1},
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
SAFETY = (
    "hiveweek prohibitions",
    {
        "type": "object",
        "additionalProperties": False,
        "required": ["prohibitions"],
        "properties": {
            "version": {"type": "integer"},
            "note": {"type": "string"},
            "limits": LIMITS,
            "prohibitions": {"type": "array", "items": PROHIBITION},
        },
    },
)
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
                "additionalProperties": {**_ACTIONS, "minItems": 1},
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
TREATMENTS = (
    "hiveweek treatment options",
    {
        "type": "object",
        "additionalProperties": False,
        "required": ["options"],
        "properties": {
            "version": {"type": "integer"},
            "note": {"type": "string"},
            "limits": LIMITS,
            "options": {
                "type": "array",
                "items": {
                    "type": "object",
                    "additionalProperties": False,
                    "required": ["id", "active", "form", "because", "safety", "source", "bars"],
                    "properties": {
                        "id": {"type": "string", "pattern": NAME},
                        "active": {"type": "string"},
                        "form": {"type": "string"},
                        "because": {"type": "string"},
                        "length": {"type": "string"},
                        "withdrawal": {"type": "string"},
                        "safety": {"type": "string"},
                        "source": SOURCE,
                        "evidence": {"type": "string"},
                        "status": STATUS,
                        "note": {"type": "string"},
                        "bars": {
                            "type": "array",
                            "items": {
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
                            mapping({}, propertyNames=ref("fact"), minProperties=1),
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


def schemas(definitions: dict) -> dict[str, dict]:
    """Return the schemas by kind."""
    defined = {**definitions, "rule": RULE}
    kinds = {
        "ruleset": RULESET,
        "overlay": OVERLAY,
        "jurisdiction": JURISDICTION,
        "safety": SAFETY,
        "treatments": TREATMENTS,
        "order": ORDER,
        "troubles": TROUBLES,
        "late": LATE,
    }
    return {"numbers": NUMBERS, **{kind: file(title, body, defined) for kind, (title, body) in kinds.items()}}

"""The shape of the file of calendars of regions, as a JSON Schema."""

from __future__ import annotations

from hiveweek.shapes.names import NAME
from upkeep.schemas.numbers import SOURCE, STATUS

TASKS = (
    "feed",
    "treat",
    "oxalic",
    "super",
    "harvest",
    "take",
    "swarm_look",
    "queen_look",
    "unite",
    "narrow",
    "widen",
    "guard",
)
DAY = {"type": "string", "pattern": r"^(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])$"}
KG = {"type": "number", "minimum": 0, "maximum": 60}
TASK = {
    "type": "object",
    "additionalProperties": False,
    "required": ["do"],
    "oneOf": [{"required": ["on"]}, {"required": ["from", "to", "every"]}],
    "properties": {
        "on": {**DAY, "description": "Month and day."},
        "from": DAY,
        "to": DAY,
        "every": {"type": "integer", "minimum": 1, "maximum": 60, "description": "Days from one to the next."},
        "do": {"enum": list(TASKS)},
        "with": {"enum": ["formic", "thymol", "amitraz"], "description": "Active ingredient of a course."},
        "under_kg": {**KG, "description": "Fed where there is less."},
        "to_kg": {**KG, "description": "Fed up to so much."},
        "added": {"const": True, "description": "Not printed by this region; from the nearest that does."},
    },
}
WEEKS = {"type": "object", "additionalProperties": {"type": "integer", "minimum": 1, "maximum": 52}}
LOOKS = {**WEEKS, "propertyNames": {"$ref": "#/$defs/action"}}
BY_TASK = {"type": "object", "additionalProperties": False, "required": list(TASKS)}
CALENDARS = {
    "$schema": "https://json-schema.org/draft/2020-12/schema",
    "title": "hiveweek calendars",
    "type": "object",
    "additionalProperties": False,
    "required": [
        "minutes",
        "opens",
        "calendars",
        "climates",
        "late_summer",
        "looks",
        "asked",
        "asked_sooner",
        "nucleus",
        "supers_back",
        "kinds",
    ],
    "properties": {
        "minutes": {**BY_TASK, "properties": {task: {"type": "number", "minimum": 0} for task in TASKS}},
        "opens": {**BY_TASK, "properties": {task: {"enum": ["nothing", "lid", "frames"]} for task in TASKS}},
        "calendars": {
            "type": "object",
            "propertyNames": {"pattern": NAME},
            "additionalProperties": {
                "type": "object",
                "additionalProperties": False,
                "required": ["region", "source", "tasks"],
                "properties": {
                    "region": {"type": "string", "minLength": 1},
                    "source": SOURCE,
                    "tasks": {"type": "array", "minItems": 1, "items": TASK},
                },
            },
        },
        "climates": {
            "type": "object",
            "additionalProperties": {
                "type": "object",
                "additionalProperties": False,
                "required": ["calendar"],
                "properties": {
                    "calendar": {"type": "string", "pattern": NAME},
                    "nearest": {"const": True, "description": "The calendar is that of the nearest region with one."},
                },
            },
        },
        "late_summer": {
            "type": "object",
            "additionalProperties": False,
            "required": ["north", "south"],
            "properties": {"north": DAY, "south": DAY},
        },
        "looks": {
            "type": "object",
            "additionalProperties": False,
            "required": ["few", "all"],
            "properties": {"few": LOOKS, "all": LOOKS},
        },
        "asked": {**WEEKS, "required": ["few", "all"]},
        "asked_sooner": {"type": "object", "additionalProperties": WEEKS, "propertyNames": {"$ref": "#/$defs/action"}},
        "nucleus": {"$ref": "#/$defs/action"},
        "supers_back": {**WEEKS, "required": ["ahead_weeks", "still_weeks"]},
        "kinds": {
            "type": "object",
            "additionalProperties": {"type": "array", "minItems": 1, "items": {"$ref": "#/$defs/action"}},
        },
    },
}
MEASURES = (
    "rate",
    "factor",
    "ratio",
    "median",
    "peak",
    "peak_day",
    "weight",
    "first_gain",
    "honey",
    "honey_ratio",
    "loss",
    "loss_where",
    "loss_ratio",
    "quarter",
    "life",
    "odds",
)
FIGURE = {
    "type": "object",
    "additionalProperties": False,
    "required": ["id", "what", "climate", "keeper", "measure", "low", "high", "within", "source", "status"],
    "properties": {
        "id": {"type": "string", "pattern": r"^[a-z0-9]+(-[a-z0-9]+)*$"},
        "what": {"type": "string", "minLength": 5},
        "climate": {"type": "string", "pattern": NAME},
        "keeper": {"enum": ["calendar", "untreated", "unfed", "ordinary"]},
        "measure": {"enum": list(MEASURES)},
        "of": {"enum": ["bees", "cells", "mites", "per_100", "stores"]},
        "at": DAY,
        "to": DAY,
        "low": {"type": "number"},
        "high": {"type": "number"},
        "low_mites": {"type": "number"},
        "high_mites": {"type": "number"},
        "heavy_kg": KG,
        "strong": {"const": True},
        "quarter": {"enum": [1, 2, 3, 4]},
        "treating": {"type": "number", "exclusiveMinimum": 0, "exclusiveMaximum": 1},
        "within": {"type": "string", "minLength": 5, "description": "How the interval came about."},
        "source": SOURCE,
        "status": STATUS,
        "fitted": {"const": True, "description": "The world was set by it: not counted among those held apart."},
        "explained": {"type": "string", "minLength": 10, "description": "Why it comes out elsewhere."},
    },
}
FIGURES = {
    "$schema": "https://json-schema.org/draft/2020-12/schema",
    "title": "hiveweek figures",
    "type": "object",
    "additionalProperties": False,
    "required": ["figures"],
    "properties": {"figures": {"type": "array", "minItems": 1, "items": FIGURE}},
}

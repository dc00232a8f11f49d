"""The shape of vocabulary and scenario files, as JSON Schemas: editors complete and explain from them.

``python -m hiveweek.vocabulary.schema`` writes the files under ``schemas/``; a test holds them current.
"""

from __future__ import annotations

import json
from pathlib import Path

from hiveweek import vocabulary
from hiveweek.vocabulary import loader
from hiveweek.vocabulary.events import EVENTS
from hiveweek.vocabulary.model import Fact, Vocabulary

FOLDER = Path(__file__).resolve().parent.parent / "schemas"
DRAFT = "https://json-schema.org/draft/2020-12/schema"
TEXT = {"type": "string", "minLength": 1}
WORDS = {"type": "array", "items": TEXT, "uniqueItems": True}
DATE = {"type": "string", "pattern": r"^\d{4}-\d{2}-\d{2}$", "description": "A date like 2026-02-10."}
MONTH_DAY = {"type": "string", "pattern": r"^\d{2}-\d{2}$", "description": "Month and day like 04-15."}


def facts_schema() -> dict:
    """Return the schema of ``vocabulary/facts/*.yaml``."""
    number = {"type": "number"}
    scope = {
        "enum": list(loader.FACT_SCOPES),
        "description": "Whose it is: each hive's own; the apiary's, stated once; given by the calendar; counted over the "
        "hives. At the top of a file: of every fact that has none.",
    }
    fact = {
        "type": "object",
        "additionalProperties": False,
        "required": ["kind", "comes_from", "label", "how"],
        "properties": {
            "kind": {"enum": list(loader.KINDS), "description": "What kind of value it takes."},
            "unit": {**TEXT, "description": "Unit of a number."},
            "values": {**WORDS, "minItems": 2, "description": "Words of a one_of, in order."},
            "low": {**number, "description": "Lowest value that is no slip of the pen."},
            "high": {**number, "description": "Highest value that is no slip of the pen."},
            "comes_from": {"enum": list(loader.ORIGINS), "description": "Seen, set once, of the place, or worked out."},
            "keeps": {
                "type": "integer",
                "minimum": 0,
                "description": "Days after which an observation no longer counts as known.",
            },
            "label": {**TEXT, "description": "What it is, for people."},
            "how": {**TEXT, "description": "How to observe it, in one line."},
            "note": TEXT,
            "voided_by": {**WORDS, "description": "Acts after which an older observation no longer counts."},
            "observed_by": {
                "type": "array",
                "items": {**WORDS, "minItems": 1},
                "description": "Sets of observations that would give it.",
            },
            "stands": {"type": "array", "description": "Values that count until the hive is cleared."},
            "days_since": {
                **WORDS,
                "description": "Counts days since these facts; 'observed' means any observed fact.",
            },
            "ahead": {"type": "boolean", "description": "A date that may lie in the future."},
            "scope": scope,
            "day": {"enum": [word for word in loader.DAY if word], "description": "What of a single day it bounds."},
            "needed_to_open": {"type": "boolean", "description": "A job that opens a hive needs it of its day."},
            "until": {**TEXT, "description": "The date fact that ends it."},
            "groups": {
                "type": "object",
                "additionalProperties": WORDS,
                "description": "Words of a one_of that belong together, by a name.",
            },
        },
    }
    return _file(
        "Facts of the vocabulary", {"facts": {"type": "object", "additionalProperties": fact}}, {"scope": scope}
    )


def actions_schema(words: Vocabulary | None = None) -> dict:
    """Return the schema of ``vocabulary/actions.yaml``."""
    words = words or vocabulary.load()
    names = {"type": "array", "uniqueItems": True, "items": {"enum": sorted(words.actions)}}
    action = {
        "type": "object",
        "additionalProperties": False,
        "required": ["label", "opens"],
        "properties": {
            "label": {**TEXT, "description": "What to do, for people."},
            "opens": {"enum": list(loader.OPENS), "description": "What it disturbs."},
            "clashes": {
                **names,
                "description": "Actions that must not stand in the same week's plan for one hive; holds both ways.",
            },
            "observes": {
                "type": "array",
                "uniqueItems": True,
                "items": {"enum": sorted(words.facts)},
                "description": "What doing it tells.",
            },
            "uses": {**WORDS, "description": "Tags for prohibitions: smoke, medicine, acid, sugar, lift."},
            "moves": {
                **WORDS,
                "description": "What goes from hive to hive, in or out: frames, bees, queen, honey, box, hive.",
            },
            "minutes": {"type": "number", "minimum": 0, "description": "Usual time for one hive."},
            "kit": {"type": "array", "uniqueItems": True, "items": {"enum": sorted(words.kit)}},
            "scope": {"enum": list(loader.SCOPES), "description": "apiary: done once for the whole yard."},
            "dead_ok": {"type": "boolean", "description": "Makes sense at a hive whose colony is dead."},
            "at_home": {"type": "boolean", "description": "Done away from the hives."},
            "any_day": {"type": "boolean", "description": "Does not wait for a fit day, though it opens a hive."},
            "dry_hour": {"enum": list(loader.DRY_HOURS), "description": "What one dry hour of a week of rain is for."},
            "treats": {"type": "boolean", "description": "Done with one of the treatments by active ingredient."},
            "plans": {"enum": sorted(words.actions), "description": "What it prepares where that cannot be done yet."},
            "leaves_closed": {"type": "boolean", "description": "Says that nothing is worth opening a hive for."},
            "safety": TEXT,
            "note": TEXT,
        },
    }
    return _file("Actions of the vocabulary", {"actions": {"type": "object", "additionalProperties": action}})


def scenario_schema(words: Vocabulary | None = None) -> dict:
    """Return the schema of a scenario file."""
    words = words or vocabulary.load()
    shapes = {name: fact_schema(fact) for name, fact in words.facts.items()}
    every = {name: {"$ref": f"#/$defs/{name}"} for name in shapes}
    seen = {name: shape for name, shape in every.items() if words.facts[name].comes_from != "computed"}
    actions = {"type": "array", "items": {"enum": sorted(words.actions)}}
    actives = {"type": "array", "items": {"enum": [w for w in words.facts["mites.last_active"].values if w != "none"]}}
    phases = {"enum": list(words.facts["season.phase"].values)}
    yard_expect = {
        "includes": actions,
        "excludes": actions,
        "includes_any": {"type": "array", "items": actions},
        "note": TEXT,
    }
    hive_expect = {
        **yard_expect,
        "top": {**actions, "description": "The first-ranked action is one of these."},
        "treatments": _shape({"allowed": actives, "barred": actives}),
        "looks_first": {"type": "array", "items": {"enum": sorted(words.facts)}},
        "phase": {"anyOf": [phases, {"type": "array", "items": phases}]},
        **{key: {"type": "array", "items": TEXT} for key in ("fires", "not_fires", "undecided")},
    }
    dated = {"type": "array", "items": _shape({"date": DATE, "note": TEXT, **seen}, ["date"])}
    yard = {k: v for k, v in every.items() if words.facts[k].scope == "apiary"}
    yard_dated = {
        "type": "array",
        "items": _shape({"date": DATE, "note": TEXT, **{k: v for k, v in yard.items() if k in seen}}, ["date"]),
    }
    hive = _shape(
        {
            "id": {"type": ["string", "number", "boolean"], "description": "As written; NO and 012 stay text."},
            "facts": _shape(every),
            "observed": dated,
            "expect": _shape(hive_expect),
            "note": TEXT,
        },
        ["id"],
    )
    coordinates = {
        "lat": {"type": "number", "minimum": -90, "maximum": 90},
        "lon": {"type": "number", "minimum": -180, "maximum": 180},
        "elev_m": {"type": "number", "minimum": -500, "maximum": 9000},
    }
    moved = _shape({"from": MONTH_DAY, "to": MONTH_DAY, "note": TEXT}, ["from", "to", "note"])
    return {
        "$schema": DRAFT,
        "title": "One apiary at one date",
        **_shape(
            {
                "scenario": {**TEXT, "description": "Title."},
                "source": {
                    "anyOf": [TEXT, {"type": "array", "items": TEXT}],
                    "description": "Where the expectation is published.",
                },
                "reason": {**TEXT, "description": "Why it is expected."},
                "climate": {
                    "anyOf": [
                        TEXT,
                        _shape({"normals": TEXT, "about": TEXT, **coordinates}, ["normals", "lat", "lon", "elev_m"]),
                    ],
                    "description": "Profile id, or a CSV of normals with its place.",
                },
                "date": {**DATE, "description": "The day of the looks, and of the answer unless --date moves it."},
                "jurisdiction": TEXT,
                "rulesets": {
                    "type": "array",
                    "items": TEXT,
                    "description": "Overlays of the author or the apiary, as paths from this file.",
                },
                "apiary": _shape(
                    {
                        "name": TEXT,
                        "site": _shape(yard),
                        "observed": yard_dated,
                        **coordinates,
                        "note": TEXT,
                        "overrides": _shape(dict.fromkeys(EVENTS, moved)),
                    }
                ),
                "hives": {"type": "array", "minItems": 1, "items": hive},
                "expect": _shape(yard_expect),
                "note": TEXT,
            },
            ["climate", "date", "hives"],
        ),
        "$defs": shapes,
    }


def fact_schema(fact: Fact) -> dict:
    """Return the schema of one fact's value; null says that it is not known."""
    words = f"{fact.label}. {fact.how}."
    if fact.unit:
        words += f" Unit: {fact.unit}."
    if fact.kind in ("number", "integer"):
        return {"type": [fact.kind, "null"], "minimum": fact.low, "maximum": fact.high, "description": words}
    if fact.kind == "yes_no":
        return {"type": ["boolean", "null"], "description": words}
    if fact.kind == "one_of":
        return {"enum": [*fact.values, None], "description": words}
    if fact.kind == "date":
        return {"anyOf": [DATE, {"type": "null"}], "description": words}
    return {"type": ["string", "null"], "description": words}


def _shape(properties: dict, required: list[str] | None = None) -> dict:
    found = {"type": "object", "additionalProperties": False, "properties": properties}
    return {**found, "required": required} if required else found


def _file(title: str, block: dict, also: dict | None = None) -> dict:
    return {
        "$schema": DRAFT,
        "title": title,
        **_shape({"about": {"type": "object"}, **(also or {}), **block}, list(block)),
    }


def texts() -> dict[str, str]:
    """Return the text of each schema file by its name."""
    made = {"facts": facts_schema(), "actions": actions_schema(), "scenario": scenario_schema()}
    return {
        f"{name}.schema.json": json.dumps(schema, indent=1, ensure_ascii=False) + "\n" for name, schema in made.items()
    }


def write() -> list[Path]:
    """Write the schema files; return their paths."""
    paths = []
    for name, text in texts().items():
        path = FOLDER / name
        path.write_text(text, encoding="utf-8")
        paths.append(path)
    return paths


if __name__ == "__main__":
    for made in write():
        print(made.name)

"""Schema of a scenario file."""

from __future__ import annotations

from hiveweek.vocabulary.definitions import DATE, value
from hiveweek.vocabulary.events import EVENTS
from hiveweek.vocabulary.model import Vocabulary
from upkeep.schemas.parts import DRAFT, TEXT
from upkeep.schemas.parts import shape as _shape

MONTH_DAY = {"type": "string", "pattern": r"^\d{2}-\d{2}$", "description": "Month and day like 04-15."}


def schema(words: Vocabulary) -> dict:
    """Return the schema of a scenario file."""
    shapes = {name: value(fact) for name, fact in words.facts.items()}
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

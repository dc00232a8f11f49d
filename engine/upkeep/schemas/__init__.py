"""The schema files, written from the vocabulary and from what stands here: one for each kind of content file.

``python -m upkeep.schemas`` writes them under ``engine/hiveweek/schemas/``; readers and editors use those files, and a test
holds them current.
"""

from __future__ import annotations

import json
from pathlib import Path

from hiveweek import vocabulary
from hiveweek.facts.reading import shipped
from hiveweek.shapes import FOLDER
from hiveweek.vocabulary.definitions import choice, definitions, entry_definitions
from upkeep.schemas import authoring, climate, courses, ranking, records, rules, scenario, words, worth
from upkeep.schemas.parts import CONDITION


def schemas() -> dict[str, dict]:
    """Return the schema of each kind of file."""
    known = vocabulary.load()
    defined = {
        "condition": CONDITION,
        **definitions(known),
        **entry_definitions(known),
        "profile": choice("profile", shipped("climate_profiles")),
        "jurisdiction": choice("jurisdiction", shipped("rulesets/jurisdictions")),
    }
    return {
        **rules.schemas(defined),
        **climate.schemas(),
        **words.schemas(defined),
        **courses.schemas(defined),
        **scenario.schemas(defined),
        **ranking.schemas(defined),
        **authoring.schemas(defined),
        **records.schemas(defined),
        "calendars": {**worth.CALENDARS, "$defs": {"action": defined["action"]}},
        "figures": worth.FIGURES,
    }


def texts() -> dict[str, str]:
    """Return the text of each schema file by its name."""
    return {
        f"{kind}.schema.json": json.dumps(schema, indent=1, ensure_ascii=False) + "\n"
        for kind, schema in schemas().items()
    }


def write() -> list[Path]:
    """Write the schema files; return their paths."""
    FOLDER.mkdir(exist_ok=True)
    made = []
    for name, text in texts().items():
        made.append(FOLDER / name)
        made[-1].write_text(text, encoding="utf-8")
    return made

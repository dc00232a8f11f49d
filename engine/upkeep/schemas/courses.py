"""Schema of the courses of mite treatment, and of what else lies in a hive for some days."""

from __future__ import annotations

from hiveweek.vocabulary.courses import NOT_BESIDE
from upkeep.schemas.numbers import STATUS
from upkeep.schemas.parts import TEXT, WORDS, block, mapping, ref, rows, shape

DAY_OF_COURSE = {"type": "integer", "minimum": 0, "maximum": 200, "unit": "days"}
STEP_KEYS = {
    "from": {**DAY_OF_COURSE, "description": "Not before this day."},
    "to": {**DAY_OF_COURSE, "description": "By this day."},
    "source": WORDS,
    "status": STATUS,
    "note": {**TEXT, "description": "What other publishers say, and which end the rules use."},
}
STEP = shape(STEP_KEYS, ["from", "to", "source", "status"])
TELLS = shape(  # where nothing of them was seen since
    {**STEP_KEYS, "facts": ref("values", type="object"), "unless_seen": ref("fact"), "after": DAY_OF_COURSE},
    ["from", "to", "facts", "source", "status"],
)
AGAIN = shape(
    {"after": {"enum": ["in", "out"], "description": "What the days count from."}, **STEP_KEYS},
    ["after", "from", "to", "source", "status"],
)
COURSE = shape(
    {
        "label": {**TEXT, "description": "What lies in, for people."},
        "active": ref("active"),
        "forms": {"type": "array", "minItems": 1, "uniqueItems": True, "items": ref("form")},
        "usual": {"type": "boolean", "description": "Meant where the form is not known."},
        "spent": {
            "type": "boolean",
            "description": "After its last day nothing works any more, also where it was not taken out.",
        },
        "one_day": {"type": "boolean", "description": "Given on a day; nothing stays in the hive."},
        "doses": rows(STEP, minItems=1, description="The second dose and those after it."),
        "move": {**STEP, "description": "Strips go to where the bees now sit."},
        "out": {**STEP, "description": "What lies in comes out."},
        "eggs": {**AGAIN, "description": "Look for eggs."},
        "count": {**AGAIN, "description": "Mites are counted again."},
        "honey": {**AGAIN, "description": "Supers for people's honey may go on again."},
        "not_beside": {
            "type": "array",
            "minItems": 1,
            "uniqueItems": True,
            "items": {"enum": list(NOT_BESIDE)},
            "description": "What must not be done while it lies in: feed of any kind, syrup, taking combs out before its first day out.",
        },
        "beside": shape(
            {
                **dict.fromkeys(("feed", "supers", "entrance", "stop", "expect"), TEXT),
                "source": WORDS,
                "status": STATUS,
            },
            ["source", "status"],
        ),
        "failed_next": {"type": "array", "uniqueItems": True, "items": ref("active")},
    },
    ["label", "active", "forms", "count"],
)


def schemas(definitions: dict) -> dict[str, dict]:
    """Return the schema by its kind."""
    return {
        "courses": block(
            "Courses of mite treatment, step by step",
            definitions,
            courses=mapping(COURSE),
            left=mapping(
                shape(
                    {
                        "label": TEXT,
                        "fact": ref("fact", description="The day it went in."),
                        "next": STEP,
                        "say": {**TEXT, "description": "What to do, with {first} and {last} for the days."},
                        "ended_on": ref("fact", description="A later day in this fact says that it is out."),
                        "tells": TELLS,
                    },
                    ["label", "fact", "next", "say"],
                ),
                description="What else lies in a hive for some days.",
            ),
            not_known=shape({"count": AGAIN}, ["count"]),
        )
    }

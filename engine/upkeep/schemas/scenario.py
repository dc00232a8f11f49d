"""Schemas of a scenario file and of a file of cases."""

from __future__ import annotations

from hiveweek.vocabulary.definitions import DATE
from upkeep.schemas.parts import NOTE, NUMBER, OVERRIDES, PLACE, TEXT, file, mapping, names, ref, rows, shape

# What scenarios to practise on train: the eight factors of wintering, then the other work of the year.
TOPICS = [
    "site",
    "insulation",
    "strength",
    "food",
    "damp",
    "winter-checks",
    "space",
    "mites",
    "spring",
    "swarming",
    "harvest",
    "queens",
    "disease",
    "robbing",
    "heat",
]


def _some(of: str, **more) -> dict:
    return {**more, "anyOf": [ref(of), {"type": "array", "items": ref(of)}]}


def _by_action(of: dict, **more) -> dict:
    return mapping(of, propertyNames=ref("action"), **more)


_YARD_EXPECT = {
    "includes": _some("action", description="Must be advised this week."),
    "excludes": _some("action", description="Must not be advised."),
    "includes_any": rows(_some("action"), description="At least one of each group."),
    "note": NOTE,
}
_HIVE_EXPECT = {
    **_YARD_EXPECT,
    "top": _some("action", description="The first-ranked action is one of these."),
    "treatments": shape({"allowed": _some("active"), "barred": _some("active"), "open": _some("active")}),
    "looks_first": _some("fact", description="Some look must observe it."),
    "phase": _some("phase"),
    "by": _by_action(
        {"type": "array", "minItems": 2, "maxItems": 2, "items": DATE},
        description="The day by which it is to begin lies in these days, the first and the last among them.",
    ),
    "amount": _by_action(
        {"type": "array", "minItems": 2, "maxItems": 2, "items": NUMBER},
        description="The first quantity of its amount, in the metric unit it is said in, lies between these.",
    ),
    "band": _by_action({"type": "integer", "minimum": 0}, description="Its band: 0 is law and people."),
    "order": {**names("action"), "minItems": 2, "description": "All of these are advised, in this order."},
    "withheld": _some("action", description="Is not advised, and the answer says why."),
    "noted": _some("fact", description="The answer says what the noted value means."),
    "text_lacks": {
        "anyOf": [TEXT, rows(TEXT)],
        "description": "Words that nothing said of this hive holds, upper or lower case.",
    },
    **{key: rows(TEXT, description="Rule ids.") for key in ("fires", "not_fires", "undecided")},
}


def _expect(keys: dict) -> dict:
    return shape(keys, type=["object", "null"])


_RECORD = {"type": ["array", "null"], "items": ref("entry"), "description": "Dated entries: seen, set, done, answered."}
_FACTS_ON = {**DATE, "description": "The day on which the facts were seen, where that is another than the file's date."}
_HIVE = {
    "id": {
        "type": ["string", "number", "boolean"],
        "description": "As written; NO and 012 stay text.",
        "errorMessage": "a text",
    },
    "facts": ref("values"),
    "observed": {"type": ["array", "null"], "items": ref("look"), "description": "Dated looks and changes."},
    "record": _RECORD,
    "facts_on": _FACTS_ON,
    "expect": _expect(_HIVE_EXPECT),
    "note": NOTE,
}
_CLIMATE = shape(
    {
        "normals": {**TEXT, "description": "A CSV of monthly normals."},
        "about": TEXT,
        **{key: {**place, "type": "number"} for key, place in PLACE.items()},
    },
    ["normals", "lat", "lon", "elev_m"],
)
_APIARY = shape(
    {
        "name": NOTE,
        "site": ref("yard"),
        "observed": {"type": ["array", "null"], "items": ref("yard_look")},
        "record": _RECORD,
        **PLACE,
        "note": NOTE,
        "overrides": OVERRIDES,
    },
    type=["object", "null"],
    dependentRequired={"lat": ["lon"], "lon": ["lat"]},
)
_PRESET = {"type": ["string", "null"], "description": "A preset of this file; what is given here counts before it."}


_LESSON = shape(
    {
        "id": {
            "type": "string",
            "pattern": r"^[a-z0-9]+(-[a-z0-9]+)*$",
            "description": "Permanent, once in all files.",
            "errorMessage": "small letters, digits and dashes",
        },
        "topic": {"enum": TOPICS, "noun": "topic", "description": "What it trains."},
        "story": {**TEXT, "description": "What happened, in a keeper's words."},
        "hive": {**TEXT, "description": "The hive that is asked about; the first one without it."},
        "found": mapping(ref("values"), type=["object", "null"], description="By hive: what looks find."),
        "then": mapping(
            _expect(_HIVE_EXPECT),
            type=["object", "null"],
            description="By hive: what the answer should hold once all of it is found.",
        ),
        "debrief": {**TEXT, "description": "What to learn from it."},
        "against": _by_action(
            TEXT, type=["object", "null"], description="By action, why it must not be done here; of those excluded."
        ),
        "aside": _by_action(
            TEXT,
            type=["object", "null"],
            description="By action, why it is not this week's job where the story tempts to it; it does no harm.",
        ),
        "read": rows(TEXT, minItems=1, description="Keys of vocabulary/sources.yaml."),
    },
    ["id", "topic", "story", "debrief", "read"],
    description="What makes a scenario one to practise on.",
)


def _scenario(hive: dict) -> dict:
    return {
        "scenario": {**NOTE, "description": "Title."},
        "source": {
            "anyOf": [NOTE, {"type": "array", "items": TEXT}],
            "description": "Where the expectation is published.",
        },
        "reason": {**NOTE, "description": "Why it is expected."},
        "climate": {
            "anyOf": [ref("profile"), _CLIMATE],
            "description": "Profile id, or a CSV of normals with its place.",
        },
        "date": {
            **DATE,
            "description": "The day of the looks, and of the answer unless --date moves it, as in 'date: 2026-02-10'.",
        },
        "facts_on": _FACTS_ON,
        "jurisdiction": {"anyOf": [ref("jurisdiction"), {"type": "null"}]},
        "rulesets": {
            "type": ["array", "null"],
            "items": TEXT,
            "description": "Overlays of the author or the apiary, as paths from this file.",
        },
        "apiary": _APIARY,
        "hives": {
            "type": "array",
            "minItems": 1,
            "items": shape(hive, ["id"]),
            "errorMessage": "a list of hives, each with its id",
        },
        "expect": _expect(_YARD_EXPECT),
        "note": NOTE,
    }


def schemas(definitions: dict) -> dict[str, dict]:
    """Return the schemas by kind."""
    case = shape(
        {
            **_scenario({**_HIVE, "like": _PRESET}),
            "rule": {**NOTE, "description": "The rule that it tries."},
            "like": _PRESET,
            "facts": ref("values"),
            "lesson": _LESSON,
        },
        ["climate", "date"],
        anyOf=[{"required": [key]} for key in ("hives", "facts", "like")],
    )
    preset = shape({"facts": ref("values"), "note": NOTE})
    return {
        "scenario": file("One apiary at one date", shape(_scenario(_HIVE), ["climate", "date", "hives"]), definitions),
        "cases": file(
            "Cases that try rules",
            shape(
                {
                    "about": {"type": ["object", "null"]},
                    "hives": mapping(preset, type=["object", "null"], description="Presets that cases share."),
                    "cases": rows(case, minItems=1),
                },
                ["cases"],
            ),
            definitions,
        ),
    }

"""Schemas of the vocabulary: facts, actions, acts, kit, sources, implications, constraints."""

from __future__ import annotations

from hiveweek.vocabulary.loader import ACT_SIGNS, AFTER, DAY, DRY_HOURS, FACT_SCOPES, KINDS, OPENS, ORIGINS, SCOPES
from upkeep.schemas.numbers import SOURCE, STATUS
from upkeep.schemas.parts import (
    IF_CONDITION,
    NOTE,
    NUMBER,
    TEXT,
    WORDS,
    block,
    file,
    mapping,
    names,
    ref,
    rows,
    shape,
)

GRADES = ["law", "label", "peer-reviewed", "standard", "institution", "association", "practice"]


def _no(said: str) -> dict:
    return {"not": {}, "errorMessage": said}


def _is(key: str, *words: str) -> dict:
    return {"properties": {key: {"enum": list(words)}}, "required": [key]}


SCOPE = {
    "enum": list(FACT_SCOPES),
    "description": "Whose it is: each hive's own; the apiary's, stated once; given by the calendar; counted over the hives. "
    "At the top of a file: of every fact that has none.",
}
FACT = {
    **shape(
        {
            "kind": {"enum": list(KINDS), "description": "What kind of value it takes."},
            "unit": {**TEXT, "description": "Unit of a number."},
            "values": {**WORDS, "minItems": 2, "description": "Words of a one_of, in order."},
            "low": {**NUMBER, "description": "Lowest value that is no slip of the pen."},
            "high": {**NUMBER, "description": "Highest value that is no slip of the pen."},
            "comes_from": {"enum": list(ORIGINS), "description": "Seen, set once, of the place, or worked out."},
            "keeps": {
                "type": "integer",
                "minimum": 0,
                "description": "Days after which an observation no longer counts as known.",
            },
            "label": {**TEXT, "description": "What it is, for people."},
            "how": {**TEXT, "description": "How to observe it, in one line."},
            "note": TEXT,
            "voided_by": names("act", description="Acts after which an older observation no longer counts."),
            "observed_by": {
                "type": "array",
                "items": names("fact", minItems=1),
                "description": "Sets of observations that would give it.",
            },
            "after": {
                "enum": list(AFTER),
                "description": "What becomes of it as it grows old: a model carries it on; some values stand until they are ended; "
                "some turn into others by the clock; or it fades, not known after `keeps` days.",
            },
            "stands": {"type": "array", "minItems": 1, "description": "Values that count until something ends them."},
            "ended_by": {
                **WORDS,
                "minItems": 1,
                "description": "What ends a value that stands: look (a later one at the same thing), acts, a date fact that names a "
                "later day, 'FACT = VALUE' seen later.",
            },
            "becomes": rows(
                shape(
                    {
                        "value": TEXT,
                        "after_days": {"type": "integer", "minimum": 1, "unit": "days"},
                        "to": {**TEXT, "description": "What it is then; not known again where absent."},
                        "then": mapping({}, propertyNames=ref("fact"), description="What other facts are then."),
                    },
                    ["value", "after_days"],
                ),
                minItems=1,
                description="How values turn into others by the clock.",
            ),
            "days_since": {
                "type": "array",
                "uniqueItems": True,
                "items": {"anyOf": [{"const": "observed"}, ref("fact"), ref("act")]},
                "description": "Counts days since these facts or acts; 'observed' means any observed fact.",
            },
            "days_of": shape(
                {"fact": ref("fact"), "is": {"type": "array", "minItems": 1, "description": "Values that count."}},
                ["fact", "is"],
                description="Counts days since a fact took one of these values, as first noted or anew by `days_since`; not known where it has another.",
            ),
            "counts_active": {
                **TEXT,
                "description": "A word of mites.last_active: counts the courses of it in the past twelve months.",
            },
            "part_of": shape(
                {"fact": ref("fact"), "rest": TEXT},
                ["fact", "rest"],
                description="The whole that it is the first part of, and what is said beside an amount where it is less.",
            ),
            "ahead": {"type": "boolean", "description": "A date that may lie in the future."},
            "scope": SCOPE,
            "day": {"enum": [word for word in DAY if word], "description": "What of a single day it bounds."},
            "needed_to_open": {"type": "boolean", "description": "A job that opens a hive needs it of its day."},
            "until": ref("fact", description="The date fact that ends it."),
            "groups": mapping(WORDS, description="Words of a one_of that belong together, by a name."),
        },
        ["kind", "comes_from", "label", "how"],
    ),
    "allOf": [
        {
            "if": _is("kind", "number"),
            "then": {"required": ["unit"], "errorMessage": "a number has a unit"},
        },
        {
            "if": _is("kind", "number", "integer"),
            "then": {"required": ["low", "high"], "errorMessage": "a number lies in a range"},
            "else": {"properties": dict.fromkeys(("unit", "low", "high"), _no("only numbers take unit, low and high"))},
        },
        {
            "if": _is("kind", "one_of"),
            "then": {"required": ["values"], "errorMessage": "name two or more"},
            "else": {"properties": {"values": _no("only a one_of takes values")}},
        },
        {
            "if": _is("comes_from", "observed"),
            "then": {
                "required": ["keeps", "after"],
                "errorMessage": "for how many days does an observation count, and what becomes of it after",
            },
            "else": {
                "properties": {
                    key: _no("only what is observed keeps for some days; the rest counts until changed")
                    for key in ("keeps", "after", "stands", "ended_by", "becomes")
                }
            },
        },
        {
            "if": _is("after", "stands"),
            "then": {"required": ["stands", "ended_by"], "errorMessage": "which values stand, and what ends them"},
            "else": {"properties": {key: _no("only of what stands") for key in ("stands", "ended_by")}},
        },
        {
            "if": _is("after", "becomes"),
            "then": {"required": ["becomes"], "errorMessage": "what turns into what"},
            "else": {"properties": {"becomes": _no("only of what becomes another")}},
        },
    ],
}
ACTION = shape(
    {
        "label": {**TEXT, "description": "What to do, for people."},
        "does": {**TEXT, "description": "What is done, in a sentence, for who has never done it."},
        "opens": {"enum": list(OPENS), "description": "What it disturbs."},
        "clashes": names(
            "action", description="Actions that must not stand in the same week's plan for one hive; holds both ways."
        ),
        "observes": names("fact", description="What doing it tells."),
        "uses": {**WORDS, "description": "Tags for prohibitions: smoke, medicine, acid, sugar, lift."},
        "moves": {
            **WORDS,
            "description": "What goes from hive to hive, in or out: frames, bees, queen, honey, box, hive.",
        },
        "minutes": {**NUMBER, "minimum": 0, "description": "Usual time for one hive."},
        "kit": names("kit"),
        "scope": {"enum": list(SCOPES), "description": "apiary: done once for the whole yard."},
        "dead_ok": {"type": "boolean", "description": "Makes sense at a hive whose colony is dead."},
        "at_home": {"type": "boolean", "description": "Done away from the hives."},
        "any_day": {"type": "boolean", "description": "Does not wait for a fit day, though it opens a hive."},
        "dry_hour": {"enum": list(DRY_HOURS), "description": "What one dry hour of a week of rain is for."},
        "treats": {"type": "boolean", "description": "Done with one of the treatments by active ingredient."},
        "plans": ref("action", description="What it prepares where that cannot be done yet."),
        "leaves_closed": {"type": "boolean", "description": "Says that nothing is worth opening a hive for."},
        "lasts": {"type": "boolean", "description": "Holds as long as its reason does, so it is never overdue."},
        "tells": {"type": "boolean", "description": "Told to those whom the law file of the place names for diseases."},
        "safety": TEXT,
        "note": TEXT,
    },
    ["label", "opens"],
)
IN_HIVE = shape(
    {
        "where": mapping(
            WORDS, propertyNames=ref("fact"), minProperties=1, description="Fact to the values with which it is so."
        ),
        "actions": names("action"),
        "say": {**TEXT, "description": "Said before the safety words of the job."},
        "source": SOURCE,
        "status": STATUS,
    },
    ["where", "actions", "say", "source", "status"],
)
_SIGN_KEYS = {"turns": ("to",), "event": ("to", "day"), "seen": ("to",)}
SIGN = {
    "description": "What in a hive's history says that the act was done.",
    "anyOf": [
        shape(
            {
                kind: ref("fact"),
                **{
                    key: ref("fact") if key == "day" else {"type": "array", "minItems": 1}
                    for key in _SIGN_KEYS.get(kind, ())
                },
            },
            [kind, *_SIGN_KEYS.get(kind, ())],
        )
        for kind in ACT_SIGNS
    ],
}
ACT = shape(
    {
        "label": TEXT,
        "same_day": {
            "enum": ["voids", "counts", "goes_on"],
            "description": "voids: what was seen on the day itself was seen before the act; goes_on: it counts on that day only.",
        },
        "signs": rows(SIGN, minItems=1),
    },
    ["label", "signs"],
)
SOURCE_ROW = shape(
    {
        "cite": {**TEXT, "description": "Author, year, title, publisher."},
        "where": {**TEXT, "description": "Where it can be read."},
        "note": TEXT,
        "grade": {"enum": GRADES},
        "status": STATUS,
    },
    ["cite"],
)
ANSWER = {
    **shape(
        {
            "values": {"type": "array", "minItems": 1, "description": "Values of the fact; none: any."},
            "when": IF_CONDITION,
            "say": {**TEXT, "description": "What it means, from when it would matter, when to look again."},
            "silent": {"const": True, "description": "Not worth a word there."},
            "source": {"anyOf": [WORDS, {"const": "judgement"}]},
            "status": STATUS,
            "note": TEXT,
        },
        ["source", "status"],
    ),
    "oneOf": [{"required": ["say"]}, {"required": ["silent"]}],
    "errorMessage": "say something, or be silent",
}
NOTED = shape(
    {
        "fact": ref("fact"),
        "silent": {"type": "array", "minItems": 1, "description": "Values as they should be, at any time of the year."},
        "answered_by": names("action", description="Jobs that answer it, besides those that rest on the fact."),
        "by_job_alone": {"type": "boolean", "description": "Only they do: many jobs rest on it that do not answer it."},
        "rows": rows(ANSWER, minItems=1, description="The first that holds decides."),
    },
    ["fact"],
)


REASON = shape(
    {
        "fact": ref("fact"),
        "values": {"type": "array", "minItems": 1, "description": "Values of the fact; none: any number."},
        "say": {**TEXT, "description": "A few words; {value} is the number with its unit."},
    },
    ["fact", "say"],
)


_SAYS = {
    "facts": ref("noted", description="Facts that are then known; =n is the number of a slot, =day the day itself."),
    "done": ref("action", description="What was done."),
    "details": mapping({"type": ["string", "number"]}, description="Details of what was done; =n is a slot's."),
    "remark": {"type": "boolean", "description": "Understood, and nothing to be known from it."},
}
PHRASE = shape(
    {
        "say": {**WORDS, "minItems": 1, "description": "Ways to write it: [x] may be left out, a|b, {slot}."},
        **_SAYS,
        "ask": rows(
            shape({"label": {**TEXT, "description": "The reading in words."}, **_SAYS}, ["label"]),
            description="Readings that are asked, never decided; none: other words are asked for.",
        ),
        "why": {**TEXT, "description": "Which sentence says what would tell more."},
        "joins": {"type": "boolean", "description": "May stand beside others without a comma."},
        "bare": {"type": "boolean", "description": "A thing named without a verb; a 'no' before may reach it."},
        "event": {"type": "boolean", "description": "Happened on a day of its own."},
        "form": {**TEXT, "description": "The way that is shown to note the fact with."},
        "example": {**NUMBER, "description": "A usual number in the form."},
    },
    ["say"],
    anyOf=[{"required": [key]} for key in ("facts", "done", "ask", "remark")],
)
_MORE = ("bring", "bring_after", "heads", "alternatives", "nothing")
_NOTED = {"type": ["string", "number", "boolean"]}
_FACTOR = {"type": "number", "exclusiveMinimum": 0}
PHRASES = {
    "about": {"type": "object"},
    "units": mapping(
        mapping({"anyOf": [_FACTOR, mapping(_FACTOR, minProperties=2)]}),
        description="What one of it is in kg or L; several readings are asked.",
    ),
    "numbers": mapping({"type": "number"}, description="Numbers in words."),
    "about_days": {
        "type": "integer",
        "minimum": 0,
        "description": "Days before and after that 'about' a day may mean.",
    },
    "slots": mapping(mapping(WORDS), description="Slot to value to its words."),
    "aliases": mapping(ref("fact"), description="Short names before '='."),
    **dict.fromkeys(
        ("before", "after", "idle", "about_number", "doubt", "elsewhere", "ahead", "negated", *_MORE), WORDS
    ),
    "together": rows(rows(ref("noted"), minItems=2, maxItems=2), description="What cannot both be so."),
    "youngest": mapping(
        mapping(ref("fact")), propertyNames=ref("fact"), description="Of several in one note the youngest counts."
    ),
    "phrases": rows(PHRASE, minItems=1),
}


def schemas(definitions: dict) -> dict[str, dict]:
    """Return the schemas by kind."""
    noted = {"id": TEXT, "note": {**TEXT, "description": "Why, for people."}}
    return {
        "facts": file(
            "Facts of the vocabulary",
            shape({"about": {"type": "object"}, "scope": SCOPE, "facts": mapping(FACT)}, ["facts"]),
            definitions,
        ),
        "actions": file(
            "Actions of the vocabulary",
            shape(
                {
                    "about": {"type": "object"},
                    "in_hive": rows(IN_HIVE, description="What is different about jobs in hives of a kind."),
                    "actions": mapping(ACTION),
                },
                ["actions"],
            ),
            definitions,
        ),
        "acts": block("Acts that make older observations worthless", definitions, acts=mapping(ACT)),
        "kit": file(
            "What to carry to the hives",
            shape(
                {
                    "about": {"type": "object"},
                    "kit": mapping(TEXT),
                    "usual": names("kit", description="Carried on every visit."),
                    "each": names("kit", description="Every hive needs its own."),
                    "measured": {
                        **mapping({"enum": ["L", "kg", "frames"]}, description="Taken by the amount of the job."),
                        "propertyNames": ref("kit"),
                    },
                    "left_at_home": mapping(
                        names("kit"), propertyNames=ref("fact"), description="Kit left behind while a fact holds."
                    ),
                },
                ["kit"],
            ),
            definitions,
        ),
        "phrases": file(
            "How keepers write what they saw and did",
            shape(PHRASES, list(PHRASES)),
            {**definitions, "noted": {"type": "object", "propertyNames": ref("fact"), "additionalProperties": _NOTED}},
        ),
        "sources": file("Where the figures were read", mapping(SOURCE_ROW, minProperties=1), definitions),
        "implies": block(
            "What an observation tells without being said",
            definitions,
            implies=rows(
                shape(
                    {**noted, "note": NOTE, "when": IF_CONDITION, "then": ref("values", type="object")},
                    ["id", "when", "then"],
                )
            ),
        ),
        "noted": block("What is said of noted values where nothing else answers them", definitions, noted=rows(NOTED)),
        "sheet": block(
            "Reasons in a few words, for the sheet of the week",
            definitions,
            reasons=rows(REASON),
            otherwise=rows(REASON),
        ),
        "constraints": block(
            "What cannot be together",
            definitions,
            constraints=rows(shape({**noted, "holds": IF_CONDITION}, ["id", "holds", "note"])),
        ),
    }

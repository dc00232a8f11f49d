"""Schemas of what authors and maintainers work with: areas, effects, the normal colony, stakes, retired ids, published figures."""

from __future__ import annotations

from hiveweek.authoring.normal import FORAGE_WINDOWS
from hiveweek.shapes.names import RULE_ID
from hiveweek.vocabulary.definitions import DATE
from hiveweek.vocabulary.effects import DETAIL_KINDS, SUGAR
from upkeep.schemas.numbers import PAIR, SOURCE, STATUS
from upkeep.schemas.parts import (
    IF_CONDITION,
    MONTH_DAY,
    NOTE,
    NUMBER,
    TEXT,
    block,
    file,
    mapping,
    names,
    ref,
    rows,
    shape,
)

SHARE = {"type": "number", "minimum": 0, "maximum": 1}
COUNT = {"type": "integer", "minimum": 0}
RULES = rows({"type": "string", "pattern": RULE_ID}, minItems=2)
AREA = shape(
    {
        "id": TEXT,
        "when": IF_CONDITION,
        "exactly_one_of": {**RULES, "description": "Rules of which one speaks, and one alone, where it holds."},
        "at_most_one_of": {**RULES, "description": "Rules of which no two speak together where it holds."},
    },
    ["id", "when"],
    oneOf=[{"required": ["exactly_one_of"]}, {"required": ["at_most_one_of"]}],
)
WORKED_DAY = shape(
    {
        "day": DATE,
        "title": TEXT,
        "before": {**TEXT, "description": "What the page says before the commands."},
        "commands": {
            **rows(TEXT),
            "description": "Commands of the keeper, without 'hiveweek'; of this day where they name none.",
        },
        "cards": {**rows(TEXT), "description": "Hives whose whole card stands on the page."},
        "after": {**TEXT, "description": "What the page says after the answers."},
    },
    ["day", "commands"],
)
EXCEPTION = shape(
    {
        "finding": {**TEXT, "description": "Key of the finding as the proof prints it."},
        "reason": TEXT,
        "until": {**DATE, "description": "The day it ends."},
    },
    ["finding", "reason", "until"],
)
RETIRED = shape(
    {
        "id": {"type": "string", "pattern": RULE_ID},
        "since": {"type": ["integer", "string"], "description": "Version of the file it left."},
        "reason": {**TEXT, "description": "Why it went."},
        "replaced_by": {"type": ["string", "null"], "description": "The rule that stands in its place."},
    },
    ["id", "reason"],
)
_CHANGES = {
    "set": ref("values", description="Facts that take a value."),
    "add": mapping(NUMBER, propertyNames=ref("fact"), description="Numbers that change by so much, not under 0."),
    "today": names("fact", description="Dates that become the day."),
}
_DONE = {
    **_CHANGES,
    "act": ref("act", description="The act that it is."),
    "add": mapping(
        {"anyOf": [NUMBER, ref("detail")]},
        propertyNames=ref("fact"),
        description="Numbers that change by so much, or by what a detail says, not under 0.",
    ),
    "at_least": mapping(
        NUMBER,
        propertyNames=ref("fact"),
        description="Numbers that are no lower afterwards; what was not known becomes it.",
    ),
    "told": mapping(
        ref("detail"),
        propertyNames=ref("fact"),
        description="Facts that take the value of a detail; not known again where it was not said.",
    ),
    "voids": names("fact", description="Facts that are not known again."),
}
EFFECT = {
    **shape(
        {
            **_DONE,
            "asks": names("detail", description="Details without which it is not taken down."),
            "takes": names("detail", description="Details that may be said."),
            "sugar": mapping(
                {"enum": list(SUGAR)},
                propertyNames=ref("detail"),
                description="Details that give kilograms of sugar, times this number of model.food.",
            ),
            "shares": names(
                "fact",
                description="Where the detail `partner` names a hive: troubles of one that both have afterwards.",
            ),
            "treats": {
                "anyOf": [{"const": True}, ref("active")],
                "description": "A mite treatment is given: the active said, or the one that stands here.",
            },
            "quiet_for": {**COUNT, "unit": "days", "description": "Days for which it is not asked again."},
            "partner": shape(_DONE, description="What it does to the other hive."),
            "walk": shape(
                {
                    **_CHANGES,
                    "stores": {
                        "enum": ["after_feeding", "after_harvest"],
                        "description": "The share of need afterwards.",
                    },
                    "mites": {**SHARE, "description": "The share of the mites left."},
                    "count": {"enum": ["sample", "drop"], "description": "Mites are counted."},
                    "treat": rows(
                        shape(
                            {"active": ref("active"), "form": ref("form"), "one_day": {"type": "boolean"}},
                            ["active", "form"],
                        ),
                        description="The first allowed of these goes into the hive.",
                    ),
                },
                description="What the walk through a year does in place of the rest.",
            ),
        }
    ),
    "type": ["object", "null"],
}
DETAIL = shape(
    {
        "kind": {"enum": list(DETAIL_KINDS), "description": "What kind of value it takes."},
        "of": ref("fact", description="The fact whose value it is."),
        "words": {"type": "array", "items": TEXT, "description": "What may be said besides the fact's own words."},
        "values": {"type": "array", "items": TEXT, "minItems": 2},
        "unit": TEXT,
        "low": NUMBER,
        "high": NUMBER,
        "otherwise": {"type": ["number", "string"], "description": "What counts where it was not said."},
        "label": TEXT,
    },
    ["label"],
    oneOf=[{"required": ["kind"]}, {"required": ["of"]}],
)
_NOTED = {"unit": TEXT, "source": SOURCE, "status": STATUS, "note": NOTE}


def _normal(definitions: dict) -> dict:
    """Return the schema of the normal colony."""
    phases, broods = (definitions[name]["enum"] for name in ("season.phase", "season.brood"))
    words = {name: [word for word in listed if word is not None] for name, listed in (("p", phases), ("b", broods))}
    phase_list = {"type": "array", "items": ref("phase")}
    share = ("start", "in_a_flow", "after_harvest", "after_feeding")
    stores = ("least_kg", "most_kg_a_frame", "heavy_from_share", "light_under_share")
    supers = (
        "frames_filled_a_week",
        "capped_pct_in_flow",
        "capped_pct_after",
        "moisture_pct_in_flow",
        "moisture_pct_after",
    )
    values = ref("values")
    return block(
        "The colony that a walk through the year shows",
        definitions,
        lead_in_weeks=COUNT,
        equipment=values,
        equipment_in_the_cold=values,
        yard=ref("yard"),
        seen=values,
        bees_frames=shape({**_NOTED, **dict.fromkeys(words["p"], NUMBER)}, words["p"]),
        by_brood=shape(dict.fromkeys(words["b"], values), words["b"]),
        by_forage=shape(dict.fromkeys((*FORAGE_WINDOWS, "else"), values), [*FORAGE_WINDOWS, "else"]),
        stores=shape(
            {**_NOTED, **dict.fromkeys(stores, NUMBER), "share": shape(dict.fromkeys(share, NUMBER), list(share))},
            [*stores, "share"],
        ),
        supers=shape({**_NOTED, **dict.fromkeys(supers, NUMBER)}, list(supers)),
        mites=shape(
            {**_NOTED, "start_per_100": NUMBER, "sample_bees": COUNT, "method": TEXT},
            ["start_per_100", "sample_bees", "method"],
        ),
        looked=shape(
            {"start_days": COUNT, "start_days_in_the_cold": COUNT, "with_frames_out": rows(TEXT)},
            ["start_days", "start_days_in_the_cold", "with_frames_out"],
        ),
        frames=shape({"shut": phase_list, "shut_until_asked": phase_list}, ["shut", "shut_until_asked"]),
        random_yard=shape(
            {
                **_NOTED,
                **dict.fromkeys(("otherwise", "not_seen", "rarely"), SHARE),
                "rare_groups": rows(TEXT),
                "rare_facts": names("fact"),
                "stores_kg": PAIR,
                "counted_mites": rows(NUMBER, minItems=1),
                "counted_days_ago": PAIR,
            },
            ["otherwise", "not_seen", "rarely", "stores_kg", "counted_mites", "counted_days_ago"],
        ),
    )


def schemas(definitions: dict) -> dict[str, dict]:
    """Return the schemas by kind."""
    row = shape(
        {
            "what": TEXT,
            "points": NUMBER,
            "range": PAIR,
            "cause": TEXT,
            "left": {**NUMBER, "description": "Colonies in a hundred that are left in the situation in a year."},
            "counts": {**NUMBER, "description": "Points that the budget is charged with, where they differ."},
            "source": SOURCE,
        },
        ["what", "points", "range", "cause"],
    )
    published = shape(
        {
            "what": TEXT,
            "unit": TEXT,
            "published": {**PAIR, "description": "As printed; one figure stands twice."},
            "said": {**TEXT, "description": "The figure in its own words."},
            "tolerance": SHARE,
            "source": TEXT,
            "status": STATUS,
            "model": {**TEXT, "description": "A row of upkeep.check_table."},
            "with": {"type": "object", "description": "Its inputs."},
            "why": {**TEXT, "description": "Asked for where the model lies outside."},
        },
        ["what", "unit", "published", "source", "status", "model", "with"],
    )
    check = shape(
        {
            "place": TEXT,
            "station": TEXT,
            "event": ref("event"),
            "kind": {
                "enum": ["temperature", "flow"],
                "description": "Set by warmth or light, or by the plants in reach.",
            },
            "window": {"type": "array", "minItems": 2, "maxItems": 2, "items": MONTH_DAY},
            "edge": {"enum": ["start", "end"], "description": "Which end of a span is meant."},
            "words": TEXT,
            "source": TEXT,
        },
        ["place", "station", "event", "kind", "window", "words", "source"],
    )
    reason = shape({"place": TEXT, "event": ref("event"), "because": TEXT}, ["place", "event", "because"])
    effects = mapping(EFFECT, propertyNames=ref("action"))
    return {
        "areas": block("Decisions that the rules together must settle", definitions, areas=rows(AREA)),
        "proof_exceptions": block("Findings of proofs that are known", definitions, exceptions=rows(EXCEPTION)),
        "retired": block("Ids of rules that are no longer used", definitions, retired=rows(RETIRED)),
        "effects": file(
            "What doing an action does to what is known of a hive",
            shape(
                {"about": {"type": "object"}, "details": mapping(DETAIL), "effects": effects}, ["details", "effects"]
            ),
            definitions,
        ),
        "normal_colony": _normal(definitions),
        "stakes": block(
            "The scale of points",
            definitions,
            budgets=mapping(shape({"lost": NUMBER, "source": SOURCE, "status": STATUS}, ["lost", "source"])),
            crop=shape({"usual_crop_points": NUMBER, "source": SOURCE}, ["usual_crop_points"]),
            rows=mapping(row),
        ),
        "models": file("Published figures of colonies", shape({"rows": rows(published)}, ["rows"]), definitions),
        "climate_calendar": file(
            "Published dates of the beekeeping year",
            shape({"checks": rows(check), "reasons": rows(reason)}, ["checks"]),
            definitions,
        ),
        "worked_year": file(
            "The worked year of the manual",
            shape({"title": TEXT, "before": TEXT, "days": rows(WORKED_DAY)}, ["title", "before", "days"]),
            definitions,
        ),
    }

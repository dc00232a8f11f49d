"""Schema of the ranking file."""

from __future__ import annotations

from hiveweek.plan.ranking import WEIGHTS
from hiveweek.shapes.names import NAME
from upkeep.schemas.numbers import ROW, SOURCE, STATUS
from upkeep.schemas.parts import IF_CONDITION, NUMBER, TEXT, file, mapping, names, ref, rows, shape

SHARE = {"type": "number", "minimum": 0, "maximum": 1}
FINDING = {"pattern": NAME}
WEIGHT = {**ROW, "required": ["value", "unit", "source"]}
_NOTED = {"source": SOURCE, "status": STATUS, "note": TEXT}
_COSTS = rows(
    shape({"from_c": {**NUMBER, "unit": "degC"}, "pts": {**NUMBER, "minimum": 0}}, ["from_c", "pts"]),
    minItems=1,
    description="From this high of the best day upward.",
)


def schemas(definitions: dict) -> dict[str, dict]:
    """Return the schema by its kind."""
    costs = shape(
        {
            **_NOTED,
            "lid": _COSTS,
            "frames": _COSTS,
            "weather_unknown": shape({"lid": NUMBER, "frames": NUMBER}, ["lid", "frames"]),
        },
        ["lid", "frames", "weather_unknown"],
        additionalProperties=NUMBER,
        description="What opening costs, in points, taken off a look before it is ranked; others of frames by name.",
    )
    body = shape(
        {
            "ranking": {"type": "integer", "minimum": 1, "description": "Version."},
            "weights": shape(dict.fromkeys(WEIGHTS, WEIGHT), list(WEIGHTS)),
            "opening_costs": costs,
            "frames_cost_more": mapping(IF_CONDITION, description="When lifting frames costs at least so much."),
            "looks": names("action", description="Actions that serve as a look."),
            "not_looked_for": names("action", description="Actions for whose sake nobody looks."),
            "samples": names("fact", description="Facts of which a fresh observation adds to the last."),
            "looks_in_season": mapping(
                shape({"fact": ref("fact"), "values": {"type": "array", "minItems": 1}}, ["fact", "values"]),
                propertyNames=ref("action"),
                description="Looks that make sense only in some weeks.",
            ),
            "chances": shape(
                {
                    **_NOTED,
                    "facts": ref(
                        "shares", description="How often a look finds each word; the rest share what is left."
                    ),
                    "comparison": mapping(
                        SHARE,
                        propertyNames=ref("fact"),
                        description="The chance that an undecided comparison on it comes true.",
                    ),
                }
            ),
            "next_due": mapping(TEXT, propertyNames=ref("event"), description="What a season event means."),
            "feeds": names("action", description="Actions that bring food."),
            "waits_for": mapping(
                TEXT, propertyNames=FINDING, description="Guard that puts a job off: what has to happen first."
            ),
            "holds_open": mapping(
                names("action"),
                propertyNames=FINDING,
                description="Guards under which a job that waits is not answered with 'leave it closed'.",
            ),
            "troubles": mapping(
                shape({"suspicion": {"type": "boolean"}, "say": TEXT}, ["say"]),
                propertyNames=FINDING,
                description="Findings that trouble a whole hive, the gravest first.",
            ),
            "leave_closed_in": IF_CONDITION,
            "looks_at_suspicion": names("action", description="Looks for which a hive under suspicion is opened."),
        },
        ["weights", "opening_costs"],
    )
    return {"ranking": file("How jobs are put in order", body, definitions)}

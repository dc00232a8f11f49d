"""Schema of the ranking file."""

from __future__ import annotations

from hiveweek.shapes.names import NAME
from upkeep.schemas.numbers import SOURCE, STATUS
from upkeep.schemas.parts import IF_CONDITION, TEXT, file, mapping, names, ref, shape

SHARE = {"type": "number", "minimum": 0, "maximum": 1}
FINDING = {"pattern": NAME}
_NOTED = {"source": SOURCE, "status": STATUS, "note": TEXT}


def schemas(definitions: dict) -> dict[str, dict]:
    """Return the schema by its kind."""
    body = shape(
        {
            "ranking": {"type": "integer", "minimum": 1, "description": "Version."},
            "frames_cost_more": mapping(IF_CONDITION, description="When lifting frames costs at least so much."),
            "looks": names("action", description="Actions that serve as a look."),
            "not_looked_for": names("action", description="Actions for whose sake nobody looks."),
            "samples": names("fact", description="Facts of which a fresh observation adds to the last."),
            "looks_in_season": mapping(
                shape({"fact": ref("fact"), "values": {"type": "array", "minItems": 1}}, ["fact", "values"]),
                propertyNames=ref("action"),
                description="Looks that make sense only in some weeks.",
            ),
            "looks_not_where": mapping(
                {"type": "array", "items": {"type": "string", **FINDING}, "minItems": 1},
                propertyNames=ref("action"),
                description="Looks that are not asked for where a finding holds.",
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
            "needless_beside": mapping(
                names("action", minItems=1),
                propertyNames=ref("action"),
                description="Jobs that make others needless at the same hive.",
            ),
            "waits_for": mapping(
                TEXT, propertyNames=FINDING, description="Guard that puts a job off: what has to happen first."
            ),
            "waits_day": mapping(
                {"type": "string", "pattern": r"^limit\.[a-z_]+\.[a-z_]+$"},
                propertyNames=FINDING,
                description="Guard that waits for milder days: the limit that the high of the best day has to reach.",
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
            "not_together": mapping(
                names("action"),
                propertyNames=ref("action"),
                description="Jobs that make each other needless in one week; the one that counts more stands.",
            ),
            "waits_by": ref(
                "action", description="Advised where nothing can be done about a serious trouble this week."
            ),
            "helps_by": ref("action", description="Advised to a keeper who may not open a hive alone."),
            "leave_closed_in": IF_CONDITION,
            "out_of_weather": IF_CONDITION,
            "looks_at_suspicion": names("action", description="Looks for which a hive under suspicion is opened."),
        },
        ["ranking"],
    )
    return {"ranking": file("How jobs are put in order", body, definitions)}

"""Schemas of climate profiles and of what is said about a table of normals."""

from __future__ import annotations

from hiveweek.climate.normals import COLUMNS, LIMITS, NEEDED
from upkeep.schemas.parts import DRAFT, OVERRIDES, PLACE, TEXT, rows, shape

ALSO = shape(
    {
        "columns": {"type": "array", "items": {"enum": list(COLUMNS), "noun": "column"}, "minItems": 1},
        **dict.fromkeys(("station", "period", "publisher", "kind", "licence", "attribution", "note"), TEXT),
    },
    ["columns"],
    description="Columns that come from elsewhere.",
)
STATION = {
    "station": TEXT,
    "country": TEXT,
    **{key: {**place, "type": "number"} for key, place in PLACE.items()},
    "period": {**TEXT, "description": "First and last year of the normals."},
    "publisher": TEXT,
    "kind": {**TEXT, "description": "Official normals, or means of reports."},
    "licence": TEXT,
    "attribution": {**TEXT, "description": "What the publisher asks to be named as."},
    "note": TEXT,
    "also": rows(ALSO),
}


def _months(name: str) -> dict:
    low, high = LIMITS[name]
    kinds = "number" if name in NEEDED else ["number", "null"]
    return {
        "type": "array",
        "minItems": 12,
        "maxItems": 12,
        "items": {"type": kinds, "minimum": low, "maximum": high},
        "description": "January to December" + ("." if name in NEEDED else "; null where not known."),
    }


PROFILE = shape(
    {
        "profile": {**TEXT, "description": "Its id; the same as the file's name."},
        "stands_for": {**TEXT, "description": "A few words on the kind of climate."},
        "built_from": shape(STATION, ["lat", "lon", "elev_m"]),
        "monthly": shape({name: _months(name) for name in COLUMNS}, list(NEEDED[1:]), noun="column"),
        "overrides": OVERRIDES,
        "remarks": rows(TEXT, description="Oddities of the normals found when the profile was built."),
    },
    ["built_from", "monthly"],
)
ABOUT = shape(
    {
        "id": {**TEXT, "pattern": r"^\w+$", "errorMessage": "letters, digits and underscores only"},
        "stands_for": PROFILE["properties"]["stands_for"],
        **STATION,
        "overrides": OVERRIDES,
    },
    ["id", "station", "lat", "lon", "elev_m", "period", "publisher", "licence", "attribution"],
)


def schemas() -> dict[str, dict]:
    """Return the schemas by kind."""
    return {
        "profile": {"$schema": DRAFT, "title": "A climate profile", **PROFILE},
        "about": {"$schema": DRAFT, "title": "About a table of monthly normals", **ABOUT},
    }

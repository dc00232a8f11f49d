"""The schema of a jurisdiction: what the law of a place asks, as last read."""

from __future__ import annotations

from typing import Any

from hiveweek.shapes.names import NAME
from hiveweek.vocabulary.definitions import DATE
from upkeep.schemas.numbers import SOURCE, STATUS
from upkeep.schemas.rule_parts import LAYERED

_LAW: dict[str, Any] = {
    "type": "array",
    "items": {
        "type": "object",
        "additionalProperties": False,
        "required": ["what", "source", "status"],
        "properties": {"what": {"type": "string", "minLength": 5}, "source": SOURCE, "status": STATUS},
    },
}
_LISTED = {
    "type": "array",
    "items": {
        **_LAW["items"],
        "properties": {
            **_LAW["items"]["properties"],
            "key": {
                "enum": [
                    "afb",
                    "efb",
                    "chalkbrood",
                    "sacbrood",
                    "stonebrood",
                    "nosemosis",
                    "acarapis",
                    "braula",
                    "small_hive_beetle",
                    "tropilaelaps",
                    "varroa",
                    "wax_moth",
                    "exotic_bees",
                    "exotic_hornet",
                    "exotic_pests",
                    "losses",
                ],
                "description": "Which disease or pest it is, for the rules.",
            },
            "duty": {
                "enum": ["report", "record", "listed"],
                "description": "What the list asks: report each find (also where absent); tell that it is present, for the record; "
                "listed, with no duty to report each find read.",
            },
        },
    },
    "description": "Diseases and pests that must be told.",
}
JURISDICTION = (
    "hiveweek jurisdiction",
    {
        "type": "object",
        "additionalProperties": False,
        "required": ["jurisdiction", "name", "checked", "note"],
        "properties": {
            "jurisdiction": {"type": "string", "pattern": NAME, "description": "The same as the file's name."},
            "name": {"type": "string"},
            "place": {"type": "string", "description": "What it covers, in words."},
            "version": {"type": "integer", "minimum": 1},
            "checked": {**DATE, "description": "The day on which the law was last looked up."},
            "note": {"type": "string"},
            "tell": {"type": "string", "description": "Whom to tell of a disease."},
            "list_read": {
                "enum": ["whole", "part", "none"],
                "description": "Whether the list of what must be reported was read whole: only then is what it lacks known not "
                "to be listed.",
            },
            "sample": {
                "enum": ["call_first"],
                "description": "A sample is sent only after the authority was spoken to.",
            },
            "moves": {
                "enum": ["ask_first"],
                "description": "A move wants a certificate, a permit or a notice first.",
            },
            "mites_treated": {
                "enum": ["duty"],
                "description": "Every colony is treated against varroa by law, whatever a count says.",
            },
            "frames": {
                "enum": ["movable"],
                "description": "Bees are kept on combs that can be lifted.",
            },
            "notifiable": _LISTED,
            "movement": {**_LAW, "description": "What the law says of moving bees."},
            "records": {**_LAW, "description": "What must be written down."},
            "duties": {**_LAW, "description": "What else the law asks."},
            "registered_actives": {
                "type": "array",
                "description": "Active ingredients that may be used against mites.",
                "items": {
                    "type": "object",
                    "additionalProperties": False,
                    "required": ["active", "source", "status"],
                    "properties": {
                        "active": {"$ref": "#/$defs/active"},
                        "forms": {
                            "type": "array",
                            "items": {"$ref": "#/$defs/form"},
                            "description": "The forms of it that are listed; any where none is named.",
                        },
                        "source": SOURCE,
                        "status": STATUS,
                        "note": {"type": "string"},
                    },
                },
            },
            "registered_note": {"type": "string"},
            **LAYERED,
        },
    },
)

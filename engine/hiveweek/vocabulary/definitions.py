"""The words at hand as definitions of JSON Schema: which facts, actions and events a file may name, and the values of facts.

The schema files that editors get are written from the shipped vocabulary; a reader supplies these of the vocabulary at hand,
so that a word counts as soon as it is written.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from hiveweek.shapes import Shape
from hiveweek.vocabulary.events import EVENTS
from hiveweek.vocabulary.model import Detail, Fact, Vocabulary

DATE = {
    "type": "string",
    "pattern": r"^\d{4}-\d{2}-\d{2}$",
    "description": "A date like 2026-02-10.",
    "errorMessage": "a date like 2026-02-10",
    "code": "no-such-date",
}


def names(**words: Iterable[str]) -> dict[str, dict]:
    """Return the definitions of names: ``fact``, ``action``, ``kit``, ``act`` and ``event``, an enum each."""
    found = {"event": choice("event", EVENTS)}
    for kind, listed in words.items():
        found[kind] = choice("piece of kit" if kind == "kit" else kind, sorted(listed))
    return found


def choice(noun: str, words: Iterable[str]) -> dict:
    """Return the schema of one of some names; ``noun`` says what they are."""
    return {"enum": list(words), "noun": noun}


@lru_cache(maxsize=64)
def shape_of(kind: str, words: Vocabulary) -> Shape:
    """Return the shape of a kind of file that may use the words of a vocabulary."""
    return Shape(kind, definitions(words))


@lru_cache(maxsize=8)
def definitions(words: Vocabulary) -> dict[str, dict]:
    """Return the definitions that schemas of content files share.

    Returns
    -------
    dict
        Those of ``names``; ``phase`` and ``active``: an enum each. ``values``: a mapping of any facts; ``look``, ``yard`` and
        ``yard_look``: of those that can be seen, that hold for a yard, or both (with their date); ``shares``: of each
        word of a fact. Each fact by its id: its values.
    """
    facts = words.facts
    return {
        **names(fact=facts, action=words.actions, kit=words.kit, act=words.acts),
        "phase": choice("phase", _words(facts, "season.phase")),
        "active": choice("active ingredient", (w for w in _words(facts, "mites.last_active") if w != "none")),
        "form": choice("form", _words(facts, "mites.form")),
        "values": _mapping(facts, "fact"),
        "look": _dated(
            [name for name in facts if _seen(facts[name])],
            "fact that can be seen",
            "what is worked out may stand under facts only",
        ),
        "yard": _mapping([name for name in facts if _of_yard(facts[name])], "fact of the yard", _YARD),
        "yard_look": _dated(
            [name for name in facts if _of_yard(facts[name]) and _seen(facts[name])],
            "fact of the yard that can be seen",
            _YARD,
        ),
        "shares": _shares(facts),
        **{name: value(fact) for name, fact in facts.items()},
    }


@lru_cache(maxsize=8)
def entry_definitions(words: Vocabulary) -> dict[str, dict]:
    """Return the definitions of the entries of a record: ``detail``, an enum of their names, and ``entry``, one of any kind."""
    facts = words.facts
    seen = _mapping([name for name in facts if _seen(facts[name])], "fact that can be seen")
    text = {"type": "string", "minLength": 1}
    kinds = {
        "seen": {**seen, "description": "What a look found."},
        "set": {**seen, "description": "What stands there from now on, or since a day."},
        "done": {"$ref": "#/$defs/action", "description": "A job done; what is said of it stands beside."},
        "answered": {
            "$ref": "#/$defs/action",
            "description": "An advice put away: later, or because it does not fit here.",
        },
        "remark": {**text, "description": "Anything else."},
    }
    own = {
        "date": DATE,
        "time": {
            "type": "string",
            "pattern": r"^([01]\d|2[0-3]):[0-5]\d$",
            "description": "Local time; quoted, like '08:30'.",
            "errorMessage": "a time like '08:30', in quotes",
        },
        "until_date": {**DATE, "description": "Last day on which it may have been."},
        "since": {
            "anyOf": [DATE, {"const": "unknown"}],
            "description": "Of what is set: the day from which it holds; unknown where it was found so.",
            "errorMessage": "a date like 2026-02-10, or unknown",
        },
        "later": {**DATE, "description": "Of an answer: the day until which the advice is put away."},
        "because": {**text, "description": "Of an answer: why it does not fit here."},
        "who": text,
        "note": {"type": ["string", "null"]},
    }
    details = {name: _detail(detail) for name, detail in words.details.items()}
    entry = {
        "type": "object",
        "additionalProperties": False,
        "properties": {**own, **kinds, **details},
        "required": ["date"],
        "oneOf": [{"required": [kind]} for kind in kinds],
        "noun": "key of an entry",
        "description": "One dated entry: seen, set, done, answered or remark.",
    }
    return {"detail": choice("detail", sorted(details)), "entry": entry}


def _detail(detail: Detail) -> dict:
    """Return the schema of a detail's value."""
    said: dict = {"description": f"{detail.label}." + (f" Unit: {detail.unit}." if detail.unit else "")}
    if detail.of:
        of = {"$ref": f"#/$defs/{detail.of}"}
        return {**said, "anyOf": [of, {"enum": list(detail.values)}]} if detail.values else {**said, **of}
    if detail.unit:
        said["unit"] = detail.unit
    if detail.kind in ("number", "integer"):
        return {"type": detail.kind, "minimum": detail.low, "maximum": detail.high, **said}
    if detail.kind == "one_of":
        return {"enum": list(detail.values), **said}
    return {**DATE, **said} if detail.kind == "date" else {"type": "string", "minLength": 1, **said}


_YARD = "facts of the apiary as a whole stand here, others belong to a hive"


def _of_yard(fact: Fact) -> bool:
    return fact.scope == "apiary"


def _seen(fact: Fact) -> bool:
    return fact.comes_from != "computed"


def _words(facts: dict[str, Fact], name: str) -> list[str]:
    return list(facts[name].values) if name in facts else []


def _mapping(names: Iterable[str], noun: str, hint: str = "") -> dict:
    found = {
        "type": ["object", "null"],
        "additionalProperties": False,
        "properties": {name: {"$ref": f"#/$defs/{name}"} for name in names},
        "noun": noun,
    }
    return {**found, "errorMessage": hint} if hint else found


def _dated(names: Iterable[str], noun: str, hint: str) -> dict:
    found = _mapping(names, noun, hint)
    own = {"date": DATE, "note": {"type": ["string", "null"]}}
    return {**found, "type": "object", "properties": {**own, **found["properties"]}, "required": ["date"]}


def _shares(facts: dict[str, Fact]) -> dict:
    """Return the schema of shares of the words of facts."""
    share = {"type": "number", "minimum": 0, "maximum": 1}
    words = {f.id: ("true", "false") if f.kind == "yes_no" else f.values for f in facts.values()}
    return {
        "type": "object",
        "additionalProperties": False,
        "properties": {
            name: {
                "type": "object",
                "additionalProperties": False,
                "properties": dict.fromkeys(listed, share),
                "noun": "value",
            }
            for name, listed in words.items()
            if listed
        },
        "noun": "fact",
    }


def value(fact: Fact) -> dict:
    """Return the schema of one fact's value; null says that it is not known."""
    said = {"description": f"{fact.label}. {fact.how}." + (f" Unit: {fact.unit}." if fact.unit else "")}
    if fact.unit:
        said["unit"] = fact.unit
    if fact.kind in ("number", "integer"):
        span = {key: end for key, end in (("minimum", fact.low), ("maximum", fact.high)) if end is not None}
        return {"type": [fact.kind, "null"], **span, **said}
    if fact.kind == "yes_no":
        return {"type": ["boolean", "null"], **said}
    if fact.kind == "one_of":
        return {"enum": [*fact.values, None], **said}
    if fact.kind == "date":
        return {**DATE, "type": ["string", "null"], **said}
    return {"type": ["string", "null"], **said}

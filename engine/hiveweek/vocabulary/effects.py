"""Reads ``effects.yaml``: what doing an action does to what is known of a hive, and what may be said of it."""

from __future__ import annotations

from hiveweek.problems import nearest
from hiveweek.shapes import Shape
from hiveweek.shapes.marked_yaml import Document
from hiveweek.shapes.structure import texts
from hiveweek.vocabulary.definitions import choice
from hiveweek.vocabulary.model import Detail, Effect, Fact, Vocabulary

SUGAR = (
    "sugar_per_litre_thick",
    "sugar_per_litre_thin",
    "sugar_per_kg_candy",
    "sugar_per_kg_dry",
    "sugar_per_honey_frame",
)
DETAIL_KINDS = ("number", "integer", "one_of", "date", "text", "hive")


def read_effects(document: Document, words: Vocabulary, known: dict[str, dict]) -> None:
    """Put the details and effects of a document into a vocabulary.

    Problems are added to the document: what its schema does not allow, an action without an entry, a detail that the
    action does not declare, a fact added to that is no number, a day put into a fact that is no date.

    Parameters
    ----------
    known : dict
        The definitions of the vocabulary's facts, actions and acts.
    """
    data = document.data if isinstance(document.data, dict) else {}
    listed = data.get("details")
    details = choice("detail", sorted(listed) if isinstance(listed, dict) else ())
    document.problems += Shape("effects", {**known, "detail": details}).check(document)
    data = document.data or {}
    for name, body in (data.get("details") or {}).items():
        words.details[name] = _detail(name, body, words)
    rows = data.get("effects") or {}
    for action in words.actions:
        if action not in rows:
            said = f"what does '{action}' change; write {{}} for nothing"
            document.problems.append(document.problem(("effects",), "missing-key", said))
    for action, body in rows.items():
        path = ("effects", action)
        words.effects[action] = _effect(body or {})
        _check(document, path, words.effects[action], words)


def _detail(name: str, body: dict, words: Vocabulary) -> Detail:
    fact: Fact | None = words.facts.get(body.get("of", ""))
    if fact is not None:
        return Detail(
            name,
            fact.kind,
            body.get("label", name),
            fact.unit,
            fact.low,
            fact.high,
            texts(body.get("words")),
            fact.id,
            body.get("otherwise"),
        )
    low, high = (None if body.get(key) is None else float(body[key]) for key in ("low", "high"))
    kind, otherwise = body.get("kind", "text"), body.get("otherwise")
    return Detail(
        name, kind, body.get("label", name), body.get("unit"), low, high, texts(body.get("values")), "", otherwise
    )


def _effect(body: dict) -> Effect:
    other = body.get("partner")
    return Effect(
        act=body.get("act", ""),
        asks=texts(body.get("asks")),
        takes=texts(body.get("takes")),
        set=body.get("set") or {},
        today=texts(body.get("today")),
        voids=texts(body.get("voids")),
        told=body.get("told") or {},
        add=body.get("add") or {},
        at_least=body.get("at_least") or {},
        sugar=body.get("sugar") or {},
        treats=body.get("treats", False),
        shares=texts(body.get("shares")),
        quiet_for=body.get("quiet_for", 0),
        walk=body.get("walk", {key: body[key] for key in ("set", "add", "today") if key in body}),
        partner=None if other is None else _effect(other),
    )


def _check(document: Document, path: tuple, effect: Effect, words: Vocabulary) -> None:
    """Find what the schema cannot say."""
    own = (*effect.asks, *effect.takes)
    used: list[tuple[tuple, str]] = [(("told", fact), detail) for fact, detail in effect.told.items()]
    used += [(("add", fact), detail) for fact, detail in effect.add.items() if isinstance(detail, str)]
    used += [(("sugar", detail), detail) for detail in effect.sugar]
    used += [(("partner",), "partner")] if effect.partner else []
    for at, detail in used:
        if detail not in own:
            said = f"'{detail}' is no detail of this action{nearest(detail, own)}"
            document.problems.append(document.problem((*path, *at), "unknown-detail", said))
    for name in (*effect.add, *effect.at_least):
        if words.facts[name].kind not in ("number", "integer"):
            said = f"'{name}' is no number"
            document.problems.append(document.problem((*path, "add", name), "wrong-type", said, key=True))
    for index, name in enumerate(effect.today):
        if words.facts[name].kind != "date":
            said = f"'{name}' is no date"
            document.problems.append(document.problem((*path, "today", index), "wrong-type", said))

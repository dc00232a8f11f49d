"""Rules, prohibitions and options parsed from their written pieces, with every mistake placed."""

from __future__ import annotations

import re

from hiveweek.language.conditions import Mistake, Scope, _ref, _tokens, parse_node
from hiveweek.language.terms import All, Any, NotTrue
from hiveweek.problems import Place, Problem, nearest
from hiveweek.rules.model import Deadline, Option, Prohibition, Rule, Stakes, Target
from hiveweek.rules.reader import Library, Piece, RawRule
from hiveweek.shapes.marked_yaml import Document
from hiveweek.shapes.structure import listed, texts
from hiveweek.texts.reading import faults
from hiveweek.vocabulary.events import EVENTS

PLACEHOLDER = re.compile(r"\{([^{}]*)\}")
_DEADLINE = re.compile(
    r"(?:(?P<days>\d+) ?d(?:ays)?|(?P<name>[a-z_.]+[a-z_]))?\s*(?:(?P<sign>[-+]) ?(?P<lead>\d+) ?d(?:ays)?)?$"
)


def parse_rule(raw: RawRule, library: Library, problems: list[Problem]) -> Rule | None:
    """Return a rule from its pieces, or None when something in it cannot be read.

    Parameters
    ----------
    raw : RawRule
        Pieces as written, some perhaps replaced by an overlay.
    problems : list of Problem
        Everything wrong is appended.
    """
    before = len(problems)
    pieces = raw.pieces
    roles = tuple(_value(pieces, "for") or ())
    at = _value(pieces, "at")
    if roles and at not in roles:
        piece = pieces.get("at") or pieces["for"]
        problems.append(
            piece.document.problem(piece.path, "no-role", f"'at' must be one of {', '.join(roles)}{nearest(at, roles)}")
        )
    if not roles and ("at" in pieces or "prefer" in pieces):
        piece = pieces.get("at") or pieces["prefer"]
        problems.append(
            piece.document.problem(piece.path, "no-role", "'at' and 'prefer' belong to a rule with 'for'", key=True)
        )
    scope = library.scope(roles)
    when = _condition(pieces.get("when"), scope, problems)
    blocks = _blocks(pieces.get("unless"), scope, problems)
    advise, finding = _value(pieces, "advise"), _value(pieces, "finding")
    for key in ("because", "safety", "amount"):
        if key in pieces:
            _text(pieces[key], scope, problems)
    prefer = _prefer(pieces.get("prefer"), scope, problems) if roles else None
    by = deadline_of(pieces.get("by"), library, problems)
    stakes = _stakes(pieces.get("stakes"), library, problems)
    source = sources_of(pieces.get("source"), library, problems)
    if len(problems) > before or when is None:
        return None
    parts = when.parts if isinstance(when, All) else (when,)
    whole = All(parts + tuple(NotTrue(b) for b in blocks)) if blocks or isinstance(when, All) else when
    return Rule(
        raw.id,
        raw.topic,
        whole,
        advise,
        finding,
        _value(pieces, "reach") or "hive",
        _value(pieces, "amount"),
        by,
        stakes,
        1 if _value(pieces, "band") is None else _value(pieces, "band"),
        float(pieces["chance"].value) if "chance" in pieces else 0.5,
        _value(pieces, "because") or "",
        _value(pieces, "safety") or "",
        source,
        _value(pieces, "evidence") or "practice",
        roles,
        at,
        prefer,
        raw.layer,
        raw.place,
        tuple(_frozen(e) for e in raw.edits),
    )


def _frozen(edit: dict) -> tuple:
    return tuple(sorted((k, str(v)) for k, v in edit.items()))


def _value(pieces, key):
    return pieces[key].value if key in pieces else None


def _condition(piece: Piece | None, scope: Scope, problems):
    if piece is None:
        return None
    return parse_node(piece.document, piece.path, scope, problems, piece.value)


def _blocks(piece: Piece | None, scope: Scope, problems) -> list:
    """``unless`` as a list of conditions any of which blocks."""
    if piece is None:
        return []
    node = _condition(piece, scope, problems)
    if node is None:
        return []
    if isinstance(piece.value, list) and isinstance(node, All):
        return list(node.parts)
    if isinstance(node, Any):
        return list(node.parts)
    return [node]


def _text(piece: Piece, scope: Scope, problems) -> None:
    """Check a text for people: its places name facts or limits, its quantities can be read for sure."""
    problems += [piece.document.problem(piece.path, "unclear-quantity", fault) for fault in faults(piece.value)]
    for found in PLACEHOLDER.finditer(piece.value):
        name = found.group(1)
        if name in scope.roles or name == "partner":
            continue
        if name.startswith("limit."):
            if name not in scope.limits:
                problems.append(
                    piece.document.problem(
                        piece.path, "unknown-limit", f"'{{{name}}}' is no limit{nearest(name, scope.limits)}"
                    )
                )
            continue
        try:
            tokens = _tokens(name)
            if len(tokens) != 1:
                raise Mistake(0, "cannot-read", f"'{{{name}}}' must name one fact")
            if _ref(tokens[0], scope).is_finding:
                raise Mistake(0, "cannot-read", f"'{{{name}}}' names a finding; name a fact")
        except Mistake as mistake:
            problems.append(piece.document.problem(piece.path, mistake.code, mistake.message))


def _texts(document: Document, path: tuple, body: dict, keys: tuple, scope: Scope, problems) -> None:
    """Check those texts for people that an entry of a file has."""
    for key in keys:
        if key in body:
            _text(Piece(document, (*path, key), body[key]), scope, problems)


def _prefer(piece: Piece | None, scope: Scope, problems):
    if piece is None:
        return None
    words = piece.value.split()
    if len(words) not in (1, 2) or (len(words) == 2 and words[1] not in ("asc", "desc")):
        problems.append(
            piece.document.problem(piece.path, "cannot-read", f"'{piece.value}': role.fact, then desc or asc")
        )
        return None
    try:
        ref = _ref(_tokens(words[0])[0], scope)
    except (Mistake, IndexError) as mistake:
        problems.append(piece.document.problem(piece.path, getattr(mistake, "code", "cannot-read"), str(mistake)))
        return None
    if ref.is_finding or not scope.vocabulary.facts[ref.name].ordered:
        problems.append(piece.document.problem(piece.path, "no-order", f"'{ref}' has no order"))
        return None
    return ref, (words[1] if len(words) == 2 else "desc")


def deadline_of(piece: Piece | None, library: Library, problems) -> Deadline | None:
    """Return a deadline as written (``7 d``, ``food.empty_on - 7 d``); one that cannot be read is a problem."""
    if piece is None:
        return None
    value = piece.value
    if isinstance(value, int):
        return Deadline("today", "", value, str(value))
    text = str(value).strip()
    found = _DEADLINE.match(text)
    if not text or not found or not (found.group("days") or found.group("name")):
        problems.append(
            piece.document.problem(
                piece.path,
                "bad-deadline",
                f"'{text}': write today, 7 d, food.empty_on - 7 d or event.stop_syrup_by - 14 d",
            )
        )
        return None
    lead = int(found.group("lead") or 0) * (-1 if found.group("sign") == "-" else 1)
    if found.group("days"):
        return Deadline("today", "", int(found.group("days")) + lead, text)
    name = found.group("name")
    if name == "today":
        return Deadline("today", "", lead, text)
    if name.startswith("event."):
        event = name[len("event.") :]
        if event not in EVENTS:
            problems.append(
                piece.document.problem(
                    piece.path, "unknown-event", f"'{event}' is no event of the season{nearest(event, EVENTS)}"
                )
            )
            return None
        return Deadline("event", event, lead, text)
    fact = library.vocabulary.facts.get(name)
    if fact is None or fact.kind != "date":
        dates = [f for f, body in library.vocabulary.facts.items() if body.kind == "date"]
        problems.append(
            piece.document.problem(piece.path, "bad-deadline", f"'{name}' is no date fact{nearest(name, dates)}")
        )
        return None
    return Deadline("fact", name, lead, text)


def _stakes(piece: Piece | None, library: Library, problems) -> Stakes:
    if piece is None:
        return Stakes()
    body = piece.value
    fact = body.get("gain_fact")
    points = [f for f, b in library.vocabulary.facts.items() if b.unit == "points"]
    if fact is not None and fact not in points:
        problems.append(
            piece.document.problem(
                piece.path + ("gain_fact",), "unknown-fact", f"'{fact}' is no fact in points{nearest(fact, points)}"
            )
        )
    source = sources_of(Piece(piece.document, piece.path + ("source",), body.get("source")), library, problems)
    return Stakes(
        body.get("loses", "colony"),
        float(body.get("gain_pts", 0)),
        fact,
        source,
        body.get("note", ""),
    )


def sources_of(piece: Piece | None, library: Library, problems) -> tuple[str, ...]:
    """Return source keys; an unknown one is a problem."""
    if piece is None or piece.value is None:
        return ()
    if isinstance(piece.value, str):
        return (piece.value,)
    names = texts(piece.value)
    for index, item in enumerate(listed(piece.value)):
        if item and item not in library.vocabulary.sources and item not in ("common-practice", "judgement"):
            problems.append(
                piece.document.problem(
                    piece.path + (index,),
                    "unknown-source",
                    f"'{item}' is no key of sources.yaml{nearest(item, library.vocabulary.sources)}",
                )
            )
    return names


# --- prohibitions and options -----------------------------------------------------------------------------------------
def parse_safety(document: Document, library: Library, problems: list[Problem]) -> dict[str, Prohibition]:
    """Return the prohibitions of safety.yaml by id."""
    found: dict[str, Prohibition] = {}
    for index, body in enumerate(listed(document.data.get("prohibitions"))):
        if not body or "id" not in body:
            continue
        path = ("prohibitions", index)
        roles = tuple(body.get("for", ()))
        if roles and body.get("at") in roles:
            roles = (body["at"],) + tuple(r for r in roles if r != body["at"])
        when = parse_node(document, path + ("when",), library.scope(roles), problems, body.get("when"))
        targets = [
            t
            for t in (
                _target(document, path + ("never", k), item, library, problems)
                for k, item in enumerate(listed(body.get("never")))
            )
            if t
        ]
        effect, first = body.get("effect", "stop"), texts(None)
        if isinstance(effect, dict):
            first = texts(effect.get("first"))
            effect = "first"
        spares = body.get("spares", {})
        spared, where = texts(spares.get("actions")), None
        if spares.get("where") is not None:
            where = parse_node(document, path + ("spares", "where"), library.scope(roles), problems, spares["where"])
        _texts(document, path, body, ("because", "check"), library.scope(roles), problems)
        _texts(document, (*path, "spares"), spares, ("say",), library.scope(), problems)
        source = sources_of(Piece(document, path + ("source",), body.get("source")), library, problems)
        if body["id"] in found:
            problems.append(
                document.problem(
                    path + ("id",), "duplicate-id", f"'{body['id']}' stands at {found[body['id']].place} too"
                )
            )
            continue
        if when is None:
            continue
        found[body["id"]] = Prohibition(
            body["id"],
            tuple(targets),
            when,
            effect,
            first,
            body.get("if_unknown", "pass"),
            texts(body.get("instead")),
            texts(body.get("except")),
            body.get("because", ""),
            body.get("check", ""),
            source,
            roles,
            spared,
            where,
            spares.get("say", ""),
            Place(document.name, *document.place(path + ("id",))),
        )
    return found


def _target(document, path, item, library, problems) -> Target | None:
    actions = library.vocabulary.actions
    if not item:
        return None
    if isinstance(item, dict):
        return Target(*next(iter(item.items())))
    action, _, option = item.partition("/")
    if action not in actions:
        problems.append(document.problem(path, "unknown-action", f"'{action}' is no action{nearest(action, actions)}"))
        return None
    return Target("option", action, option) if option else Target("action", action)


def parse_options(document: Document, library: Library, problems: list[Problem]) -> dict[str, Option]:
    """Return the treatment options by id."""
    found: dict[str, Option] = {}
    for index, body in enumerate(listed(document.data.get("options"))):
        if not body or "id" not in body:
            continue
        path = ("options", index)
        bars = []
        for k, bar in enumerate(listed(body.get("bars"))):
            if bar and "when" in bar:
                when = parse_node(document, path + ("bars", k, "when"), library.scope(), problems, bar["when"])
                sources = sources_of(
                    Piece(document, path + ("bars", k, "source"), bar.get("source")), library, problems
                )
                _texts(document, (*path, "bars", k), bar, ("because",), library.scope(), problems)
                if when is not None:
                    bars.append((when, bar.get("because", ""), sources))
        _texts(document, path, body, ("because", "length", "withdrawal", "safety"), library.scope(), problems)
        source = sources_of(Piece(document, path + ("source",), body.get("source")), library, problems)
        if body["id"] in found:
            problems.append(document.problem(path + ("id",), "duplicate-id", f"'{body['id']}' stands twice"))
        found[body["id"]] = Option(
            body["id"],
            body.get("active", ""),
            body.get("form", ""),
            tuple(bars),
            because=body.get("because", ""),
            length=body.get("length", ""),
            withdrawal=body.get("withdrawal", ""),
            safety=body.get("safety", ""),
            source=source,
            place=Place(document.name, *document.place(path + ("id",))),
        )
    return found

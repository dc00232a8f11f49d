"""What no overlay may soften, delay or switch off: rules of law and people (band 0), prohibitions, and the findings they rest on.

The findings of files that are ``locked`` are among them. Their words may be changed, since whom to tell differs from place to
place, and their limits may move within their bands; whoever wants more than they say adds a rule.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial

from hiveweek.language.terms import Condition, limit_names, sides
from hiveweek.numbers.moving import SAFETY, key_in
from hiveweek.numbers.reader import is_number
from hiveweek.problems import Problem
from hiveweek.rules.model import Rule
from hiveweek.rules.parsing import parse_rule, parse_safety
from hiveweek.rules.reader import Library, Overlay, RawRule
from hiveweek.shapes.marked_yaml import Document
from hiveweek.shapes.structure import listed

WORDS = ("because", "safety", "source", "evidence", "amount")
OWN_LAYERS = ("author", "apiary")


@dataclass(frozen=True)
class Locked:
    """What stays as it is shipped.

    Attributes
    ----------
    rules : frozenset of str
        Rules that may be changed in their words only.
    holding : frozenset of str
        Findings that hold such a rule back: nobody adds to them.
    limits : frozenset of str
        Limits that such rules compare with, by full name.
    """

    rules: frozenset[str]
    holding: frozenset[str]
    limits: frozenset[str]


def _value(raw: RawRule, name: str) -> object:
    piece = raw.pieces.get(name)
    return piece.value if piece is not None else None


def _by_itself(library: Library, raw: RawRule) -> bool:
    topic = library.topics.get(raw.topic)
    locked = topic is not None and topic.document.data.get("locked") is True
    return _value(raw, "band") == 0 or (locked and _value(raw, "finding") is not None)


def locked(library: Library) -> Locked:
    """Return what no overlay may soften, found once for a library."""
    return library.once(("locked",), lambda problems: _locked(library), [])


def _locked(library: Library) -> Locked:
    told: list[Problem] = []  # what is wrong with the rules is told where they are merged
    base = [library.once(("rule", raw.id), partial(parse_rule, raw, library), told) for raw in library.rules.values()]
    giving: dict[str, list[Rule]] = {}
    for rule in base:
        if rule is not None and rule.finding:
            giving.setdefault(rule.finding, []).append(rule)
    own = [rule for rule in base if rule is not None and _by_itself(library, library.rules[rule.id])]
    todo: list[tuple[Condition, bool]] = [(rule.when, True) for rule in own]
    for document in library.safety:
        for prohibition in library.once(
            ("safety", document.name), partial(parse_safety, document, library), told
        ).values():
            todo.append((prohibition.when, True))
            if prohibition.spares_where is not None:
                todo.append((prohibition.spares_where, False))
    rules = {raw.id for raw in library.rules.values() if _by_itself(library, raw)}
    limits: set[str] = set()
    seen: set[tuple[str, bool]] = set()
    while todo:
        for leaf, wanted in sides(*todo.pop()):
            limits.update(limit_names(leaf))
            if leaf.left.is_finding and (leaf.left.finding, wanted) not in seen:
                seen.add((leaf.left.finding, wanted))
                for rule in giving.get(leaf.left.finding, ()):
                    rules.add(rule.id)
                    todo.append((rule.when, wanted))
    holding = frozenset(name for name, wanted in seen if not wanted)
    return Locked(frozenset(rules), holding, frozenset(limits))


def _entries(document: Document, name: str) -> Iterator[tuple[int, dict]]:
    """Entries of a list that are mappings; what is wrong with others has been told."""
    for index, entry in enumerate(listed(document.data.get(name))):
        if isinstance(entry, dict):
            yield index, entry


def softened(library: Library, overlay: Overlay) -> Iterator[Problem]:
    """Yield what an overlay does to locked rules, each at its place.

    Parameters
    ----------
    library : Library
        Everything read.
    overlay : Overlay
        Of any layer; what an author's or an apiary's adds is looked at too.
    """
    document, kept = overlay.document, locked(library)
    for index, entry in _entries(document, "override"):
        rule_id, name = str(entry.get("rule", "")), entry.get("field")
        if name is not None and name not in WORDS and rule_id in kept.rules:
            yield document.problem(
                ("override", index, "field"),
                "locked",
                f"'{rule_id}' guards law, people or bees: only its words may be changed ({', '.join(WORDS)}), not '{name}'; "
                "to ask for more, add a rule",
            )
        limit = _limit(entry)
        if limit in kept.limits and not _in_band(library, limit, entry.get("value")):
            yield document.problem(
                ("override", index, "value"),
                "locked",
                f"'{limit}' stands in what guards law, people or bees and may move only within its band",
            )
    for index, entry in _entries(document, "disable"):
        rule_id = str(entry.get("rule", ""))
        if rule_id in kept.rules:
            yield document.problem(
                ("disable", index, "rule"),
                "locked",
                f"'{rule_id}' guards law, people or bees and cannot be switched off",
            )
    if overlay.layer not in OWN_LAYERS:
        return
    for raw in overlay.rules.values():
        finding = raw.pieces.get("finding")
        if finding is not None and finding.value in kept.holding:
            yield document.problem(
                finding.path,
                "locked",
                f"'{finding.value}' would hold back a rule that guards law, people or bees; give another name",
            )


def _limit(entry: dict) -> str:
    """Return the full name of the limit that an entry moves; empty where it moves none, or a safety limit, which only tightens."""
    key = key_in(entry)
    name = str(entry[key]) if key else ""
    return "" if name.startswith(SAFETY) else name


def _in_band(library: Library, limit: str, value: object) -> bool:
    shipped = library.limits.get(limit)
    if shipped is None or not is_number(value):
        return True  # told elsewhere
    low, high = shipped.band or (shipped.value, shipped.value)
    return low <= float(value) <= high  # type: ignore[arg-type]

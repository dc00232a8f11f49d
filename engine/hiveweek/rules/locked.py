"""What no overlay may soften, delay or switch off: rules of law and people (band 0), and the findings of files that are ``locked``.

Their words may be changed, since whom to tell differs from place to place; whoever wants more than they say adds a rule.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from hiveweek.problems import Problem
from hiveweek.rules.reader import Library, Overlay, RawRule
from hiveweek.shapes.marked_yaml import Document
from hiveweek.shapes.structure import listed

WORDS = ("because", "safety", "source", "evidence", "amount")
OWN_LAYERS = ("author", "apiary")
_FINDING = re.compile(r"\bfinding\.([a-z0-9][a-z0-9-]*)")


def _value(raw: RawRule, name: str) -> object:
    piece = raw.pieces.get(name)
    return piece.value if piece is not None else None


def is_locked(library: Library, rule_id: str) -> bool:
    """Whether a rule of the base may be changed in its words only."""
    raw = library.rules.get(rule_id)
    if raw is None:
        return False
    topic = library.topics.get(raw.topic)
    locked = topic is not None and topic.document.data.get("locked") is True
    return _value(raw, "band") == 0 or (locked and _value(raw, "finding") is not None)


def _holding(library: Library) -> set[str]:
    """Findings that hold a locked rule back."""
    return {
        name
        for rule_id, raw in library.rules.items()
        if is_locked(library, rule_id) and raw.pieces.get("unless") is not None
        for name in _FINDING.findall(repr(raw.pieces["unless"].value))
    }


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
    document = overlay.document
    for index, entry in _entries(document, "override"):
        rule_id, name = str(entry.get("rule", "")), entry.get("field")
        if name is not None and name not in WORDS and is_locked(library, rule_id):
            yield document.problem(
                ("override", index, "field"),
                "locked",
                f"'{rule_id}' guards law, people or bees: only its words may be changed ({', '.join(WORDS)}), not '{name}'; "
                "to ask for more, add a rule",
            )
    for index, entry in _entries(document, "disable"):
        rule_id = str(entry.get("rule", ""))
        if is_locked(library, rule_id):
            yield document.problem(
                ("disable", index, "rule"),
                "locked",
                f"'{rule_id}' guards law, people or bees and cannot be switched off",
            )
    if overlay.layer not in OWN_LAYERS:
        return
    holding = _holding(library)
    for raw in overlay.rules.values():
        finding = raw.pieces.get("finding")
        if finding is not None and finding.value in holding:
            yield document.problem(
                finding.path,
                "locked",
                f"'{finding.value}' would hold back a rule that guards law, people or bees; give another name",
            )

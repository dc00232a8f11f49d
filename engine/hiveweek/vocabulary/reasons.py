"""Reasons in a few words: what a sheet says of a fact that decided.

The file is ``rulesets/vocabulary/sheet.yaml``; its rows stand in the order in which they are worth saying.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from hiveweek.problems import nearest
from hiveweek.shapes.marked_yaml import Document
from hiveweek.shapes.structure import listed
from hiveweek.texts.reading import Place, read

if TYPE_CHECKING:
    from hiveweek.vocabulary.model import Fact, Vocabulary

VALUE = "value"  # the one place that a text may have


@dataclass(frozen=True)
class Reason:
    """What is said of a fact.

    Attributes
    ----------
    values : tuple
        Plain values of the fact; empty for any number.
    say : str
        The words, with ``{value}`` for the number and its unit.
    alone : bool
        Said only where no other reason is.
    """

    fact: str
    values: tuple[str | bool, ...]
    say: str
    alone: bool = False

    def fits(self, value: object) -> bool:
        """Whether it is said of a value."""
        return not self.values or value in self.values


def read_reasons(document: Document, words: Vocabulary) -> None:
    """Read the file of reasons into a vocabulary; words that the fact does not have and other places are problems of it."""
    data = document.data if isinstance(document.data, dict) else {}
    for block in ("reasons", "otherwise"):
        for index, body in enumerate(listed(data.get(block))):
            fact = words.facts.get(body.get("fact", "")) if isinstance(body, dict) else None
            if fact is not None:
                words.reasons.append(_reason(document, (block, index), body, fact, alone=block == "otherwise"))


def _reason(document: Document, path: tuple, body: dict, fact: Fact, *, alone: bool) -> Reason:
    values = tuple(listed(body.get("values")))
    for word in values:
        if word not in fact.allowed:
            said = f"'{word}' is no value of '{fact.id}'{nearest(str(word), fact.values)}"
            document.problems.append(document.problem((*path, "values"), "unknown-value", said))
    if not values and not fact.ordered:
        said = f"'{fact.id}' is no number: say for which of its values"
        document.problems.append(document.problem(path, "missing-key", said))
    for part in read(body.get("say", "")):
        if isinstance(part, Place) and part.name != VALUE:
            said = f"'{{{part.name}}}' cannot be said here; {{value}} is the number"
            document.problems.append(document.problem((*path, "say"), "unknown-fact", said))
    return Reason(fact.id, values, body.get("say", ""), alone)

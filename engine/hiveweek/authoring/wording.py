"""Conditions and rules in plain words, for pages that people read."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from hiveweek.language.terms import All, Any, Compare, Flag, Known, LimitRef, Member, Not, NotTrue, Ref
from hiveweek.numbers import Number
from hiveweek.plan import words as in_texts
from hiveweek.rules.model import Rule, RuleSet, as_date
from hiveweek.rules.parsing import PLACEHOLDER
from hiveweek.texts.parts import Day, Quantity, Word
from hiveweek.vocabulary.model import Vocabulary

OPERATORS = {"<": "is under", "<=": "is at most", ">": "is over", ">=": "is at least", "==": "is", "!=": "is not"}
OPPOSITE = {
    "is": "is not",
    "is not": "is",
    "is under": "is at least",
    "is at least": "is under",
    "is over": "is at most",
    "is at most": "is over",
}


def plain(word: str) -> str:
    """Return a word of the vocabulary as people say it."""
    return str(Word(word))


def quantity(number: float, unit: str | None) -> str:
    """Return a number with its unit, in metric."""
    return str(Quantity(float(number), unit))


def value(fact, encoded: float) -> str:
    """Return the value of a fact in words, in metric."""
    return str(in_texts.value(fact, encoded))


def number_with_unit(number: float, unit: str | None) -> str:
    """Return a number as the rule files write it, with its unit."""
    return f"{number:g}" + (f" {unit}" if unit else "")


def shown(row: Number) -> str:
    """Return a number with its unit, a curve by its corners."""
    return curve_with_unit(row.curve, row.unit) if row.curve else number_with_unit(row.value, row.unit)


def curve_with_unit(corners: Iterable[Sequence[float]], unit: str | None) -> str:
    """Return the corners of a curve, with its unit."""
    return ", ".join(f"{y:g} at {x:g}" for x, y in corners) + f" ({unit})"


def gives(rule: Rule) -> str:
    """Return what a rule gives: an action, or a finding."""
    return rule.advise if rule.advise else f"finding.{rule.finding}"


class Wording:
    """Says conditions in words.

    Parameters
    ----------
    words : Vocabulary
        Labels and units.
    ruleset : RuleSet
        Values of limits.
    """

    def __init__(self, words: Vocabulary, ruleset: RuleSet):
        self.words, self.ruleset = words, ruleset

    def tree(self, condition, wanted: bool = True):
        """Return a condition as nested plain data.

        Returns
        -------
        str or dict
            A sentence part for one comparison, ``{"finding": name, "text": ..}`` for a conclusion of other rules, or
            ``{"head": "all of these", "parts": [..]}``.
        """
        if isinstance(condition, Not):
            return self.tree(condition.part, not wanted)
        if isinstance(condition, NotTrue):
            inner = self.tree(condition.part)
            several = isinstance(inner, dict) and inner.get("head") == "any of these"
            return {"head": "not where it is known that", "parts": inner["parts"] if several else [inner]}
        if isinstance(condition, (All, Any)):
            parts = [self.tree(part, wanted) for part in condition.parts]
            if len(parts) == 1:
                return parts[0]
            both = isinstance(condition, All) == wanted
            return {"head": "all of these" if both else "any of these", "parts": parts}
        if condition.left.is_finding:
            return {"finding": condition.left.finding, "text": self.leaf(condition, wanted)}
        return self.leaf(condition, wanted)

    def leaf(self, leaf, wanted: bool = True) -> str:
        """Return one comparison as a part of a sentence."""
        left = self.ref(leaf.left)
        if isinstance(leaf, Known):
            return f"{left}: {'known' if leaf.known == wanted else 'not known'}"
        if isinstance(leaf, Flag):
            if leaf.left.is_finding:
                return left if wanted else f"not: {left}"
            return f"{left}: {'yes' if wanted else 'no'}"
        fact = self.words.facts[leaf.left.name]
        if isinstance(leaf, Member):
            said = [value(fact, v) for v in leaf.values]
            only = not leaf.negated if wanted else leaf.negated
            return f"{left} is {'' if only else 'not '}{' or '.join(said) if len(said) < 3 else 'one of ' + ', '.join(said)}"
        if fact.kind == "yes_no" and not isinstance(leaf.right, (LimitRef, Ref)):
            yes = (leaf.right == 1) == (leaf.op == "==")
            return f"{left}: {'yes' if yes == wanted else 'no'}"
        word = OPERATORS[leaf.op] if wanted else OPPOSITE[OPERATORS[leaf.op]]
        return f"{left} {word} {self._right(leaf, fact)}"

    def _right(self, leaf: Compare, fact) -> str:
        if isinstance(leaf.right, LimitRef):
            limit = self.ruleset.limits[leaf.right.name]
            return f"{quantity(limit.value, limit.unit)} ({leaf.right.name})"
        if isinstance(leaf.right, Ref):
            return self.ref(leaf.right)
        return str(Day(as_date(leaf.right))) if fact.kind == "date" else value(fact, float(leaf.right))

    def ref(self, ref: Ref) -> str:
        """Return a fact's label, or a finding's name; with the role in a rule of two hives."""
        role = f"{plain(ref.role)} hive: " if ref.role else ""
        if ref.is_finding:
            return f"{role}{ref.name[len('finding.') :].replace('-', ' ')}"
        return role + (self.words.facts[ref.name].label or ref.name)

    def template(self, text: str) -> str:
        """Return a text of a rule with each {fact} replaced by its label in brackets."""

        def one(match: re.Match) -> str:
            name = match.group(1)
            limit = self.ruleset.limits.get(name)
            if limit is not None:
                return quantity(limit.value, limit.unit)
            fact = self.words.facts.get(name) or self.words.facts.get(name.partition(".")[2])
            return f"[{fact.label or name}]" if fact is not None else f"[{plain(name)}]"

        return PLACEHOLDER.sub(one, text)

"""What the cases exercise: rules, conditions, limits and overlay entries, and what none of them reaches."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from hiveweek.authoring.cases import Result
from hiveweek.inference.columnar import Inference
from hiveweek.language.bits import failing, holding
from hiveweek.language.meaning import evaluate
from hiveweek.language.terms import Compare, Condition, Leaf, LimitRef, leaves
from hiveweek.language.truth import FALSE, TRUE
from hiveweek.rules.model import Prohibition, Rule, RuleSet


@dataclass
class Coverage:
    """Items that must be exercised, and which were.

    Attributes
    ----------
    wanted : dict of str to str
        Item to where it stands. Items read ``rule X fires``, ``rule X does not fire``, ``X: CONDITION holds``,
        ``limit L from below``, ``overlay O: limit L``.
    met : set of str
    """

    wanted: dict[str, str] = field(default_factory=dict)
    met: set[str] = field(default_factory=set)

    @property
    def missing(self) -> list[str]:
        """Items no case reached."""
        return sorted(item for item in self.wanted if item not in self.met)

    @property
    def percent(self) -> float:
        """Share of items reached, in percent; 100 for nothing wanted."""
        return 100.0 * len(self.met & set(self.wanted)) / len(self.wanted) if self.wanted else 100.0


def measure(results: Iterable[Result], rulesets) -> Coverage:
    """Return the coverage of rules by cases.

    Parameters
    ----------
    results : iterable of Result
        Run with ``keep=True``; taken one after another, so a generator need not keep them all.
    rulesets : iterable of RuleSet
        All effective rulesets whose rules must be exercised.
    """
    measuring = Measuring(rulesets)
    for result in results:
        measuring.add(result)
    return measuring.coverage


class Measuring:
    """Adds up what cases exercise, one after another.

    Parameters
    ----------
    rulesets : iterable of RuleSet
        All effective rulesets whose rules must be exercised.
    """

    def __init__(self, rulesets):
        self.coverage = Coverage()
        self._open: dict[int, tuple[RuleSet, list[_Open], list[Prohibition]]] = {}
        for ruleset in rulesets:
            _want(self.coverage, ruleset)

    def add(self, result: Result) -> None:
        """Add what one case exercises; nothing where it was run without ``keep=True``."""
        inference = result.inference
        if inference is None:
            return
        met, ruleset = self.coverage.met, inference.ruleset
        # What is reached once is asked no more; the ruleset is kept, for its number in memory is its key.
        _, rules, prohibitions = self._open.get(id(ruleset)) or (ruleset, *_opened(ruleset))
        rules = [one for one in rules if not met.issuperset(one.items)]
        prohibitions = [one for one in prohibitions if not met.issuperset(_holds(one.id))]
        self._open[id(ruleset)] = ruleset, rules, prohibitions
        for one in rules:
            one.leaves = [(leaf, items) for leaf, items in one.leaves if not met.issuperset(items)]
            _meet_rule(self.coverage, inference, one)
        for prohibition in prohibitions:
            _meet_prohibition(self.coverage, inference, prohibition)


@dataclass
class _Open:
    """A rule of which not every item has been met, with its comparisons that are open and the items of each."""

    rule: Rule
    items: frozenset[str]
    leaves: list[tuple[Leaf, frozenset[str]]]


def _opened(ruleset: RuleSet) -> tuple[list[_Open], list[Prohibition]]:
    rules = []
    for rule in ruleset.rules.values():
        asked = [(leaf, _items(rule.id, leaf, ruleset)) for leaf in leaves(rule.when)]
        own = {f"rule {rule.id} fires", f"rule {rule.id} does not fire"}
        if rule.layer != "base":
            own.add(_of_overlay(rule.layer, rule.id))
        rules.append(_Open(rule, frozenset(own.union(*(items for _, items in asked))), asked))
    return rules, list(ruleset.prohibitions.values())


def _items(rule_id: str, leaf, ruleset) -> frozenset[str]:
    """Everything that can be learned of a comparison."""
    items = [*_told(rule_id, leaf)]
    right = getattr(leaf, "right", None)
    if isinstance(leaf, Compare) and isinstance(right, LimitRef):
        items += _sides(right.name)
        origin = ruleset.limits[right.name].origin
        if origin != "base":
            items.append(_of_overlay(origin, right.name))
    return frozenset(items)


def _holds(prohibition: str) -> tuple[str, str]:
    return f"prohibition {prohibition} holds", f"prohibition {prohibition} does not hold"


def _want(coverage: Coverage, ruleset) -> None:
    for rule in ruleset.rules.values():
        place = str(rule.place)
        coverage.wanted.setdefault(f"rule {rule.id} fires", place)
        coverage.wanted.setdefault(f"rule {rule.id} does not fire", place)
        for leaf in leaves(rule.when):
            # Equal comparisons of several rules are one object, so the place is the rule's own.
            for item in _told(rule.id, leaf):
                coverage.wanted.setdefault(item, place)
            right = getattr(leaf, "right", None)
            if isinstance(right, LimitRef):
                for item in _sides(right.name):
                    coverage.wanted.setdefault(item, str(ruleset.limits[right.name].place))
    for prohibition in ruleset.prohibitions.values():
        coverage.wanted.setdefault(f"prohibition {prohibition.id} holds", str(prohibition.place))
        coverage.wanted.setdefault(f"prohibition {prohibition.id} does not hold", str(prohibition.place))
    for limit in ruleset.limits.values():
        if limit.origin != "base":
            coverage.wanted.setdefault(_of_overlay(limit.origin, limit.name), str(limit.place))
    for rule in ruleset.rules.values():
        if rule.layer != "base":
            coverage.wanted.setdefault(_of_overlay(rule.layer, rule.id), str(rule.place))


def _told(rule_id: str, leaf) -> tuple[str, str]:
    """The items of a comparison: that it holds somewhere, and that it fails."""
    return f"{rule_id}: {leaf.text} holds", f"{rule_id}: {leaf.text} fails"


def _sides(limit: str) -> tuple[str, str]:
    """The items of a limit: a value below it, and one above."""
    return f"limit {limit} from below", f"limit {limit} from above"


def _of_overlay(layer: str, name: str) -> str:
    return f"overlay entry {layer}: {name}"


def _meet_rule(coverage: Coverage, inference: Inference, one: _Open) -> None:
    rule, met = one.rule, coverage.met
    outcome = inference.rules[rule.id]
    if holding(outcome):
        met.add(f"rule {rule.id} fires")
        if rule.layer != "base":
            met.add(_of_overlay(rule.layer, rule.id))
    if failing(outcome):
        met.add(f"rule {rule.id} does not fire")
    roles = rule.roles and (str(rule.at), str(rule.partner))
    for leaf, items in one.leaves:
        told = _told(rule.id, leaf)
        if not met.issuperset(told):
            met.update(item for item, found in zip(told, _truths(inference, leaf, roles), strict=True) if found)
        # What is left of it are the sides of its limit.
        if isinstance(leaf, Compare) and isinstance(leaf.right, LimitRef) and not met.issuperset(items):
            _meet_sides(coverage, leaf, inference, roles)


def _meet_prohibition(coverage: Coverage, inference: Inference, prohibition: Prohibition) -> None:
    found = _truths(inference, prohibition.when, prohibition.roles)
    coverage.met.update(item for item, there in zip(_holds(prohibition.id), found, strict=True) if there)


def _truths(inference: Inference, condition: Condition, roles: tuple[str, ...]) -> tuple[bool, bool]:
    """Whether a condition holds at some hive (or pair), and whether it fails at some."""
    if not roles:
        truth = inference.truth(condition)
        return holding(truth) > 0, failing(truth) > 0
    apart = ~np.eye(len(inference.table), dtype=bool)
    point = np.broadcast_to(evaluate(condition, inference.view(roles)).point, apart.shape)[apart]
    return bool(np.any(point == TRUE)), bool(np.any(point == FALSE))


def _meet_sides(coverage: Coverage, leaf: Compare, inference: Inference, roles: tuple[str, ...]) -> None:
    limit = inference.ruleset.limits[str(leaf.right)]
    value = inference.view(roles).fact(leaf.left)[0]
    if roles:
        apart = ~np.eye(len(inference.table), dtype=bool)
        value = np.broadcast_to(value, apart.shape)[apart]
    at_or_above = value >= limit.value if leaf.op in ("<", ">=") else value > limit.value
    known = ~np.isnan(value)
    met = {
        item for item, here in zip(_sides(limit.name), (~at_or_above, at_or_above), strict=True) if np.any(known & here)
    }
    if met and limit.origin != "base":
        met.add(_of_overlay(limit.origin, limit.name))
    coverage.met |= met

"""A ruleset as a network of small propositions, for the second channel.

Every comparison, every ``all`` and ``any``, every finding becomes one numbered node whose truth follows from the nodes
below it. A node stands in a stratum: ``unless`` and findings that reach the apiary need the nodes below them finished
first, so they begin the next stratum. (No sorter is needed:
the nodes below are numbered first, as the finding layers are in order.)
"""

from __future__ import annotations

import math
import typing
from collections.abc import Sequence
from dataclasses import dataclass, field

from hiveweek.language.leaves import number_of, wanted_by
from hiveweek.language.terms import (
    LEAVES,
    TURNED,
    All,
    Any,
    Compare,
    Condition,
    Flag,
    Known,
    Leaf,
    Member,
    Not,
    NotTrue,
    Ref,
    leaves,
    refs,
)
from hiveweek.rules.model import Rule, RuleSet

Child = tuple  # (node number, sign): sign -1 reads the child negated


@dataclass
class Node:
    """One proposition.

    Attributes
    ----------
    kind : str
        compare, facts (a comparison of two facts), member, known, flag, all, any, not_true or reach.
    children : tuple of (int, int)
        Nodes it reads, with sign.
    leaf : Compare, Member, Known, Flag or None
        What a leaf compares, as its kind says.
    """

    number: int
    kind: str
    stratum: int
    children: tuple[Child, ...] = ()
    leaf: typing.Any = None
    limit: float | None = None


@dataclass
class PairRule:
    """A two-hive rule: what each role must be alone, and the comparisons between the two."""

    id: str
    at: Child | None
    partner: Child | None
    between: tuple[tuple[str, str, str], ...]  # (fact at the at-hive, op, fact at the partner)


@dataclass
class Network:
    """Nodes of a ruleset and the node of every rule, finding, prohibition and bar.

    Attributes
    ----------
    tops : dict of str to (int, int)
        ``rule:ID``, ``finding:NAME``, ``prohibition:ID`` and ``bar:OPTION:K``, each with its node and sign.
    cannot : dict of str to str
        What this channel cannot carry, and why; what reads a finding that it cannot carry is left out as well.
    """

    nodes: list[Node] = field(default_factory=list)
    tops: dict[str, Child] = field(default_factory=dict)
    pairs: list[PairRule] = field(default_factory=list)
    cannot: dict[str, str] = field(default_factory=dict)
    _known: dict = field(default_factory=dict)
    _limits: dict = field(default_factory=dict)

    def add(
        self,
        kind: str,
        stratum: int,
        children: tuple[Child, ...] = (),
        leaf: Leaf | None = None,
        limit: float | None = None,
        key: tuple | None = None,
    ) -> int:
        """Return the number of a node, the same for the same proposition."""
        key = key or (kind, children)
        if key not in self._known:
            self._known[key] = len(self.nodes)
            self.nodes.append(Node(len(self.nodes), kind, stratum, children, leaf, limit))
        return self._known[key]


def compile_network(ruleset: RuleSet) -> Network:
    """Return the network of a ruleset.

    Rules are taken in the order of the finding layers, so that a finding's node exists before anything reads it.
    """
    network = Network(_limits=ruleset.limits)
    giving: dict[str, list[Rule]] = {}
    for rule in ruleset.rules.values():
        if rule.finding:
            giving.setdefault(rule.finding, []).append(rule)
    for layer in ruleset.layers:
        for name in layer:
            children = []
            for rule in giving.get(name, ()):
                top = _rule(network, rule)
                if top is None:
                    network.cannot[f"finding:{name}"] = f"rule {rule.id} is not carried, or joins two hives"
                    continue
                if rule.reach == "apiary":
                    child = network.nodes[top[0]]
                    top = (network.add("reach", child.stratum + 1, (top,)), 1)
                children.append(top)
            if f"finding:{name}" not in network.cannot:
                network.tops[f"finding:{name}"] = _combine(network, "any", children)
    for rule in ruleset.rules.values():
        if not rule.finding:
            _rule(network, rule)
    for prohibition in ruleset.prohibitions.values():
        if not prohibition.roles:
            _top(network, f"prohibition:{prohibition.id}", prohibition.when)
    for option in ruleset.options.values():
        for index, bar in enumerate(option.bars):
            _top(network, f"bar:{option.id}:{index}", bar[0])
    return network


def _rule(network: Network, rule: Rule) -> Child | None:
    if rule.roles:
        if _carried(network, f"rule:{rule.id}", rule.when):
            _pair(network, rule)
        return None
    return _top(network, f"rule:{rule.id}", rule.when)


def _top(network: Network, name: str, condition: Condition) -> Child | None:
    if not _carried(network, name, condition):
        return None
    network.tops[name] = _node(network, condition)
    return network.tops[name]


def _carried(network: Network, name: str, condition: Condition) -> bool:
    """Whether the library takes every number of a condition, and every finding it reads is carried as well."""
    unwritten = [x for leaf in leaves(condition) for x in wanted_by(leaf, network._limits) if not writable(x)]
    if unwritten:
        network.cannot[name] = f"the library reads no number like {unwritten[0]!r}"
        return False
    lost = sorted(ref.name for ref in refs(condition) if ref.is_finding and f"finding:{ref.finding}" in network.cannot)
    if lost:
        network.cannot[name] = f"it reads {lost[0]}, which is not carried"
    return not lost


def writable(number: float) -> bool:
    """Whether a number reaches the library as digits: its reader knows neither exponents nor infinity."""
    return math.isfinite(number) and "e" not in repr(float(number))


def _right(network: Network, leaf: Compare) -> float:
    """Return the number on the right of a comparison: a literal, or a limit's value."""
    # Adding zero makes a negative zero a plain one.
    return float(number_of(leaf.right, network._limits)) + 0.0


def _combine(network: Network, kind: str, children: Sequence[Child]) -> Child:
    if len(children) == 1:
        return children[0]
    children = tuple(sorted(set(children)))
    stratum = max((network.nodes[c[0]].stratum for c in children), default=0)
    return network.add(kind, stratum, children), 1


def _node(network: Network, condition: Condition) -> Child:
    if isinstance(condition, Not):
        number, sign = _node(network, condition.part)
        return number, -sign
    if isinstance(condition, NotTrue):
        child = _node(network, condition.part)
        return network.add("not_true", network.nodes[child[0]].stratum + 1, (child,)), 1
    if isinstance(condition, (All, Any)):
        kind = "all" if isinstance(condition, All) else "any"
        return _combine(network, kind, [_node(network, part) for part in condition.parts])
    if isinstance(condition, Flag):
        if condition.left.is_finding:
            return network.tops[f"finding:{condition.left.finding}"]
        return network.add("flag", 0, (), condition, None, ("flag", condition.left.name)), 1
    if isinstance(condition, Known):
        number = network.add("known", 0, (), condition, None, ("known", condition.left.name))
        return number, 1 if condition.known else -1
    if isinstance(condition, Member):
        number = network.add("member", 0, (), condition, None, ("member", condition.left.name, condition.values))
        return number, -1 if condition.negated else 1
    assert isinstance(condition, Compare)
    if isinstance(condition.right, Ref):
        both = ("facts", condition.left.name, condition.op, condition.right.name)
        return network.add("facts", 0, (), condition, None, both), 1
    number = _right(network, condition)
    return network.add("compare", 0, (), condition, number, ("compare", condition.left.name, condition.op, number)), 1


def _roles(condition: Condition) -> set:
    return {ref.role for ref in refs(condition)}


def _pair(network: Network, rule: Rule) -> None:
    parts = rule.when.parts if isinstance(rule.when, All) else (rule.when,)
    alone: dict[str, list] = {role: [] for role in rule.roles}
    between = []
    for part in parts:
        roles = _roles(part)
        if len(roles) == 1:
            alone[next(iter(roles))].append(part)
        elif isinstance(part, LEAVES) and isinstance(part, Compare) and isinstance(part.right, Ref):
            ref, op, other = part.left, part.op, part.right
            if ref.role != rule.at:
                ref, other = other, ref
                op = TURNED[op]
            between.append((ref.name, op, other.name))
        else:
            network.cannot[f"rule:{rule.id}"] = "a condition over both hives stands inside all, any, not or unless"
            return
    if len(between) > 6 or sum(op == "!=" for _, op, _ in between) > 2:
        network.cannot[f"rule:{rule.id}"] = "more than six comparisons between the two hives, or more than two with !="
        return
    tops = {
        role: _combine(network, "all", [_node(network, p) for p in found]) if found else None
        for role, found in alone.items()
    }
    network.pairs.append(PairRule(rule.id, tops[str(rule.at)], tops[str(rule.partner)], tuple(between)))

"""The second channel: the same ruleset carried by the durable-rules library (a Rete engine in C).

The library is used only where trials have shown it to be right: one session, one fact at a time with a catch-all rule so that
none is unhandled, each retracted again, flat conjunctions only (nested alternatives fire more than once there), firings read
by the caller and no code run by them (``library``), numbers finite and without exponents and of one type. The network of a ruleset is worked off level by level and each level is spread over several of
the library's rulesets (shards), so that one fact never passes more conditions than the library bears.

A hive's facts go in as one fact a shard that carries the fields that shard reads; an unknown fact is a missing field, which
satisfies no comparison. (A fact per value, joined in the library, gives the same answers some five times slower.)

Call ``run`` in a process of its own (``channel``): the library never gives a ruleset's memory back, and a fault in it
would end the process.
"""

from __future__ import annotations

import itertools
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from hiveweek.facts.table import Column, FactTable
from hiveweek.inference.library import ChannelError, Rulebase, rule_of, text_of
from hiveweek.inference.network import Child, Network, Node
from hiveweek.inference.rete_joins import Joins, Pairs
from hiveweek.language.terms import NEGATED, refs
from hiveweek.language.truth import Truth

MOST_PASSED = 40  # rules of a shard that one fact may set off (the library gives up at about 60)
MOST_TOLD = 400  # hives of which a shard keeps what it said: many read the same, and are asked once
MOST_TESTS = 12  # tests in one conjunction (the library's bound is 32)

TRUE, FALSE, UNDECIDED = Truth.TRUE, Truth.FALSE, Truth.UNDECIDED
_NAMES = {"<": "$lt", "<=": "$lte", ">": "$gt", ">=": "$gte", "==": "", "!=": "$neq"}

Tests = list  # of (library operator, field, number)


def available() -> bool:
    """Whether this Python can load the library (it does not import on 3.13 and later)."""
    if sys.version_info >= (3, 13):
        return False
    from importlib.util import find_spec

    return find_spec("durable_rules_engine") is not None


@dataclass
class _Shard:
    name: str
    rules: dict = field(default_factory=dict)
    passes: int = 0
    facts: set = field(default_factory=set)
    nodes: set = field(default_factory=set)
    asked: set = field(default_factory=set)
    results: dict = field(default_factory=dict)
    base: Rulebase | None = None
    told: dict[tuple, dict[int, int]] = field(default_factory=dict)  # what its rules say of the fields of a hive


class _Session:
    """The shards of one network in the library, for the pass on values or the pass on intervals."""

    def __init__(self, network: Network, firm: bool, prefix: str, settled: frozenset):
        self.network, self.firm, self.prefix, self.settled = network, firm, prefix, settled
        self.levels: dict[int, list[_Shard]] = {}
        self.level_of: dict[int, int] = {}
        self.helpers: dict[int, Node] = {}
        self.fields = {
            name: k for k, name in enumerate(sorted({r.name for n in network.nodes if n.leaf for r in refs(n.leaf)}))
        }
        self.opened = {n.children[0][0] for n in network.nodes if n.kind == "not_true"}
        # What is said of one fact stands together: most shards then read truths alone, which are the same at many hives.
        leaves = sorted((node for node in network.nodes if node.leaf), key=lambda node: node.leaf.left.name)
        for node in (*leaves, *(node for node in network.nodes if not node.leaf)):
            if node.number not in settled:
                self._compile(node)
        for shards in self.levels.values():
            for shard in shards:
                shard.base = Rulebase(shard.name, shard.rules)
        self.joins = Joins(network, firm, prefix, settled)

    # --- tests of leaves ---
    def leaf(self, node: Node, truth: int) -> list[Tests]:
        """Alternatives (each a conjunction of tests) under which a leaf has a truth in this pass."""
        if node.kind == "known":
            return [[("", f"k{self.fields[node.leaf.left.name]}", float(truth == TRUE))]]
        name = f"f{self.fields[node.leaf.left.name]}"
        if node.kind == "flag":
            return [[("", name, float(truth == TRUE))]]
        if node.kind == "member":
            if truth == TRUE:
                return [[("", name, float(v))] for v in node.leaf.values]
            return [[("$neq", name, float(v)) for v in node.leaf.values]]
        op = node.leaf.op if truth == TRUE else NEGATED[node.leaf.op]
        if not self.firm:
            return [[(_NAMES[op], name, node.limit)]]
        if op in ("<", "<="):
            return [[(_NAMES[op], name + "h", node.limit)]]
        if op in (">", ">="):
            return [[(_NAMES[op], name + "l", node.limit)]]
        if op == "==":
            return [[("", name + "l", node.limit), ("", name + "h", node.limit)]]
        return [[("$lt", name + "h", node.limit)], [("$gt", name + "l", node.limit)]]

    # --- compiling ---
    def _add(
        self, level: int, group: Sequence[tuple[Tests, tuple[int, int]]], passes: int, reads: Iterable[int] = ()
    ) -> _Shard:
        """Add the rules of one node, and the nodes that they read, to a shard of its level that still has room for what they pass."""
        shards = self.levels.setdefault(level, [])
        if not shards or shards[-1].passes + passes > MOST_PASSED:
            shards.append(_Shard(f"{self.prefix}l{level}x{len(shards)}"))
        shard = shards[-1]
        shard.passes += passes
        for tests, result in group:
            clauses = [{name: number} if not op else {op: {name: number}} for op, name, number in tests]
            rule = f"r{len(shard.rules)}"
            shard.rules[rule] = [{"m": clauses[0] if len(clauses) == 1 else {"$and": clauses}}]
            shard.results[rule] = result
        shard.nodes.update(reads)
        return shard

    def _compile(self, node: Node) -> None:
        if node.kind == "facts":
            self.level_of[node.number] = 0
            return
        if node.leaf is not None:
            self.level_of[node.number] = 0
            group = [(tests, (node.number, truth)) for truth in (TRUE, FALSE) for tests in self.leaf(node, truth)]
            shard = self._add(0, group, 1)
            (shard.asked if node.kind == "known" else shard.facts).add(node.leaf.left.name)
            return
        below = [self.level_of.get(c[0], -1) for c in node.children]
        level = self.level_of[node.number] = max(below, default=-1) + 1
        if node.kind == "not_true":
            ((number, sign),) = node.children
            name = f"n{number}"
            # ``p`` carries the point truth: what is undecided there stays "not true" in both passes.
            decided = ("$neq", f"p{number}", float(UNDECIDED))
            group = [
                ([("", f"p{number}", float(UNDECIDED))], (node.number, TRUE)),
                ([("", name, float(FALSE * sign)), decided], (node.number, TRUE)),
                ([("", name, float(TRUE * sign)), decided], (node.number, FALSE)),
            ]
            self._add(level, group, 1, [number])
        elif node.kind == "reach":
            ((number, sign),) = node.children
            # ``y`` tells whether it is true anywhere in the yard (see ``_yard``); where that is open, so is every hive.
            group = [
                ([("", f"y{node.number}", float(TRUE))], (node.number, TRUE)),
                (
                    [("", f"y{node.number}", float(FALSE)), ("", f"n{number}", float(FALSE * sign))],
                    (node.number, FALSE),
                ),
            ]
            self._add(level, group, 1, [number])
        else:
            each, one = (TRUE, FALSE) if node.kind == "all" else (FALSE, TRUE)
            self._join(node, list(node.children), each, one, level)

    def _join(self, node: Node, children: list[Child], each: int, one: int, level: int) -> None:
        """Where every child is ``each`` the node is so; where any child is ``one`` the node is that."""
        while len(children) > MOST_TESTS:
            helper = Node(len(self.network.nodes) + len(self.helpers), node.kind, 0, tuple(children[:MOST_TESTS]))
            self.level_of[helper.number] = level
            self._rules(helper, helper.children, each, one, level)
            self.helpers[helper.number] = helper
            children = children[MOST_TESTS:] + [(helper.number, 1)]
            level += 1
        self.level_of[node.number] = level
        self._rules(node, children, each, one, level)

    def _rules(self, node: Node, children: Sequence[Child], each: int, one: int, level: int) -> None:
        group: list[tuple[Tests, tuple[int, int]]] = [
            ([("", f"n{number}", float(one * sign))], (node.number, one)) for number, sign in children
        ]
        if children:
            group.append(([("", f"n{number}", float(each * sign)) for number, sign in children], (node.number, each)))
            self._add(level, group, len(group), [c[0] for c in children])

    # --- running ---
    def derive(self, shard: _Shard, fact: dict[str, float | str]) -> dict[int, int]:
        """Assert one fact into a shard, take what its rules say, and retract it."""
        truths: dict[int, int] = {}
        base = shard.base
        assert base is not None, "made before anything runs"
        message = text_of(fact)
        for firing in base.put(message):
            number, truth = shard.results[rule_of(firing)]
            if truths.setdefault(number, truth) != truth:
                raise ChannelError(f"node {number} came out both true and false")
        base.take(message)
        return truths


class Prepared:
    """A network registered with the library, ready for tables, one after the other.

    Parameters
    ----------
    network : Network
        From ``compile_network``.

    Raises
    ------
    ChannelError
        When the library cannot be loaded or does not take a rule.
    """

    def __init__(self, network: Network):
        if not available():
            raise ChannelError("this Python cannot load the library")
        self.network = network
        self.values = _Session(network, False, "p", frozenset())
        self.pairs = [Pairs(network, firm) for firm in (False, True)]
        self._intervals: _Session | None = None
        self._made = 0

    def run(self, table: FactTable) -> dict:
        """Run the network over a table in this process.

        Parameters
        ----------
        table : FactTable
            Settled (rounded) facts of one apiary.

        Returns
        -------
        dict
            ``{"point": {top: codes}, "firm": {top: codes}, "pairs": {rule: {"point": set, "firm": set}}, "cannot": {...}}``;
            codes are values of ``Truth``, pairs as (row at, row partner) that fire.

        Raises
        ------
        ChannelError
            When the library reports an error.
        """
        network = self.network
        settled = settled_nodes(network, table)
        point = _pass(self.values, table, None)
        firm = point
        if len(settled) < len(network.nodes):
            firm = _pass(self._on_intervals(settled), table, point)
        result: dict[str, dict] = {"point": {}, "firm": {}, "pairs": {}, "cannot": dict(network.cannot)}
        for name, child in network.tops.items():
            for kind, truths in (("point", point), ("firm", firm)):
                result[kind][name] = [known.get(child[0], UNDECIDED) * child[1] for known in truths]
        for kind, pairs, truths in zip(("point", "firm"), self.pairs, (point, firm), strict=True):
            for name, found in pairs.run(table, truths).items():
                result["pairs"].setdefault(name, {})[kind] = found
        return result

    def _on_intervals(self, settled: frozenset) -> _Session:
        """Return a session that leaves out nothing but settled nodes: the one at hand, or one for all tables so far.

        The library never gives memory back, so sessions are few: each new one leaves out less than the one before.
        """
        if self._intervals is None or not self._intervals.settled <= settled:
            left_out = settled if self._intervals is None else settled & self._intervals.settled
            self._made += 1
            self._intervals = _Session(self.network, True, f"f{self._made}", left_out)
        return self._intervals


def run(network: Network, table: FactTable) -> dict:
    """Register a network and run it over a table in this process; see ``Prepared``."""
    return Prepared(network).run(table)


def settled_nodes(network: Network, table: FactTable) -> frozenset:
    """Return the nodes that no interval touches at any hive: their truth on intervals is that on values."""
    exact = {name: not bool(((c.low < c.value) | (c.high > c.value)).any()) for name, c in table.columns.items()}
    settled: set[int] = set()
    for node in network.nodes:
        if node.kind in ("compare", "facts"):
            untouched = all(exact.get(ref.name, True) for ref in refs(node.leaf))
        else:
            # Membership, flags and "is known" read the value alone; the others rest on the nodes they read, which come first.
            untouched = all(number in settled for number, _ in node.children)
        if untouched:
            settled.add(node.number)
    return frozenset(settled)


def _pass(session: _Session, table: FactTable, point: list[dict[int, int]] | None) -> list[dict[int, int]]:
    """Derive the nodes that are not settled at every hive, level by level.

    ``point`` holds the truths of the pass on values during that on intervals, which takes over the settled ones.
    """
    network, settled = session.network, session.settled
    truths = session.joins.truths(table)
    if point is not None:
        for known, before in zip(truths, point, strict=True):
            known.update((number, truth) for number, truth in before.items() if number in settled)
    _constants(network, truths)
    cells = {name: _cells(table.column(name)) for name in session.fields}
    reaching: dict[int, list[Node]] = {}
    for node in network.nodes:
        if node.kind == "reach" and node.number not in settled:
            reaching.setdefault(session.level_of[node.number], []).append(node)
    for level in sorted(session.levels):
        yard = {node.number: _yard(node, truths, point) for node in reaching.get(level, ())}
        for shard in session.levels[level]:
            names, fields = _fields(session, shard, cells)
            nodes = sorted(shard.nodes)
            opened = [number for number in nodes if number in session.opened]
            names += [f"n{number}" for number in nodes] + [f"p{number}" for number in opened] + [f"y{k}" for k in yard]
            rows = zip(*fields, strict=True) if fields else itertools.repeat(())
            for hive, (known, row) in enumerate(zip(truths, rows, strict=False)):
                on_values = known if point is None else point[hive]
                opens = (on_values.get(number, UNDECIDED) for number in opened)
                said = (*row, *map(known.get, nodes), *opens, *yard.values())
                found = shard.told.get(said)
                if found is None:
                    message = {name: float(value) for name, value in zip(names, said, strict=True) if value is not None}
                    found = session.derive(shard, {"h": hive, **message})
                    if len(shard.told) < MOST_TOLD:
                        shard.told[said] = found
                known.update(found)
    return truths


def _cells(column: Column) -> list[list[float | None]]:
    """Return the values, low and high ends of a column; None where it is not known."""
    return [[None if x != x else x for x in part.tolist()] for part in (column.value, column.low, column.high)]


def _fields(session: _Session, shard: _Shard, cells: dict[str, list]) -> tuple[list[str], list[Sequence[float | None]]]:
    """Return the fields that a shard reads of the table and the cells of each."""
    names: list[str] = []
    fields: list[Sequence[float | None]] = []
    for name in sorted(shard.facts):
        ends = ("", "l", "h") if session.firm else ("",)
        names += [f"f{session.fields[name]}{end}" for end in ends]
        fields += cells[name][: len(ends)]
    for name in sorted(shard.asked):
        names.append(f"k{session.fields[name]}")
        fields.append([float(value is not None) for value in cells[name][0]])
    return names, fields


def _yard(node: Node, truths: list[dict[int, int]], point: list[dict[int, int]] | None) -> float:
    """Whether what a reaching node reads is true at any hive: true, false, or (true on values only) open."""
    number, sign = node.children[0]
    wanted = TRUE * sign
    if any(known.get(number, UNDECIDED) == wanted for known in truths):
        return float(TRUE)
    on_values = point is not None and any(known.get(number, UNDECIDED) == wanted for known in point)
    return float(UNDECIDED if on_values else FALSE)


def _constants(network: Network, truths: list[dict[int, int]]) -> None:
    """An ``any`` over nothing (a finding no rule gives here) is false, an ``all`` over nothing true, without any message."""
    for node in network.nodes:
        if node.kind in ("all", "any") and not node.children:
            for each in truths:
                each[node.number] = TRUE if node.kind == "all" else FALSE

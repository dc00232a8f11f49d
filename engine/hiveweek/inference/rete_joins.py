"""What the second channel joins: two facts of one hive compared with each other, and two hives of one apiary.

Here facts go in one by one, ``{h, f, l, u}`` with their lower and upper bounds, and the library joins them.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from itertools import product

from hiveweek.facts.table import FactTable
from hiveweek.inference.library import Rulebase, rule_of, text_of
from hiveweek.inference.network import Network, PairRule
from hiveweek.language.terms import NEGATED, refs
from hiveweek.language.truth import Truth

# How ``left OP right`` is sure, from lower and upper bounds (both the value in the pass on values): ways, each a list of
# (test, bound of the left, bound of the right).
TESTS = {
    "<": [[("$lt", "u", "l")]],
    "<=": [[("$lte", "u", "l")]],
    ">": [[("$gt", "l", "u")]],
    ">=": [[("$gte", "l", "u")]],
    "==": [[("$gte", "l", "u"), ("$lte", "u", "l")]],
    "!=": [[("$lt", "u", "l")], [("$gt", "l", "u")]],
}
_TURNED = {"$lt": "$gt", "$gt": "$lt", "$lte": "$gte", "$gte": "$lte"}
# Where the last join of a conjunction fails, the library reads past its end and may end the process; so the last one holds always.
_LAST = {"$lte": {"z": {"m0": "z"}}}
SHARD = 20  # comparisons or two-hive rules in one of the library's rulesets


class Pairs:
    """The two-hive rules of a network in the library, for the pass on values or the pass on intervals.

    Parameters
    ----------
    network : Network
    firm : bool
        Whether it is for the pass on intervals.
    """

    def __init__(self, network: Network, firm: bool):
        self.firm = firm
        self.bases: list[tuple[list[PairRule], dict[str, str], Rulebase]] = []
        for first in range(0, len(network.pairs), SHARD):
            pairs = network.pairs[first : first + SHARD]
            rules: dict[str, list] = {}
            named: dict[str, str] = {}
            for k, pair in enumerate(pairs):
                for tests in product(*(TESTS[op] for _, op, _ in pair.between)):
                    second = [{"f": f"b{k}"}, {"$neq": {"h": {"m0": "h"}}}]
                    for j, way in enumerate(tests):
                        # The tests speak of the left side, here the at-hive (m0); from the partner's side they turn round.
                        second += [{_TURNED[op]: {f"{theirs}{j}": {"m0": f"{mine}{j}"}}} for op, mine, theirs in way]
                    named[f"r{len(rules)}"] = pair.id
                    rules[f"r{len(rules)}"] = [{"m0": {"f": f"a{k}"}}, {"m1": {"$and": [*second, _LAST]}}]
            self.bases.append((pairs, named, Rulebase(f"pair{'firm' if firm else 'point'}{first}", rules)))

    def run(self, table: FactTable, truths: list[dict[int, int]]) -> dict[str, set[tuple[int, int]]]:
        """Return, for each two-hive rule, the pairs of rows (at, partner) that fire.

        Parameters
        ----------
        table : FactTable
        truths : list of dict of int to int
            Truths of the network's nodes at each hive, for what each role must be alone.
        """
        result: dict[str, set[tuple[int, int]]] = {}
        for pairs, named, base in self.bases:
            result.update({pair.id: set() for pair in pairs})
            put = []
            for message in map(text_of, _messages(pairs, table, truths, self.firm)):
                for firing in base.put(message):
                    body = json.loads(firing)[rule_of(firing)]
                    result[named[rule_of(firing)]].add((int(body["m0"]["h"]), int(body["m1"]["h"])))
                put.append(message)
            for message in put:
                base.take(message)
        return result


def _messages(pairs: list[PairRule], table: FactTable, truths: list[dict[int, int]], firm: bool) -> Iterator[dict]:
    """Yield what each hive that may take a role brings to the comparisons with the other."""
    for k, pair in enumerate(pairs):
        for hive in range(len(table)):
            for letter, child in (("a", pair.at), ("b", pair.partner)):
                if child is not None and truths[hive].get(child[0]) != Truth.TRUE * child[1]:
                    continue
                message = _bounds(table, hive, pair.between, letter, firm)
                # A fact that is missing leaves the pair open whatever the other hive is; the library does not bear a join
                # over a missing field.
                if message is not None:
                    yield message | {"h": hive, "f": f"{letter}{k}", "z": 0}


def _bounds(
    table: FactTable, hive: int, between: tuple[tuple[str, str, str], ...], letter: str, firm: bool
) -> dict | None:
    message: dict = {}
    for j, (mine, _, theirs) in enumerate(between):
        column = table.column(mine if letter == "a" else theirs)
        value = float(column.value[hive])
        if value != value:
            return None
        message[f"l{j}"] = float(column.low[hive]) if firm else value
        message[f"u{j}"] = float(column.high[hive]) if firm else value
    return message


class Joins:
    """The comparisons of two facts of one hive in the library, those that are not settled.

    Parameters
    ----------
    network : Network
    firm : bool
        Whether it is for the pass on intervals.
    prefix : str
        Begins the names of the library's rulesets.
    settled : frozenset of int
        Nodes that are left out.
    """

    def __init__(self, network: Network, firm: bool, prefix: str, settled: frozenset):
        self.firm = firm
        self.bases: list[tuple[list[str], dict[str, tuple[int, Truth]], Rulebase]] = []
        nodes = [node for node in network.nodes if node.kind == "facts" and node.number not in settled]
        for first in range(0, len(nodes), SHARD):
            rules: dict[str, list] = {}
            results: dict[str, tuple[int, Truth]] = {}
            names: set[str] = set()
            for node in nodes[first : first + SHARD]:
                names |= {ref.name for ref in refs(node.leaf)}
                for truth, op in ((Truth.TRUE, node.leaf.op), (Truth.FALSE, NEGATED[node.leaf.op])):
                    for tests in TESTS[op]:
                        clauses = [{"f": node.leaf.left.name}] + [
                            {test: {mine: {"m0": theirs}}} for test, mine, theirs in tests
                        ]
                        results[f"r{len(rules)}"] = (node.number, truth)
                        rules[f"r{len(rules)}"] = [
                            {"m0": {"f": node.leaf.right.name}},
                            {"m1": {"$and": [*clauses, _LAST]}},
                        ]
            self.bases.append((sorted(names), results, Rulebase(f"{prefix}join{first}", rules)))

    def truths(self, table: FactTable) -> list[dict[int, int]]:
        """Return the truth of every such comparison at each hive; what is open is left out."""
        truths: list[dict[int, int]] = [{} for _ in range(len(table))]
        for names, results, base in self.bases:
            columns = [(name, table.column(name)) for name in names]
            for hive, known in enumerate(truths):
                put = []
                for name, column in columns:
                    value = float(column.value[hive])
                    if value != value:
                        continue
                    low, high = (float(column.low[hive]), float(column.high[hive])) if self.firm else (value, value)
                    message = text_of({"h": hive, "f": name, "l": low, "u": high, "z": 0})
                    known.update(results[rule_of(firing)] for firing in base.put(message))
                    put.append(message)
                for message in put:
                    base.take(message)
        return truths

"""What the second channel joins: two facts of one hive compared with each other, and two hives of one apiary.

Here facts go in one by one, ``{h, f, l, u}`` with their lower and upper bounds, and the library joins them.
"""

from __future__ import annotations

from itertools import product

from hiveweek.inference.network import Network
from hiveweek.inference.rete import FALSE, NEGATED, TRUE, call, leaf_refs

# How ``left OP right`` is sure, from lower and upper bounds (both the value in the pass on values): ways, each a list of
# (test, bound of the left, bound of the right).
TESTS = {
    "<": [[("$lt", "u", "l")]], "<=": [[("$lte", "u", "l")]], ">": [[("$gt", "l", "u")]], ">=": [[("$gte", "l", "u")]],
    "==": [[("$gte", "l", "u"), ("$lte", "u", "l")]], "!=": [[("$lt", "u", "l")], [("$gt", "l", "u")]],
}
_TURNED = {"$lt": "$gt", "$gt": "$lt", "$lte": "$gte", "$gte": "$lte"}
# Where the last join of a conjunction fails, the library reads past its end and may end the process; so the last one holds always.
_LAST = {"$lte": {"z": {"m0": "z"}}}
SHARD = 20  # comparisons or two-hive rules in one of the library's rulesets


def run_pairs(network: Network, table, host, point, firm) -> dict:
    """Return, for each two-hive rule, the pairs of rows (at, partner) that fire on values and on intervals.

    Parameters
    ----------
    point, firm : list of dict of int to int
        Truths of the network's nodes at each hive, for what each role must be alone.
    """
    result = {pair.id: {"point": set(), "firm": set()} for pair in network.pairs}
    found: list = []

    def action(key):
        def run(context):
            found.append((key, int(context.m0["h"]), int(context.m1["h"])))

        return run

    rulesets: dict[str, dict] = {}
    homes: dict[tuple[str, int], str] = {}
    for kind in ("point", "firm"):
        for k, pair in enumerate(network.pairs):
            name = f"pair{kind}{k // SHARD}"
            rules = rulesets.setdefault(name, {"any": {"all": [{"m": {"$ex": {"h": 1}}}], "run": lambda c: None}})
            homes[(kind, k)] = name
            ways = [TESTS[op] for _, op, _ in pair.between]
            for tests in product(*ways):
                second = [{"f": f"b{k}"}, {"$neq": {"h": {"m0": "h"}}}]
                for j, way in enumerate(tests):
                    # The tests speak of the left side, here the at-hive (m0); written from the partner's side they turn round.
                    second += [{_TURNED[op]: {f"{theirs}{j}": {"m0": f"{mine}{j}"}}} for op, mine, theirs in way]
                rules[f"r{len(rules)}"] = {"all": [{"m0": {"f": f"a{k}"}}, {"m1": {"$and": [*second, _LAST]}}], "run": action((kind, pair.id))}
    if rulesets:
        host.set_rulesets(rulesets)
    asserted = []
    for kind, truths in (("point", point), ("firm", firm)):
        for k, pair in enumerate(network.pairs):
            for hive in range(len(table)):
                for letter, child in (("a", pair.at), ("b", pair.partner)):
                    if child is not None and truths[hive].get(child[0]) != (TRUE if child[1] > 0 else FALSE):
                        continue
                    message = _message(table, hive, pair.between, letter, kind == "firm")
                    # A fact that is missing leaves the pair open whatever the other hive is; the library does not bear
                    # a join over a missing field.
                    if message is None:
                        continue
                    message |= {"h": hive, "f": f"{letter}{k}"}
                    name = homes[(kind, k)]
                    call(host.assert_fact, name, message)
                    asserted.append((name, message))
    for (kind, rule_id), at, partner in found:
        result[rule_id][kind].add((at, partner))
    for name, message in asserted:
        call(host.retract_fact, name, message)
    return result


def _message(table, hive: int, between, letter: str, firm: bool) -> dict | None:
    """The bounds of what a hive brings to the comparisons with the other, None where one is unknown."""
    message: dict = {"z": 0}
    for j, (mine, _, theirs) in enumerate(between):
        column = table.column(mine if letter == "a" else theirs)
        value = float(column.value[hive])
        if value != value:
            return None
        message[f"l{j}"] = float(column.low[hive]) if firm else value
        message[f"u{j}"] = float(column.high[hive]) if firm else value
    return message


def compare_facts(network: Network, table, firm: bool, host, prefix: str, settled: frozenset) -> list[dict[int, int]]:
    """Return the truths of every comparison of two facts of one hive that is not settled, joined in the library."""
    truths: list[dict[int, int]] = [{} for _ in range(len(table))]
    nodes = [node for node in network.nodes if node.kind == "facts" and node.number not in settled]
    if not nodes:
        return truths
    out: list = []

    def action(result):
        def run(context):
            out.append(result)

        return run

    rulesets: dict[str, dict] = {}
    homes: dict[str, list[str]] = {}
    for k, node in enumerate(nodes):
        name = f"{prefix}join{k // SHARD}"
        rules = rulesets.setdefault(name, {"any": {"all": [{"m": {"$ex": {"h": 1}}}], "run": lambda c: None}})
        for ref in leaf_refs(node.leaf):
            if name not in homes.setdefault(ref.name, []):
                homes[ref.name].append(name)
        for truth, op in ((TRUE, node.leaf.op), (FALSE, NEGATED[node.leaf.op])):
            for tests in TESTS[op]:
                clauses = [{"f": node.leaf.left.name}] + [{test: {mine: {"m0": theirs}}} for test, mine, theirs in tests]
                rules[f"r{len(rules)}"] = {"all": [{"m0": {"f": node.leaf.right.name}}, {"m1": {"$and": [*clauses, _LAST]}}],
                                           "run": action((node.number, truth))}
    host.set_rulesets(rulesets)
    for hive in range(len(table)):
        asserted = []
        for fact in sorted(homes):
            column = table.column(fact)
            value = float(column.value[hive])
            if value != value:
                continue
            low, high = (float(column.low[hive]), float(column.high[hive])) if firm else (value, value)
            message = {"h": hive, "f": fact, "l": low, "u": high, "z": 0}
            for name in homes[fact]:
                call(host.assert_fact, name, message)
                asserted.append((name, message))
        truths[hive].update(dict(out))
        for name, message in asserted:
            call(host.retract_fact, name, message)
        out.clear()
    return truths

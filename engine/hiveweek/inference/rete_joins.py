"""What the second channel joins: two facts of one hive compared with each other, and two hives of one apiary.

Here facts go in one by one, ``{h, f, v, ...}``, and the library joins them.
"""

from __future__ import annotations

from hiveweek.inference.network import Network, Node
from hiveweek.inference.rete import FALSE, TRUE, call, leaf_refs

_OPS = {"<": "$lt", "<=": "$lte", ">": "$gt", ">=": "$gte", "==": "", "!=": "$neq"}
SHARD = 40


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
            second = [{"f": f"b{k}"}, {"$neq": {"h": {"m0": "h"}}}]
            for j, (_, op, _) in enumerate(pair.between):
                test = {f"y{j}": {"m0": f"x{j}"}}
                # Written from the partner's side: at OP partner is partner REVERSED-OP at.
                turned = {"<": ">", "<=": ">=", ">": "<", ">=": "<="}.get(op, op)
                second.append({_OPS[turned]: test} if _OPS[turned] else test)
            rules[f"r{k}"] = {"all": [{"m0": {"f": f"a{k}"}}, {"m1": {"$and": second}}], "run": action((kind, pair.id))}
    if rulesets:
        host.set_rulesets(rulesets)
    asserted = []
    for kind, truths in (("point", point), ("firm", firm)):
        for k, pair in enumerate(network.pairs):
            for hive in range(len(table)):
                for letter, child, field in (("a", pair.at, "x"), ("b", pair.partner, "y")):
                    if child is not None and truths[hive].get(child[0]) != (1 if child[1] > 0 else 0):
                        continue
                    message = {"h": hive, "f": f"{letter}{k}"}
                    for j, (mine, op, theirs) in enumerate(pair.between):
                        value = _bound(table.column(mine if letter == "a" else theirs), hive, op, letter, kind)
                        if value is not None:
                            message[f"{field}{j}"] = value
                    name = homes[(kind, k)]
                    call(host.assert_fact, name, message)
                    asserted.append((name, message))
    for (kind, rule_id), at, partner in found:
        result[rule_id][kind].add((at, partner))
    for name, message in asserted:
        call(host.retract_fact, name, message)
    return result


def _bound(column, hive: int, op: str, letter: str, kind: str) -> float | None:
    value = float(column.value[hive])
    if value != value:
        return None
    if kind == "point":
        return value
    low, high = float(column.low[hive]), float(column.high[hive])
    if op in ("<", "<="):
        return high if letter == "a" else low
    if op in (">", ">="):
        return low if letter == "a" else high
    return value if low == high else None


def compare_facts(network: Network, table, firm: bool, host, prefix: str) -> list[dict[int, int]]:
    """Return the truths of every comparison of two facts of one hive, joined in the library."""
    truths: list[dict[int, int]] = [{} for _ in range(len(table))]
    nodes = [node for node in network.nodes if node.kind == "facts"]
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
        for truth, tests in _joined(node, firm):
            clauses = [{"f": node.leaf.left.name}]
            for op, mine, other in tests:
                clauses.append({mine: {"m0": other}} if not op else {op: {mine: {"m0": other}}})
            rules[f"r{len(rules)}"] = {"all": [{"m0": {"f": node.leaf.right.name}}, {"m1": {"$and": clauses}}],
                                       "run": action((node.number, truth))}
    host.set_rulesets(rulesets)
    for hive in range(len(table)):
        asserted = []
        for fact in sorted(homes):
            column = table.column(fact)
            value = float(column.value[hive])
            if value != value:
                continue
            message = {"h": hive, "f": fact, "v": value, "l": float(column.low[hive]), "u": float(column.high[hive])}
            for name in homes[fact]:
                call(host.assert_fact, name, message)
                asserted.append((name, message))
        truths[hive].update(dict(out))
        out.clear()
        for name, message in asserted:
            call(host.retract_fact, name, message)
        out.clear()
    return truths


def _joined(node: Node, firm: bool) -> list:
    """(truth, tests) of ``left OP right`` where m0 is the right fact: each test an operator, the left's and the right's field."""
    op = node.leaf.op
    negated = {"<": ">=", "<=": ">", ">": "<=", ">=": "<", "==": "!=", "!=": "=="}[op]
    if not firm:
        return [(TRUE, [(_OPS[op], "v", "v")]), (FALSE, [(_OPS[negated], "v", "v")])]
    if op in ("<", "<="):
        return [(TRUE, [(_OPS[op], "u", "l")]), (FALSE, [(_OPS[negated], "l", "u")])]
    if op in (">", ">="):
        return [(TRUE, [(_OPS[op], "l", "u")]), (FALSE, [(_OPS[negated], "u", "l")])]
    same = [("", "l", "l"), ("", "u", "u"), ("", "l", "u")]
    yes, no = (TRUE, FALSE) if op == "==" else (FALSE, TRUE)
    return [(yes, same), (no, [("$lt", "u", "l")]), (no, [("$gt", "l", "u")])]

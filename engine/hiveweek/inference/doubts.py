"""Which unknown or doubtful facts would decide a rule.

For a rule that is undecided, or that fails only because an interval straddles a limit, this gives the smallest sets of
facts that would make it hold if they turned out right, without any condition that is already false.
"""

from __future__ import annotations

import numpy as np

from hiveweek.inference.columnar import Inference
from hiveweek.rules.meaning import View, evaluate
from hiveweek.rules.model import LEAVES, All, Any, Not, NotTrue, Ref, Rule

MOST = 48  # sets kept at each step, smallest first

Sets = list  # list of frozenset of (hive row, fact id)


def doubts(inference: Inference, rule_id: str, hive: int) -> list[list[tuple[int, str]]]:
    """Return the minimal sets of facts whose right values would make a rule fire.

    Parameters
    ----------
    rule_id : str
        A rule of the inference's ruleset.
    hive : int
        Row of the hive whose list the advice would join.

    Returns
    -------
    list of list of (int, str)
        Each a set as sorted (hive row, fact id) pairs; empty when the rule is firmly decided false.
    """
    rule = inference.ruleset.rules[rule_id]
    return [sorted(s) for s in _of_rule(inference, rule, hive, True, frozenset())]


def _of_rule(inference, rule: Rule, hive: int, wanted: bool, seen: frozenset) -> Sets:
    if rule.roles:
        partner = inference.partners.get(rule.id, [None])[hive]
        if partner is None:
            return [] if wanted else [frozenset()]
        where = {rule.at: hive, rule.partner: partner}
    else:
        where = {None: hive}
    return _sets(inference, rule.when, where, (rule.at, rule.partner) if rule.roles else (), wanted, seen)


def _cell(inference, condition, where, roles):
    if roles:
        view = View(inference.table, inference.truths, inference.ruleset.limits, roles,
                    np.array([where[roles[0]]]), np.array([where[roles[1]]]))
        point, firm, _ = evaluate(condition, view).at(0, 0)
    else:
        truth = inference.cells.get(id(condition))
        if truth is None:
            truth = inference.cells[id(condition)] = evaluate(condition, inference.view())
        point, firm, _ = truth.at(where[None])
    return point, firm


def _sets(inference, condition, where, roles, wanted: bool, seen) -> Sets:
    """Sets that make a condition true (wanted) or false; [{}] when it already is, [] when it cannot be."""
    if isinstance(condition, Not):
        return _sets(inference, condition.part, where, roles, not wanted, seen)
    if isinstance(condition, NotTrue):
        point, firm = _cell(inference, condition, where, roles)
        if (point == 1) == wanted and firm == point:
            return [frozenset()]
        if firm == point:
            # An undecided part leaves NotTrue true, and only its unknown facts could make the part true.
            return _sets(inference, condition.part, where, roles, True, seen) if not wanted else []
        return _sets(inference, condition.part, where, roles, not wanted, seen)
    if isinstance(condition, (All, Any)):
        every = isinstance(condition, All) == wanted
        options = [_sets(inference, part, where, roles, wanted, seen) for part in condition.parts]
        return _cross(options) if every else _smallest([s for option in options for s in option])
    return _leaf(inference, condition, where, roles, wanted, seen)


def _leaf(inference, leaf, where, roles, wanted, seen) -> Sets:
    assert isinstance(leaf, LEAVES)
    point, firm = _cell(inference, leaf, where, roles)
    truth = 1 if wanted else -1
    if firm == truth and point == truth:
        return [frozenset()]
    if firm == -truth and point == -truth:
        return []
    hive = where[leaf.left.role if roles else None]
    if leaf.left.is_finding:
        name = leaf.left.name[len("finding."):]
        if (name, hive, wanted) in seen:
            return []
        seen = seen | {(name, hive, wanted)}
        giving = inference.ruleset.giving(name)
        options = [_of_rule(inference, rule, hive, wanted, seen) for rule in giving]
        return _smallest([s for option in options for s in option]) if wanted else _cross(options)
    facts = {(hive, leaf.left.name)} if _open(inference, leaf.left, hive) else set()
    right = getattr(leaf, "right", None)
    if isinstance(right, Ref):
        other = where[right.role if roles else None]
        if _open(inference, right, other):
            facts.add((other, right.name))
    return [frozenset(facts)] if facts else []


def _open(inference, ref: Ref, hive: int) -> bool:
    column = inference.table.column(ref.name)
    value, low, high = column.value[hive], column.low[hive], column.high[hive]
    return bool(np.isnan(value) or low < value or high > value)


def _cross(options: list[Sets]) -> Sets:
    result: Sets = [frozenset()]
    for option in options:
        if not option:
            return []
        result = _smallest([a | b for a in result for b in option])
    return result


def _smallest(sets: Sets) -> Sets:
    kept: Sets = []
    for candidate in sorted(set(sets), key=lambda s: (len(s), sorted(s))):
        if not any(other <= candidate for other in kept):
            kept.append(candidate)
            if len(kept) >= MOST:
                break
    return kept

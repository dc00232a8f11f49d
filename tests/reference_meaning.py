"""What a ruleset means, one hive at a time in plain Python: an evaluator that shares no code with the two channels.

Truths are True, False and None (open). The rules are those of strong three-valued logic (S. C. Kleene, Introduction to
Metamathematics, 1952, section 64).
"""

from __future__ import annotations

import math
import operator

from hiveweek.language.terms import All, Any, Compare, Flag, Known, LimitRef, Member, Not, NotTrue, Ref
from hiveweek.language.truth import Truth

HOLDS = {"<": operator.lt, "<=": operator.le, ">": operator.gt, ">=": operator.ge, "==": operator.eq, "!=": operator.ne}
CODE = {True: Truth.TRUE, False: Truth.FALSE, None: Truth.UNDECIDED}


def both(a, b):
    """Kleene's strong conjunction."""
    if a is False or b is False:
        return False
    return None if a is None or b is None else True


def either(a, b):
    """Kleene's strong disjunction."""
    if a is True or b is True:
        return True
    return None if a is None or b is None else False


def opposite(a):
    """Kleene's negation."""
    return None if a is None else not a


class Reference:
    """Evaluates a ruleset over a table, on values and on intervals."""

    def __init__(self, ruleset, table):
        self.ruleset, self.table = ruleset, table
        self.hives = range(len(table))
        self.findings: dict[tuple, object] = {}
        self.rules: dict[tuple, object] = {}
        self.pairs: dict[tuple, set] = {}
        self.partners: dict[str, list] = {}
        for layer in ruleset.layers:
            for name in layer:
                for firm in (False, True):
                    self._finding(name, firm)
        for rule in ruleset.rules.values():
            if not rule.finding:
                for firm in (False, True):
                    self._rule(rule, firm)

    def cell(self, fact, hive):
        """Return (low, value, high) as floats, None where unknown."""
        column = self.table.column(fact)
        if math.isnan(column.value[hive]):
            return None
        return float(column.low[hive]), float(column.value[hive]), float(column.high[hive])

    def truth(self, condition, where, firm):
        """Return the truth of a condition; ``where`` maps roles (None for one hive) to rows."""
        if isinstance(condition, All):
            result = True
            for part in condition.parts:
                result = both(result, self.truth(part, where, firm))
            return result
        if isinstance(condition, Any):
            result = False
            for part in condition.parts:
                result = either(result, self.truth(part, where, firm))
            return result
        if isinstance(condition, Not):
            return opposite(self.truth(condition.part, where, firm))
        if isinstance(condition, NotTrue):
            # Unknown does not block; a truth in doubt does so in doubt.
            if self.truth(condition.part, where, False) is None:
                return True
            return opposite(self.truth(condition.part, where, firm))
        hive = where[condition.left.role]
        if isinstance(condition, Flag) and condition.left.is_finding:
            return self.findings[(condition.left.name, hive, firm)]
        cell = self.cell(condition.left.name, hive)
        if isinstance(condition, Known):
            return (cell is not None) == condition.known
        if cell is None:
            return None
        if isinstance(condition, Flag):
            return cell[1] == 1.0
        if isinstance(condition, Member):
            return (cell[1] in condition.values) != condition.negated
        assert isinstance(condition, Compare)
        right = condition.right
        if isinstance(right, Ref):
            other = self.cell(right.name, where[right.role])
            if other is None:
                return None
        else:
            number = self.ruleset.limits[right.name].value if isinstance(right, LimitRef) else right
            other = (number,) * 3
        holds = HOLDS[condition.op]
        if not firm:
            return holds(cell[1], other[1])
        # On intervals: decided where every pair of numbers of the two intervals decides alike. For each operator the
        # outcome can only change between end points, so these (and one number between) are enough to try.
        tries = {holds(a, b) for a in self._inside(cell, other) for b in self._inside(other, cell)}
        return tries.pop() if len(tries) == 1 else None

    @staticmethod
    def _inside(mine, other):
        low, value, high = mine
        inside = {low, value, high, (low + high) / 2}
        inside |= {x for x in other if low <= x <= high}
        return inside

    def _finding(self, name, firm):
        found = dict.fromkeys(self.hives, False)
        for rule in self.ruleset.rules.values():
            if rule.finding != name:
                continue
            truths = self._rule(rule, firm)
            reached = dict(truths)
            if rule.reach == "apiary":
                anywhere = any(truths[hive] is True for hive in self.hives)
                on_values = any(self.rules[(rule.id, hive, False)] is True for hive in self.hives)
                for hive in self.hives:
                    if anywhere:
                        reached[hive] = True
                    elif on_values and truths[hive] is False:
                        reached[hive] = None
            for hive in self.hives:
                found[hive] = either(found[hive], reached[hive])
        for hive in self.hives:
            self.findings[("finding." + name, hive, firm)] = found[hive]

    def _rule(self, rule, firm):
        if rule.roles:
            truths = self._pair(rule, firm)
        else:
            truths = {hive: self.truth(rule.when, {None: hive}, firm) for hive in self.hives}
        for hive in self.hives:
            self.rules[(rule.id, hive, firm)] = truths[hive]
        return truths

    def _pair(self, rule, firm):
        table = {}
        for at in self.hives:
            for partner in self.hives:
                if at != partner:
                    where = {rule.at: at, rule.partner: partner}
                    table[(at, partner)] = (self.truth(rule.when, where, False), self.truth(rule.when, where, True))
        self.pairs[(rule.id, firm)] = {pair for pair, truth in table.items() if truth[firm] is True}
        taken = self._couple(rule, table)
        self.partners[rule.id] = [taken.get(hive) for hive in self.hives]
        return {hive: table[(hive, taken[hive])][firm] if hive in taken else False for hive in self.hives}

    def _couple(self, rule, table):
        """First those that fire, best preferred first and each partner once; then one that could decide for the others."""

        def order(pair):
            key = 0.0
            if rule.prefer:
                ref, way = rule.prefer
                cell = self.cell(ref.name, pair[0] if ref.role == rule.at else pair[1])
                key = math.inf if cell is None else (-cell[1] if way == "desc" else cell[1])
            return (key, self.table.hives[pair[0]], self.table.hives[pair[1]])

        taken: dict[int, int] = {}
        used: set[int] = set()
        for at, partner in sorted((p for p, t in table.items() if t[0] is True), key=order):
            if at not in taken and partner not in used:
                taken[at] = partner
                used.add(partner)
        for at, partner in sorted(
            (p for p, t in table.items() if t[0] is None or (t[0] is False and t[1] is None)), key=order
        ):
            taken.setdefault(at, partner)
        return taken

"""Random hives bent so that a given rule is likely to fire: plain random hives hardly ever meet a long condition."""

from __future__ import annotations

import numpy as np

from hiveweek.facts.table import FactTable
from hiveweek.language.meaning import View, evaluate
from hiveweek.language.terms import All, Any, Compare, Flag, Known, LimitRef, Member, Not, NotTrue, Ref, refs
from hiveweek.language.truth import FALSE

FIXED = ("season.", "climate.")  # these belong to the day and are left alone
OTHER = {"<": ">=", "<=": ">", ">": "<=", ">=": "<", "==": "!=", "!=": "=="}


class _Row(dict):
    """The facts of one hive that were bent; the others are read from the table."""

    def __init__(self, values, row):
        super().__init__()
        self.values_, self.row = values, row

    def __missing__(self, name):
        return float(self.values_[name][self.row])


class Aim:
    """Bends hives of a table towards a rule.

    Parameters
    ----------
    ruleset : RuleSet
    rng : numpy Generator
    """

    def __init__(self, ruleset, vocabulary, rng):
        self.ruleset, self.facts, self.rng = ruleset, vocabulary.facts, rng

    def at(self, rule, cells: dict) -> None:
        """Write facts into ``cells`` ({role: {fact: value}}) with which the rule's condition is likely to hold."""
        self._want(rule.when, True, cells)

    def _want(self, condition, wanted, cells):
        if isinstance(condition, (All, Any)):
            if isinstance(condition, All) == wanted:
                for part in condition.parts:
                    self._want(part, wanted, cells)
            else:
                self._want(condition.parts[self.rng.integers(len(condition.parts))], wanted, cells)
        elif isinstance(condition, Not):
            self._want(condition.part, not wanted, cells)
        elif isinstance(condition, NotTrue):
            # A guard that is left to chance stays interesting: often it is only not known.
            if self.rng.random() < 0.8:
                self._want(condition.part, not wanted, cells)
        elif isinstance(condition, Flag) and condition.left.is_finding:
            giving = self.ruleset.giving(condition.left.name[len("finding.") :])
            mine = cells[condition.left.role]
            for rule in giving if not wanted else [giving[self.rng.integers(len(giving))]] if giving else []:
                if not rule.roles:
                    self._want(rule.when, wanted, {None: mine})
        else:
            self._leaf(condition, wanted, cells)

    def _leaf(self, leaf, wanted, cells):
        fact = self.facts[leaf.left.name]
        mine = cells[leaf.left.role]
        if fact.id.startswith(FIXED):
            return
        if isinstance(leaf, Known):
            if leaf.known != wanted:
                mine[fact.id] = np.nan
        elif isinstance(leaf, Flag):
            mine[fact.id] = float(wanted)
        elif isinstance(leaf, Member):
            words = range(len(fact.values)) if fact.values else range(20)
            fit = [v for v in words if ((float(v) in leaf.values) != leaf.negated) == wanted]
            if fit:
                mine[fact.id] = float(fit[self.rng.integers(len(fit))])
        else:
            self._compare(leaf, wanted, cells, fact, mine)

    def _compare(self, leaf, wanted, cells, fact, mine):
        assert isinstance(leaf, Compare)
        op = leaf.op if wanted else OTHER[leaf.op]
        if isinstance(leaf.right, Ref):
            number = cells[leaf.right.role][leaf.right.name]
            if np.isnan(number):
                return
        else:
            number = self.ruleset.limits[leaf.right.name].value if isinstance(leaf.right, LimitRef) else leaf.right
        if fact.kind in ("one_of", "yes_no", "text"):
            size = len(fact.values) or 2
            mine[fact.id] = number if op == "==" else float((number + 1 + self.rng.integers(size - 1)) % size)
            return
        gap = (
            float(self.rng.choice([1, 2, 5, 20, 80]))
            if fact.kind != "number"
            else float(self.rng.choice([0.1, 1, 4, 20, 80]))
        )
        value = number + {"<": -gap, "<=": -gap, ">": gap, ">=": gap, "==": 0.0, "!=": gap}[op]
        low = fact.low if fact.low is not None else -np.inf
        high = fact.high if fact.high is not None else np.inf
        mine[fact.id] = float(np.clip(value, low, high))


def aimed_table(ruleset, plain: FactTable, rules, rng) -> FactTable:
    """Return the table with each hive bent towards one of the rules, in turn; a two-hive rule takes two rows.

    Parameters
    ----------
    plain : FactTable
        Random hives; what a rule does not read stays.
    rules : list of Rule
    """
    aim = Aim(ruleset, plain.vocabulary, rng)
    values = {name: plain.column(name).value.copy() for name in plain.vocabulary.facts}
    row = turn = 0
    while row < len(plain):
        rule = rules[turn % len(rules)]
        turn += 1
        roles = rule.roles or (None,)
        if row + len(roles) > len(plain):
            break
        cells = {role: _Row(values, row + k) for k, role in enumerate(roles)}
        aim.at(rule, cells)
        for k, role in enumerate(roles):
            for name, value in cells[role].items():
                values[name][row + k] = value
        row += len(roles)
    table = FactTable(plain.vocabulary, plain.hives)
    for name, value in values.items():
        table.set(name, value, origin="set")
    table.settle()
    return table


def days_for(ruleset, rule, vocabulary, days) -> list:
    """Return the days on which nothing that a rule asks of the season and the climate alone stands against it."""
    table = FactTable(vocabulary, [str(k) for k in range(len(days))])
    for name in sorted({name for day in days for name in day.facts}):
        table.set(name, np.array([day.facts.get(name, np.nan) for day in days]))
    parts = rule.when.parts if isinstance(rule.when, All) else (rule.when,)
    fit = np.ones(len(days), dtype=bool)
    for part in parts:
        named = list(refs(part))
        if named and all(ref.name.startswith(FIXED) for ref in named) and len({ref.role for ref in named}) == 1:
            truth = evaluate(part, View(table, {}, ruleset.limits))
            fit &= np.broadcast_to(truth.point, len(days)) != FALSE
    return [day for day, fits in zip(days, fit, strict=True) if fits]

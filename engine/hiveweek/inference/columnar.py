"""The columnar evaluator: what every rule says of every hive. It is the definition; the second channel is held against it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from hiveweek.facts.table import FactTable
from hiveweek.language.bits import Told, bits_of, holding, surely_failing
from hiveweek.language.meaning import View, evaluate
from hiveweek.language.terms import Condition
from hiveweek.language.truth import FALSE, TRUE, UNDECIDED, Outcome, Truth, at, chance_given
from hiveweek.rules.model import Rule, RuleSet


@dataclass
class Inference:
    """All outcomes for one table.

    Attributes
    ----------
    rules, findings, prohibitions : dict of str to Outcome
        By rule id, by finding name (without prefix), by prohibition id. For two-hive prohibitions see ``prohibits``.
    options : dict of str to list of Outcome
        By option id, an outcome for each bar.
    partners : dict of str to list of (int or None)
        For two-hive rules: the row of each hive's partner (for an undecided one the partner that could decide it).
    """

    ruleset: RuleSet
    table: FactTable
    rules: dict[str, Outcome] = field(default_factory=dict)
    findings: dict[str, Outcome] = field(default_factory=dict)
    prohibitions: dict[str, Outcome] = field(default_factory=dict)
    options: dict[str, list[Outcome]] = field(default_factory=dict)
    partners: dict[str, list] = field(default_factory=dict)
    pairs: dict[str, dict[str, set]] = field(default_factory=dict)
    _asked: dict[int, tuple[Outcome, object]] = field(default_factory=dict, init=False, repr=False)

    def __post_init__(self):
        self.told = Told(len(self.table))
        self._view = View(self.table, self.findings, self.ruleset.limits, told=self.told)

    def view(
        self, roles: tuple[str, ...] = (), rows: np.ndarray | None = None, columns: np.ndarray | None = None
    ) -> View:
        """Return the view that conditions see: of each hive, or with roles of each pair (of the rows and columns given)."""
        return View(self.table, self.findings, self.ruleset.limits, roles, rows, columns) if roles else self._view

    def finds(self, finding: str, hive: int) -> bool:
        """Whether a finding holds at a hive; not where no rule of the ruleset gives it."""
        outcome = self.findings.get(finding)
        return outcome is not None and outcome.holds(hive)

    def truth(self, condition: Condition) -> Outcome:
        """Return the truth of a condition at every hive; the roles of one over two hives are not told apart."""
        bits = bits_of(condition, self._view, self.told)
        return evaluate(condition, self._view) if bits is None else self.told.outcome(bits)

    def where(self, condition: Condition) -> int:
        """Return the hives at which a condition of single hives holds on the point values, a bit each."""
        bits = bits_of(condition, self._view, self.told)
        return holding(evaluate(condition, self._view)) if bits is None else bits[0]

    def prohibits(self, prohibition_id: str, hive: int, partner: int | None = None) -> tuple[Truth, Truth, float]:
        """Return (point, firm, chance) of a prohibition for one hive, with its partner where the prohibition names two.

        A prohibition over two hives counts as not met where the advice has no partner.
        """
        prohibition = self.ruleset.prohibitions[prohibition_id]
        if not prohibition.roles:
            return self.prohibitions[prohibition_id].at(hive)
        if partner is None:
            return Truth.FALSE, Truth.FALSE, 0.0
        return self.holds(prohibition.when, hive, partner, prohibition.roles)

    def holds(
        self, condition: Condition, hive: int, partner: int | None = None, roles: tuple[str, ...] = ()
    ) -> tuple[Truth, Truth, float]:
        """Return (point, firm, chance) of any condition at one hive (or pair), once every rule has been evaluated."""
        if not roles:
            bits = bits_of(condition, self._view, self.told)
            if bits is not None:
                return at(bits, hive)
            asked = self._asked.get(id(condition))
            if asked is None:
                # The condition is kept too, so that its id stays its own.
                asked = self._asked[id(condition)] = (evaluate(condition, self.view()).over(len(self.table)), condition)
            return asked[0].at(hive)
        rows, columns = np.array([hive]), np.array([hive if partner is None else partner])
        return evaluate(condition, self.view(roles, rows, columns)).at(0, 0)


def infer(
    ruleset: RuleSet,
    table: FactTable,
    groups: int = 1,
    given: Mapping[str, Outcome] | None = None,
    before: Inference | None = None,
) -> Inference:
    """Evaluate a ruleset over a fact table.

    Parameters
    ----------
    ruleset : RuleSet
        Loaded, layered and merged.
    table : FactTable
        One apiary: a finding that reaches the apiary spreads over all rows, and two-hive rules pair any two rows.
    groups : int
        How many tables of one length stand below each other in it (days of one apiary): reach and pairs stay inside each.
    given : mapping of str to Outcome, optional
        Findings that are known already, where the table holds some hives of an apiary only.
    before : Inference, optional
        Of the same table and limits, by other rules: what it found of single facts is not worked out again.

    Returns
    -------
    Inference
        An outcome for every rule, finding, prohibition and option bar.
    """
    inference = Inference(ruleset, table)
    n = len(table)
    by_finding: dict[str, list[Rule]] = {}
    for rule in ruleset.rules.values():
        if rule.finding:
            by_finding.setdefault(rule.finding, []).append(rule)
    told = inference.told
    if before is not None:
        told.of_facts = before.told.of_facts
    for layer in ruleset.layers:
        for name in layer:
            if given is not None and name in given:
                inference.findings[name] = given[name]
                continue
            truths = []
            for rule in by_finding.get(name, ()):
                truth = _run(inference, rule, groups)
                truths.append(_reach(truth, n, groups) if rule.reach == "apiary" else truth)
            inference.findings[name] = _either(truths, told).over(n)
    for rule in ruleset.rules.values():
        if not rule.finding:
            _run(inference, rule, groups)
    for prohibition in ruleset.prohibitions.values():
        if not prohibition.roles:
            inference.prohibitions[prohibition.id] = inference.truth(prohibition.when).over(n)
    for option in ruleset.options.values():
        inference.options[option.id] = [inference.truth(bar[0]).over(n) for bar in option.bars]
    return inference


def _run(inference: Inference, rule: Rule, groups: int) -> Outcome:
    n = len(inference.table)
    truth = pair_truth(inference, rule, groups) if rule.roles else inference.truth(rule.when)
    inference.rules[rule.id] = truth.over(n)
    return truth


def _either(truths: list[Outcome], told: Told) -> Outcome:
    """A finding holds where any of its rules holds, and fails only where every one is decided false."""
    if len(truths) == 1:
        return truths[0]
    bits = [truth.bits for truth in truths if truth.bits is not None]
    if len(bits) == len(truths):
        held, failed = 0, told.every
        for one in bits:
            held |= one[0]
            failed &= one[1]
        return told.outcome((held, failed))
    point = np.maximum.reduce([t.point for t in truths])
    if all(t.exact for t in truths):
        return Outcome.exactly(point)
    firm = np.maximum.reduce([t.firm for t in truths])
    chance = 1.0 - np.prod([1.0 - t.chance for t in truths], axis=0)
    return Outcome(point, firm, chance_given(point, firm, chance))


def _reach(truth: Outcome, n: int, groups: int) -> Outcome:
    """True at one hive makes it true in the whole yard, true in doubt makes it doubtful there; elsewhere each hive keeps its own truth."""
    if not n:
        return truth
    truth = truth.over(n)
    if truth.exact:
        held = truth.point.reshape(groups, -1)
        return Outcome.exactly(np.where(np.any(held == TRUE, axis=1, keepdims=True), TRUE, held).reshape(n))
    point, firm, chance = (array.reshape(groups, -1) for array in (truth.point, truth.firm, truth.chance))
    sure = np.any(firm == TRUE, axis=1, keepdims=True)
    likely = np.any(point == TRUE, axis=1, keepdims=True)
    firm = np.where(sure, TRUE, np.where(likely, np.maximum(firm, UNDECIDED), firm))
    point = np.where(likely, TRUE, point)
    chance = np.maximum(chance, chance.max(axis=1, keepdims=True))
    flat = point.reshape(n), firm.reshape(n)
    return Outcome(*flat, chance_given(*flat, chance.reshape(n)))


def pair_truth(inference: Inference, rule: Rule, groups: int = 1) -> Outcome:
    """Evaluate a two-hive rule, choose partners, and return its truth at the hive whose list the advice joins.

    Parts that read one role alone are evaluated first, so that only hives that may take each role are paired, within their group.
    Partners are given greedily: best ``prefer`` first, ties by hive id; a partner is used once.
    """
    n, told = len(inference.table), inference.told
    at, partner = str(rule.at), str(rule.partner)
    inference.partners[rule.id] = [None] * n
    inference.pairs[rule.id] = {"point": set(), "firm": set()}
    size = n // groups
    may = dict.fromkeys((at, partner), told.every if size > 1 else 0)
    for part, used in rule.of_roles:
        if not may[at] or not may[partner]:
            return told.outcome((0, told.every))
        if len(used) == 1:  # of one hive it is read as of any
            may[str(next(iter(used)))] &= ~surely_failing(inference.truth(part))
    found = Outcome(np.full(n, FALSE), np.full(n, FALSE), np.zeros(n))
    may_take = {role: told.outcome((bits, 0)).point for role, bits in may.items()}
    for start in range(0, n, size) if size > 1 else ():
        rows, columns = (start + np.flatnonzero(may_take[role][start : start + size]) for role in (at, partner))
        if len(rows) and len(columns):
            _pair(inference, rule, (at, partner), rows, columns, found)
    return found


def _pair(
    inference: Inference, rule: Rule, roles: tuple[str, str], rows: np.ndarray, columns: np.ndarray, found: Outcome
) -> None:
    """Pair the hives that may take each role, and put the truth at each hive of ``rows`` into ``found``."""
    view = inference.view(roles, rows, columns)
    truth = evaluate(rule.when, view)
    shape = (len(rows), len(columns))
    p, f, c = (np.broadcast_to(a, shape).copy() for a in (truth.point, truth.firm, truth.chance))
    same = rows[:, None] == columns[None, :]
    p[same], f[same], c[same] = FALSE, FALSE, 0.0
    for kind, array in (("point", p), ("firm", f)):
        inference.pairs[rule.id][kind] |= {(int(rows[r]), int(columns[k])) for r, k in np.argwhere(array == TRUE)}
    preference = np.zeros(shape)
    if rule.prefer:
        ref, direction = rule.prefer
        preference = np.nan_to_num(
            np.broadcast_to(view.fact(ref)[0], shape), nan=-np.inf if direction == "desc" else np.inf
        )
        preference = -preference if direction == "desc" else preference
    names = inference.table.hives
    free_rows, free_columns = set(range(len(rows))), set(range(len(columns)))
    for fires in (True, False):
        cells = np.argwhere(p == TRUE if fires else (p == UNDECIDED) | ((p == FALSE) & (f == UNDECIDED)))
        best_first = sorted(
            cells.tolist(), key=lambda rc: (preference[rc[0], rc[1]], names[rows[rc[0]]], names[columns[rc[1]]])
        )
        for r, k in best_first:
            if r not in free_rows or (fires and k not in free_columns):
                continue
            free_rows.discard(r)
            if fires:
                free_columns.discard(k)
            hive = rows[r]
            inference.partners[rule.id][hive] = int(columns[k])
            found.point[hive], found.firm[hive], found.chance[hive] = p[r, k], f[r, k], c[r, k]

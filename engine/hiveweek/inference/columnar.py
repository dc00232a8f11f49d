"""The columnar evaluator: what every rule says of every hive. It is the definition; the second channel is held against it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from hiveweek.facts.table import FactTable
from hiveweek.language.meaning import Truth, View, evaluate
from hiveweek.rules.model import All, Rule, RuleSet, refs

FIRES, NOT, UNDECIDED = 1, 0, -1
_CODES = np.array([NOT, UNDECIDED, FIRES], dtype=np.int8)


def _full(array: np.ndarray, n: int) -> np.ndarray:
    return array if array.shape == (n,) else np.broadcast_to(array, n)


@dataclass
class Outcome:
    """What one condition says of each hive.

    Attributes
    ----------
    point : ndarray of int8, shape (hives,)
        1 fires, 0 does not, -1 undecided, on point values.
    firm : ndarray of int8, shape (hives,)
        The same with every comparison whose interval straddles its limit taken as undecided.
    chance : ndarray of float, shape (hives,)
        Chance that the condition holds: 1 or 0 where firm, between where in doubt, 0 where undecided.
    """

    point: np.ndarray
    firm: np.ndarray
    chance: np.ndarray

    @classmethod
    def of(cls, truth: Truth, n: int) -> Outcome:
        """Return the outcome of a truth, broadcast to n hives."""
        point = _CODES[_full(truth.point, n) + 1]
        firm = point if truth.exact else _CODES[_full(truth.firm, n) + 1]
        return cls(point, firm, _full(truth.chance, n))

    def fires(self, hive: int) -> bool:
        """Whether it fires on the point values."""
        return self.point[hive] == FIRES

    def doubtful(self, hive: int) -> bool:
        """Whether the intervals leave open what the point values decide."""
        return self.point[hive] != UNDECIDED and self.firm[hive] != self.point[hive]


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
    truths: dict[str, Truth] = field(default_factory=dict)
    pairs: dict[str, dict[str, set]] = field(default_factory=dict)

    def view(self, roles=()) -> View:
        """Return a view for further conditions over the same facts and findings."""
        return View(self.table, self.truths, self.ruleset.limits, roles)

    def prohibits(self, prohibition_id: str, hive: int, partner: int | None = None) -> tuple[int, int, float]:
        """Return (point, firm, chance) of a prohibition for one hive, with its partner where the prohibition names two.

        A prohibition over two hives counts as not met where the advice has no partner.
        """
        prohibition = self.ruleset.prohibitions[prohibition_id]
        if not prohibition.roles:
            outcome = self.prohibitions[prohibition_id]
            return int(outcome.point[hive]), int(outcome.firm[hive]), float(outcome.chance[hive])
        if partner is None:
            return NOT, NOT, 0.0
        view = View(
            self.table, self.truths, self.ruleset.limits, prohibition.roles, np.array([hive]), np.array([partner])
        )
        truth = evaluate(prohibition.when, view)
        point, firm, chance = truth.at(0, 0)
        names = {1: FIRES, -1: NOT, 0: UNDECIDED}
        return names[point], names[firm], chance

    def holds(self, condition, hive: int, partner: int | None = None, roles=()) -> tuple[int, int, float]:
        """Return (point, firm, chance) of any condition at one hive (or pair), in the codes of Outcome."""
        rows, columns = np.array([hive]), np.array([hive if partner is None else partner])
        if roles:
            truth = evaluate(condition, View(self.table, self.truths, self.ruleset.limits, roles, rows, columns))
            point, firm, chance = truth.at(0, 0)
        else:
            point, firm, chance = evaluate(condition, self.view()).at(hive)
        names = {1: FIRES, -1: NOT, 0: UNDECIDED}
        return names[point], names[firm], chance


def infer(ruleset: RuleSet, table: FactTable) -> Inference:
    """Evaluate a ruleset over a fact table.

    Parameters
    ----------
    ruleset : RuleSet
        Loaded, layered and merged.
    table : FactTable
        One apiary: a finding that reaches the apiary spreads over all rows, and two-hive rules pair any two rows.

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
    view = inference.view()
    for layer in ruleset.layers:
        for name in layer:
            truths = []
            for rule in by_finding.get(name, ()):
                truth = _run(inference, rule, view)
                truths.append(_reach(truth, n) if rule.reach == "apiary" else truth)
            inference.truths["finding." + name] = _either(truths, n)
            inference.findings[name] = Outcome.of(inference.truths["finding." + name], n)
    for rule in ruleset.rules.values():
        if not rule.finding:
            _run(inference, rule, view)
    for prohibition in ruleset.prohibitions.values():
        if not prohibition.roles:
            inference.prohibitions[prohibition.id] = Outcome.of(evaluate(prohibition.when, view), n)
    for option in ruleset.options.values():
        inference.options[option.id] = [Outcome.of(evaluate(bar[0], view), n) for bar in option.bars]
    return inference


def _run(inference: Inference, rule: Rule, view: View) -> Truth:
    n = len(inference.table)
    truth = pair_truth(inference, rule) if rule.roles else evaluate(rule.when, view)
    inference.rules[rule.id] = Outcome.of(truth, n)
    return truth


def _either(truths: list[Truth], n: int) -> Truth:
    """A finding holds where any of its rules holds, and fails only where every one is decided false."""
    if not truths:
        never = np.full(n, -1, dtype=np.int8)
        return Truth(never, never, np.zeros(n))
    if len(truths) == 1:
        return truths[0]
    point = np.maximum.reduce([t.point for t in truths])
    if all(t.exact for t in truths):
        return Truth(point, point)
    firm = np.maximum.reduce([t.firm for t in truths])
    chance = 1.0 - np.prod([1.0 - t.chance for t in truths], axis=0)
    return Truth(point, firm, np.where(firm == 1, 1.0, np.where((firm == -1) | (point == 0), 0.0, chance)))


def _reach(truth: Truth, n: int) -> Truth:
    """True at one hive makes it true in the whole yard, true in doubt makes it doubtful there; elsewhere each hive keeps its own truth."""
    if not n:
        return truth
    point, firm = truth.point, truth.firm
    if np.any(firm == 1):
        firm = np.full(n, 1, dtype=np.int8)
    elif np.any(point == 1):
        firm = np.maximum(firm, np.int8(0))
    if np.any(point == 1):
        point = np.full(n, 1, dtype=np.int8)
    chance = np.maximum(truth.chance, truth.chance.max())
    return Truth(point, firm, np.where(firm == 1, 1.0, np.where((firm == -1) | (point == 0), 0.0, chance)))


def pair_truth(inference: Inference, rule: Rule) -> Truth:
    """Evaluate a two-hive rule, choose partners, and return its truth at the hive whose list the advice joins.

    Parts that read one role alone are evaluated first, so that only hives that may take each role are paired.
    Partners are given greedily: best ``prefer`` first, ties by hive id; a partner is used once.
    """
    table = inference.table
    n = len(table)
    roles = (rule.at, rule.partner)
    parts = rule.when.parts if isinstance(rule.when, All) else (rule.when,)
    may = {role: np.ones(n, dtype=bool) for role in roles}
    full = View(table, inference.truths, inference.ruleset.limits, roles)
    for part in parts:
        used = {ref.role for ref in refs(part)}
        if len(used) == 1:
            role = next(iter(used))
            truth = evaluate(part, full)
            point = np.broadcast_to(truth.point, (n, 1) if role == roles[0] else (1, n)).reshape(n)
            firm = np.broadcast_to(truth.firm, (n, 1) if role == roles[0] else (1, n)).reshape(n)
            may[role] &= (point != -1) | (firm != -1)
    rows, columns = np.flatnonzero(may[roles[0]]), np.flatnonzero(may[roles[1]])
    partners: list = [None] * n
    point = np.full(n, -1, dtype=np.int8)
    firm = np.full(n, -1, dtype=np.int8)
    chance = np.zeros(n)
    inference.partners[rule.id] = partners
    inference.pairs[rule.id] = {"point": set(), "firm": set()}
    if not len(rows) or not len(columns):
        return Truth(point, firm, chance)
    view = View(table, inference.truths, inference.ruleset.limits, roles, rows, columns)
    truth = evaluate(rule.when, view)
    shape = (len(rows), len(columns))
    p, f, c = (np.broadcast_to(a, shape).copy() for a in (truth.point, truth.firm, truth.chance))
    same = rows[:, None] == columns[None, :]
    p[same], f[same], c[same] = -1, -1, 0.0
    for kind, array in (("point", p), ("firm", f)):
        inference.pairs[rule.id][kind] = {(int(rows[r]), int(columns[k])) for r, k in np.argwhere(array == 1)}
    preference = np.zeros(shape)
    if rule.prefer:
        ref, order = rule.prefer
        preference = np.nan_to_num(
            np.broadcast_to(view.fact(ref)[0], shape), nan=-np.inf if order == "desc" else np.inf
        )
        preference = -preference if order == "desc" else preference
    names = table.hives
    ids = {k: names[k] for k in range(n)}
    free_rows, free_columns = set(range(len(rows))), set(range(len(columns)))
    for wanted in (1, 0):
        cells = np.argwhere((p == wanted) if wanted == 1 else ((p == 0) | ((p == -1) & (f == 0))))
        order = sorted(cells.tolist(), key=lambda rc: (preference[rc[0], rc[1]], ids[rows[rc[0]]], ids[columns[rc[1]]]))
        for r, k in order:
            if r not in free_rows or (wanted == 1 and k not in free_columns):
                continue
            free_rows.discard(r)
            if wanted == 1:
                free_columns.discard(k)
            hive = rows[r]
            partners[hive] = int(columns[k])
            point[hive], firm[hive], chance[hive] = p[r, k], f[r, k], c[r, k]
    return Truth(point, firm, chance)

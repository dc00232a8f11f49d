"""What a condition means: strong Kleene logic over columns of facts, once on values and once on intervals.

A condition has two truths for each hive: on the point values, and with every comparison whose interval
straddles its limit taken as undecided. Where the two differ the answer is in doubt, and ``chance`` says how likely it
is to hold, from the intervals read as 95 % intervals of two half normal curves.
"""

from __future__ import annotations

import numpy as np

from hiveweek.language.bits import Told, bits_of
from hiveweek.language.comparing import leaf
from hiveweek.language.names import Columns
from hiveweek.language.terms import LEAVES, All, Any, Condition, Flag, Not, NotTrue, Ref
from hiveweek.language.truth import FALSE, TRUE, UNDECIDED, Outcome, chance_given


class View:
    """Gives a condition the columns it names.

    Parameters
    ----------
    table : Columns
        The facts: a fact table, or ``ExactColumns`` where there are plain values only.
    findings : dict of str to Outcome
        Findings of earlier layers, by name without prefix.
    limits : dict of str to Number
        Limits by full name.
    roles : tuple of str, optional
        (role at the rows, role at the columns) for two-hive rules: then truths have the shape (hives, hives).
    rows, columns : ndarray of int, optional
        Which hives take each role.
    told : Told, optional
        Where truths without doubt are kept as bits, for a view of single hives that many conditions are asked of.
    """

    def __init__(self, table: Columns, findings, limits, roles=(), rows=None, columns=None, told: Told | None = None):
        self.table = table
        self.findings = findings
        self.limits = limits
        self.roles = tuple(roles)
        self.rows = rows
        self.columns = columns
        self.told = told
        self._exact: dict[str, bool] = {}
        # Truths found already, for rules share their leaves; each with its condition, so that its id stays its own.
        self.known: dict[int, tuple[Outcome, Condition]] = {}

    def shape(self, role, array):
        """Place an array over hives along the axis of its role."""
        if not self.roles:
            return array
        if role == self.roles[0]:
            return (array if self.rows is None else array[self.rows])[:, None]
        return (array if self.columns is None else array[self.columns])[None, :]

    def is_exact(self, name: str) -> bool:
        """Whether no value of a fact has an interval."""
        exact = self._exact.get(name)
        if exact is None:
            column = self.table.column(name)
            exact = self._exact[name] = bool(
                column.low is column.value or not np.any((column.low < column.value) | (column.high > column.value))
            )
        return exact

    def fact(self, ref: Ref):
        """Return (value, low, high, exact) of a fact."""
        column = self.table.column(ref.name)
        exact = self.is_exact(ref.name)
        value = self.shape(ref.role, column.value)
        if exact:
            return value, value, value, True
        return value, self.shape(ref.role, column.low), self.shape(ref.role, column.high), False

    def finding(self, ref: Ref) -> Outcome:
        """Return the truth of a finding."""
        truth = self.findings[ref.finding]
        if not self.roles:
            return truth
        return Outcome(
            self.shape(ref.role, truth.point), self.shape(ref.role, truth.firm), self.shape(ref.role, truth.chance)
        )


def evaluate(condition, view: View) -> Outcome:
    """Return the truth of a condition for every hive (or pair).

    Parameters
    ----------
    condition : Compare, Member, Known, Flag, All, Any, Not or NotTrue
        As parsed.
    view : View
        Facts, findings and limits it may name.

    Returns
    -------
    Outcome
        A comparison with an unknown fact is undecided; ``is known`` and ``is unknown`` never are.
    """
    known = view.known.get(id(condition))
    if known is None:
        told = view.told
        bits = None if told is None else bits_of(condition, view, told)
        truth = _truth(condition, view) if told is None or bits is None else told.outcome(bits)
        known = view.known[id(condition)] = truth, condition
    return known[0]


def of_fact(condition) -> bool:
    """Whether a condition asks of facts alone, of one thing."""
    return isinstance(condition, LEAVES) and not (isinstance(condition, Flag) and condition.left.is_finding)


def _truth(condition, view: View) -> Outcome:
    if of_fact(condition):
        return leaf(condition, view)
    if isinstance(condition, Flag):
        return view.finding(condition.left)
    if isinstance(condition, All):
        return _together([evaluate(part, view) for part in condition.parts], np.minimum, all_of=True)
    if isinstance(condition, Any):
        return _together([evaluate(part, view) for part in condition.parts], np.maximum, all_of=False)
    if isinstance(condition, Not):
        inner = evaluate(condition.part, view)
        point = -inner.point
        if inner.exact:
            return Outcome.exactly(point)
        return Outcome(point, -inner.firm, np.where(point == UNDECIDED, 0.0, 1.0 - inner.chance))
    if isinstance(condition, NotTrue):
        inner = evaluate(condition.part, view)
        point = np.where(inner.point == TRUE, FALSE, TRUE)
        if inner.exact:
            return Outcome.exactly(point)
        firm = np.where(inner.point == UNDECIDED, TRUE, -inner.firm)
        return Outcome(point, firm, np.where(inner.point == UNDECIDED, 1.0, 1.0 - inner.chance))
    raise TypeError(f"not a condition: {condition!r}")


def _together(truths, combine, all_of) -> Outcome:
    point = truths[0].point
    for truth in truths[1:]:
        point = combine(point, truth.point)
    if all(truth.exact for truth in truths):
        return Outcome.exactly(point)
    firm = truths[0].firm
    for truth in truths[1:]:
        firm = combine(firm, truth.firm)
    chance = 1.0
    for truth in truths:
        chance = chance * (truth.chance if all_of else 1.0 - truth.chance)
    if not all_of:
        chance = 1.0 - chance
    return Outcome(point, firm, chance_given(point, firm, chance))

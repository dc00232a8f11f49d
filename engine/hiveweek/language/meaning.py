"""What a condition means: strong Kleene logic over columns of facts, once on values and once on intervals.

A condition has two truths for each hive: on the point values, and with every comparison whose interval
straddles its limit taken as undecided. Where the two differ the answer is in doubt, and ``chance`` says how likely it
is to hold, from the intervals read as 95 % intervals of two half normal curves.
"""

from __future__ import annotations

import numpy as np

from hiveweek.language.leaves import met, number_of, wanted_by
from hiveweek.language.names import Columns
from hiveweek.language.terms import (
    LEAVES,
    OPERATORS,
    All,
    Any,
    Compare,
    Condition,
    Flag,
    Known,
    Not,
    NotTrue,
    Ref,
)
from hiveweek.language.truth import FALSE, TRUE, UNDECIDED, Outcome, chance_given
from hiveweek.numbers.normal import ndtr

_Z95 = 1.959963984540054


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
    """

    def __init__(self, table: Columns, findings, limits, roles=(), rows=None, columns=None):
        self.table = table
        self.findings = findings
        self.limits = limits
        self.roles = tuple(roles)
        self.rows = rows
        self.columns = columns
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

    def fact(self, ref: Ref):
        """Return (value, low, high, exact) of a fact."""
        column = self.table.column(ref.name)
        exact = self._exact.get(ref.name)
        if exact is None:
            exact = self._exact[ref.name] = bool(
                column.low is column.value or not np.any((column.low < column.value) | (column.high > column.value))
            )
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
        known = view.known[id(condition)] = _truth(condition, view), condition
    return known[0]


def of_fact(condition) -> bool:
    """Whether a condition asks of facts alone, of one thing."""
    return isinstance(condition, LEAVES) and not (isinstance(condition, Flag) and condition.left.is_finding)


def _truth(condition, view: View) -> Outcome:
    if of_fact(condition):
        return _leaf(condition, view)
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


def _leaf(condition, view: View) -> Outcome:
    if isinstance(condition, Compare):
        return _compare(condition, view)
    value = view.fact(condition.left)[0]
    unknown = np.isnan(value)
    if isinstance(condition, Known):
        return Outcome.exactly(np.where(unknown != condition.known, TRUE, FALSE))
    return Outcome.exactly(_where_known(met(condition, value, wanted_by(condition, view.limits)), unknown))


def _where_known(hit: np.ndarray, unknown: np.ndarray) -> np.ndarray:
    """Return the truths of what holds or not, open where a value is unknown.

    Added up of -1, 0 and 1, which takes a fraction of the time of choosing among them.
    """
    known = ~unknown
    held = (np.asarray(hit, dtype=bool) & known).view(np.int8)
    return held + held - known.view(np.int8)


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


def _compare(condition: Compare, view: View) -> Outcome:
    value, low, high, exact = view.fact(condition.left)
    right = condition.right
    if isinstance(right, Ref):
        r_value, r_low, r_high, r_exact = view.fact(right)
    else:
        r_value = r_low = r_high = np.float64(number_of(right, view.limits))
        r_exact = True
    unknown = np.isnan(value)
    if isinstance(right, Ref):
        unknown = unknown | np.isnan(r_value)
    point = _where_known(met(condition, value, (r_value,)), unknown)
    if exact and r_exact:
        return Outcome.exactly(point)
    op = condition.op
    if op in ("<", "<="):
        surely, surely_not = OPERATORS[op](high, r_low), ~OPERATORS[op](low, r_high)
    elif op in (">", ">="):
        surely, surely_not = OPERATORS[op](low, r_high), ~OPERATORS[op](high, r_low)
    else:
        same = (low == high) & (r_low == r_high) & (low == r_low)
        apart = (high < r_low) | (low > r_high)
        surely, surely_not = (same, apart) if op == "==" else (apart, same)
    firm = np.where(unknown, UNDECIDED, np.where(surely, TRUE, np.where(surely_not, FALSE, UNDECIDED)))
    chance = chance_of(op, (value, low, high), (r_value, r_low, r_high))
    return Outcome(point, firm, chance_given(point, firm, chance))


def chance_of(op, left, right):
    """Return the chance that a comparison holds: the gap of the two values against the spread on the sides that face it.

    Parameters
    ----------
    op : str
        The operator.
    left, right : tuple of ndarray of float
        Value, low and high of each side; all three the same where it is exact.
    """
    value, low, high = left
    r_value, r_low, r_high = right
    gap = r_value - value
    facing = np.where(gap > 0, high - value, value - low)
    r_facing = np.where(gap > 0, r_value - r_low, r_high - r_value)
    spread = np.hypot(facing, r_facing) / _Z95
    with np.errstate(divide="ignore", invalid="ignore"):
        below = np.where(spread > 0, ndtr(gap / spread), np.where(gap > 0, 1.0, np.where(gap < 0, 0.0, 0.5)))
    if op in ("<", "<="):
        return below
    if op in (">", ">="):
        return 1.0 - below
    return np.zeros(np.shape(below)) if op == "==" else np.ones(np.shape(below))

"""What a condition means: strong Kleene logic over columns of facts, once on values and once on intervals.

Inside this module a truth is an int8: 1 holds, -1 does not, 0 undecided; so *all* is the minimum, *any* the maximum,
*not* the sign. A condition has two truths for each hive: on the point values, and with every comparison whose interval
straddles its limit taken as undecided. Where the two differ the answer is in doubt, and ``chance`` says how likely it
is to hold, from the intervals read as 95 % intervals of two half normal curves.
"""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr

from hiveweek.rules.model import LEAVES, All, Any, Compare, Flag, Known, LimitRef, Not, NotTrue, Ref

_Z95 = 1.959963984540054
_YES, _NO, _OPEN = np.int8(1), np.int8(-1), np.int8(0)


class Truth:
    """Truths of one condition over hives (or over pairs of hives).

    Attributes
    ----------
    point, firm : ndarray of int8
        1 holds, -1 does not, 0 undecided; on values, and on intervals. The same array where every value is exact.
    chance : ndarray of float
        Chance that it holds: 1 or 0 where firm; 0 where the point truth is undecided.
    """

    __slots__ = ("_chance", "firm", "point")

    def __init__(self, point: np.ndarray, firm: np.ndarray, chance: np.ndarray | None = None):
        self.point = point
        self.firm = firm
        self._chance = chance

    @property
    def exact(self) -> bool:
        """Whether no interval straddles anything, so that both truths are one."""
        return self.firm is self.point

    @property
    def chance(self) -> np.ndarray:
        """Chance that it holds."""
        if self._chance is None:
            self._chance = (self.point == 1).astype(float)
        return self._chance

    def at(self, *index) -> tuple[int, int, float]:
        """Return (point, firm, chance) of one cell, whatever was broadcast."""

        def pick(array):
            array = np.asarray(array)
            return (
                array[tuple(i if array.shape[k] > 1 else 0 for k, i in enumerate(index))] if array.ndim else array[()]
            )

        return int(pick(self.point)), int(pick(self.firm)), float(pick(self.chance))


class View:
    """Gives a condition the columns it names.

    Parameters
    ----------
    table : FactTable
        The facts.
    findings : dict of str to Truth
        Findings of earlier layers, by name with prefix.
    limits : dict of str to Limit
        Limits by full name.
    roles : tuple of str, optional
        (role at the rows, role at the columns) for two-hive rules: then truths have the shape (hives, hives).
    rows, columns : ndarray of int, optional
        Which hives take each role.
    """

    def __init__(self, table, findings, limits, roles=(), rows=None, columns=None):
        self.table = table
        self.findings = findings
        self.limits = limits
        self.roles = tuple(roles)
        self.rows = rows
        self.columns = columns
        self._exact: dict[str, bool] = {}
        self.leaves: dict[int, Truth] = {}  # truths of comparisons already made: rules share their leaves

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

    def finding(self, ref: Ref) -> Truth:
        """Return the truth of a finding."""
        truth = self.findings[ref.name]
        return Truth(
            self.shape(ref.role, truth.point), self.shape(ref.role, truth.firm), self.shape(ref.role, truth.chance)
        )


def evaluate(condition, view: View) -> Truth:
    """Return the truth of a condition for every hive (or pair).

    Parameters
    ----------
    condition : Compare, Member, Known, Flag, All, Any, Not or NotTrue
        As parsed.
    view : View
        Facts, findings and limits it may name.

    Returns
    -------
    Truth
        A comparison with an unknown fact is undecided; ``is known`` and ``is unknown`` never are.
    """
    if isinstance(condition, LEAVES):
        if isinstance(condition, Flag) and condition.left.is_finding:
            return view.finding(condition.left)
        known = view.leaves.get(id(condition))
        if known is None:
            known = view.leaves[id(condition)] = _leaf(condition, view)
        return known
    if isinstance(condition, All):
        return _together([evaluate(part, view) for part in condition.parts], np.minimum, all_of=True)
    if isinstance(condition, Any):
        return _together([evaluate(part, view) for part in condition.parts], np.maximum, all_of=False)
    if isinstance(condition, Not):
        inner = evaluate(condition.part, view)
        point = -inner.point
        if inner.exact:
            return Truth(point, point)
        return Truth(point, -inner.firm, np.where(point == 0, 0.0, 1.0 - inner.chance))
    if isinstance(condition, NotTrue):
        inner = evaluate(condition.part, view)
        point = np.where(inner.point == 1, _NO, _YES)
        if inner.exact:
            return Truth(point, point)
        firm = np.where(inner.point == 0, _YES, -inner.firm)
        return Truth(point, firm, np.where(inner.point == 0, 1.0, 1.0 - inner.chance))
    raise TypeError(f"not a condition: {condition!r}")


def _leaf(condition, view: View) -> Truth:
    if isinstance(condition, Compare):
        return _compare(condition, view)
    value = view.fact(condition.left)[0]
    unknown = np.isnan(value)
    if isinstance(condition, Known):
        return _exactly(np.where(unknown != condition.known, _YES, _NO))
    if isinstance(condition, Flag):
        return _exactly(np.where(unknown, _OPEN, np.where(value > 0.5, _YES, _NO)))
    hit = value == condition.values[0]
    for wanted in condition.values[1:]:
        hit = hit | (value == wanted)
    return _exactly(np.where(unknown, _OPEN, np.where(hit != condition.negated, _YES, _NO)))


def _exactly(point: np.ndarray) -> Truth:
    return Truth(point, point)


def _together(truths, combine, all_of) -> Truth:
    point = truths[0].point
    for truth in truths[1:]:
        point = combine(point, truth.point)
    if all(truth.exact for truth in truths):
        return Truth(point, point)
    firm = truths[0].firm
    for truth in truths[1:]:
        firm = combine(firm, truth.firm)
    chance = 1.0
    for truth in truths:
        chance = chance * (truth.chance if all_of else 1.0 - truth.chance)
    if not all_of:
        chance = 1.0 - chance
    chance = np.where(firm == 1, 1.0, np.where((firm == -1) | (point == 0), 0.0, chance))
    return Truth(point, firm, chance)


def compared(op, left, right):
    """Return ``left OP right`` of whatever the operands compare to: arrays of truths, or a solver's propositions."""
    if op == "<":
        return left < right
    if op == "<=":
        return left <= right
    if op == ">":
        return left > right
    if op == ">=":
        return left >= right
    return left == right if op == "==" else left != right


def _compare(condition: Compare, view: View) -> Truth:
    value, low, high, exact = view.fact(condition.left)
    right = condition.right
    if isinstance(right, Ref):
        r_value, r_low, r_high, r_exact = view.fact(right)
    else:
        number = view.limits[right.name].value if isinstance(right, LimitRef) else right
        r_value = r_low = r_high = np.float64(number)
        r_exact = True
    unknown = np.isnan(value) | np.isnan(r_value)
    point = np.where(unknown, _OPEN, np.where(compared(condition.op, value, r_value), _YES, _NO))
    if exact and r_exact:
        return _exactly(point)
    op = condition.op
    if op in ("<", "<="):
        surely, surely_not = compared(op, high, r_low), ~compared(op, low, r_high)
    elif op in (">", ">="):
        surely, surely_not = compared(op, low, r_high), ~compared(op, high, r_low)
    else:
        same = (low == high) & (r_low == r_high) & (low == r_low)
        apart = (high < r_low) | (low > r_high)
        surely, surely_not = (same, apart) if op == "==" else (apart, same)
    firm = np.where(unknown, _OPEN, np.where(surely, _YES, np.where(surely_not, _NO, _OPEN)))
    chance = _chance(op, (value, low, high), (r_value, r_low, r_high))
    chance = np.where(firm == 1, 1.0, np.where((firm == -1) | unknown, 0.0, chance))
    return Truth(point, firm, chance)


def _chance(op, left, right):
    """Chance that a comparison holds: the gap between the two values against the spread on the sides that face it."""
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

"""What cannot be together, held against columns of facts."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from hiveweek.language.terms import All, Any, Compare, Flag, Known, Member, Not, Ref, refs
from hiveweek.vocabulary.model import Vocabulary

SUPER_FRAMES = 10  # frames of a common super
SPARE_SEAM = 1  # n frames have up to n + 1 gaps with bees

_COMPARE = {
    "<": np.less,
    "<=": np.less_equal,
    ">": np.greater,
    ">=": np.greater_equal,
    "==": np.equal,
    "!=": np.not_equal,
}


def truth(condition, column: Callable[[str], np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    """Evaluate a condition of the vocabulary in three values.

    Parameters
    ----------
    condition : condition
        Over facts only: no limits, findings or roles.
    column : callable
        Fact id to an array of floats as encoded, NaN where unknown.

    Returns
    -------
    (holds, fails) : arrays of bool
        Where it is known to hold, and where it is known not to; neither where it is open (strong Kleene).
    """
    if isinstance(condition, Not):
        holds, fails = truth(condition.part, column)
        return fails, holds
    if isinstance(condition, (All, Any)):
        parts = [truth(part, column) for part in condition.parts]
        holds = [h for h, _ in parts]
        fails = [f for _, f in parts]
        if isinstance(condition, All):
            return np.logical_and.reduce(holds), np.logical_or.reduce(fails)
        return np.logical_or.reduce(holds), np.logical_and.reduce(fails)
    left = column(condition.left.name)
    known = ~np.isnan(left)
    if isinstance(condition, Known):
        return (known, ~known) if condition.known else (~known, known)
    if isinstance(condition, Flag):
        return known & (left == 1), known & (left != 1)
    if isinstance(condition, Member):
        inside = np.isin(left, condition.values)
        return known & (inside != condition.negated), known & (inside == condition.negated)
    if isinstance(condition, Compare):
        right = condition.right
        if isinstance(right, Ref):
            right = column(right.name)
            known = known & ~np.isnan(right)
        with np.errstate(invalid="ignore"):
            met = _COMPARE[condition.op](left, right)
        return known & met, known & ~met
    raise TypeError(f"not a condition: {condition!r}")


def most_seams(frames: np.ndarray, supers: np.ndarray) -> np.ndarray:
    """Return the most frames of bees that fit: brood frames, ten a super, and one [frames]; NaN where either is unknown."""
    return frames + SUPER_FRAMES * supers + SPARE_SEAM


def broken(vocabulary: Vocabulary, column: Callable[[str], np.ndarray]) -> list[tuple[dict, np.ndarray]]:
    """Return each constraint that is known to be broken somewhere, with the rows where it is.

    Parameters
    ----------
    column : callable
        Fact id to an array of floats, NaN where unknown. ``hive.most_seams`` is worked out where it is not given.

    Returns
    -------
    list of (constraint, rows)
        Rows as an array of indexes.
    """

    def with_derived(fact: str) -> np.ndarray:
        values = column(fact)
        if fact == "hive.most_seams":
            values = np.where(np.isnan(values), most_seams(column("hive.frames"), column("hive.supers")), values)
        return values

    found = []
    for constraint in vocabulary.constraints:
        _, fails = truth(constraint["holds"], with_derived)
        rows = np.flatnonzero(fails)
        if len(rows):
            found.append((constraint, rows))
    return found


def facts_of(condition) -> list[str]:
    """Return the facts that a condition reads, in the order they are written, each once."""
    return list(dict.fromkeys(ref.name for ref in refs(condition)))

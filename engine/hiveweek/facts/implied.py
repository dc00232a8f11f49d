"""What an observation tells without being said: eggs mean a living colony."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from hiveweek.facts.constraints import facts_of
from hiveweek.language.meaning import View, evaluate
from hiveweek.language.names import ExactColumns
from hiveweek.language.truth import TRUE
from hiveweek.vocabulary.model import Implication, Vocabulary

ROUNDS = 4  # chains of implications are short; each round lets them grow by one


def contradictions(
    vocabulary: Vocabulary, column: Callable[[str], np.ndarray]
) -> list[tuple[Implication, str, np.ndarray]]:
    """Return the implications whose conclusion is known to be otherwise, with the fact and the rows.

    Parameters
    ----------
    column : callable
        Fact id to an array of floats, NaN where unknown; all of one day.
    """
    found = []
    view = View(ExactColumns(column), {}, {})
    for row in vocabulary.implies:
        holds = evaluate(row["when"], view).point == TRUE
        if not holds.any():
            continue
        for fact, value in row["then"].items():
            there = column(fact)
            rows = np.flatnonzero(holds & ~np.isnan(there) & (there != value))
            if len(rows):
                found.append((row, fact, rows))
    return found


def imply(
    vocabulary: Vocabulary,
    columns: dict[str, np.ndarray],
    seen_on: dict[str, np.ndarray],
    origins: dict[str, list],
    fixed: dict[str, np.ndarray],
    blank: np.ndarray,
) -> None:
    """Fill in what the known facts imply, in place.

    A later observation wins: its conclusion replaces a value seen on an earlier day, never one seen on the same day or
    after it.

    Parameters
    ----------
    columns : dict of str to ndarray of float, shape (hives,)
        Known values; changed in place, new facts added.
    seen_on : dict of str to ndarray of float, shape (hives,)
        Day number each value was seen on; NaN where unknown.
    origins : dict of str to list of (str or None)
        Words for people; an implied value gets ``implied by FACT``.
    fixed : dict of str to ndarray of bool
        Cells that the file sets and nothing may change.
    blank : ndarray
        NaN for every hive.
    """

    def column(fact: str) -> np.ndarray:
        return columns.get(fact, blank)

    for _ in range(ROUNDS):
        changed = False
        for row in vocabulary.implies:
            holds = evaluate(row["when"], View(ExactColumns(column), {}, {})).point == TRUE
            if not holds.any():
                continue
            premises = facts_of(row["when"])
            days = np.min([seen_on.get(p, blank) for p in premises], axis=0)
            for fact, value in row["then"].items():
                old = column(fact)
                with np.errstate(invalid="ignore"):
                    earlier = ~np.isnan(old) & (old != value) & (seen_on.get(fact, blank) < days)
                where = holds & (np.isnan(old) | earlier)
                if fact in fixed:
                    where &= ~fixed[fact]
                if not where.any():
                    continue
                changed = True
                columns[fact] = np.where(where, value, old)
                seen_on[fact] = np.where(where, days, seen_on.get(fact, blank))
                words = origins.setdefault(fact, [None] * len(blank))
                for hive in np.flatnonzero(where):
                    words[hive] = "implied by " + premises[0]
        if not changed:
            return

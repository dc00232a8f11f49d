"""What cannot be together, held against columns of facts."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from hiveweek.language.meaning import View, evaluate
from hiveweek.language.names import ExactColumns
from hiveweek.language.terms import refs
from hiveweek.language.truth import FALSE
from hiveweek.numbers import shipped
from hiveweek.vocabulary.model import Constraint, Vocabulary

SPARE_SEAM = 1  # n frames have up to n + 1 gaps with bees


def most_seams(frames: np.ndarray, supers: np.ndarray, super_frames: float) -> np.ndarray:
    """Return the most frames of bees that fit: those of brood boxes and supers, and one; NaN where either is unknown."""
    return frames + super_frames * supers + SPARE_SEAM


def broken(vocabulary: Vocabulary, column: Callable[[str], np.ndarray]) -> list[tuple[Constraint, np.ndarray]]:
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
            most = most_seams(column("hive.frames"), column("hive.supers"), shipped().model.hive.super_frames)
            values = np.where(np.isnan(values), most, values)
        return values

    found = []
    view = View(ExactColumns(with_derived), {}, {})
    for constraint in vocabulary.constraints:
        rows = np.flatnonzero(evaluate(constraint["holds"], view).point == FALSE)
        if len(rows):
            found.append((constraint, rows))
    return found


def facts_of(condition) -> list[str]:
    """Return the facts that a condition reads, in the order they are written, each once."""
    return list(dict.fromkeys(ref.name for ref in refs(condition)))

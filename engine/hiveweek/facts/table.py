"""The fact table: a row a hive, a column a fact."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hiveweek.vocabulary.model import Vocabulary

DECIMALS = 4  # of every number in a settled table: finer than any observation, and Python writes it without an exponent
LARGEST = (
    1e12  # what lies beyond, infinity among it, compares as this does: no range of a fact and no code comes near it
)


def in_rows(value, n: int) -> np.ndarray:
    """Return a value, one for all hives or one a hive, as an array of so many floats that is only to be read."""
    rows = np.asarray(value, dtype=float)
    return rows if rows.shape == (n,) else np.broadcast_to(rows, n)


@dataclass
class Column:
    """One fact over all hives.

    Attributes
    ----------
    value, low, high : ndarray of float, shape (hives,)
        The value and its 95 % interval; low and high equal the value where it is exact. NaN in all three = unknown.
    origin : list of (str or None), or None
        Where each value comes from, in words for people; None for a table built without origins.
    """

    value: np.ndarray
    low: np.ndarray
    high: np.ndarray
    origin: list | None = None

    @property
    def known(self) -> np.ndarray:
        """Which hives have a value."""
        return ~np.isnan(self.value)


class FactTable:
    """Columns of facts over the hives of one apiary.

    Parameters
    ----------
    vocabulary : Vocabulary
        The facts that may stand in the table.
    hives : list of str
        Hive ids, one a row, in the order of the file.
    origins : bool
        Whether it is kept where values come from; without, only what comes hive by hive is.
    """

    def __init__(self, vocabulary: Vocabulary, hives: list[str], origins: bool = True):
        self.vocabulary = vocabulary
        self.hives = list(hives)
        self.origins = origins
        self.columns: dict[str, Column] = {}
        self._blank = np.full(len(self.hives), np.nan)

    def __len__(self) -> int:
        return len(self.hives)

    def column(self, fact: str) -> Column:
        """Return a column; a fact nobody has set is unknown at every hive.

        Raises
        ------
        KeyError
            For a fact outside the vocabulary.
        """
        found = self.columns.get(fact)
        if found is None:
            if fact not in self.vocabulary.facts:
                raise KeyError(fact)
            return Column(self._blank, self._blank, self._blank, None)
        return found

    def set(self, fact: str, value, low=None, high=None, *, origin: str | list[str | None] | None = None) -> None:
        """Set a whole column (floats as the vocabulary encodes them).

        Parameters
        ----------
        value, low, high : array_like of float, shape (hives,) or ()
            NaN where unknown. Missing low or high means exact. An interval is widened to hold its value.
        origin : str or list of (str or None), optional
            One word for all known cells, or one a hive.
        """
        if fact not in self.vocabulary.facts:
            raise KeyError(fact)
        n = len(self.hives)
        value = in_rows(value, n).copy()
        low = value.copy() if low is None else in_rows(low, n)
        high = value.copy() if high is None else in_rows(high, n)
        low = np.where(np.isnan(low), value, np.minimum(low, value))
        high = np.where(np.isnan(high), value, np.maximum(high, value))
        unknown = np.isnan(value)
        low[unknown] = np.nan
        high[unknown] = np.nan
        if origin is not None and not isinstance(origin, list):
            origin = [None if gone else origin for gone in unknown.tolist()] if self.origins else None
        self.columns[fact] = Column(value, low, high, origin)

    def set_one(
        self,
        hive: int,
        fact: str,
        value: float,
        low: float | None = None,
        high: float | None = None,
        origin: str | None = None,
    ) -> None:
        """Set one cell, leaving the other hives as they are."""
        column = self.columns.get(fact)
        if column is None:
            if fact not in self.vocabulary.facts:
                raise KeyError(fact)
            blank = self._blank
            column = self.columns[fact] = Column(blank.copy(), blank.copy(), blank.copy(), [None] * len(self.hives))
        if column.origin is None:
            column.origin = [None] * len(self.hives)
        column.value[hive] = value
        column.low[hive] = value if low is None else min(low, value)
        column.high[hive] = value if high is None else max(high, value)
        column.origin[hive] = origin

    def plain(self, hive: int, fact: str):
        """Return the plain value of one cell (None where unknown)."""
        return self.vocabulary.facts[fact].decode(self.column(fact).value[hive])

    def settle(self) -> None:
        """Round every number once, so that both channels compare the same figures and none needs an exponent to be written.

        Values and intervals to ``DECIMALS`` decimals, within plus and minus ``LARGEST``, no negative zero. Unknown stays
        NaN in all three; an interval keeps holding its value. Settling twice changes nothing.
        """
        if not self.columns:
            return
        # All columns at once: there are some hundred, and a table may hold few hives.
        parts = np.array([(column.value, column.low, column.high) for column in self.columns.values()])
        parts = np.round(np.clip(parts, -LARGEST, LARGEST), DECIMALS) + 0.0
        value, low, high = parts[:, 0], parts[:, 1], parts[:, 2]
        gone = np.isnan(value)
        low = np.where(gone, np.nan, np.fmin(low, value))
        high = np.where(gone, np.nan, np.fmax(high, value))
        for place, column in enumerate(self.columns.values()):
            column.value, column.low, column.high = value[place].copy(), low[place], high[place]

"""Three-valued truth, and what one condition says of each hive.

The order of the values is that of strong Kleene logic (S. C. Kleene, Introduction to Metamathematics, 1952, section 64):
*all* is the minimum, *any* the maximum, *not* the negative.
"""

from __future__ import annotations

from enum import IntEnum

import numpy as np


class Truth(IntEnum):
    """What can be said of a condition: it does not hold, it is not decided, or it holds."""

    FALSE = -1
    UNDECIDED = 0
    TRUE = 1

    @classmethod
    def of(cls, holds: bool) -> Truth:
        """Return the truth of what is decided."""
        return cls.TRUE if holds else cls.FALSE


# The same values as cells of an array of int8: numpy compares its own scalars some ten times faster than members of an enum.
FALSE, UNDECIDED, TRUE = (np.int8(truth) for truth in Truth)
_TRUTHS = (Truth.UNDECIDED, Truth.TRUE, Truth.FALSE)  # each at the place of its value: -1 is the last


class Outcome:
    """Truths of one condition over hives (or over pairs of hives).

    Attributes
    ----------
    point, firm : ndarray of int8
        Values of ``Truth``: on point values, and with every comparison whose interval straddles its limit taken as
        undecided. The same array where every value is exact.
    chance : ndarray of float
        Chance that it holds: 1 or 0 where firm; between where in doubt; 0 where the point truth is undecided.
    bits : tuple of int, or None
        The hives at which it holds, and those at which it is known not to, a bit each; where it came of such bits.
    """

    __slots__ = ("_chance", "bits", "firm", "point")

    def __init__(
        self,
        point: np.ndarray,
        firm: np.ndarray,
        chance: np.ndarray | None = None,
        bits: tuple[int, int] | None = None,
    ):
        self.point = point
        self.firm = firm
        self.bits = bits
        self._chance = chance

    @classmethod
    def exactly(cls, point: np.ndarray) -> Outcome:
        """Return an outcome that no interval leaves in doubt."""
        return cls(point, point)

    @property
    def exact(self) -> bool:
        """Whether no interval straddles anything, so that both truths are one."""
        return self.firm is self.point

    @property
    def chance(self) -> np.ndarray:
        """Chance that it holds."""
        if self._chance is None:
            self._chance = (self.point == TRUE).astype(float)
        return self._chance

    def over(self, n: int) -> Outcome:
        """Return the same outcome spread over n hives."""
        if self.point.shape == self.firm.shape == (n,) and (self._chance is None or self._chance.shape == (n,)):
            return self
        point = np.broadcast_to(self.point, n)
        if self.exact:
            return Outcome(point, point)
        return Outcome(point, np.broadcast_to(self.firm, n), np.broadcast_to(self.chance, n))

    def at(self, *index: int) -> tuple[Truth, Truth, float]:
        """Return (point, firm, chance) at a hive, or at a pair (its place among the rows and among the columns)."""
        if self.bits is not None and len(index) == 1:
            return at(self.bits, index[0])
        point = self.point[index]
        chance = point == TRUE if self._chance is None else self._chance[index]
        return _TRUTHS[point], _TRUTHS[self.firm[index]], float(chance)

    def holds(self, hive: int) -> bool:
        """Whether it holds at a hive on the point values."""
        if self.bits is not None:
            return bool(self.bits[0] >> hive & 1)
        return bool(self.point[hive] == TRUE)

    def doubtful(self, hive: int) -> bool:
        """Whether the intervals leave open what the point values decide."""
        return bool(self.point[hive] != UNDECIDED and self.firm[hive] != self.point[hive])


_AT_ONE = (Truth.TRUE, Truth.TRUE, 1.0), (Truth.FALSE, Truth.FALSE, 0.0), (Truth.UNDECIDED, Truth.UNDECIDED, 0.0)


def at(bits: tuple[int, int], hive: int) -> tuple[Truth, Truth, float]:
    """Return (point, firm, chance) at a hive of what is in doubt nowhere."""
    if bits[0] >> hive & 1:
        return _AT_ONE[0]
    return _AT_ONE[1 if bits[1] >> hive & 1 else 2]


def chance_given(point, firm, chance):
    """Return a chance made to agree with the truths: 1 where firmly true, 0 where firmly false or undecided on values."""
    return np.where(firm == TRUE, 1.0, np.where((firm == FALSE) | (point == UNDECIDED), 0.0, chance))

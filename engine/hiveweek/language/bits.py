"""Truths that no interval leaves in doubt, as whole numbers with a bit a hive: joined in one step, whatever the number of hives.

Of most conditions the first part settles it for the whole yard; the others are then not looked at. What is in doubt at some hive is
left to the truths over columns (`meaning`), which say the same of everything that is not.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from hiveweek.language.comparing import leaf
from hiveweek.language.leaves import met, wanted_by
from hiveweek.language.terms import All, Any, Compare, Condition, Flag, Known, Leaf, Not, NotTrue, Ref
from hiveweek.language.truth import FALSE, TRUE, Outcome

if TYPE_CHECKING:
    from hiveweek.language.meaning import View

Bits = tuple[int, int]  # the hives at which a condition holds, and those at which it is known not to
_FEW = 16  # hives up to which one after another takes less time than all at once


class Told:
    """What has been found of conditions at each hive.

    Parameters
    ----------
    hives : int
        How many.

    Attributes
    ----------
    of_facts : dict
        What was found of single facts; rules of the same table and limits may share it.
    """

    def __init__(self, hives: int):
        self.hives = hives
        self.every = (1 << hives) - 1
        # Each with its condition, so that its id stays its own; None where it is in doubt.
        self.known: dict[int, tuple[Bits | None, Condition]] = {}
        self.of_facts: dict[int, tuple[Bits | None, Condition]] = {}
        self._findings: dict[str, Bits | None] = {}
        self._values: dict[str, tuple[np.ndarray, list | None, int]] = {}
        self._outcomes: dict[Bits, Outcome] = {}

    def outcome(self, bits: Bits) -> Outcome:
        """Return bits as an outcome; its arrays are only to be read."""
        found = self._outcomes.get(bits)
        if found is None:
            point = self._array(bits[0]) - self._array(bits[1])
            point.flags.writeable = False
            found = self._outcomes[bits] = Outcome(point, point, bits=bits)
        return found

    def _array(self, bits: int) -> np.ndarray:
        raw = np.frombuffer(bits.to_bytes(self.hives // 8 + 1, "little"), np.uint8)
        return np.unpackbits(raw, count=self.hives, bitorder="little").view(np.int8)

    def finding(self, name: str, view: View) -> Bits | None:
        """Return a finding of an earlier layer."""
        if name not in self._findings:
            self._findings[name] = _bits(view.findings[name])
        return self._findings[name]

    def values(self, name: str, view: View) -> tuple[np.ndarray, list | None, int]:
        """Return a fact's values, as a list too where the hives are few, and the hives at which it is known."""
        found = self._values.get(name)
        if found is None:
            array = view.table.column(name).value
            found = self._values[name] = (
                array,
                array.tolist() if self.hives <= _FEW else None,
                packed(array == array),  # unknown is unlike itself
            )
        return found


def bits_of(condition: Condition, view: View, told: Told) -> Bits | None:
    """Return the truth of a condition at each hive as bits; None where it is in doubt at one.

    Parameters
    ----------
    condition : Compare, Member, Known, Flag, All, Any, Not or NotTrue
        As parsed.
    view : View
        Of single hives, so without roles.
    told : Told
        What has been found in this view.
    """
    found = told.known.get(id(condition))
    if found is None:
        found = told.known[id(condition)] = _found(condition, view, told), condition
    return found[0]


def _found(condition: Condition, view: View, told: Told) -> Bits | None:
    if isinstance(condition, NotTrue):
        part = bits_of(condition.part, view, told)
        return None if part is None else (told.every & ~part[0], part[0])
    if isinstance(condition, Not):
        part = bits_of(condition.part, view, told)
        return None if part is None else (part[1], part[0])
    if isinstance(condition, (All, Any)):
        return _joined(condition.parts, view, told, 0 if isinstance(condition, All) else 1)
    if isinstance(condition, Flag) and condition.left.is_finding:
        return told.finding(condition.left.finding, view)
    found = told.of_facts.get(id(condition))
    if found is None:
        found = told.of_facts[id(condition)] = _of_fact(condition, view, told), condition
    return found[0]


def _joined(parts: tuple[Condition, ...], view: View, told: Told, settles: int) -> Bits | None:
    """All of some parts, of which one that is false everywhere settles it (0), or any, which one that is true everywhere does (1)."""
    kept, gathered = told.every, 0  # for all: where all hold, and where one fails; for any the other way round
    doubt = False
    for part in parts:
        bits = bits_of(part, view, told)
        if bits is None:
            doubt = True
            continue
        kept &= bits[settles]
        gathered |= bits[1 - settles]
        if gathered == told.every:
            return (gathered, 0) if settles else (0, gathered)
    if doubt:
        return None
    return (gathered, kept) if settles else (kept, gathered)


def _of_fact(condition: Leaf, view: View, told: Told) -> Bits | None:
    if isinstance(condition, Compare) and (isinstance(condition.right, Ref) or not view.is_exact(condition.left.name)):
        truth = leaf(condition, view)
        view.known[id(condition)] = truth, condition
        return _bits(truth)
    array, values, known = told.values(condition.left.name, view)
    if isinstance(condition, Known):
        unknown = told.every & ~known
        return (known, unknown) if condition.known else (unknown, known)
    wanted = wanted_by(condition, view.limits)
    held = 0
    if values is None:
        held = known & packed(np.asarray(met(condition, array, wanted), dtype=bool))
    else:
        for hive, value in enumerate(values):
            if value == value and met(condition, value, wanted):
                held |= 1 << hive
    return held, known & ~held


def packed(where: np.ndarray) -> int:
    """Return an array of yes and no as bits, the first hive lowest."""
    return int.from_bytes(np.packbits(where, bitorder="little").tobytes(), "little")


def holding(outcome: Outcome) -> int:
    """Return the hives at which something holds on the point values, a bit each."""
    return packed(outcome.point == TRUE) if outcome.bits is None else outcome.bits[0]


def failing(outcome: Outcome) -> int:
    """Return the hives at which something fails on the point values, a bit each."""
    return packed(outcome.point == FALSE) if outcome.bits is None else outcome.bits[1]


def surely_failing(outcome: Outcome) -> int:
    """Return the hives at which something fails whatever the intervals, a bit each."""
    if outcome.bits is None:
        return packed((outcome.point == FALSE) & (outcome.firm == FALSE))
    return outcome.bits[1]


def _bits(outcome: Outcome) -> Bits | None:
    if outcome.bits is None and (outcome.exact or np.array_equal(outcome.point, outcome.firm)):
        return packed(outcome.point == TRUE), packed(outcome.point == FALSE)
    return outcome.bits

"""What each kind of comparison asks of values that are known: the one table behind every evaluator.

The values may be anything their operators work on: numbers, arrays of them, or the terms of a solver. What is asked of
them then has the same kind: a bool, an array of bool, a proposition.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import reduce
from operator import or_

from hiveweek.language.terms import OPERATORS, Compare, Flag, LimitRef, Member, Ref


def _flag(leaf: Flag, value, wanted):
    """A yes/no is its own answer."""
    return value


def _member(leaf: Member, value, wanted):
    return reduce(or_, [value == word for word in wanted]) != leaf.negated


def _compare(leaf: Compare, value, wanted):
    return OPERATORS[leaf.op](value, *wanted)


ASKED: dict[type, Callable] = {Flag: _flag, Member: _member, Compare: _compare}


def number_of(right, limits) -> float:
    """Return the number on the right of a comparison: as written, or that of the limit it names."""
    return limits[right.name].value if isinstance(right, LimitRef) else right


def wanted_by(leaf, limits) -> tuple:
    """Return what stands on the right of a leaf, as numbers; nothing for a yes/no and where another fact stands there.

    Parameters
    ----------
    limits : mapping of str to Number
        By full name.
    """
    if isinstance(leaf, Member):
        return leaf.values
    if isinstance(leaf, Compare) and not isinstance(leaf.right, Ref):
        return (number_of(leaf.right, limits),)
    return ()


def met(leaf, value, wanted=()):
    """Return whether a known value is what a leaf asks for.

    Parameters
    ----------
    leaf : Flag, Member or Compare
        On a fact; ``is known`` asks nothing of the value.
    value : object
        The value of the fact on the left.
    wanted : sequence
        What stands on the right, of the same kind as the value: the words of a list, the one thing compared with,
        nothing for a yes/no.
    """
    return ASKED[type(leaf)](leaf, value, wanted)

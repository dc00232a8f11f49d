"""The parts of a condition as data: places, references, limits, comparisons and what joins them.

The vocabulary's own lists (constraints, implications) and the rules are written in the same conditions.
"""

from __future__ import annotations

import operator
from collections.abc import Iterator
from dataclasses import dataclass, field

from hiveweek.problems import Place

# What an operator asks of whatever its two sides compare to: numbers, arrays, a solver's terms.
OPERATORS = {
    "<=": operator.le,
    ">=": operator.ge,
    "==": operator.eq,
    "!=": operator.ne,
    "<": operator.lt,
    ">": operator.gt,
}
NEGATED = {"<": ">=", "<=": ">", ">": "<=", ">=": "<", "==": "!=", "!=": "=="}  # what holds where it fails
TURNED = {"<": ">", "<=": ">=", ">": "<", ">=": "<=", "==": "==", "!=": "!="}  # the same, read from the other side

FINDING = "finding."  # stands before the name of a finding in a condition


@dataclass(frozen=True)
class Ref:
    """A fact (or ``finding.NAME``), of this hive or of the hive in a role of a two-hive rule."""

    name: str
    role: str | None = None

    @property
    def is_finding(self) -> bool:
        """Whether it names a conclusion of other rules."""
        return self.name.startswith(FINDING)

    @property
    def finding(self) -> str:
        """The finding's name without its prefix."""
        return self.name[len(FINDING) :]

    def __str__(self) -> str:
        return f"{self.role}.{self.name}" if self.role else self.name


@dataclass(frozen=True)
class LimitRef:
    """``limit.topic.name`` on the right side of a comparison."""

    name: str

    def __str__(self) -> str:
        return self.name


# --- conditions -------------------------------------------------------------------------------------------------------
@dataclass(frozen=True)
class Compare:
    """``left OP right``; right is a number as encoded, a LimitRef or a Ref."""

    left: Ref
    op: str
    right: float | LimitRef | Ref
    text: str = ""
    place: Place = field(default_factory=Place, compare=False)


@dataclass(frozen=True)
class Member:
    """``left in [..]`` or ``left not in [..]`` over encoded values."""

    left: Ref
    values: tuple[float, ...]
    negated: bool = False
    text: str = ""
    place: Place = field(default_factory=Place, compare=False)


@dataclass(frozen=True)
class Known:
    """``left is known`` (or ``is unknown``): two-valued."""

    left: Ref
    known: bool = True
    text: str = ""
    place: Place = field(default_factory=Place, compare=False)


@dataclass(frozen=True)
class Flag:
    """A bare yes/no fact or a finding."""

    left: Ref
    text: str = ""
    place: Place = field(default_factory=Place, compare=False)


@dataclass(frozen=True)
class All:
    """Every part holds."""

    parts: tuple[Condition, ...] = ()


@dataclass(frozen=True)
class Any:
    """At least one part holds."""

    parts: tuple[Condition, ...] = ()


@dataclass(frozen=True)
class Not:
    """The part does not hold."""

    part: Condition


@dataclass(frozen=True)
class NotTrue:
    """The part is not known to hold: true where it is false or undecided (``unless``). Two-valued."""

    part: Condition


LEAVES = (Compare, Member, Known, Flag)
Leaf = Compare | Member | Known | Flag
Condition = Leaf | All | Any | Not | NotTrue


def leaves(condition: Condition) -> Iterator[Leaf]:
    """Yield every leaf of a condition, left to right."""
    return (leaf for leaf, _ in sides(condition))


def sides(condition: Condition, wanted: bool = True) -> Iterator[tuple[Leaf, bool]]:
    """Yield every leaf of a condition, left to right, each with whether it helps the condition to be as wanted, or keeps it from that."""
    stack: list[tuple[Condition, bool]] = [(condition, wanted)]
    while stack:
        node, side = stack.pop()
        if isinstance(node, LEAVES):
            yield node, side
        elif isinstance(node, (All, Any)):
            stack.extend((part, side) for part in reversed(node.parts))
        elif isinstance(node, (Not, NotTrue)):
            stack.append((node.part, not side))


def refs(condition: Condition) -> Iterator[Ref]:
    """Yield every Ref a condition reads, with repeats."""
    for leaf in leaves(condition):
        yield leaf.left
        right = getattr(leaf, "right", None)
        if isinstance(right, Ref):
            yield right


def limit_names(condition: Condition) -> Iterator[str]:
    """Yield every limit a condition compares with."""
    for leaf in leaves(condition):
        right = getattr(leaf, "right", None)
        if isinstance(right, LimitRef):
            yield right.name

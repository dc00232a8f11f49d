"""The words of the trade as data: facts, actions, kit, sources, implications, constraints.

A value enters the fact table as a float: numbers as they are, yes/no as 1 and 0, a one-of value as its place in the list,
a date as its day number, a text by a code. Unknown is NaN, always.
"""

from __future__ import annotations

import datetime as dt
import math
import zlib
from dataclasses import dataclass, field
from typing import Any, TypedDict

from hiveweek.language.terms import Condition
from hiveweek.vocabulary.courses import Course, Left, Step
from hiveweek.vocabulary.noted import Noted
from hiveweek.vocabulary.reasons import Reason

UNKNOWN = math.nan

_TEXTS: dict[int, str] = {}


def text_code(text: str) -> int:
    """Return the code of a text value: a checksum of it, so that it is the same in every process.

    Two texts of one checksum (one chance in four thousand million) would be told apart by the order in which they come.
    """
    code = zlib.crc32(text.encode())
    while _TEXTS.setdefault(code, text) != text:
        code += 1
    return code


@dataclass(frozen=True)
class Turn:
    """How a value seen turns into another by the clock.

    Attributes
    ----------
    value : str
        What was seen, or what it had turned into before.
    after_days : int
        Days after which it is so.
    to : str or None
        What it is then; None = not known again.
    then : dict
        What other facts are then, as plain values, where nothing was seen of them since.
    """

    value: str
    after_days: int
    to: str | None = None
    then: dict = field(default_factory=dict)


@dataclass(frozen=True)
class Fact:
    """One fact that can be known of a hive, its apiary, its place or the week.

    Attributes
    ----------
    kind : str
        number, integer, yes_no, one_of, date or text.
    unit : str or None
        Unit of a number (degC, kg, days, ...); None for the other kinds.
    values : tuple of str
        Allowed words of a one_of.
    low, high : float or None
        Range within which a number can lie; outside it the input is refused.
    comes_from : str
        observed, equipment, site or computed.
    after : str
        Of what is observed: what becomes of it as it grows old. ``fades`` = not known after ``keeps`` days; ``stands`` = some
        values hold until they are ended, the others fade; ``becomes`` = some turn into others by the clock; ``carried`` = a
        model carries it on. Empty for all else, which counts until changed.
    keeps : int or None
        Days after which an observation no longer counts as seen; None = until changed.
    label, how, note : str
        Words for people: what it is, how to observe it.
    voided_by : tuple of str
        Acts after which an older observation no longer counts.
    observed_by : tuple of tuple of str
        For computed facts: the sets of observations that would give it.
    stands : tuple
        Values that never age out: they count until something in ``ended_by`` ends them.
    ended_by : tuple of str
        What ends a value that stands: ``look`` = a later look at the same thing; an act; a date fact that names a later day; or
        a fact and its value, seen later (``colony.eggs = true``).
    becomes : tuple of Turn
        How values turn into others.
    days_since : tuple of str
        For day counts: the facts whose last entry (or, for dates, whose day) is counted from, or acts; ``observed`` means
        any observed fact.
    days_of : tuple of (str, tuple)
        For day counts: a fact and values; counted from the day on which it was first noted to have one of them, or from the
        last of the acts in ``days_since``. Empty for all others.
    counts_active : str
        The word of ``mites.last_active`` whose courses of the past twelve months it counts; empty for all others.
    part_of : tuple of (str, str)
        The fact that it is the first part of, and what is said beside an amount where it is less. Empty for all others.
    ahead : bool
        Whether a date may lie after the day it was written.
    scope : str
        Whose it is: ``hive`` = each hive's own; ``apiary`` = one for all hives, stated once (a hive may still have its own);
        ``calendar`` = given by climate and date; ``counted`` = counted over the hives.
    day : str
        Of weather: what of a single day it bounds (``high_c``, ``wind_kmh``, ``dry``, ...); empty where no day can be named.
    needed_to_open : bool
        Of weather: whether a job that opens a hive needs it of its day.
    until : str
        The date fact that ends a yes; empty where none does.
    groups : dict of str to tuple of str
        Words of a one_of that belong together, by a name.
    """

    id: str
    kind: str
    comes_from: str
    unit: str | None = None
    values: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    keeps: int | None = None
    label: str = ""
    how: str = ""
    note: str = ""
    voided_by: tuple[str, ...] = ()
    observed_by: tuple[tuple[str, ...], ...] = ()
    after: str = ""
    stands: tuple[str | bool, ...] = ()
    ended_by: tuple[str, ...] = ()
    becomes: tuple[Turn, ...] = ()
    days_since: tuple[str, ...] = ()
    days_of: tuple[str, tuple[str | bool, ...]] = ("", ())
    counts_active: str = ""
    part_of: tuple[str, str] = ("", "")
    ahead: bool = False
    scope: str = "hive"
    day: str = ""
    needed_to_open: bool = False
    until: str = ""
    groups: dict[str, tuple[str, ...]] = field(default_factory=dict, compare=False)

    @property
    def shared(self) -> bool:
        """Whether all hives of an apiary have it in common."""
        return self.scope != "hive"

    def codes(self, group: str) -> set[float]:
        """Return the encoded words of one of its groups."""
        return {self.encode(word) for word in self.groups[group]}

    @property
    def allowed(self) -> tuple:
        """Return the values it can take, of those that can be counted up: words, or yes and no."""
        return (True, False) if self.kind == "yes_no" else self.values

    @property
    def group(self) -> str:
        """The part before the dot."""
        return self.id.partition(".")[0]

    @property
    def ordered(self) -> bool:
        """Whether < and > make sense for it."""
        return self.kind in ("number", "integer", "date")

    def encode(self, value: Any) -> float:
        """Return the float that stands for a plain value in the fact table; None gives NaN.

        Raises
        ------
        ValueError
            When the value is not one this fact can take (a word outside the list, a wrong type).
        """
        if value is None:
            return UNKNOWN
        if self.kind in ("number", "integer"):
            if isinstance(value, bool) or not isinstance(value, (int, float)):
                raise ValueError(f"needs a number, not {value!r}")
            if self.kind == "integer" and float(value) != int(value):
                raise ValueError(f"needs a whole number, not {value!r}")
            return float(value)
        if self.kind == "yes_no":
            if not isinstance(value, bool):
                raise ValueError(f"needs true or false, not {value!r}")
            return float(value)
        if self.kind == "one_of":
            if value not in self.values:
                raise ValueError(f"needs one of {', '.join(self.values)}, not {value!r}")
            return float(self.values.index(value))
        if self.kind == "date":
            if not isinstance(value, dt.date):
                raise ValueError(f"needs a date like 2026-02-10, not {value!r}")
            return float(value.toordinal())
        return float(text_code(str(value)))

    def decode(self, number: float) -> Any:
        """Return the plain value behind a float of the fact table; NaN gives None."""
        if number is None or math.isnan(number):
            return None
        if self.kind == "yes_no":
            return bool(number)
        if self.kind == "one_of":
            return self.values[int(number)]
        if self.kind == "date":
            return dt.date.fromordinal(int(number))
        if self.kind == "text":
            return _TEXTS[int(number)]
        if self.kind == "integer" and float(number).is_integer():
            return int(number)
        return float(number)


@dataclass(frozen=True)
class Action:
    """One thing a keeper can do.

    Attributes
    ----------
    opens : str
        What it disturbs: nothing, lid or frames.
    clashes : frozenset of str
        Actions that must not stand in the same week's plan for one hive (symmetric).
    observes : tuple of str
        Facts that doing it would tell.
    uses, moves : tuple of str
        Tags for prohibitions (smoke, acid; frames, bees, hive, honey, queen).
    minutes : float
        Usual time for one hive.
    kit : tuple of str
        Keys of the kit list.
    scope : str
        hive, or apiary for what is done once for the whole yard.
    dead_ok : bool
        Whether it makes sense at a hive whose colony is dead.
    at_home : bool
        Whether it is done away from the hives.
    any_day : bool
        Whether it is done on any day, also where it opens a hive.
    dry_hour : str
        What one dry hour of a week of rain is for: first, between or last.
    treats : bool
        Whether it is done with one of the treatments by active ingredient.
    plans : str
        The action that it prepares where that one cannot be done yet; empty where it prepares none.
    leaves_closed : bool
        Whether it says that nothing is worth opening a hive for.
    lasts : bool
        Whether it holds as long as its reason does: it has a first day, and is never overdue.
    tells : bool
        Whether it is told to those whom the place names for diseases.
    does : str
        What is done, in a sentence, for who has never done it; empty where the label says it.
    in_hive : dict of str to dict
        Fact of the hive (its kind) to its values, to what is different about the job there.
    """

    id: str
    label: str
    opens: str = "nothing"
    clashes: frozenset[str] = frozenset()
    observes: tuple[str, ...] = ()
    uses: tuple[str, ...] = ()
    moves: tuple[str, ...] = ()
    minutes: float = 5.0
    kit: tuple[str, ...] = ()
    scope: str = "hive"
    dead_ok: bool = False
    at_home: bool = False
    any_day: bool = False
    dry_hour: str = "between"
    treats: bool = False
    plans: str = ""
    leaves_closed: bool = False
    lasts: bool = False
    tells: bool = False
    safety: str = ""
    note: str = ""
    does: str = ""
    in_hive: dict[str, dict[str, str]] = field(default_factory=dict)


@dataclass(frozen=True)
class Detail:
    """Something that can be said of a job done.

    Attributes
    ----------
    kind : str
        number, integer, one_of, date, text, or hive (another hive of the apiary).
    of : str
        The fact whose value it is; then its kind, range and words are the fact's, and ``values`` what else may be said.
    otherwise : plain value
        What counts where it was not said; None = then nobody knows.
    """

    id: str
    kind: str
    label: str = ""
    unit: str | None = None
    low: float | None = None
    high: float | None = None
    values: tuple[str, ...] = ()
    of: str = ""
    otherwise: float | int | str | None = None


@dataclass(frozen=True)
class Effect:
    """What doing an action does to what is known of a hive.

    Attributes
    ----------
    act : str
        The act that it is; empty where it is none.
    asks, takes : tuple of str
        Details without which it is not taken down, and those that may be said besides.
    set : dict
        Facts that take a plain value.
    today, voids : tuple of str
        Dates that become the day; facts that are not known again.
    told : dict
        Fact to the detail whose value it takes; not known again where it was not said.
    add : dict
        Number to the amount, or the detail, by which it changes.
    at_least : dict
        Number to the amount under which it is not afterwards, also where it was not known.
    sugar : dict
        Detail to the number of ``model.food`` that makes kilograms of sugar of it.
    treats : bool or str
        Whether a mite treatment is given; an active ingredient where it is that one unless another is said.
    quiet_for : int
        Days for which it is not asked again.
    shares : tuple of str
        Facts of which a trouble that stands, or a treatment that lies in one hive, is there for both hives afterwards.
    partner : Effect or None
        What it does to the hive that the detail ``partner`` names.
    walk : dict
        What the walk through a year does, where no keeper says anything: ``set``, ``add``, ``today``, ``stores``, ``mites``,
        ``count`` and ``treat`` as in the file.
    """

    act: str = ""
    asks: tuple[str, ...] = ()
    takes: tuple[str, ...] = ()
    set: dict = field(default_factory=dict)
    today: tuple[str, ...] = ()
    voids: tuple[str, ...] = ()
    told: dict[str, str] = field(default_factory=dict)
    add: dict[str, float | str] = field(default_factory=dict)
    at_least: dict[str, float] = field(default_factory=dict)
    sugar: dict[str, str] = field(default_factory=dict)
    treats: bool | str = False
    quiet_for: int = 0
    partner: Effect | None = None
    shares: tuple[str, ...] = ()
    walk: dict = field(default_factory=dict)


@dataclass(frozen=True)
class Source:
    """Where a figure was read."""

    id: str
    cite: str
    where: str = ""
    note: str = ""


class Implication(TypedDict):
    """What an observation tells without being said: facts with their encoded values, where a condition holds."""

    id: str
    when: Condition
    then: dict[str, float]
    note: str


class Constraint(TypedDict):
    """What cannot be otherwise of one hive on one day."""

    id: str
    holds: Condition
    note: str


@dataclass(eq=False)
class Vocabulary:
    """All the words together; one vocabulary is equal to itself only, so that what is made from it can be kept by it."""

    facts: dict[str, Fact] = field(default_factory=dict)
    actions: dict[str, Action] = field(default_factory=dict)
    kit: dict[str, str] = field(default_factory=dict)
    kit_usual: tuple[str, ...] = ()  # carried on every visit
    kit_each: tuple[str, ...] = ()  # every hive needs its own
    kit_measured: dict[str, str] = field(default_factory=dict)  # taken by the amount of the job: its unit
    sources: dict[str, Source] = field(default_factory=dict)
    implies: list[Implication] = field(default_factory=list)
    constraints: list[Constraint] = field(default_factory=list)
    acts: dict[str, dict] = field(default_factory=dict)
    left_at_home: dict[str, tuple[str, ...]] = field(
        default_factory=dict
    )  # yes/no fact -> kit left behind while it holds
    details: dict[str, Detail] = field(default_factory=dict)
    effects: dict[str, Effect] = field(default_factory=dict)
    courses: dict[str, Course] = field(default_factory=dict)
    left: dict[str, Left] = field(default_factory=dict)
    noted: dict[str, Noted] = field(default_factory=dict)  # by fact
    reasons: list[Reason] = field(default_factory=list)  # those most worth a word first
    count_again: Step | None = None  # counting again where it is not known what was given

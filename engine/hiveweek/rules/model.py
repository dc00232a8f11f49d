"""Rules, prohibitions, options and rulesets as data.

Everything here is plain and frozen; what conditions are made of is in ``language.terms``, and loading (with places and errors)
and layering live in their own modules.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from functools import cached_property

from hiveweek.language.terms import All, Condition, Not, NotTrue, Ref, refs
from hiveweek.numbers import Number, Numbers
from hiveweek.problems import Place


# --- rules ------------------------------------------------------------------------------------------------------------
@dataclass(frozen=True)
class Deadline:
    """The last day to start.

    Attributes
    ----------
    base : str
        ``today``, ``fact`` or ``event``.
    name : str
        Fact id or event id.
    days : int
        Days added to the base.
    """

    base: str
    name: str = ""
    days: int = 0
    text: str = ""


@dataclass(frozen=True)
class Stakes:
    """What acting this week is worth."""

    loses: str = "colony"
    gain_pts: float = 0.0
    gain_fact: str | None = None
    source: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True)
class Rule:
    """One rule: a condition and the advice or finding it gives.

    Attributes
    ----------
    roles : tuple of str
        Empty for a one-hive rule; else the roles of a two-hive rule, ``at`` being the hive whose list the advice joins.
    prefer : tuple of (Ref, str) or None
        The number that picks the partner, and ``asc`` or ``desc``.
    reach : str
        ``hive``, or ``apiary`` for a finding that, true at one hive, holds for the whole yard.
    layer : str
        The layer that gave the rule in its present form.
    """

    id: str
    topic: str
    when: Condition
    advise: str | None = None
    finding: str | None = None
    reach: str = "hive"
    amount: str | None = None
    by: Deadline | None = None
    stakes: Stakes = field(default_factory=Stakes)
    band: int = 1
    chance: float = 0.5
    because: str = ""
    safety: str = ""
    source: tuple[str, ...] = ()
    evidence: str = "practice"
    roles: tuple[str, ...] = ()
    at: str | None = None
    prefer: tuple[Ref, str] | None = None
    layer: str = "base"
    place: Place = field(default_factory=Place, compare=False)
    edits: tuple[tuple[tuple[str, str], ...], ...] = field(default_factory=tuple, compare=False)

    @property
    def partner(self) -> str | None:
        """The other role of a two-hive rule."""
        return next((r for r in self.roles if r != self.at), None)

    @cached_property
    def of_roles(self) -> tuple[tuple[Condition, frozenset[str | None]], ...]:
        """What it asks, each part with the roles that it reads (None in a rule of one hive)."""
        parts = self.when.parts if isinstance(self.when, All) else (self.when,)
        return tuple((part, frozenset(ref.role for ref in refs(part))) for part in parts)

    @cached_property
    def needed(self) -> tuple[Condition, ...]:
        """What it asks of the hive whose list it joins, without what may keep it away."""
        return tuple(
            part for part, roles in self.of_roles if not isinstance(part, (Not, NotTrue)) and roles <= {self.at}
        )


@dataclass(frozen=True)
class Target:
    """What a prohibition forbids: an action, an option of an action, or everything with a tag."""

    kind: str  # action | option | uses | moves | opens
    name: str
    option: str | None = None


@dataclass(frozen=True)
class Prohibition:
    """Advice that must not be given while a condition holds.

    Attributes
    ----------
    effect : str
        ``stop``, ``first`` or ``day``.
    first : tuple of str
        For ``first``: the acts of which one must come before, the last being the one the plan adds.
    if_unknown : str
        ``ask``, ``check`` or ``pass``.
    spares, spares_where, spares_say : tuple of str, condition, str
        Actions it leaves alone where a condition is known to hold, and what to say then.
    """

    id: str
    never: tuple[Target, ...]
    when: Condition
    effect: str
    first: tuple[str, ...] = ()
    if_unknown: str = "pass"
    instead: tuple[str, ...] = ()
    excepted: tuple[str, ...] = ()
    because: str = ""
    check: str = ""
    source: tuple[str, ...] = ()
    roles: tuple[str, ...] = ()
    spares: tuple[str, ...] = ()
    spares_where: Condition | None = None
    spares_say: str = ""
    place: Place = field(default_factory=Place, compare=False)


@dataclass(frozen=True)
class Option:
    """A treatment by active ingredient and form, with what allows it and what bars it.

    Attributes
    ----------
    bars : tuple of (condition, str, tuple of str)
        Each: where the condition holds the option is out; the words why; its sources.
    """

    id: str
    active: str
    form: str
    bars: tuple[tuple[Condition, str, tuple[str, ...]], ...] = ()
    because: str = ""
    length: str = ""
    withdrawal: str = ""
    safety: str = ""
    source: tuple[str, ...] = ()
    place: Place = field(default_factory=Place, compare=False)


@dataclass(frozen=True)
class Way:
    """One order of jobs of one hive, where both are advised.

    Attributes
    ----------
    before, after : tuple of str
        Actions: any of ``before`` stands in front of any of ``after``.
    when : condition or None
        It counts only where this is known to hold; None: always.
    fits : tuple of str
        It counts only where one of these actives (``formic``) may be used at the hive this week; empty: always.
    wait_days : int
        Days between the two; 0 where they belong to one visit.
    wait_until : str
        ``out``: until the treatment that goes in may come out again; ``count``: until mites are counted after what lies in.
    why : str
        In words, for the card.
    """

    before: tuple[str, ...]
    after: tuple[str, ...]
    when: Condition | None = None
    fits: tuple[str, ...] = ()
    wait_days: int = 0
    wait_until: str = ""
    why: str = ""
    source: tuple[str, ...] = ()


@dataclass(frozen=True)
class Chain:
    """What comes before what; of its ways the first that holds counts."""

    id: str
    ways: tuple[Way, ...]
    place: Place = field(default_factory=Place, compare=False)


@dataclass(frozen=True)
class Trouble:
    """A serious trouble of a hive, known from facts.

    Attributes
    ----------
    when : condition
        Over facts alone; what nobody knows makes no trouble.
    acts : tuple of str
        Actions that count as an answer to it.
    looks : tuple of str
        Looking actions that would decide it.
    kills_days : float
        After about so many days left alone the colony, or what the trouble is about, is lost; 0 for law and people.
    more : tuple of dict
        Further signs of it, as facts with their values as written: they never weaken its answer.
    worse : dict of str to str
        Numbers that make it worse as they go ``up`` or ``down``: then the answer is no milder.
    """

    id: str
    label: str
    when: Condition
    acts: tuple[str, ...]
    looks: tuple[str, ...] = ()
    kills_days: float = 0.0
    source: tuple[str, ...] = ()
    more: tuple[dict, ...] = field(default=(), hash=False)
    worse: dict[str, str] = field(default_factory=dict, hash=False)
    place: Place = field(default_factory=Place, compare=False)


@dataclass(frozen=True)
class Late:
    """What becomes of a job that was missed.

    Attributes
    ----------
    harm : tuple of Deadline
        Days after which it no longer prevents what it is for.
    until : condition or None
        Its last sensible time is over where this is known to hold; None where it never is.
    say : str
        What having missed it costs, and what now.
    instead : str
        The action that takes its place; empty where none does.
    because, safety : str
        Why that one, and its caution, where no rule advises it; empty where only a rule does.
    """

    action: str
    harm: tuple[Deadline, ...] = ()
    until: Condition | None = None
    say: str = ""
    instead: str = ""
    because: str = ""
    safety: str = ""
    source: tuple[str, ...] = ()
    place: Place = field(default_factory=Place, compare=False)


@dataclass
class RuleSet:
    """The effective rules for one profile: what remains after all layers.

    Attributes
    ----------
    rules : dict of str to Rule
        In id order.
    numbers : Numbers
        Every number as the layers left it, with who moved it.
    layers : list of list of str
        Finding names by layer: those of a later layer may read those of earlier ones.
    troubles : dict of str to Trouble
        The serious troubles, those that kill sooner first.
    late : dict of str to Late
        By action: when its last sensible time is over, and what instead.
    versions : list of dict
        name, version and hash of every file that took part.
    order : tuple of Chain
        Which job comes before which.
    """

    rules: dict[str, Rule] = field(default_factory=dict)
    numbers: Numbers = field(default_factory=Numbers)
    prohibitions: dict[str, Prohibition] = field(default_factory=dict)
    options: dict[str, Option] = field(default_factory=dict)
    layers: list[list[str]] = field(default_factory=list)
    troubles: dict[str, Trouble] = field(default_factory=dict)
    late: dict[str, Late] = field(default_factory=dict)
    versions: list[dict] = field(default_factory=list)
    overlays: list[dict] = field(default_factory=list)
    jurisdiction: dict | None = None
    law: dict[str, bool] = field(default_factory=dict)
    profile: str | None = None
    disabled: list[dict] = field(default_factory=list)
    order: tuple[Chain, ...] = ()

    @cached_property
    def limits(self) -> dict[str, Number]:
        """The numbers that conditions compare with, by name."""
        return dict(sorted(self.numbers.under("limit").items()))

    @cached_property
    def given(self) -> dict[str, list[Rule]]:
        """The rules that give each finding, in id order."""
        found: dict[str, list[Rule]] = {}
        for rule in self.rules.values():
            if rule.finding:
                found.setdefault(rule.finding, []).append(rule)
        return found

    @cached_property
    def reads(self) -> dict[str, tuple[frozenset[str], frozenset[str]]]:
        """Findings and facts that each rule names itself, as far as they have been asked for."""
        return {}

    @cached_property
    def rests(self) -> dict[tuple[str, frozenset[str]], tuple[frozenset[str], frozenset[str]]]:
        """Findings and facts that each rule rests on where some findings hold nowhere, as far as they have been asked for."""
        return {}

    @cached_property
    def kept_away(self) -> dict[tuple[str, frozenset[str]], bool]:
        """Whether some findings can only keep each rule away, as far as it has been asked."""
        return {}

    def advising(self) -> list[Rule]:
        """Rules that give advice, in id order."""
        return [rule for rule in self.rules.values() if rule.advise]

    def giving(self, finding: str) -> list[Rule]:
        """Rules that give a finding, in id order."""
        return [rule for rule in self.rules.values() if rule.finding == finding]


def as_date(number: float) -> dt.date:
    """Return the date behind a day number of the fact table."""
    return dt.date.fromordinal(int(number))

"""The plan of a week as data: what stands in it for each hive and for the yard."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

from hiveweek.facts.inside import Lying
from hiveweek.numbers import Branch, Numbers, shipped
from hiveweek.plan.ways import Site
from hiveweek.record.bring import Brought
from hiveweek.record.courses import Running, Window
from hiveweek.texts.parts import Phrase, Text, listed, message

NOTHING = Text()


@dataclass
class Evidence:
    """A fact that an advice rests on; ``where`` names another hive where it is not this one's."""

    fact: str
    value: object
    low: object
    high: object
    origin: str | None
    where: str | None = None


@dataclass(frozen=True)
class Follows:
    """What must be done before an advice: the action, the first day after it where that is a wait, and why."""

    action: str
    until: dt.date | None
    why: Phrase


@dataclass
class Advice:
    """One thing to do at one hive this week.

    Attributes
    ----------
    action, rule : str
        What, and the rule (or prohibition, or ``plan.…``) that says so.
    band : int
        0 for law and people, else 1.
    points, gain_pts, urgency, certainty : float
        Points and their parts; for a look the gain is net of what opening costs.
    by : date or None
        Last day to start: the later of the day of the answer and ``due_by``, or the earlier day of something that hangs on it.
    due_by : date or None
        The earliest deadline that its rules have given since it is due.
    hurried : bool
        ``by`` is the day of something else that hangs on it: of what a look decides besides, or of what waits for help.
    due_since : date or None
        Since when it is due; None for looks and stand-ins, and where that is farther back than was asked.
    due_before : date or None
        The farthest day asked, where it was due on it already.
    also : list of dict
        Other rules that advise the same, with their because.
    only_on : dict or None
        The weather it needs, where the week leaves that open.
    checks : list of Phrase
        What must be checked first; ``warning`` puts it before the safety words.
    unlocks : list of dict
        For a look: what it could decide.
    origin : str
        rule, look, first, instead, trouble or closed.
    rain_too : bool
        It does not wait for a dry day.
    order : int
        Among equal points: 0 stands before 1.
    follows : Follows or None
        What of the same hive's list must come first.
    lasts : bool
        It holds as long as its reason does, so it is never overdue.
    reckoned_since : date or None
        For a feed: the last look at the food it rests on, where that is too long ago to go by.
    """

    action: str
    rule: str
    band: int = 1
    points: float = 0.0
    gain_pts: float = 0.0
    urgency: float = 0.0
    certainty: float = 1.0
    amount: Phrase | None = None
    by: dt.date | None = None
    due_by: dt.date | None = None
    due_since: dt.date | None = None
    due_before: dt.date | None = None
    because: Phrase = NOTHING
    safety: Phrase = NOTHING
    sources: list[str] = field(default_factory=list)
    grade: str = "practice"
    evidence: list[Evidence] = field(default_factory=list)
    limits: list[dict] = field(default_factory=list)
    also: list[dict] = field(default_factory=list)
    only_on: dict | None = None
    checks: list[Phrase] = field(default_factory=list)
    unverified: bool = False
    facts: list[str] = field(default_factory=list)
    options: list[dict] = field(default_factory=list)
    partner: str | None = None
    partner_row: int | None = None
    unlocks: list[dict] = field(default_factory=list)
    loses: str = "colony"
    origin: str = "rule"
    rain_too: bool = False
    order: int = 1
    rank: int = 0
    follows: Follows | None = None
    lasts: bool = False
    hurried: bool = False
    reckoned_since: dt.date | None = None

    def due(self, by: dt.date | None, today: dt.date) -> None:
        """Set the deadline."""
        hangs = self.by if self.hurried else None
        self.due_by, self.by, self.hurried = by, by and max(by, today), False
        self.hurry(hangs, today)

    def due_with(self, later: Advice, today: dt.date) -> None:
        """Set the deadline no later than that of what follows in the same visit, but not before the day on which this came up itself."""
        if self.due_by is None and self.due_before is not None and self.by is not None:
            return  # its own day went by before the farthest that was asked
        if later.due_since is None and later.due_before is None:
            self.hurry(later.by, today)  # a look with no day of its own: its day goes with today
            return
        # These two stay as the days go on, where ``by`` moves; it counts only where both lie before the farthest day asked.
        day = max((day for day in (later.due_by, self.due_since) if day is not None), default=later.by)
        if later.by is not None and day is not None and (self.due_by is None or self.due_by > day):
            self.due(day, today)

    def hurry(self, day: dt.date | None, today: dt.date) -> None:
        """Set the last day to start no later than that of something that hangs on it; its own deadline stays what it is."""
        if day is not None and (self.by is None or self.by > max(day, today)):
            self.by, self.hurried = max(day, today), True

    @property
    def last_day(self) -> dt.date | None:
        """The earliest day by which it is wanted: its own, which may have passed, or that of something that hangs on it."""
        return min((day for day in (self.due_by, self.by) if day is not None), default=None)

    def rules(self) -> list[str]:
        """Return the ids of the rules that give it, the one that stands first."""
        return [self.rule, *(str(one["rule"]) for one in self.also)]

    def overdue(self, today: dt.date) -> bool:
        """Whether the deadline has passed; where it was due before the farthest day asked it has, whichever day it was."""
        if self.lasts:
            return False
        if self.due_by is None:
            return self.due_before is not None and self.by is not None and not self.hurried
        return self.due_by < today

    def warning(self, said: frozenset = frozenset()) -> Phrase:
        """Return the safety words, with the checks first; checks that were said elsewhere are left out."""
        checks = [check for check in self.checks if check not in said]
        if not checks:
            return self.safety
        first, *more = checks
        words = [message("first-check", checks=first), *(message("also-check", checks=one) for one in more)]
        return listed([*words, self.safety], "space")

    def worth(self, gain: float, urgency: float, certainty: float) -> None:
        """Set the points and their parts, rounded once so that the parts give the points."""
        self.gain_pts, self.urgency, self.certainty = round(gain, 2), round(urgency, 3), round(certainty, 3)
        self.points = round(self.gain_pts * self.urgency * self.certainty, 2)

    def key(self, hive: str) -> tuple:
        """What ranks it: band, points, then first-before-next, deadline, rule id, hive id."""
        return (self.band, -self.points, self.order, self.by or dt.date.max, self.rule, hive)


@dataclass
class Look:
    """Something to look at, that would decide what is open."""

    action: str
    facts: list[str]
    how: Phrase
    points: float
    unlocks: list[dict]
    gain_pts: float = 0.0
    urgency: float = 0.0
    certainty: float = 0.5
    by: dt.date | None = None
    only_on: dict | None = None
    checks: list[Phrase] = field(default_factory=list)


@dataclass
class Withheld:
    """An advice that a rule gave and the plan does not; ``waits`` where it is due and something must come first."""

    action: str
    rule: str
    kind: str
    because: Phrase
    waits: bool = False


@dataclass
class PutAway:
    """An advice that the keeper answered: put off, not fitting here, or done a short while ago.

    Attributes
    ----------
    until : date or None
        The day on which it is asked again; None where only the end of its trouble ends it.
    reason : Phrase or str
        The keeper's own words, or when it was answered.
    band, due_by, serious, look
        How the advice stands; whether it is only a look.
    done : bool
        The job was done; else it was put off or does not fit.
    """

    action: str
    rule: str
    until: dt.date | None
    reason: Phrase | str
    band: int = 1
    due_by: dt.date | None = None
    serious: bool = False
    look: bool = False
    done: bool = False


@dataclass
class Said:
    """A value that was noted and that no job answers: the sentence on it.

    Attributes
    ----------
    seen : date
        The day it was last noted.
    says : Phrase
        What it means, from when it would matter, when to look again.
    """

    fact: str
    value: object
    seen: dt.date
    says: Phrase


@dataclass
class HivePlan:
    """One hive's week.

    Attributes
    ----------
    nothing_due : dict or None
        ``{because, next: {date, what} or None}`` where the list is empty.
    suspect : bool
        Whether a suspicion of disease stands: visited last.
    serious : frozenset of str
        The actions that answer the serious troubles that are known to stand.
    courses : list of Running
        What lies in the hive over weeks, with the days of its steps.
    after : list of Window
        What follows on the course that lies in it or has ended: counting again, eggs, supers.
    lies_in : list of Lying
        What else lies in it for some days, with the days of the next step.
    put_away : list of PutAway
        What the keeper answered, as far as it would be asked otherwise.
    noted : list of Said
        What is said of noted values that nothing of it answers.
    last_look : date or None
        The last day on which anything was looked at, hefted or counted here; None where that is not known.
    """

    id: str
    advice: list[Advice] = field(default_factory=list)
    look_first: list[Look] = field(default_factory=list)
    withheld: list[Withheld] = field(default_factory=list)
    nothing_due: dict | None = None
    facts: dict = field(default_factory=dict)
    unknown: list[str] = field(default_factory=list)
    alive: bool | None = None
    suspect: bool = False
    serious: frozenset[str] = frozenset()
    courses: list[Running] = field(default_factory=list)
    after: list[Window] = field(default_factory=list)
    lies_in: list[Lying] = field(default_factory=list)
    put_away: list[PutAway] = field(default_factory=list)
    noted: list[Said] = field(default_factory=list)
    last_look: dt.date | None = None

    @property
    def beside(self) -> set[str]:
        """The actions that are named beside the jobs: looks, what is withheld and what was put away."""
        return {
            *(one.action for one in self.look_first),
            *(one.action for one in self.withheld),
            *(one.action for one in self.put_away),
        }


@dataclass
class WeekPlan:
    """The whole answer.

    Attributes
    ----------
    weather : dict
        Plain weather of the week: basis, best day, facts, notes.
    channels : dict
        What each inference channel did.
    first : list of dict
        hive, action, points: what to do first in the yard.
    yard : list of (Advice, list of str)
        Apiary-wide actions, once, with the hives that ask for them.
    visits : list of dict
        day, what, hives, minutes, kit.
    bring : list of Brought
        What the keeper noted to bring next time.
    notes : list of str
        What was left out of the input, and why.
    screen : Branch
        How much of it a screen names, ``plan.screen``.
    numbers : Numbers
        All numbers, as the place and its overlays have moved them.
    fit_days : tuple of date or None
        The days of the week that are known to be dry and warm enough for opening; None where no day is known.
    site : Site
        Where the apiary stands, for the way of a round.
    looks : frozenset of str
        The actions that are looks: something is found out by them.
    """

    date: dt.date
    climate: str | None
    phase: str | None
    weather: dict = field(default_factory=dict)
    rulesets: list[dict] = field(default_factory=list)
    channels: dict = field(default_factory=dict)
    hives: list[HivePlan] = field(default_factory=list)
    name: str = ""
    first: list[dict] = field(default_factory=list)
    yard: list[tuple] = field(default_factory=list)
    visits: list[dict] = field(default_factory=list)
    kit: list[str] = field(default_factory=list)
    bring: list[Brought] = field(default_factory=list)
    best_day: dt.date | None = None
    notes: list[str] = field(default_factory=list)
    screen: Branch = field(default_factory=lambda: shipped().branch("plan.screen"))
    numbers: Numbers = field(default_factory=shipped)
    fit_days: tuple[dt.date, ...] | None = None
    site: Site = field(default_factory=Site)
    looks: frozenset[str] = frozenset()

"""The sheet of a week as data: a line a hive in order of need, what is true of the whole yard said once, what to take along.

For every screen that shows it, on a terminal, on a page or on a phone: ``of(plan, vocabulary)`` gives a `Sheet` that holds

- ``law``: a `Shared` for each thing that law or people ask (band 0), to be said above the table, never as a line of it;
- ``lines``: a `Line` for each hive, the most pressing first, with the place at which to walk to it (``walk``), its jobs in the
  order of doing (`Job`), the day (``by``, ``late``), the reason in a few words (``reasons``), what lies in it (``running``);
- ``yard``: a `Shared` for each job that is done once for all hives;
- ``kit``: a `Thing` for each thing to take along;
- ``folded(most, alike)``: the lines as `Group` s, hives of which the same is said together.

Nothing here is a string yet but names: a speaker says the phrases.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass, replace

from hiveweek.facts.inside import Lying
from hiveweek.plan import rounds
from hiveweek.plan.model import Advice, Evidence, HivePlan, WeekPlan
from hiveweek.plan.stops import Item
from hiveweek.record.courses import Running
from hiveweek.show import cards
from hiveweek.texts.parts import Ahead, MonthDay, Opening, Phrase, Quantity, Range, Text, Word, message
from hiveweek.texts.reading import Place, plain, read
from hiveweek.vocabulary.model import Vocabulary

REASONS = 2  # of a job, at most


@dataclass(frozen=True)
class Job:
    """One job on the sheet.

    Attributes
    ----------
    action : str
    label : Phrase
        Its name, without a capital.
    amount : Phrase or None
        How much: the number alone where the amount begins with one.
    by : date or None
        Last day to start, also where that has gone by.
    late : bool
        Whether that day has gone by.
    since : date or None
        Since when it is due.
    before : bool
        It was due on that day already, the farthest one that was asked.
    points : float
    then : bool
        It follows another job of the same hive.
    waits : bool
        It takes no time now: something is left to ripen, to work or to itself.
    look : bool
        It is a look that decides what is open.
    finds : bool
        Something is found out by it.
    partner : str or None
        The other hive that it needs.
    because : Phrase
        The whole reason.
    reasons : tuple of Phrase
        The numbers or signs that decided, in a few words each, the weightiest first; never empty.
    """

    action: str
    label: Phrase
    amount: Phrase | None
    by: dt.date | None
    late: bool
    since: dt.date | None
    before: bool
    points: float
    then: bool
    waits: bool
    look: bool
    finds: bool
    partner: str | None
    because: Phrase
    reasons: tuple[Phrase, ...]


@dataclass(frozen=True)
class Line:
    """The week of one hive in a line.

    Attributes
    ----------
    hive : str
    walk : int
        The place at which to go to it, from 1: healthy hives first, then those under suspicion, then the dead.
    jobs : tuple of Job
        In the order of doing; those that wait stand last. What is done for the whole yard, and what law or people ask, is not
        among them. Empty where nothing is due.
    by : date or None
        The first day of its jobs.
    late : bool
        Whether that day has gone by.
    look : bool
        A look decides: it is the first job, or worth as much.
    running : tuple of Phrase
        What lies in it over weeks, with the days of its end.
    held : int
        Jobs that are due and wait for something else.
    above : bool
        Law, people or the whole yard ask something at it, which is not among its jobs.
    dead, suspect : bool
    looked : date or None
        When it was last looked at.
    coming : tuple of (date, Phrase) or None
        What comes next, where nothing is due.
    """

    hive: str
    walk: int
    jobs: tuple[Job, ...] = ()
    by: dt.date | None = None
    late: bool = False
    look: bool = False
    running: tuple[Phrase, ...] = ()
    held: int = 0
    above: bool = False
    dead: bool = False
    suspect: bool = False
    looked: dt.date | None = None
    coming: tuple[dt.date, Phrase] | None = None

    @property
    def blank(self) -> bool:
        """Whether nothing was ever looked at here, and a look comes first."""
        return self.looked is None and not self.dead and bool(self.jobs) and self.jobs[0].finds

    @property
    def acts(self) -> bool:
        """Whether there is something to do, and not only to wait for."""
        return any(not job.waits for job in self.jobs)

    @property
    def reasons(self) -> tuple[Phrase, ...]:
        """The reason of its weightiest job in a few words; empty where nothing is due."""
        best = max(self.jobs, key=lambda job: (not job.waits, job.points), default=None)
        return best.reasons if best else ()

    def need(self, today: dt.date) -> tuple:
        """What orders the lines: acting before waiting before nothing due, then by day, what is late as today, then by points."""
        rank = 0 if self.acts else 1 if self.jobs or self.above else 2
        points = max((job.points for job in self.jobs), default=0.0)
        return rank, max(self.by, today) if self.by else dt.date.max, -points, self.walk


@dataclass(frozen=True)
class Group:
    """Hives with the same jobs: ``jobs`` and ``by`` as at the first of them."""

    lines: tuple[Line, ...]

    @property
    def same(self) -> bool:
        """Whether the very same is said of all of them."""
        return len({_by_all(line) for line in self.lines}) == 1

    @property
    def first(self) -> Line:
        """The most pressing of them."""
        return self.lines[0]


@dataclass(frozen=True)
class Shared:
    """A job that is said once, with the hives that ask for it."""

    job: Job
    hives: tuple[str, ...]


@dataclass(frozen=True)
class Thing:
    """A thing to take along; ``count`` says how many or how much where it is not one for all."""

    item: str
    label: Phrase
    count: Phrase | None = None


@dataclass(frozen=True)
class Sheet:
    """The whole sheet of one apiary; see the head of this module. ``due`` counts the hives that need something today, and this week;
    ``doubted`` names those of whose advice the two ways of working it out differ."""

    name: str
    date: dt.date
    lines: tuple[Line, ...] = ()
    law: tuple[Shared, ...] = ()
    yard: tuple[Shared, ...] = ()
    kit: tuple[Thing, ...] = ()
    due: tuple[int, int] = (0, 0)
    doubted: tuple[str, ...] = ()

    def folded(self, most: int, alike: int) -> tuple[Group, ...]:
        """Return the lines in their order, those of equal hives put together.

        Parameters
        ----------
        most : int
            With more hives, and as long as there are more groups, hives stand together that have the same jobs by the same day;
            then those with the same jobs whichever the day; then those with the same first job.
        alike : int
            With fewer, at least so many hives of which the very same is said; two where nothing was ever noted.
        """
        if len(self.lines) <= most:
            return tuple(
                Group(part)
                for lines in _together(self.lines, _by_all)
                for part in ((lines,) if _one(lines, alike) else ((line,) for line in lines))
            )
        groups: list[tuple[Line, ...]] = []
        for key in (_by_day, _by_jobs, _by_first):
            groups = _together(self.lines, key)
            if len(groups) <= most:
                break
        return tuple(map(Group, groups))


def _together(lines: Iterable[Line], key: Callable[[Line], Hashable]) -> list[tuple[Line, ...]]:
    """Lines of one key together, each group where its first line stands."""
    rows: dict[Hashable, list[Line]] = {}
    for line in lines:
        rows.setdefault(key(line), []).append(line)
    return [tuple(same) for same in rows.values()]


def _one(lines: tuple[Line, ...], alike: int) -> bool:
    """Whether lines of which the very same is said stand together."""
    return len(lines) >= alike or (len(lines) > 1 and lines[0].blank)


def _by_all(line: Line) -> Line:
    """All that the sheet says of a hive."""
    return replace(line, hive="", walk=0, jobs=tuple(replace(job, points=0.0, because=Text()) for job in line.jobs))


def _by_jobs(line: Line) -> tuple:
    return (line.acts, line.look, line.above, *((job.action, job.then) for job in line.jobs))


def _by_day(line: Line) -> tuple:
    return (line.late or line.by, *_by_jobs(line))


def _by_first(line: Line) -> tuple:
    return (line.acts, line.above, line.jobs[0].action if line.jobs else "")


def of(plan: WeekPlan, vocabulary: Vocabulary) -> Sheet:
    """Return the sheet of a plan.

    Parameters
    ----------
    plan : WeekPlan
    vocabulary : Vocabulary
        For the words of actions, kit and reasons.
    """
    shared = {advice.action for advice, _ in plan.yard}
    walk = rounds.walk(plan.hives)
    lines = [_line(hive, walk[hive.id], plan, vocabulary, shared) for hive in plan.hives]
    lines.sort(key=lambda line: line.need(plan.date))
    near = plan.date + dt.timedelta(days=6)
    law = tuple(_law(plan, vocabulary, shared))
    asked = {hive for one in law if one.job.action not in shared for hive in one.hives}
    acting = [line.by for line in lines if line.acts and line.by is not None and line.hive not in asked]
    acting += [plan.date] * len(asked)
    return Sheet(
        plan.name,
        plan.date,
        tuple(lines),
        law,
        tuple(Shared(job_of(advice, plan, vocabulary), tuple(ids)) for advice, ids in plan.yard if advice.band != 0),
        tuple(_kit(plan, vocabulary)),
        (sum(day <= plan.date for day in acting), sum(day <= near for day in acting)),
        tuple(hive.id for hive in plan.hives if any(advice.unverified for advice in hive.advice)),
    )


def _kit(plan: WeekPlan, vocabulary: Vocabulary) -> list[Thing]:
    """All that the week's visits take, but for what is carried on every visit."""
    work = rounds.work(plan, vocabulary)
    stops = rounds.merged(work.stops, work.again_share)
    return [
        thing(item, vocabulary)
        for item in rounds.kit_of(stops, work.kit, vocabulary)
        if item.item not in vocabulary.kit_usual
    ]


def thing(item: Item, vocabulary: Vocabulary) -> Thing:
    """Return a piece of kit with how many or how much of it: ``4 x 1 kg``, ``24.6 L``, ``3``; nothing where one does for all."""
    label = plain(vocabulary.kit[item.item])
    if not item.hives:
        return Thing(item.item, label)
    if not item.amounts:
        return Thing(item.item, label, message("sheet.pieces", n=item.hives) if item.hives > 1 else None)
    total = Quantity(round(sum(item.amounts), 1), item.unit)
    if len(set(item.amounts)) == 1 and len(item.amounts) > 1:
        total_words: Phrase = message("sheet.times", n=len(item.amounts), each=Quantity(item.amounts[0], item.unit))
    else:
        total_words = total
    left = item.hives - len(item.amounts)
    return Thing(item.item, label, message("sheet.and-for", amount=total_words, n=left) if left else total_words)


def _law(plan: WeekPlan, vocabulary: Vocabulary, shared: set[str]) -> list[Shared]:
    """What law or people ask, each once with its hives, in the order of the plan."""
    asked: dict[str, tuple[Advice, list[str]]] = {
        advice.action: (advice, list(ids)) for advice, ids in plan.yard if advice.band == 0
    }
    single = [(a.key(hive.id), hive.id, a) for hive in plan.hives for a in hive.advice if a.band == 0]
    for _, hive, advice in sorted(single, key=lambda item: item[0]):
        if advice.action not in shared:
            asked.setdefault(advice.action, (advice, []))[1].append(hive)
    ordered = sorted(asked.values(), key=lambda pair: pair[0].key(pair[1][0]))
    return [Shared(job_of(advice, plan, vocabulary), tuple(hives)) for advice, hives in ordered]


def _line(hive: HivePlan, walk: int, plan: WeekPlan, vocabulary: Vocabulary, shared: set[str]) -> Line:
    jobs = [
        job_of(advice, plan, vocabulary) for advice in hive.advice if advice.band != 0 and advice.action not in shared
    ]
    jobs.sort(key=lambda job: job.waits)
    counted = [job for job in jobs if not job.waits] or jobs
    days = [job.by for job in counted if job.by is not None]
    by = min(days, default=None)
    best = max((look.points for look in cards.looks(hive, plan)), default=0.0)
    following = hive.nothing_due["next"] if hive.nothing_due else None
    return Line(
        hive.id,
        walk,
        tuple(jobs),
        by,
        any(job.late for job in counted),
        bool(counted) and (counted[0].look or best >= max(counted[0].points, plan.screen.look_pts)),
        (*(_course(course, plan.date) for course in hive.courses), *(_lying(one, plan.date) for one in hive.lies_in)),
        sum(held.waits for held in hive.withheld),
        len(jobs) < len(hive.advice),
        hive.alive is False,
        hive.suspect,
        hive.last_look,
        (following["date"], following["what"]) if following else None,
    )


def job_of(advice: Advice, plan: WeekPlan, vocabulary: Vocabulary) -> Job:
    """Return an advice as a job of the sheet."""
    return Job(
        advice.action,
        cards.name(vocabulary, advice.action),
        _amount(advice.amount),
        advice.by if advice.lasts else advice.last_day,
        advice.overdue(plan.date),
        advice.due_since or advice.due_before,
        advice.due_since is None and advice.due_before is not None,
        advice.points,
        advice.follows is not None,
        vocabulary.actions[advice.action].minutes == 0,
        advice.origin == "look",
        advice.action in plan.looks,
        advice.partner,
        advice.because,
        reasons(advice, vocabulary),
    )


def _amount(amount: Phrase | None) -> Phrase | None:
    """The number that an amount begins with; the whole of it where it begins with words."""
    if isinstance(amount, Text) and amount.parts and isinstance(amount.parts[0], Quantity | Range):
        return amount.parts[0]
    return amount


def reasons(advice: Advice, vocabulary: Vocabulary) -> tuple[Phrase, ...]:
    """Return why an advice is given, in a few words: at most two of what decided, of different groups of facts.

    A look says what it could decide. Where the list of reasons has no words for what an advice rests on, the first fact of the
    hive itself stands there with its value, and without one the first sentence of the whole reason.
    """
    if advice.origin == "look" and advice.unlocks:
        return (message("sheet.decides", label=cards.name(vocabulary, advice.unlocks[0]["action"])),)
    own = {item.fact: item for item in advice.evidence if item.where is None}
    found: dict[str, Phrase] = {}
    for reason in vocabulary.reasons:
        item = own.get(reason.fact)
        group = vocabulary.facts[reason.fact].group
        if reason.alone and found:
            break
        if item is not None and item.value is not None and group not in found and reason.fits(item.value):
            found[group] = _said(reason.say, item, vocabulary)
            if reason.alone:
                break
    if found:
        return tuple(found.values())[:REASONS]
    for item in own.values():
        fact = vocabulary.facts[item.fact]
        if fact.scope != "calendar" and not fact.id.endswith(("_low", "_high")):
            value = cards.shown_value(fact, item.value)
            return (message("labelled", label=plain(fact.label or fact.id), words=value),)
    return (Opening(advice.because),)


def _said(say: str, item: Evidence, vocabulary: Vocabulary) -> Phrase:
    value = cards.shown_value(vocabulary.facts[item.fact], item.value)
    parts: list = []
    for part in read(say):
        if not isinstance(part, Place):
            parts.append(part)
        elif part.before and isinstance(value, Quantity):
            parts.append(Ahead(value, part.before, part.after))
        else:
            parts += [part.lead, value, part.follow]
    return Text(tuple(parts))


def label_of(course: Running) -> Phrase:
    """Return what a course is called."""
    return plain(course.course.label) if course.course is not None else Word(course.active)


def _course(course: Running, today: dt.date) -> Phrase:
    label = label_of(course)
    if course.since is None:
        return message("sheet.course-undated", what=label)
    day = (today - course.since).days
    if course.out is None:
        return message("sheet.course-no-end", what=label, n=day)
    return message("sheet.course", what=label, n=day, first=_short(course.out.first), last=_short(course.out.last))


def _lying(lying: Lying, today: dt.date) -> Phrase:
    label, day = plain(lying.left.label), (today - lying.since).days
    return message("sheet.lies", what=label, n=day, first=_short(lying.first), last=_short(lying.last))


def _short(day: dt.date) -> MonthDay:
    return MonthDay(day.month, day.day, wide=False)

"""A keeper's round: the jobs of one or more apiaries as stops, days and kit that one person can do and carry.

``work`` makes of a plan what its apiary asks for, as plain data; ``plan_round`` puts the work of several apiaries on days.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from hiveweek.plan.model import Advice, HivePlan, WeekPlan
from hiveweek.plan.visits import OFFICE, OPENING
from hiveweek.texts.parts import Phrase, Quantity, Range, Text

WEEK = 7  # days of a round


@dataclass(frozen=True)
class Task:
    """One job at one hive.

    Attributes
    ----------
    action : str
    minutes : float
        For this job alone.
    opens : str
        nothing, lid or frames.
    by : date or None
        Its deadline, also where that has gone by.
    points : float
    rank : int
        Its place in the list of its hive, which is the order of doing.
    yard : bool
        Done once for the whole yard.
    amount : (float, str) or None
        How much it takes, and the unit (kg, L, frames).
    sugar_kg : float
        Sugar in that amount.
    """

    action: str
    minutes: float
    opens: str
    by: dt.date | None
    points: float
    rank: int = 0
    yard: bool = False
    amount: tuple[float, str] | None = None
    sugar_kg: float = 0.0


@dataclass(frozen=True)
class Stop:
    """What is done at a hive in one go.

    Attributes
    ----------
    tasks : tuple of Task
        In the order of doing; those that open the hive share one opening.
    minutes : float
        For all of them.
    fit : bool
        It needs a day fit for opening.
    clean : bool
        Tools and gloves are cleaned after it: a suspicion stands, or the colony is dead.
    place : int
        Its place on the walk.
    """

    hive: str
    tasks: tuple[Task, ...]
    minutes: float
    fit: bool
    clean: bool
    place: int

    @property
    def by(self) -> dt.date | None:
        """The first deadline."""
        return min((task.by for task in self.tasks if task.by is not None), default=None)

    @property
    def points(self) -> float:
        """What its weightiest task is worth."""
        return max(task.points for task in self.tasks)

    @property
    def opens(self) -> bool:
        """Whether the hive is opened."""
        return any(task.opens != "nothing" for task in self.tasks)


@dataclass(frozen=True)
class Item:
    """A thing to take: once for all, for a number of hives, or by amounts.

    Attributes
    ----------
    hives : int
        How many hives need one each; 0 where one is enough for all.
    amounts : tuple of float
        What each takes, where it is measured; shorter than ``hives`` where an amount is not known.
    """

    item: str
    hives: int = 0
    amounts: tuple[float, ...] = ()
    unit: str = ""


@dataclass(frozen=True)
class Work:
    """What the plan of one apiary asks of its keeper this week.

    Attributes
    ----------
    stops : tuple of Stop
        Outdoors, in the order of the walk.
    home : tuple of (str, Task)
        Hive and job of what is done from home.
    fit_days : tuple of date or None
        The days of the week that are known to be fit for opening; None where no day is known.
    day_minutes, again_share : float
        What a person can do in a day; what a second job in the same opening takes of its time.
    kit : frozenset of str
        What is taken along at all (a smoker stays at home under a fire ban).
    """

    name: str
    date: dt.date
    stops: tuple[Stop, ...]
    home: tuple[tuple[str, Task], ...]
    fit_days: tuple[dt.date, ...] | None
    day_minutes: float
    again_share: float
    kit: frozenset[str]


@dataclass(frozen=True)
class Visit:
    """One apiary on one day; ``stops`` in the order of the walk, those under suspicion and the dead last."""

    apiary: str
    stops: tuple[Stop, ...]
    minutes: int
    kit: tuple[Item, ...]


@dataclass(frozen=True)
class Day:
    """One day of a round.

    Attributes
    ----------
    fit : bool or None
        Whether it is fit for opening; None where that is not known.
    by : date or None
        The day by which it has to be, where it opens hives and no fit day is known.
    now : bool
        Something is due on it.
    """

    date: dt.date
    visits: tuple[Visit, ...]
    fit: bool | None
    by: dt.date | None
    now: bool

    @property
    def minutes(self) -> int:
        """For all of its visits, without the way."""
        return sum(visit.minutes for visit in self.visits)


@dataclass(frozen=True)
class Round:
    """The days of a week's work.

    Attributes
    ----------
    home : tuple of (str, str, Task)
        Apiary, hive and job of what is done from home.
    left : tuple of (str, Stop)
        Apiary and stop of what no day of the week is fit and has room for.
    totals : tuple of (str, float, str)
        Action, amount and unit of all that is fed.
    sugar_kg : float
        Sugar in all of it.
    """

    days: tuple[Day, ...] = ()
    home: tuple[tuple[str, str, Task], ...] = ()
    left: tuple[tuple[str, Stop], ...] = ()
    totals: tuple[tuple[str, float, str], ...] = ()
    sugar_kg: float = 0.0


# --- the work of an apiary --------------------------------------------------------------------------------------------------
def work(plan: WeekPlan, vocabulary) -> Work:
    """Return what a plan asks for, a stop a hive and kind of day; jobs that only wait are none."""
    numbers = plan.numbers.branch("plan.visits")
    advice = {(hive.id, one.action): one for hive in plan.hives for one in hive.advice}
    hives = {hive.id: hive for hive in plan.hives}
    ordered = walk(plan.hives)
    stops: list[Stop] = []
    home: list[tuple[str, Task]] = []
    for visit in plan.visits:
        for stop in visit["hives"]:
            if stop["hive"] not in hives:  # only one hive is shown
                continue
            tasks = tuple(
                _task(advice[stop["hive"], action], vocabulary, plan)
                for action in stop["actions"]
                if vocabulary.actions[action].minutes > 0
            )
            hive = hives[stop["hive"]]
            if visit["what"] == OFFICE:
                home += [(hive.id, task) for task in tasks]
            elif tasks:
                minutes = _minutes(tasks, numbers.again_share)
                clean = hive.suspect or hive.alive is False
                stops.append(Stop(hive.id, tasks, minutes, visit["what"] == OPENING, clean, ordered[hive.id]))
    stops.sort(key=lambda stop: stop.place)
    kit = frozenset(item for visit in plan.visits for item in visit["kit"])
    return Work(
        plan.name, plan.date, tuple(stops), tuple(home), plan.fit_days, numbers.day_minutes, numbers.again_share, kit
    )


def walk(hives: Iterable[HivePlan]) -> dict[str, int]:
    """Return the place of each hive on a walk, from 1: healthy ones as they stand, then the suspected, then the dead."""
    ordered = sorted(hives, key=lambda hive: (hive.alive is False, hive.suspect))
    return {hive.id: place for place, hive in enumerate(ordered, 1)}


def _task(advice: Advice, vocabulary, plan: WeekPlan) -> Task:
    body = vocabulary.actions[advice.action]
    amount = amount_of(advice.amount)
    sugar = 0.0
    effect = vocabulary.effects.get(advice.action)
    if amount is not None and effect is not None and "sugar" in body.uses:
        for detail, number in effect.sugar.items():
            if vocabulary.details[detail].unit == amount[1]:
                sugar = amount[0] * getattr(plan.numbers.branch("model.food"), number)
    return Task(
        advice.action,
        body.minutes,
        body.opens,
        advice.due_by or advice.by,
        advice.points,
        advice.rank,
        body.scope == "apiary",
        amount,
        sugar,
    )


def amount_of(amount: Phrase | None) -> tuple[float, str] | None:
    """Return the number and the unit that an amount begins with; the larger end of a range; None where it has none."""
    if isinstance(amount, Text):
        amount = next(iter(amount.parts), None)
    if isinstance(amount, Range):
        amount = amount.high
    if isinstance(amount, Quantity) and amount.unit:
        return amount.value, "L" if amount.unit == "litres" else amount.unit
    return None


def _minutes(tasks: Sequence[Task], again_share: float) -> float:
    """Minutes of tasks at one hive: of those that open it the longest counts whole, the others in part."""
    opening = sorted((task.minutes for task in tasks if task.opens != "nothing"), reverse=True)
    return sum(task.minutes for task in tasks if task.opens == "nothing") + sum(
        minutes * (again_share if number else 1.0) for number, minutes in enumerate(opening)
    )


# --- days -------------------------------------------------------------------------------------------------------------------
@dataclass
class _Open:
    """A day that is being filled."""

    date: dt.date
    left: float
    stops: list[tuple[int, Stop]] = field(default_factory=list)


def plan_round(works: Sequence[Work], vocabulary) -> Round:
    """Return the round of a week over one or more apiaries.

    Stops go to days by their deadlines, what is late as due today, then by worth: each to the first day with room that is fit for
    it (any day where none is known), or, due before that, to the first with room; and with it, to the same day, what else the
    apiary asks for, as far as there is room. A day holds what a person can do in it; a longer single stop has a day of its own.

    Parameters
    ----------
    works : sequence of Work
        In the order in which the apiaries are driven to; those with a suspicion come last.
    vocabulary : Vocabulary
        For kit.
    """
    works = sorted(works, key=lambda one: any(stop.clean for stop in one.stops))
    if not works:
        return Round()
    start = min(one.date for one in works)
    room = min(one.day_minutes for one in works)
    days = [_Open(start + dt.timedelta(days=ahead), room) for ahead in range(WEEK)]
    todo = [(number, stop) for number, one in enumerate(works) for stop in one.stops]
    todo.sort(key=lambda pair: (max(pair[1].by or dt.date.max, start), -pair[1].points, pair[0], pair[1].place))
    left: list[tuple[int, Stop]] = []
    while todo:  # who drives out for the most pressing does there what else the day has room for
        number, stop = todo.pop(0)
        day = _day_for(stop, works[number], days)
        if day is None:
            left.append((number, stop))
            continue
        _put(day, number, stop)
        for pair in [pair for pair in todo if pair[0] == number]:
            same = _fits(pair[1], works[number], day)
            if same and pair[1].minutes <= day.left:
                _put(day, *pair)
                todo.remove(pair)
    return Round(
        tuple(_day(day, works, vocabulary) for day in days if day.stops),
        tuple((one.name, hive, task) for one in works for hive, task in one.home),
        tuple((works[number].name, stop) for number, stop in left),
        *_totals([stop for one in works for stop in one.stops]),
    )


def _put(day: _Open, number: int, stop: Stop) -> None:
    day.stops.append((number, stop))
    day.left -= stop.minutes


def _fits(stop: Stop, one: Work, day: _Open) -> bool:
    """Whether a day will do for a stop, its room aside."""
    return not stop.fit or one.fit_days is None or day.date in one.fit_days


def _day_for(stop: Stop, one: Work, days: list[_Open]) -> _Open | None:
    """Return the first day that has room for a stop and is fit for it; where it is due before such a day, the first with room."""
    free = [day for day in days if stop.minutes <= day.left or not day.stops]
    fit = next((day for day in free if _fits(stop, one, day)), None)
    if stop.by is None or stop.by > days[-1].date or (fit is not None and fit.date <= stop.by):
        return fit
    return next((day for day in free if day.date <= max(stop.by, days[0].date)), None) or fit


def _day(day: _Open, works: Sequence[Work], vocabulary) -> Day:
    visits = []
    for number, one in enumerate(works):
        stops = merged([stop for of, stop in day.stops if of == number], one.again_share)
        if stops:
            minutes = round(sum(stop.minutes for stop in stops))
            visits.append(Visit(one.name, tuple(stops), minutes, tuple(kit_of(stops, one.kit, vocabulary))))
    opening = [stop for _, stop in day.stops if stop.fit]
    fit = _fit(day, works)
    by = min((stop.by for stop in opening if stop.by is not None), default=None) if fit is None else None
    now = any(stop.by is not None and stop.by <= day.date for _, stop in day.stops)
    return Day(day.date, tuple(visits), fit, by, now)


def _fit(day: _Open, works: Sequence[Work]) -> bool | None:
    """Whether a day is fit for all that is opened on it, each apiary by its own weather; None where one of them is not known."""
    fits = [
        None if (days := works[number].fit_days) is None else day.date in days for number, stop in day.stops if stop.fit
    ]
    return False if False in fits else None if None in fits else True


def merged(stops: Sequence[Stop], again_share: float) -> list[Stop]:
    """Return the stops of one day with those of one hive together, in the order of the walk."""
    by_hive: dict[str, list[Stop]] = {}
    for stop in stops:
        by_hive.setdefault(stop.hive, []).append(stop)
    found = []
    for same in by_hive.values():
        tasks = tuple(sorted((task for stop in same for task in stop.tasks), key=lambda task: task.rank))
        fit = any(stop.fit for stop in same)
        found.append(replace(same[0], tasks=tasks, minutes=_minutes(tasks, again_share), fit=fit))
    return sorted(found, key=lambda stop: stop.place)


def kit_of(stops: Sequence[Stop], allowed: frozenset[str], vocabulary) -> list[Item]:
    """Return what some stops take, counted where each hive needs its own, measured where it is weighed out."""
    hives: dict[str, set[str]] = {}
    amounts: dict[str, list[float]] = {}
    for stop in stops:
        for task in stop.tasks:
            for item in vocabulary.actions[task.action].kit:
                if item not in allowed:
                    continue
                hives.setdefault(item, set()).add(stop.hive)
                if task.amount is not None and vocabulary.kit_measured.get(item) == task.amount[1]:
                    amounts.setdefault(item, []).append(round(task.amount[0], 1))
    found = []
    for item in vocabulary.kit:
        if item not in hives:
            continue
        unit = vocabulary.kit_measured.get(item, "")
        counted = len(hives[item]) if unit or item in vocabulary.kit_each else 0
        found.append(Item(item, counted, tuple(amounts.get(item, ())), unit))
    return sorted(found, key=lambda item: item.hives == 0)


def _totals(stops: Sequence[Stop]) -> tuple[tuple[tuple[str, float, str], ...], float]:
    """Return what is fed in all, by action, and the sugar in it."""
    fed: dict[tuple[str, str], float] = {}
    sugar = 0.0
    for task in (task for stop in stops for task in stop.tasks):
        if task.sugar_kg and task.amount is not None:
            key = (task.action, task.amount[1])
            fed[key] = fed.get(key, 0.0) + round(task.amount[0], 1)
            sugar += task.sugar_kg
    return tuple((action, round(amount, 1), unit) for (action, unit), amount in fed.items()), round(sugar, 1)

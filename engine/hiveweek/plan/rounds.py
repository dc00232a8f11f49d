"""A keeper's round: the jobs of one or more apiaries as stops, days and kit that one person can do and carry.

``work`` makes of a plan what its apiary asks for, as plain data; ``plan_round`` puts the work of several apiaries on days.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from hiveweek.plan import ways
from hiveweek.plan.model import Advice, HivePlan, WeekPlan
from hiveweek.plan.stops import Day, Item, Round, Stop, Task, Visit, Work
from hiveweek.plan.visits import OFFICE, OPENING
from hiveweek.plan.ways import Roads
from hiveweek.texts.parts import Phrase, Quantity, Range, Text

WEEK = 7  # days of a round


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
        plan.name,
        plan.date,
        tuple(stops),
        tuple(home),
        plan.fit_days,
        numbers.day_minutes,
        numbers.again_share,
        kit,
        plan.site,
        Roads.of(plan.numbers),
        numbers.away_minutes,
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
        advice.last_day,
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
    away: float
    works: Sequence[Work]
    stops: list[tuple[int, Stop]] = field(default_factory=list)

    def room_for(self, number: int, stop: Stop) -> bool:
        """Whether a stop still goes into the day, with the way to it; into an empty one every stop does."""
        return not self.stops or (stop.minutes <= self.left and stop.minutes + self.way_to(number) <= self.away)

    def way_to(self, number: int) -> float:
        """Minutes on the road that an apiary adds at least."""
        there = {one for one, _ in self.stops}
        sites = [one.site for one in self.works]
        return 0.0 if number in there else ways.added(number, there, sites, self.works[number].roads)

    def put(self, number: int, stop: Stop) -> None:
        """Take a stop in."""
        self.away -= stop.minutes + self.way_to(number)
        self.left -= stop.minutes
        self.stops.append((number, stop))


def plan_round(works: Sequence[Work], vocabulary) -> Round:
    """Return the round of a week over one or more apiaries.

    Stops go to days by their deadlines, what is late as due today, then by worth: each to the first day with room that is fit for
    it (any day where none is known), or, due before that, to the first with room; and with it, to the same day, what else the
    apiary asks for, as far as there is room. A day holds what a person can do in it, and what is away from home with the way; a
    longer single stop has a day of its own. The apiaries of a day stand in the order of the shortest way, those with a suspicion last.

    Parameters
    ----------
    works : sequence of Work
        The order in which the apiaries are driven to where nothing is known of the way.
    vocabulary : Vocabulary
        For kit.
    """
    works = sorted(works, key=lambda one: any(stop.clean for stop in one.stops))
    if not works:
        return Round()
    start = min(one.date for one in works)
    room = min(one.day_minutes for one in works)
    away = min(one.away_minutes for one in works)
    days = [_Open(start + dt.timedelta(days=ahead), room, away, works) for ahead in range(WEEK)]
    todo = [(number, stop) for number, one in enumerate(works) for stop in one.stops]
    todo.sort(key=lambda pair: (max(pair[1].by or dt.date.max, start), -pair[1].points, pair[0], pair[1].place))
    left: list[tuple[int, Stop]] = []
    while todo:  # who drives out for the most pressing does there what else the day has room for
        number, stop = todo.pop(0)
        day = _day_for(number, stop, works[number], days)
        if day is None:
            left.append((number, stop))
            continue
        day.put(number, stop)
        for pair in [pair for pair in todo if pair[0] == number]:
            same = _fits(pair[1], works[number], day)
            if same and day.room_for(*pair):
                day.put(*pair)
                todo.remove(pair)
    return Round(
        tuple(_day(day, works, vocabulary) for day in days if day.stops),
        tuple((one.name, hive, task) for one in works for hive, task in one.home),
        tuple((works[number].name, stop) for number, stop in left),
        *_totals([stop for one in works for stop in one.stops]),
    )


def _fits(stop: Stop, one: Work, day: _Open) -> bool:
    """Whether a day will do for a stop, its room aside."""
    return not stop.fit or one.fit_days is None or day.date in one.fit_days


def _day_for(number: int, stop: Stop, one: Work, days: list[_Open]) -> _Open | None:
    """Return the first day that has room for a stop and is fit for it; where it is due before such a day, the first with room."""
    free = [day for day in days if day.room_for(number, stop)]
    fit = next((day for day in free if _fits(stop, one, day)), None)
    if stop.by is None or stop.by > days[-1].date or (fit is not None and fit.date <= stop.by):
        return fit
    return next((day for day in free if day.date <= max(stop.by, days[0].date)), None) or fit


def _day(day: _Open, works: Sequence[Work], vocabulary) -> Day:
    sites, roads = [one.site for one in works], works[0].roads
    there = {number for number, _ in day.stops}
    order = ways.ordered(
        [number for number in range(len(works)) if number in there],
        lambda number: any(stop.clean for of, stop in day.stops if of == number),
        sites,
        roads,
    )
    visits = []
    before: int | None = None
    for number in order:
        one = works[number]
        stops = merged([stop for of, stop in day.stops if of == number], one.again_share)
        minutes = round(sum(stop.minutes for stop in stops))
        way = one.site.from_home if before is None else roads.minutes(sites[before], one.site)
        kit = tuple(kit_of(stops, one.kit, vocabulary))
        visits.append(Visit(one.name, tuple(stops), minutes, kit, None if way is None else round(way)))
        before = number
    home = None if before is None else sites[before].from_home
    opening = [stop for _, stop in day.stops if stop.fit]
    fit = _fit(day, works)
    by = min((stop.by for stop in opening if stop.by is not None), default=None) if fit is None else None
    now = any(stop.by is not None and stop.by <= day.date for _, stop in day.stops)
    return Day(day.date, tuple(visits), fit, by, now, None if home is None else round(home))


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

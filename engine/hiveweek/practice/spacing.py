"""Which scenario comes next: what was practised comes back before it is forgotten, then what is new of the weakest topic.

The days are the scheduler's own (FSRS; Ye et al. 2022), whose cards are made anew from what was practised: nothing of it is kept.
"""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from fsrs import Card, Rating, Scheduler

from hiveweek.facts.scenario import Scenario
from hiveweek.numbers import Branch
from hiveweek.practice.lessons import lesson_of
from hiveweek.record.practised import Practised

MIDDLING = 50.0  # marks of a topic that nobody has practised yet


@dataclass(frozen=True)
class Topic:
    """How a learner stands in a topic.

    Attributes
    ----------
    practised : int
        Sittings in it.
    met : int
        Scenarios of it that were practised.
    mean : float or None
        Of the marks of its sittings; None where there were none.
    """

    practised: int
    met: int
    mean: float | None


def cards(practised: Iterable[Practised], numbers: Branch) -> dict[str, Card]:
    """Return the scheduler's card of each lesson that was practised."""
    scheduler = _scheduler(numbers)
    found: dict[str, Card] = {}
    for one in sorted(practised, key=lambda p: p.at):
        card = found.get(one.lesson) or Card(card_id=len(found) + 1, due=one.at)
        found[one.lesson] = scheduler.review_card(card, _rating(one.marks, numbers), one.at)[0]
    return found


def _scheduler(numbers: Branch) -> Scheduler:
    # Without steps of minutes: a scenario is read with care once a day, not crammed.
    return Scheduler(desired_retention=numbers.retention, learning_steps=(), relearning_steps=(), enable_fuzzing=False)


def _rating(marks: float, numbers: Branch) -> Rating:
    steps = ((numbers.hard_marks, Rating.Again), (numbers.good_marks, Rating.Hard), (numbers.easy_marks, Rating.Good))
    return next((rating for below, rating in steps if marks < below), Rating.Easy)


def topics(scenarios: Iterable[Scenario], practised: Iterable[Practised]) -> dict[str, Topic]:
    """Return how a learner stands in each topic."""
    topic_of = {lesson_of(one).id: lesson_of(one).topic for one in scenarios}
    sat: dict[str, list[Practised]] = {topic: [] for topic in topic_of.values()}
    for one in practised:
        if one.lesson in topic_of:
            sat[topic_of[one.lesson]].append(one)
    return {
        topic: Topic(len(each), len({p.lesson for p in each}), sum(p.marks for p in each) / len(each) if each else None)
        for topic, each in sat.items()
    }


def following(
    scenarios: Sequence[Scenario],
    practised: Sequence[Practised],
    now: dt.datetime,
    numbers: Branch,
    seed: int | None = None,
) -> Scenario:
    """Return the scenario to practise next.

    Parameters
    ----------
    scenarios : sequence of Scenario
        To choose from; at least one.
    practised : sequence of Practised
        What the learner did so far, any order.
    now : datetime
        With its zone.
    seed : int, optional
        Draws among the new ones of a topic; by the order of the files without it.

    Notes
    -----
    What is due comes first, that which is nearest to being forgotten before the rest; then a new one of the weakest topic, a topic
    without marks counting as middling; where all was practised, that which is due soonest.
    """
    kept = cards(practised, numbers)
    scheduler = _scheduler(numbers)
    met = [one for one in scenarios if lesson_of(one).id in kept]
    due = [one for one in met if kept[lesson_of(one).id].due <= now]
    if due:
        return min(due, key=lambda one: scheduler.get_card_retrievability(kept[lesson_of(one).id], now))
    new = [one for one in scenarios if lesson_of(one).id not in kept]
    if not new:
        return min(met, key=lambda one: kept[lesson_of(one).id].due)
    stands = topics(scenarios, practised)
    new.sort(key=lambda one: _weakness(stands, lesson_of(one).topic))
    _, weakest = next(groupby(new, key=lambda one: _weakness(stands, lesson_of(one).topic)))
    drawn = list(weakest)
    return drawn[0] if seed is None else random.Random(seed).choice(drawn)


def _weakness(stands: Mapping[str, Topic], topic: str) -> float:
    """Return the marks of a topic, drawn to the middle while few of it were practised."""
    one = stands[topic]
    return ((one.mean or 0.0) * one.practised + MIDDLING) / (one.practised + 1)

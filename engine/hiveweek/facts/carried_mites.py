"""The level of mites today, carried on from the last count: growth, courses of treatment, and a widening range."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from hiveweek.colony import mites, population
from hiveweek.colony.estimate import Estimate, estimate
from hiveweek.colony.year import plain
from hiveweek.facts.estimate_inputs import EstimateContext, coded, days_so_far, number, on_day, valid_since
from hiveweek.facts.table import FactTable
from hiveweek.facts.treatments import Course, courses, fell_beside
from hiveweek.numbers import Branch

THROUGH = ("treatment", "treatment_end")  # acts that the level is carried through


@dataclass
class Level:
    """Mites on 100 bees today.

    Attributes
    ----------
    rate : Estimate
        NaN where nothing was ever counted, or where the range is by now as wide as knowing nothing.
    chance_over : callable
        Takes a limit; returns the chance that the level is over it.
    origin : list of (str or None)
    """

    rate: Estimate
    chance_over: Callable[[object], np.ndarray]
    origin: list[str | None]


@dataclass
class _Counts:
    """The count to go by at each hive: a sample, or a drop where ``mites`` is NaN; and its age in days."""

    mites: np.ndarray
    bees: np.ndarray
    method: np.ndarray
    drop: np.ndarray
    age: np.ndarray


def carried_level(table: FactTable, context: EstimateContext, past) -> Level:
    """Return the level of mites of every hive today.

    Parameters
    ----------
    past : Days
        The days gone by, the last entry being yesterday.

    Notes
    -----
    A sample that still counts as seen goes before a drop; of older counts the newer one is taken. From the day of the count
    on the level grows as without treatment (:func:`hiveweek.colony.mites.grow`), and each course since leaves the published
    share of the mites, one that still lies in the hive the part of it that its days are of ``course_days``. What falls on a
    tray beside a course is no natural drop and counts for nothing. While the count that shows whether an ended course worked is
    still to come, the level is not known: that count decides, not what courses usually leave.
    """
    p = context.p
    counts = _counts(table, context, len(past.laying), p)
    growth = _growth(table, context, counts.age, past, p)
    by_drop = np.isnan(counts.mites)
    # A sample without mites did not show that there are none: as it ages, half a mite is taken to have been missed.
    keeps = table.vocabulary.facts["mites.sample_mites"].keeps or 1
    missed = np.clip(np.nan_to_num(counts.age) / keeps, 0.0, 1.0) * (counts.mites == 0) / 2
    sample = mites.rate(counts.mites, counts.bees, counts.method, p=p)
    value = sample.value + 100 * missed / counts.bees
    state = _brood_state(table, context, counts.age)
    drop = mites.rate_from_drop(counts.drop, state, number(table, "colony.bees"), p=p)
    then = [np.where(by_drop, d, s) for d, s in zip(drop, (value, sample.low, sample.high), strict=True)]
    most = np.where(np.nan_to_num(counts.age) > 0, p.mites.level_most, p.mites.rate_most)
    now = estimate(*(np.minimum(t * g, most) for t, g in zip(then, growth, strict=True)))
    wide = now.high >= p.mites.nothing_known_ratio * now.low
    nothing = (now.high >= p.mites.nothing_known_from) & wide
    nothing &= np.nan_to_num(counts.age) > 0
    nothing |= _verdict_due(table, context, counts.age)
    now = Estimate(*(np.where(nothing, np.nan, x) for x in now))

    def over(limit) -> np.ndarray:
        of_sample = mites.chance_over_grown(counts.mites + missed, counts.bees, limit, growth, counts.method, p=p)
        chance = np.where(by_drop, mites.chance_over_range(now, limit), of_sample)
        return np.where(np.isnan(now.value), np.nan, chance)

    origin: list[str | None] = []
    counted = (context.today - np.nan_to_num(counts.age)).tolist()
    for hive, age in enumerate(counts.age.tolist()):
        day = dt.date.fromordinal(int(counted[hive]))
        fresh = "implied by mites.drop_per_day" if by_drop[hive] else "computed"
        origin.append(f"carried forward from {day.isoformat()}" if age > 0 else fresh)
    return Level(now, over, origin)


def _verdict_due(table: FactTable, context: EstimateContext, age: np.ndarray) -> np.ndarray:
    """Whether a course has ended after the last count, and the days in which a count tells how it worked are not over."""
    ended = number(table, "mites.treated_days_ago")
    limit = context.numbers.get(
        "limit.mites_treating.check_to_days"
    )  # a rule's number: none where facts stand without rules
    if limit is None:
        return np.zeros(len(table), dtype=bool)
    with np.errstate(invalid="ignore"):
        return (ended <= limit.value) & (age > ended)


def _counts(table: FactTable, context: EstimateContext, oldest: int, p: Branch) -> _Counts:
    """Choose the count to go by at each hive; none older than so many days."""
    n = len(table)
    found, sampled = number(table, "mites.sample_mites"), number(table, "mites.sample_bees")
    found = np.where(found <= sampled, found, np.nan)
    counts = _Counts(
        found.copy(), sampled.copy(), coded(table, "mites.method", mites.METHODS), np.full(n, np.nan), found * 0.0
    )
    drop = number(table, "mites.drop_per_day")
    sample_since = valid_since(context.history, table, "mites.sample_mites", THROUGH)
    drop_since = valid_since(context.history, table, "mites.drop_per_day", THROUGH)
    facts = table.vocabulary.facts
    for hive in range(n):
        today = context.today[hive]
        story = courses(context.history, hive)
        samples = [row for row in context.history.entries(hive, "mites.sample_mites") if row[0] >= sample_since[hive]]
        drops = [row for row in context.history.entries(hive, "mites.drop_per_day") if row[0] >= drop_since[hive]]
        drops = [row for row in drops if not fell_beside(context.history, row[0], story, p)]
        if not np.isnan(found[hive]):
            if samples:
                counts.age[hive] = today - samples[-1][0]
            continue
        if not np.isnan(drop[hive]) and not context.history.entries(hive, "mites.drop_per_day"):
            counts.drop[hive], counts.age[hive] = drop[hive], 0.0
            continue
        bees = dict(context.history.entries(hive, "mites.sample_bees"))
        methods = dict(context.history.entries(hive, "mites.method"))
        samples = [row for row in samples if bees.get(row[0], 0) >= max(row[1], 1)]
        keeps = facts["mites.drop_per_day"].keeps or 0
        use_drop = drops and (not samples or today - drops[-1][0] <= keeps or drops[-1][0] > samples[-1][0])
        if use_drop:
            counts.drop[hive], counts.age[hive] = drops[-1][1], today - drops[-1][0]
        elif samples:
            day, counts.mites[hive] = samples[-1]
            counts.bees[hive], counts.age[hive] = bees[day], today - day
            counts.method[hive] = _method(table, methods.get(day))
    counts.age = np.where(counts.age > oldest, np.nan, counts.age)
    gone = np.isnan(counts.age)
    for column in (counts.mites, counts.bees, counts.drop):
        column[gone] = np.nan
    return counts


def _method(table: FactTable, code: float | None) -> float:
    words = table.vocabulary.facts["mites.method"].values
    return np.nan if code is None else float(mites.METHODS.index(words[int(code)]))


def _growth(table: FactTable, context: EstimateContext, age: np.ndarray, past, p: Branch) -> Estimate:
    """Return how many times as many mites there are now as at the count."""
    brood = days_so_far((past.laying > 0)[::-1])  # days with brood among the last so many
    days = np.nan_to_num(age, nan=0.0).astype(int)
    with_brood = on_day(brood, np.minimum(days, len(brood) - 1))
    one = np.ones(len(table))
    value, low, high = (np.array(x) for x in mites.grow(Estimate(one, one, one), with_brood, days - with_brood, p=p))
    last = table.vocabulary.facts["mites.last_active"]
    for hive in np.flatnonzero(age > 0).tolist():
        today = int(context.today[hive])
        counted = today - int(days[hive])
        for course in courses(context.history, hive):
            share = _share(course, counted, today, p)
            if share <= 0:
                continue
            word = "unknown" if np.isnan(course.active) else str(last.decode(course.active))
            gone_by = today - (course.start or counted)
            laying = past.of(hive).laying
            broodless = course.start is not None and course.start == course.end and laying[-max(gone_by, 1)] == 0
            word += "_broodless" if word == "oxalic" and broodless else ""
            left = p.mites[f"left_{word}"]
            value[hive] *= left.value**share
            low[hive] *= left.low**share
            high[hive] *= left.high**share
    return Estimate(value, low, high)


def _share(course: Course, counted: int, today: int, p: Branch) -> float:
    """Return the part of a course's work that was done between the count and today; all of it for one of a single day."""
    if course.start is not None and course.start == course.end:
        return 1.0 if course.start >= counted else 0.0
    begun = counted if course.start is None else course.start
    ended = today if course.end is None else min(course.end, today)
    done = min(max(ended - begun, 0) / p.mites.course_days, 1.0)
    before = min(max(min(counted, ended) - begun, 0) / p.mites.course_days, 1.0)
    return done - before


def _brood_state(table: FactTable, context: EstimateContext, age: np.ndarray) -> np.ndarray:
    """Brood on the day of the count for the factor of a drop: 0 none, 1 some, 2 full; as seen, else as usual then."""
    by_season = _usual_state(coded(table, "season.brood", population.BROOD_STATES))
    seen = number(table, "colony.frames_of_brood").copy()
    keeps = table.vocabulary.facts["colony.frames_of_brood"].keeps or 0
    of_days: dict[tuple[int, int], float] = {}
    for hive in np.flatnonzero(age > 0).tolist():
        calendar = context.calendars[context.place[hive]]
        day = int(context.today[hive] - age[hive])
        key = (id(calendar), day)
        if key not in of_days:
            usual = getattr(calendar, "usual", calendar.facts)
            word = plain(usual(dt.date.fromordinal(day))["season.brood"])
            of_days[key] = float(_usual_state(np.array([float(population.BROOD_STATES.index(word))]))[0])
        by_season[hive] = of_days[key]
        rows = context.history.between(hive, "colony.frames_of_brood", day - keeps, day)
        seen[hive] = rows[-1][1] if rows else np.nan
    by_look = np.where(seen <= 0, 0.0, np.where(by_season == 2, 2.0, 1.0))
    return np.where(np.isnan(seen), by_season, by_look)


def _usual_state(brood: np.ndarray) -> np.ndarray:
    none, full = (population.BROOD_STATES.index(word) for word in ("none", "full"))
    return np.where(brood == none, 0.0, np.where(brood == full, 2.0, np.where(np.isnan(brood), np.nan, 1.0)))

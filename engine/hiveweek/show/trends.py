"""How stores and mites of each hive went and will go: what was noted, today's estimate with its range, the weeks ahead, the limit.

For charts only; the plan itself rests on the facts.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass

import numpy as np

from hiveweek.colony import mites as mite_model
from hiveweek.facts.estimate_mites import limit_in_force
from hiveweek.facts.table import FactTable
from hiveweek.plan.answer import Answer

STORES, MITES = "food.stores_kg", "mites.per_100"
BACK_WEEKS, AHEAD_WEEKS = 26, 12


@dataclass(frozen=True)
class Level:
    """A value on a day, with its likely range where it has one."""

    date: dt.date
    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Trend:
    """The course of one thing at one hive.

    Attributes
    ----------
    fact : str
        ``food.stores_kg`` (kg) or ``mites.per_100`` (mites on 100 bees).
    past : tuple of Level
        What was noted in the last half year, the oldest first.
    now : Level
        Today's estimate.
    ahead : tuple of Level
        From today on, if nothing is fed or treated; empty where that is not known.
    limit : float or None
        Stores that are needed to the next forage; mites at which the rules treat at this time.
    """

    fact: str
    past: tuple[Level, ...]
    now: Level
    ahead: tuple[Level, ...]
    limit: float | None


@dataclass(frozen=True)
class Phase:
    """A phase of the season, from its first to its last day."""

    name: str
    first: dt.date
    last: dt.date


def trends(answer: Answer) -> dict[str, tuple[Trend, ...]]:
    """Return the trends of each hive, by its id; of what is not known today nothing is drawn."""
    table, day = answer.inference.table, answer.date
    limits = {STORES: _column(table, "food.need_kg"), MITES: limit_in_force(table, answer.inference.ruleset.numbers)}
    found: dict[str, tuple[Trend, ...]] = {}
    for row, hive in enumerate(table.hives):
        made = []
        for fact, past, ahead in ((STORES, _stores_noted, _stores_ahead), (MITES, _mites_counted, _mites_ahead)):
            now = _level(table, fact, row, day)
            if now is not None:
                limit = float(limits[fact][row])
                made.append(
                    Trend(
                        fact,
                        tuple(past(answer, row)),
                        now,
                        tuple(ahead(table, row, now)),
                        None if math.isnan(limit) else limit,
                    )
                )
        found[hive] = tuple(made)
    return found


def season(answer: Answer) -> tuple[Phase, ...]:
    """Return the phases of the season over the days that a trend shows, in their order."""
    calendar = answer.profile.calendar
    found: list[Phase] = []
    for ahead in range(-BACK_WEEKS * 7, AHEAD_WEEKS * 7 + 1):
        day = answer.date + dt.timedelta(days=ahead)
        name = calendar.phase(day)
        if found and found[-1].name == name:
            found[-1] = Phase(name, found[-1].first, day)
        else:
            found.append(Phase(name, day, day))
    return tuple(found)


def _column(table: FactTable, fact: str) -> np.ndarray:
    return table.column(fact).value


def _level(table: FactTable, fact: str, row: int, day: dt.date) -> Level | None:
    column = table.column(fact)
    value, low, high = (float(side[row]) for side in (column.value, column.low, column.high))
    if math.isnan(value):
        return None
    return Level(day, value, value if math.isnan(low) else low, value if math.isnan(high) else high)


def _noted(answer: Answer, row: int, fact: str) -> list[tuple[int, float]]:
    if answer.history is None:
        return []
    first = answer.date.toordinal() - 7 * BACK_WEEKS
    rows = answer.history.between(row, fact, first, answer.date.toordinal())
    return [(day, value) for day, value in rows if not math.isnan(value)]


def _stores_noted(answer: Answer, row: int) -> list[Level]:
    return [Level(dt.date.fromordinal(day), kg, kg, kg) for day, kg in _noted(answer, row, STORES)]


def _mites_counted(answer: Answer, row: int) -> list[Level]:
    """Counts with their exact interval: mites and bees of a sample that were noted on one day."""
    bees = dict(_noted(answer, row, "mites.sample_bees"))
    method = dict(_noted(answer, row, "mites.method"))
    found = []
    for day, mites in _noted(answer, row, "mites.sample_mites"):
        if bees.get(day, 0) >= max(mites, 1):
            rate = mite_model.rate(mites, bees[day], method.get(day, math.nan))
            found.append(Level(dt.date.fromordinal(day), *(float(x) for x in (rate.value, rate.low, rate.high))))
    return found


def _stores_ahead(table: FactTable, row: int, now: Level) -> list[Level]:
    """What is left if nothing comes in and nothing is fed, week by week at this week's use, until it is gone."""
    use = _level(table, "food.use_kg_week", row, now.date)
    if use is None:
        return []
    found = []
    for week in range(AHEAD_WEEKS + 1):
        left = [
            max(kg - rate * week, 0.0)
            for kg, rate in ((now.value, use.value), (now.low, use.high), (now.high, use.low))
        ]
        found.append(Level(now.date + dt.timedelta(weeks=week), *left))
        if left[2] == 0:
            break
    return found


def _mites_ahead(table: FactTable, row: int, now: Level) -> list[Level]:
    """Mites left alone until winter bees are reared, growing by the same share each week."""
    weeks = float(_column(table, "season.weeks_to_winter_bees")[row])
    then = _level(table, "mites.per_100_at_winter_bees", row, now.date)
    if then is None or math.isnan(weeks) or not 0 < weeks <= AHEAD_WEEKS or now.value <= 0:
        return []
    found = []
    for step in [*range(int(weeks) + 1), weeks]:
        share = step / weeks
        sides = [
            max(start, 0.01) ** (1 - share) * max(end, 0.01) ** share
            for start, end in ((now.value, then.value), (now.low, then.low), (now.high, then.high))
        ]
        found.append(Level(now.date + dt.timedelta(days=round(7 * step)), *sides))
    return found

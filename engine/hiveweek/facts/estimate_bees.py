"""Bees and brood today: as seen, or carried on from the last count by the model of a colony."""

from __future__ import annotations

import datetime as dt

import numpy as np

from hiveweek.colony import population, strength
from hiveweek.colony.estimate import Estimate, estimate
from hiveweek.facts import estimate_inputs as inputs
from hiveweek.facts.estimate_inputs import EstimateContext, fill, is_word, number
from hiveweek.facts.table import FactTable
from hiveweek.numbers import Branch

MOST = 200_000.0  # bees or cells; more than any colony has, and the models' own limit
BEES, BROOD, ABOVE = "colony.frames_of_bees", "colony.frames_of_brood", "colony.super_frames_of_bees"
YOUNGEST = "colony.youngest_brood"


def add_bees(table: FactTable, context: EstimateContext, past) -> tuple[Estimate, np.ndarray]:
    """Set frames of bees and brood, bees and their share of the box; return bees and brood cells.

    Parameters
    ----------
    past : Days
        The days gone by, the last entry being yesterday.

    Notes
    -----
    From the day after a count on the model carries it: bees that die, brood that emerges, eggs that are laid as is usual
    then. Nothing is laid for as long as a look that found no brood keeps, and where there is no queen. What does not fit
    into the box is not counted on; bees seen in supers are carried along with the others, also when the supers come off. A
    count that by now says no more than none would (``nothing_known_spread``) is not known any more; the models go on with the
    brood that it has come to, which by then is the usual one.
    """
    p = context.p
    side = inputs.comb_side(table, p)
    per_frame = 2 * side.value * p.bees.bees_per_dm2
    brood, brood_age = _seen(table, context, BROOD, _no_brood(table, context))
    bees, age = _seen(table, context, BEES)
    in_supers = _in_supers(table, context, age) * 2 * p.bees.comb_side_medium_dm2 * p.bees.bees_per_dm2
    age = np.where(population.bees_spread(age, p) < p.bees.nothing_known_spread, age, np.nan)
    brood_age = np.where(brood_age <= len(past), brood_age, np.nan)
    idle = _idle(table, brood, brood_age)
    above = np.where(age > 0, np.nan, in_supers)
    if (age > 0).any():
        then = np.minimum(np.where(age > 0, bees * per_frame + in_supers, np.nan), MOST)
        cells = np.where(brood_age == age, _cells(brood, side.value, p), np.nan)
        rest = np.where(brood_age == age, idle, 0.0)
        later, _ = population.carry_forward(then, cells, age, past.laying, past.dying, idle=rest, p=p)
        most = np.fmin(number(table, "hive.most_seams"), number(table, "hive.frames") + 1)  # the brood boxes' own
        most = np.where(number(table, "hive.supers") > 0, number(table, "hive.most_seams"), most)
        room = np.where(in_supers > 0, bees, np.fmin(most, table_high(table, BEES)))
        frames = [np.minimum(part / per_frame, room) for part in later]
        above = np.where(age > 0, np.where(in_supers > 0, later.value - frames[0] * per_frame, 0.0), above)
        fill(table, context, BEES, *frames, origin=_carried(context, age), over_seen=_may_move(table, BEES, age))
    now = table.column(BEES)
    cells_now = _cells(number(table, BROOD), side.value, p)
    if (brood_age > 0).any():
        per_brood = 2 * side.value * p.bees.worker_cells_per_dm2 * p.bees.brood_fill
        count = np.where(brood_age > 0, np.minimum(per_frame * now.value, MOST), np.nan)
        then = _cells(brood, side.value, p)
        _, later = population.carry_forward(count, then, brood_age, past.laying, past.dying, idle=idle, p=p)
        room = np.fmin(number(table, "hive.frames"), table_high(table, BROOD))
        tells = population.cells_spread(brood_age, p) < p.bees.nothing_known_cells_spread
        fill(
            table,
            context,
            BROOD,
            *(np.where(tells, np.minimum(part / per_brood, room), np.nan) for part in later),
            origin=_carried(context, brood_age),
            over_seen=_may_move(table, BROOD, brood_age),
        )
        cells_now = np.where(number(table, BROOD) >= 0, _cells(number(table, BROOD), side.value, p), later.value)
    fill(table, context, "colony.bees", *_bees(table, side, above, p))
    now, frames_there = table.column(BEES), number(table, "hive.frames")
    fill(table, context, "colony.use_of_space", *(x / frames_there for x in (now.value, now.low, now.high)))
    fixed = table.column("colony.bees")
    return estimate(fixed.value, fixed.low, fixed.high), cells_now


def table_high(table: FactTable, fact: str) -> float:
    """Return the top of a fact's range."""
    high = table.vocabulary.facts[fact].high
    return np.inf if high is None else high


def _no_brood(table: FactTable, context: EstimateContext) -> np.ndarray:
    """Days since a look that found no brood of any age, which is a count of none; NaN where the last one found some."""
    last, age = inputs.last_seen(context.history, table, YOUNGEST)
    return np.where(last == table.vocabulary.facts[YOUNGEST].encode("none"), age, np.nan)


def _seen(
    table: FactTable, context: EstimateContext, fact: str, none: float | np.ndarray = np.nan
) -> tuple[np.ndarray, np.ndarray]:
    """Return the last count that still counts and its age; what other looks tell by now goes before it.

    Parameters
    ----------
    none : ndarray of float
        Days since another look told that there were none.
    """
    value, age = inputs.last_seen(context.history, table, fact)
    told = table.column(fact).known & ~_from_look(table, fact)
    value, age = np.where(told, number(table, fact), value), np.where(told, 0.0, age)
    newer = none < np.where(np.isnan(age) | (told & (value == 0.0)), np.inf, age)
    return np.where(newer, 0.0, value), np.where(newer, none, age)


def _from_look(table: FactTable, fact: str) -> np.ndarray:
    """Whether the value in the table is a look at that very fact."""
    words = table.column(fact).origin or [None] * len(table)
    return np.array([str(word).startswith("seen ") for word in words])


def _may_move(table: FactTable, fact: str, age: np.ndarray) -> np.ndarray:
    return _from_look(table, fact) & (age > 0)


def _in_supers(table: FactTable, context: EstimateContext, age: np.ndarray) -> np.ndarray:
    """Frames of bees in the supers at about the time of the count; 0 where nobody saw any, or they came down before it."""
    seen, seen_age = inputs.last_seen(context.history, table, ABOVE, through=("harvest",))
    keeps = table.vocabulary.facts[ABOVE].keeps or 0
    with np.errstate(invalid="ignore"):
        there = (seen > 0) & (seen_age <= np.nan_to_num(age) + keeps)
    for hive in np.flatnonzero(there).tolist():
        today = context.today[hive]
        counted, looked = today - np.nan_to_num(age[hive]), today - seen_age[hive]
        there[hive] = not any(looked <= day <= counted for day in context.history.acts("harvest")[hive])
    return np.where(there, seen, 0.0)


def _idle(table: FactTable, brood: np.ndarray, age: np.ndarray) -> np.ndarray:
    """Days after a look at the brood in which nothing is laid."""
    none = np.where(brood == 0, table.vocabulary.facts[BROOD].keeps or 0, 0.0)
    queenless = is_word(table, "colony.queen", "queenless", "virgin") == 1
    return np.where(queenless, np.nan_to_num(age), none)


def _cells(frames: np.ndarray, side: np.ndarray, p: Branch) -> np.ndarray:
    return np.minimum(strength.brood_cells(frames, side, p=p).value, MOST)


def _bees(table: FactTable, side: Estimate, above: np.ndarray, p: Branch) -> Estimate:
    """Bees in brood boxes and supers; the frame size widens the interval where it is not known."""
    column = table.column(BEES)
    count = strength.bees(np.clip(column.value, 0, 100), side.value, p=p)
    up = np.hypot(count.high / np.maximum(count.value, 1e-9) - 1, side.high / side.value - 1)
    down = np.hypot(1 - count.low / np.maximum(count.value, 1e-9), 1 - side.low / side.value)
    with np.errstate(divide="ignore", invalid="ignore"):
        up = np.hypot(up, np.where(column.value > 0, column.high / column.value - 1, 0))
        down = np.hypot(down, np.where(column.value > 0, 1 - column.low / column.value, 0))
    value = count.value + np.nan_to_num(above, nan=0.0)
    return estimate(value, value * (1 - np.minimum(down, 0.95)), value * (1 + up), 0.0, MOST)


def _carried(context: EstimateContext, age: np.ndarray) -> list:
    return [
        None if day != day else f"carried forward from {dt.date.fromordinal(int(day))}"
        for day in (context.today - age).tolist()
    ]

"""Stores today: the last precise look carried on by the model, cut by the hefts since."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hiveweek.colony import strength
from hiveweek.colony.estimate import Z95, Estimate, estimate
from hiveweek.colony.stores import carry_forward
from hiveweek.facts import estimate_inputs as inputs
from hiveweek.facts.estimate_inputs import EstimateContext, coded, fill, is_word, number
from hiveweek.facts.table import FactTable
from hiveweek.numbers import Branch
from hiveweek.numbers.normal import ndtr

STORES, HEFT = "food.stores_kg", "food.heft"
PRECISE = (STORES, "food.hive_weight_kg", "food.frames_of_stores")  # of one day the first goes before the others
FED = "food.fed_kg"


@dataclass
class Colony:
    """What the stores of each hive depend on.

    Attributes
    ----------
    bees : Estimate
    bees_sd : ndarray
        Relative spread that an old count of bees adds.
    cells, loss, rooms : ndarray
        Brood cells, heat loss of the hive, temperature of the wintering room.
    """

    bees: Estimate
    bees_sd: np.ndarray
    cells: np.ndarray
    loss: np.ndarray
    rooms: np.ndarray


@dataclass
class _Look:
    """A look at each hive: kilograms as seen then, age in days, and the fact seen; NaN and None where there is none."""

    kg: Estimate
    age: np.ndarray
    facts: Sequence[str | None]


def add_stores(table: FactTable, context: EstimateContext, colony: Colony, past) -> Estimate:
    """Set and return the stores of today.

    Notes
    -----
    A figure in kilograms, frames or weight replaces what was known before it. A heft is a word: it cuts the range of what
    was carried on to its day, and where the two do not meet the heft, being newer, counts alone. Feed given since is added.
    A range that runs from nothing to most of what the box holds says nothing, and the stores are not known.
    Of what was seen before robbers had done nothing may be left, so it does not count; but where it was little then, it is
    less now, and the hive is not taken for one of which nothing is known.
    """
    fixed = context.fixed.get(STORES, np.zeros(len(table), dtype=bool))
    precise = _precise(table, context, colony.bees)
    newer, older = _hefts(table, context, precise.age)
    now = _carried(table, context, colony, precise, past)
    origin = _origins(context, precise)
    raided = _before_a_raid(table, context, colony.bees, precise.age)
    if not np.isnan(raided.age).all():
        left = _carried(table, context, colony, raided, past)
        value, low, high = (np.where(np.isnan(now.value), new, old) for new, old in zip(left, now, strict=True))
        now = estimate(value, low, high)
        origin = [old or new for old, new in zip(origin, _origins(context, raided), strict=True)]
    for look in (older, newer):
        if np.isnan(look.age).all():
            continue
        cut = _carried(table, context, colony, look, past)
        now, met = _meet(now, cut)
        said = _origins(context, look)
        for hive in np.flatnonzero(~np.isnan(cut.value)).tolist():
            day = dt.date.fromordinal(int(context.today[hive] - look.age[hive])).isoformat()
            before = origin[hive]
            if before is None or not met[hive]:
                apart = "" if before is None else f"; it does not fit what was {before}"
                origin[hive] = f"{said[hive]}{apart}"
            else:
                origin[hive] = f"{before.split('; ')[0]}; cut by the heft of {day}"
    fed_today = inputs.given_since(context.history, table, FED, precise.age, precise.facts)
    fresh = np.array([fact == STORES for fact in precise.facts]) & (precise.age == 0) & (fed_today == 0)
    fill(table, context, STORES, *now, origin=origin, over_seen=~fresh & ~fixed)
    column = table.column(STORES)
    gone = column.known & ~fixed & ~fresh & np.isnan(now.value)
    if gone.any():
        table.set(
            STORES,
            *(np.where(gone, np.nan, x) for x in (column.value, column.low, column.high)),
            origin=[None if g else o for g, o in zip(gone, column.origin or [None] * len(table), strict=True)],
        )
    column = table.column(STORES)
    return estimate(column.value, column.low, column.high)


def _precise(
    table: FactTable, context: EstimateContext, bees: Estimate, through: tuple[str, ...] = ("feeding",)
) -> _Look:
    """Return the last look in kilograms, weight or frames at each hive."""
    n = len(table)
    kg, age = [np.full(n, np.nan) for _ in range(3)], np.full(n, np.nan)
    facts: list[str | None] = [None] * n
    for fact in PRECISE:
        seen, days = inputs.last_seen(context.history, table, fact, through=through)
        found = _as_stores(table, fact, seen, bees, context.p)
        take = (np.isnan(age) | (days < age)) & ~np.isnan(found.value)
        kg = [np.where(take, new, old) for new, old in zip(found, kg, strict=True)]
        age = np.where(take, days, age)
        facts = [fact if t else old for t, old in zip(take, facts, strict=True)]
    return _Look(Estimate(*kg), age, facts)


def _before_a_raid(table: FactTable, context: EstimateContext, bees: Estimate, precise_age: np.ndarray) -> _Look:
    """Return the last look that told of little food and that a raid since then, or on its day, made void; half of it or none is there."""
    food, history, today = context.p.food, context.history, context.today
    through = ("feeding", "robbing")
    look = _precise(table, context, bees, through)
    heft, heft_age = inputs.last_seen(history, table, HEFT, through=through)
    heft_age = np.where(heft == table.vocabulary.facts[HEFT].encode("light"), heft_age, np.nan)
    use = ~np.isnan(heft_age) & ~(look.age <= heft_age)
    kg = [
        np.where(use, new, old)
        for new, old in zip(_as_stores(table, HEFT, heft, bees, context.p), look.kg, strict=True)
    ]
    age = np.where(use, heft_age, look.age)
    keeps = table.vocabulary.facts[STORES].keeps
    raid = history.last_act("robbing")
    with np.errstate(invalid="ignore"):
        little = use | (kg[0] <= food.raid_counts_kg)
        counts = little & np.isnan(precise_age) & (today - age <= raid) & (age <= keeps)
    facts = [(HEFT if u else f) if c else None for u, f, c in zip(use, look.facts, counts, strict=True)]
    none = np.nan * age
    value, high = (np.where(counts, x, none) for x in (kg[0] * food.raid_leaves_share, kg[2]))
    return _Look(Estimate(value, np.where(counts, 0.0, none), high), np.where(counts, age, none), facts)


def _hefts(table: FactTable, context: EstimateContext, precise_age: np.ndarray) -> tuple[_Look, _Look]:
    """Return the last heft after the precise look at each hive, and the one before it."""
    n = len(table)
    since = inputs.valid_since(context.history, table, HEFT, through=("feeding",))
    size = coded(table, "hive.size", strength.SIZES)
    seen, ages = np.full((2, n), np.nan), np.full((2, n), np.nan)
    noted = list(context.history.noted_at(HEFT))
    for hive in noted:
        today = context.today[hive]
        rows = context.history.entries(hive, HEFT)[-2:]
        rows = [row for row in rows if row[0] >= since[hive] and not today - row[0] >= precise_age[hive]]
        for place, (day, value) in enumerate(reversed(rows)):
            seen[place, hive], ages[place, hive] = value, min(today - day, inputs.LONG_AGO)
    shown = number(table, HEFT)
    bare = np.isnan(seen[0]) & ~np.isnan(shown) & np.isnan(precise_age)
    bare[noted] = False
    seen[0], ages[0] = np.where(bare, shown, seen[0]), np.where(bare, 0.0, ages[0])
    newer, older = (
        _Look(
            strength.stores_from_heft(coded_heft(table, seen[place]), size, p=context.p),
            ages[place],
            [HEFT if a == a else None for a in ages[place].tolist()],
        )
        for place in (0, 1)
    )
    return newer, older


def _carried(table: FactTable, context: EstimateContext, colony: Colony, look: _Look, past) -> Estimate:
    """Carry one look on to today, with the feed given since."""
    p = context.p
    fed = inputs.given_since(context.history, table, FED, look.age, look.facts)
    unknown = p.bees["unknown_bees"]
    guessed = np.isnan(colony.bees.value)
    spread = np.log(unknown.high / unknown.low) / (2 * Z95)
    return carry_forward(
        _less_swarms(look, context, p),
        look.age,
        np.where(guessed, unknown.value, colony.bees.value),
        colony.cells,
        colony.loss,
        past,
        fed_kg=fed,
        room_c=colony.rooms,
        bees_sd=np.where(guessed, spread, colony.bees_sd),
        holds_kg=_holds(table, p),
        p=p,
    )


def _less_swarms(look: _Look, context: EstimateContext, p: Branch) -> Estimate:
    """Return what was seen, less what swarms that left since have carried off."""
    takes = p.food["swarm_takes_kg"]
    left = np.zeros(len(look.age))
    swarmed = context.history.acts("swarming")
    for hive in np.flatnonzero(look.age >= 0).tolist():
        if swarmed[hive]:
            left[hive] = sum(context.today[hive] - look.age[hive] < day for day in swarmed[hive])
    return estimate(
        look.kg.value - left * takes.value, look.kg.low - left * takes.high, look.kg.high - left * takes.low
    )


def _meet(now: Estimate, cut: Estimate) -> tuple[Estimate, np.ndarray]:
    """Return what both ranges allow, and where they meet; the second alone where they do not or the first is unknown.

    The value is the mean of what is left of the first range (normal, as its interval says).
    """
    low, high = np.fmax(now.low, cut.low), np.fmin(now.high, cut.high)
    with np.errstate(invalid="ignore", divide="ignore"):
        met = ~np.isnan(now.value) & ~np.isnan(cut.value) & (low <= high)
        sd = (now.high - now.low) / (2 * Z95)
        below = np.where(cut.low > now.low, (low - now.value) / sd, -np.inf)
        above = np.where(cut.high < now.high, (high - now.value) / sd, np.inf)
        share = ndtr(above) - ndtr(below)
        mean = now.value + sd * (np.exp(-below * below / 2) - np.exp(-above * above / 2)) / (
            math.sqrt(2 * math.pi) * share
        )
    mean = np.where(np.isfinite(mean) & (share > 1e-9), mean, now.value)
    alone = ~met & ~np.isnan(cut.value)
    value = np.where(alone, cut.value, np.where(met, np.clip(mean, low, high), now.value))
    low = np.where(alone, cut.low, np.where(met, low, now.low))
    return estimate(value, low, np.where(alone, cut.high, np.where(met, high, now.high))), met


def _origins(context: EstimateContext, look: _Look) -> list[str | None]:
    found: list[str | None] = []
    for fact, days, today in zip(look.facts, look.age.tolist(), context.today.tolist(), strict=True):
        if fact is None:
            found.append(None)
        elif days > 0:
            found.append(f"carried forward from {dt.date.fromordinal(int(today - days))}")
        else:
            found.append(f"implied by {fact}")
    return found


def _holds(table: FactTable, p: Branch) -> np.ndarray:
    """Kilograms that the boxes of each hive hold when every comb is full."""
    side = inputs.comb_side(table, p)
    frames = number(table, "hive.frames")
    frames = np.where(np.isnan(frames), inputs.brood_boxes(table, p) * p.heat.box_frames, frames)
    combs = strength.stores_from_frames(frames, side.high, p=p).value
    supers = np.nan_to_num(np.minimum(number(table, "hive.supers"), 10), nan=0.0) * p.hive.super_frames
    return combs + strength.stores_from_frames(supers, p.bees.comb_side_medium_dm2, p=p).value


def _as_stores(table: FactTable, fact: str, seen: np.ndarray, bees: Estimate, p: Branch) -> Estimate:
    if fact == "food.stores_kg":
        return Estimate(seen, seen, seen)
    most = table.vocabulary.facts["food.stores_kg"].high
    ceiling = np.inf if most is None else most
    if fact == "food.frames_of_stores":
        side = inputs.comb_side(table, p)
        return estimate(
            strength.stores_from_frames(seen, side.value, p=p).value,
            strength.stores_from_frames(seen, side.low, p=p).low,
            strength.stores_from_frames(seen, side.high, p=p).high,
            ceiling=ceiling,
        )
    size = coded(table, "hive.size", strength.SIZES)
    if fact == "food.heft":
        return strength.stores_from_heft(coded_heft(table, seen), size, p=p)
    own = number(table, "hive.tare_kg")
    usual = strength.tare(
        size, is_word(table, "hive.walls", "polystyrene"), np.minimum(number(table, "hive.supers"), 10), p=p
    )
    value, low, high = (np.where(np.isnan(own), x, own) for x in usual)
    empty = estimate(value, low, high)
    stores = strength.stores_from_weight(seen, empty, strength.bees_mass_kg(bees, p=p), p=p)
    return estimate(stores.value, stores.low, stores.high, ceiling=ceiling)


def coded_heft(table: FactTable, seen: np.ndarray) -> np.ndarray:
    """Return heft codes of the vocabulary as places in ``strength.HEFTS``."""
    words = table.vocabulary.facts["food.heft"].values
    order = np.array([strength.HEFTS.index(word) for word in words], dtype=float)
    known = ~np.isnan(seen)
    return np.where(known, order[np.where(known, seen, 0).astype(int)], np.nan)

"""Facts that the colony models work out: bees, stores, runway, need, damp, shelter; mites stand beside."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from hiveweek.colony import damp, food, heat, points, population, strength, year
from hiveweek.colony.estimate import Z95, Estimate
from hiveweek.colony.feeding import feed_for
from hiveweek.colony.runway import Horizon, runway
from hiveweek.facts import estimate_inputs as inputs
from hiveweek.facts.estimate_bees import BEES, BROOD, add_bees
from hiveweek.facts.estimate_inputs import EstimateContext, fill, is_word, number
from hiveweek.facts.estimate_mites import add_mites
from hiveweek.facts.estimate_stores import STORES, Colony, add_stores
from hiveweek.facts.table import FactTable
from hiveweek.numbers import Branch
from hiveweek.vocabulary.model import Fact, Vocabulary

__all__ = ["EstimateContext", "add_estimates"]

MODELS = frozenset({"food", "shelter", "mites"})  # besides that of strength, on which they rest
# What was seen of these the models move on; of others they work out new facts.
CARRIED_ON = frozenset({BEES, BROOD, STORES})


def models_for(wanted: Iterable[str], words: Vocabulary) -> frozenset[str]:
    """Return the models that work out some facts or carry them on."""
    groups = {"food": "food", "shelter": "shelter", "moisture": "shelter", "mites": "mites"}
    found = {groups[_group(name)] for name in wanted if _group(name) in groups and _worked_out(words.facts[name])}
    return frozenset(found)


def _group(name: str) -> str:
    return name.partition(".")[0]


def _worked_out(fact: Fact) -> bool:
    return fact.comes_from == "computed" or fact.id in CARRIED_ON


def add_estimates(table: FactTable, context: EstimateContext, models: frozenset[str] = MODELS) -> None:
    """Set every fact that a colony model works out.

    Parameters
    ----------
    table : FactTable
        Holds what was seen and what stands on the hive, the season facts, the climate traits and the weather.
    context : EstimateContext
        Dates, place and history.
    models : frozenset of str
        Those to ask; what the others work out stays unknown.

    Notes
    -----
    A cell already known (a fact that a scenario fixes) is never overwritten. What cannot be worked out stays unknown: no
    frames of bees, no days left. Colonies known to be dead get no estimates.
    """
    usual = [year.usual_year(context.daily, calendar, p=context.p) for calendar in context.calendars]
    past, ahead = year.around_each([one.days for one in usual], context.dates, np.diff(context.starts))
    bees, cells = add_bees(table, context, past)
    if "food" in models:
        _food(table, context, bees, cells, usual, past, ahead)
    if "shelter" in models:
        _shelter(table, context, bees, cells, [one.days for one in usual])
    if "mites" in models:
        add_mites(table, context, past, ahead)


# --- food ---------------------------------------------------------------------------------------------------------------
def _food(table: FactTable, context: EstimateContext, bees: Estimate, cells, usual, past, ahead) -> None:
    p = context.p
    loss = inputs.heat_loss(table, p)
    rooms = inputs.room(table, p)
    count = table.column("colony.frames_of_bees")
    with np.errstate(divide="ignore", invalid="ignore"):
        aged = np.where(count.low > 0, np.log(count.high / count.low) / (2 * Z95), 0.0)
    aged = np.nan_to_num(aged, nan=0.0)
    stores = add_stores(table, context, Colony(bees, aged, cells, loss, rooms), past)
    column = table.column("food.stores_kg")
    forage = number(table, "season.weeks_to_forage")
    cold = _cold(table, p)
    out = {name: np.full((3, len(table)), np.nan) for name in ("use", "days", "need")}
    check = np.full(len(table), np.nan)
    # A hive may carry its own season (a fixed fact), so hives are worked on by the days for which food must be there.
    winter, dearth = number(table, "season.weeks_to_winter"), number(table, "season.dearth")
    horizons: list[Horizon | None] = []
    for place, date in enumerate(context.dates):
        here = context.rows(place)
        horizons += year.food_horizon(usual[place], date, forage[here], winter[here], dearth[here], p=p)
    rows = np.flatnonzero([h is not None for h in horizons])
    if len(rows):
        run = runway(
            bees.value[rows],
            cells[rows],
            Estimate(*(x[rows] for x in stores)),
            loss[rows],
            ahead if len(rows) == len(table) else ahead.of(rows),
            Horizon.each([h for h in horizons if h is not None]),
            this_week_c=np.clip(number(table, "weather.mean_c"), -60, 50)[rows],
            room_c=rooms[rows],
            bees_sd=aged[rows],
            p=p,
        )
        for name, result in (("use", run.use_kg_week), ("days", run.days_left), ("need", run.need_kg)):
            out[name][:, rows] = result
        check[rows] = run.use_check_kg
    fill(table, context, "food.use_kg_week", *out["use"])
    fill(table, context, "food.days_left", *out["days"])
    left = table.column("food.days_left")
    fill(
        table,
        context,
        "food.empty_on",
        *(context.today + np.floor(np.minimum(x, 998.0)) for x in (left.value, left.low, left.high)),
    )
    fill(table, context, "food.need_kg", *out["need"])
    need = table.column("food.need_kg")
    gap = need.value - column.value
    below = np.hypot(need.value - need.low, column.high - column.value)
    above = np.hypot(need.high - need.value, column.value - column.low)
    fill(table, context, "food.shortfall_kg", gap, gap - below, gap + above)
    short = table.column("food.shortfall_kg")
    with np.errstate(divide="ignore", invalid="ignore"):
        fill(
            table,
            context,
            "food.missing_share",
            *(
                np.where(need.value > 0, np.minimum(x / need.value, 1.0), np.nan)
                for x in (short.value, short.low, short.high)
            ),
        )
    _feed(table, context, need.value, short.value, check)
    before_winter = np.array([float(h is not None and h.days >= p.food.winter_points_days) for h in horizons])
    fill(
        table,
        context,
        "food.starvation_pts",
        points.starvation(left.value, table.column("food.missing_share").value, cold, before_winter, p=p),
    )
    _use_ratio(table, context, bees, cells, loss, past)


def _feed(table: FactTable, context: EstimateContext, need: np.ndarray, short: np.ndarray, check: np.ndarray) -> None:
    """Candy, sugar and syrup for what is missing."""
    base = np.where(np.isnan(short), np.nan, np.maximum(need, 0.0))
    feed = feed_for(np.clip(base - short, 0.0, 250.0), base, check, p=context.p)
    fill(table, context, "food.candy_kg", feed.candy_kg)
    fill(table, context, "food.sugar_kg", *feed.sugar_kg)
    fill(table, context, "food.litres_thick", feed.litres_thick)
    fill(table, context, "food.litres_that_fit", np.minimum(feed.litres_thick, _room(table, context.p)))
    fill(table, context, "food.litres_thin", feed.litres_thin)


def _room(table: FactTable, p: Branch) -> np.ndarray:
    """The thick syrup for which the combs have room: those that bees reach, less their brood and food; no bound where not known.

    While the season's brood rises or is full, and while it rears the winter bees, the queen keeps her share of the combs,
    however little brood is in them just now.
    Shortly before syrup time ends the brood leaves its combs to the food as it emerges.
    """
    combs = np.fmin(number(table, "hive.frames"), number(table, "colony.frames_of_bees") + p.food.combs_beside_bees)
    laying = (is_word(table, "season.brood", "rising", "full") == 1) | (number(table, "season.winter_bees") == 1)
    brood = np.nan_to_num(number(table, "colony.frames_of_brood"), nan=0.0)
    hers = np.maximum(brood, np.where(laying, p.food.queen_combs_share * combs, 0.0))
    late = number(table, "season.syrup_weeks_left") <= p.food.last_syrup_weeks
    combs = np.maximum(combs - np.where(late, 0.0, hers), 0.0)
    holds = strength.stores_from_frames(combs, inputs.comb_side(table, p).value, p=p).value
    # Stores and brood that were not looked at are guesses, and the hungry are fed whatever stands in the combs.
    guessed = np.isnan(number(table, "colony.frames_of_brood")) | (
        number(table, "food.days_left") <= p.food.hungry_days
    )
    room = np.maximum(holds - number(table, "food.stores_kg"), np.where(guessed | late, p.food.least_fed_kg, 0.0))
    litres = room / p.food["stores_per_sugar"].value / p.food.sugar_per_litre_thick
    return np.where(np.isnan(litres), np.inf, litres)


def _cold(table: FactTable, p: Branch) -> np.ndarray:
    """1 where bees keep to the hive: clustering weather is usual, or this week's highs stay under ``shut_in_c``."""
    usual = np.nan_to_num(number(table, "season.cold"), nan=0.0)
    high = number(table, "weather.mean_high_c")
    return np.where((usual > 0) | (high < p.food.shut_in_c), 1.0, 0.0)


def _use_ratio(table: FactTable, context: EstimateContext, bees: Estimate, cells, loss, past) -> None:
    """Eaten over expected between the last two kilograms (or, without them, the last two weights) still valid."""
    n = len(table)
    for fact in ("food.stores_kg", "food.hive_weight_kg"):
        since = inputs.valid_since(context.history, table, fact, through=("feeding",))
        before, after, days_before, days_after = np.full((4, n), np.nan)
        fed = np.zeros(n)
        for hive in context.history.noted_at(fact):
            today = context.today[hive]
            rows = context.history.entries(hive, fact)[-2:]
            if len(rows) == 2 and rows[0][0] >= since[hive]:
                (first, before[hive]), (last, after[hive]) = rows
                days_before[hive] = min(today - first, inputs.LONG_AGO)
                days_after[hive] = min(today - last, inputs.LONG_AGO)
                fed[hive] = min(
                    250.0, sum(v for day, v in context.history.entries(hive, "food.fed_kg") if first < day <= last)
                )
        if not np.isnan(before).all():
            ratio = food.use_ratio(
                before, after, days_before, days_after, fed, bees.value, cells, loss, past, p=context.p
            )
            fill(table, context, "food.use_ratio", *ratio)


# --- damp and shelter ---------------------------------------------------------------------------------------------------
def _shelter(table: FactTable, context: EstimateContext, bees: Estimate, cells, usual: Sequence[food.Days]) -> None:
    p = context.p
    roof = is_word(table, "hive.insulation", "roof", "roof_and_wrap")
    wrap = is_word(table, "hive.insulation", "wrap", "roof_and_wrap")
    foam = np.nan_to_num(is_word(table, "hive.walls", "polystyrene"), nan=0.0)
    indoor = is_word(table, "hive.wintering", "indoor") == 1
    winter_bees = np.minimum(bees.value, p.bees.winter_bees_most)
    now, then = inputs.heat_loss(table, p), inputs.heat_loss(table, p, insulated=True)
    saving = np.full(len(table), np.nan)
    for one in {id(days): days for days in usual}.values():
        rows = np.array([days is one for days in usual])[context.place]
        saving[rows] = food.winter_saving(winter_bees[rows], now[rows], then[rows], one, p=p)
    saving = np.where(np.isnan(roof), np.nan, np.where(indoor, 0.0, saving))
    fill(
        table, context, "shelter.saving_kg", saving, saving * (1 - 2 * p.food.use_sd), saving * (1 + 2 * p.food.use_sd)
    )
    worth = points.insulation(np.clip(number(table, "climate.coldest_month_c"), -60, 40), roof, wrap, foam, p=p)
    fill(table, context, "shelter.insulation_pts", np.where(indoor, np.where(np.isnan(worth), np.nan, 0.0), worth))
    day = np.array([year.day_of_year(date) for date in context.dates])
    laying = np.array([one.laying[place] for one, place in zip(usual, day, strict=True)])
    _damp(table, context, bees, cells, roof, foam, laying[context.place], day[context.place])


def _damp(table: FactTable, context: EstimateContext, bees: Estimate, cells, roof, foam, laying, day) -> None:
    """Likely or unlikely where every way of filling in an unknown opening and floor agrees; else unknown."""
    p = context.p
    week = number(table, "weather.mean_c")
    outdoor = np.clip(np.where(np.isnan(week), np.asarray(context.daily.tmean, dtype=float)[day], week), -60, 50)
    humid = np.asarray(context.daily.rh_pct, dtype=float)[day]
    humid = np.where(np.isnan(humid), p.damp.winter_rh_default, humid)
    loss = inputs.heat_loss(table, p)
    rooms = inputs.room(table, p)
    outdoor = np.where(np.isnan(rooms), outdoor, np.maximum(rooms, outdoor))
    brood = np.where(np.isnan(cells), population.usual_cells(bees.value, laying, p), cells)
    watts = heat.colony_heat_w(bees.value, brood, outdoor, loss, p=p)
    eaten = food.daily_use(bees.value, brood, outdoor, loss, p=p)
    vent = inputs.opening(table)
    mesh = is_word(table, "hive.floor", "mesh")
    results = []
    for way in (0.0, 1.0):
        for floor in (0.0, 1.0):
            margin = damp.lid_margin_c(
                watts,
                eaten,
                loss,
                outdoor,
                humid,
                roof,
                foam,
                np.where(np.isnan(vent), way, vent),
                np.where(np.isnan(mesh), floor, mesh),
                p=p,
            )
            results.append(
                np.where(np.isnan(margin), np.nan, np.where((margin < 0) & (outdoor < p.damp.wet_below_c), 1.0, 0.0))
            )
    agreed = np.where(np.ptp(np.array(results), axis=0) == 0, results[0], np.nan)
    words = table.vocabulary.facts["moisture.condensation"].values
    fill(
        table,
        context,
        "moisture.condensation",
        np.where(np.isnan(agreed), np.nan, np.where(agreed == 1, words.index("likely"), words.index("unlikely"))),
    )

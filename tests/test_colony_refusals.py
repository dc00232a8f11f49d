"""Every number that enters a colony model has a range: its ends pass, what lies beyond is refused by name."""

import math
import re

import numpy as np
import pytest

from hiveweek.colony import damp, feeding, food, heat, mites, points, population, runway, stores, strength
from hiveweek.colony.edge import BadNumber, numbers
from hiveweek.colony.estimate import Estimate, estimate
from hiveweek.colony.runway import Horizon

YEAR = food.Days(*(np.zeros(400) for _ in range(6)))
HALF = np.full(400, 0.5)


def flat(x):
    return Estimate(*(np.atleast_1d(np.asarray(x, dtype=float)) for _ in range(3)))


def at(function, **given):
    """A call that takes one of its numbers anew."""

    def call(**new):
        return function(**{**given, **new})

    return call


def of_food(name):
    def call(kg=9.0, loss=2.0, bees=9_000.0, cells=0.0, days=10.0, fed=0.0, room=5.0, week=0.0, sd=0.1, forage=10):
        one = [np.atleast_1d(np.asarray(x, dtype=float)) for x in (bees, cells)]
        if name == "runway":
            return runway.runway(*one, flat(kg), loss, YEAR, Horizon(forage), this_week_c=week, room_c=room, bees_sd=sd)
        return stores.carry_forward(flat(kg), np.atleast_1d(days), *one, loss, YEAR, fed_kg=fed, room_c=room)

    return call


daily = at(food.daily_use, bees=9_000, brood_cells=0, outdoor_c=0, w_per_k=2.0)
warmth = at(heat.colony_heat_w, bees=9_000, brood_cells=0, outdoor_c=0, w_per_k=2.0)
hive = at(heat.hive_w_per_k, boxes=1, foam=0, roof_board=0, wrap=0, mesh=0, vent=0)
lid = at(
    damp.lid_margin_c,
    heat_w=6,
    honey_kg_day=0.05,
    w_per_k=2,
    outdoor_c=0,
    outdoor_rh=80,
    roof_board=0,
    foam=0,
    vent=0,
    mesh=0,
)
ratio = at(
    food.use_ratio,
    before_kg=9,
    after_kg=8,
    days_ago_before=[30],
    days_ago_after=[10],
    fed_kg=0,
    bees=9_000,
    cells=0,
    w_per_k=2,
    past=YEAR,
)
carry = at(population.carry_forward, bees=[9_000], cells=[0], days=[3], shares=HALF, dying=HALF / 50)
ahead = at(population.later_bees, bees=[9_000], cells=[0], days=[3], shares=HALF, dying=HALF / 50)
starving = at(points.starvation, days_left=9, missing_share=0.2, cold=1, before_winter=1)
insulating = at(points.insulation, coldest_month_c=0, has_roof=0, has_wrap=0, foam=0)
saving = at(food.winter_saving, bees=9_000, loss_now=2, loss_then=1, year=YEAR)
fed = at(feeding.feed_for, stores_kg=5, need_kg=9, use_check_kg=2)
counted = at(mites.rate, mites=3, bees=300, method=0)
over = at(mites.chance_over, mites=3, bees=300, limit=3, method=0)
gone = at(mites.efficacy, before=flat(5), after=flat(1), days_between=20, brood_share=0.5)

# what is called, the number, its range, what it is called, its unit, whether unknown may pass
RANGES = [
    (daily, "bees", 0, 200_000, "bees", "bees", True),
    (daily, "brood_cells", 0, 200_000, "brood cells", "cells", True),
    (daily, "outdoor_c", -60, 50, "outdoor temperature", "degC", True),
    (daily, "w_per_k", 0.05, 20, "heat loss of the hive", "W/K", True),
    (warmth, "bees", 0, 200_000, "bees", "bees", True),
    (warmth, "brood_cells", 0, 200_000, "brood cells", "cells", True),
    (warmth, "outdoor_c", -60, 50, "outdoor temperature", "degC", True),
    (warmth, "w_per_k", 0.05, 20, "heat loss of the hive", "W/K", True),
    (hive, "boxes", 0.3, 6, "boxes", "", True),
    *((hive, key, 0, 1, name, "", True) for key, name in (("foam", "polystyrene"), ("roof_board", "roof board"))),
    *((hive, key, 0, 1, name, "", True) for key, name in (("wrap", "wrap"), ("mesh", "mesh floor"), ("vent", "vent"))),
    (at(damp.vapour_g_m3, c=5), "rh_pct", 0, 100, "relative humidity", "percent", True),
    (at(damp.water_g_day), "honey_kg_day", 0, 50, "honey used", "kg/day", True),
    (lid, "outdoor_c", -60, 50, "outdoor temperature", "degC", True),
    (lid, "vent", 0, 2, "upper opening", "", True),
    (lid, "roof_board", 0, 1, "roof board", "", True),
    (lid, "foam", 0, 1, "polystyrene", "", True),
    (lid, "mesh", 0, 1, "mesh floor", "", True),
    (of_food("runway"), "bees", 0, 200_000, "bees", "bees", True),
    (of_food("runway"), "cells", 0, 200_000, "brood cells", "cells", True),
    (of_food("runway"), "loss", 0.05, 20, "heat loss of the hive", "W/K", True),
    (of_food("runway"), "week", -60, 50, "mean of the week", "degC", True),
    (of_food("runway"), "room", -30, 50, "room", "degC", True),
    (of_food("runway"), "sd", 0, 5, "spread of the bees", "", False),
    (of_food("runway"), "kg", 0, 250, "stores", "kg", True),
    (of_food("runway"), "forage", 0, 366, "days to forage", "days", False),
    (of_food("carry"), "kg", 0, 250, "stores", "kg", True),
    (of_food("carry"), "days", 0, 4000, "days since stores were seen", "days", True),
    (of_food("carry"), "bees", 0, 200_000, "bees", "bees", True),
    (of_food("carry"), "cells", 0, 200_000, "brood cells", "cells", True),
    (of_food("carry"), "loss", 0.05, 20, "heat loss of the hive", "W/K", True),
    (of_food("carry"), "room", -30, 50, "room", "degC", True),
    (of_food("carry"), "fed", 0, 250, "sugar given", "kg", True),
    (fed, "stores_kg", 0, 250, "stores", "kg", True),
    (fed, "need_kg", 0, 250, "need", "kg", True),
    (fed, "use_check_kg", 0, 250, "use to the next check", "kg", True),
    (ratio, "before_kg", 0, 250, "earlier stores", "kg", True),
    (ratio, "after_kg", 0, 250, "later stores", "kg", True),
    (ratio, "days_ago_before", 0, 4000, "days since the earlier sighting", "", True),
    (ratio, "days_ago_after", 0, 4000, "days since the later sighting", "", True),
    (ratio, "fed_kg", 0, 250, "sugar given", "kg", True),
    (ratio, "bees", 0, 200_000, "bees", "", True),
    (ratio, "cells", 0, 200_000, "brood cells", "", True),
    (ratio, "w_per_k", 0.05, 20, "heat loss of the hive", "W/K", True),
    (saving, "bees", 0, 200_000, "bees", "bees", True),
    (saving, "loss_now", 0.05, 20, "heat loss of the hive", "W/K", True),
    (saving, "loss_then", 0.05, 20, "heat loss of the insulated hive", "W/K", True),
    (at(population.brood_share), "state", 0, 4, "brood state", "", True),
    (at(population.death_rate), "worn", 0, 1, "wear", "", True),
    (carry, "bees", 0, 200_000, "bees", "bees", True),
    (carry, "cells", 0, 200_000, "brood cells", "cells", True),
    (carry, "days", 0, 366, "days since the count", "days", True),
    (carry, "shares", 0, 2, "share of laying", "", False),
    (carry, "dying", 0, 1, "death rate", "", False),
    (ahead, "bees", 0, 200_000, "bees", "bees", True),
    (ahead, "cells", 0, 200_000, "brood cells", "cells", True),
    (ahead, "days", 0, 400, "days ahead", "days", True),
    (starving, "days_left", 0, 999, "days left", "days", True),
    (starving, "missing_share", -1000, 1, "missing share", "", True),
    (starving, "cold", 0, 1, "cold season", "", False),
    (starving, "before_winter", 0, 1, "before winter", "", False),
    (insulating, "coldest_month_c", -60, 40, "coldest month", "degC", True),
    (insulating, "has_roof", 0, 1, "insulated roof", "", True),
    (insulating, "has_wrap", 0, 1, "wrap", "", True),
    (insulating, "foam", 0, 1, "polystyrene", "", True),
    (counted, "mites", 0, 300, "mites in the sample", "", True),
    (at(mites.rate, mites=0), "bees", 1, 5000, "bees in the sample", "bees", True),
    (at(mites.rate, bees=5000), "mites", 0, 5000, "mites in the sample", "", True),
    (counted, "method", 0, 2, "method", "", True),
    (over, "limit", 1e-6, 100, "limit", "mites/100 bees", True),
    (at(mites.more_bees, mites=3, bees=300), "limit", 1e-6, 100, "limit", "mites/100 bees", True),
    (at(mites.chance_over_range, level=flat(3)), "limit", 1e-6, 400, "limit", "mites/100 bees", True),
    (at(mites.grow, level=flat(1)), "brood_days", 0, 400, "days with brood", "days", True),
    (at(mites.grow, level=flat(1), brood_days=0), "broodless_days", 0, 400, "days without brood", "days", True),
    (gone, "days_between", 0, 400, "days between the counts", "days", True),
    (gone, "brood_share", 0, 1, "part of days with brood", "", True),
    (at(strength.bees, comb_dm2=8.8), "frames", 0, 100, "frames of bees", "frames", True),
    (at(strength.bees, frames=1), "comb_dm2", 1, 30, "comb side", "dm2", True),
    (at(strength.brood_cells, comb_dm2=8.8), "frames", 0, 60, "frames of brood", "frames", True),
    (at(strength.brood_cells, frames=1), "comb_dm2", 1, 30, "comb side", "dm2", True),
    (at(strength.stores_from_frames, comb_dm2=8.8), "frames", 0, 100, "frames of stores", "frames", True),
    (at(strength.stores_from_frames, frames=1), "comb_dm2", 1, 30, "comb side", "dm2", True),
    (at(strength.tare, foam=0, supers=0), "size", 0, 4, "hive size", "", True),
    (at(strength.tare, size=1, supers=0), "foam", 0, 1, "polystyrene walls", "", True),
    (at(strength.tare, size=1, foam=0), "supers", 0, 10, "supers", "", True),
    (
        at(strength.stores_from_weight, tare_kg=flat(15), bees_kg=flat(2)),
        "weight_kg",
        1,
        250,
        "hive weight",
        "kg",
        True,
    ),
    (at(strength.stores_from_heft, size=1), "heft", 0, 2, "heft", "", True),
    (at(strength.stores_from_heft, heft=1), "size", 0, 4, "hive size", "", True),
    (at(points.treating, over=lambda limit: np.array([0.5])), "season", 0, 2, "season", "", True),
    (at(mites.drop_per_day, days=3), "mites", 0, 100_000, "mites on the tray", "mites", True),
    (at(mites.drop_per_day, mites=9), "days", 0.2, 30, "days the tray lay", "days", True),
    (at(mites.colony_mites_from_drop, brood_state=1), "drop_per_day", 0, 5000, "mites a day", "mites/day", True),
    (at(mites.colony_mites_from_drop, drop_per_day=1), "brood_state", 0, 2, "brood state", "", True),
    (at(mites.rate_from_drop, drop_per_day=1, bees=9), "brood_state", 0, 2, "brood state", "", True),
    (at(mites.rate_from_drop, drop_per_day=1, brood_state=1), "bees", 0, 200_000, "bees", "bees", True),
]


def beyond(low, high):
    step = max(abs(high), abs(low)) * 1e-3
    return [low - step if low >= 1e-2 or low <= 0 else low / 2, high + min(step, 0.4)]


@pytest.mark.parametrize("row", RANGES, ids=[f"{i}-{row[1]}" for i, row in enumerate(RANGES)])
def test_ends_pass_and_what_lies_beyond_is_refused_by_name(row):
    call, key, low, high, name, unit, unknown_ok = row
    wrap = (lambda x: np.full(400, x)) if key in ("shares", "dying") else (lambda x: [x])
    if key == "forage":
        wrap = float
    for end in (low, high):
        call(**{key: wrap(end if key != "forage" else int(end))})
    for value in beyond(low, high):
        if name in ("mites in the sample",) and value > 300:
            continue  # more mites than bees: another refusal
        said = f"{name}: {value:g} is outside {low:g} to {high:g}"
        if unit:
            said += f" {unit}"
        elif name == "mites in the sample":
            said = f"{name}: {value:g} is outside 0 to 5000 mites"
        with pytest.raises(BadNumber, match="^" + re.escape(said) + r" \(row \d+\)$"):
            call(**{key: wrap(value)})
    if unknown_ok:
        call(**{key: wrap(math.nan)})
    else:
        with pytest.raises(BadNumber, match=re.escape(f"{name}: must be known")):
            call(**{key: wrap(math.nan)})


def test_the_row_and_the_kind_of_what_is_refused_are_said():
    with pytest.raises(BadNumber) as said:
        numbers("weight", [[1, 2], [3, 99]], 0, 10, "kg")
    assert str(said.value) == "weight: 99 is outside 0 to 10 kg (row 3)"
    with pytest.raises(BadNumber) as said:
        numbers("weight", [5, math.nan], 0, 10, unknown_ok=False)
    assert str(said.value) == "weight: must be known (row 1)"
    with pytest.raises(BadNumber) as said:
        numbers("weight", [1, math.inf], 0, 10)
    assert str(said.value) == "weight: inf is outside 0 to 10 (row 1)"
    with pytest.raises(BadNumber) as said:
        numbers("weight", "heavy", 0, 10)
    assert str(said.value) == "weight: needs numbers, not 'heavy'"
    assert numbers("weight", [0, 10, math.nan], 0, 10).tolist()[:2] == [0, 10]


def test_more_mites_than_bees_are_refused_with_their_row():
    with pytest.raises(BadNumber) as said:
        mites.rate([1, 12], [[10, 10]])
    assert str(said.value) == "mites in the sample: 12 mites on 10 bees is more than one a bee (row 1)"


@pytest.mark.parametrize("confidence", [0, 1, -0.5, 1.5])
def test_confidence_lies_between_nothing_and_certainty(confidence):
    with pytest.raises(BadNumber, match=f"confidence: {confidence} is outside 0 to 1"):
        mites.exact_interval([1], [10], confidence)


def test_an_estimate_keeps_its_order_and_its_bounds():
    got = estimate([1, 5, 9, math.nan, 4, 4], [2, 3, -4, 1, math.nan, 1], [0, 7, 20, 3, 9, math.nan], 0, 10)
    assert got.value.tolist()[:3] == [1, 5, 9]
    assert got.low.tolist()[:3] == [1, 3, 0] and got.high.tolist()[:3] == [1, 7, 10]
    assert all(np.isnan(part[3:]).all() for part in got)
    clipped = estimate([-3, 30], [-5, 20], [-1, 40], 0, 10)
    assert clipped.value.tolist() == [0, 10] and clipped.low.tolist() == [0, 10] and clipped.high.tolist() == [0, 10]
    assert estimate(-3, -4, -2).value == 0 and estimate(3, 2, 1e9).high == 1e9

"""The colony models against a second, plain implementation, one hive at a time."""

import math

import numpy as np
import pytest
import reference_colony as plain
from colony_kit import assert_same, parts
from hypothesis import given, settings
from hypothesis import strategies as st

from hiveweek.colony import feeding, food, heat, population, runway, stores
from hiveweek.colony.estimate import Estimate
from hiveweek.colony.runway import Horizon

NAN = math.nan
BEES, LOSS, OUTDOOR = st.floats(800, 60_000), st.floats(0.4, 5), st.floats(-40, 35)
CELLS = st.one_of(st.just(NAN), st.floats(0, 40_000))
SHARE = st.floats(0, 1)


def arrays(*numbers):
    return [np.array([float(x)]) for x in numbers]


def days_of(rows):
    """Days of (outdoor, laying, income, flow, dying) rows, none of them in a dearth."""
    columns = [np.array(column, dtype=float) for column in zip(*rows, strict=True)]
    return food.Days(*columns, np.zeros(len(rows)))


def year(low, high, income=0.0, flow=0.0, turn=0, days=400):
    """A plain year: a cosine of warmth, laying and deaths following it, income and flow in its warm half."""
    rows = []
    for day in range(days):
        warm = (1 - math.cos(2 * math.pi * (day + turn) / 365)) / 2
        on = warm > 0.6
        rows.append((low + (high - low) * warm, warm, income * on, float(flow * (warm > 0.9)), 0.004 + 0.03 * warm))
    return rows


@given(st.floats(0.3, 6), *[SHARE] * 4, SHARE, st.floats(0.5, 1.2), st.floats(0.5, 1.2))
def test_conductance_of_a_hive(boxes, foam, board, wrap, mesh, vent, height, area):
    mine = heat.hive_w_per_k(boxes, foam, board, wrap, mesh, vent, height, area)
    assert_same(float(mine), plain.hive_w_per_k(boxes, foam, board, wrap, mesh, vent, height, area))


@given(BEES, st.floats(0, 40_000), OUTDOOR, LOSS)
def test_heat_is_what_the_hive_loses(bees, cells, outdoor, loss):
    # The closed form against halving the interval on the balance itself.
    assert_same(
        float(heat.colony_heat_w(bees, cells, outdoor, loss)), plain.colony_heat(bees, cells, outdoor, loss), 1e-7
    )


@given(BEES, st.floats(0, 40_000), st.floats(-40, 45), LOSS)
def test_daily_use(bees, cells, outdoor, loss):
    assert_same(float(food.daily_use(bees, cells, outdoor, loss)), plain.daily_use(bees, cells, outdoor, loss), 1e-7)


@given(BEES, CELLS, st.floats(0, 120), SHARE, SHARE, st.sampled_from([0, 1, 14, 200]))
def test_carried_bees_and_brood(bees, cells, days, first, last, idle):
    shares = np.linspace(first, last, 366)
    dying = np.linspace(0.01, 0.03, 366)
    mine = population.carry_forward(*arrays(bees, cells, days), shares, dying, idle=float(idle))
    for one, two in zip(mine, plain.carried_bees(bees, cells, days, shares, dying, idle), strict=True):
        assert_same(parts(one), two)


def test_carried_bees_at_the_longest_gap_and_at_none():
    shares, dying = np.linspace(0, 1, 366), np.linspace(0.01, 0.03, 366)
    for days in (366, 0):
        for one, two in zip(
            population.carry_forward(*arrays(9_000, NAN, days), shares, dying),
            plain.carried_bees(9_000, NAN, days, shares, dying),
            strict=True,
        ):
            assert_same(parts(one), two)
    with pytest.raises(ValueError, match="365 days, 366 are needed"):
        population.carry_forward(*arrays(9_000, NAN, 366), shares[1:], dying[1:])


def test_brood_counted_is_surer_than_brood_carried():
    # 2 % more doubt a day for brood than for bees, since the queen may have changed her pace.
    bees, cells = population.carry_forward(*arrays(10_000, 8_000, 10), np.full(366, 0.5), np.full(366, 0.02))
    width = [parts(x)[2] / parts(x)[0] - 1 for x in (bees, cells)]
    assert width[1] - width[0] == pytest.approx(0.2)


def test_brood_ages_and_emerges_in_three_weeks():
    # No laying, no deaths: each day a twenty-first of the cells emerges, so after d days (20/21)^d of them are left and
    # every cell gone is a bee.
    for days in (1, 5, 21):
        bees, cells = population.carry_forward(*arrays(5_000, 4_200, days), np.zeros(366), np.zeros(366))
        left = 4_200 * (20 / 21) ** days
        assert parts(cells)[0] == pytest.approx(left)
        assert parts(bees)[0] == pytest.approx(5_000 + 4_200 - left)


@given(BEES, CELLS, st.integers(0, 60), SHARE)
def test_bees_some_days_ahead(bees, cells, days, share):
    shares, dying = np.linspace(share, 1 - share, 401), np.linspace(0.03, 0.01, 401)
    assert_same(
        float(population.later_bees(*arrays(bees, cells, days), shares, dying)[0]),
        plain.later_bees(bees, cells, days, shares, dying),
    )


def test_bees_ahead_of_several_hives_each_for_its_own_days():
    shares, dying = np.linspace(0.2, 1, 401), np.linspace(0.03, 0.01, 401)
    days = np.array([3.0, NAN, 0.0, 9.4])
    mine = population.later_bees(np.full(4, 9_000.0), np.full(4, 2_000.0), days, shares, dying)
    assert_same(
        mine.tolist(),
        [plain.later_bees(9_000, 2_000, d, shares, dying) if d == d else NAN for d in days],
    )


def assert_held(got, expected):
    for share, day in expected.days.items():
        assert_same(float(got.days[share][0]), day, 1e-6)
    assert_same(parts(got.days_left), expected.days_left, 1e-6)
    assert_same(parts(got.use_kg_week), expected.week, 1e-6)
    assert_same(float(got.use_check_kg[0]), expected.check, 1e-6)
    assert_same(parts(got.need_kg), expected.need, 1e-6)


CASES = [
    # bees, cells, kg, low, high, loss, forage, week, room, aged, year
    (12_000, 500, 9, 9, 9, 2.0, 60, NAN, NAN, 0.0, (-5, 20)),
    (12_000, NAN, 9, 7, 12, 2.0, 60, -12, NAN, 0.0, (-5, 20)),
    (9_000, NAN, 4, 1, 8, 1.2, 0, 18, NAN, 0.2, (5, 25)),
    (15_000, 9_000, 2.5, 0, 4, 2.4, 10, NAN, NAN, 0.4, (10, 22)),
    (15_000, 0, 20, 15, 28, 2.4, 150, -25, 4, 0.1, (-25, 18)),
    (15_000, 0, 60, 50, 70, 1.0, 28, NAN, 10, 0.0, (0, 15)),
    (15_000, 0, 30, 25, 40, 1.0, 29, NAN, NAN, 0.0, (0, 15)),
    (6_000, 100, 0, 0, 0, 2.0, 27, NAN, NAN, 0.0, (0, 15)),
    (6_000, 100, NAN, NAN, NAN, 2.0, 3, NAN, NAN, 0.3, (0, 15)),
    (6_000, 100, 0.05, 0.0, 9, 2.0, 1, NAN, NAN, 0.0, (0, 15)),
]


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("income", [0.0, 0.6])
def test_runway_day_by_day(case, income):
    bees, cells, kg, low, high, loss, forage, week, room, aged, span = case
    rows = year(*span, income=income, turn=150 if forage < 30 else 0)
    got = runway.runway(
        *arrays(bees, cells),
        Estimate(*arrays(kg, low, high)),
        np.array([loss]),
        days_of(rows),
        Horizon(forage),
        this_week_c=np.array([week]),
        room_c=np.array([room]),
        bees_sd=aged,
    )
    assert_held(
        got,
        plain.runway(
            bees, cells, kg, low, high, loss, [(r[0], r[1], r[2], r[4]) for r in rows], forage, week, room, aged
        ),
    )


def test_hives_of_a_large_yard_are_projected_alike(monkeypatch):
    monkeypatch.setattr(runway, "CHUNK", 3)
    rows = year(-5, 20)
    bees = np.linspace(4_000, 20_000, 7)
    kg = np.linspace(2, 20, 7)
    whole = runway.runway(bees, np.full(7, NAN), Estimate(kg, kg, kg), np.full(7, 2.0), days_of(rows), Horizon(40))
    for i in range(7):
        alone = runway.runway(
            *arrays(bees[i], NAN), Estimate(*arrays(*[kg[i]] * 3)), np.array([2.0]), days_of(rows), Horizon(40)
        )
        assert whole.days_left.value[i] == alone.days_left.value[0]
        assert whole.need_kg.high[i] == alone.need_kg.high[0]
        assert whole.use_check_kg[i] == alone.use_check_kg[0]


def test_runway_needs_a_year_ahead_and_takes_an_empty_yard():
    with pytest.raises(ValueError, match="364 days ahead are too few, 365 are needed"):
        runway.runway(*arrays(9_000, 0), Estimate(*arrays(3, 3, 3)), 2.0, days_of(year(0, 20, days=364)), Horizon())
    runway.runway(*arrays(9_000, 0), Estimate(*arrays(3, 3, 3)), 2.0, days_of(year(0, 20, days=365)), Horizon())
    nobody = runway.runway([], [], Estimate([], [], []), [], days_of(year(0, 20)), Horizon(5))
    assert nobody.days_left.value.shape == nobody.need_kg.low.shape == (0,)


@given(
    st.floats(1, 40),
    st.floats(0, 10),
    st.floats(0, 10),
    st.integers(0, 90),
    BEES,
    CELLS,
    LOSS,
    st.floats(0, 12),
    st.one_of(st.just(NAN), st.floats(-5, 12)),
    st.sampled_from([(-10, 8, 0.0, 0.0), (0, 20, 0.6, 0.0), (0, 20, 0.4, 1.0)]),
    st.sampled_from([(math.inf, 0.0), (30.0, 0.2), (90.0, 0.0)]),
)
@settings(max_examples=80, deadline=None)
def test_carried_stores(kg, less, more, days, bees, cells, loss, fed, room, place, box):
    low, high = max(kg - less, 0.0), kg + more
    cold, warm, income, flow = place
    rows = year(cold, warm, income=income, flow=flow, turn=80, days=200)
    mine = stores.carry_forward(
        Estimate(*arrays(kg, low, high)),
        *arrays(days, bees, cells),
        loss,
        days_of(rows),
        fed_kg=np.array([fed]),
        room_c=np.array([room]),
        holds_kg=box[0],
        bees_sd=box[1],
    )
    theirs = plain.carried_stores(kg, low, high, days, bees, cells, loss, [r[:4] for r in rows], fed, room, *box)
    if days:
        assert_same(parts(mine), theirs, 1e-6)


def test_the_low_end_of_carried_stores_counts_what_may_not_have_been_found_and_the_poorest_sugar():
    # Ten days, with half the use found outside, 4 kg of sugar fed: were nothing found, and did sugar give only 0.93 kg a kg,
    # the stores would be lower by the find and by 4 x (1.2 - 0.93) kg; the noise of use and of sight comes on top.
    rows = [(5.0, 0.0, 0.5, 0.0, 0.0)] * 60
    seen = Estimate(*arrays(10, 10, 10))
    kg, low, _ = parts(stores.carry_forward(seen, *arrays(10, 9_000, 0), 2.0, days_of(rows), fed_kg=np.array([4.0])))
    used = 10 * plain.daily_use(9_000, 0, 5.0, 2.0)
    noise = plain.Z95 * math.hypot(plain.number("stores_estimate_sd") * 10, plain.number("use_sd") * used)
    rate, poorest, _ = plain.band("stores_per_sugar")
    assert kg == pytest.approx(10 - used / 2 + 4 * rate)
    assert kg - low == pytest.approx(noise + used / 2 + 4 * (rate - poorest))


def test_stores_are_carried_until_they_say_no_more_than_no_look_would():
    winter = days_of([(0.0, 0.0, 0.0, 0.0, 0.0)] * 366)
    seen = Estimate(np.full(5, 12.0), np.full(5, 10.0), np.full(5, 15.0))
    bees = np.array([NAN, 9_000, 9_000, 9_000, NAN])
    got = stores.carry_forward(seen, np.array([0.0, 366, 367, NAN, 3]), bees, np.zeros(5), 2.0, winter, holds_kg=25)
    assert [np.isnan(x) for x in got.value] == [False, False, True, True, True]
    assert (got.value[0], got.low[0], got.high[0]) == (12, 10, 15)
    # In a flow of a kilogram a day for 20,000 bees the combs may be empty or filled after some weeks; the box says when.
    flow = days_of([(18.0, 1.0, 1.0, 1.0, 0.02)] * 366)
    one = Estimate(*arrays(4, 4, 4))
    first = []
    for holds in (15.0, 30.0, 60.0):
        gone = [
            days
            for days in range(1, 90)
            if np.isnan(stores.carry_forward(one, *arrays(days, 20_000, 0), 2.0, flow, holds_kg=holds).value[0])
        ]
        assert gone == list(range(gone[0], 90)), "once nothing is known it stays so"
        first.append(gone[0])
    assert 20 < first[0] <= first[1] < first[2] < 45


@given(st.floats(2, 30), st.floats(0, 30), st.integers(8, 100), st.integers(1, 60), st.floats(0, 5), BEES, CELLS, LOSS)
@settings(max_examples=60, deadline=None)
def test_ratio_of_eaten_to_expected(before, after, first, last, fed, bees, cells, loss):
    rows = year(-12, 9, turn=60, days=120)
    mine = food.use_ratio(before, after, *arrays(first, last), fed, *arrays(bees, cells), loss, days_of(rows))
    theirs = plain.use_ratio(before, after, first, last, fed, bees, cells, loss, [r[:4] for r in rows])
    assert_same(parts(mine), theirs, 1e-6)


def test_ratio_is_told_only_where_a_week_passed_without_income():
    quiet = [(0.0, 0.0, 0.0, 0.0, 0.0)] * 60

    def known(first=30, last=10, days=quiet, bees=30_000, kg=(9.0, 8.0)):
        got = food.use_ratio(*kg, *arrays(first, last), 0.0, *arrays(bees, 0), 2.0, days_of(days))
        return not np.isnan(got.value[0])

    assert known() and known(first=17, last=10) and not known(first=16, last=10)
    assert known(first=60) and not known(first=61)
    for day, ok in ((29, True), (30, False), (49, False), (50, True)):  # places 30 to 49 are the days 30 to 11 ago
        for column in (2, 3):
            rows = [list(row) for row in quiet]
            rows[day][column] = 0.5
            assert known(days=rows) == ok
    week = 7 * plain.daily_use(100, 0, 0.0, 2.0)
    assert week < 0.3 and not known(first=17, last=10, bees=100)
    assert float(food.use_ratio(5.0, 6.0, *arrays(30, 10), 0.0, *arrays(9_000, 0), 2.0, days_of(quiet)).value[0]) == 0


@given(BEES, st.floats(0.5, 4), st.floats(0, 2))
@settings(max_examples=10, deadline=None)
def test_honey_that_a_better_hive_saves(bees, then, worse):
    rows = year(-12, 18, days=365)
    mine = food.winter_saving(bees, then + worse, then, days_of(rows))
    assert_same(float(mine), plain.winter_saving(bees, then + worse, then, [r[:2] for r in rows]), 1e-5)


def test_no_honey_is_saved_in_the_warm_nor_by_a_worse_hive():
    for outdoor, saves in ((11.9, True), (12.0, False), (12.1, False)):
        rows = days_of([(outdoor, 1.0, 0.0, 0.0, 0.0)] * 365)
        assert (food.winter_saving(9_000, 3.0, 1.0, rows) > 0.01) == saves
    cold = days_of([(-10.0, 0.0, 0.0, 0.0, 0.0)] * 365)
    assert food.winter_saving(9_000, 1.0, 3.0, cold) == 0.0


@given(st.floats(0, 60), st.one_of(st.just(0.0), st.floats(0.1, 60)), st.floats(0, 20))
def test_feed(stores, need, check):
    mine = feeding.feed_for(*arrays(stores, need, check))
    candy, sugar, thick, thin, share = plain.feed(stores, need, check)
    assert_same(float(mine.candy_kg[0]), candy)
    assert_same(parts(mine.sugar_kg), sugar)
    assert_same([float(x[0]) for x in (mine.litres_thick, mine.litres_thin, mine.missing_share)], [thick, thin, share])


def test_feed_of_what_is_not_known_is_not_known():
    for there, need, check in ((NAN, 9, 2), (4, NAN, 2), (4, 9, NAN)):
        mine = feeding.feed_for(*arrays(there, need, check))
        assert np.isnan(mine.candy_kg[0])
    mine = feeding.feed_for(*arrays(4, 9, NAN))
    assert mine.sugar_kg.value[0] > 0 and mine.missing_share[0] == pytest.approx(5 / 9)
    assert np.isnan(feeding.feed_for(*arrays(NAN, 0, 2)).missing_share[0])

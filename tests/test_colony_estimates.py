"""The facts that the colony models set, from a keeper's observations to the numbers that rules read."""

import datetime as dt

import numpy as np
import pytest
from colony_kit import HIVE, WORDS, day, limits, table_of
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hiveweek import climate


def one(profile, date, noted=(), **facts):
    return table_of(profile, day(date), {**HIVE, **facts_of(facts)}, noted=noted)


def facts_of(short):
    names = {"bees": "colony.frames_of_bees", "brood": "colony.frames_of_brood", "kg": "food.stores_kg"}
    return {names.get(key, key.replace("__", ".")): value for key, value in short.items()}


def origin(table, fact, row=0):
    column = table.column(fact)
    return column.origin[row] if column.origin else None


# --- published situations -----------------------------------------------------------------------------------------------
def test_one_kilo_in_march_under_snow():
    table = one("long_snow_cover", "2026-03-10", bees=5, kg=1)
    assert 4 < table.plain(0, "food.days_left") < 14
    assert table.plain(0, "food.shortfall_kg") > 0
    assert table.plain(0, "food.candy_kg") >= 1
    assert table.plain(0, "food.empty_on") == day("2026-03-10") + dt.timedelta(
        days=int(table.plain(0, "food.days_left"))
    )
    assert table.plain(0, "food.starvation_pts") > 30


def test_thirteen_kilos_in_late_february_are_enough_for_five_frames():
    # A published late-winter case: the honey is out of reach, not short.
    table = one("snowy_continental", "2026-02-25", bees=5, kg=13)
    assert table.plain(0, "food.shortfall_kg") < 0 and table.plain(0, "food.days_left") > 60


def test_heavy_wrapped_hive_in_midwinter():
    table = one("dry_cold_prairie", "2026-01-15", bees=9, kg=29, weather__mean_c=-15.0, hive__insulation="wrap")
    assert table.plain(0, "food.shortfall_kg") < 0 and table.plain(0, "food.days_left") > 120


def test_georgia_autumn_on_four_kilos():
    # At least 13.6 kg by the end of October (Georgia Piedmont).
    table = one("humid_subtropical", "2026-10-18", bees=8, brood=3, kg=4)
    assert table.plain(0, "food.missing_share") > 1 / 3
    assert table.plain(0, "food.sugar_kg") > 5


def test_full_colony_in_june_rain():
    table = one("cool_maritime", "2026-06-10", bees=16, brood=9, kg=1, weather__mean_c=11.0)
    assert table.plain(0, "food.days_left") < 7
    assert table.plain(0, "food.use_kg_week") == pytest.approx(2.5, rel=0.25)


@pytest.mark.parametrize(
    ("profile", "date", "frames", "kg"),
    [
        ("mild_maritime", "2026-10-14", 8, 20),
        ("windy_islands", "2026-10-01", 8, 24),
        ("mild_maritime", "2026-10-04", 8, 22),
    ],
)
def test_twenty_kilos_do_for_a_maritime_winter(profile, date, frames, kg):
    # UK average 20 kg in the brood box.
    table = one(profile, date, bees=frames, kg=kg)
    assert table.plain(0, "food.missing_share") < 0.10


def test_a_colony_with_eighteen_kilos_at_the_start_of_autumn_is_not_far_short():
    # Switzerland 15 to 20 kg, Germany rather more than 20 in mild winters; in August they still eat some of it.
    table = one("cool_continental", "2026-09-10", bees=15, kg=18)
    assert table.plain(0, "food.missing_share") < 1 / 3
    summer = one("cool_continental", "2026-08-05", bees=15, kg=18)
    assert table.plain(0, "food.missing_share") < summer.plain(0, "food.missing_share") < 0.4


def test_places_differ():
    need = {
        profile: one(profile, date, bees=10, kg=5).plain(0, "food.need_kg")
        for profile, date in (
            ("cool_continental", "2026-10-01"),
            ("snowy_continental", "2026-10-01"),
            ("humid_subtropical", "2026-10-31"),
            ("warm_winter", "2026-10-31"),
        )
    }
    assert need["warm_winter"] < need["humid_subtropical"] < need["cool_continental"] < need["snowy_continental"]


# --- stores from what was seen ------------------------------------------------------------------------------------------
def test_stores_seen_today_stay_as_they_are():
    table = one("cool_continental", "2026-02-10", bees=8, kg=9)
    column = table.column("food.stores_kg")
    assert (column.value[0], column.low[0], column.high[0]) == (9, 9, 9)
    assert origin(table, "food.stores_kg") == "seen 2026-02-10"


def test_stores_are_carried_forward_with_a_wider_interval():
    seen = [(day("2026-01-12"), "food.stores_kg", 9.0)]
    near, far = (one("cool_continental", date, seen, bees=8) for date in ("2026-01-20", "2026-03-01"))
    assert origin(near, "food.stores_kg") == "carried forward from 2026-01-12"
    widths = [t.column("food.stores_kg").high[0] - t.column("food.stores_kg").low[0] for t in (near, far)]
    assert 0 < widths[0] < widths[1]
    assert far.plain(0, "food.stores_kg") < near.plain(0, "food.stores_kg") < 9
    assert far.column("food.days_left").low[0] < far.column("food.days_left").value[0]


def test_feeding_is_carried_through_and_harvest_ends_it():
    seen = [
        (day("2026-08-20"), "food.stores_kg", 5.0),
        (day("2026-08-25"), "food.fed_kg", 6.0),
        (day("2026-09-05"), "food.fed_kg", 5.0),
    ]
    fed = one("cool_continental", "2026-09-20", seen, bees=9)
    assert 13 < fed.plain(0, "food.stores_kg") < 19
    taken = one(
        "cool_continental", "2026-09-20", [*seen, (day("2026-09-10"), "harvest.taken_on", day("2026-09-10"))], bees=9
    )
    assert taken.plain(0, "food.stores_kg") is None and taken.plain(0, "food.days_left") is None


def test_weight_frames_and_heft_imply_stores():
    weighed = one("cool_continental", "2026-02-10", bees=8, food__hive_weight_kg=30.0, hive__tare_kg=14.0)
    assert 10 < weighed.plain(0, "food.stores_kg") < 15
    assert origin(weighed, "food.stores_kg") == "implied by food.hive_weight_kg"
    frames = one("cool_continental", "2026-02-10", bees=8, food__frames_of_stores=4.0)
    assert frames.plain(0, "food.stores_kg") == pytest.approx(4 * 8.8 * 0.29)
    heft = {
        word: one("cool_continental", "2026-02-10", bees=8, food__heft=word) for word in ("light", "middling", "heavy")
    }
    kg = [heft[w].plain(0, "food.stores_kg") for w in ("light", "middling", "heavy")]
    assert kg == sorted(kg) and kg[0] < 6
    light = heft["light"].column("food.stores_kg")
    assert light.low[0] < light.value[0] < light.high[0]


def test_a_heft_does_not_replace_a_fresh_figure():
    table = one(
        "cool_continental", "2026-02-10", [(day("2026-02-05"), "food.stores_kg", 12.0)], bees=8, food__heft="light"
    )
    assert 8.5 < table.plain(0, "food.stores_kg") <= 9, "held to what a hand calls light"
    assert table.column("food.stores_kg").high[0] <= 9
    assert origin(table, "food.stores_kg") == "carried forward from 2026-02-05; cut by the heft of 2026-02-10"
    old = one(
        "cool_continental", "2026-02-10", [(day("2025-12-20"), "food.stores_kg", 12.0)], bees=8, food__heft="light"
    )
    assert 6 < old.plain(0, "food.stores_kg") < 8.5, "the upper part of what was carried on is cut away"


def test_a_newer_weight_replaces_an_older_figure():
    table = one(
        "cool_continental",
        "2026-02-10",
        [(day("2026-01-30"), "food.stores_kg", 15.0)],
        bees=8,
        food__hive_weight_kg=24.0,
        hive__tare_kg=14.0,
    )
    assert table.plain(0, "food.stores_kg") < 9
    assert origin(table, "food.stores_kg") == "implied by food.hive_weight_kg"


def test_own_tare_narrows_the_estimate():
    rough, own = (
        one("cool_continental", "2026-02-10", bees=8, food__hive_weight_kg=30.0, **extra)
        for extra in ({}, {"hive__tare_kg": 14.0})
    )
    assert np.ptp([own.column("food.stores_kg").low[0], own.column("food.stores_kg").high[0]]) < np.ptp(
        [rough.column("food.stores_kg").low[0], rough.column("food.stores_kg").high[0]]
    )


# --- unknown ------------------------------------------------------------------------------------------------------------
def test_no_bees_no_days():
    table = one("cool_continental", "2026-02-10", kg=9)
    assert table.plain(0, "food.stores_kg") == 9
    for fact in (
        "food.days_left",
        "food.need_kg",
        "food.use_kg_week",
        "food.candy_kg",
        "colony.bees",
        "shelter.saving_kg",
    ):
        assert table.plain(0, fact) is None, fact


def test_no_stores_but_a_need():
    table = one("cool_continental", "2026-10-01", bees=9)
    assert table.plain(0, "food.days_left") is None and table.plain(0, "food.shortfall_kg") is None
    assert table.plain(0, "food.need_kg") > 8


def test_nothing_known_sets_nothing_of_the_hive():
    table = table_of("cool_continental", day("2026-02-10"), {})
    for fact in WORDS.facts:
        if fact.split(".")[0] in ("food", "mites", "shelter", "moisture", "colony"):
            assert table.plain(0, fact) is None, fact


def test_a_dead_colony_gets_no_estimates():
    table = one("cool_continental", "2026-02-10", kg=9, bees=0, colony__alive=False)
    assert table.plain(0, "food.days_left") is None and table.plain(0, "food.need_kg") is None


def test_fixed_facts_win():
    table = one("cool_continental", "2026-02-10", bees=8, kg=9, food__days_left=3.0, food__need_kg=30.0)
    assert table.plain(0, "food.days_left") == 3
    assert table.plain(0, "food.shortfall_kg") == pytest.approx(21)
    assert table.plain(0, "food.empty_on") == day("2026-02-13")


# --- strength -----------------------------------------------------------------------------------------------------------
def test_bees_are_carried_past_their_keep_time():
    noted = [(day("2025-11-15"), "colony.frames_of_bees", 9.0), (day("2025-11-15"), "colony.frames_of_brood", 0.0)]
    table = one("snowy_continental", "2026-03-10", noted)
    column = table.column("colony.frames_of_bees")
    # 20,800 to 12,000 between November and March (Avitabile 1978): to about 0.58.
    assert column.value[0] == pytest.approx(9 * 0.58, rel=0.15)
    assert column.low[0] < 0.7 * column.value[0] < column.value[0] < 1.3 * column.value[0] < column.high[0]
    assert origin(table, "colony.frames_of_bees") == "carried forward from 2025-11-15"
    assert one("snowy_continental", "2026-05-10", noted).plain(0, "colony.frames_of_bees") is None


def test_no_brood_of_any_age_is_a_count_of_none():
    bees = (day("2026-01-04"), "colony.frames_of_bees", 8.0)
    as_count, in_words = (
        [bees, (day("2026-01-04"), *none)]
        for none in (("colony.frames_of_brood", 0.0), ("colony.youngest_brood", "none"))
    )
    for date in ("2026-01-10", "2026-01-17", "2026-01-25"):  # before, on and after the day on which the word is old
        counted, told = (one("hot_desert", date, noted) for noted in (as_count, in_words))
        for fact in ("colony.frames_of_bees", "colony.frames_of_brood"):
            assert told.plain(0, fact) == counted.plain(0, fact)


def test_a_split_ends_the_count():
    noted = [
        (day("2026-03-20"), "colony.frames_of_bees", 9.0),
        (day("2026-05-01"), "colony.queen_event_on", day("2026-05-01")),
        (day("2026-05-01"), "colony.queen_event", "split_made"),
    ]
    assert one("cool_continental", "2026-05-10", noted).plain(0, "colony.frames_of_bees") is None


def test_bees_by_frame_size():
    deep, medium = (
        one("cool_continental", "2026-05-10", bees=10, hive__frame=f).plain(0, "colony.bees")
        for f in ("deep", "medium")
    )
    assert deep == pytest.approx(22_880) and medium == pytest.approx(15_340)
    unsure = table_of("cool_continental", day("2026-05-10"), {"colony.frames_of_bees": 10})
    column = unsure.column("colony.bees")
    assert column.low[0] < medium < deep < column.high[0] * 1.01
    assert one("cool_continental", "2026-05-10", bees=5).plain(0, "colony.use_of_space") == 0.5


# --- damp and shelter ---------------------------------------------------------------------------------------------------
def test_condensation_waits_for_what_decides_it():
    shut = {"hive__top_vent": "none", "hive__floor": "solid"}
    bare = one("snowy_continental", "2026-02-25", bees=8, brood=1, hive__insulation="none", **shut)
    warm = one("snowy_continental", "2026-02-25", bees=8, brood=1, hive__insulation="roof_and_wrap", **shut)
    assert bare.plain(0, "moisture.condensation") == "likely" and warm.plain(0, "moisture.condensation") == "unlikely"
    unsure = one("snowy_continental", "2026-02-25", bees=8, brood=1, hive__insulation="none")
    assert unsure.plain(0, "moisture.condensation") is None
    assert one("snowy_continental", "2026-02-25", bees=8, brood=1, **shut).plain(0, "moisture.condensation") is None
    summer = one("humid_subtropical", "2026-07-10", bees=16, brood=8, hive__insulation="none", **shut)
    assert summer.plain(0, "moisture.condensation") == "unlikely"


def test_insulation_points_follow_the_place():
    points = {
        p: one(p, "2026-10-01", bees=9, hive__insulation="none").plain(0, "shelter.insulation_pts")
        for p in ("snowy_continental", "cool_continental", "mild_maritime", "warm_winter")
    }
    assert points["snowy_continental"] == points["cool_continental"] == 8
    assert 1 > points["mild_maritime"] > points["warm_winter"]
    assert (
        one("snowy_continental", "2026-10-01", bees=9, hive__insulation="roof_and_wrap").plain(
            0, "shelter.insulation_pts"
        )
        == 0
    )
    assert one("snowy_continental", "2026-10-01", bees=9).plain(0, "shelter.insulation_pts") is None


# --- mites --------------------------------------------------------------------------------------------------------------
SAMPLE = {"mites__sample_mites": 12, "mites__sample_bees": 300, "mites__method": "wash"}


def test_sample_sets_rate_chance_points_and_projection():
    table = one("cool_continental", "2026-08-05", bees=15, **SAMPLE)
    column = table.column("mites.per_100")
    assert (
        column.value[0] == 4
        and column.low[0] == pytest.approx(2.08, abs=0.01)
        and column.high[0] == pytest.approx(6.88, abs=0.01)
    )
    assert table.plain(0, "mites.per_100_low") == column.low[0]
    assert table.plain(0, "mites.chance_over_limit") == pytest.approx(0.845, abs=0.01)
    assert table.plain(0, "mites.treat_pts") == pytest.approx(21.4, abs=0.1)
    assert table.plain(0, "mites.per_100_at_winter_bees") > 4
    stricter = table_of(
        "cool_continental", day("2026-08-05"), {**HIVE, **facts_of(SAMPLE)}, numbers=limits(late_summer=2.0)
    )
    assert stricter.plain(0, "mites.chance_over_limit") > 0.98


def test_points_fall_once_winter_bees_are_reared():
    late, autumn, spring = (
        one("cool_continental", date, bees=8, **SAMPLE).plain(0, "mites.treat_pts")
        for date in ("2026-09-01", "2026-11-10", "2026-04-20")
    )
    assert late > autumn and late > spring > 0


def test_drop_is_a_wide_range_and_a_sample_wins():
    drop = one("alpine_valley", "2026-06-20", bees=17, mites__drop_per_day=22.0)
    column = drop.column("mites.per_100")
    assert column.high[0] > 3 * column.low[0] > 0
    assert origin(drop, "mites.per_100") == "implied by mites.drop_per_day"
    both = one("alpine_valley", "2026-06-20", bees=17, mites__drop_per_day=22.0, **SAMPLE)
    assert both.plain(0, "mites.per_100") == 4
    broodless = one("cool_continental", "2026-12-10", bees=8, brood=0, mites__drop_per_day=6.0)
    assert broodless.plain(0, "mites.per_100") > one(
        "cool_continental", "2026-06-10", bees=8, brood=6, mites__drop_per_day=6.0
    ).plain(0, "mites.per_100")
    assert one("alpine_valley", "2026-06-20", mites__drop_per_day=22.0).plain(0, "mites.per_100") is None


def test_efficacy_from_counts_before_and_after():
    noted = [
        (day("2026-08-01"), "mites.sample_mites", 12),
        (day("2026-08-01"), "mites.sample_bees", 300),
        (day("2026-08-05"), "mites.in_hive", "formic"),
        (day("2026-08-19"), "mites.in_hive", "none"),
        (day("2026-09-05"), "mites.sample_mites", 3),
        (day("2026-09-05"), "mites.sample_bees", 300),
    ]
    table = one("cool_continental", "2026-09-30", noted, bees=9)
    column = table.column("mites.efficacy_pct")
    assert 75 < column.value[0] < 95 and column.low[0] < column.value[0] < column.high[0]
    assert one("cool_continental", "2026-09-30", noted[:4], bees=9).plain(0, "mites.efficacy_pct") is None


# --- anything at all ----------------------------------------------------------------------------------------------------
TYPED = [
    f
    for f in WORDS.facts.values()
    if f.comes_from in ("observed", "equipment")
    and f.kind != "text"
    and f.id.split(".")[0] in ("food", "hive", "colony", "mites", "room")
]


@st.composite
def hives(draw):
    facts = {}
    for fact in draw(st.lists(st.sampled_from(TYPED), max_size=14, unique_by=lambda f: f.id)):
        if fact.kind == "yes_no":
            facts[fact.id] = draw(st.booleans())
        elif fact.kind == "one_of":
            facts[fact.id] = draw(st.sampled_from(fact.values))
        elif fact.kind == "date":
            facts[fact.id] = draw(st.dates(dt.date(2015, 1, 1), dt.date(2026, 12, 31)))
        elif fact.kind == "integer":
            facts[fact.id] = draw(st.integers(int(fact.low), int(fact.high)))
        else:
            facts[fact.id] = draw(st.floats(fact.low, fact.high))
    return facts


@given(
    st.lists(hives(), min_size=1, max_size=3),
    st.sampled_from(climate.profile_ids()),
    st.dates(dt.date(2026, 1, 1), dt.date(2026, 12, 31)),
    st.lists(st.tuples(st.integers(0, 4000), hives()), max_size=3),
)
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_no_observation_breaks_the_models(rows, profile, date, before):
    noted = [(date - dt.timedelta(days=ago), fact, value) for ago, facts in before for fact, value in facts.items()]
    table = table_of(profile, date, *rows, noted=noted)
    for fact, column in table.columns.items():
        known = ~np.isnan(column.value)
        assert np.isfinite(column.low[known]).all() and np.isfinite(column.high[known]).all(), fact
        assert (column.low[known] <= column.value[known]).all() and (column.value[known] <= column.high[known]).all(), (
            fact
        )
        bounds = WORDS.facts[fact]
        if bounds.comes_from == "computed" and bounds.low is not None:
            assert (column.low[known] >= bounds.low).all() and (column.high[known] <= bounds.high).all(), fact


def test_hives_of_one_yard_do_not_touch_each_other():
    a = {**HIVE, "colony.frames_of_bees": 8, "food.stores_kg": 9}
    b = {**HIVE, "colony.frames_of_bees": 15, "food.heft": "light", "mites.sample_mites": 3, "mites.sample_bees": 200}
    together, alone = (
        table_of("cool_continental", day("2026-03-10"), a, b, {}),
        table_of("cool_continental", day("2026-03-10"), b),
    )
    for fact, column in alone.columns.items():
        np.testing.assert_array_equal(column.value[0], together.column(fact).value[1], fact)

"""The fact table of a day: origins, implied facts, set facts, season, weather, counts of days."""

import datetime as dt

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hiveweek import climate, facts, vocabulary
from hiveweek.climate import weather as weather_room
from hiveweek.facts import Apiary, Scenario, ScenarioHive
from hiveweek.facts.build import build_days, history_of
from hiveweek.facts.constraints import broken, facts_of
from hiveweek.facts.week_weather import ORDER, temperatures
from hiveweek.shapes import marked_yaml

WORDS = vocabulary.load()
DATE = dt.date(2026, 5, 20)


def day(text):
    return dt.date.fromisoformat(text)


def build(*hives, date=DATE, answer=None, profile="cool_continental", site=None, weather=True):
    made = [hive if isinstance(hive, ScenarioHive) else ScenarioHive(f"H{i + 1}", hive) for i, hive in enumerate(hives)]
    place = climate.load_profile(profile)
    scenario = Scenario("t", profile, date, made, Apiary(site=site or {}))
    week = weather_room.week(place, answer or date, offline=True) if weather else None
    return facts.build(scenario, answer, place, week)


def value_of(built):
    return lambda fact: built.table.column(fact).value


def cell(built, fact, hive=0):
    column = built.table.column(fact)
    return built.table.plain(hive, fact), column.origin[hive] if column.origin else None


def test_seen_implied_set_usual_and_computed_are_told_apart():
    built = build({"colony.eggs": True, "hive.frames": 10, "hive.supers": 1, "season.phase": "dearth"})
    assert cell(built, "colony.eggs") == (True, "seen 2026-05-20")
    assert cell(built, "colony.alive") == (True, "implied by colony.eggs")
    assert cell(built, "colony.youngest_brood") == ("eggs", "implied by colony.eggs")
    assert cell(built, "season.phase") == ("dearth", "set")
    assert cell(built, "season.cold")[1] == "usual here"
    assert cell(built, "weather.high_c")[1] == "usual here"
    assert cell(built, "hive.most_seams") == (21.0, "computed")
    assert cell(built, "climate.profile") == ("cool_continental", "computed")


def test_nothing_known_stays_unknown():
    built = build({})
    known = {name for name in WORDS.facts if built.table.column(name).known[0]}
    groups = {name.partition(".")[0] for name in known}
    assert groups <= {"season", "climate", "weather", "apiary", "shelter"}
    assert not {"shelter.saving_kg", "apiary.robbed"} & known
    assert built.alive.tolist() == [True]


def test_an_empty_yard_is_no_error():
    built = build()
    assert len(built.table) == 0 and built.alive.tolist() == []


def test_dead_is_known_only_where_said():
    built = build({"colony.alive": False}, {"colony.alive": True}, {})
    assert built.alive.tolist() == [False, True, True]


def test_a_later_look_wins_over_what_an_earlier_one_implies():
    hive = ScenarioHive(
        "H1", {"colony.frames_of_brood": 0}, [(day("2026-05-10"), {"colony.sealed_brood": True, "colony.eggs": True})]
    )
    built = build(hive)
    assert cell(built, "colony.sealed_brood") == (False, "implied by colony.frames_of_brood")
    hive = ScenarioHive("H1", {"colony.sealed_brood": True}, [(day("2026-05-10"), {"colony.frames_of_brood": 0})])
    assert cell(build(hive), "colony.sealed_brood") == (True, "seen 2026-05-20")


def test_a_death_ends_what_was_seen_of_the_living():
    hive = ScenarioHive(
        "H1", {"colony.alive": False}, [(day("2026-05-18"), {"colony.frames_of_bees": 6, "colony.eggs": True})]
    )
    built = build(hive)
    assert cell(built, "colony.alive") == (False, "seen 2026-05-20")
    assert cell(built, "colony.eggs")[0] is None
    assert cell(built, "colony.frames_of_bees") == (0.0, "implied by colony.alive")


# --- figures the file sets --------------------------------------------------------------------------------------------
def test_set_figures_count_for_six_days():
    hive = {"weather.high_c": 3, "season.phase": "dearth"}
    for after, used in ((0, True), (6, True), (7, False), (-1, False)):
        built = build(hive, answer=DATE + dt.timedelta(days=after))
        assert (cell(built, "weather.high_c") == (3.0, "set")) is used
        assert (cell(built, "season.phase")[1] == "set") is used
        assert bool(built.notes) is not used


def test_what_was_seen_keeps_its_own_date_when_the_answer_moves():
    built = build({"colony.eggs": True, "hive.supers": 1}, answer=DATE + dt.timedelta(days=9))
    assert cell(built, "colony.eggs") == (True, "seen 2026-05-20")
    built = build({"colony.eggs": True, "hive.supers": 1}, answer=DATE + dt.timedelta(days=13))
    assert cell(built, "colony.eggs")[0] is None and cell(built, "hive.supers")[0] == 1


def test_a_set_figure_is_never_computed_over():
    built = build(
        {
            "food.days_left": 3,
            "food.stores_kg": 30,
            "colony.frames_of_bees": 8,
            "hive.frame": "deep",
            "mites.days_since_count": 50,
            "mites.sample_mites": 1,
            "mites.sample_bees": 300,
            "mites.method": "wash",
            "apiary.hives": 40,
            "apiary.robbed": True,
        }
    )
    assert cell(built, "food.days_left") == (3.0, "set")
    assert cell(built, "mites.days_since_count") == (50.0, "set")
    assert cell(built, "apiary.hives") == (40, "set")
    assert cell(built, "apiary.robbed") == (True, "set")
    assert built.fixed["food.days_left"].tolist() == [True]
    assert cell(built, "food.shortfall_kg")[1] == "computed"


def test_a_set_figure_of_one_hive_leaves_the_others_alone():
    built = build({"weather.high_c": 3}, {})
    assert cell(built, "weather.high_c") == (3.0, "set")
    assert cell(built, "weather.high_c", 1)[1] == "usual here"
    assert cell(built, "weather.high_c", 1)[0] > 10


def test_temperatures_given_carry_the_others_along_in_order():
    built = build(
        {"weather.high_c": -12, "weather.low_c": -24},
        {"weather.high_c": 40},
        {"weather.open_high_c": 5},
        {},
        date=day("2026-04-10"),
    )
    for small, large in ORDER:
        below, above = built.table.column(small), built.table.column(large)
        assert (below.value <= above.value + 1e-9).all(), (small, large)
    for fact in temperatures(WORDS.facts, "high_c"):
        assert cell(built, fact)[0] <= -12 and cell(built, fact, 1)[0] <= 40
    assert cell(built, "weather.mean_c")[1].startswith("usual here, moved")
    assert cell(built, "weather.flight_days")[0] == 0
    plain = build({}, date=day("2026-04-10"))
    assert cell(built, "weather.mean_c", 3) == cell(plain, "weather.mean_c")


@pytest.mark.parametrize("high", [-30, -5, 4, 12, 25, 44])
def test_no_constraint_is_broken_by_any_week(high):
    for profile in ("boreal", "hot_desert", "southern_maritime"):
        for month in (1, 4, 7, 10):
            built = build(
                {"weather.high_c": high},
                {"weather.low_c": high},
                {"weather.mean_c": high},
                {"weather.lowest_high_c": high},
                date=dt.date(2026, month, 15),
                profile=profile,
            )
            wrong = broken(WORDS, value_of(built))
            assert [(c["id"], rows.tolist()) for c, rows in wrong] == [], (profile, month)


def test_without_weather_only_what_the_file_sets_is_known():
    built = build({"weather.high_c": 9}, weather=False)
    assert cell(built, "weather.high_c") == (9.0, "set") and cell(built, "weather.low_c")[0] is None


# --- season -----------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("profile", climate.profile_ids())
def test_every_season_fact_is_known_and_in_range_all_year(profile):
    calendar = climate.load_profile(profile).calendar
    columns = {}
    for step in range(0, 365, 5):
        for name, value in calendar.facts(dt.date(2026, 1, 1) + dt.timedelta(days=step)).items():
            fact = WORDS.facts[name]
            number = float(value) if fact.kind in ("number", "integer") else fact.encode(value)
            if fact.low is not None:
                assert fact.low <= number <= fact.high, (name, value)
            columns.setdefault(name, []).append(number)
    wanted = {name for name, fact in WORDS.facts.items() if fact.group == "season" and fact.comes_from == "computed"}
    assert set(columns) == wanted
    arrays = {name: np.array(values) for name, values in columns.items()}
    blank = np.full(73, np.nan)
    assert [c["id"] for c, _ in broken(WORDS, lambda fact: arrays.get(fact, blank))] == []


def test_bloom_seen_outside_moves_the_spring_of_this_year():
    usual = build({}, date=day("2026-04-01"))
    built = build({"season.local_sign": "dandelion"}, {}, date=day("2026-04-01"))
    there = cell(built, "season.days_to_swarm_season_start")
    assert there[0] < cell(usual, "season.days_to_swarm_season_start")[0]
    assert there[1] == "usual here, moved by season.local_sign"
    assert cell(built, "season.days_to_swarm_season_start", 1) == cell(usual, "season.days_to_swarm_season_start")


# --- counts of days ---------------------------------------------------------------------------------------------------
def test_days_since_things_were_seen():
    hive = ScenarioHive(
        "H1",
        {"hive.supers": 1},
        [
            (day("2026-05-01"), {"colony.queen_cells": "none", "food.heft": "heavy"}),
            (day("2026-05-11"), {"food.heft": "middling"}),
            (day("2026-03-01"), {"mites.drop_per_day": 1.0}),
            (day("2026-05-02"), {"colony.queen_event": "swarmed", "colony.queen_event_on": day("2026-04-30")}),
        ],
    )
    built = build(hive)
    assert cell(built, "log.days_since_swarm_check")[0] == 19
    assert cell(built, "log.days_since_weighed")[0] == 9
    assert cell(built, "log.days_since_checked")[0] == 9
    assert cell(built, "log.days_since_opened")[0] == 19
    assert cell(built, "mites.days_since_count")[0] == 80
    assert cell(built, "colony.days_since_queen_event")[0] == 20
    assert cell(built, "log.days_since_disease_check")[0] is None
    assert cell(built, "colony.age_days")[0] is None


def test_equipment_and_weather_are_no_look_at_the_hive():
    built = build(
        {"hive.size": "single", "weather.fire_ban": True, "season.local_sign": "none"}, site={"site.spray_notice": True}
    )
    assert cell(built, "log.days_since_checked")[0] is None


@pytest.mark.parametrize(
    ("robbed", "answer"),
    [
        ([True, False, None], True),
        ([False, False, False], False),
        ([False, None, False], None),
        ([None], None),
    ],
)
def test_robbing_at_one_hive_concerns_the_yard(robbed, answer):
    built = build(*[{} if r is None else {"colony.robbed": r} for r in robbed])
    assert {cell(built, "apiary.robbed", i)[0] for i in range(len(robbed))} == {answer}
    assert cell(built, "apiary.hives")[0] == len(robbed)


def test_a_fire_ban_with_a_last_day():
    hive = ScenarioHive("H1", {}, [(day("2026-05-18"), {"weather.fire_ban_until": day("2026-05-22")})])
    assert cell(build(hive), "weather.fire_ban") == (True, "implied by weather.fire_ban_until")
    assert cell(build(hive, answer=day("2026-05-23")), "weather.fire_ban")[0] is False
    assert cell(build(hive, answer=day("2026-05-26")), "weather.fire_ban")[0] is None


def test_the_same_question_gives_the_same_table():
    hive = {
        "colony.frames_of_bees": 8,
        "food.stores_kg": 9,
        "hive.frame": "deep",
        "mites.sample_mites": 3,
        "mites.sample_bees": 300,
    }
    one, two = build(hive), build(hive)
    for name in WORDS.facts:
        a, b = one.table.column(name), two.table.column(name)
        assert np.array_equal(a.value, b.value, equal_nan=True) and np.array_equal(a.high, b.high, equal_nan=True)


def test_every_value_of_the_table_lies_in_its_range_and_interval():
    hive = {
        "colony.frames_of_bees": 30,
        "food.stores_kg": 90,
        "hive.frames": 40,
        "hive.supers": 0,
        "mites.sample_mites": 290,
        "mites.sample_bees": 300,
        "mites.method": "wash",
        "colony.frames_of_brood": 0,
    }
    built = build(
        hive,
        {"colony.frames_of_bees": 0.5, "food.stores_kg": 0, "mites.drop_per_day": 4000},
        {},
        date=day("2026-01-10"),
    )
    for name, fact in WORDS.facts.items():
        column = built.table.column(name)
        known = column.known
        assert (column.low[known] <= column.value[known]).all() and (column.value[known] <= column.high[known]).all(), (
            name
        )
        if fact.low is not None:
            assert (column.low[known] >= fact.low).all() and (column.high[known] <= fact.high).all(), name


WORDS_TO_TRY = [
    f for f in WORDS.facts.values() if f.comes_from != "computed" or f.group in ("weather", "season", "food", "mites")
]


def some_value(fact):
    if fact.kind == "yes_no":
        return st.booleans()
    if fact.kind == "one_of":
        return st.sampled_from(fact.values)
    if fact.kind == "integer":
        return st.integers(int(fact.low), int(fact.high))
    if fact.kind == "number":
        return st.one_of(st.sampled_from([fact.low, fact.high]), st.floats(fact.low, fact.high))
    if fact.kind == "date":
        return st.dates(dt.date(2020, 1, 1), DATE)
    return st.text(max_size=5)


some_facts = st.lists(st.sampled_from(WORDS_TO_TRY), max_size=14, unique_by=lambda f: f.id).flatmap(
    lambda chosen: st.fixed_dictionaries({f.id: some_value(f) for f in chosen})
)


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(some_facts, some_facts, st.sampled_from(["boreal", "hot_desert", "warm_winter"]), st.integers(-3, 40))
def test_any_facts_inside_their_ranges_make_a_table(now, before, profile, later):
    """Also what the reader would refuse as impossible together: a journal may hold it."""
    earlier = {k: v for k, v in before.items() if WORDS.facts[k].comes_from != "computed"}
    hive = ScenarioHive("H1", now, [(day("2026-04-30"), earlier)])
    built = build(hive, {}, answer=DATE + dt.timedelta(days=later), profile=profile)
    for name, fact in WORDS.facts.items():
        column = built.table.column(name)
        known = column.known
        assert np.isfinite(column.low[known]).all() and np.isfinite(column.high[known]).all(), name
        if fact.low is not None:
            assert (column.low[known] >= fact.low - 1e-9).all() and (column.high[known] <= fact.high + 1e-9).all(), name


def test_facts_of_a_condition_come_in_order():
    row = next(c for c in WORDS.constraints if c["id"] == "bees-fit")
    assert facts_of(row["holds"]) == ["colony.frames_of_bees", "hive.most_seams"]


def test_days_built_together_are_what_each_is_alone():
    """Every fact of every hive, its interval too: over a sign of spring, a course, a feed, a swarm, and the week that a file sets."""
    text = """
climate: cool_continental
date: 2026-05-20
hives:
  - id: Ash
    facts: {weather.high_c: 12}
    record:
      - {date: 2026-03-29, seen: {season.local_sign: willow, colony.frames_of_bees: 6, food.stores_kg: 9}}
      - {date: 2026-04-20, seen: {colony.frames_of_brood: 4, food.heft: light, colony.queen_cells: charged}}
      - {date: 2026-05-02, seen: {mites.sample_mites: 5, mites.sample_bees: 300}}
      - {date: 2026-05-10, seen: {colony.queen_event: swarmed, colony.queen_event_on: 2026-05-08}}
  - id: Elm
    record:
      - {date: 2026-04-02, set: {mites.in_hive: formic, hive.supers: 1}}
      - {date: 2026-04-16, set: {mites.in_hive: none}}
      - {date: 2026-04-17, seen: {colony.robbed: true}}
  - {id: Oak}
"""
    yard = facts.scenario_of(marked_yaml.parse(text, "yard.yaml"), words=WORDS)
    profile = climate.load_profile("cool_continental")
    dates = [day("2026-05-20") - dt.timedelta(days=back) for back in (50, 31, 30, 17, 3, 0, -4)]
    weeks = [weather_room.week(profile, date, offline=True) for date in dates]
    last = history_of(yard, dates[-1], WORDS)
    together = build_days(yard, dates, profile, weeks, WORDS, last)
    for place, (date, week) in enumerate(zip(dates, weeks, strict=True)):
        alone = facts.build(yard, date, profile, week, WORDS).table
        rows = slice(3 * place, 3 * place + 3)
        for name in WORDS.facts:
            one, other = alone.column(name), together.column(name)
            for part in ("value", "low", "high"):
                np.testing.assert_array_equal(getattr(one, part), getattr(other, part)[rows], f"{date} {name} {part}")


def test_syrup_in_summer_leaves_the_queen_her_combs():
    """As German keepers give it: some 5 kg when the supers come off, the rest when less brood is to be reared."""
    known = {
        "hive.size": "single",
        "hive.frames": 10,
        "colony.frames_of_bees": 9,
        "food.stores_kg": 8,
        "hive.supers": 0,
    }
    litres = []
    for date in ("2026-07-26", "2026-09-05"):
        built = build({**known, "colony.frames_of_brood": 3 if date < "2026-08" else 1}, date=day(date))
        litres.append(float(built.table.column("food.litres_that_fit").value[0]))
    summer, autumn = litres
    assert summer <= 8 <= autumn

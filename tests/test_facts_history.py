"""Histories: latest values, acts read from changes, and observations that acts or time take away."""

import datetime as dt

import numpy as np
import pytest

from hiveweek import vocabulary
from hiveweek.facts import Apiary, History, Scenario, ScenarioHive
from hiveweek.facts.build import history_of
from hiveweek.facts.observed import current
from hiveweek.facts.treatments import courses, treatment_facts

WORDS = vocabulary.load()
TODAY = dt.date(2026, 8, 5)


def day(text):
    return dt.date.fromisoformat(text)


def history(observed, facts=None, today=TODAY, site=None):
    """One hive with dated entries and what was found on the day of the file."""
    hive = ScenarioHive("H1", facts or {}, [(day(d), values) for d, values in observed])
    scenario = Scenario("t", "boreal", TODAY, [hive], Apiary(site=site or {}))
    return history_of(scenario, today, WORDS)


def value(found, fact):
    number, seen, origin = current(found, WORDS.facts[fact])
    return (
        WORDS.facts[fact].decode(number[0]),
        None if np.isnan(seen[0]) else dt.date.fromordinal(int(seen[0])),
        origin[0],
    )


def acts(found, name):
    return [dt.date.fromordinal(d).isoformat() for d in found.acts(name)[0]]


def test_the_latest_value_counts_and_says_when_it_was_seen():
    found = history([("2026-07-20", {"food.nectar": "some"}), ("2026-07-30", {"food.nectar": "none"})])
    assert value(found, "food.nectar") == ("none", day("2026-07-30"), "seen 2026-07-30")
    assert found.entries(0, "food.nectar") == [
        (day("2026-07-20").toordinal(), 1.0),
        (day("2026-07-30").toordinal(), 0.0),
    ]


def test_entries_between_two_days_hold_both_and_nothing_where_the_first_is_unknown():
    days = ["2026-07-20", "2026-07-24", "2026-07-30"]
    found = history([(d, {"food.nectar": "some"}) for d in days])
    ordinal = [day(d).toordinal() for d in days]

    def between(first, last):
        return [row[0] for row in found.between(0, "food.nectar", first, last)]

    assert between(ordinal[0], ordinal[2]) == ordinal and between(ordinal[0] + 1, ordinal[2] - 1) == ordinal[1:2]
    assert between(0.0, ordinal[0] - 1) == between(ordinal[2] + 1, ordinal[2] + 9) == []
    assert between(np.nan, ordinal[2]) == [] and found.between(0, "food.heft", 0.0, ordinal[2]) == []


@pytest.mark.parametrize(
    ("fact", "word"),
    [("colony.eggs", True), ("colony.queen_cells", "none"), ("colony.robbed", True), ("food.heft", "light")],
)
def test_an_observation_counts_for_exactly_its_days(fact, word):
    keeps = WORDS.facts[fact].keeps
    for age, known in ((0, True), (keeps, True), (keeps + 1, False)):
        seen = (TODAY - dt.timedelta(days=age)).isoformat()
        assert (value(history([(seen, {fact: word})]), fact)[0] is not None) is known


def test_equipment_counts_until_changed():
    found = history([("2020-03-01", {"hive.size": "double"})])
    assert value(found, "hive.size")[0] == "double"


def test_entries_after_the_answer_do_not_count():
    found = history([("2026-07-20", {"hive.supers": 1}), ("2026-08-01", {"hive.supers": 0})], today=day("2026-07-25"))
    assert value(found, "hive.supers") == (1, day("2026-07-20"), "seen 2026-07-20")
    assert acts(found, "harvest") == []


def test_what_stands_under_facts_wins_over_an_entry_of_the_same_day():
    found = history([("2026-08-05", {"hive.supers": 1})], {"hive.supers": 2})
    assert value(found, "hive.supers")[0] == 2


def test_the_yard_speaks_for_a_hive_that_says_nothing():
    hives = [ScenarioHive("a", {"site.wind": "sheltered"}), ScenarioHive("b")]
    found = history_of(Scenario("t", "boreal", TODAY, hives, Apiary(site={"site.wind": "exposed"})), TODAY, WORDS)
    words = [WORDS.facts["site.wind"].decode(x) for x in current(found, WORDS.facts["site.wind"])[0]]
    assert words == ["sheltered", "exposed"]


# --- acts -------------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("act", "rows", "days"),
    [
        ("feeding", [("2026-07-01", {"food.fed_kg": 2.0}), ("2026-07-08", {"food.fed_kg": 0})], ["2026-07-01"]),
        (
            "feeding",
            [
                ("2026-07-01", {"food.feed_on": "none"}),
                ("2026-07-08", {"food.feed_on": "candy"}),
                ("2026-07-15", {"food.feed_on": "candy"}),
            ],
            ["2026-07-08"],
        ),
        ("harvest", [("2026-07-01", {"hive.supers": 2}), ("2026-07-08", {"hive.supers": 0})], ["2026-07-08"]),
        ("harvest", [("2026-07-01", {"hive.supers": 1}), ("2026-07-08", {"hive.supers": 2})], []),
        ("harvest", [("2026-07-10", {"harvest.taken_on": day("2026-07-09")})], ["2026-07-09"]),
        (
            "treatment",
            [("2026-07-01", {"mites.in_hive": "amitraz"}), ("2026-07-08", {"mites.in_hive": "amitraz"})],
            ["2026-07-01"],
        ),
        ("treatment", [("2026-07-01", {"mites.last_active": "oxalic"})], ["2026-07-01"]),
        (
            "treatment_end",
            [("2026-06-01", {"mites.in_hive": "amitraz"}), ("2026-07-08", {"mites.in_hive": "none"})],
            ["2026-07-08"],
        ),
        (
            "splitting",
            [("2026-06-01", {"colony.queen_event": "split_made", "colony.queen_event_on": day("2026-05-30")})],
            ["2026-05-30"],
        ),
        (
            "splitting",
            [
                ("2026-06-01", {"colony.queen_event": "split_made"}),
                ("2026-06-10", {"colony.queen_event": "split_made"}),
            ],
            ["2026-06-01"],
        ),
        ("requeening", [("2026-06-01", {"colony.queen_event": "cell_given"})], ["2026-06-01"]),
        ("dying", [("2026-06-01", {"colony.alive": False})], ["2026-06-01"]),
    ],
)
def test_acts_are_read_from_changes(act, rows, days):
    assert acts(history(rows), act) == days


def test_a_state_found_at_the_first_look_is_no_act_of_that_day():
    found = history([], {"mites.in_hive": "amitraz", "food.feed_on": "candy"})
    assert acts(found, "treatment") == [] and acts(found, "feeding") == []


def test_an_unknown_act_is_an_error():
    with pytest.raises(KeyError):
        history([]).acts("flood")


@pytest.mark.parametrize(
    ("fact", "word", "change"),
    [
        ("food.heft", "light", {"food.fed_kg": 2.0}),
        ("colony.frames_of_bees", 8, {"colony.queen_event": "swarmed"}),
        ("colony.frames_of_bees", 8, {"colony.united_on": day("2026-07-28")}),
        ("colony.eggs", True, {"colony.queen_event": "split_made"}),
        ("mites.drop_per_day", 12, {"mites.in_hive": "formic"}),
        ("colony.frames_of_brood", 4, {"colony.alive": False}),
    ],
)
def test_an_act_takes_older_observations_away(fact, word, change):
    assert value(history([("2026-07-27", {fact: word})]), fact)[0] == word
    assert value(history([("2026-07-27", {fact: word}), ("2026-07-28", change)]), fact)[0] is None
    assert (
        value(history([("2026-07-27", {fact: word}), ("2026-07-28", change), ("2026-07-29", {fact: word})]), fact)[0]
        == word
    )


def test_stores_are_carried_through_feeding_but_not_through_a_harvest():
    rows = [("2026-07-27", {"food.stores_kg": 12}), ("2026-07-28", {"food.fed_kg": 2.0})]
    assert value(history(rows), "food.stores_kg")[0] == 12
    rows = [("2026-07-27", {"food.stores_kg": 12, "hive.supers": 1}), ("2026-07-28", {"hive.supers": 0})]
    assert value(history(rows), "food.stores_kg")[0] is None


def test_a_count_of_the_day_the_treatment_went_in_was_taken_before_it():
    both = {"mites.in_hive": "amitraz", "mites.sample_mites": 9, "mites.sample_bees": 300}
    assert value(history([("2026-08-01", both)]), "mites.sample_mites")[0] is None


def test_a_count_beside_a_treatment_found_in_the_hive_was_taken_under_it():
    both = {"mites.in_hive": "amitraz", "mites.sample_mites": 9, "mites.sample_bees": 300}
    assert value(history([("2026-07-20", {"mites.in_hive": "none"})], both), "mites.sample_mites")[0] == 9


# --- signs that stand -------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("fact", "sign", "clean"),
    [
        ("health.ropy_larvae", True, False),
        ("health.sunken_caps", True, False),
        ("health.suspect_pest", "exotic_mite", "none"),
        ("health.tropilaelaps", "suspected", "none"),
        ("health.lab_result", "afb", "clear"),
    ],
)
def test_a_sign_of_disease_stands_until_cleared(fact, sign, clean):
    rows = [("2026-03-01", {fact: sign}), ("2026-07-30", {fact: clean})]
    assert value(history(rows), fact) == (sign, day("2026-03-01"), "seen 2026-03-01")
    cleared = [*rows, ("2026-08-01", {"health.cleared_on": day("2026-08-01")})]
    assert value(history(cleared), fact)[0] == clean
    again = [*cleared, ("2026-08-03", {fact: sign})]
    assert value(history(again), fact)[0] == sign


def test_an_old_clean_look_does_not_count_for_ever():
    assert value(history([("2026-03-01", {"health.ropy_larvae": False})]), "health.ropy_larvae")[0] is None


def test_clearing_before_the_sign_clears_nothing():
    rows = [("2026-02-01", {"health.cleared_on": day("2026-02-01")}), ("2026-03-01", {"health.ropy_larvae": True})]
    assert value(history(rows), "health.ropy_larvae")[0] is True


def test_a_new_colony_in_the_box_does_not_wash_the_box():
    rows = [
        ("2026-03-01", {"health.ropy_larvae": True, "colony.queen": "seen"}),
        ("2026-07-30", {"colony.started_on": day("2026-07-30")}),
    ]
    found = history(rows)
    assert value(found, "health.ropy_larvae")[0] is True
    assert value(found, "colony.queen")[0] is None


# --- treatments -------------------------------------------------------------------------------------------------------
def story(rows, facts=None, today=TODAY):
    found = treatment_facts(history(rows, facts, today))
    return {name: WORDS.facts[name].decode(parts[0][0]) for name, parts in found.items()}, found


def test_a_course_that_is_in_the_hive():
    told, _ = story([("2026-07-01", {"mites.in_hive": "amitraz"}), ("2026-07-20", {"mites.in_hive": "amitraz"})])
    assert told["mites.days_in_hive"] == 35 and told["mites.last_active"] == "amitraz"
    assert told["mites.courses_this_year"] == 1 and told["mites.treated_days_ago"] is None
    assert told["mites.dribbled_this_winter"] is False


def test_a_course_that_ended():
    told, _ = story([("2026-05-01", {"mites.in_hive": "thymol"}), ("2026-06-10", {"mites.in_hive": "none"})])
    assert told["mites.days_in_hive"] is None and told["mites.last_active"] == "thymol"
    assert told["mites.treated_days_ago"] == told["mites.days_since_treated"] == 56


OFF, ON = {"hive.supers": 0}, {"hive.supers": 2}
IN, OUT = {"mites.in_hive": "thymol"}, {"mites.in_hive": "none"}


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        ([("2026-04-01", OFF), ("2026-04-10", IN), ("2026-05-01", ON), ("2026-05-20", OUT)], "thymol"),
        ([("2026-04-01", OFF), ("2026-04-10", IN), ("2026-05-01", ON)], "thymol"),  # still in
        ([("2026-04-01", OFF), ("2026-04-10", IN), ("2026-05-01", OUT), ("2026-05-02", ON)], "none"),
        (
            [("2026-04-01", ON), ("2026-04-10", IN), ("2026-05-01", OUT), ("2026-05-02", OFF), ("2026-06-01", ON)],
            "none",
        ),
        ([("2026-04-10", IN), ("2026-05-01", OUT), ("2026-05-02", ON)], None),  # nobody noted that they were off before
        ([("2026-04-01", OFF), ("2026-04-10", IN), ("2026-05-01", OUT)], "none"),
        ([("2026-04-10", IN), ("2026-05-01", OUT)], None),
        (
            [
                ("2026-04-01", OFF),
                ("2026-05-01", ON),
                ("2026-06-01", {"mites.last_active": "oxalic", "mites.treated_on": day("2026-06-01")}),
            ],
            "none",
        ),
    ],
)
def test_medicine_that_lay_under_the_supers_now_on(rows, told):
    assert story(rows)[0]["harvest.beside_medicine"] == told


def test_an_end_found_at_a_later_look_leaves_its_day_open():
    _, found = story([("2026-06-01", {"mites.in_hive": "thymol"})], {"mites.in_hive": "none"})
    ago = [parts[0] for parts in found["mites.treated_days_ago"]]
    assert ago == [9, 9, 65]  # thymol is spent after its last day, the 56th


def test_one_medicine_after_another():
    told, _ = story([("2026-05-01", {"mites.in_hive": "formic"}), ("2026-06-01", {"mites.in_hive": "amitraz"})])
    assert (
        told["mites.days_in_hive"] == 65
        and told["mites.last_active"] == "amitraz"
        and told["mites.courses_this_year"] == 2
        and told["mites.amitraz_courses"] == 1
        and told["mites.thymol_courses"] == 0
    )
    assert told["mites.treated_days_ago"] == 75  # formic acid is spent after 21 days, though strips came later


def counted(rows, facts=None):
    """Courses of amitraz and of thymol, each with its low and high end."""
    _, found = story(rows, facts)
    return [tuple(part[0] for part in found[f"mites.{active}_courses"]) for active in ("amitraz", "thymol")]


def test_a_course_that_nobody_named_may_be_of_any_active_that_comes_in_its_form():
    course = [("2025-11-01", {"mites.in_hive": "amitraz"}), ("2026-01-01", {"mites.in_hive": "none"})]
    assert counted(course) == [(1, 1, 1), (0, 0, 0)]
    one_day = ("2026-05-01", {"mites.treated_on": day("2026-05-01")})
    assert counted([*course, one_day]) == [(1, 1, 2), (0, 0, 1)]
    dribbled = ("2026-05-01", {"mites.treated_on": day("2026-05-01"), "mites.form": "dribble"})
    assert counted([*course, dribbled]) == [(1, 1, 1), (0, 0, 0)], "neither is dribbled"
    assert counted([dribbled], {"mites.in_hive": "amitraz"})[0] == (0, 0, 1), "found in, begun nobody knows when"


def test_a_treatment_found_in_the_hive_has_no_known_start():
    told, _ = story([], {"mites.in_hive": "amitraz"})
    assert told["mites.days_in_hive"] is None and told["mites.courses_this_year"] is None


def test_a_dribble_is_a_course_of_one_day():
    rows = [("2026-07-01", {"mites.last_active": "oxalic", "mites.form": "dribble"})]
    told, _ = story(rows)
    assert (
        told["mites.treated_days_ago"] == 35
        and told["mites.dribbled_this_winter"] is True
        and told["mites.courses_this_year"] == 1
    )
    told, _ = story(rows, today=TODAY + dt.timedelta(days=200))
    assert told["mites.dribbled_this_winter"] is False
    told, _ = story([("2026-07-01", {"mites.treated_on": day("2026-06-30")})])
    assert told["mites.treated_days_ago"] == 36 and told["mites.dribbled_this_winter"] is None


def test_what_falls_soon_after_a_treatment_of_one_day_is_of_it():
    def told(form, days):
        rows = [
            ("2026-07-01", {"mites.last_active": "oxalic", "mites.form": form}),
            (str(dt.date(2026, 7, 1) + dt.timedelta(days=days)), {"mites.drop_per_day": 14}),
        ]
        return story(rows)[0]["mites.drop_of_treatment"]

    assert told("dribble", 8) is True and told("dribble", 20) is True and told("dribble", 21) is False
    assert told("vapour", 8) is True and told("vapour", 13) is True and told("vapour", 14) is False
    assert told("dribble", 0) is False, "the tray of that morning"
    alone, _ = story([("2026-07-01", {"mites.last_active": "oxalic", "mites.form": "dribble"})])
    assert alone["mites.drop_of_treatment"] is None


def test_never_treated_and_not_known():
    told, _ = story([], {"mites.last_active": "none"})
    assert told["mites.courses_this_year"] == 0 and told["mites.dribbled_this_winter"] is False
    told, _ = story([], {"mites.in_hive": "none"})
    assert told["mites.courses_this_year"] is None and told["mites.last_active"] is None


def test_courses_older_than_a_year_are_not_counted():
    told, _ = story(
        [
            ("2025-08-01", {"mites.in_hive": "amitraz"}),
            ("2025-09-20", {"mites.in_hive": "none"}),
            ("2026-02-01", {"mites.in_hive": "formic"}),
            ("2026-02-20", {"mites.in_hive": "none"}),
        ]
    )
    assert told["mites.courses_this_year"] == 1
    assert len(courses(history([("2025-08-01", {"mites.in_hive": "amitraz"})]), 0)) == 1


def test_unknown_values_are_left_out():
    found = History(WORDS, ["a"], 10)
    found.add(0, "food.stores_kg", 5, float("nan"))
    assert found.entries(0, "food.stores_kg") == [] and list(found.facts()) == []

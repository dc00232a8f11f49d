"""The ranking file: what it holds, and every mistake in it named with its place."""

import datetime as dt
import math

import pytest
from plan_kit import table, weights, words

from hiveweek import content
from hiveweek.plan import ranking
from hiveweek.plan.words import Filler, value
from hiveweek.problems import InputProblems
from hiveweek.texts.speaker import IMPERIAL

SHIPPED = (content.root() / "rulesets" / "ranking.yaml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("old", "new", "code", "nearest"),
    [
        ("colony.robbed: {true: 0.02}", "colony.robed: {true: 0.02}", "unknown-fact", "colony.robbed"),
        ("food.heft: {light: 0.12", "food.heft: {lite: 0.12", "unknown-value", "light"),
        ("colony.robbed: {true: 0.02}", "colony.robbed: {true: 1.02}", "out-of-range", ""),
        ("food.days_left: 0.1", "food.days_lft: 0.1", "unknown-fact", "food.days_left"),
        ("looks: [heft-hive,", "looks: [heft-hives,", "unknown-action", "heft-hive"),
        ("  robbing: [stop-robbing", "  robbin: [stop-robbing", "unknown-guard", "robbing"),
        ("  attacks-alone: [get-help]", "  attacks-alone: [get-helpp]", "unknown-action", "get-help"),
        ("looks_at_suspicion: [brood-", "looks_at_suspicion: [broood-", "unknown-action", "brood-disease-check"),
        ('  standstill: "Ask the authority whether and when it may be done."', "  standstill: [3]", "wrong-type", ""),
        ("  first_pollen:", "  first_polen:", "unknown-event", "first_pollen"),
        (
            "  swarm-inspection: {fact: season.swarming, values: [true]}",
            "  swarm-inspection: {fact: season.phase, values: [summer]}",
            "unknown-value",
            "",
        ),
        (
            "frames_cost_more: {frames_in_dearth_pts",
            "frames_cost_more: {frames_in_drought_pts",
            "unknown-cost",
            "frames_in_dearth_pts",
        ),
        ("colony.queen == virgin", "colony.queen == virgn", "unknown-value", "virgin"),
        ("feeds: [feed-candy", "feeds: [feed-candies", "unknown-action", "feed-candy"),
        ('  under-suspicion: {say: "Another', '  under-suspicion: {words: "Another', "missing-key", "say"),
        ("  suspect-here: {suspicion: true", "  suspect-here: {suspicious: true", "unknown-key", ""),
        ("leave_closed_in: {any: [season.cold,", "leave_closed_in: {any: [season.colt,", "unknown-fact", "season.cold"),
    ],
)
def test_each_mistake_is_named_with_its_line(tmp_path, old, new, code, nearest):
    assert old in SHIPPED
    path = tmp_path / "ranking.yaml"
    path.write_text(SHIPPED.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(InputProblems) as caught:
        ranking.load(words(), path)
    found = [p for p in caught.value.problems if p.code == code]
    assert found and all(p.line > 1 for p in found)
    assert any(nearest in p.message for p in found)


def test_an_empty_file_and_a_missing_one_are_told(tmp_path):
    (tmp_path / "empty.yaml").write_text("", encoding="utf-8")
    for name in ("empty.yaml", "none.yaml"):
        with pytest.raises(InputProblems):
            ranking.load(words(), tmp_path / name)


def test_shares_of_every_fact_sum_to_one():
    for fact, shares in weights().chances.items():
        assert math.isclose(sum(shares.values()), 1.0), fact
        assert set(shares) == (
            {"true", "false"} if words().facts[fact].kind == "yes_no" else set(words().facts[fact].values)
        )


@pytest.mark.parametrize(
    ("opens", "high", "more", "cost"),
    [
        # the table of opening costs, row by row
        ("nothing", -20, [], 0),
        ("lid", 3, [], 0.3),
        ("lid", 2.9, [], 1),
        ("lid", -5, [], 1),
        ("lid", -5.1, [], 3),
        ("frames", 14, [], 0.5),
        ("frames", 13.9, [], 1.5),
        ("frames", 9.9, [], 6),
        ("frames", 25, ["frames_in_dearth_pts"], 1.5),
        ("frames", 25, ["frames_with_new_queen_pts"], 5),
        ("frames", 25, ["frames_in_dearth_pts", "frames_with_new_queen_pts"], 5),
        ("frames", 9.9, ["frames_in_dearth_pts"], 6),
        ("lid", 3, ["frames_in_dearth_pts"], 0.3),
        ("frames", None, [], 1.5),
    ],
)
def test_opening_costs(opens, high, more, cost):
    assert weights().opening_cost(opens, high, more) == cost


def test_values_in_words():
    facts = words().facts
    assert str(value(facts["colony.alive"], math.nan)) == "not known"
    assert str(value(facts["season.phase"], facts["season.phase"].encode("late_winter"))) == "late winter"
    day = dt.date(2026, 3, 30)
    assert str(value(facts["food.empty_on"], float(day.toordinal()), dt.date(2026, 1, 1))) == "30 March"
    assert str(value(facts["food.empty_on"], float(day.toordinal()), dt.date(2025, 12, 1))) == "30 March 2026"


def test_a_unit_that_the_text_goes_on_with_is_not_said_twice():
    built = table({"H": {"food.candy_kg": 2.5, "food.days_left": 1.0}})
    filler = Filler(built, {}, dt.date(2026, 3, 10))
    assert (
        str(filler.fill("{food.candy_kg} kg for {food.days_left} days or {food.days_left}", {None: 0})[0])
        == "2.5 kg for 1 day or 1 day"
    )
    assert str(filler.fill("{food.no_such} stays", {None: 0})[0]) == "{food.no_such} stays"


@pytest.mark.parametrize(
    ("text", "facts", "said"),
    [
        ("reared in about {season.weeks_to_flow}. Count.", {"season.weeks_to_flow": 0.0}, "reared now. Count."),
        ("the flow is on or about {season.weeks_to_flow} away.", {"season.weeks_to_flow": 0.0}, "the flow is on."),
        ("about {season.weeks_to_flow} away", {"season.weeks_to_flow": 1.0}, "about 1 week away"),
        ("about {season.weeks_to_flow} ahead", {"season.weeks_to_flow": 99.0}, "none ahead here ahead"),
        (
            "between {mites.per_100_low} and {mites.per_100_high}",
            {"mites.per_100_low": 2.8, "mites.per_100_high": 8.1},
            "between 2.8 and 8.1 mites per 100 bees",
        ),
        (
            "{food.days_left} and {season.weeks_to_flow}",
            {"food.days_left": 4.0, "season.weeks_to_flow": 3.0},
            "4 days and 3 weeks",
        ),
        ("{hive.supers} supers", {"hive.supers": 1}, "1 super"),
        ("the chance is {mites.chance_over_limit}", {"mites.chance_over_limit": 0.3}, "the chance is about 3 in 10"),
        ("a mean of 15 degC", {}, "a mean of 15 °C"),
    ],
)
def test_figures_read_as_people_say_them(text, facts, said):
    assert str(Filler(table({"H": facts}), {}, dt.date(2026, 3, 10)).fill(text, {None: 0})[0]) == said


def test_a_step_of_a_fact_is_a_step():
    filler = Filler(table({"H": {"weather.high_c": 3.0}}), {}, dt.date(2026, 3, 10))
    warmer, high = (filler.fill(t, {None: 0})[0] for t in ("{weather.high_c} warmer", "{weather.high_c} at most"))
    assert IMPERIAL.say(warmer) == "3 °C (5 °F) warmer"
    assert IMPERIAL.say(high) == "3 °C (37 °F) at most"


def test_shares_are_percentages_and_multiples_are_not():
    built = table({"H": {"colony.use_of_space": 0.9, "food.use_ratio": 1.57}})
    filler = Filler(built, {}, dt.date(2026, 3, 10))
    assert str(filler.fill("Bees fill {colony.use_of_space} of the box", {None: 0})[0]) == "Bees fill 90 % of the box"
    assert str(filler.fill("ate {food.use_ratio} times", {None: 0})[0]) == "ate 1.6 times"

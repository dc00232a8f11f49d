"""Walks through days with nothing noted: deadlines hold, trouble stands, and doing ends it (laws D, E and J)."""

import datetime as dt

import numpy as np
import pytest

from hiveweek.facts.scenario import Apiary, Scenario, ScenarioHive
from upkeep.laws.bench import Bench
from upkeep.laws.days import LAWS, days_hold, doing_ends_it, trouble_stands, walk
from upkeep.laws.hives import Hives, Yard
from upkeep.laws.run import run

BENCH = Bench()


def test_the_laws_hold_along_the_days():
    """A few hives here; ``python -m upkeep.laws --law D,E,J`` tries as many as one likes."""
    tally = run(["D", "E", "J"], 12, 7, BENCH)
    assert tally.hives >= 12 and not any(tally.broken.values()), dict(tally.kinds)


def yard(facts, climate="cool_continental", date=dt.date(2026, 8, 10), site=None):
    hive = ScenarioHive("H1", {"hive.size": "single", "hive.frames": 10, "colony.alive": True, **facts})
    return Yard(Scenario("one hive", climate, date, [hive], Apiary("yard", site or {})), [()])


def test_a_walk_answers_each_day_as_it_would_be_answered_alone():
    made = Hives(BENCH.words, np.random.default_rng(3)).yard(4, "boreal", dt.date(2026, 7, 5))
    for answered in walk(BENCH, made, (0, 9, 30)):
        alone = BENCH.answer(walk(BENCH, made, (0,))[0].yard, answered.date)
        assert [told.hive["advice"] for told in answered.told] == [told.hive["advice"] for told in alone.told]


def test_the_weather_that_a_yard_gives_is_that_of_its_week_alone():
    (first, later) = walk(BENCH, yard({}, site={"weather.high_c": 35.0}), (0, 3))
    assert first.plan.weather["high_c"] != 35.0 and later.date - first.date == dt.timedelta(days=3)


def test_what_is_due_for_months_is_late_and_its_day_does_not_move_on():
    made = yard({"food.feed_on": "thick_syrup", "food.feed_taken": "untouched", "mites.in_hive": "amitraz"})
    for answered in walk(BENCH, made, (100, 107, 150)):
        strips = answered.told[0].advice["remove-treatment"]
        assert (strips["due_by"], strips["overdue"], strips["by"]) == (None, True, answered.date.isoformat())
        assert strips["due_before"] is not None


def test_a_course_is_not_on_the_card_of_a_dead_hive():
    facts = {"mites.in_hive": "formic", "colony.frames_of_bees": 8.0}
    courses = [
        walk(BENCH, yard({**facts, "colony.alive": alive}), (0,))[0].told[0].hive["courses"] for alive in (True, False)
    ]
    assert courses[0] and not courses[1]


MITES = {"mites.sample_mites": 12, "mites.sample_bees": 300, "mites.method": "wash", "colony.frames_of_bees": 8.0}


def test_what_comes_first_in_a_visit_keeps_the_day_of_what_follows_it():
    brood = {"colony.frames_of_brood": 5, "colony.queen": "seen", "colony.eggs": True, "colony.sealed_brood": True}
    made = yard({**MITES, **brood, "hive.supers": 0, "food.stores_kg": 14.0}, site={"site.disease_nearby": True})
    days = set()
    for answered in walk(BENCH, made, (0, 1, 3, 8)):
        look, treatment = (answered.told[0].advice[name] for name in ("brood-disease-check", "treat-mites"))
        assert treatment["follows"]["action"] == "brood-disease-check"
        assert look["due_since"] <= look["due_by"] <= treatment["due_by"]
        days.add(look["due_by"])
    assert len(days) == 1
    assert not list(days_hold(BENCH, made))


def broken(law, made, monkeypatch, change):
    """Return what a law finds where the answers of a yard are changed on their way."""
    kept = BENCH.answer

    def answer(*args, **more):
        found = kept(*args, **more)
        for told in found.told:
            told.hive = {**told.hive, "advice": [dict(a) for a in told.hive["advice"]]}
            told.__dict__.pop("advice", None)
            told.__dict__.pop("actions", None)
            change(found.date, told.hive)
        return found

    BENCH.forget()
    monkeypatch.setattr(BENCH, "answer", answer)
    return [one.kind for one in law(BENCH, made)]


def test_a_deadline_that_moves_with_the_day_of_asking_is_found(monkeypatch):
    def slide(day, hive):
        for advice in hive["advice"]:
            if advice["action"] == "treat-mites":
                advice["due_by"] = (day + dt.timedelta(days=7)).isoformat()

    made = yard(MITES)
    assert not [one for one in days_hold(BENCH, made) if "treat-mites" in one.kind]
    assert "due_by moves treat-mites" in broken(days_hold, made, monkeypatch, slide)


def test_a_trouble_that_vanishes_is_found(monkeypatch):
    def forget(day, hive):
        if day > dt.date(2026, 8, 20):
            for name in ("advice", "look_first", "withheld"):
                hive[name] = [one for one in hive[name] if "mite" not in one["action"]]

    made = yard(MITES)
    assert not [one for one in trouble_stands(BENCH, made) if one.kind == "silent mites"]
    assert "silent mites" in broken(trouble_stands, made, monkeypatch, forget)


def test_a_job_that_is_asked_for_again_is_found(monkeypatch):
    made = yard({"hive.tilt": "backward", "food.stores_kg": 20.0, "colony.frames_of_bees": 8.0}, "cool_maritime")
    job = walk(BENCH, made, (0,))[0].told[0].advice["tilt-forward"]
    assert not list(doing_ends_it(BENCH, made, [job]))
    effects = BENCH.words.effects
    monkeypatch.setitem(
        effects, "tilt-forward", type(effects["tilt-forward"])()
    )  # it changes nothing and is quiet for no day
    BENCH.forget()
    kinds = {one.kind for one in doing_ends_it(BENCH, made, [job])}
    assert kinds == {"asked for the same reason tilt-forward"}


def test_jobs_whose_reason_lasts_are_not_asked_again_once_done():
    """Shade beside formic acid, combs changed against mummies, a plan for mites in fixed combs: each is noted as done."""
    found = {
        "shade-hive": {"mites.in_hive": "formic"},
        "replace-old-comb": {"health.chalk_mummies": "many", "health.ropy_larvae": False},
        "protect-stored-comb": {"colony.alive": False, "colony.death_cause": "starved"},
        "plan-mite-treatment": {"hive.type": "fixed_comb", "mites.drop_per_day": 60.0},
    }
    usual = {"hive.size": "single", "hive.frames": 10, "colony.alive": True, "colony.frames_of_bees": 8.0}
    hives = [ScenarioHive(action, {**usual, **facts}) for action, facts in found.items()]
    made = Yard(Scenario("a yard", "humid_subtropical", dt.date(2026, 6, 20), hives, Apiary("yard", {})), [()] * 4)
    (first,) = walk(BENCH, made, (0,))
    jobs = [first.told[row].advice[action] for row, action in enumerate(found)]
    assert not list(doing_ends_it(BENCH, made, jobs))


def test_a_fire_ban_that_nobody_noted_again_is_asked_for():
    (later,) = walk(BENCH, yard({"weather.fire_ban": True}), (4,))
    told = later.told[0]
    assert told.fact("weather.fire_ban") is None
    assert "update-records" in [*told.actions, *(look["action"] for look in told.hive["look_first"])]


@pytest.mark.parametrize("said", [{"colony.eggs": False}, {}])
def test_a_trouble_whose_note_grew_old_is_looked_for(said):
    """Also where it only followed from what was noted: youngest brood older than an egg means no eggs."""
    facts = {**said, "colony.queen": "not_seen", "colony.youngest_brood": "old_larvae", "food.stores_kg": 20.0}
    first, later = walk(BENCH, yard(facts, date=dt.date(2026, 6, 10)), (0, 20))
    assert "no-eggs" in [trouble.id for trouble in first.told[0].troubles]
    assert later.told[0].fact("colony.eggs") is None
    assert {"full-inspection", "brood-disease-check", "swarm-inspection"} & set(later.told[0].actions)


@pytest.mark.parametrize("bees", [10.0, None])
def test_food_that_is_not_known_any_more_because_a_flow_may_have_filled_it_is_looked_for(bees):
    """What they may have carried in widens the range until it says nothing: hunger, or the look at it, gives way to a look."""
    made = yard(
        {"food.stores_kg": 6.0 if bees else 1.0, "colony.frames_of_bees": bees}, "subarctic", dt.date(2026, 6, 22)
    )
    first, later = walk(BENCH, made, (10, 29))
    assert {"heft-hive", "lid-check", "feed-thin-syrup"} & set(first.told[0].actions)
    assert first.told[0].fact("food.stores_kg") is not None and later.told[0].fact("food.stores_kg") is None
    assert {"heft-hive", "lid-check", "full-inspection"} & set(later.told[0].actions)


def test_a_weight_that_never_told_the_food_is_taken_anew():
    """Neither the boxes' own weight nor the bees are known."""
    (later,) = walk(BENCH, yard({"hive.size": None, "food.hive_weight_kg": 50.0}), (20,))
    assert later.told[0].fact("food.stores_kg") is None and "heft-hive" in later.told[0].actions


def test_what_no_look_can_tell_in_winter_waits_and_says_so():
    facts = {"colony.queen_cells": "capped", "colony.queen": "not_seen", "colony.eggs": False, "stock.queens": 0}
    first, later = walk(BENCH, yard(facts, date=dt.date(2026, 10, 31)), (20, 42))
    assert "order-queen" in first.told[0].actions  # the virgin of a November finds no drones
    assert later.told[0].fact("colony.queen") is None
    assert "too long ago to act on" in later.told[0].withheld["order-queen"]["because"]


def test_cells_count_until_they_turn():
    """Emergency cells of 8 August hold a queen until the 21st: what was asked because of them is asked until then."""
    facts = {"colony.youngest_brood": "eggs", "colony.queen": "seen", "colony.queen_cells": "emergency"}
    made = yard(facts, "dry_cold_prairie", dt.date(2026, 8, 8))
    first, later = walk(BENCH, made, (7, 8))
    assert later.told[0].fact("colony.queen_cells") is not None
    assert "swarm-inspection" in first.told[0].actions and "swarm-inspection" in later.told[0].actions


def test_a_super_is_not_forgotten_where_a_flow_that_nobody_noted_again_had_spoken_for_it():
    """The flow lets a hive with a virgin have one; its note keeps a week, hers longer."""
    facts = {"colony.queen": "virgin", "food.nectar": "strong", "colony.frames_of_bees": 10.0, "hive.supers": 0}
    made = yard({**facts, "food.stores_kg": 14.0, "colony.queen_cells": "none"}, date=dt.date(2026, 5, 20))
    first, later = walk(BENCH, made, (7, 8))
    assert "add-super" in first.told[0].actions and later.told[0].fact("food.nectar") is None
    told = [unlock["action"] for one in later.plan.hives[0].look_first for unlock in one.unlocks]
    assert "add-super" in {*told, *later.told[0].withheld}


def test_a_look_that_is_noted_as_done_is_not_asked_for_the_next_day():
    made = yard(
        {"colony.queen": "seen", "colony.eggs": False, "colony.youngest_brood": "none"}, date=dt.date(2026, 6, 10)
    )
    look = walk(BENCH, made, (0,))[0].told[0].advice["full-inspection"]
    assert not list(doing_ends_it(BENCH, made, [look]))


def test_the_three_laws_are_named():
    assert [law.LAW for law in LAWS] == ["D", "E", "J"]

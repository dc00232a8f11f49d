"""The order of jobs at one hive: chains by active and state, read from a file, checked for circles, kept in the list."""

import datetime as dt
import io
import shutil

import pytest
from hypothesis import given
from hypothesis import strategies as st
from plan_kit import scenario, words

from hiveweek import content, rules
from hiveweek.climate import load_profile
from hiveweek.facts import Apiary, Scenario, ScenarioHive
from hiveweek.plan.answer import answer
from hiveweek.plan.model import Advice
from hiveweek.plan.order import Order, lifted
from hiveweek.problems import InputProblems
from hiveweek.show import json, page, week
from hiveweek.show.text import Page

DAY = dt.date(2026, 9, 1)  # the feed for winter is due, and so are the mites
# A hive over its limit that has its winter food still to come: the two great jobs of late summer.
DUE = {
    "hive.size": "single",
    "hive.frames": 10,
    "hive.supers": 0,
    "hive.entrance": "full",
    "food.feed_on": "none",
    "mites.in_hive": "none",
    "colony.frames_of_bees": 9,
    "colony.frames_of_brood": 3,
    "colony.queen": "seen",
    "colony.eggs": True,
    "colony.sealed_brood": True,
    "colony.brood_pattern": "solid",
    "colony.deformed_wings": False,
    "food.nectar": "none",
    "mites.sample_mites": 14,
    "mites.sample_bees": 300,
    "mites.method": "wash",
}


def asked(climate="cool_continental", date=DAY, **facts):
    hive = ScenarioHive("A", {**DUE, **facts}, [])
    return answer(Scenario("t", climate, date, [hive], Apiary("t", {})), offline=True, second_channel=False).plan


def order(plan, *names):
    return [a.action for a in plan.hives[0].advice if a.action in names]


def follows(plan, action):
    return next(a.follows for a in plan.hives[0].advice if a.action == action)


def fitting(plan):
    return {o["active"] for a in plan.hives[0].advice for o in a.options if o["allowed"]}


def test_contact_strips_honey_off_then_treat_then_feed():
    supers = {"hive.supers": 1, "harvest.super_frames_full": 8, "harvest.capped_pct": 95, "harvest.moisture_pct": 17.0}
    plan = asked(**{"food.stores_kg": 10.0, "weather.high_c": 24.0, "weather.open_high_c": 24.0}, **supers)
    assert "amitraz" in fitting(plan)
    three = order(plan, "take-honey", "treat-mites", "feed-thick-syrup", "feed-thin-syrup")
    assert three[:2] == ["take-honey", "treat-mites"]
    assert follows(plan, "treat-mites").action == "take-honey" and follows(plan, "treat-mites").until is None
    plan = asked(**{"food.stores_kg": 10.0, "weather.high_c": 24.0, "weather.open_high_c": 24.0})
    assert order(plan, "treat-mites", "feed-thick-syrup") == ["treat-mites", "feed-thick-syrup"]
    assert follows(plan, "feed-thick-syrup").action == "treat-mites"
    assert follows(plan, "feed-thick-syrup").until is None  # food may stay beside strips: one visit


def test_a_hungry_hive_is_fed_first():
    plan = asked(**{"food.stores_kg": 1.5, "weather.high_c": 24.0, "weather.open_high_c": 24.0})
    fed = next(a.action for a in plan.hives[0].advice if a.action.startswith("feed-"))
    assert order(plan, "treat-mites", fed) == [fed, "treat-mites"]
    assert follows(plan, "treat-mites").action == fed


WARM = {"weather.high_c": 27.0, "weather.low_c": 14.0, "weather.open_high_c": 27.0}


def test_formic_has_its_food_before_and_none_during(tmp_path):
    # British pack: good stores before, no feed during the course of seven days
    plan = registered(tmp_path, ["formic"], **{"food.stores_kg": 10.0}, **WARM)
    assert fitting(plan) == {"formic"}
    assert order(plan, "treat-mites", "feed-thick-syrup") == ["treat-mites", "feed-thick-syrup"]
    assert follows(plan, "feed-thick-syrup").until == DAY + dt.timedelta(days=7)


def test_thymol_takes_part_of_the_feed_first(tmp_path):
    # German product text: part of the feed before, none beside it, the rest after
    plan = registered(tmp_path, ["thymol"], **{"food.stores_kg": 10.0}, **WARM)
    assert fitting(plan) == {"thymol"}
    assert order(plan, "treat-mites", "feed-thick-syrup") == ["feed-thick-syrup", "treat-mites"]
    assert follows(plan, "treat-mites").until == DAY + dt.timedelta(days=3)


def registered(tmp_path, actives, **facts):
    """The answer where only these actives are options at all."""
    profile = load_profile("cool_continental")
    ruleset = rules.load(profile, vocabulary=words())
    ruleset.options = {name: option for name, option in ruleset.options.items() if option.active in actives}
    hive = ScenarioHive("A", {**DUE, **facts}, [])
    scenario = Scenario("t", profile.id, DAY, [hive], Apiary("t", {}))
    return answer(scenario, offline=True, second_channel=False, ruleset=ruleset).plan


def test_points_stay_what_they_are_and_the_rest_stands_by_them():
    plan = asked(**{"food.stores_kg": 10.0, "hive.supers": 1, "harvest.super_frames_full": 8, "harvest.capped_pct": 95})
    advice = plan.hives[0].advice
    first = {a.follows.action for a in advice if a.follows}
    rest = [(a.band, -a.points) for a in advice if a.action not in first and a.origin != "closed"]
    assert first and rest == sorted(rest)
    for one in advice:
        assert one.points == pytest.approx(one.gain_pts * one.urgency * one.certainty, abs=0.006)


def test_card_page_and_json_say_then(tmp_path):
    plan = registered(tmp_path, ["formic"], **{"food.stores_kg": 10.0}, **WARM)
    file = io.StringIO()
    week.show(Page(file), plan, words())
    said = "Then, after 'treat against mites', not before 8 September: Formic acid bears no feed beside it"
    assert said in " ".join(file.getvalue().split())
    assert "not before 8 September" in page.html(plan, words())
    fed = next(a for a in json.week(plan)["hives"][0]["advice"] if a["action"] == "feed-thick-syrup")
    assert fed["follows"] == {"action": "treat-mites", "until": "2026-09-08"}


# --- lifting -----------------------------------------------------------------------------------------------------------
@given(
    st.integers(0, 9).flatmap(lambda n: st.permutations(range(n))),
    st.sets(st.tuples(st.integers(0, 9), st.integers(0, 9))),
)
def test_each_comes_after_what_must_come_first_and_nothing_is_lost(ranked, pairs):
    pairs = {(a, b) for a, b in pairs if a < b and a in ranked and b in ranked}  # a before b; never in a circle
    found = lifted(ranked, lambda item: [a for a, b in pairs if b == item])
    assert sorted(found) == sorted(ranked)
    assert all(found.index(a) < found.index(b) for a, b in pairs)
    free = [n for n in ranked if not any(n in pair for pair in pairs)]
    assert [n for n in found if n in free] == free


def test_what_comes_first_is_lifted_to_stand_just_before_what_follows():
    assert lifted([1, 2, 3, 4], lambda item: [4] if item == 2 else []) == [1, 4, 2, 3]


def test_of_several_that_come_first_the_late_ones_come_after_the_rest():
    before = {3: [1, 2]}
    assert lifted([3, 1, 2], lambda item: before.get(item, [])) == [1, 2, 3]
    assert lifted([3, 1, 2], lambda item: before.get(item, []), lambda item: item == 1) == [2, 1, 3]


def test_weighing_comes_before_the_treatment_where_both_come_before_the_feed():
    """No food by the kilograms, heavy by the hand: a minute's weighing tells whether anything is left to eat."""
    yard = scenario(
        "date: 2026-07-16\nhives:\n  - id: Ash\n    facts: {colony.frames_of_bees: 10.0, food.heft: heavy, hive.size: single,"
        " mites.drop_per_day: 60, food.stores_kg: 0}\n",
        "alpine_valley",
    )
    told = answer(yard, offline=True, second_channel=False, words=words()).plan.hives[0].advice
    actions = [one.action for one in told]
    assert actions.index("weigh-hive") < actions.index("treat-mites") < actions.index("feed-thick-syrup")


def test_a_look_whose_day_is_always_today_moves_no_deadline_with_it():
    """The inspection asked because notes grew old says 'today' on every day; the newspaper keeps its own last day."""
    yard = scenario(
        "date: 2026-10-25\nhives:\n  - id: Joined\n    facts_on: 2026-10-10\n    facts: {hive.size: single, hive.frames: 10,"
        " hive.supers: 0, hive.frame: deep, colony.frames_of_bees: 9, colony.frames_of_brood: 6, food.stores_kg: 9}\n"
        "    record: [{date: 2026-10-15, done: unite-colonies}]\n",
        "southern_cold_maritime",
    )
    due = set()
    for day in (25, 26, 27, 28):
        plan = answer(yard, date=dt.date(2026, 10, day), offline=True, second_channel=False, words=words()).plan
        told = {one.action: one for one in plan.hives[0].advice}
        due.add(told["clear-newspaper"].due_by)
    assert due == {dt.date(2026, 10, 29)}


# --- the file ----------------------------------------------------------------------------------------------------------
@pytest.fixture(scope="module")
def shipped():
    return rules.load(load_profile("cool_continental"), vocabulary=words())


def test_every_chain_names_actions_and_says_why(shipped):
    assert len(shipped.order) > 20
    for chain in shipped.order:
        for way in chain.ways:
            assert set(way.before) | set(way.after) <= set(words().actions)
            assert not set(way.before) & set(way.after), chain.id
            assert way.why.endswith(".") and way.source, chain.id
            assert set(way.fits) <= {option.active for option in shipped.options.values()}


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ("before: [swarm-inspection]", "before: [swarm-inspecton]", "unknown-action"),
        (
            '    after: [add-super]\n    why: "A super alone',
            '    after: [swarm-inspection]\n    why: "A super alone',
            "cycle",
        ),
        ("before: [order-queen]\n    after: [requeen]", "before: [requeen]\n    after: [give-test-frame]", "cycle"),
        ("when: course.no_feed", "when: course.no_fed", "unknown-fact"),
        ("when: course.no_feed", "when: finding.no-such", "unknown-finding"),
        ("- id: out-before-supers", "- id: out-before-feed", "duplicate-id"),
        ("  solid: [feed-candy", "  feed-candy: [feed-candy", "duplicate-id"),
        ("source: [T58]", "source: [T58x]", "unknown-source"),
        ("fits: [thymol]", "fits: [thymo]", "unknown-active"),
    ],
)
def test_a_mistake_in_the_file_is_told_with_its_place(tmp_path, old, new, code):
    folder = tmp_path / "rulesets"
    shutil.copytree(content.root() / "rulesets", folder)
    path = folder / "vocabulary" / "order.yaml"
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))
    with pytest.raises(InputProblems) as caught:
        rules.load(load_profile("cool_continental"), vocabulary=words(), folder=folder)
    found = [p for p in caught.value.problems if p.file.endswith("order.yaml")]
    assert code in {p.code for p in found} and all(p.line > 1 for p in found)
    assert len(found) <= 4


def test_a_day_that_went_by_before_the_farthest_that_was_asked_is_not_moved_on_by_what_follows():
    today, later = dt.date(2026, 5, 5), dt.date(2026, 5, 15)
    strips = Advice("remove-treatment", "a.out", by=today, due_before=dt.date(2026, 2, 9))
    strips.due_with(Advice("count-mites", "b.count", by=later, due_by=later), today)
    assert (strips.due_by, strips.by) == (None, today)


def test_what_follows_in_one_visit_gives_its_day_whatever_may_be_used():
    """The day of a way stays though other actives may be used by then; of two ways for the same jobs the first holds."""

    def follow(action, **facts):
        hive = ScenarioHive("A", {**DUE, **facts}, [])
        found = answer(
            Scenario("t", "cool_continental", DAY, [hive], Apiary("t", {})), offline=True, second_channel=False
        )
        return set(Order(found.inference, DAY).follow(0, action))

    assert "feed-thick-syrup" in follow("treat-mites", **{"food.stores_kg": 14})
    assert "treat-mites" not in follow("feed-thick-syrup", **{"food.stores_kg": 14})
    hungry = {"food.stores_kg": 2}
    assert "treat-mites" in follow("feed-thick-syrup", **hungry)
    assert "feed-thick-syrup" not in follow("treat-mites", **hungry)

"""Looks: which facts would decide an advice, and by what action they are looked at."""

import datetime as dt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plan_kit import TODAY, Book, act, actions, weights, words

from hiveweek.inference.columnar import infer
from hiveweek.language.truth import Truth
from hiveweek.plan.deciding import FAILS, KNOWN, Deciding
from hiveweek.rules.model import Target

WARM = {"colony.alive": True, "weather.open_high_c": 20.0, "colony.frames_of_bees": 8.0}


def _looks(plan, hive=0):
    found = plan.hives[hive]
    return {a.action: a for a in found.advice if a.origin == "look"} | {k.action: k for k in found.look_first}


def test_an_undecided_rule_leads_to_the_look_that_decides_it():
    book = Book()
    book.rule("d.lid", "moisture.lid == dripping", "dry-the-lid", gain=40, by=0)
    plan = book.plan({"H": {**WARM, "season.phase": "late_winter"}})
    advice = plan.hives[0].advice[0]
    assert (advice.action, advice.facts, advice.rule) == ("lid-check", ["moisture.lid"], "d.lid")
    # 7 in 100 lids drip (ranking file): 40 x 0.07, less 0.3 for a warm lid
    assert advice.points == pytest.approx(40 * 0.07 - 0.3, abs=0.02)
    assert advice.points == round(advice.gain_pts * advice.urgency * advice.certainty, 2)


def test_a_rule_that_is_decided_false_needs_no_look():
    book = Book()
    book.rule("d.lid", ["moisture.lid == dripping", "food.days_left < 7"], "dry-the-lid", gain=90, by=0)
    plan = book.plan({"H": {**WARM, "food.days_left": 60.0}})
    assert _looks(plan) == {}


def test_what_fails_only_in_doubt_is_looked_at():
    book = Book()
    book.rule("f.candy", "food.days_left < 14", "feed-candy", gain=55, by=0)
    plan = book.plan({"H": {**WARM, "food.days_left": (17.0, 9, 25)}})
    look = plan.hives[0].advice[0]
    assert look.action in ("heft-hive", "weigh-hive") and look.facts
    # 17 with a spread of 8 / 1.96 = 4.08: under 14 with 0.23 (normal table)
    assert look.certainty == pytest.approx(0.231, abs=0.003)
    sure = book.plan({"H": {**WARM, "food.days_left": (40.0, 30, 50)}})
    assert _looks(sure) == {}


def test_a_doubt_that_lies_in_the_model_is_not_looked_at():
    book = Book()
    book.rule("f.feed", "food.shortfall_kg > 0", "feed-candy", gain=25, by=0)
    ways = words().facts["food.shortfall_kg"].observed_by
    seen = {
        fact: {"one_of": words().facts[fact].values[-1:] and words().facts[fact].values[0]}.get(
            words().facts[fact].kind, 3
        )
        for way in ways
        for fact in way
        if words().facts[fact].comes_from != "computed"
    }
    doubtful = {**WARM, "food.shortfall_kg": (-1.0, -4, 2)}
    assert _looks(book.plan({"H": doubtful}))
    assert _looks(book.plan({"H": {**doubtful, **seen}})) == {}


def test_findings_are_followed_to_their_facts():
    book = Book()
    book.rule("a.rob", "colony.robbed", finding="robbing")
    book.rule("b.wasps", "colony.wasps == many", finding="robbing")
    book.rule("c.stop", "finding.robbing", "stop-robbing", gain=90, by=0)
    look = book.plan({"H": WARM}).hives[0].advice[0]
    assert look.action == "check-entrance" and set(look.facts) <= {"colony.robbed", "colony.wasps"}


def test_the_least_disturbing_look_is_taken():
    book = Book()
    book.rule("e.dead", "colony.alive == false", "clear-dead-colony", gain=90, by=0)
    look = book.plan({"H": {"weather.open_high_c": 20.0}}).hives[0].advice[0]
    assert look.action == "check-entrance"


def test_a_look_is_itself_subject_to_the_prohibitions():
    book = Book()
    book.rule("q.test", "colony.eggs == false", "give-test-frame", gain=90, by=0)
    book.never("cold", [Target("opens", "frames")], "weather.open_high_c < 10")
    warm = book.plan({"H": WARM})
    assert "full-inspection" in _looks(warm) or "swarm-inspection" in _looks(warm) or _looks(warm)
    cold = book.plan({"H": {**WARM, "weather.open_high_c": 4.0}})
    assert _looks(cold) == {}


def test_no_look_for_an_advice_that_stands_or_that_something_stops():
    book = Book()
    book.rule("f.sure", "food.heft == light", "feed-candy", gain=55, by=0)
    book.rule("f.maybe", "food.reaches_cluster == false", "feed-candy", gain=30, by=0)
    assert _looks(book.plan({"H": {**WARM, "food.heft": "light", "season.phase": "late_winter"}})) == {}
    barred = Book()
    barred.rule("f.maybe", "food.reaches_cluster == false", "feed-candy", gain=90, by=0)
    barred.never("never", [act("feed-candy")], "colony.alive")
    assert _looks(barred.plan({"H": {**WARM, "season.phase": "late_winter"}})) == {}


def test_a_prohibition_that_holds_for_want_of_a_reading_does_not_hide_the_look():
    book = Book()
    book.rule("h.take", "harvest.moisture_pct <= 18", "take-honey", gain=30, by=0)
    book.never("unfit", [act("take-honey")], ["harvest.moisture_pct is unknown", "harvest.capped_pct < 80"])
    looks = _looks(book.plan({"H": {**WARM, "harvest.capped_pct": 50.0}}))
    assert any("harvest.moisture_pct" in look.facts for look in looks.values())


def test_an_advised_look_that_tells_it_anyway_takes_the_place():
    book = Book()
    book.rule("s.look", "colony.alive", "full-inspection", gain=20, by=0)
    book.rule("q.test", "colony.eggs == false", "give-test-frame", gain=40, by=0)
    plan = book.plan({"H": WARM})
    assert actions(plan) == ["full-inspection"] and _looks(plan) == {}


def test_rare_troubles_do_not_fill_the_list():
    book = Book()
    book.rule("z.spray", "site.spray_notice", "prepare-for-spray", gain=30, by=0)
    book.rule("z.bears", "site.bears", "fence-apiary", gain=20, by=0)
    book.rule("z.fire", "weather.fire_ban", "wait-and-recheck", gain=20, by=0)
    assert book.plan({"H": WARM}).hives[0].advice == []


def test_only_the_best_look_joins_the_list():
    book = Book()
    book.rule("f.candy", "food.heft == light", "feed-candy", gain=90, by=0)
    book.rule("r.stop", "colony.robbed", "stop-robbing", gain=90, by=0)
    plan = book.plan({"H": WARM})
    assert actions(plan) == ["heft-hive"]
    assert [k.action for k in plan.hives[0].look_first] == ["check-entrance"]
    assert plan.hives[0].look_first[0].how


def test_a_look_says_what_it_unlocks():
    book = Book()
    book.rule("f.candy", "food.heft == light", "feed-candy", gain=90, by=0)
    advice = book.plan({"H": WARM}).hives[0].advice[0]
    assert advice.unlocks == [{"rule": "f.candy", "action": "feed-candy", "points": pytest.approx(90 * 0.12)}]
    assert "about 1 in 10" in str(advice.because)


def test_a_heavy_dry_hive_at_minus_fifteen_is_left_closed():
    # every look under the lid costs more than it can bring there
    book = Book()
    book.rule("d.lid", "moisture.lid == dripping", "dry-the-lid", gain=10, by=7)
    plan = book.plan(
        {
            "H": {
                "colony.alive": True,
                "weather.open_high_c": -15.0,
                "season.phase": "winter_cluster",
                "season.cold": True,
            }
        }
    )
    assert actions(plan) == ["leave-closed"] and plan.hives[0].look_first == []


def test_a_rules_own_low_chance_is_kept():
    book = Book()
    book.rule("f.candy", "food.days_left < 7", "feed-candy", gain=55, by=0, chance=0.05)
    book.rule("g.candy", "food.days_left < 7", "feed-dry-sugar", gain=55, by=0)
    plan = book.plan({"H": WARM})
    points = {u["rule"]: u["points"] for u in plan.hives[0].advice[0].unlocks}
    assert points["f.candy"] == pytest.approx(2.75) and points["g.candy"] == pytest.approx(
        5.5
    )  # 1 in 10, from the ranking file


def test_two_hive_rules_look_at_the_hive_that_is_not_known():
    book = Book()
    book.rule(
        "h.lend",
        ["hungry.food.days_left < 7", "heavy.food.stores_kg > 20", "heavy.health.ropy_larvae == false"],
        "give-honey-frames",
        gain=60,
        by=0,
        roles=("hungry", "heavy"),
        at="hungry",
    )
    plan = book.plan(
        {
            "low": {**WARM, "food.days_left": 3.0, "food.stores_kg": 1.0},
            "high": {**WARM, "food.stores_kg": 26.0, "food.days_left": 90.0},
        }
    )
    assert plan.hives[0].advice == []
    look = plan.hives[1].advice[0]
    assert look.facts == ["health.ropy_larvae"] and look.unlocks[0]["action"] == "give-honey-frames"


# --- the sets of openings against trying every value -------------------------------------------------------------------------
FACTS = ("colony.robbed", "colony.eggs", "hive.mouse_guard", "hive.excluder")


def _conditions():
    leaf = st.sampled_from(FACTS)
    return st.recursive(
        leaf,
        lambda inner: st.one_of(
            st.fixed_dictionaries({"all": st.lists(inner, min_size=1, max_size=3)}),
            st.fixed_dictionaries({"any": st.lists(inner, min_size=1, max_size=3)}),
            st.fixed_dictionaries({"not": inner}),
        ),
        max_leaves=6,
    )


@settings(max_examples=120, deadline=None)
@given(_conditions(), st.dictionaries(st.sampled_from(FACTS), st.booleans(), max_size=3))
def test_the_sets_are_those_that_trying_every_value_finds(condition, known):
    book = Book()
    book.rule("t.rule", condition, "feed-candy")
    inference = book.infer({"H": known})
    sets = Deciding(inference).rule(book.rules["t.rule"], 0, KNOWN)
    unknown = [f for f in FACTS if f not in known]
    possible = False
    for bits in range(2 ** len(unknown)):
        filled = {**known, **{f: bool(bits >> k & 1) for k, f in enumerate(unknown)}}
        possible |= book.infer({"H": filled}).rules["t.rule"].holds(0)
    fires = inference.rules["t.rule"].holds(0)
    if fires:
        assert sets == [frozenset()]
        return
    if not possible and not sets:
        return
    for openings in sets:
        wanted: dict = {}
        contradicts = False
        for opening in openings:
            fact = opening.facts[0][1]
            contradicts |= wanted.setdefault(fact, opening.wanted) != opening.wanted
        if contradicts:
            continue
        filled = {**known, **wanted}
        assert book.infer({"H": filled}).rules["t.rule"].holds(0), (condition, known, wanted)
    if possible:
        assert sets


@settings(max_examples=60, deadline=None)
@given(st.floats(0, 60), st.floats(0.5, 30), st.integers(1, 60))
def test_the_chance_of_a_doubtful_look_agrees_with_the_inference(value, half, limit):
    book = Book()
    book.rule("t.true", f"food.days_left < {limit}", "feed-candy")
    book.rule("t.false", f"food.days_left >= {limit}", "feed-dry-sugar")
    hives = {"H": {"food.days_left": (value, value - half, value + half)}}
    inference = book.infer(hives)
    for name in ("t.true", "t.false"):
        outcome = inference.rules[name]
        if outcome.at(0)[:2] == (Truth.FALSE, Truth.UNDECIDED):
            deciding = Deciding(inference)
            openings = deciding.rule(book.rules[name], 0, FAILS)[0]
            assert deciding.chance(openings, weights(), 0.5) == pytest.approx(float(outcome.chance[0]), abs=1e-6)


def test_today_is_the_day_of_the_tables():
    assert infer(Book().ruleset(), Book().infer({"H": WARM}).table).rules == {}
    assert TODAY.year == 2026


def test_help_that_is_asked_for_does_not_hide_the_look_for_a_graver_reason_to_ask():
    book = Book()
    book.rule("c.alone", "keeper.helper == false", "get-help", gain=3.0, by=14)
    book.rule("c.starving", ["keeper.helper == false", "food.heft == light"], "get-help", gain=40.0, by=2)
    (hive,) = book.plan({"Ash": {"colony.alive": True, "keeper.helper": False, "weather.open_high_c": 18.0}}).hives
    assert "heft-hive" in {one.action for one in (*hive.advice, *hive.look_first)}


def test_a_look_that_is_advised_is_made_by_the_day_of_the_graver_thing_it_decides():
    lid = {**WARM, "season.phase": "late_winter"}
    book = Book()
    book.rule("r.lid", "colony.frames_of_bees > 2", "lid-check", gain=1.0, by=20)
    book.rule("d.lid", "moisture.lid == dripping", "dry-the-lid", gain=40, by=3)
    (look,) = book.plan({"H": lid}).hives[0].advice
    assert (look.action, look.by, look.due_by) == ("lid-check", TODAY + dt.timedelta(3), TODAY + dt.timedelta(20))
    assert look.last_day == look.by and not look.overdue(TODAY)
    # what counts for less than the look itself, and what has more time, changes nothing
    for gain, by in ((10, 3), (40, 30)):
        book.rule("d.lid", "moisture.lid == dripping", "dry-the-lid", gain=gain, by=by)
        (look,) = book.plan({"H": lid}).hives[0].advice
        assert look.by == look.due_by == TODAY + dt.timedelta(20)

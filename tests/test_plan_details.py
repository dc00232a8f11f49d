"""The parts of a plan in small yards, each field worked out by hand."""

import dataclasses
import datetime as dt
import json
from types import SimpleNamespace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plan_kit import TODAY, Book, Calendar, act, actions, table, weights, words

from hiveweek.facts.table import FactTable
from hiveweek.inference.columnar import infer
from hiveweek.plan import Setting, make
from hiveweek.plan.advise import Adviser, tidy
from hiveweek.plan.answer import mark
from hiveweek.plan.deciding import Deciding
from hiveweek.plan.looks import Looks
from hiveweek.plan.model import Advice
from hiveweek.plan.options import _unlisted, details
from hiveweek.plan.safety import Safety
from hiveweek.plan.why import explain, origin_words
from hiveweek.plan.words import Filler, likely, value
from hiveweek.problems import Place
from hiveweek.rules.model import Deadline, Target
from hiveweek.show import json as as_json

DAY = dt.timedelta(days=1)


def said(plan, hive=0):
    return [(w.action, w.rule, w.kind, str(w.because), w.waits) for w in plan.hives[hive].withheld]


def weather_of(*days, best_day=None, attribution=""):
    """A week's weather as the plan reads it."""
    made = [SimpleNamespace(date=TODAY + i * DAY, tmax=high, precip=rain) for i, (high, rain) in enumerate(days)]
    return SimpleNamespace(basis="forecast", best_day=best_day, days=made, notes=["n"], attribution=attribution)


# --- an advice ------------------------------------------------------------------------------------------------------------
def test_every_field_of_an_advice():
    book = Book()
    book.limit("limit.food.candy_days", 21, "days")
    book.rule(
        "f.candy",
        [
            "food.days_left < limit.food.candy_days",
            {"not": "colony.robbed"},
            {"any": ["hive.gaps", "food.stores_kg < 9"]},
        ],
        "feed-candy",
        gain=40,
        by=21,
        because="Food for {food.days_left}, {colony.frames_of_bees} to feed.",
        amount="{food.candy_kg}",
        safety="Mind the {hive.gaps}.",
        source=("W50", "W1"),
    )
    hive = {
        "colony.alive": True,
        "food.days_left": (12.0, 8, 16.1234),
        "colony.robbed": False,
        "hive.gaps": False,
        "food.stores_kg": 4.0,
        "colony.frames_of_bees": 5.0,
        "food.candy_kg": 2.5,
    }
    advice = book.plan({"H": hive}, unverified=frozenset({("f.candy", "H")})).hives[0].advice[0]
    assert (advice.action, advice.rule, advice.band, advice.origin, advice.order) == (
        "feed-candy",
        "f.candy",
        1,
        "rule",
        1,
    )
    assert (advice.gain_pts, advice.urgency, advice.certainty, advice.points) == (40, 0.5, 1, 20)
    assert advice.by == TODAY + 21 * DAY and str(advice.amount) == "2.5 kg"
    assert str(advice.because) == "Food for 12 days, 5 frames to feed." and str(advice.safety) == "Mind the no."
    assert advice.sources == ["W50", "W1"] and advice.grade == "guide" and advice.loses == "colony"
    seen = f"seen {TODAY.isoformat()}"
    # what made it true, in the order it stands, then what the words read; not the gap, which did not make it true
    assert [(e.fact, e.value, e.low, e.high, e.origin) for e in advice.evidence] == [
        ("food.days_left", 12, 8, 16.123, "computed"),
        ("colony.robbed", False, None, None, seen),
        ("food.stores_kg", 4, 4, 4, seen),
        ("colony.frames_of_bees", 5, 5, 5, seen),
    ]
    assert advice.limits == [{"limit": "limit.food.candy_days", "value": 21.0, "from": "base"}]
    assert advice.facts == list(words().actions["feed-candy"].observes)
    assert advice.unverified and advice.only_on is None and advice.also == [] and advice.partner is None


def test_a_safety_that_the_rule_does_not_say_is_that_of_the_action():
    book = Book()
    book.rule("f.candy", "colony.alive", "feed-candy")
    advice = book.plan({"H": {"colony.alive": True}}).hives[0].advice[0]
    assert str(advice.safety) == words().actions["feed-candy"].safety and advice.amount is None
    assert (advice.by, advice.urgency) == (None, 0.25)


def test_evidence_follows_findings_and_names_the_partner():
    book = Book()
    book.rule("a.no", "colony.robbed", finding="weak")
    book.rule("a.yes", "colony.frames_of_bees < 4", finding="weak")
    book.rule(
        "u.unite",
        ["weak.finding.weak", "weak.colony.frames_of_bees < strong.colony.frames_of_bees", "strong.colony.eggs"],
        "unite-colonies",
        roles=("weak", "strong"),
        at="weak",
        because="{partner} takes {weak}: {strong.colony.frames_of_bees} against {weak.colony.frames_of_bees}.",
    )
    hives = {
        "A": {"colony.alive": True, "colony.frames_of_bees": 2.0, "colony.robbed": False},
        "B": {"colony.alive": True, "colony.frames_of_bees": 9.0, "colony.eggs": True},
    }
    advice = book.plan(hives).hives[0].advice[0]
    assert (advice.partner, advice.partner_row) == ("B", 1)
    assert str(advice.because) == "B takes A: 9 frames against 2 frames."
    assert [(e.fact, e.value) for e in advice.evidence] == [
        ("colony.frames_of_bees", 2),
        ("strong.colony.frames_of_bees", 9),
        ("strong.colony.eggs", True),
    ]


def test_deadlines_beyond_the_calendar_are_none():
    book = Book()
    book.rule("a.far", "colony.alive", "feed-candy", by=Deadline("fact", "food.empty_on", 10))
    plan = book.plan({"H": {"colony.alive": True, "food.empty_on": dt.date.max}})
    assert plan.hives[0].advice[0].by is None


def test_values_as_plain_data():
    facts = words().facts
    assert tidy(facts["food.stores_kg"], float("nan")) is None and tidy(facts["food.stores_kg"], None) is None
    assert tidy(facts["food.stores_kg"], 2.00049) == 2 and isinstance(tidy(facts["food.stores_kg"], 2.00049), int)
    assert tidy(facts["food.stores_kg"], 2.0005001) == 2.001 and tidy(facts["food.stores_kg"], 0.12345) == 0.123
    assert isinstance(tidy(facts["food.stores_kg"], 1e15), float)
    assert tidy(facts["food.empty_on"], float(TODAY.toordinal())) == TODAY.isoformat()
    assert tidy(facts["food.heft"], 0.0) == "light" and tidy(facts["colony.alive"], 1.0) is True


# --- withheld, in place, first ----------------------------------------------------------------------------------------------
def test_what_is_withheld_says_so_in_its_words():
    book = Book()
    book.rule("t.look", "colony.alive", "full-inspection", gain=20)
    book.rule("t.super", "colony.alive", "add-super", gain=20, because="Full.")
    book.rule("t.split", "colony.alive", "split-colony", gain=19, because="Crowded.")
    book.never("p.cold", [act("full-inspection")], "weather.open_high_c < 10", because="It is {weather.open_high_c}.")
    book.never("p.weak", [act("add-super")], "colony.frames_of_bees < 6", unknown="ask", check="count the seams")
    plan = book.plan({"H": {"colony.alive": True, "weather.open_high_c": 4.0}})
    bees = words().facts["colony.frames_of_bees"].label
    assert said(plan)[:2] == [
        ("full-inspection", "t.look", "prohibition", "It is 4 °C.", False),
        ("add-super", "t.super", "prohibition", f"Held back until this is known: {bees}. count the seams.", False),
    ]
    clash = Book()
    clash.rule("t.candy", "colony.alive", "feed-candy", gain=30)
    clash.rule("t.syrup", "colony.alive", "feed-thin-syrup", gain=20, because="Hungry.")
    plan = clash.plan({"H": {"colony.alive": True}})
    label = words().actions["feed-candy"].label
    assert said(plan) == [
        (
            "feed-thin-syrup",
            "t.syrup",
            "clash",
            f"Not together with '{label}', which counts for more here this week. Hungry.",
            False,
        )
    ]


def test_what_stands_in_takes_points_and_day_of_what_it_stands_for():
    book = Book()
    book.rule("t.syrup", "colony.alive", "feed-thin-syrup", gain=30, by=21, because="Hungry.", amount="1 kg")
    book.never(
        "p.cold",
        [act("feed-thin-syrup")],
        "weather.high_c < 10",
        instead=("requeen", "feed-candy"),
        because="Too cold at {weather.high_c}",
    )
    book.never("p.queen", [act("requeen")], "colony.alive")
    advice = book.plan({"H": {"colony.alive": True, "weather.high_c": 5.0}}).hives[0].advice[0]
    label = words().actions["feed-thin-syrup"].label
    assert (advice.action, advice.rule, advice.origin, advice.points) == ("feed-candy", "p.cold", "instead", 15)
    assert (advice.by, advice.amount, advice.sources) == (TODAY + 21 * DAY, None, ["judgement"])
    assert str(advice.because) == f"In place of '{label}'. Too cold at 5 °C."
    assert str(advice.safety) == words().actions["feed-candy"].safety
    assert advice.also == advice.options == advice.facts == advice.unlocks == advice.checks == []


@pytest.mark.parametrize(("gain", "band", "stands_in"), [(3, 1, True), (2.9, 1, False), (2.9, 0, True)])
def test_only_a_job_of_some_worth_is_stood_in_for(gain, band, stands_in):
    book = Book()
    book.rule("t.look", "colony.alive", "full-inspection", gain=gain, band=band)
    book.never("p", [act("full-inspection")], "colony.alive", instead=("heft-hive",))
    assert ("heft-hive" in actions(book.plan({"H": {"colony.alive": True}}))) == stands_in


def test_a_dead_hive_gets_only_what_makes_sense_for_it_in_place():
    book = Book()
    book.rule("t.clear", "colony.alive == false", "clear-dead-colony", gain=9)
    book.never("p", [act("clear-dead-colony")], "colony.alive == false", instead=("feed-candy", "full-inspection"))
    assert actions(book.plan({"H": {"colony.alive": False}})) == []


def test_what_comes_first_is_due_no_later_and_ranks_no_lower():
    book = Book()
    book.rule("h.take", "colony.alive", "take-honey", gain=3, by=40)
    book.rule("m.strap", "colony.alive", "strap-down", gain=35, by=14, band=0)
    book.never("s", [act("strap-down")], "hive.supers > 0", "first", first=("take-honey", "remove-supers"))
    plan = book.plan({"H": {"colony.alive": True, "hive.supers": 1}})
    first, then = plan.hives[0].advice
    assert (first.action, first.band, first.by, first.order, first.points) == (
        "take-honey",
        0,
        TODAY + 14 * DAY,
        0,
        then.points,
    )
    assert (then.action, then.order) == ("strap-down", 1)
    added = Book()
    added.rule("m.strap", "colony.alive", "strap-down", gain=35, by=14)
    added.never(
        "s", [act("strap-down")], "hive.supers > 0", "first", first=("take-honey", "remove-supers"), because="Honey"
    )
    first = added.plan({"H": {"colony.alive": True, "hive.supers": 1}}).hives[0].advice[0]
    assert (first.action, first.rule, first.origin, str(first.because), first.sources) == (
        "remove-supers",
        "s",
        "first",
        "Honey.",
        ["judgement"],
    )
    earlier = Book()
    earlier.rule("h.take", "colony.alive", "take-honey", gain=90, by=2)
    earlier.rule("m.strap", "colony.alive", "strap-down", gain=35, by=14)
    earlier.never("s", [act("strap-down")], "hive.supers > 0", "first", first=("take-honey",))
    first = earlier.plan({"H": {"colony.alive": True, "hive.supers": 1}}).hives[0].advice[0]
    assert (first.by, first.points, first.gain_pts) == (TODAY + 2 * DAY, 90, 90)


# --- treatments -------------------------------------------------------------------------------------------------------------
def treating(*bars):
    book = Book()
    book.rule("m.treat", "colony.alive", "treat-mites", gain=35, by=0, because="Mites.")
    for i, (active, form, condition) in enumerate(bars):
        book.option(f"o{i}", active, form, [(condition, f"{active} bars")] if condition else [])
    return book


def test_options_stand_by_active_and_form():
    book = treating(("thymol", "wafer", "colony.robbed"), ("thymol", "gel", "colony.eggs"), ("amitraz", "strip", None))
    options = book.plan({"H": {"colony.alive": True, "colony.robbed": True}}).hives[0].advice[0].options
    assert [(o["active"], o["allowed"]) for o in options] == [("amitraz", True), ("thymol", None)]
    assert [(str(f["form"]), f["allowed"], str(f["reason"])) for f in options[1]["forms"]] == [
        ("gel", None, f"it depends on what is not known here: {words().facts['colony.eggs'].label}"),
        ("wafer", False, "thymol bars"),
    ]
    eggs = words().facts["colony.eggs"].label
    assert str(options[0]["because"]) == "Fits."
    assert str(options[1]["because"]) == (f"gel: Not known here, and it decides: {eggs}. wafer: Not now: thymol bars.")
    assert options[1]["forms"][1]["course"] is None and options[1]["forms"][0]["course"] is not None


def test_a_prohibition_of_an_option_bars_it_or_leaves_it_open():
    for unknown, value_, allowed in (
        ("ask", None, None),
        ("check", None, None),
        ("pass", None, True),
        ("ask", True, False),
        ("pass", False, True),
    ):
        book = treating(("thymol", "gel", None))
        book.never(
            "no", [Target("option", "treat-mites", "thymol")], "colony.robbed", unknown=unknown, because="Robbers"
        )
        hive = {"colony.alive": True} | ({} if value_ is None else {"colony.robbed": value_})
        plan = book.plan({"H": hive})
        if allowed is False:
            assert actions(plan) == ["plan-mite-treatment"]
            why = said(plan)[0]
            assert why[:3] == ("treat-mites", "m.treat", "prohibition")
            assert "thymol: Not now: Robbers." in why[3] and why[3].startswith("No treatment on the list")
            stand_in = plan.hives[0].advice[0]
            assert stand_in.options[0]["allowed"] is False and str(stand_in.because).endswith("Mites.")
        else:
            assert plan.hives[0].advice[0].options[0]["allowed"] is allowed


def test_planning_a_treatment_is_not_said_twice():
    book = treating(("thymol", "gel", "colony.alive"))
    book.rule("m.plan", "colony.alive", "plan-mite-treatment", gain=2)
    plan = book.plan({"H": {"colony.alive": True}})
    assert [(a.action, a.rule) for a in plan.hives[0].advice] == [("plan-mite-treatment", "m.plan")]


def test_at_most_four_missing_facts_are_named():
    facts = ("colony.eggs", "colony.robbed", "hive.gaps", "hive.mouse_guard", "food.set_hard")
    book = treating(("thymol", "gel", {"any": list(facts)}))
    option = book.plan({"H": {"colony.alive": True}}).hives[0].advice[0].options[0]
    named = ", ".join(words().facts[f].label for f in sorted(facts)[:4])
    assert named in str(option["because"]) and words().facts[sorted(facts)[4]].label not in str(option["because"])


# --- visits -----------------------------------------------------------------------------------------------------------------
def test_visits_share_out_the_week():
    book = Book()
    book.rule("a.look", "colony.alive", "full-inspection", gain=9)
    book.rule("b.heft", "colony.alive", "heft-hive", gain=8)
    book.rule("c.water", "colony.alive", "provide-water", gain=7)
    book.rule("d.order", "colony.alive", "order-queen", gain=6)
    hive = {"colony.alive": True, "weather.open_high_c": 22.0}
    best = TODAY + 3 * DAY
    plan = book.plan({"A": hive, "B": hive}, weather=weather_of(best_day=best))
    made = {visit["what"]: visit for visit in plan.visits}
    assert [visit["what"] for visit in plan.visits] == ["at_home", "outside", "opening"]
    assert {what: visit["day"] for what, visit in made.items()} == {"at_home": TODAY, "outside": best, "opening": best}
    assert made["opening"]["hives"] == [{"hive": name, "actions": ["full-inspection"]} for name in "AB"]
    assert made["outside"]["hives"] == [
        {"hive": "A", "actions": ["heft-hive", "provide-water"]},
        {"hive": "B", "actions": ["heft-hive"]},  # water for the yard once
    ]
    minutes = {a: words().actions[a].minutes for a in ("full-inspection", "heft-hive", "provide-water")}
    assert made["opening"]["minutes"] == 2 * minutes["full-inspection"]
    assert made["outside"]["minutes"] == 2 * minutes["heft-hive"] + minutes["provide-water"]
    assert made["opening"]["kit"] == sorted(words().actions["full-inspection"].kit)
    assert plan.kit == sorted({item for visit in plan.visits for item in visit["kit"]}) and plan.best_day == best


@pytest.mark.parametrize(
    ("by", "band", "today"), [(None, 1, False), (0, 1, True), (-2, 1, True), (1, 1, False), (None, 0, True)]
)
def test_what_presses_is_done_outside_today(by, band, today):
    book = Book()
    book.rule("b.heft", "colony.alive", "heft-hive", gain=8, by=by, band=band)
    best = TODAY + 3 * DAY
    weather = weather_of(best_day=best)
    plan = book.plan({"A": {"colony.alive": True}}, weather=weather)
    assert plan.visits[0]["day"] == (TODAY if today else best)
    assert book.plan({"A": {"colony.alive": True}}).visits[0]["day"] == TODAY


def test_a_suspect_hive_is_visited_last_and_the_smoker_stays_at_home_under_a_ban():
    book = Book()
    book.rule("h.bad", "health.ropy_larvae", finding="suspect-here")
    book.rule("a.look", "colony.alive", "brood-disease-check", gain=9)
    hives = {"A": {"colony.alive": True, "health.ropy_larvae": True}, "B": {"colony.alive": True}}
    plan = book.plan(hives)
    assert [stop["hive"] for stop in plan.visits[0]["hives"]] == ["B", "A"]
    assert [hive.suspect for hive in plan.hives] == [True, False]
    assert "smoker" in plan.visits[0]["kit"]
    banned = {name: {**facts, "weather.fire_ban": name == "B"} for name, facts in hives.items()}
    assert "smoker" not in book.plan(banned).visits[0]["kit"]


# --- quiet ------------------------------------------------------------------------------------------------------------------
def because(plan, hive=0):
    return str(plan.hives[hive].nothing_due["because"])


def test_nothing_due_says_why():
    label = words().actions["feed-candy"].label
    dead = Book().plan({"H": {"colony.alive": False}})
    assert because(dead) == "This hive stands without a living colony, and nothing is open about it."
    unknown = Book().plan({"H": {"weather.open_high_c": 22.0}})
    assert because(unknown).startswith("Nothing is known of this hive yet.")
    order = Book().plan({"H": {"colony.frames_of_bees": 5.0}})
    assert because(order) == "What is known of this hive is in order, and nothing is due this week."
    implied = table({"H": {}})
    implied.set_one(0, "colony.alive", 1.0, origin="implied by colony.eggs")
    assert because(make(infer(Book().ruleset(), implied), Setting(TODAY), weights())).startswith("Nothing is known")
    for origin in (None, "set", "carried forward from 2026-01-01"):
        implied.set_one(0, "colony.frames_of_bees", 5.0, origin=origin)
        plan = make(infer(Book().ruleset(), implied), Setting(TODAY), weights())
        assert because(plan) == "What is known of this hive is in order, and nothing is due this week."
    held = Book()
    held.rule("f", "colony.alive", "feed-candy", gain=2)
    held.never("p", [act("feed-candy")], "colony.alive", because="No.")
    assert because(held.plan({"H": {"colony.alive": True}})) == (
        f"What would be due here ({label}) is held back this week; the reason stands with it."
    )
    small = Book()
    small.rule("f", "colony.robbed", "stop-robbing", gain=60, by=0)
    plan = small.plan({"H": {"colony.frames_of_bees": 5.0}})
    assert [k.points for k in plan.hives[0].look_first] == [1.2]  # 2 in 100 hives are robbed; under the floor of 1.5
    assert because(plan) == "Nothing known here asks for work this week."


def test_leave_it_closed_says_why_and_what_it_rests_on():
    cold = {"colony.alive": True, "season.cold": True, "weather.open_high_c": 4.0, "season.phase": "winter_cluster"}
    advice = Book().plan({"H": cold}).hives[0].advice[0]
    assert (advice.action, advice.rule, advice.origin, advice.points) == (
        "leave-closed",
        "plan.leave-closed",
        "closed",
        0,
    )
    assert str(advice.because) == (
        "Nothing here is worth opening it for this week. The best day of the week reaches 4 °C. "
        "Every opening costs the cluster warmth and honey."
    )
    assert [(e.fact, e.value) for e in advice.evidence] == [
        ("weather.open_high_c", 4),
        ("season.phase", "winter_cluster"),
    ]
    assert advice.urgency == 0.25 and advice.sources == ["S1"] and advice.rank == 1
    bare = Book().plan({"H": {"season.cold": True}}).hives[0].advice[0]
    assert str(bare.because) == (
        "Nothing here is worth opening it for this week. Every opening costs the cluster warmth and honey."
    )
    held = Book()
    held.rule("f", "colony.alive", "feed-candy", gain=2)
    held.never("p", [act("feed-candy")], "colony.alive", because="No.")
    assert str(held.plan({"H": cold}).hives[0].advice[0].because).startswith(
        f"What would open it ({words().actions['feed-candy'].label}) waits for now"
    )
    for high, season, closed in ((9.9, False, True), (10.0, False, False), (22.0, True, True), (None, None, False)):
        hive = {"colony.alive": True} | ({} if high is None else {"weather.open_high_c": high})
        hive |= {} if season is None else {"season.cold": season}
        assert actions(Book().plan({"H": hive})) == (["leave-closed"] if closed else [])
    assert actions(Book().plan({"H": {**cold, "colony.alive": False}})) == []


def test_the_next_thing_due_is_the_nearest_ahead():
    calendar = Calendar(first_pollen=(3, 10), swarm_season_start=(5, 1), main_flow_start=(3, 9))
    hive = {"colony.alive": True, "weather.open_high_c": 22.0}
    due = Book().plan({"H": hive}, calendar=calendar).hives[0].nothing_due["next"]
    assert due["date"] == dt.date(2026, 5, 1)  # what is due today is not ahead
    assert str(due["what"]) == str(weights().next_due["swarm_season_start"])
    assert Book().plan({"H": hive}, calendar=Calendar()).hives[0].nothing_due["next"] is None


# --- the yard ---------------------------------------------------------------------------------------------------------------
def test_the_weather_of_the_answer():
    nan = float("nan")
    weather = weather_of((12, 0.0), (10, 0.9), (9.9, 0.0), (15, 1.0), (nan, 0.0), (15, nan), attribution="Office")
    hives = {"H": {"weather.high_c": 12.0, "weather.low_c": (2.0, 1, 4), "weather.open_dry": True}}
    weather.best_day = TODAY + DAY
    said_ = Book().plan(hives, weather=weather).weather
    assert said_["best_day"] == TODAY + DAY
    assert said_["last_good_day"] == TODAY + DAY and said_["notes"] == ["n"] and said_["attribution"] == "Office"
    assert (said_["high_c"], said_["low_c"]) == (12, {"value": 2, "low": 1, "high": 4})
    assert said_["open_dry"] is True and said_["mean_c"] is None and said_["basis"] == "forecast"
    assert "given" not in said_ and Book().plan(hives).weather["last_good_day"] is None
    given = table(hives)
    given.set_one(0, "weather.high_c", 12.0, origin="set")
    assert make(infer(Book().ruleset(), given), Setting(TODAY), weights()).weather["given"] is True


def test_the_yard_hears_the_suspect_hive_first_and_law_has_no_sum():
    book = Book()
    book.rule("h.bad", "health.ropy_larvae", finding="suspect-here")
    book.rule("n.tell", "colony.alive", "provide-water", gain=9, band=0, because="This hive is bad; look at this hive.")
    hives = {"A": {"colony.alive": True}, "B": {"colony.alive": True, "health.ropy_larvae": True}}
    plan = book.plan(hives)
    ((total, ids),) = plan.yard
    assert (total.points, ids, str(total.because)) == (2.25, ["A", "B"], "Hive B is bad; look at hive B.")
    assert plan.first[0] == {"hive": "A", "action": "provide-water", "points": 2.25}


def test_the_whole_answer_carries_its_setting():
    book = Book()
    book.rule("a", "colony.alive", "heft-hive", gain=8)
    weather = weather_of()
    plan = book.plan(
        {"H": {"colony.alive": True, "season.phase": "late_winter"}},
        climate="here",
        name="Alder Bank",
        weather=weather,
        channels={"columnar": "answered", "rete": "agreed"},
        notes=("left out",),
        with_facts=True,
    )
    assert (plan.date, plan.climate, plan.phase, plan.name) == (TODAY, "here", "late_winter", "Alder Bank")
    assert plan.channels == {"columnar": "answered", "rete": "agreed"} and plan.notes == ["left out"]
    seen = f"seen {TODAY.isoformat()}"
    alive = {"value": True, "low": None, "high": None, "unit": None, "origin": seen}
    assert plan.hives[0].facts == {"colony.alive": alive, "season.phase": {**alive, "value": "late_winter"}}
    assert plan.hives[0].unknown == sorted(set(words().facts) - {"colony.alive", "season.phase"})
    assert json.loads(as_json.text(plan))["apiary"]["name"] == "Alder Bank"


def test_every_kind_of_fact_is_listed_with_its_range():
    empty = TODAY.toordinal()
    hive = {
        "food.stores_kg": (4.0, 3, 5),
        "colony.queen_cell_count": (4, 3, 5),
        "food.empty_on": (TODAY, empty - 1, empty + 1),
        "food.heft": "light",
    }
    facts = Book().plan({"H": hive}, with_facts=True).hives[0].facts
    assert {name: (f["value"], f["low"], f["high"]) for name, f in facts.items()} == {
        "food.stores_kg": (4, 3, 5),
        "colony.queen_cell_count": (4, 3, 5),
        "food.empty_on": ("2026-03-10", "2026-03-09", "2026-03-11"),
        "food.heft": ("light", None, None),
    }


def test_a_look_that_joins_the_list_says_what_hangs_on_it():
    book = Book()
    book.rule("d.lid", "moisture.lid == dripping", "dry-the-lid", gain=60, by=0, source=("W1",))
    advice = book.plan({"H": {"colony.alive": True, "weather.open_high_c": 20.0}}).hives[0].advice[0]
    lid, label = words().facts["moisture.lid"].label, words().actions["dry-the-lid"].label
    assert (advice.action, advice.rule, advice.origin, advice.sources, advice.grade) == (
        "lid-check",
        "d.lid",
        "look",
        ["W1"],
        "guide",
    )
    assert str(advice.because) == (
        f"On what you see ({lid}) hangs whether to {label}. The chance that it comes to that: about 1 in 10."
    )
    assert str(advice.safety) == words().actions["lid-check"].safety and advice.facts == ["moisture.lid"]
    assert (advice.by, advice.urgency, advice.certainty) == (TODAY, 1, 0.07)


# --- marks of the second channel ------------------------------------------------------------------------------------------------
def differing(what, name, hive="A"):
    return SimpleNamespace(what=what, name=name, hive=hive)


@pytest.mark.parametrize(
    ("difference", "doubted"),
    [
        (differing("rule", "c.stop"), {("A", "stop-robbing")}),
        (differing("rule", "a.rob"), {("A", "stop-robbing"), ("A", "strap-down")}),
        (differing("finding", "robbing"), {("A", "stop-robbing"), ("A", "strap-down")}),
        (differing("finding", "alarm", "B"), {("B", "strap-down")}),
        (differing("prohibition", "p", "B"), {("B", "heft-hive")}),
        (differing("option", "o0", "B"), {("B", "treat-mites")}),
    ],
)
def test_what_rests_on_a_difference_is_marked(difference, doubted):
    book = treating(("thymol", "gel", None))
    book.rule("a.rob", "colony.robbed", finding="robbing")
    book.rule("b.alarm", ["finding.robbing", "colony.alive"], finding="alarm")
    book.rule("c.stop", "finding.robbing", "stop-robbing", gain=9)
    book.rule("d.strap", "finding.alarm", "strap-down", gain=8)
    book.rule("e.heft", "colony.alive", "heft-hive", gain=7)
    book.never("p", [act("heft-hive")], "hive.gaps")
    hive = {"colony.alive": True, "colony.robbed": True, "hive.gaps": False}
    inference = book.infer({"A": hive, "B": hive})
    plan = make(inference, Setting(TODAY), weights())
    mark(plan, inference, [difference])
    assert {(h.id, a.action) for h in plan.hives for a in h.advice if a.unverified} == doubted
    for advice, hives in plan.yard:
        assert advice.unverified == any((hive, advice.action) in doubted for hive in hives)


def test_a_doubted_reason_beside_the_best_marks_it_too():
    book = Book()
    book.rule("a.one", "colony.alive", "provide-water", gain=9)
    book.rule("b.two", "colony.alive", "provide-water", gain=2)
    inference = book.infer({"A": {"colony.alive": True}, "B": {"colony.alive": True}})
    plan = make(inference, Setting(TODAY), weights())
    mark(plan, inference, [differing("rule", "b.two", "B")])
    assert [h.advice[0].unverified for h in plan.hives] == [False, True]
    assert [advice.unverified for advice, _ in plan.yard] == [True]


# --- why ----------------------------------------------------------------------------------------------------------------------
def test_why_step_by_step():
    book = Book()
    book.limit("limit.food.candy_days", 21, "days")
    book.rule("a.weak", "colony.frames_of_bees < 4", finding="weak", because="W.")
    book.rule(
        "b.feed",
        [
            "finding.weak",
            {"any": ["food.days_left < limit.food.candy_days", "food.heft == light"]},
            {"not": "colony.robbed"},
            {"unless": "hive.gaps"},
        ],
        "feed-candy",
        because="Food for {food.days_left}.",
    )
    hive = {
        "colony.frames_of_bees": (3.0, 2, 6),
        "food.days_left": (30.0, 10, 40),
        "food.heft": "light",
        "hive.gaps": True,
    }
    why = explain(book.infer({"H": {**hive, "colony.robbed": False}}), "b.feed", 0, TODAY)
    assert (why.rule, why.kind, why.hive, why.gives, why.answer) == (
        "b.feed",
        "rule",
        "H",
        "feed-candy",
        "does-not-hold",
    )
    assert str(why.because) == "Food for 30 days." and why.sources == ["judgement"] and why.layer == "base"
    weak, either, no = why.steps.parts[:3]
    assert [p.answer for p in why.steps.parts] == ["holds-in-doubt", "holds", "holds", "does-not-hold"]
    assert [str(p.text) for p in why.steps.parts] == ["finding.weak", "any of", "not", "unless"]
    assert str(why.steps.text) == "all of"
    (rule,) = weak.parts
    assert (str(rule.text), rule.answer, str(rule.parts[0].text)) == (
        "rule a.weak",
        "holds-in-doubt",
        "colony.frames_of_bees < 4",
    )
    days, heft = either.parts
    assert (days.answer, heft.answer) == ("does-not-hold-in-doubt", "holds")
    facts = words().facts
    seen = f"seen {TODAY.isoformat()}"
    assert [str(v) for v in days.values] == [
        f"{facts['food.days_left'].label}: 30 days, 10 to 40 likely (worked out)",
        "limit 21 days (base; judgement)",
    ]
    assert [str(v) for v in heft.values] == [f"{facts['food.heft'].label}: light ({seen})"]
    assert [str(v) for v in no.parts[0].values] == [f"{facts['colony.robbed'].label}: no ({seen})"]
    open_ = explain(book.infer({"H": hive}), "b.feed", 0, TODAY)
    assert [str(v) for v in open_.steps.parts[2].parts[0].values] == [f"{facts['colony.robbed'].label}: not known"]
    assert explain(book.infer({"H": {}}), "a.weak", 0, TODAY).gives == "finding.weak"


def test_why_of_pairs_and_prohibitions():
    book = Book()
    book.rule(
        "u.unite",
        ["weak.colony.frames_of_bees < 4", "strong.colony.frames_of_bees > weak.colony.frames_of_bees"],
        "unite-colonies",
        roles=("weak", "strong"),
        at="weak",
    )
    book.never("p.pair", [act("unite-colonies")], "here.colony.robbed", roles=("here", "there"), because="Robbers.")
    book.never("p.one", [act("heft-hive")], "colony.robbed", "day", because="Robbed: {colony.robbed}.")
    inference = book.infer(
        {"A": {"colony.frames_of_bees": 2.0}, "B": {"colony.frames_of_bees": 9.0, "colony.robbed": True}}
    )
    why = explain(inference, "u.unite", 0, TODAY)
    assert (why.answer, why.partner) == ("holds", "B")
    bees = words().facts["colony.frames_of_bees"].label
    assert [str(v).partition(" (")[0] for v in why.steps.parts[1].values] == [f"{bees}: 9 frames", f"{bees}: 2 frames"]
    nobody = explain(inference, "u.unite", 1, TODAY)
    assert (nobody.answer, nobody.steps, nobody.because, nobody.partner) == ("no-partner", None, None, None)
    assert (nobody.rule, nobody.kind, nobody.hive, nobody.gives, nobody.sources) == (
        "u.unite",
        "rule",
        "B",
        "unite-colonies",
        ["judgement"],
    )
    pair = explain(inference, "p.pair", 0, TODAY)
    assert (pair.answer, pair.steps, str(pair.because), pair.kind) == ("each-pair", None, "Robbers.", "prohibition")
    one = explain(inference, "p.one", 1, TODAY)
    assert (one.answer, one.gives, one.layer, str(one.because)) == ("holds", "day", "safety", "Robbed: yes.")
    assert one.steps.answer == "holds" and explain(inference, "p.one", 0, TODAY).answer == "not-known"


def test_a_finding_that_leads_to_itself_is_told_once():
    book = Book()
    book.rule("a.x", "colony.robbed", finding="x")
    book.rule("b.y", ["finding.x", {"not": "finding.x"}], finding="y")
    why = explain(book.infer({"H": {"colony.robbed": True}}), "b.y", 0, TODAY)
    assert [len(part.parts) for part in why.steps.parts] == [1, 1]


@pytest.mark.parametrize(
    ("origin", "said_"),
    [
        (None, "as known"),
        ("", "as known"),
        ("computed", "worked out"),
        ("set", "given"),
        ("seen 2026-03-01", "seen 1 March"),
        ("seen somewhere", "seen somewhere"),
        ("carried forward from 2026-03-01", "estimated, carried forward from 1 March"),
        ("implied by colony.eggs", "follows from colony.eggs"),
        ("guessed", "guessed"),
    ],
)
def test_where_a_value_comes_from(origin, said_):
    assert str(origin_words(origin, TODAY)) == said_
    if origin and origin.startswith("seen 2"):
        assert str(origin_words(origin)) == origin


# --- words --------------------------------------------------------------------------------------------------------------------
def test_values_with_their_likely_range():
    facts = words().facts
    days = facts["food.days_left"]
    assert str(likely(days, 12.0, 12.0, 12.0)) == "12 days"
    assert str(likely(days, 12.0, 8.0, 12.0)) == "12 days, 8 to 12 likely"
    assert str(likely(days, 12.0, 12.0, 16.0)) == "12 days, 12 to 16 likely"
    start, end = (float((TODAY + k * DAY).toordinal()) for k in (0, 4))
    assert str(likely(facts["food.empty_on"], start, start, end, TODAY)) == "10 March, 10 March to 14 March likely"
    assert str(value(facts["colony.robbed"], 1.0)) == "yes" and str(value(facts["colony.robbed"], 0.0)) == "no"
    assert str(value(days, None)) == "not known"


def test_the_rank_of_an_advice():
    day = TODAY
    keys = [
        Advice("a", "r", 0, points=1).key("H"),
        Advice("a", "r", 1, points=9).key("H"),
        Advice("a", "r", 1, points=5, order=0).key("H"),
        Advice("a", "r", 1, points=5, by=day).key("H"),
        Advice("a", "r", 1, points=5, by=day + DAY).key("H"),
        Advice("a", "q", 1, points=5).key("I"),
        Advice("a", "r", 1, points=5).key("H"),
        Advice("a", "r", 1, points=5).key("I"),
    ]
    assert keys == sorted(keys) and len(set(keys)) == len(keys)


# --- what can be looked at ----------------------------------------------------------------------------------------------------
def lookers(built, alive=None, suspect=None):
    inference = infer(Book().ruleset(), built)
    deciding = Deciding(inference)
    filler = Filler(built, {}, TODAY)
    safety = Safety(inference, deciding, filler)
    adviser = Adviser(inference, weights(), deciding, safety, filler, TODAY)
    return Looks(inference, weights(), deciding, safety, adviser, alive or [True], suspect)


def ways_of(fact, built, kinds):
    """The sets of observations that would tell a fact, as the docstring has it."""
    body = words().facts[fact]
    if body.comes_from != "computed":
        return [{fact}]
    found = []
    for way in body.observed_by:
        seen = {f for f in way if words().facts[f].comes_from != "computed"}
        unknown = {f for f in seen if kinds[f] == "unknown"}
        stale = {f for f in seen if f in weights().samples or kinds[f] in ("earlier", "rough")}
        words_only = any(words().facts[f].kind == "one_of" and words().facts[f].comes_from == "observed" for f in seen)
        if unknown:
            found.append(unknown)
        elif seen and kinds[fact] != "unknown":
            if stale:
                found.append(stale)
            elif not words_only:
                return []
    return sorted({frozenset(way) for way in found}, key=lambda way: (len(way), sorted(way)))


@settings(max_examples=80)
@given(st.randoms(use_true_random=False))
def test_observations_that_would_tell_a_fact(luck):
    computed = sorted(f.id for f in words().facts.values() if f.comes_from == "computed" and f.observed_by)
    for fact in luck.sample(computed, 4):
        built, kinds = FactTable(words(), ["H"]), {}
        for name in {fact, *(f for way in words().facts[fact].observed_by for f in way)}:
            kind = kinds[name] = luck.choice(("unknown", "today", "set", "plain", "earlier", "rough"))
            origin = {
                "today": f"seen {TODAY}",
                "rough": f"seen {TODAY}",
                "earlier": "seen 2026-02-01",
                "set": "set",
            }.get(kind)
            if kind != "unknown":
                number = words().facts[name].kind in ("number", "integer")
                spread = (0.5, 1.5) if kind == "rough" and number else (1.0, 1.0)
                kinds[name] = "today" if kind == "rough" and not number else kind
                built.set_one(0, name, 1.0, *spread, origin)
        assert [set(way) for way in lookers(built).observations(fact, 0)] == [
            set(way) for way in ways_of(fact, built, kinds)
        ]


def test_which_looks_may_be_done():
    built = table({"H": {"season.phase": "main_flow", "season.swarming": True, "season.brood": "none"}})
    looks = lookers(built)
    assert not looks.allowed("first-spring-inspection", 0) and looks.allowed("swarm-inspection", 0)
    assert not looks.allowed("count-mites", 0) and looks.allowed("check-winter-room", 0)  # not known to be outdoors
    dead = lookers(built, [False])
    for look in sorted(weights().looks):
        assert dead.allowed(look, 0) == (looks.allowed(look, 0) and words().actions[look].dead_ok)
        suspect = lookers(built, [None], [True])
        shut = words().actions[look].opens == "nothing" or look in weights().looks_at_suspicion
        assert suspect.allowed(look, 0) == (looks.allowed(look, 0) and shut)


def test_a_look_says_how_to_see_it_and_names_three_of_its_facts():
    book = Book()
    facts = ("colony.eggs", "colony.sealed_brood", "colony.queen_cells", "colony.frames_of_brood")
    conditions = ["colony.eggs", "colony.sealed_brood", "colony.queen_cells == none", "colony.frames_of_brood > 3"]
    book.rule("q.test", conditions, "requeen", gain=900, by=0, chance=0.9)
    hive = book.plan({"H": {"colony.alive": True, "weather.open_high_c": 20.0}}).hives[0]
    advice = next(a for a in hive.advice if a.origin == "look")
    labels = [words().facts[f].label for f in sorted(facts)]
    assert advice.facts == sorted(facts)
    assert f"({labels[0]}, {labels[1]}, {labels[2]} and 1 more)" in str(advice.because)


def test_a_stop_that_the_look_does_not_lift_leaves_no_look():
    book = Book()
    book.rule("q.test", "colony.eggs == false", "give-test-frame", gain=90, by=0)
    book.never("p", [act("give-test-frame")], {"any": ["colony.robbed", "colony.eggs"]})
    hive = {"colony.alive": True, "weather.open_high_c": 20.0}
    robbed = book.plan({"H": {**hive, "colony.robbed": True}}).hives[0]
    assert robbed.advice == [] and robbed.look_first == []
    assert book.plan({"H": {**hive, "colony.robbed": False}}).hives[0].advice[0].origin == "look"


def test_what_stands_in_for_a_pair_names_both_hives():
    book = Book()
    book.rule(
        "h.lend",
        ["hungry.food.days_left < 7", "heavy.food.stores_kg > 20"],
        "give-honey-frames",
        gain=60,
        by=0,
        roles=("hungry", "heavy"),
        at="hungry",
    )
    book.never(
        "p",
        [act("give-honey-frames")],
        "there.health.ropy_larvae",
        roles=("here", "there"),
        instead=("feed-candy",),
        because="{there} may not give to {here}",
    )
    hives = {"low": {"food.days_left": 3.0}, "high": {"food.stores_kg": 26.0, "health.ropy_larvae": True}}
    advice = book.plan(hives).hives[0].advice[0]
    assert (advice.action, advice.partner, advice.partner_row) == ("feed-candy", None, None)
    assert str(advice.because).endswith("high may not give to low.")


def test_marks_of_several_differences_add_up():
    book = treating(("thymol", "gel", None))
    book.rule("e.heft", "colony.alive", "heft-hive", gain=7)
    inference = book.infer({"A": {"colony.alive": True}, "B": {"colony.alive": True}})
    plan = make(inference, Setting(TODAY), weights())
    mark(plan, inference, [differing("rule", "e.heft"), differing("option", "o0", "B"), differing("finding", "none")])
    assert {(h.id, a.action) for h in plan.hives for a in h.advice if a.unverified} == {
        ("A", "heft-hive"),
        ("B", "treat-mites"),
    }


def test_why_fills_limits_and_days_and_says_where_no_source_stands():
    book = Book()
    book.limit("limit.food.candy_days", 21, "days")
    book.limits["limit.food.candy_days"] = dataclasses.replace(book.limits["limit.food.candy_days"], source=())
    book.rule(
        "b.feed",
        "food.days_left < limit.food.candy_days",
        "feed-candy",
        because="Under {limit.food.candy_days}, empty on {food.empty_on}.",
    )
    inference = book.infer({"H": {"food.days_left": 3.0, "food.empty_on": dt.date(2026, 3, 20)}})
    why = explain(inference, "b.feed", 0, TODAY)
    assert str(why.because) == "Under 21 days, empty on 20 March."
    assert str(why.steps.values[1]) == "limit 21 days (base; no source)"
    book.rules["b.feed"] = dataclasses.replace(book.rules["b.feed"], place=Place("food.yaml", 7, 3))
    assert explain(book.infer({"H": {}}), "b.feed", 0, TODAY).place == str(Place("food.yaml", 7, 3)) != ""


def test_a_place_without_a_name_is_this_place():
    assert "list seen for this place;" in str(_unlisted({"registered_actives": ["formic"]}, "thymol"))


def test_a_doubt_that_forbids_and_hides_the_job_is_looked_at():
    # Three quarters capped, within 60 to 90: the job is not due and is forbidden, both in doubt of the same figure.
    book = Book()
    book.rule("h.take", "harvest.capped_pct >= 80", "take-honey", gain=900, by=0)
    book.never("ripe", [act("take-honey")], "harvest.capped_pct < 80")
    hive = {"colony.alive": True, "weather.open_high_c": 22.0, "harvest.capped_pct": (75.0, 60, 90)}
    look = book.plan({"H": hive}).hives[0].advice[0]
    assert (look.origin, look.facts) == ("look", ["harvest.capped_pct"])


def test_an_option_that_the_place_does_not_list_is_out():
    book = treating(("thymol", "gel", None), ("formic", "pad", "colony.robbed"))
    book.options["o1"] = dataclasses.replace(
        book.options["o1"], bars=((book.condition("colony.robbed"), "at {weather.high_c} robbers come", ()),)
    )
    ruleset = dataclasses.replace(book.ruleset(), jurisdiction={"name": "Here", "registered_actives": ["formic"]})
    built = table({"H": {"colony.alive": True, "colony.robbed": True, "weather.high_c": 20.0}})
    plan = make(infer(ruleset, built), Setting(TODAY), weights())
    options = {o["active"]: str(o["because"]) for o in plan.hives[0].advice[0].options}
    assert options == {
        "formic": "Not now: at 20 °C robbers come.",
        "thymol": "Not on the list seen for Here; check the current rule there.",
    }


def test_an_option_says_its_course_its_honey_and_its_care():
    book = treating(("thymol", "gel", None))
    book.options["o0"] = dataclasses.replace(
        book.options["o0"], length="four weeks", withdrawal="none", safety="Wear gloves"
    )
    (option,) = book.plan({"H": {"colony.alive": True}}).hives[0].advice[0].options
    form = option["forms"][0]
    assert str(option["because"]) == " ".join(["Fits.", *(str(part) for part in details(form))])
    assert len(details(form)) == 3 and "four weeks" in str(option["because"])


def test_the_week_tells_its_weather():
    names = ("high_c", "low_c", "mean_c", "open_high_c", "open_wind_kmh", "dry_days", "flight_days")
    facts = {f"weather.{name}": float(value) for value, name in enumerate(names, 1)}
    told = Book().plan({"H": {**facts, "weather.open_dry": True, "weather.rain_all_week": False}}).weather
    assert {name: told[name] for name in names} == dict(zip(names, range(1, 8), strict=True))
    assert (told["open_dry"], told["rain_all_week"]) == (True, False)


def test_findings_on_findings_are_explained_to_the_ground():
    book = Book()
    book.rule("a.x", "colony.robbed", finding="x")
    book.rule("b.y", "finding.x", finding="y")
    book.rule("c.z", "finding.y", finding="z")
    step = explain(book.infer({"H": {"colony.robbed": True}}), "c.z", 0, TODAY).steps
    texts = []
    while step.parts:
        texts.append(str(step.text))
        (step,) = step.parts
    assert [*texts, str(step.text)] == ["finding.y", "rule b.y", "finding.x", "rule a.x", "colony.robbed"]


def test_names_that_are_none_stay_as_written():
    filler = Filler(table({"A": {"colony.eggs": True}, "B": {}}), {}, TODAY)
    for text in ("{nobody.colony.eggs}", "{weak.no_fact}", "{limit.no.such}"):
        assert str(filler.fill(text, {"weak": 0, "strong": 1})[0]) == text
    assert str(filler.fill("{weak.colony.eggs} {weak} {partner}", {"weak": 0, "strong": 1})[0]) == "yes A B"


def test_what_a_lone_partnerless_rule_and_its_place_are():
    book = Book()
    book.rule(
        "u.unite",
        ["weak.colony.frames_of_bees < 4", "strong.colony.frames_of_bees > 8"],
        "unite-colonies",
        roles=("weak", "strong"),
        at="weak",
    )
    book.rules["u.unite"] = dataclasses.replace(book.rules["u.unite"], place=Place("unite.yaml", 7, 3))
    assert explain(book.infer({"H": {}}), "u.unite", 0, TODAY).place == "unite.yaml:7:3"

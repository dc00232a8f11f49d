"""The parts of an advice in small yards, each field worked out by hand."""

import datetime as dt

import pytest
from plan_kit import TODAY, Book, act, actions, treating, words

from hiveweek.plan.advise import tidy
from hiveweek.rules.model import Deadline, Target

DAY = dt.timedelta(days=1)


def said(plan, hive=0):
    return [(w.action, w.rule, w.kind, str(w.because), w.waits) for w in plan.hives[hive].withheld]


# --- an advice -------------------------------------------------------------------------------------------
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
    # what the words read, then what made it true, in the order it stands; not the gap, which did not make it true
    assert [(e.fact, e.value, e.low, e.high, e.origin) for e in advice.evidence] == [
        ("food.days_left", 12, 8, 16.123, "computed"),
        ("colony.frames_of_bees", 5, 5, 5, seen),
        ("colony.robbed", False, None, None, seen),
        ("food.stores_kg", 4, 4, 4, seen),
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
    book.unite(
        "weak.finding.weak",
        "weak.colony.frames_of_bees < strong.colony.frames_of_bees",
        "strong.colony.eggs",
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
        ("strong.colony.frames_of_bees", 9),
        ("colony.frames_of_bees", 2),
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


# --- withheld, in place, first ---------------------------------------------------------------------------
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


# --- treatments ------------------------------------------------------------------------------------------
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


def test_a_job_says_first_what_is_different_in_a_hive_of_another_kind():
    book = Book()
    book.rule("f.candy", "colony.alive", "feed-candy", gain=40, safety="Be quick.")
    kinds = {"Bars": "top_bar", "Log": "fixed_comb", "Boxes": "stacked_boxes", "Unknown": None}
    plan = book.plan(
        {name: {"colony.alive": True, **({"hive.type": kind} if kind else {})} for name, kind in kinds.items()}
    )
    said = words().actions["feed-candy"].in_hive["hive.type"]
    assert {hive.id: str(hive.advice[0].safety) for hive in plan.hives} == {
        "Bars": f"{said['top_bar']} Be quick.",
        "Log": f"{said['fixed_comb']} Be quick.",
        "Boxes": "Be quick.",
        "Unknown": "Be quick.",
    }

"""Jobs that are due and wait for something else: never silence, never "in order"."""

import datetime as dt

import pytest
from plan_kit import TODAY, Book, act, actions, table, weights, words

from hiveweek import climate, rules
from hiveweek.inference.columnar import infer
from hiveweek.plan.deciding import Deciding
from hiveweek.plan.options import _unlisted, options
from hiveweek.plan.safety import Safety
from hiveweek.plan.words import Filler
from hiveweek.rules import traits_of
from hiveweek.rules.model import Target

ALONE = {
    "colony.alive": True,
    "keeper.sting_allergy": True,
    "weather.open_high_c": 6.0,
    "season.cold": True,
    "food.days_left": 5.0,
}


def _book(gain=55):
    book = Book()
    book.rule(
        "g.alone",
        ["keeper.sting_allergy", {"any": ["keeper.helper is unknown", "keeper.helper == false"]}],
        finding="attacks-alone",
        because="Someone here is allergic and alone.",
    )
    book.rule(
        "g.lid",
        {"any": ["finding.attacks-alone", "finding.attacks-alone"]},
        finding="lid-closed",
        because="The lid stays on.",
    )
    book.rule("g.enough", "food.shortfall_kg <= 0", finding="no-more-food-needed", because="Enough is there.")
    book.rule(
        "f.candy",
        ["food.days_left < 7", {"unless": "finding.lid-closed"}, {"unless": "finding.no-more-food-needed"}],
        "feed-candy",
        gain=gain,
        by=0,
        because="Food for {food.days_left}.",
    )
    return book


def test_a_due_job_that_a_guard_holds_up_is_named_with_what_comes_first():
    hive = _book().plan({"H": ALONE}).hives[0]
    held = hive.withheld[0]
    assert (held.action, held.rule, held.kind, held.waits) == ("feed-candy", "f.candy", "prohibition", True)
    assert str(held.because).startswith("Food for 5 days.") and "Someone here is allergic and alone." in str(
        held.because
    )
    assert "Get a second person to help" in str(held.because)


def test_leave_it_closed_is_no_answer_to_hunger():
    hive = _book().plan({"H": ALONE}).hives[0]
    assert "leave-closed" not in [a.action for a in hive.advice]
    assert hive.advice or "give candy above the bees" in str(hive.nothing_due["because"])


def test_in_order_is_not_said_where_something_waits():
    warm = {**ALONE, "weather.open_high_c": 22.0, "season.cold": False}
    hive = _book().plan({"H": warm}).hives[0]
    assert "in order" not in str(hive.nothing_due["because"]) and "it waits" in str(hive.nothing_due["because"])


def test_what_is_not_needed_does_not_wait():
    hive = _book().plan({"H": {**ALONE, "food.shortfall_kg": -2.0}}).hives[0]
    assert hive.withheld == []


def test_small_jobs_are_not_named():
    assert _book(gain=1).plan({"H": ALONE}).hives[0].withheld == []


def test_a_job_that_is_undecided_or_not_due_does_not_wait():
    unknown = {k: v for k, v in ALONE.items() if k != "food.days_left"}
    for facts in (unknown, {**ALONE, "food.days_left": 40.0}):
        assert not any(w.waits for w in _book().plan({"H": facts}).hives[0].withheld)


def test_feeding_that_waits_is_not_said_beside_feeding_that_is_advised():
    book = _book()
    book.rule("f.honey", "food.days_left < 7", "feed-dry-sugar", gain=60, by=0)
    hive = book.plan({"H": ALONE}).hives[0]
    assert actions(book.plan({"H": ALONE}))[0] == "feed-dry-sugar" and not hive.withheld


def test_a_waiting_job_leaves_its_substitute_where_nobody_meets_the_guard():
    book = _book()
    book.never("people", [Target("opens", "lid")], "keeper.sting_allergy", instead=("heft-hive",), because="Alone.")
    assert actions(book.plan({"H": ALONE})) == ["heft-hive"]
    book.rule("h.help", "keeper.sting_allergy", "get-help", gain=50, by=0)
    assert actions(book.plan({"H": ALONE})) == ["get-help"]


def test_the_cold_alone_still_leaves_it_closed_and_says_what_waits():
    book = Book()
    book.rule("g.cold", "weather.open_high_c < 10", finding="frames-stay-shut", because="Only {weather.open_high_c}.")
    book.rule(
        "h.lend",
        ["food.days_left < 7", {"unless": "finding.frames-stay-shut"}],
        "move-stores-to-cluster",
        gain=30,
        by=0,
    )
    hive = book.plan(
        {"H": {"colony.alive": True, "weather.open_high_c": 4.0, "season.cold": True, "food.days_left": 5.0}}
    ).hives[0]
    assert [w.action for w in hive.withheld] == ["move-stores-to-cluster"] and hive.withheld[0].waits
    assert hive.advice[-1].action == "leave-closed"
    assert "Nothing here is worth opening" not in str(hive.advice[-1].because) and "bring stores to the bees" in str(
        hive.advice[-1].because
    )


@pytest.mark.parametrize(("finding", "said"), [("under-suspicion", "under suspicion"), ("robbing", "Robbers")])
def test_in_order_is_not_said_in_a_yard_in_trouble(finding, said):
    book = Book()
    book.rule("g.trouble", "colony.robbed", finding=finding, reach="apiary")
    plan = book.plan(
        {
            "A": {"colony.robbed": True, "weather.open_high_c": 22.0},
            "B": {"colony.alive": True, "weather.open_high_c": 22.0},
        }
    )
    because = str(plan.hives[1].nothing_due["because"])
    assert said in because and "in order" not in because


def test_of_a_hive_of_which_nothing_is_known_nothing_is_called_in_order():
    because = str(Book().plan({"H": {"weather.open_high_c": 22.0}}).hives[0].nothing_due["because"])
    assert because.startswith("Nothing is known of this hive yet") and "heft" in because


# --- suspicion, fire, first acts --------------------------------------------------------------------------------------------
def test_a_suspect_hive_is_not_opened_for_looks_that_do_not_serve_the_suspicion():
    book = Book()
    book.rule("g.suspect", "health.sunken_caps", finding="suspect-here")
    book.rule("m.count", "colony.alive", "count-mites", gain=30, by=0)
    book.rule("d.look", "colony.alive", "brood-disease-check", gain=30, by=0)
    book.rule("d.lid", "moisture.lid == dripping", "dry-the-lid", gain=90, by=0)
    facts = {
        "colony.alive": True,
        "health.sunken_caps": True,
        "weather.open_high_c": 20.0,
        "season.phase": "late_winter",
    }
    hive = book.plan({"H": facts}).hives[0]
    assert [a.action for a in hive.advice] == ["brood-disease-check"]
    assert [w.action for w in hive.withheld] == ["count-mites"] and "suspicion" in str(hive.withheld[0].because)
    assert not [k.action for k in hive.look_first if words().actions[k.action].opens != "nothing"]
    clean = book.plan({"H": {**facts, "health.sunken_caps": False}}).hives[0]
    assert "count-mites" in [a.action for a in clean.advice]


def _ban():
    book = Book()
    book.rule("m.count", "colony.alive", "count-mites", gain=30, by=0)
    book.rule("f.syrup", "food.days_left < 7", "feed-thin-syrup", gain=30, by=0)
    book.never("ban", [Target("uses", "smoke")], "weather.fire_ban", "day", unknown="check", check="ask about a ban")
    return book


def test_a_fire_ban_without_an_end_stops_what_needs_smoke_and_the_smoker_stays_at_home():
    facts = {"colony.alive": True, "weather.fire_ban": True, "weather.open_high_c": 30.0, "food.days_left": 3.0}
    plan = _ban().plan({"H": facts})
    assert actions(plan) == ["feed-thin-syrup"] and plan.hives[0].withheld[0].action == "count-mites"
    assert "smoker" not in plan.kit
    assert "smoker" in _ban().plan({"H": {**facts, "weather.fire_ban": False}}).kit


def test_a_fire_ban_that_ends_this_week_leaves_the_days_after_it():
    facts = {"colony.alive": True, "weather.fire_ban": True, "weather.open_high_c": 30.0, "food.days_left": 60.0}
    assert actions(_ban().plan({"H": {**facts, "weather.fire_ban_until": dt.date(2026, 3, 13)}})) == ["count-mites"]
    assert actions(_ban().plan({"H": {**facts, "weather.fire_ban_until": dt.date(2026, 3, 20)}})) == []


def test_a_first_act_is_not_due_later_than_what_it_comes_before():
    book = Book()
    book.rule("h.take", "colony.alive", "take-honey", gain=3, by=20)
    book.rule("m.treat", "colony.alive", "treat-mites", gain=35, by=6)
    book.option("x", "amitraz", "strip")
    book.never("supers", [act("treat-mites")], "hive.supers > 0", "first", first=("take-honey", "remove-supers"))
    first, then = book.plan({"H": {"colony.alive": True, "hive.supers": 1}}).hives[0].advice
    assert (first.action, then.action) == ("take-honey", "treat-mites") and first.by == then.by
    assert first.points == pytest.approx(first.gain_pts * first.urgency * first.certainty, abs=0.006)


def test_a_first_act_that_may_not_be_done_stays_as_a_check():
    book = _ban()
    book.never(
        "under supers",
        [act("feed-thin-syrup")],
        "hive.supers > 0",
        "first",
        first=("remove-supers",),
        because="Supers come off first.",
    )
    facts = {
        "colony.alive": True,
        "weather.fire_ban": True,
        "weather.open_high_c": 30.0,
        "food.days_left": 3.0,
        "hive.supers": 1,
    }
    assert "Supers come off first." in str(_ban_advice(book, facts).warning())


def _ban_advice(book, facts):
    return next(a for a in book.plan({"H": facts}).hives[0].advice if a.action == "feed-thin-syrup")


# --- rain, days -------------------------------------------------------------------------------------------------------------
def test_feeding_a_starving_hive_does_not_wait_for_a_dry_day():
    book = Book()
    book.rule("g.starving", "food.days_left <= 7", finding="starving")
    book.rule("f.syrup", "food.days_left < 20", "feed-thin-syrup", gain=30, by=0)
    book.never(
        "rain",
        [Target("opens", "lid")],
        "weather.open_dry == false",
        "day",
        unknown="check",
        spares=["feed-thin-syrup"],
        where="finding.starving",
        say="It does not wait for a dry day.",
    )
    facts = {"colony.alive": True, "weather.open_dry": False, "weather.open_high_c": 15.0, "food.days_left": 3.0}
    plan = book.plan({"H": facts})
    advice = plan.hives[0].advice[0]
    assert advice.only_on is None and advice.rain_too and "does not wait for a dry day" in str(advice.safety)
    assert plan.visits[0]["what"] == "outside" and plan.visits[0]["day"] == plan.date
    later = book.plan({"H": {**facts, "food.days_left": 15.0}}).hives[0].advice[0]
    assert later.only_on == {"dry": True} and not later.rain_too


def test_the_reason_a_job_is_due_is_not_printed_as_the_day_it_needs():
    book = Book()
    book.rule("h.shade", ["weather.high_c >= 32", "weather.high_c <= 38"], "shade-hive", gain=5)
    book.rule("c.mites", ["weather.open_high_c >= 14", "weather.high_c <= 38"], "count-mites", gain=5)
    by_action = {
        a.action: a
        for a in book.plan({"H": {"weather.high_c": (36.0, 29, 42), "weather.open_high_c": (15.0, 11, 19)}})
        .hives[0]
        .advice
    }
    assert by_action["shade-hive"].only_on is None
    assert by_action["count-mites"].only_on == {"high_c_min": 14.0}


def test_a_dead_hive_is_shut_on_the_first_visit():
    book = Book()
    book.rule("d.shut", "colony.alive == false", "clear-dead-colony", gain=8, by=3)
    plan = book.plan({"H": {"colony.alive": False}})
    assert [(v["what"], v["day"]) for v in plan.visits] == [("outside", plan.date)]


def test_what_is_held_back_names_the_missing_fact():
    book = Book()
    book.rule("s.split", "colony.alive", "split-colony", gain=30)
    book.never(
        "weak",
        [act("split-colony")],
        {"any": ["colony.frames_of_bees < 8", "colony.drones == false"]},
        unknown="ask",
        because="{colony.frames_of_bees} are too few.",
    )
    held = book.plan({"H": {"colony.alive": True, "colony.frames_of_bees": 11.0}}).hives[0].withheld[0]
    label = words().facts["colony.drones"].label
    assert str(held.because) == f"Held back until this is known: {label}."


# --- options ----------------------------------------------------------------------------------------------------------------
def test_an_option_says_what_protects_the_keeper_and_the_honey():
    profile = climate.load_profile("cool_continental")
    ruleset = rules.load(profile.id, traits_of(profile), vocabulary=words())
    inference = infer(ruleset, table({"H": {"colony.alive": True}}))
    filler = Filler(inference.table, ruleset.limits, TODAY)
    safety = Safety(inference, Deciding(inference), filler)
    found = {o["active"]: o for o in options(inference, safety, filler, 0, "treat-mites")}
    formic = str(found["formic"]["because"])
    assert "respirator" in formic and "Honey: " in formic and "Course: " in formic
    assert all(
        list(form) == ["form", "allowed", "because", "reason", "course", "honey", "care"]
        for o in found.values()
        for form in o["forms"]
    )


def test_a_list_of_registered_actives_is_read_word_for_word():
    england = {"name": "England", "registered_actives": [{"active": "oxalic"}, {"active": "formic", "forms": ["gel"]}]}
    assert _unlisted(england, "oxalic", "vapour") is None
    assert "England" in str(_unlisted(england, "oxalic_strip", "strip"))
    # UK medicines list: formic acid as gel strips; liquid on pads is a home mixture
    assert _unlisted(england, "formic", "gel") is None and "England" in str(_unlisted(england, "formic", "pad"))
    assert _unlisted({"registered_actives": []}, "oxalic_strip", "strip") is None
    assert _unlisted(None, "oxalic_strip", "strip") is None


# --- the ranking file -------------------------------------------------------------------------------------------------------
def test_every_guard_of_the_ranking_file_is_a_finding_of_the_shipped_rules():
    profile = climate.load_profile("cool_continental")
    ruleset = rules.load(profile.id, traits_of(profile), vocabulary=words())
    findings = {rule.finding for rule in ruleset.rules.values() if rule.finding}
    assert set(weights().waits_for) <= findings and set(weights().holds_open) <= set(weights().waits_for)
    assert {name for names in weights().not_where.values() for name in names} <= findings


def _joining():
    book = Book()
    book.rule("g.cold", "weather.open_high_c < 10", finding="frames-stay-shut", because="Only {weather.open_high_c}.")
    book.rule(
        "j.join",
        [
            "weak.colony.queen == queenless",
            "strong.colony.frames_of_bees >= 7",
            {"unless": "weak.finding.frames-stay-shut"},
            {"unless": "strong.finding.frames-stay-shut"},
        ],
        "unite-colonies",
        gain=30,
        by=7,
        roles=("weak", "strong"),
        at="weak",
        because="Too few: {weak.colony.frames_of_bees}; beside it {strong.colony.frames_of_bees}.",
    )
    return book


WEAK = {"colony.alive": True, "colony.queen": "queenless", "colony.frames_of_bees": 3.0, "weather.open_high_c": 20.0}
STRONG = {"colony.alive": True, "colony.queen": "seen", "colony.frames_of_bees": 9.0, "weather.open_high_c": 20.0}


def test_a_job_of_two_hives_that_a_guard_holds_up_waits_with_its_partner():
    cold = {"weather.open_high_c": 6.0}
    weak, strong = _joining().plan({"W": WEAK | cold, "S": STRONG | cold}).hives
    assert [(w.action, w.waits) for w in weak.withheld] == [("unite-colonies", True)]
    assert "Too few: 3 frames; beside it 9 frames." in str(weak.withheld[0].because)
    assert "Only 6 °C." in str(weak.withheld[0].because) and not strong.withheld


def test_where_the_one_hive_that_fits_goes_with_another_the_second_waits():
    first, second, strong = _joining().plan({"A": WEAK, "B": WEAK, "S": STRONG}).hives
    assert [a.action for a in first.advice] == ["unite-colonies"] and not first.withheld
    assert [w.action for w in second.withheld] == ["unite-colonies"] and not strong.withheld
    assert "goes with another one first" in str(second.withheld[0].because)


def test_no_hive_that_fits_is_no_waiting():
    for partner in (STRONG | {"colony.frames_of_bees": 6.0}, {"colony.alive": True, "weather.open_high_c": 6.0}):
        assert _joining().plan({"W": WEAK, "S": partner}).hives[0].withheld == []


@pytest.mark.parametrize(("gain", "named"), [(4, False), (5, True)])
def test_a_look_that_a_guard_holds_up_is_named_from_a_worth_of_its_own(gain, named):
    book = Book()
    book.rule("g.cold", "weather.open_high_c < 10", finding="frames-stay-shut", because="Only {weather.open_high_c}.")
    book.rule(
        "s.look", ["season.swarming", {"unless": "finding.frames-stay-shut"}], "swarm-inspection", gain=gain, by=0
    )
    hive = book.plan({"H": {"colony.alive": True, "season.swarming": True, "weather.open_high_c": 6.0}}).hives[0]
    assert [w.action for w in hive.withheld] == (["swarm-inspection"] if named else [])


@pytest.mark.parametrize(("op", "since", "days"), [(">=", 4, 3), (">", 4, 4), (">=", 6, 1), (">=", 7, None)])
def test_the_next_date_names_a_look_that_comes_round(op, since, days):
    book = Book()
    round_ = {"any": ["log.days_since_swarm_check is unknown", f"log.days_since_swarm_check {op} 7"]}
    book.rule("s.look", ["season.swarming", round_], "swarm-inspection", gain=8, by=0)
    hive = {"colony.alive": True, "season.swarming": True, "log.days_since_swarm_check": since}
    found = book.plan({"H": hive}).hives[0]
    if days is None:
        assert [a.action for a in found.advice] == ["swarm-inspection"]
        return
    assert found.nothing_due["next"]["date"] == TODAY + dt.timedelta(days=days)
    assert str(found.nothing_due["next"]["what"]) == "look for queen cells"
    assert book.plan({"H": hive | {"season.swarming": False}}).hives[0].nothing_due["next"] is None


def test_help_is_there_by_the_day_of_what_waits_for_it():
    book = _book()
    book.never("people", [Target("opens", "lid")], "keeper.sting_allergy", instead=("get-help",), because="Alone.")
    book.rule("h.help", "keeper.sting_allergy", "get-help", gain=4, by=14)
    (help_,) = book.plan({"H": ALONE}).hives[0].advice
    assert help_.action == "get-help" and help_.due_by == TODAY + dt.timedelta(14)
    assert help_.by == TODAY  # the candy's day
    help_, *_ = book.plan({"H": {**ALONE, "food.days_left": 40.0}}).hives[0].advice
    assert help_.by == help_.due_by == TODAY + dt.timedelta(14)

"""Prohibitions: what is withheld, what comes first, what stands in, what the weather leaves open."""

import datetime as dt

import pytest
from plan_kit import TODAY, Book, Calendar, act, actions

from hiveweek.rules.model import Target


def _withheld(plan, hive=0):
    return [(w.action, w.kind) for w in plan.hives[hive].withheld]


def test_stop_withholds_and_says_why():
    book = Book()
    book.rule("a.look", "colony.alive", "full-inspection", gain=2)
    book.never(
        "no-frames-in-cold",
        [Target("opens", "frames")],
        "weather.open_high_c < 10",
        because="Only {weather.open_high_c} at best.",
    )
    plan = book.plan({"H": {"colony.alive": True, "weather.open_high_c": 4.0}})
    assert "full-inspection" not in actions(plan)
    assert _withheld(plan) == [("full-inspection", "prohibition")]
    assert str(plan.hives[0].withheld[0].because) == "Only 4 °C at best."


@pytest.mark.parametrize(
    "target",
    [
        Target("opens", "frames"),
        Target("opens", "any"),
        act("requeen"),
        Target("moves", "queen"),
        Target("uses", "smoke"),
    ],
)
def test_a_prohibition_reaches_by_action_opening_or_tag(target):
    book = Book()
    book.rule("a.queen", "colony.alive", "requeen", gain=2)
    book.never("p", [target], "colony.alive")
    assert _withheld(book.plan({"H": {"colony.alive": True}})) == [("requeen", "prohibition")]


def test_an_excepted_action_is_not_reached():
    book = Book()
    book.rule("a.clear", "colony.robbed", "clear-dead-colony")
    book.never("p", [Target("opens", "any")], "colony.robbed", excepted=("clear-dead-colony",))
    assert actions(book.plan({"H": {"colony.robbed": True}})) == ["clear-dead-colony"]


def test_withholding_leaves_a_hungry_colony_something_to_do():
    book = Book()
    book.rule("f.syrup", "food.days_left < 7", "feed-thin-syrup", gain=45, by=2)
    book.never(
        "no-liquid-in-cold",
        [act("feed-thin-syrup")],
        "weather.high_c < 10",
        instead=("feed-candy",),
        because="Too cold for syrup.",
    )
    plan = book.plan({"H": {"food.days_left": 3.0, "weather.high_c": 5.0, "colony.alive": True}})
    assert actions(plan)[0] == "feed-candy"
    advice = plan.hives[0].advice[0]
    assert (advice.points, advice.rule, advice.by) == (45, "no-liquid-in-cold", plan.hives[0].advice[0].by)
    assert "Too cold for syrup." in str(advice.because)


def test_a_substitute_that_feeds_stands_in_only_for_feeding():
    book = Book()
    book.rule("s.look", "colony.alive", "full-inspection", gain=9)
    book.never("cold", [act("full-inspection")], "colony.alive", instead=("feed-candy", "heft-hive"))
    assert actions(book.plan({"H": {"colony.alive": True}})) == ["heft-hive"]


def test_no_second_substitute_where_one_is_advised_anyway():
    book = Book()
    book.rule("f.syrup", "colony.alive", "feed-thin-syrup", gain=45)
    book.rule("f.candy", "colony.alive", "feed-candy", gain=20)
    book.never("p", [act("feed-thin-syrup")], "colony.alive", instead=("feed-candy",))
    plan = book.plan({"H": {"colony.alive": True}})
    assert [a.rule for a in plan.hives[0].advice] == ["f.candy"]


def test_first_adds_the_act_that_comes_before_with_the_same_points():
    book = Book()
    book.rule("m.treat", "colony.alive", "treat-mites", gain=35, by=0)
    book.option("x", "amitraz", "strip")
    book.never(
        "supers",
        [act("treat-mites")],
        "hive.supers > 0",
        "first",
        first=("take-honey", "remove-supers"),
        because="Honey for people comes off first.",
    )
    plan = book.plan({"H": {"colony.alive": True, "hive.supers": 1}})
    assert actions(plan) == ["remove-supers", "treat-mites"]
    assert [a.points for a in plan.hives[0].advice] == [35, 35]


@pytest.mark.parametrize(
    ("days", "food", "told"),
    [(14, (12.0, 3, 40), True), (13, (12.0, 3, 40), False), (14, 12.0, False), (None, (12.0, 3, 40), False)],
    ids=["two weeks ago", "a day less", "sure", "never judged"],
)
def test_a_feed_on_food_that_is_only_reckoned_asks_for_a_lift_before_it_and_before_what_comes_first(days, food, told):
    book = Book()
    book.rule("a.feed", "food.days_left < 21", "feed-thin-syrup", because="Food for {food.days_left}.")
    book.never("supers", [act("feed-thin-syrup")], "hive.supers > 0", "first", first=("remove-supers",))
    hive = {"colony.alive": True, "hive.supers": 1.0, "food.days_left": food}
    plan = book.plan({"H": hive | ({"log.days_since_weighed": days} if days is not None else {})})
    said = {one.action: str(one.because) for one in plan.hives[0].advice}
    assert set(said) == {"feed-thin-syrup", "remove-supers"}
    day = TODAY - dt.timedelta(days=14)
    lift = f"The food was last looked at on {day.day} {day:%B} and is reckoned since"
    assert [lift in because for because in said.values()] == [told, told]


def test_first_moves_up_an_act_that_is_advised_anyway():
    book = Book()
    book.rule("h.take", "colony.alive", "take-honey", gain=3)
    book.rule("m.treat", "colony.alive", "treat-mites", gain=35, by=0)
    book.option("x", "amitraz", "strip")
    book.never("supers", [act("treat-mites")], "hive.supers > 0", "first", first=("take-honey", "remove-supers"))
    plan = book.plan({"H": {"colony.alive": True, "hive.supers": 1}})
    assert actions(plan) == ["take-honey", "treat-mites"]


def test_first_never_withholds_where_it_is_not_known():
    book = Book()
    book.rule("m.treat", "colony.alive", "treat-mites", gain=35, by=0)
    book.option("x", "amitraz", "strip")
    book.never(
        "supers",
        [act("treat-mites")],
        "hive.supers > 0",
        "first",
        first=("remove-supers",),
        unknown="ask",
        check="are supers on; they come off first",
    )
    plan = book.plan({"H": {"colony.alive": True}})
    assert actions(plan)[0] == "treat-mites"
    assert str(plan.hives[0].advice[0].warning()).startswith("First check: are supers on; they come off first.")


def test_ask_holds_back_and_its_look_gets_the_worth():
    book = Book()
    book.rule("s.unite", "colony.alive", "unite-colonies", gain=25, by=7)
    book.never(
        "clean",
        [act("unite-colonies")],
        "health.ropy_larvae",
        unknown="ask",
        because="Not before the brood was seen clean.",
    )
    plan = book.plan({"H": {"colony.alive": True, "weather.open_high_c": 20.0}})
    assert _withheld(plan) == [("unite-colonies", "prohibition")]
    first = plan.hives[0].advice[0]
    assert first.facts == ["health.ropy_larvae"] and first.origin == "look"
    assert first.unlocks[0] == {"rule": "s.unite", "action": "unite-colonies", "points": 25.0}
    assert first.points == pytest.approx(24.5)  # less half a point for opening on a warm day


def test_check_gives_it_with_the_check_first():
    book = Book()
    book.rule("s.look", "colony.alive", "full-inspection", gain=9, safety="Be quick.")
    book.never(
        "sting",
        [act("full-inspection")],
        "keeper.sting_allergy",
        unknown="check",
        check="is anyone here allergic to stings?",
    )
    plan = book.plan({"H": {"colony.alive": True}})
    assert actions(plan) == ["full-inspection"]
    assert str(plan.hives[0].advice[0].warning()) == "First check: is anyone here allergic to stings? Be quick."


def test_pass_counts_as_not_met():
    book = Book()
    book.rule("s.look", "colony.alive", "full-inspection", gain=9, safety="Be quick.")
    book.never("rob", [act("full-inspection")], "colony.robbed")
    plan = book.plan({"H": {"colony.alive": True}})
    assert actions(plan) == ["full-inspection"] and str(plan.hives[0].advice[0].safety) == "Be quick."


def test_usual_weather_leaves_the_day_open():
    book = Book()
    book.rule("s.look", "colony.alive", "full-inspection", gain=9)
    book.never("cold", [act("full-inspection")], "weather.open_high_c < 14")
    book.never(
        "wind",
        [act("full-inspection")],
        {"any": ["weather.open_wind_kmh > 25", {"not": "weather.open_dry"}]},
        "day",
        unknown="check",
    )
    plan = book.plan({"H": {"colony.alive": True, "weather.open_high_c": (15.0, 10, 20)}})
    assert actions(plan) == ["full-inspection"]
    assert plan.hives[0].advice[0].only_on == {"high_c_min": 14.0, "wind_kmh_max": 25.0, "dry": True}


def test_weather_that_is_sure_to_forbid_still_withholds():
    book = Book()
    book.rule("s.look", "colony.alive", "full-inspection", gain=9)
    book.never("cold", [act("full-inspection")], "weather.open_high_c < 14")
    plan = book.plan({"H": {"colony.alive": True, "weather.open_high_c": (2.0, -3, 7)}})
    assert _withheld(plan) == [("full-inspection", "prohibition")]


def test_a_closed_day_leaves_the_rest_of_the_week():
    book = Book()
    book.rule("s.look", "colony.alive", "full-inspection", gain=9)
    book.never("wind", [act("full-inspection")], "weather.open_wind_kmh > 25", "day")
    plan = book.plan({"H": {"colony.alive": True, "weather.open_wind_kmh": 48.0}})
    assert actions(plan) == ["full-inspection"] and plan.hives[0].advice[0].only_on == {"wind_kmh_max": 25.0}


def test_what_is_not_weather_is_checked_rather_than_put_on_the_day():
    book = Book()
    book.rule("s.look", "colony.alive", "full-inspection", gain=9)
    book.never(
        "fire",
        [act("full-inspection")],
        ["weather.high_c > 28", "weather.fire_ban"],
        "day",
        unknown="check",
        check="is there a fire ban today",
    )
    plan = book.plan({"H": {"colony.alive": True, "weather.high_c": (28.5, 24, 33)}})
    advice = plan.hives[0].advice[0]
    assert advice.only_on is None and str(advice.warning()).startswith("First check: is there a fire ban today.")


def test_clashes_hold_both_ways_and_the_lower_is_withheld():
    book = Book()
    book.rule("a.candy", "colony.alive", "feed-candy", gain=30)
    book.rule("b.syrup", "colony.alive", "feed-thin-syrup", gain=20)
    assert _withheld(book.plan({"H": {"colony.alive": True}})) == [("feed-thin-syrup", "clash")]
    other = Book()
    other.rule("a.candy", "colony.alive", "feed-candy", gain=10)
    other.rule("b.syrup", "colony.alive", "feed-thin-syrup", gain=20)
    assert _withheld(other.plan({"H": {"colony.alive": True}})) == [("feed-candy", "clash")]


def test_a_dead_colony_gets_only_what_makes_sense_for_it():
    book = Book()
    book.rule("f.candy", "food.stores_kg < 5", "feed-candy", gain=55)
    book.rule("d.clear", "colony.alive == false", "clear-dead-colony", gain=4)
    plan = book.plan({"H": {"colony.alive": False, "food.stores_kg": 1.0, "season.cold": True}})
    assert actions(plan) == ["clear-dead-colony"]


def test_robbing_shuts_the_hives_and_stopping_it_comes_first():
    book = Book()
    book.rule("r.stop", "colony.robbed", "stop-robbing", gain=30, by=0)
    book.rule("f.syrup", "food.days_left < 7", "feed-thin-syrup", gain=45, by=0)
    book.never("shut", [Target("opens", "any")], "colony.robbed", instead=("stop-robbing",))
    plan = book.plan({"H": {"colony.robbed": True, "food.days_left": 3.0}})
    assert actions(plan) == ["stop-robbing"] and _withheld(plan) == [("feed-thin-syrup", "prohibition")]


def test_a_prohibition_over_two_hives_looks_at_the_partner():
    book = Book()
    book.rule(
        "h.lend",
        ["hungry.food.days_left < 7", "heavy.food.stores_kg > 20"],
        "give-honey-frames",
        gain=45,
        roles=("hungry", "heavy"),
        at="hungry",
        because="{heavy} has {heavy.food.stores_kg}.",
    )
    book.never("clean", [act("give-honey-frames")], "partner.health.ropy_larvae", roles=("here", "partner"))
    hives = {
        "low": {"food.days_left": 3.0, "food.stores_kg": 1.0},
        "high": {"food.stores_kg": 26.0, "food.days_left": 90.0},
    }
    plan = book.plan(hives)
    advice = plan.hives[0].advice[0]
    assert (advice.action, advice.partner, str(advice.because)) == ("give-honey-frames", "high", "high has 26 kg.")
    hives["high"]["health.ropy_larvae"] = True
    assert _withheld(book.plan(hives)) == [("give-honey-frames", "prohibition")]


# --- treatments ------------------------------------------------------------------------------------------------------------
def _treating():
    book = Book()
    book.rule("m.treat", "colony.alive", "treat-mites", gain=35, by=7)
    book.option("thymol-gel", "thymol", "gel", [("weather.mean_high_c < 15", "thymol wants days of 15 °C")])
    book.option("thymol-wafer", "thymol", "wafer", [("weather.mean_c < 15", "wafers want a mean of 15 °C")])
    book.option("oxalic-dribble", "oxalic", "dribble", [("colony.sealed_brood", "there is sealed brood")])
    return book


def test_options_by_active_ingredient_say_yes_no_or_not_known():
    plan = _treating().plan({"H": {"colony.alive": True, "weather.mean_high_c": 18.0, "weather.mean_c": 12.0}})
    options = {o["active"]: o["allowed"] for o in plan.hives[0].advice[0].options}
    assert options == {"oxalic": None, "thymol": True}
    assert "wafer: Not now: wafers want a mean of 15 °C." in str(plan.hives[0].advice[0].options[1]["because"])


def test_where_nothing_can_be_used_the_plan_says_to_set_a_date():
    plan = _treating().plan(
        {"H": {"colony.alive": True, "weather.mean_high_c": 8.0, "weather.mean_c": 5.0, "colony.sealed_brood": True}}
    )
    assert "treat-mites" not in actions(plan)
    assert actions(plan)[0] == "plan-mite-treatment" and plan.hives[0].advice[0].points == 35
    assert _withheld(plan) == [("treat-mites", "prohibition")]


def test_an_option_can_be_forbidden_by_name():
    book = _treating()
    book.never("thymol-limits", [Target("option", "treat-mites", "thymol")], "weather.high_c > 40")
    plan = book.plan(
        {"H": {"colony.alive": True, "weather.mean_high_c": 38.0, "weather.mean_c": 30.0, "weather.high_c": 42.0}}
    )
    assert {o["active"]: o["allowed"] for o in plan.hives[0].advice[0].options}["thymol"] is False


# --- leave closed, nothing due -----------------------------------------------------------------------------------------------
def test_a_cold_quiet_week_says_leave_it_closed():
    plan = Book().plan({"H": {"colony.alive": True, "season.cold": True, "weather.open_high_c": -12.0}})
    assert actions(plan) == ["leave-closed"] and plan.hives[0].nothing_due is None


def test_leave_closed_stands_last_and_not_where_something_opens_the_hive():
    book = Book()
    book.rule("g.guard", "hive.mouse_guard == false", "fit-mouse-guard", gain=3)
    cold = {"colony.alive": True, "season.cold": True, "weather.open_high_c": 2.0}
    assert actions(book.plan({"H": {**cold, "hive.mouse_guard": False}})) == ["fit-mouse-guard", "leave-closed"]
    book.rule("f.candy", "food.days_left < 7", "feed-candy", gain=55)
    assert "leave-closed" not in actions(book.plan({"H": {**cold, "food.days_left": 3.0}}))


def test_a_warm_quiet_week_says_nothing_is_due_and_what_comes_next():
    plan = Book().plan(
        {"H": {"colony.alive": True, "weather.open_high_c": 22.0}},
        calendar=Calendar(swarm_season_start=(4, 20), mouse_guards_on=(10, 5), first_pollen=(3, 1)),
    )
    hive = plan.hives[0]
    assert hive.advice == [] and hive.nothing_due["next"]["date"].isoformat() == "2026-04-20"
    assert "nothing is due" in str(hive.nothing_due["because"])


def test_next_due_looks_past_the_turn_of_the_year():
    plan = Book().plan(
        {"H": {"colony.alive": True, "weather.open_high_c": 22.0}}, calendar=Calendar(first_pollen=(3, 1))
    )
    assert plan.hives[0].nothing_due["next"]["date"].isoformat() == "2027-03-01"


def test_without_a_calendar_the_next_date_is_not_made_up():
    assert Book().plan({"H": {"weather.open_high_c": 22.0}}).hives[0].nothing_due["next"] is None

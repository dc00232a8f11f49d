"""What the vocabulary says of actions, and the ranking file of troubles, decides visits, kit and what is said of a quiet hive."""

import copy
import datetime as dt
from dataclasses import replace

import pytest
from plan_kit import TODAY, Book, actions, weights, words

from hiveweek.plan import Setting, make
from hiveweek.plan.model import Advice, HivePlan, Look
from hiveweek.plan.visits import visits
from hiveweek.show import cards
from hiveweek.show.week import dry_hour

BEST = TODAY + dt.timedelta(days=3)


def hive(name, *jobs, **kept):
    return HivePlan(name, advice=[job if isinstance(job, Advice) else Advice(job, "r") for job in jobs], **kept)


def said(action, **keys):
    """The shipped vocabulary with other keys at one action."""
    changed = copy.copy(words())
    changed.actions = {**words().actions, action: replace(words().actions[action], **keys)}
    return changed


def kinds(found):
    return {action: (v["what"], v["day"]) for v in found for stop in v["hives"] for action in stop["actions"]}


def test_jobs_go_to_the_visit_that_fits_them():
    jobs = ("report-notifiable", "heft-hive", "add-super", "leave-closed")
    found = visits([hive("A", *jobs)], words(), TODAY, BEST)
    assert kinds(found) == {
        "report-notifiable": ("at_home", TODAY),
        "heft-hive": ("outside", BEST),
        "add-super": ("opening", BEST),
    }


@pytest.mark.parametrize(
    ("action", "keys", "kind"),
    [
        ("heft-hive", {"at_home": True}, ("at_home", TODAY)),
        ("report-notifiable", {"at_home": False}, ("outside", BEST)),
        ("add-super", {"any_day": True}, ("outside", TODAY)),
        ("clear-dead-colony", {}, ("outside", TODAY)),
        ("clear-dead-colony", {"any_day": False}, ("opening", BEST)),
        ("leave-closed", {"leaves_closed": False}, ("outside", BEST)),
    ],
)
def test_the_vocabulary_says_where_and_when_a_job_is_done(action, keys, kind):
    assert kinds(visits([hive("A", action)], said(action, **keys), TODAY, BEST)) == {action: kind}


@pytest.mark.parametrize(
    ("job", "day"),
    [
        (Advice("heft-hive", "r", by=TODAY), TODAY),
        (Advice("heft-hive", "r", by=TODAY + dt.timedelta(days=1)), BEST),
        (Advice("heft-hive", "r", band=0), TODAY),
    ],
)
def test_what_cannot_wait_is_done_outside_today(job, day):
    assert visits([hive("A", job)], words(), TODAY, BEST)[0]["day"] == day
    assert visits([hive("A", job)], words(), TODAY, None)[0]["day"] == TODAY


def test_suspected_hives_come_last_and_yard_jobs_once():
    hives = [hive("A", "heft-hive", suspect=True)]
    found = visits([*hives, hive("B", "heft-hive")], words(), TODAY, BEST)
    assert [stop["hive"] for stop in found[0]["hives"]] == ["B", "A"]
    yard = next(action.id for action in words().actions.values() if action.scope == "apiary" and not action.at_home)
    found = visits([hive("A", yard), hive("B", yard)], words(), TODAY, BEST)
    assert [stop["hive"] for visit in found for stop in visit["hives"]] == ["A"]


def test_kit_is_left_at_home_where_the_fact_holds():
    book = Book()
    book.rule("a.b", "colony.alive", "swarm-inspection")
    known = {"colony.alive": True}
    kits = [book.plan({"A": {**known, "weather.fire_ban": ban}, "B": known}).kit for ban in (False, True)]
    assert "smoker" in kits[0] and set(kits[0]) - set(kits[1]) == {"smoker"}
    assert words().left_at_home == {"weather.fire_ban": ("smoker", "match")}


def test_one_dry_hour_goes_to_what_the_vocabulary_puts_first():
    def hours(*jobs, vocabulary=None):
        book = Book()
        plan = book.plan({"A": {}})
        plan.hives[0].advice = [Advice(job, "r", points=9 - k) for k, job in enumerate(jobs)]
        return tuple([str(text) for text in part] for part in dry_hour(plan, vocabulary or words()))

    label = {action.id: f"{action.label} (A)" for action in words().actions.values()}
    assert hours("add-super", "requeen", "feed-candy")[1] == [label["feed-candy"]]
    assert hours("add-super", "requeen")[1] == [label["requeen"]]
    assert hours("add-super", "heft-hive", "leave-closed") == ([label["heft-hive"]], [label["add-super"]])
    moved = said("add-super", dry_hour="first")
    assert hours("add-super", "feed-candy", vocabulary=moved)[1] == [label["add-super"], label["feed-candy"]]


def quiet(facts, ranking):
    book = Book()
    book.rule("disease.suspect", "health.foul_smell", finding="suspect-here")
    book.rule("hazards.robbing", "colony.robbed", finding="robbing")
    inference = book.infer({"A": {"colony.alive": True, **facts}})
    return make(inference, Setting(TODAY), ranking).hives[0]


def test_troubles_are_said_gravest_first():
    both = {"health.foul_smell": True, "colony.robbed": True}
    said_of = weights().troubles
    assert list(said_of)[:1] == ["suspect-here"] and weights().suspicions == {"suspect-here"}
    found = quiet(both, weights())
    assert found.suspect and str(found.nothing_due["because"]).startswith(said_of["suspect-here"])
    found = quiet({"colony.robbed": True}, weights())
    assert not found.suspect and str(found.nothing_due["because"]).startswith(said_of["robbing"])
    turned = replace(weights(), troubles=dict(reversed(said_of.items())), suspicions=frozenset({"robbing"}))
    found = quiet(both, turned)
    assert found.suspect and str(found.nothing_due["because"]).startswith(said_of["robbing"])
    assert not quiet({"health.foul_smell": True}, turned).suspect


@pytest.mark.parametrize(
    ("facts", "closed"),
    [
        ({"season.cold": True}, True),
        ({"season.phase": "late_winter"}, True),
        ({"season.phase": "late_winter", "season.cold": False}, True),
        ({"season.phase": "autumn", "season.cold": False}, False),
        ({}, False),
    ],
)
def test_a_hive_is_left_closed_in_the_weeks_that_the_ranking_file_names(facts, closed):
    week = {"weather.open_high_c": 15.0, **facts}
    assert (actions_of(quiet(week, weights())) == ["leave-closed"]) is closed
    assert actions_of(quiet(week, replace(weights(), leave_closed_in=None))) == []


def actions_of(hive_plan):
    return [advice.action for advice in hive_plan.advice]


def test_where_no_treatment_fits_the_action_that_plans_it_stands_in():
    book = Book()
    book.rule("mites.treat", "colony.alive", "treat-mites", gain=30)
    book.option("thymol.gel", "thymol", "gel", bars=[("weather.high_c > 10", "too warm")])
    plan = book.plan({"A": {"colony.alive": True, "weather.high_c": 20.0}})
    assert actions(plan) == [next(a.id for a in words().actions.values() if a.plans == "treat-mites")]
    assert [option["active"] for option in plan.hives[0].advice[0].options] == ["thymol"]


def test_an_overlay_may_move_what_a_screen_names():
    plan = Book().plan({"A": {}})
    plan.hives[0].look_first = [Look("heft-hive", [], "", points, []) for points in (3.0, 0.6, 0.5, 0.5, 0.4)]
    assert [look.points for look in cards.looks(plan.hives[0], plan)] == [3.0, 0.6, 0.5]
    shipped = weights().numbers
    moved = [replace(shipped["plan.screen.look_pts"], value=0.55), replace(shipped["plan.screen.looks"], value=4)]
    ranking = weights().under(shipped.moved(moved))
    plan = make(Book().infer({"A": {}}), Setting(TODAY), ranking)
    plan.hives[0].look_first = [Look("heft-hive", [], "", points, []) for points in (3.0, 0.6, 0.56, 0.55, 0.5)]
    assert [look.points for look in cards.looks(plan.hives[0], plan)] == [3.0, 0.6, 0.56, 0.55]

"""Since when an act is due, and by when, worked out from what is noted."""

import datetime as dt
import json
from types import SimpleNamespace

import pytest
from plan_kit import Book, Calendar, scenario, weights, words

from hiveweek.climate import load_profile
from hiveweek.facts.build import build, history_of
from hiveweek.facts.past import Past
from hiveweek.facts.scenario import record_of
from hiveweek.inference.columnar import infer
from hiveweek.plan.answer import answer
from hiveweek.plan.deadlines import Deadlines
from hiveweek.plan.since import Since
from hiveweek.problems import InputProblems
from hiveweek.record.answered import given_at
from hiveweek.rules.model import Deadline, Late
from hiveweek.show import json as as_json


def due(book, yard, today, *, advised=None, guards=(), instead=None, calendar=None, follow=None, late=None):
    """Return since when what the rules of a book advise is due, for each hive."""
    today = dt.date.fromisoformat(today)
    profile = load_profile(yard.climate)
    built = build(yard, today, profile, None, words())
    inference = infer(book.ruleset(), built.table)
    record, _, hives = record_of(yard, words())
    given = given_at(record, hives, today, words())
    past = Past(yard, profile, words(), history_of(yard, today, words()))
    fired = [
        {r.advise for r in book.rules.values() if r.advise and inference.rules[r.id].holds(row)}
        for row in range(len(hives))
    ]
    found = Since(
        inference,
        past,
        Deadlines(built.table, today, calendar, late),
        guards,
        given,
        lambda action: (instead or {}).get(action, ()),
        12,
        follow=lambda row, action: (follow or {}).get(action, ()),
    )
    return found.find(advised or fired)


def day(text):
    return dt.date.fromisoformat(text)


ONE = """
date: 2026-05-01
hives:
  - id: Ash
    record:
      - {date: 2026-05-01, set: {hive.supers: 0}}
      - {date: 2026-05-06, set: {hive.supers: 3}}
      - {date: 2026-05-28, seen: {colony.temper: calm}}
"""


def one_rule(by=14):
    book = Book()
    book.rule("a.off", "hive.supers > 2", "remove-supers", by=by)
    return book


@pytest.mark.parametrize("today", ["2026-05-06", "2026-05-07", "2026-05-11", "2026-05-30", "2026-06-01", "2026-07-20"])
def test_the_day_on_which_it_came_up_stays_the_day(today):
    """Noted on a Wednesday, and asked on any day after."""
    yard = (
        scenario(ONE.replace("2026-05-01\nhives", f"{today}\nhives"), "cool_continental")
        if today > "2026-05-28"
        else scenario(
            "\n".join(
                line for line in ONE.replace("2026-05-01\nhives", f"{today}\nhives").split("\n") if "05-28" not in line
            )
        )
    )
    (found,) = due(one_rule(), yard, today)
    assert found["remove-supers"].since == day("2026-05-06") and found["remove-supers"].before is None
    assert found["remove-supers"].by == day("2026-05-20") == found["remove-supers"].by_rule["a.off"]


def test_what_is_due_for_longer_than_was_asked_says_so():
    yard = scenario("date: 2026-01-05\nhives:\n  - {id: Ash, record: [{date: 2026-01-05, set: {hive.supers: 3}}]}\n")
    (found,) = due(one_rule(), yard, "2026-07-15")
    farthest = day("2026-07-15") - dt.timedelta(weeks=12, days=2)
    assert farthest.weekday() == 0 and found["remove-supers"].since is None
    assert found["remove-supers"].before == farthest
    assert found["remove-supers"].by is None  # counted from the farthest day it would move on week by week
    # a day of harm that went by is no later reason to name one: the other was earlier, or may have been
    harm = Late("remove-supers", harm=(Deadline("event", "unwrap", 0),))
    calendar = SimpleNamespace(event_date=lambda name, near: farthest + dt.timedelta(days=20))
    (found,) = due(one_rule(), yard, "2026-07-15", calendar=calendar, late={"remove-supers": harm})
    assert found["remove-supers"].by is None and found["remove-supers"].before == farthest


def test_nothing_is_due_before_anything_was_noted():
    """A rule that holds in any hive on any day is due since the first note of this one."""
    book = Book()
    book.rule("a.any", "hive.supers is unknown", "update-records", by=7)
    yard = scenario(
        "date: 2026-05-10\nhives:\n  - {id: Ash, record: [{date: 2026-05-03, seen: {colony.alive: true}}]}\n"
        "  - {id: Elm, record: [{date: 2026-05-09, seen: {colony.alive: true}}]}\n"
    )
    ash, elm = due(book, yard, "2026-05-10")
    assert (ash["update-records"].since, elm["update-records"].since) == (day("2026-05-03"), day("2026-05-09"))


def test_what_ended_and_came_again_is_due_since_it_came_again():
    yard = scenario(
        "date: 2026-06-20\nhives:\n  - id: Ash\n    record:\n"
        "      - {date: 2026-05-02, set: {hive.supers: 3}}\n"
        "      - {date: 2026-05-20, set: {hive.supers: 1}}\n"
        "      - {date: 2026-06-04, set: {hive.supers: 4}}\n"
    )
    (found,) = due(one_rule(), yard, "2026-06-20")
    assert found["remove-supers"].since == day("2026-06-04") and found["remove-supers"].by == day("2026-06-18")


def test_the_days_on_which_other_hives_were_noted_move_no_deadline():
    """What was asked of a day for one hive says nothing of a rule that was not asked on it."""
    book = one_rule(by=60)
    book.rule("b.opened", "log.days_since_opened > 20", "remove-supers", by=3)
    book.rule("c.any", "food.days_left > 0", "update-records", by=7)
    ash = (
        "date: 2026-06-05\nhives:\n  - id: Ash\n    record:\n"
        "      - {date: 2026-05-06, set: {hive.supers: 3}}\n      - {date: 2026-05-06, seen: {colony.eggs: true}}\n"
    )
    looks = "".join(f", {{date: 2026-06-0{n}, seen: {{colony.temper: calm}}}}" for n in (2, 3, 4))
    first = "{date: 2026-05-30, seen: {food.stores_kg: 10, colony.frames_of_bees: 8}}"
    birch = f"  - {{id: Birch, record: [{first}{looks}]}}\n"
    (alone,) = due(book, scenario(ash), "2026-06-05")
    beside, _ = due(book, scenario(ash + birch), "2026-06-05")
    assert alone == beside and alone["remove-supers"].by_rule["b.opened"] == day("2026-05-30")


def test_a_guard_that_only_puts_it_off_does_not_break_the_run():
    book = Book()
    book.rule("g.robbing", "colony.robbed", finding="robbing")
    book.rule("a.off", ["hive.supers > 2", {"unless": "finding.robbing"}], "remove-supers", by=14)
    yard = scenario(
        "date: 2026-06-20\nhives:\n  - id: Ash\n    record:\n"
        "      - {date: 2026-06-02, set: {hive.supers: 3}}\n"
        "      - {date: 2026-06-06, seen: {colony.robbed: true}}\n"
        "      - {date: 2026-06-10, seen: {colony.robbed: false}}\n"
    )
    (stopped,) = due(book, yard, "2026-06-20")
    (put_off,) = due(book, yard, "2026-06-20", guards={"robbing"})
    assert stopped["remove-supers"].since == day("2026-06-10")
    assert put_off["remove-supers"].since == day("2026-06-02") and put_off["remove-supers"].by == day("2026-06-16")


def test_the_run_goes_on_where_a_substitute_was_advised():
    book = Book()
    book.rule("a.off", ["hive.supers > 2", "hive.excluder"], "remove-supers", by=14)
    book.rule("b.look", ["hive.supers > 2", {"not": "hive.excluder"}], "full-inspection", by=3)
    yard = scenario(
        "date: 2026-06-20\nhives:\n  - id: Ash\n    record:\n"
        "      - {date: 2026-06-02, set: {hive.supers: 3, hive.excluder: false}}\n"
        "      - {date: 2026-06-10, set: {hive.excluder: true}}\n"
    )
    (alone,) = due(book, yard, "2026-06-20")
    (both,) = due(book, yard, "2026-06-20", instead={"remove-supers": ["full-inspection"]})
    assert alone["remove-supers"].since == day("2026-06-10") and both["remove-supers"].since == day("2026-06-02")
    assert both["remove-supers"].by == day("2026-06-24")  # the substitute's deadline is its own


def test_of_two_reasons_the_earlier_day_stands_until_a_note_ends_its_reason():
    book = one_rule(by=28)
    book.rule("b.off", "hive.entrance == reduced", "remove-supers", by=3)
    text = (
        "date: 2026-06-20\nhives:\n  - id: Ash\n    record:\n"
        "      - {date: 2026-06-02, set: {hive.supers: 3, hive.entrance: full}}\n"
        "      - {date: 2026-06-10, set: {hive.entrance: reduced}}\n"
    )
    (found,) = due(book, scenario(text), "2026-06-20")
    assert found["remove-supers"].since == day("2026-06-02") and found["remove-supers"].by == day("2026-06-13")
    assert found["remove-supers"].by_rule == {"a.off": day("2026-06-30"), "b.off": day("2026-06-13")}
    (ended,) = due(book, scenario(text + "      - {date: 2026-06-18, set: {hive.entrance: full}}\n"), "2026-06-20")
    assert ended["remove-supers"].since == day("2026-06-02") and ended["remove-supers"].by == day("2026-06-30")


def test_a_reason_that_only_the_days_ended_keeps_its_deadline():
    """Temper counts for some days only; nobody noted that it is better."""
    book = one_rule(by=60)
    book.rule("b.off", "colony.temper == attacks", "remove-supers", by=3)
    keeps = words().facts["colony.temper"].keeps
    first = day("2026-04-08")
    today = first + dt.timedelta(days=keeps + 4)
    yard = scenario(
        f"date: {today}\nhives:\n  - id: Ash\n    record:\n"
        f"      - {{date: {first}, seen: {{colony.temper: attacks}}, }}\n      - {{date: {first}, set: {{hive.supers: 3}}}}\n"
    )
    (found,) = due(book, yard, str(today))
    assert found["remove-supers"].by == first + dt.timedelta(days=3)


def test_the_day_of_what_follows_stays_though_the_days_or_a_note_end_it():
    """What comes first in a visit was due with it: no day gives that back, but a note that ends what followed does."""
    book = one_rule(by=60)
    book.rule("b.after", "colony.temper == attacks", "full-inspection", by=3)
    keeps = words().facts["colony.temper"].keeps
    first = day("2026-04-08")
    text = (
        f"    record:\n      - {{date: {first}, seen: {{colony.temper: attacks}}}}\n"
        f"      - {{date: {first}, set: {{hive.supers: 3}}}}\n"
    )
    follow = {"remove-supers": ["full-inspection"]}
    for days in (0, 1, keeps, keeps + 4):
        today = first + dt.timedelta(days=days)
        yard = scenario(f"date: {today}\nhives:\n  - id: Ash\n{text}")
        assert due(book, yard, str(today), follow=follow)[0]["remove-supers"].by == first + dt.timedelta(days=3)
        assert due(book, yard, str(today))[0]["remove-supers"].by == first + dt.timedelta(days=60)
    calm = f"date: 2026-04-20\nhives:\n  - id: Ash\n{text}      - {{date: 2026-04-15, seen: {{colony.temper: calm}}}}\n"
    assert due(book, scenario(calm), "2026-04-20", follow=follow)[0]["remove-supers"].by == first + dt.timedelta(
        days=60
    )


def test_what_follows_on_a_few_days_of_a_week_gives_its_day_too():
    book = one_rule(by=60)
    book.rule("b.after", ["log.days_since_checked >= 3", "log.days_since_checked <= 4"], "full-inspection", by=1)
    text = (
        "hives:\n  - id: Ash\n    record:\n      - {date: 2026-04-08, set: {hive.supers: 3}}\n"
        "      - {date: 2026-04-08, seen: {colony.temper: calm}}\n"
    )
    for today, by in (("2026-04-10", "2026-06-07"), ("2026-04-11", "2026-04-12"), ("2026-04-30", "2026-04-12")):
        yard = scenario(f"date: {today}\n{text}")
        (found,) = due(book, yard, today, follow={"remove-supers": ["full-inspection"]})
        assert found["remove-supers"].by == day(by)


def test_what_follows_gives_its_day_also_on_the_first_day_on_which_a_guard_puts_it_off():
    book = one_rule(by=60)
    book.rule("g.robbing", "colony.robbed", finding="robbing")
    book.rule("b.after", ["hive.supers > 2", {"unless": "finding.robbing"}], "full-inspection", by=3)
    text = "hives:\n  - id: Ash\n    record:\n      - {date: 2026-04-08, set: {hive.supers: 3}}\n"
    text += "      - {date: 2026-04-08, seen: {colony.robbed: true}}\n"
    for today in ("2026-04-08", "2026-04-09"):
        (found,) = due(
            book,
            scenario(f"date: {today}\n{text}"),
            today,
            guards={"robbing"},
            follow={"remove-supers": ["full-inspection"]},
        )
        assert found["remove-supers"].by == day("2026-04-11")


def test_what_was_done_ends_the_run_and_its_quiet_days_are_not_due():
    yard = scenario(
        "date: 2026-06-20\nhives:\n  - id: Ash\n    record:\n"
        "      - {date: 2026-05-02, set: {hive.supers: 3}}\n"
        "      - {date: 2026-06-03, done: feed-candy, kg: 1}\n"
    )
    book = Book()
    book.rule("a.feed", "hive.supers > 2", "feed-candy", by=7)
    quiet = words().effects["feed-candy"].quiet_for
    (found,) = due(book, yard, "2026-06-20")
    assert quiet > 1 and found["feed-candy"].since == day("2026-06-03") + dt.timedelta(days=quiet)


def test_a_deadline_on_a_date_starts_anew_at_a_note_of_what_it_uses_only():
    """A date fact moved by a later note moves the deadline; a note of something else does not."""
    book = Book()
    book.rule("a.out", "mites.in_hive == amitraz", "remove-treatment", by=Deadline("fact", "course.out_by"))
    text = (
        "date: 2026-09-20\nhives:\n  - id: Ash\n    record:\n"
        "      - {date: 2026-08-03, done: treat-mites, active: amitraz, form: strip}\n"
        "      - {date: 2026-08-20, set: {hive.supers: 0}}\n"
    )
    (found,) = due(book, scenario(text), "2026-09-20")
    assert found["remove-treatment"].by == day("2026-08-03") + dt.timedelta(
        days=words().courses["amitraz-strip"].out.last
    )


def test_an_event_that_is_over_gives_the_day_itself_and_a_lead_time_never_lies_before():
    table = build(
        scenario("date: 2026-09-25\nhives: [{id: Ash, facts: {}}]\n"), profile=load_profile("boreal"), words=words()
    ).table
    deadlines = Deadlines(table, day("2026-09-25"), Calendar(stop_syrup_by=(9, 30)))
    syrup = Deadline("event", "stop_syrup_by", -14)
    assert deadlines.on(syrup, day("2026-09-10"), 0) == day("2026-09-16")
    assert deadlines.on(syrup, day("2026-09-25"), 0) == day("2026-09-25")
    food = Deadline("fact", "food.empty_on", -7)
    number = float(day("2026-09-28").toordinal())
    assert deadlines.on(food, day("2026-09-20"), 0, number) == day("2026-09-21")
    assert deadlines.on(food, day("2026-09-25"), 0, number) == day("2026-09-25")
    assert deadlines.on(Deadline("fact", "course.out_by"), day("2026-09-25"), 0, number - 10) == day("2026-09-18")
    assert deadlines.on(food, day("2026-09-25"), 0, float("nan")) is None


# --- what a keeper saw go wrong over a year -------------------------------------------------------------------------
STRONG = (
    "hive.size: single, hive.frames: 10, hive.frame: deep, hive.supers: 0, colony.frames_of_bees: 9, colony.frames_of_brood: 6, "
    "colony.queen: seen, colony.eggs: true, food.stores_kg: 12, mites.in_hive: none"
)
MITES = "mites.sample_mites: 12, mites.sample_bees: 300, mites.method: wash"  # four in a hundred


def hive(yard, today):
    plan = answer(yard, date=day(today), offline=True, second_channel=False, words=words(), ranking=weights()).plan
    return json.loads(as_json.text(plan))["hives"][0]


def advice(found, action):
    return next((a for a in found["advice"] if a["action"] == action), None)


def test_mites_of_august_are_treated_against_on_the_day_that_was_named():
    yard = scenario(f"date: 2026-08-10\nhives: [{{id: Ash, facts: {{{STRONG}, {MITES}}}}}]\n")
    first = advice(hive(yard, "2026-08-10"), "treat-mites")
    assert (first["due_since"], first["due_by"], first["overdue"]) == ("2026-08-10", "2026-08-16", False)
    for today in ("2026-08-17", "2026-08-24", "2026-09-07", "2026-09-08", "2026-10-05"):
        later = advice(hive(yard, today), "treat-mites")
        assert (later["due_since"], later["due_by"], later["by"]) == ("2026-08-10", "2026-08-16", today), today
        assert later["overdue"] and later["points"] >= first["points"]


def test_mites_of_august_are_asked_about_still_in_november():
    yard = scenario(f"date: 2026-08-10\nhives: [{{id: Ash, facts: {{{STRONG}, {MITES}}}}}]\n")
    mites = {"treat-mites", "treat-oxalic-broodless", "count-mites", "count-mite-drop"}
    for today in ("2026-11-02", "2026-11-10", "2026-11-25"):
        found = hive(yard, today)
        assert mites & {a["action"] for a in found["advice"][:3]}, today


def test_a_dead_hive_is_dead_after_a_month_too():
    yard = scenario(
        "date: 2026-02-10\nhives: [{id: Ash, facts: {colony.alive: false, hive.size: single, hive.supers: 0}}]\n"
    )
    for today in ("2026-02-10", "2026-03-10", "2026-03-11", "2026-04-09"):
        found = hive(yard, today)
        told = advice(found, "clear-dead-colony")
        assert told is not None and told["due_since"] == "2026-02-10", today
        assert not {"feed-candy", "count-mites", "heft-hive"} & {a["action"] for a in found["advice"]}


def test_strips_are_on_the_card_of_every_later_day():
    yard = scenario(
        f"date: 2026-08-15\nhives:\n  - id: Ash\n    facts: {{{STRONG.replace(', mites.in_hive: none', '')}}}\n"
        "    record: [{date: 2026-08-15, done: treat-mites, active: amitraz, form: strip}]\n"
    )
    for step in range(1, 90, 8):
        today = day("2026-08-15") + dt.timedelta(days=step)
        (course,) = hive(yard, today.isoformat())["courses"]
        assert (course["active"], course["since"], course["day"]) == ("amitraz", "2026-08-15", step)


def test_equipment_under_facts_does_not_overrule_a_later_note_in_silence():
    with pytest.raises(InputProblems) as wrong:
        scenario(
            "date: 2026-05-20\nhives:\n  - id: Ash\n    facts: {hive.size: nuc}\n"
            "    record: [{date: 2026-05-06, done: move-to-larger-box, size: single}]\n"
        )
    assert [problem.code for problem in wrong.value.problems] == ["overruled"]


def test_food_that_says_nothing_any_more_is_asked_for_also_where_another_note_had_grown_old_before():
    """The nectar of two months ago kept the feed back only while it was known."""
    yard = scenario(
        "date: 2026-08-23\napiary: {name: A}\nhives:\n"
        "- {id: H, facts: {colony.frames_of_bees: 9, food.stores_kg: 6.2, food.nectar: strong, harvest.super_frames_full: 5.7,"
        " hive.type: fixed_comb, hive.frames: 6, hive.supers: 1, colony.many_eggs_per_cell: true, colony.drone_brood_in_worker_cells: true}}\n",
        "southern_maritime",
    )
    days = (dt.date(2026, 10, 4), dt.date(2026, 10, 22))
    plans = [answer(yard, date=day, offline=True, second_channel=False, words=words()).plan for day in days]
    fed, asked = ([one.action for one in plan.hives[0].advice] for plan in plans)
    assert "feed-thin-syrup" in fed and "feed-thin-syrup" not in asked and "heft-hive" in asked


@pytest.mark.parametrize("eggs_on", ["2026-04-08", "2026-04-20"])
def test_a_later_look_that_grew_old_goes_before_an_earlier_one(eggs_on):
    """No brood of any age tells that there were no eggs, whatever was seen before; what grew old is looked for."""
    yard = scenario(
        "date: 2026-04-25\nhives:\n  - id: Ash\n    facts: {colony.frames_of_bees: 9.6, colony.super_frames_of_bees: 0, hive.size: single,"
        " hive.supers: 0, hive.frame: deep, food.stores_kg: 12.9, colony.queen_event: none, colony.drones: true, colony.pollen_in: true,"
        " colony.flight: none, hive.excluder: true, harvest.super_frames_full: 0, colony.spotting: none, colony.deformed_wings: false,"
        " health.lab_result: clear, food.nectar: some}\n"
        "    facts_on: 2026-04-25\n    observed:\n"
        f"      - {{date: {eggs_on}, colony.queen: seen, colony.eggs: true, colony.queen_cells: none}}\n"
        "      - {date: 2026-04-25, colony.youngest_brood: none}\n"
    )
    looks = {name for name, one in words().actions.items() if "colony.eggs" in one.observes}
    for today in ("2026-05-07", "2026-05-08", "2026-05-09", "2026-05-16"):
        found = hive(yard, today)
        asked = {a["action"] for a in (*found["advice"], *found["look_first"], *found["withheld"])}
        assert asked & {*looks, "wait-and-recheck"}, today


def test_cells_that_count_for_five_weeks_are_looked_for_when_those_are_over():
    yard = scenario(
        "date: 2026-05-27\nhives:\n  - id: Ash\n    facts: {colony.alive: true, colony.origin: wintered, colony.queen: seen,"
        " colony.drone_brood_in_worker_cells: false, colony.many_eggs_per_cell: false, colony.queen_cells: supersedure, colony.trembling: false,"
        " colony.pollen_in: true, colony.flight: some, colony.robbed: false, food.reaches_cluster: true, food.nectar: strong,"
        " food.stores_kg: 4.7, harvest.own_frames: true, health.ropy_larvae: false, health.sunken_caps: false, health.off_colour_larvae: false,"
        " health.foul_smell: false, health.lab_result: clear, hive.frame: deep, hive.wintering: indoor, hive.entrance: full}\n"
        "    facts_on: 2026-05-27\n    observed:\n"
        "      - {date: 2026-05-03, mites.treated_on: 2026-05-03, mites.last_active: oxalic, mites.form: dribble}\n"
        "      - {date: 2026-05-14, colony.queen: seen, colony.queen_cells: none, food.heft: middling}\n",
        "tropical_highland",
    )
    looks = {name for name, one in words().actions.items() if {"colony.eggs", "colony.queen_cells"} & set(one.observes)}
    for today in ("2026-06-30", "2026-07-01", "2026-07-02", "2026-07-08", "2026-07-25"):
        found = hive(yard, today)
        asked = {a["action"] for a in (*found["advice"], *found["look_first"], *found["withheld"])}
        assert asked & {*looks, "wait-and-recheck", "order-queen"}, today

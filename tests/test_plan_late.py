"""Jobs missed: what becomes of them once their last sensible time is over."""

import datetime as dt
from functools import lru_cache

import pytest
from plan_kit import TODAY, Book, table, weights, words
from test_plan_since import MITES, STRONG, advice, hive, scenario

from hiveweek import rules
from hiveweek.climate import load_profile, profile_ids
from hiveweek.inference.columnar import infer
from hiveweek.plan import Setting, make
from hiveweek.plan.deadlines import Deadlines
from hiveweek.rules.late import parse_late
from hiveweek.rules.model import Deadline, Late
from hiveweek.rules.store import effective_rules
from hiveweek.shapes import marked_yaml

PAST = dt.date.fromordinal(TODAY.toordinal() - 5)


@lru_cache(maxsize=1)
def library():
    return rules.library(words())


def parsed(text):
    problems = []
    found = parse_late(marked_yaml.parse(text, "late.yaml"), library(), problems)
    return found, [(p.code, p.line) for p in problems]


def test_what_is_wrong_with_an_entry_is_told_where_it_stands():
    _, wrong = parsed(
        "late:\n"
        "  treat-mites: {harm: [event.no_such_day, 7 d, food.stores_kg], source: [V56]}\n"
        "  requeen: {until: season.colt, say: x, instead: hive-swarm, source: [V56]}\n"
        "  add-super: {until: season.cold, say: x, instead: bring-indoors, source: [Q999]}\n"
    )
    assert ("unknown-event", 2) in wrong and wrong.count(("bad-deadline", 2)) == 2
    assert ("unknown-fact", 3) in wrong and (
        "never-advised",
        3,
    ) in wrong  # a swarm is hived where one hangs, no rule says so
    assert ("unknown-source", 4) in wrong and ("never-advised", 4) not in wrong


def test_substitutes_that_lead_back_are_a_circle():
    found, wrong = parsed(
        "late:\n"
        "  treat-mites: {until: season.cold, say: x, instead: count-mites, source: [V56]}\n"
        "  count-mites: {until: season.cold, say: x, instead: count-mite-drop, source: [V56]}\n"
        "  count-mite-drop: {until: season.cold, say: x, instead: treat-mites, source: [V56]}\n"
    )
    assert len(found) == 3 and [code for code, _ in wrong] == ["circle"]


@pytest.mark.parametrize("climate", profile_ids())
def test_every_substitute_can_be_given_in_every_climate(climate):
    ruleset = effective_rules(load_profile(climate), vocabulary=words())
    advised = {rule.advise for rule in ruleset.rules.values()}
    assert len(ruleset.late) >= 15
    for late in ruleset.late.values():
        assert not late.instead or late.because or late.instead in advised, late.action
        assert late.until is None or late.say


# --- in the plan ------------------------------------------------------------------------------------------------------
def plan(late, book=None, cold=True):
    book = book or Book()
    book.rule("a.out", "hive.supers > 2", "remove-treatment", by=Deadline("fact", "course.out_by"), gain=20)
    ruleset = book.ruleset()
    until = book.condition("season.cold")
    ruleset.late = {"remove-treatment": Late("remove-treatment", until=until, say="It is late now.", **late)}
    facts = {"hive.supers": 3, "course.out_by": PAST, "colony.alive": True}
    if cold is not None:
        facts["season.cold"] = cold
    (found,) = make(infer(ruleset, table({"H": facts})), Setting(TODAY), weights()).hives
    return found


def listed(found):
    return [a.action for a in found.advice if a.origin in ("rule", "instead")]


def test_a_missed_job_gives_way_to_the_rule_for_its_substitute_which_says_what_it_costs():
    book = Book()
    book.rule("b.count", "hive.supers > 2", "count-mites", because="Nobody knows.")
    found = plan({"instead": "count-mites"}, book)
    assert listed(found) == ["count-mites"] and not found.withheld
    assert str(found.advice[0].because) == "Nobody knows. It is late now."


def test_a_missed_job_gives_way_to_what_is_given_in_its_place():
    found = plan({"instead": "count-mites", "because": "The tray tells.", "source": ("V56",)})
    (one,) = [a for a in found.advice if a.origin == "instead"]
    assert listed(found) == ["count-mites"] and str(one.because) == "The tray tells. It is late now."
    assert one.sources == ["V56"] and one.due_by is None and one.due_since is None and str(one.safety)


def test_a_missed_job_without_anything_in_its_place_is_withheld_with_its_sentence():
    for late in ({}, {"instead": "count-mites"}):  # no rule asks for a count here
        found = plan(late)
        assert listed(found) == []
        assert [(w.action, w.kind, str(w.because)) for w in found.withheld] == [
            ("remove-treatment", "late", "It is late now.")
        ]


@pytest.mark.parametrize("cold", [False, None])
def test_a_job_stays_as_long_as_its_time_is_not_known_to_be_over(cold):
    assert listed(plan({"instead": "count-mites", "because": "The tray tells."}, cold=cold)) == ["remove-treatment"]


def test_a_deadline_never_lies_after_the_harm():
    """A week before the food ends; an event that is over does no harm any more."""
    book = Book()
    book.rule("a.feed", "hive.supers > 2", "feed-candy", by=30)
    ruleset = book.ruleset()
    harm = (Deadline("fact", "food.empty_on", -7), Deadline("event", "stop_syrup_by"))
    built = table({"H": {"hive.supers": 3, "food.empty_on": dt.date(2026, 3, 29)}, "I": {"hive.supers": 3}})

    class Calendar:
        day = dt.date(2026, 3, 25)

        def event_date(self, event, near):
            return self.day

    deadlines = Deadlines(built, TODAY, Calendar(), {"feed-candy": Late("feed-candy", harm)})
    rule = ruleset.rules["a.feed"]
    assert deadlines.first(rule, 0) == dt.date(2026, 3, 22) and deadlines.first(rule, 1) == dt.date(2026, 3, 25)
    Calendar.day = dt.date(2026, 3, 1)
    assert Deadlines(built, TODAY, Calendar(), {"feed-candy": Late("feed-candy", harm)}).first(
        rule, 1
    ) == TODAY + dt.timedelta(30)


# --- over the year ----------------------------------------------------------------------------------------------------
def test_syrup_that_was_missed_goes_on_while_days_carry_it_is_spoken_of_then_and_later_quiet():
    yard = scenario(f"date: 2026-08-25\nhives: [{{id: Ash, facts: {{{STRONG}, {MITES}}}}}]\n")
    told = {
        day: {w["action"]: w["because"] for w in hive(yard, day)["withheld"] if w["kind"] == "late"}
        for day in ("2026-10-16", "2026-11-15")
    }
    assert all(advice(hive(yard, day), "feed-thick-syrup")["overdue"] for day in ("2026-10-01", "2026-10-09"))
    assert "Syrup is no longer" in told["2026-10-16"]["feed-thick-syrup"]
    assert "feed-thick-syrup" not in told["2026-11-15"]


def test_a_note_that_ended_the_need_leaves_nothing_to_speak_of():
    yard = scenario(
        f"date: 2026-10-05\nhives:\n  - id: Ash\n    facts: {{food.stores_kg: 25}}\n"
        f"    observed: [{{date: 2026-08-10, {STRONG}, {MITES}}}]\n"
    )
    assert "feed-thick-syrup" not in [w["action"] for w in hive(yard, "2026-10-05")["withheld"]]

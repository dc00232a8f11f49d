"""Running courses: the days of their steps, held against the sentences of labels and trials that courses.yaml cites."""

import datetime as dt
import io
import itertools
import shutil

import pytest

from hiveweek import content, facts, vocabulary
from hiveweek.climate import load_profile
from hiveweek.facts import Apiary, Scenario, ScenarioHive
from hiveweek.plan.answer import answer
from hiveweek.problems import InputProblems
from hiveweek.record.courses import after_end, count_again, running
from hiveweek.show import json, page, week
from hiveweek.show.text import Page
from hiveweek.vocabulary.courses import course_for
from hiveweek.vocabulary.loader import read_vocabulary

WORDS = vocabulary.load()
DAY = dt.date(2026, 8, 15)


def days(window):
    return ((window.first - DAY).days, (window.last - DAY).days)


# Austrian and German product texts: strips six weeks, never over ten; British text of 2014: six to eight weeks; gel: a second
# tray two weeks after the first; wafers: the second set after three to four weeks, six to eight weeks in all.
@pytest.mark.parametrize(
    ("active", "form", "out"),
    [
        ("amitraz", "strip", (42, 56)),
        ("pyrethroid", "strip", (42, 56)),
        ("thymol", "wafer", (42, 56)),
        ("thymol", "gel", (28, 42)),
        ("thymol", None, (42, 56)),
        ("formic", "strip", (7, 21)),
        ("formic", "pad", (21, 30)),
        ("oxalic_strip", None, (42, 56)),
        ("hop_acids", None, (14, 28)),
    ],
)
def test_when_it_comes_out(active, form, out):
    assert days(running(WORDS, active, form, DAY).out) == out


def test_the_second_dose_and_none_after_it():
    gel = running(WORDS, "thymol", "gel", DAY)
    assert gel.dose.number == 2 and gel.dose.first <= DAY + dt.timedelta(days=14) <= gel.dose.last
    assert running(WORDS, "thymol", "gel", DAY, DAY + dt.timedelta(days=11)).dose is None
    before = running(WORDS, "thymol", "gel", DAY, DAY - dt.timedelta(days=40))  # a dose of the course before this one
    assert before.dose == gel.dose
    pads = [running(WORDS, "formic", "pad", DAY, DAY + dt.timedelta(days=n)).dose for n in (0, 5, 8, 11, 14)]
    assert [days(pad) if pad else None for pad in pads] == [(7, 10), (14, 20), (14, 20), (14, 20), None]


# Label texts count the end of a gel from its second tray, so one given a week late ends a week later.
def test_a_dose_given_late_puts_the_end_off_by_as_many_days():
    late = running(WORDS, "thymol", "gel", DAY, DAY + dt.timedelta(days=23))
    assert late.dose is None and days(late.out) == (35, 49) and days(late.after[-1]) == (35, 35)
    in_time = [running(WORDS, "thymol", "gel", DAY, DAY + dt.timedelta(days=n)) for n in (12, 16)]
    assert [days(course.out) for course in in_time] == [(28, 42), (28, 42)]
    pads = running(WORDS, "formic", "pad", DAY, DAY + dt.timedelta(days=11))  # the second of three rounds, a day late
    assert days(pads.out) == (22, 31)


def test_the_next_step_of_strips_is_moving_them_and_then_taking_them_out_for_good():
    strips = running(WORDS, "amitraz", "strip", DAY)
    at = [strips.next(DAY + dt.timedelta(days=n)).step for n in (0, 28, 29, 56, 90)]
    assert at == ["move", "move", "out", "out", "out"]


# German leaflet on the dribble: mites fall for three weeks; French federation: a week or more after strips are out.
@pytest.mark.parametrize(
    ("active", "form", "window"),
    [
        ("oxalic", "dribble", (21, 28)),
        ("oxalic", None, (21, 28)),
        ("amitraz", "strip", (7, 14)),
        (None, None, (10, 14)),
    ],
)
def test_when_mites_are_counted_again(active, form, window):
    assert days(count_again(WORDS, active, form, DAY)) == window


def test_nothing_in_no_course_and_no_day_no_window():
    assert running(WORDS, "none", None, DAY) is None
    assert running(WORDS, None, "strip", DAY) is None
    undated = running(WORDS, "amitraz", "strip", None)
    assert undated.out is None and undated.dose is None and undated.next(DAY) is None


def test_every_active_that_lies_in_has_its_course_and_steps_follow_each_other():
    lying = set(WORDS.facts["mites.in_hive"].values) - {"none"}
    assert {c.active for c in WORDS.courses.values() if not c.one_day} == lying
    for active in (*lying, "oxalic"):
        assert course_for(WORDS.courses.values(), active, None) is not None
    for course in WORDS.courses.values():
        ends = [(d.first, d.last) for d in course.doses] + ([(course.out.first, course.out.last)] if course.out else [])
        assert all(first <= last for first, last in ends)
        assert all(one[1] <= other[0] for one, other in itertools.pairwise(ends)), course.id
        steps = [*course.doses, course.count, *(s for s in (course.out, course.move, course.eggs) if s)]
        assert all(source in WORDS.sources for step in steps for source in step.source), course.id
        assert course.active not in course.failed_next


def facts_on(date, observed, **given):
    hive = ScenarioHive("A", given, [(entry.pop("date"), entry) for entry in map(dict, observed)])
    profile = load_profile("cool_continental")
    scenario = Scenario("t", profile.id, date, [hive], Apiary("t", {}))
    return facts.build(scenario, profile=profile, words=WORDS).table


def test_the_facts_of_a_hive_give_both_days_and_how_far_they_are():
    table = facts_on(DAY + dt.timedelta(days=50), [{"date": DAY, "mites.in_hive": "amitraz", "mites.form": "strip"}])
    assert table.plain(0, "course.out_from") == dt.date(2026, 9, 26)
    assert table.plain(0, "course.out_by") == dt.date(2026, 10, 10)
    assert (table.plain(0, "course.days_to_out"), table.plain(0, "course.days_left")) == (-8, 6)
    assert table.plain(0, "course.days_to_dose") is None and table.plain(0, "course.days_to_count") is None


def test_once_it_is_out_the_days_to_the_count_run_and_the_steps_end():
    out = DAY + dt.timedelta(days=45)
    story = [{"date": DAY, "mites.in_hive": "amitraz"}, {"date": out, "mites.in_hive": "none"}]
    table = facts_on(out + dt.timedelta(days=3), story)
    assert table.plain(0, "course.days_to_count") == 4
    assert table.plain(0, "course.count_from") == out + dt.timedelta(days=7)
    assert table.plain(0, "course.out_by") is None


@pytest.mark.parametrize(
    ("active", "form", "worked"), [("formic", "strip", 21), ("thymol", "gel", 42), ("amitraz", "strip", 112)]
)
def test_what_is_spent_ends_on_its_last_day_though_it_is_found_gone_later(active, form, worked):
    found = DAY + dt.timedelta(
        days=112
    )  # an acid is in the air and gone within the label's days; a strip gives off till it is out
    story = [{"date": DAY, "mites.in_hive": active, "mites.form": form}, {"date": found, "mites.in_hive": "none"}]
    table = facts_on(found, story)
    assert table.plain(0, "mites.treated_days_ago") == 112 - worked


def test_doses_noted_count_for_their_course_only():
    story = [
        {"date": DAY, "mites.in_hive": "thymol", "mites.form": "gel"},
        {"date": DAY + dt.timedelta(days=14), "mites.last_dose_on": DAY + dt.timedelta(days=14)},
    ]
    table = facts_on(DAY + dt.timedelta(days=15), story)
    assert table.plain(0, "course.days_to_dose") is None and table.plain(0, "course.days_to_out") == 13
    again = [
        *story,
        {"date": DAY + dt.timedelta(days=35), "mites.in_hive": "none"},
        {"date": DAY + dt.timedelta(days=70), "mites.in_hive": "thymol"},
    ]
    table = facts_on(DAY + dt.timedelta(days=75), again)
    assert table.plain(0, "course.days_to_dose") == 7


@pytest.mark.parametrize(
    ("active", "form", "eggs", "honey"),
    [
        ("formic", "strip", (14, 28), 0),  # two to four weeks after the end and not before
        ("amitraz", "strip", None, 14),
        ("thymol", "gel", None, 0),
        ("oxalic", "dribble", None, None),
        (None, None, None, None),
    ],
)
def test_what_follows_on_the_end_of_a_course(active, form, eggs, honey):
    found = {window.step: days(window) for window in after_end(WORDS, active, form, DAY)}
    assert found.get("eggs") == eggs and "count" in found
    assert found.get("honey", (None,))[0] == honey


@pytest.mark.parametrize(
    ("given", "feed", "syrup", "peace"),
    [
        ({"mites.in_hive": "formic", "mites.form": "strip"}, True, False, True),
        ({"mites.in_hive": "formic", "mites.form": "pad"}, True, False, False),
        ({"mites.in_hive": "thymol", "mites.form": "gel"}, False, True, False),
        ({"mites.in_hive": "amitraz"}, False, False, False),
        ({"mites.in_hive": "none"}, False, False, False),
        ({}, None, None, None),
    ],
)
def test_what_must_not_be_done_beside_a_course_is_data(given, feed, syrup, peace):
    # German and British texts of formic strips: no feed, no disturbance; thymol wafers: no feeder beside them
    story = [{"date": DAY - dt.timedelta(days=2), **given}] if given else []
    table = facts_on(DAY, story)
    assert tuple(table.plain(0, f"course.{name}") for name in ("no_feed", "no_syrup", "in_peace")) == (
        feed,
        syrup,
        peace,
    )
    later = facts_on(DAY + dt.timedelta(days=30), story)
    assert later.plain(0, "course.in_peace") in (False, None)


def test_where_a_course_failed_the_next_class_is_named():
    table = facts_on(DAY, [], **{"mites.in_hive": "none", "mites.last_active": "amitraz"})
    assert table.plain(0, "course.after_failure") == "formic"
    table = facts_on(DAY, [{"date": DAY, "mites.in_hive": "thymol"}])
    assert table.plain(0, "course.after_failure") == "formic"


def test_what_is_in_since_nobody_knows_when_has_no_days():
    table = facts_on(DAY, [], **{"mites.in_hive": "amitraz"})
    assert table.plain(0, "mites.in_hive") == "amitraz" and table.plain(0, "course.days_to_out") is None


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ("out: {from: 42, to: 56, source: [VC2", "out: {from: 62, to: 56, source: [VC2", "no-range"),
        ("forms: [pad]", "forms: [strip]", "duplicate-id"),
        ("forms: [pad]", "forms: [pat]", "unknown-form"),
        ("    one_day: true\n", "", "missing-key"),
    ],
)
def test_a_mistake_in_the_file_is_told_with_its_place(tmp_path, old, new, code):
    folder = tmp_path / "vocabulary"
    shutil.copytree(content.root() / "rulesets" / "vocabulary", folder)
    path = folder / "courses.yaml"
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))
    with pytest.raises(InputProblems) as caught:
        read_vocabulary(folder)
    assert [p.code for p in caught.value.problems] == [code] and caught.value.problems[0].line > 1


# --- on the card -------------------------------------------------------------------------------------------------------
def card(date, hives):
    """The answer of a yard, and its screen in lines put together."""
    yard = [
        ScenarioHive(name, {"colony.frames_of_bees": 8}, [(DAY, seen)] if seen.get("mites.in_hive") else [])
        for name, seen in hives.items()
    ]
    found = answer(Scenario("t", "cool_continental", date, yard, Apiary("t", {})), offline=True, second_channel=False)
    file = io.StringIO()
    week.show_cards(Page(file), found.plan, WORDS)
    return found.plan, " ".join(file.getvalue().split())


STRIPS = {"mites.in_hive": "amitraz", "mites.form": "strip"}


@pytest.mark.parametrize(
    ("day", "said", "step"),
    [
        (
            24,
            "Amitraz strips in since 15 August, day 24; out between 26 September and 10 October. Move the strips to where the bees now sit between 5 September and 12 September. Honey supers not before 10 October.",
            "move",
        ),
        (
            45,
            "Amitraz strips in since 15 August, day 45; out between 26 September and 10 October. Honey supers not before 10 October.",
            "out",
        ),
        (
            60,
            "Amitraz strips in since 15 August, day 60; all of it was to be out by 10 October. If it came out, note the day.",
            "out",
        ),
    ],
)
def test_the_card_begins_with_the_course(day, said, step):
    plan, screen = card(DAY + dt.timedelta(days=day), {"Ash": STRIPS})
    assert f"Hive Ash {said} While it runs: Food may be given beside the strips" in screen
    found = json.week(plan)["hives"][0]["courses"]
    assert [(c["active"], c["form"], c["since"], c["day"]) for c in found] == [("amitraz", "strip", "2026-08-15", day)]
    assert (found[0]["out_from"], found[0]["out_by"]) == ("2026-09-26", "2026-10-10")
    assert found[0]["honey_from"] == "2026-10-10"  # a US label: 14 days from the last strip out to supers
    assert found[0]["next"]["step"] == step


def test_what_to_mind_is_not_told_of_a_course_that_was_to_be_out_long_ago():
    for day, told in ((84, True), (85, False)):  # 28 days after the last day for it, and one more
        _, screen = card(DAY + dt.timedelta(days=day), {"Ash": STRIPS})
        assert "If it came out, note the day." in screen and ("While it runs" in screen) == told, day


def test_the_page_begins_with_it_too_and_folds_the_rest():
    plan, _ = card(DAY + dt.timedelta(days=24), {"Ash": STRIPS})
    text = page.html(plan, WORDS)
    assert "<p>Amitraz strips in since 15 August, day 24; out between 26 September and 10 October." in text
    assert "<summary>While it runs</summary>" in text


def test_what_to_know_is_told_once_in_a_yard():
    _, screen = card(DAY + dt.timedelta(days=24), {"Ash": STRIPS, "Elm": STRIPS})
    assert screen.count("Food may be given beside the strips") == 1
    assert "While it runs: as under hive Ash." in screen


def test_a_hive_with_nothing_in_has_no_course():
    plan, screen = card(DAY, {"Ash": {}})
    assert json.week(plan)["hives"][0]["courses"] == [] and "While it runs" not in screen

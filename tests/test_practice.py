"""Practice: what looks tell and cost, the marks, what comes next, and the words for it."""

import dataclasses
import datetime as dt
import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hiveweek import vocabulary
from hiveweek.authoring import cases
from hiveweek.numbers import shipped
from hiveweek.plan.answer import profile_of
from hiveweek.practice import lessons, marking
from hiveweek.practice import sitting as sitting_room
from hiveweek.practice.marking import mark
from hiveweek.practice.outcome import ahead
from hiveweek.practice.sitting import Sitting
from hiveweek.show import practice as as_text
from hiveweek.show.practice import seen_ahead, verdict

WORDS = vocabulary.load()
NUMBERS = shipped().branch("plan.practice")
NOW = dt.datetime(2026, 5, 1, 9, tzinfo=dt.UTC)
FROST, LIGHT, FOUL, EMPTY = (
    "heavy-and-dry-in-hard-frost",
    "weight-not-known-in-march",
    "brown-thread-on-the-match",
    "half-missing-in-august",
)


@pytest.fixture(scope="module", autouse=True)
def rules_of():
    """Rules of every climate from files that are read once, as a run of cases does; what it stands in for."""
    runner, real = cases.Runner(WORDS), sitting_room.rules_of
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            sitting_room,
            "rules_of",
            lambda scenario, profile, extra, words: runner.ruleset(
                profile, scenario.jurisdiction, [*scenario.rulesets, *extra]
            ),
        )
        yield real


def test_rules_read_once_are_those_of_any_answer(every, rules_of):
    scenario = lessons.by_id(every, FROST)
    assert rules_of(scenario, profile_of(scenario), (), WORDS) == Sitting(scenario, WORDS).rules


@pytest.fixture(scope="module")
def every():
    return lessons.load(WORDS)


@pytest.fixture(scope="module")
def begun(every):
    """Sittings before any look, answered once for all tests."""
    found = {id: Sitting(lessons.by_id(every, id), WORDS) for id in (FROST, LIGHT, FOUL, EMPTY)}
    for one in found.values():
        assert one.answer
    return found


@pytest.fixture
def sit(begun):
    def fresh(id):
        one = begun[id]
        copy = dataclasses.replace(one, looked=[])
        copy._answer, copy._safety = one._answer, one._safety
        return copy

    return fresh


def first_jobs(sitting):
    return [one.action for one in sitting.plan.advice][: int(NUMBERS.most_jobs)]


# --- marks
@pytest.mark.parametrize("id", [FROST, LIGHT, FOUL, EMPTY])
def test_following_the_answer_scores_full_and_picking_at_random_scores_low(sit, id):
    sitting = sit(id)
    assert mark(sitting, first_jobs(sitting), 1.0).total == 100
    gains, best = marking.worth(sitting)
    listed = sitting.offered()
    harmful = {name for name in listed if marking._choice(sitting, name, gains, best).harmful}
    # Each job of the list put first, the two after it following: the jobs part of a learner who does not think.
    rounds = [[listed[(k + j) % len(listed)] for j in range(3)] for k in range(len(listed))]
    shares = [marking._earned(each, gains, best, harmful) for each in rounds]
    assert sum(shares) / len(shares) < 0.35
    worst = mark(sitting, [next(name for name in listed if name in harmful)] if harmful else ["control-wasps"], 1.0)
    assert worst.total == 0 and not worst.sound


def test_opening_in_deep_frost_costs_the_bees_and_the_marks(sit):
    sitting = sit(FROST)
    closed = mark(sitting, first_jobs(sitting), 1.0)
    look = sitting.look("full-inspection")  # lifting frames below 10 degC: 6 points, and it is forbidden besides
    assert look.forbidden is not None and look.cost_pts == 6 + NUMBERS.forbidden_look_pts
    after = mark(sitting, first_jobs(sitting), 1.0)
    assert after.looks == look.cost_pts * NUMBERS.marks_per_pt
    assert after.total == pytest.approx(closed.total - after.looks)
    outside = sit(FROST)
    outside.look("heft-hive")
    assert mark(outside, first_jobs(outside), 1.0).total == 100


def test_looks_at_a_robbed_hive_that_open_it_cost_and_minutes_beyond_those_at_hand_do(every):
    sitting = Sitting(lessons.by_id(every, "fighting-at-a-nucleus"), WORDS)
    assert sitting.look("lid-check").cost_pts >= NUMBERS.forbidden_look_pts
    assert sitting.look("check-entrance").cost_pts == 0
    sitting.looked = [dataclasses.replace(sitting.looked[1], minutes=40)]
    over = (40 - NUMBERS.free_minutes) * NUMBERS.marks_per_minute
    assert mark(sitting, first_jobs(sitting), 1.0).looks == over


def test_a_look_finds_what_it_observes_and_the_answer_goes_by_it(sit):
    sitting = sit(LIGHT)
    assert first_jobs(sitting)[0] == "heft-hive"
    look = sitting.look("heft-hive")
    assert look.found == {"food.heft": "light"} and look.minutes == 2 and look.cost_pts == 0
    assert sitting.look("heft-hive").found == {}
    assert first_jobs(sitting)[0] == "feed-candy"
    day, changes = ahead(sitting, sitting.plan.advice[0])
    assert day == sitting.answer.date + dt.timedelta(days=NUMBERS.ahead_days)
    food = next(one for one in changes if one.fact == "food.days_left")
    assert food.done > food.without
    assert ahead(sitting, dataclasses.replace(sitting.plan.advice[0], amount=None))[1] == []


def test_the_cumulated_gain_is_the_published_one():
    """The worked example of discounted gain in general use: grades 3 2 3 0 1 2 against 3 3 3 2 2 2 give 6.861 of 8.740."""
    names = "abcdef"
    gains = dict(zip(names, (3, 2, 3, 0, 1, 2), strict=True))
    assert marking._earned(names, gains, (3, 3, 3, 2, 2, 2), set()) == pytest.approx(6.861 / 8.740, abs=1e-3)
    assert marking._earned(names, gains, (3, 3, 3, 2, 2, 2), {"d"}) == 0
    # Order counts: the best job second earns less than first, and still something.
    assert marking._earned("xa", {"a": 3.0}, [3.0], set()) == pytest.approx(1 / math.log2(3))


@given(st.floats(0, 1), st.floats(0, 1))
def test_nobody_gains_by_saying_another_chance_than_they_believe(believed, said):
    """Brier 1950: the expected mark is the greatest where the chance said is the one believed."""

    def expected(chance):
        return believed * (1 - (chance - 1) ** 2) + (1 - believed) * (1 - chance**2)

    assert expected(believed) >= expected(said) - 1e-12


def test_how_sure_is_marked_so(sit):
    sitting = sit(EMPTY)
    right, wrong = first_jobs(sitting), ["control-wasps"]
    for chance in (0.0, 0.3, 1.0):
        assert mark(sitting, right, chance).sure == round(NUMBERS.sure_marks * (1 - (1 - chance) ** 2), 1)
        assert mark(sitting, wrong, chance).sure == round(NUMBERS.sure_marks * (1 - chance**2), 1)


def test_several_sound_answers_earn(sit):
    sitting = sit(LIGHT)  # the author takes any look that tells the weight
    assert mark(sitting, ["weigh-hive"], 1.0).sound and mark(sitting, ["weigh-hive"], 1.0).jobs > 40
    assert mark(sitting, ["lid-check", "heft-hive"], 1.0).total > mark(sitting, ["control-wasps"], 1.0).total


def test_leaving_it_closed_earns_no_more_than_the_first_job(every):
    sitting = Sitting(lessons.by_id(every, "leaning-backward"), WORDS)
    first = first_jobs(sitting)[0]
    (closed,) = (name for name, body in WORDS.actions.items() if body.leaves_closed)
    assert first != closed
    assert mark(sitting, [closed], 1.0).jobs <= mark(sitting, [first], 1.0).jobs


CLOSED = next(name for name, body in WORDS.actions.items() if body.leaves_closed)


@pytest.mark.parametrize(
    ("id", "earns", "says"),
    [
        ("leaning-backward", 0, "it leaves undone what the answer puts first: tilt the hive forward"),
        ("paw-prints-in-april", 0, "it leaves undone what the answer puts first: fence the yard"),
        (FOUL, 0, "it leaves undone what the answer puts first: report the suspicion"),
        ("one-mite-in-300", 15, "sound for this week, but the answer says more: wait and look again"),
        (FROST, 85, "sound, "),
        ("a-cloud-at-four-o-clock", 85, "sound: nothing is due here this week"),
        ("bearding-on-a-cool-coast", 85, "sound: nothing is due here this week"),
    ],
)
def test_leaving_it_closed_earns_by_what_it_leaves_undone(every, id, earns, says):
    sitting = Sitting(lessons.by_id(every, id), WORDS)
    found = mark(sitting, [CLOSED], 1.0)
    assert found.jobs >= earns if earns else found.jobs == 0
    assert found.sound == bool(earns) and str(verdict(found.choices[0], WORDS)).startswith(says)


def test_leaving_it_closed_takes_no_place_from_a_job_beside_it(every):
    sitting = Sitting(lessons.by_id(every, "leaning-backward"), WORDS)
    tilt = first_jobs(sitting)[0]
    assert mark(sitting, [tilt], 1.0).total == mark(sitting, [CLOSED, tilt], 1.0).total == 100


def test_what_an_author_excludes_has_a_reason(every):
    for one in every:
        sitting = Sitting(one, WORDS)
        assert set(sitting.lesson.against) <= {*sitting.expect.get("excludes", ()), *_then(sitting)}
        for ends in ("first", "found"):
            if ends == "found":
                for look in sitting.looks():
                    sitting.look(look)
            for job in sitting.expect.get("excludes", ()):
                choice = marking._choice(sitting, job, *marking.worth(sitting))
                assert choice.why or choice.harm is not None, (sitting.lesson.id, ends, job)


FIRST = re.compile(r"\bthe answer (?:names|begins with)\b", re.IGNORECASE)


@pytest.mark.parametrize("lesson", [lessons.lesson_of(one).id for one in lessons.load(WORDS)])
def test_a_look_that_was_made_is_not_asked_for_again_and_the_lesson_stays_true(every, lesson):
    one = lessons.by_id(every, lesson)
    begun = Sitting(one, WORDS)
    asked = [job for job in first_jobs(begun) if job in begun.looks()]
    for look in asked:
        sitting = Sitting(one, WORDS)
        dead_or_told = sitting.look(look).found or look not in first_jobs(sitting)
        assert dead_or_told and look not in [job.action for job in sitting.plan.advice], look
        assert sitting.looked[0].found, f"{look} is asked for and tells nothing that was not known"
    sitting = Sitting(one, WORDS)
    for look in sitting.looks():
        sitting.look(look)
    assert not {job.action for job in sitting.plan.advice} & set(sitting.looks())
    if FIRST.search(sitting.lesson.debrief) and first_jobs(sitting)[:1] != first_jobs(begun)[:1]:
        assert re.search(r"[Bb]efore the (look|count)|begins with one look", sitting.lesson.debrief)
    assert mark(sitting, first_jobs(sitting), 1.0).jobs == NUMBERS.jobs_marks
    told = [job.action for job in sitting.plan.advice]
    expect = sitting.expect
    assert set(expect.get("includes", ())) <= set(told) and not set(expect.get("excludes", ())) & set(told)
    assert all(set(group) & set(told) for group in expect.get("includes_any", ()))
    assert not expect.get("top") or told[0] in expect["top"]


def test_a_job_that_is_part_of_one_before_it_is_not_missed(every):
    sitting = Sitting(lessons.by_id(every, "fighting-at-a-nucleus"), WORDS)
    assert first_jobs(sitting)[:2] == ["stop-robbing", "reduce-entrance"]
    assert mark(sitting, ["stop-robbing"], 1.0).total == mark(sitting, first_jobs(sitting), 1.0).total == 100


def test_what_the_story_tempts_to_has_its_reason_and_does_no_harm(every):
    told = [one for one in every if lessons.lesson_of(one).aside]
    assert len(told) >= 5
    for one in told:
        sitting = Sitting(one, WORDS)
        for job, why in sitting.lesson.aside.items():
            (choice,) = mark(sitting, [job], 1.0).choices
            assert not choice.harmful and choice.place == 0 and not choice.earns, job
            assert why in str(verdict(choice, WORDS))


def test_what_the_answer_holds_back_is_told_so(every):
    sitting = Sitting(lessons.by_id(every, "weak-with-sunken-caps"), WORDS)
    held = {one.action: one for one in sitting.plan.withheld}
    assert "The disease comes first" in str(held["unite-colonies"].because)
    assert not {"check-entrance", "wait-and-recheck"} & {one.action for one in sitting.plan.advice}
    sitting.lesson.against.clear()
    choice = dataclasses.replace(mark(sitting, ["unite-colonies"], 1.0).choices[0], harm=None, trap=False)
    assert "The disease comes first" in str(verdict(choice, WORDS))


def test_a_look_that_the_answer_asked_for_at_first_costs_nothing_after_another(sit):
    sitting = sit(LIGHT)
    assert first_jobs(sitting) == ["heft-hive", "lid-check"]
    assert sitting.look("heft-hive").cost_pts == sitting.look("lid-check").cost_pts == 0
    assert mark(sitting, first_jobs(sitting), 1.0).total == 100


def test_looking_through_a_dead_hive_costs_no_lives(every):
    sitting = Sitting(lessons.by_id(every, "dead-and-still-heavy"), WORDS)
    assert sitting.look("full-inspection").cost_pts == 0
    assert not any("laboratory" in str(one.because) for one in sitting.plan.advice)


def _then(sitting):
    return sitting.lesson.then.get(sitting.lesson.hive, {}).get("excludes", ())


def test_how_sure_may_be_left_unsaid(sit):
    sitting = sit(EMPTY)
    unsaid = mark(sitting, first_jobs(sitting), None)
    assert unsaid.sure == mark(sitting, first_jobs(sitting), NUMBERS.chance_unsaid).sure
    assert "You did not say how sure" in str(as_text.sure(unsaid, None))


def test_the_weather_that_the_answer_goes_by_is_told(every, sit):
    told = " ".join(str(line) for line in as_text.usual_weather(sit(EMPTY)))
    assert "as it usually is here" in told and "coldest night of the week: 8 °C" in told
    assert as_text.usual_weather(sit(FROST)) == []  # it was noted


def test_what_the_scenario_is_about_is_a_sound_first_job_though_another_rule_outranks_it(every):
    sitting = Sitting(lessons.by_id(every, "flood-marks-on-the-gatepost"), WORDS)
    assert "move-to-better-site" in sitting.expect["includes"]
    assert first_jobs(sitting)[0] != "move-to-better-site"
    found = mark(sitting, ["move-to-better-site"], 1.0)
    assert found.sound and found.choices[0].as_good
    assert found.jobs >= NUMBERS.jobs_marks * NUMBERS.first_share
    assert mark(sitting, ["move-to-better-site", first_jobs(sitting)[0]], 1.0).total == 100
    assert mark(sitting, ["move-to-better-site", "feed-candy"], 1.0).jobs == 0  # with harm after it, it earns nothing


@pytest.mark.parametrize("id", ["dry-hours-after-the-rain", "booming-and-not-counted"])
def test_no_number_of_the_list_changes_its_job_after_a_look(every, id):
    sitting = Sitting(lessons.by_id(every, id), WORDS)
    before, answer = sitting.offered(3), first_jobs(sitting)
    sitting.look("swarm-inspection")
    sitting.look("count-mites")
    assert first_jobs(sitting) != answer
    after = sitting.offered(3)
    assert after[: len(before)] == before and set(first_jobs(sitting)) <= set(after)


@pytest.mark.parametrize("lesson", [lessons.lesson_of(one).id for one in lessons.load(WORDS)])
def test_every_job_that_is_offered_can_be_chosen(every, lesson):
    sitting = Sitting(lessons.by_id(every, lesson), WORDS)
    assert mark(sitting, first_jobs(sitting), 1.0).total == 100
    for look in (None, *sitting.looks()):
        if look is not None and not sitting.look(look).found:
            continue
        for job in dict.fromkeys([*sitting.offered(), *(one.action for one in sitting.plan.advice)]):
            found = mark(sitting, [job], 1.0)
            says = str(verdict(found.choices[0], WORDS))
            assert says and str(seen_ahead(sitting, found.choices[0]))
            assert not says.startswith(("sound", "as good")) or found.choices[0].earns, (job, says)

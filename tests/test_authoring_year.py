"""The walk of a normal colony through a year, in every shipped climate."""

import datetime as dt
from functools import cache, lru_cache

import pytest

from hiveweek import climate, vocabulary
from hiveweek.authoring import normal, year
from hiveweek.authoring.cases import Runner
from hiveweek.cli.main import main
from hiveweek.facts import scenario_of
from hiveweek.language.truth import Truth
from hiveweek.problems import InputProblems
from hiveweek.record.courses import running
from hiveweek.rules import traits_of
from hiveweek.shapes import marked_yaml
from hiveweek.vocabulary.normal import load as load_normal

COLD = {"winter_cluster", "early_winter"}
LIQUID = {"feed-thin-syrup", "feed-thick-syrup"}
COUNTS = {"count-mites", "count-mite-drop", "treat-mites", "treat-oxalic-broodless", "check-treatment-worked"}
PREPARED = {"fit-mouse-guard", "reduce-entrance", "add-insulation", "feed-thick-syrup", "full-inspection"}
STEP = 3  # weeks between questions: the whole year of all climates in about a minute
PAIRS = (("mild_maritime", "southern_cold_maritime"), ("mediterranean", "southern_mediterranean"))


@lru_cache(maxsize=1)
def runner() -> Runner:
    return Runner(vocabulary.load())


@cache
def walked(profile: str):
    """The walk and, for each week asked, the question and the full answer."""
    answers = []
    found = year.walk(profile, runner(), step=STEP, tap=lambda scenario, answer: answers.append((scenario, answer)))
    return found, answers


every_profile = pytest.mark.parametrize("profile", climate.profile_ids())


@every_profile
def test_no_two_advices_of_a_week_clash(profile):
    actions = vocabulary.load().actions
    for week in walked(profile)[0].weeks:
        assert not [(a, b) for a in week.actions for b in week.actions if b in actions[a].clashes]


@pytest.mark.parametrize("profile", ["cool_maritime", "long_snow_cover"])
def test_a_week_holds_at_most_five_advices(profile):
    busy = year.walk(profile, runner(), start=dt.date(2027, 4, 16), weeks=28)
    assert max(len(week.advice) for week in busy.weeks) <= 5
    assert max(len(week.advice) for week in busy.weeks) >= 2


@every_profile
def test_nothing_forbidden_is_advised(profile):
    for _, answer in walked(profile)[1]:
        inference = answer.inference
        for advice in answer.plan.hives[0].advice:
            for prohibition in inference.ruleset.prohibitions.values():
                named = any(t.kind == "action" and t.name == advice.action for t in prohibition.never)
                if named and prohibition.effect == "stop" and advice.action not in prohibition.excepted:
                    point, firm, _ = inference.prohibits(prohibition.id, 0)
                    assert not point == firm == Truth.TRUE, (advice.action, prohibition.id, answer.date)


@every_profile
def test_no_liquid_feed_in_the_cold(profile):
    assert not [week for week in walked(profile)[0].weeks if week.phase in COLD and LIQUID & set(week.actions)]


@every_profile
def test_an_empty_week_says_so_and_a_cold_one_says_leave_closed(profile):
    opens = {name: action.opens for name, action in vocabulary.load().actions.items()}
    for week in walked(profile)[0].weeks:
        assert bool(week.advice) != bool(week.nothing_due)
        if week.phase in COLD and all(opens[action] == "nothing" for action in week.actions):
            assert "leave-closed" in week.actions


@pytest.mark.parametrize(
    "profile",
    [name for name in climate.profile_ids() if traits_of(climate.load_profile(name))["climate.winter_weeks"] >= 1],
)
def test_where_there_is_a_winter_mites_are_looked_after_and_winter_is_prepared(profile):
    found = walked(profile)[0]
    assert COUNTS & {action for week in found.weeks for action in week.actions}
    before = [
        week for week in found.weeks if week.phase in ("late_summer", "autumn", "main_flow", "dearth", "early_winter")
    ]
    assert PREPARED & {action for week in before for action in week.actions}


def middle(weeks) -> float:
    """The middle of weeks on the circle of the year, in days."""
    import cmath
    import math

    total = sum(cmath.exp(2j * math.pi * week.date.timetuple().tm_yday / 365) for week in weeks)
    return cmath.phase(total) / (2 * math.pi) * 365 % 365


@pytest.mark.parametrize(("north", "south"), PAIRS)
def test_the_hemispheres_are_half_a_year_apart(north, south):
    swarm = [
        middle([week for week in walked(profile)[0].weeks if "swarm-inspection" in week.actions])
        for profile in (north, south)
    ]
    assert abs((swarm[0] - swarm[1]) % 365 - 182.5) < 45


def test_time_passes_and_advice_is_followed():
    found, answers = walked("cool_maritime")
    guard = next(n for n, week in enumerate(found.weeks) if "remove-mouse-guard" in week.actions)
    history = {}
    for _, facts in answers[guard + 1][0].hives[0].observed:
        history.update(facts)
    assert history["hive.mouse_guard"] is False
    assert not any("remove-mouse-guard" in week.actions for week in found.weeks[guard + 1 :])
    assert [week.date for week in found.weeks[:2]] == [dt.date(2027, 1, 1), dt.date(2027, 1, 22)]


@every_profile
def test_a_year_begins_in_the_middle_of_the_local_winter(profile):
    south = climate.load_profile(profile).lat < 0
    assert walked(profile)[0].weeks[0].date == dt.date(2027, 7 if south else 1, 1)


FEEDS = {action for action, effect in load_normal(vocabulary.load()).effects.items() if effect.get("stores")}


@every_profile
def test_stores_grow_by_a_flow_or_by_feeding_only(profile):
    found, answers = walked(profile)
    place = climate.load_profile(profile)
    place = place.with_numbers(runner().ruleset(place, None, ()).numbers)  # an overlay may move the flows
    for (asked, _), (later, _), week in zip(answers, answers[1:], found.weeks, strict=False):
        before, after = (scenario.hives[0].facts["food.stores_kg"] for scenario in (asked, later))
        flow = any(
            place.calendar.facts(week.date + dt.timedelta(days=days))["season.flow"] for days in range(7 * STEP + 1)
        )
        assert after <= before + 0.1 or flow or FEEDS & set(week.actions), (week.date, before, after)


@every_profile
def test_a_wrap_comes_off_only_where_one_was_put_on(profile):
    """The hive's history tells, also of the weeks before the year begins."""
    for scenario, answer in walked(profile)[1]:
        if "remove-wrap" in [advice.action for advice in answer.plan.hives[0].advice]:
            worn = [facts["hive.insulation"] for _, facts in scenario.hives[0].observed if "hive.insulation" in facts]
            assert worn[-1] == "roof_and_wrap" and worn[0] == "roof"


def test_mites_are_treated_in_a_normal_year_of_nearly_every_climate():
    treated = [p for p in climate.profile_ids() if {"treat-mites", "treat-oxalic-broodless"} & said(p)]
    assert len(treated) >= len(climate.profile_ids()) - 2


def said(profile: str) -> set[str]:
    return {action for week in walked(profile)[0].weeks for action in week.actions}


@every_profile
def test_after_a_course_no_comb_is_taken_out_of_the_winter_cluster_for_the_count(profile):
    cold = [week for week in walked(profile)[0].weeks if week.phase in COLD]
    assert not [week.date for week in cold if "check-treatment-worked" in week.actions]


def test_the_same_walk_gives_the_same_year():
    first, second = (year.walk("boreal", runner(), weeks=3) for _ in range(2))
    assert year.as_json(first) == year.as_json(second)


def test_a_treatment_in_the_walk_uses_an_allowed_option_and_leaves_a_share_of_the_mites():
    words = vocabulary.load()
    colony = normal.Colony(load_normal(words), words, climate.load_profile("cool_maritime"), dt.date(2027, 9, 1))
    colony.level = 4.0

    class Said:
        action = "treat-mites"
        options = (
            {"active": "formic", "allowed": False},
            {"active": "thymol", "allowed": True},
            {"active": "amitraz", "allowed": True},
        )

    colony.follow([Said], dt.date(2027, 9, 1))
    assert colony.now["mites.in_hive"] == "thymol"
    assert colony.level == pytest.approx(0.4)


def test_mites_grow_with_brood_and_shrink_without():
    words = vocabulary.load()
    summer = normal.Colony(load_normal(words), words, climate.load_profile("cool_maritime"), dt.date(2027, 6, 1))
    winter = normal.Colony(load_normal(words), words, climate.load_profile("cool_maritime"), dt.date(2027, 12, 25))
    levels = [
        (colony.level, colony.pass_week(colony.start + dt.timedelta(days=7)), colony.level)
        for colony in (summer, winter)
    ]
    assert levels[0][2] == pytest.approx(
        levels[0][0] * 2.718281828 ** (0.021 * 7), rel=0.02
    )  # doubling in 33 days [V26]
    assert levels[1][2] < levels[1][0]


def test_a_users_hive_stands_in_place_of_the_normal_one():
    text = "climate: boreal\ndate: 2027-05-01\nhives:\n  - {id: A, facts: {hive.size: double, hive.frames: 20, colony.temper: attacks, site.bears: true}}\n"
    given = year.own_facts(scenario_of(marked_yaml.parse(text)))
    words = vocabulary.load()
    colony = normal.Colony(load_normal(words), words, climate.load_profile("boreal"), dt.date(2027, 1, 1), given)
    assert colony.now["hive.frames"] == 20 and colony.yard["site.bears"] is True
    assert colony.seen()["colony.temper"] == "attacks"


def test_a_walk_follows_one_hive():
    text = "climate: boreal\ndate: 2027-05-01\nhives:\n  - {id: A}\n  - {id: B}\n"
    with pytest.raises(InputProblems) as caught:
        year.own_facts(scenario_of(marked_yaml.parse(text)))
    assert [p.code for p in caught.value.problems] == ["one-hive"]


@pytest.mark.parametrize("text", ["13-01", "02-30", "2027-01-01", "1-1", ""])
def test_a_start_that_is_no_day_is_refused(text):
    with pytest.raises(InputProblems):
        year.month_day(text)


def test_every_action_has_an_effect_and_every_name_is_known(tmp_path):
    words = vocabulary.load()
    found = load_normal(words)
    assert set(found.effects) == set(words.actions)
    folder = tmp_path / "vocabulary"
    folder.mkdir()
    (folder / "effects.yaml").write_text(
        "effects:\n  feed-candi: {}\n  take-honey: {sett: {hive.supers: 0}, set: {hive.suppers: 0}}\n"
    )
    with pytest.raises(InputProblems) as caught:
        load_normal(words, tmp_path)
    codes = {(p.line, p.code) for p in caught.value.problems}
    assert {(2, "unknown-action"), (3, "unknown-key"), (3, "unknown-fact")} <= codes


def test_the_command_prints_a_line_a_week(capsys, monkeypatch):
    monkeypatch.setattr(year, "walk", lambda profile, runner, **words: walked("cool_maritime")[0])
    assert main(["rules", "year", "cool_maritime"]) == 0
    out = capsys.readouterr().out
    assert "leave-closed (0) plan.leave-closed" in out and "winter cluster" in out
    assert main(["rules", "year", "cool_maritim"]) == 2
    assert "nearest: cool_maritime" in capsys.readouterr().err


# --- courses -----------------------------------------------------------------------------------------------------------
def courses_of(profile):
    """The courses of a walk as [active, form, in, out, counted]; None for what did not come before its last question."""
    scenario, answer = walked(profile)[1][-1]
    found: list[list] = []
    for date, facts in scenario.hives[0].observed:
        if facts.get("mites.in_hive", "none") != "none":
            found.append([facts["mites.in_hive"], facts.get("mites.form"), date, None, None])
        elif found and found[-1][3] is None and facts.get("mites.in_hive") == "none":
            found[-1][3] = date
        elif (
            found
            and found[-1][3]
            and found[-1][4] is None
            and {"mites.sample_mites", "mites.drop_per_day"} & set(facts)
        ):
            found[-1][4] = date
    return found, answer.date


@every_profile
def test_a_course_put_in_comes_out_inside_its_label_and_is_counted_again(profile):
    words, numbers = vocabulary.load(), runner()
    check_to = numbers.ruleset(climate.load_profile(profile)).limits["limit.mites_treating.check_to_days"].value
    courses, last = courses_of(profile)
    for active, form, begun, out, counted in courses:
        window = running(words, active, form, begun).out
        if out is None:
            assert last <= window.last, f"{active} in since {begun} and still not out on {last}"
            continue
        assert window.first <= out <= window.last
        due = out + dt.timedelta(days=check_to)
        assert counted is not None if last > due else True
        assert counted is None or counted <= due


def test_courses_are_walked_in_most_climates():
    walked_in = {profile for profile in climate.profile_ids() if courses_of(profile)[0]}
    assert len(walked_in) > len(climate.profile_ids()) / 2

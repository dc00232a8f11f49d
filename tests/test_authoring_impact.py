"""What a change of rules does: nothing that differs is missed, nothing else is told."""

import datetime as dt
import json
import subprocess
from pathlib import Path

import numpy as np
import pytest

from hiveweek import climate, facts, vocabulary
from hiveweek.authoring import difference, impact, sides
from hiveweek.authoring.cases import Runner
from hiveweek.authoring.yards import random_yard
from hiveweek.cli.main import main
from hiveweek.facts.constraints import broken
from hiveweek.problems import InputProblems
from hiveweek.shapes import marked_yaml
from hiveweek.vocabulary.normal import load

CLIMATE = "cool_maritime"
RULES = """ruleset: demo
version: 1
limits:
  few: {value: 4, unit: frames, source: common-practice, band: [3, 6]}
  many: {value: 9, unit: frames, source: common-practice}
rules:
  - id: demo.weak
    when: colony.frames_of_bees < limit.demo.few
    finding: weak
    because: "Only {colony.frames_of_bees} of bees."
  - id: demo.look
    when: finding.weak
    advise: heft-hive
    stakes: {loses: colony, gain_pts: 3, source: judgement}
    because: "Only {colony.frames_of_bees} of bees."
    safety: "Lift one side a finger high."
    source: common-practice
    evidence: practice
  - id: demo.room
    when: colony.frames_of_bees > limit.demo.many
    advise: check-entrance
    stakes: {loses: colony, gain_pts: 2, source: judgement}
    because: "There are {colony.frames_of_bees} of bees."
    safety: "Stand to the side of the flight path."
    source: common-practice
    evidence: practice
"""


def folder(place: Path, text: str = RULES) -> Path:
    (place / "base").mkdir(parents=True)
    (place / "base" / "demo.yaml").write_text(text)
    return place


def scenario(bees: float, expect: str = "{}", file: str = "case.yaml"):
    text = (
        f"scenario: a hive of {bees}\nclimate: {CLIMATE}\ndate: 2027-05-20\nhives:\n"
        f"  - id: A\n    facts: {{colony.frames_of_bees: {bees}, hive.frames: 20, hive.supers: 0, hive.size: double}}\n    expect: {expect}\n"
    )
    return facts.scenario_of(marked_yaml.parse(text, file))


def asked(before: Runner, after: Runner, scenarios, sample: int = 0):
    found = impact.Impact(before, after, [CLIMATE])
    found.cases(scenarios)
    if sample:
        found.samples(sample, 1)
    return found.report


@pytest.fixture
def base(tmp_path):
    return Runner(folder=folder(tmp_path / "old"))


# --- limits moved by hand
def test_a_moved_limit_brings_advice_through_a_finding(base):
    report = asked(base, sides.with_limits(base, {"limit.demo.few": 6.0}), [scenario(3), scenario(5), scenario(8)])
    assert report.differences == ["limit.demo.few: 4 frames -> 6 frames"]
    assert [(c.kind, c.rule, c.action) for c in report.changes] == [("comes", "demo.look", "heft-hive")]
    assert report.asked["case"] == 3 and report.differ["case"] == 1


def test_advice_that_goes_is_told_and_so_is_a_case_that_breaks(base):
    report = asked(base, sides.with_limits(base, {"limit.demo.few": 2.0}), [scenario(3, "{includes: [heft-hive]}")])
    assert [(c.kind, c.rule) for c in report.changes] == [("goes", "demo.look")]
    assert len(report.broken) == 1 and "expected heft-hive" in report.broken[0]


def test_a_case_that_only_holds_now_is_told(base):
    report = asked(base, sides.with_limits(base, {"limit.demo.few": 6.0}), [scenario(5, "{includes: [heft-hive]}")])
    assert len(report.mended) == 1 and not report.broken


def test_the_same_rules_change_nothing(base):
    report = asked(base, sides.with_limits(base, {"limit.demo.few": 4.0}), [scenario(3), scenario(5)], sample=12)
    assert not report.changes and not report.differences and report.differ == {"case": 0, "year": 0, "sample": 0}


def test_settings_are_read_and_bad_ones_named(base, monkeypatch):
    monkeypatch.setattr("hiveweek.authoring.sides.profile_ids", lambda: [CLIMATE])
    assert sides.settings(["limit.demo.few=5", "limit.demo.many=1e1"], base) == {
        "limit.demo.few": 5.0,
        "limit.demo.many": 10.0,
    }
    with pytest.raises(InputProblems) as caught:
        sides.settings(["limit.demo.fev=5", "limit.demo.few=much", "few=3", "limit.demo.many=nan"], base)
    assert sorted(p.code for p in caught.value.problems) == [
        "command-line",
        "unknown-limit",
        "wrong-type",
        "wrong-type",
    ]
    assert any("nearest: limit.demo.few" in p.message for p in caught.value.problems)


def test_a_value_outside_the_published_band_is_remarked(base, monkeypatch):
    monkeypatch.setattr("hiveweek.authoring.sides.profile_ids", lambda: [CLIMATE])
    assert sides.cautions(base, {"limit.demo.few": 8.0}) == ["limit.demo.few: 8 lies outside the published band 3 to 6"]
    assert not sides.cautions(base, {"limit.demo.few": 5.0})


# --- folders
EDITS = {
    "points": ("gain_pts: 3", "gain_pts: 6", "points", "demo.look"),
    "words": (
        'because: "Only {colony.frames_of_bees} of bees."\n    safety',
        'because: "Few: {colony.frames_of_bees} of bees."\n    safety',
        "words",
        "demo.look",
    ),
    "gone": (
        "  - id: demo.look\n    when: finding.weak\n    advise: heft-hive",
        "  - id: demo.later\n    when: finding.weak\n    advise: weigh-hive",
        "goes",
        "demo.look",
    ),
}


@pytest.mark.parametrize("name", sorted(EDITS))
def test_edits_of_a_folder_are_told(tmp_path, base, name):
    old, new, kind, rule = EDITS[name]
    assert old in RULES
    after = Runner(folder=folder(tmp_path / "new", RULES.replace(old, new)))
    report = asked(base, after, [scenario(3), scenario(7)])
    assert (kind, rule) in [(c.kind, c.rule) for c in report.changes]
    assert report.differ["case"] == 1 and report.differences


def test_a_rule_in_another_order_is_no_change(tmp_path, base):
    first, second, third = RULES.split("  - id: ")[1:]
    moved = RULES.split("  - id: ")[0] + "".join("  - id: " + part for part in (third, first, second))
    report = asked(base, Runner(folder=folder(tmp_path / "new", moved)), [scenario(3), scenario(12)])
    assert not report.differences and not report.changes


def test_the_year_is_asked_with_the_hive_of_the_old_rules(tmp_path, base, monkeypatch):
    whole = impact.year_room.walk
    monkeypatch.setattr(impact.year_room, "walk", lambda name, runner, **words: whole(name, runner, weeks=3, **words))
    found = impact.Impact(base, sides.with_limits(base, {"limit.demo.few": 9.0}), [CLIMATE])
    found.years()
    assert found.report.asked["year"] == 3 and found.report.weeks_apart == 1
    comes = [c for c in found.report.changes if c.kind == "comes"]
    assert {c.rule for c in comes} == {"demo.look"} and comes[0].where == "week of 01-01"


# --- nothing is missed
def test_the_screen_misses_no_difference():
    """Where two plans differ the screen said so: full plans of random yards under a moved limit, against the screen."""
    runner = Runner(vocabulary.load())
    after = sides.with_limits(
        runner, {"limit.food.short_days": 60.0, "limit.swarm.look_days": 3.0, "limit.safety.frames_c": 14.0}
    )
    found = impact.Impact(runner, after, [CLIMATE])
    profile = climate.load_profile(CLIMATE)
    screen = found.screen(profile)
    rng = np.random.default_rng(7)
    differ = 0
    for number in (20, 100, 150, 200, 300):
        date = dt.date(2027, 1, 1) + dt.timedelta(days=number)
        table = found._built(
            random_yard(load(runner.words), runner.words, profile, date, 4, rng), profile, runner
        ).table
        plans = [found._plan(side, profile, table, date, None) for side in (runner, after)]
        changes = [
            c
            for old, new in zip(plans[0].hives, plans[1].hives, strict=False)
            for c in impact._changes(old, new, "sample", CLIMATE, "")
        ]
        differ += bool(changes)
        assert screen.differs(table) or not changes
    assert differ


def test_a_moved_number_of_the_models_gives_each_side_facts_of_its_own(tmp_path):
    path = tmp_path / "mine.yaml"
    path.write_text(
        "overlay: mine\nlayer: author\nversion: 1\noverride:\n"
        '  - {number: model.food.reserve_days, value: 28, was: 21, reason: "springs are late", source: common-practice}\n'
        '  - {number: plan.weights.urgency_floor, value: 0.9, was: 0.25, reason: "undated jobs are done too", source: common-practice}\n',
        encoding="utf-8",
    )
    words = vocabulary.load()
    found = impact.Impact(Runner(words), Runner(words, extra=[path]), [CLIMATE])
    assert found.screen(climate.load_profile(CLIMATE)).difference.facts
    found.samples(12, 1)
    assert found.report.differences == [
        "model.food.reserve_days: 21 days -> 28 days",
        "plan.weights.urgency_floor: 0.25 ratio -> 0.9 ratio",
    ]
    assert found.report.changes and found.report.asked["sample"] == 12


def test_what_a_limit_concerns_follows_findings():
    runner = Runner(vocabulary.load())
    profile = climate.load_profile(CLIMATE)
    before = runner.ruleset(profile)
    after = sides.with_limits(runner, {"limit.swarm.strong_space": 0.9}).ruleset(profile)
    found = difference.compare(before, after)
    assert "swarm.may-swarm" in found.concerned and "swarm.look-due" in found.concerned
    small = difference.reduced(before, found)
    assert len(small.rules) < len(before.rules) / 2 and not small.prohibitions


def test_random_yards_hold_what_can_be_together_and_repeat():
    words = vocabulary.load()
    profile = climate.load_profile(CLIMATE)
    for number in range(0, 365, 60):
        date = dt.date(2027, 1, 1) + dt.timedelta(days=number)
        one, two = (random_yard(load(words), words, profile, date, 6, np.random.default_rng(number)) for _ in range(2))
        assert [(h.id, h.facts, h.observed) for h in one.hives] == [(h.id, h.facts, h.observed) for h in two.hives]
        assert len({str(sorted(h.facts.items(), key=str)) for h in one.hives}) > 1
        for hive in one.hives:
            assert not broken(
                words, lambda name, given=hive.facts: np.array([words.facts[name].encode(given.get(name))])
            )


# --- revisions
@pytest.fixture
def repository(tmp_path, monkeypatch):
    place = tmp_path / "repository"
    folder(place / "rulesets")

    def git(*words):
        subprocess.run(
            ["git", "-C", str(place), "-c", "user.name=A Keeper", "-c", "user.email=keeper@example.org", *words],
            check=True,
            capture_output=True,
        )

    git("init", "-q", "-b", "main")
    git("add", ".")
    git("commit", "-q", "-m", "first")
    git("tag", "first")
    path = place / "rulesets" / "base" / "demo.yaml"
    path.write_text(path.read_text().replace("value: 4", "value: 6"))
    git("commit", "-q", "-a", "-m", "second")
    monkeypatch.setattr(sides, "_repository", lambda: place)
    return place


def test_two_revisions_are_compared(repository, tmp_path):
    before, after = (sides.side(name, tmp_path / "out") for name in ("first", "main"))
    report = asked(before, after, [scenario(5)])
    assert report.differences == ["limit.demo.few: 4 frames -> 6 frames"]
    assert [c.kind for c in report.changes] == ["comes"]


@pytest.mark.parametrize(
    ("name", "said"), [("firts", "nearest: first"), ("--output=x", "no git revision"), ("nowhere", "no git revision")]
)
def test_a_name_that_is_no_revision(repository, tmp_path, name, said):
    with pytest.raises(InputProblems) as caught:
        sides.side(name, tmp_path / "out")
    assert [p.code for p in caught.value.problems] == ["no-revision"] and said in caught.value.problems[0].message


def test_a_revision_with_mistakes_is_refused(repository, tmp_path):
    broken = folder(tmp_path / "broken", RULES.replace("limit.demo.few\n", "limit.demo.fev\n"))
    runner = sides.side(str(broken), tmp_path / "out")
    with pytest.raises(InputProblems) as caught:
        runner.ruleset(climate.load_profile(CLIMATE))
    assert [p.code for p in caught.value.problems] == ["unknown-limit"]


# --- the command
@pytest.mark.parametrize(
    "arguments", [[], ["one"], ["one", "two", "--set", "limit.a.b=1"], ["--set", "limit.a.b=1", "--sample", "-1"]]
)
def test_the_command_says_what_it_wants(arguments, capsys):
    assert main(["rules", "impact", *arguments]) == 2
    assert "command-line" in capsys.readouterr().err or "--sample" in arguments


def test_the_command_compares_folders_and_exits_with_1_where_a_case_breaks(tmp_path, capsys, monkeypatch):
    from hiveweek.authoring import cases

    case = tmp_path / "cases.yaml"
    case.write_text(
        f"scenario: few bees\nclimate: {CLIMATE}\ndate: 2027-05-20\nhives: [{{id: A, facts: {{colony.frames_of_bees: 3}}, expect: {{includes: [heft-hive]}}}}]\n"
    )
    monkeypatch.setattr(cases, "find", lambda paths=(): [case])
    monkeypatch.setattr(impact.Impact, "years", lambda self: None)
    old, new = folder(tmp_path / "old"), folder(tmp_path / "new", RULES.replace("value: 4", "value: 3"))
    assert main(["rules", "impact", str(old), str(new), "--profile", CLIMATE, "--sample", "6", "--json"]) == 1
    found = json.loads(capsys.readouterr().out)
    assert found["differences"] == ["limit.demo.few: 4 frames -> 3 frames"] and len(found["broken"]) == 1
    assert main(["rules", "impact", str(old), str(old), "--profile", CLIMATE, "--sample", "6"]) == 0
    assert "0 of 1 cases and scenarios" in capsys.readouterr().out

"""Faults planted in small rulesets: the proof finds each, and its witness shows it in the weekly answer."""

import datetime as dt

import pytest

pytest.importorskip("z3", reason="proofs need the package z3-solver")

from hiveweek import facts, vocabulary
from hiveweek.authoring import prove, witness
from hiveweek.authoring.cases import Runner
from hiveweek.cli.main import main
from hiveweek.problems import InputProblems

CLIMATE = "cool_maritime"
SAFETY = """version: 1
limits:
  frames_c: {value: 10, unit: degC, source: common-practice, tighter: up}
prohibitions:
  - id: no-frames-in-the-cold
    never: [{opens: frames}]
    when: weather.open_high_c < limit.safety.frames_c
    effect: stop
    if_unknown: check
    because: "The best day reaches {weather.open_high_c}, too cold for combs."
    source: common-practice
"""


def rule(name: str, when: str, advise: str = "check-entrance", gain: float = 1, unless: str = "") -> str:
    return f"""  - id: demo.{name}
    when: {when}
{f"    unless: {unless}" if unless else ""}
    advise: {advise}
    stakes: {{loses: colony, gain_pts: {gain}, source: judgement}}
    because: "There are {{colony.frames_of_bees}} of bees."
    safety: "Stand to the side of the flight path."
    source: common-practice
    evidence: practice
"""


def ruleset(folder, *rules: str, limits: str = "{}", areas: str = ""):
    (folder / "base").mkdir(parents=True)
    (folder / "vocabulary").mkdir()
    (folder / "base" / "demo.yaml").write_text(
        f"ruleset: demo\nversion: 1\nlimits: {limits}\nrules:\n" + "".join(rules)
    )
    (folder / "safety.yaml").write_text(SAFETY)
    if areas:
        (folder / "vocabulary" / "areas.yaml").write_text(areas)
    return folder


def proven(folder, **more):
    runner = Runner(folder=folder)
    return runner, prove.prove([CLIMATE], runner=runner, folder=folder, **more)


def only(report, kind: str):
    found = [finding for finding in report.findings if finding.kind == kind]
    assert len(found) == 1, [f.key for f in report.findings]
    return found[0]


def test_a_sound_ruleset_has_no_findings(tmp_path):
    _, report = proven(
        ruleset(
            tmp_path,
            rule("look", "colony.frames_of_bees < 3"),
            rule("count", "colony.robbed", "count-mites", unless="weather.open_high_c < 10"),
            rule("guard", "[colony.robbed, weather.open_high_c >= 10]", "full-inspection"),
        )
    )
    assert not report.findings
    assert report.obligations["unsafe"] == 2 and report.obligations["never"] == 3


def test_two_advices_that_clash(tmp_path):
    _, report = proven(
        ruleset(
            tmp_path,
            rule("candy", "colony.frames_of_bees < 5", "feed-candy"),
            rule("syrup", "colony.frames_of_bees > 3", "feed-thick-syrup"),
        )
    )
    finding = only(report, "clash")
    assert finding.key == "clash:demo.candy:demo.syrup" and finding.reproduced is True
    assert 3 < finding.witness["facts"]["colony.frames_of_bees"] < 5
    assert finding.place.endswith("demo.yaml:5:9")


def test_clashing_advices_that_exclude_each_other_are_sound(tmp_path):
    _, report = proven(
        ruleset(
            tmp_path,
            rule("candy", "colony.frames_of_bees < 4", "feed-candy"),
            rule("syrup", "colony.frames_of_bees >= 4", "feed-thick-syrup"),
        )
    )
    assert not report.findings
    assert report.obligations["clash"] == 1


def test_a_rule_that_can_never_fire(tmp_path):
    _, report = proven(
        ruleset(
            tmp_path,
            rule("look", "[colony.frames_of_bees < 3, colony.frames_of_bees > 5]"),
            rule("other", "colony.robbed"),
        )
    )
    assert only(report, "never").key == "never:demo.look"


def test_a_rule_that_the_vocabulary_makes_impossible(tmp_path):
    _, report = proven(ruleset(tmp_path, rule("look", "[hive.supers == 0, colony.super_frames_of_bees > 1]")))
    assert only(report, "never").key == "never:demo.look"


MILD = "[season.phase == mild_winter, colony.robbed]"


def test_a_season_that_no_climate_of_the_rule_has(tmp_path):
    folder = ruleset(tmp_path, rule("look", MILD))
    path = folder / "base" / "demo.yaml"
    path.write_text(path.read_text().replace("version: 1", f"version: 1\nclimates: [{CLIMATE}]", 1))
    _, report = proven(folder)
    assert only(report, "never").key == "never:demo.look"


def test_a_rule_and_a_limit_for_other_climates_are_out_of_place_here_and_no_mistake(tmp_path):
    few = "{few: {value: 3, unit: frames, source: common-practice}}"
    both = "[season.phase == mild_winter, colony.frames_of_bees < limit.demo.few]"
    _, report = proven(ruleset(tmp_path, rule("look", MILD), rule("count", both, "lid-check"), limits=few))
    assert not report.findings


def overlay(folder, body: str):
    path = folder / "mine.yaml"
    path.write_text(f"overlay: mine\nlayer: author\nversion: 1\n{body}")
    return path


def test_what_an_overlay_silences_here_is_its_own_finding(tmp_path):
    few = "{few: {value: 3, unit: frames, source: common-practice}}"
    when = '[colony.frames_of_bees < limit.demo.few, "season.phase in [mild_winter, autumn]"]'
    folder = ruleset(tmp_path / "rulesets", rule("look", when), rule("warm", MILD), limits=few)
    change = f"{{rule: demo.look, field: when, value: season.phase == mild_winter, reason: only there, source: common-practice, was: {when}}}"
    mine = overlay(tmp_path, f"override:\n  - {change}\n")
    report = prove.prove([CLIMATE], runner=Runner(folder=folder, extra=[mine]), folder=folder)
    assert {f.key for f in report.findings} == {"never:demo.look"}


def test_a_rule_of_an_overlay_is_judged_in_the_place_it_was_asked_for(tmp_path):
    folder = ruleset(tmp_path / "rulesets", rule("look", "colony.robbed"))
    mine = overlay(
        tmp_path, "add:\n  reason: for here\n  rules:\n" + rule("warm", MILD, "lid-check").replace("demo.", "mine.")
    )
    report = prove.prove([CLIMATE], runner=Runner(folder=folder, extra=[mine]), folder=folder)
    assert only(report, "never").key == "never:mine.warm"


def test_a_rule_that_always_fires(tmp_path):
    _, report = proven(ruleset(tmp_path, rule("look", "{any: [colony.robbed is known, colony.robbed is unknown]}")))
    assert only(report, "always").key == "always:demo.look"


def test_advice_where_a_prohibition_forbids_it(tmp_path):
    runner, report = proven(ruleset(tmp_path, rule("open", "colony.robbed", "full-inspection")))
    finding = only(report, "unsafe")
    assert finding.key == "unsafe:demo.open:no-frames-in-the-cold" and finding.reproduced is True
    assert finding.witness["facts"]["weather.open_high_c"] < 10
    found = runner.answer(witness.scenario_of_witness(finding.witness, runner.words))
    assert "full-inspection" in [held.action for held in found.plan.hives[0].withheld]


def test_a_guard_makes_it_sound(tmp_path):
    _, report = proven(
        ruleset(
            tmp_path,
            rule("open", "colony.robbed", "full-inspection", unless="weather.open_high_c < limit.safety.frames_c"),
        )
    )
    assert not report.findings


def test_an_unknown_fact_stops_the_proof_with_its_place(tmp_path):
    with pytest.raises(InputProblems) as caught:
        proven(ruleset(tmp_path, rule("look", "colony.frame_of_bees < 3")))
    assert [(p.line, p.code) for p in caught.value.problems] == [(6, "unknown-fact")]


def test_a_stale_overlay_stops_the_proof_with_its_place(tmp_path):
    folder = ruleset(
        tmp_path / "rulesets",
        rule("look", "colony.frames_of_bees < limit.demo.few"),
        limits="{few: {value: 3, unit: frames, source: common-practice}}",
    )
    mine = tmp_path / "mine.yaml"
    mine.write_text(
        "overlay: mine\nlayer: author\nversion: 1\noverride:\n  - {limit: limit.demo.few, value: 4, was: 2, reason: small boxes here, source: common-practice}\n"
    )
    with pytest.raises(InputProblems) as caught:
        prove.prove([CLIMATE], runner=Runner(folder=folder, extra=[mine]), folder=folder)
    assert [(p.line, p.code) for p in caught.value.problems] == [(5, "stale-was")]


AREAS = """areas:
  - id: strength
    when: colony.frames_of_bees is known
    {how}: [demo.weak, demo.strong]
"""


def test_a_gap_in_a_declared_area(tmp_path):
    runner, report = proven(
        ruleset(
            tmp_path,
            rule("weak", "colony.frames_of_bees < 4"),
            rule("strong", "colony.frames_of_bees > 4", "lid-check"),
            areas=AREAS.format(how="exactly_one_of"),
        )
    )
    finding = only(report, "gap")
    assert finding.witness["facts"]["colony.frames_of_bees"] == 4
    found = runner.answer(witness.scenario_of_witness(finding.witness, runner.words))
    assert [found.inference.rules[name].holds(0) for name in ("demo.weak", "demo.strong")] == [False, False]


def test_an_overlap_in_a_declared_area(tmp_path):
    runner, report = proven(
        ruleset(
            tmp_path,
            rule("weak", "colony.frames_of_bees <= 4"),
            rule("strong", "colony.frames_of_bees >= 4", "lid-check"),
            areas=AREAS.format(how="at_most_one_of"),
        )
    )
    finding = only(report, "overlap")
    found = runner.answer(witness.scenario_of_witness(finding.witness, runner.words))
    assert [found.inference.rules[name].holds(0) for name in ("demo.weak", "demo.strong")] == [True, True]


def test_a_rule_masked_by_a_wider_one(tmp_path):
    _, report = proven(
        ruleset(
            tmp_path,
            rule("few", "colony.frames_of_bees < 2", gain=1),
            rule("less", "colony.frames_of_bees < 5", gain=3),
        )
    )
    assert only(report, "masked").key == "masked:demo.few:demo.less"


def test_a_narrow_rule_worth_more_is_not_masked(tmp_path):
    _, report = proven(
        ruleset(
            tmp_path,
            rule("few", "colony.frames_of_bees < 2", gain=5),
            rule("less", "colony.frames_of_bees < 5", gain=3),
        )
    )
    assert not report.findings


def test_a_limit_without_effect(tmp_path):
    folder = ruleset(
        tmp_path,
        rule("look", "[colony.robbed, colony.robbed == false, colony.frames_of_bees < limit.demo.few]"),
        rule("seen", "colony.frames_of_bees < limit.demo.some"),
        limits="{few: {value: 3, unit: frames, source: common-practice}, some: {value: 5, unit: frames, source: common-practice}}",
    )
    _, report = proven(folder)
    assert only(report, "idle-limit").key == "idle-limit:limit.demo.few"


def test_a_known_exception_excuses_until_its_day_and_a_stale_one_is_named(tmp_path):
    folder = ruleset(tmp_path / "rulesets", rule("look", "{any: [colony.robbed is known, colony.robbed is unknown]}"))
    listed = tmp_path / "exceptions.yaml"
    listed.write_text(
        'exceptions:\n  - {finding: "always:demo.look", reason: shown in a talk, until: 2027-06-01}\n'
        '  - {finding: "never:demo.gone", reason: long fixed, until: 2027-06-01}\n'
    )
    _, before = proven(folder, exceptions_file=listed, today=dt.date(2027, 5, 1))
    _, after = proven(folder, exceptions_file=listed, today=dt.date(2027, 7, 1))
    assert not before.open and not before.stale  # it may be of a climate that was not asked
    before.excuse(prove.read_exceptions(listed), dt.date(2027, 5, 1))
    assert before.stale == ["never:demo.gone"]
    assert [f.key for f in after.open] == ["always:demo.look"]


def test_a_witness_written_as_a_file_shows_the_same(tmp_path):
    runner, report = proven(
        ruleset(
            tmp_path / "rulesets",
            rule("candy", "colony.frames_of_bees < 5", "feed-candy"),
            rule("syrup", "colony.frames_of_bees > 3", "feed-thick-syrup"),
        )
    )
    finding = only(report, "clash")
    path = tmp_path / "found.yaml"
    path.write_text(witness.as_yaml(finding.witness, finding.key, runner.words))
    found = runner.answer(facts.read_scenario(path, words=vocabulary.load()))
    assert [found.inference.rules[name].holds(0) for name in ("demo.candy", "demo.syrup")] == [True, True]


def test_the_command_refuses_an_unknown_profile(capsys):
    assert main(["rules", "prove", "--profile", "boreall"]) == 2
    assert "nearest: boreal" in capsys.readouterr().err


TROUBLES = """troubles:
  robbed:
    label: being robbed
    when: colony.robbed
    acts: [stop-robbing]
    looks: [check-entrance]
    kills_days: 1
    source: common-practice
    shows: [{facts: {colony.robbed: true}}]
    more: [{colony.wasps: many}]
    worse: {colony.frames_of_bees: down}
"""


def with_trouble(folder, *rules: str):
    ruleset(folder, *rules)
    (folder / "vocabulary" / "troubles.yaml").write_text(TROUBLES)
    return folder


def test_one_more_sign_that_takes_the_answer_away_is_found(tmp_path):
    _, report = proven(
        with_trouble(tmp_path, rule("stop", "colony.robbed", "stop-robbing", unless="colony.wasps == many"))
    )
    finding = only(report, "weaker")
    assert finding.key == "weaker:robbed:colony.wasps many:band 1"
    assert finding.witness["facts"]["colony.robbed"] is True and finding.witness["facts"].get("colony.wasps") != "many"


def test_a_number_that_is_worse_and_takes_the_answer_away_is_found(tmp_path):
    few = "any: [colony.frames_of_bees is unknown, colony.frames_of_bees >= 3]"
    _, report = proven(with_trouble(tmp_path, rule("stop", f"{{all: [colony.robbed, {few}]}}", "stop-robbing")))
    assert only(report, "milder").key == "milder:robbed:colony.frames_of_bees down:band 1"


def test_another_act_or_the_look_that_takes_over_is_an_answer_too(tmp_path):
    stop = rule("stop", "colony.robbed", "stop-robbing", unless="colony.wasps == many")
    look = rule("look", "[colony.robbed, colony.wasps == many]")
    _, report = proven(with_trouble(tmp_path, stop, look))
    assert not [finding.key for finding in report.findings if finding.kind in ("weaker", "milder")]
    assert report.obligations["weaker"] and report.obligations["milder"]

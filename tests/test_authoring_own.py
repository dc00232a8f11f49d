"""What an overlay adds, told apart from the base: in the coverage, in the proofs, and in a step for continuous integration."""

import json
import shlex

import pytest
import yaml
from test_authoring_prove import CLIMATE, MILD, overlay, rule, ruleset
from valley_kit import FIRST, MANY, write

from hiveweek.authoring import own_findings, prove_own
from hiveweek.authoring.coverage import Coverage
from hiveweek.authoring.entries import Entry
from hiveweek.authoring.proof_report import Finding, Report
from hiveweek.cli.main import main


@pytest.fixture
def folder(tmp_path):
    place = tmp_path / "my rules"
    write(place, FIRST, MANY)
    return place


def test_coverage_of_an_overlay_is_of_its_entries(folder, capsys):
    assert main(["rules", "coverage", "--rules", str(folder / "valley.yaml"), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    missing = {row["item"]: row["entry"] for row in found["missing"]}
    assert missing["rule valley.look does not fire"] == "rule valley.look"
    assert missing["limit limit.valley.frames from below"] == "limit limit.valley.frames"
    assert missing["limit limit.harvest.late_weeks from below"] == "moved number limit.harvest.late_weeks"
    assert set(missing.values()) == {
        "rule valley.look",
        "limit limit.valley.frames",
        "moved number limit.harvest.late_weeks",
    }
    assert found["wanted"] < 20


def test_in_words_each_line_stands_at_the_entry(folder, capsys):
    assert main(["rules", "coverage", "--rules", str(folder / "valley.yaml"), "--all"]) == 0
    *lines, total = capsys.readouterr().out.splitlines()
    assert all("valley.yaml:" in line for line in lines) and "1 cases" in total


def test_a_step_for_continuous_integration_runs_as_printed(folder, monkeypatch, capsys):
    monkeypatch.chdir(folder.parent)
    assert main(["rules", "cases", "--ci", "--rules", "my rules/valley.yaml"]) == 0
    step = yaml.safe_load(capsys.readouterr().out)
    assert len(step) == 1 and step[0]["name"]
    first, *others = step[0]["run"].splitlines()
    assert first == "pip install hiveweek" and len(others) == 3
    for line in others:
        program, *words = shlex.split(line)
        assert program == "hiveweek" and main(words) == 0, line


def test_a_step_needs_something_to_run(capsys):
    assert main(["rules", "cases", "--ci"]) == 2
    assert "name your overlay with --rules PATH" in capsys.readouterr().err


def entry(kind, name):
    return Entry("valley", kind, name, {}, "valley.yaml:9:5")


def narrowed(findings, *mine, of_base=()):
    asked = []

    def base():
        asked.append(True)
        return set(of_base)

    report = Report(findings=findings, stale=["old"])
    own_findings.narrow(report, {(e.overlay, e.kind, e.name): e for e in mine}, [], base)
    return report, bool(asked)


def test_findings_of_the_base_are_left_out():
    known = Finding("masked", "masked:food.a:food.b", "", [], excused="as it should be")
    there = Finding("never", "never:food.c", "food.c can never fire", [])
    new = Finding("idle-limit", "idle-limit:limit.food.days", "limit.food.days has no effect", [])
    report, asked = narrowed([known, there, new], entry("number", "limit.food.days"), of_base=[there.key])
    assert asked and report.findings == [new] and report.of_base == 2 and report.stale == []
    assert new.entry == "moved number limit.food.days (valley.yaml:9:5)"


def test_what_names_a_rule_of_the_overlay_needs_no_second_run():
    mine = Finding(
        "unsafe", "unsafe:valley.look:people-first", "valley.look advises look where people-first forbids it", []
    )
    report, asked = narrowed([mine], entry("rule", "valley.look"), entry("limit", "limit.valley.frames"))
    assert not asked and report.findings[0].entry == "rule valley.look (valley.yaml:9:5)"


def test_a_rule_switched_off_brings_a_gap():
    gap = Finding("gap", "gap:winter", "winter: none of food.a, food.b fires", [])
    report, _ = narrowed([gap], entry("off", "food.b"))
    assert report.findings[0].entry.startswith("rule food.b switched off")


def test_what_no_entry_explains_is_theirs_together():
    gap = Finding("gap", "gap:winter", "winter: none of food.a fires", [])
    report, _ = narrowed([gap], entry("rule", "valley.look"), entry("off", "food.z"))
    assert report.findings[0].entry == own_findings.TOGETHER


def test_a_longer_name_is_not_taken_for_a_shorter_one():
    items = [
        "rule valley.look fires",
        "rule valley.look-more fires",
        "valley.look-more: x holds",
        "limit limit.valley.f from below",
    ]
    found, of = own_findings.narrowed(Coverage(dict.fromkeys(items, "p")), {1: entry("rule", "valley.look")})
    assert list(found.wanted) == items[:1] and set(of) == set(items[:1])


def test_proofs_tell_only_what_an_overlay_brings(tmp_path):
    when = "colony.frames_of_bees < limit.demo.few"
    folder = ruleset(
        tmp_path / "rulesets",
        rule("open", "colony.robbed", "full-inspection"),
        rule("look", when),
        limits="{few: {value: 3, unit: frames, source: common-practice}}",
    )
    change = f"{{rule: demo.look, field: when, value: [{when}, {when.replace('<', '>')}], reason: only there, source: common-practice, was: {when}}}"
    mine = overlay(
        tmp_path,
        f"override:\n  - {change}\nadd:\n  reason: for here\n  rules:\n"
        + rule("open", "colony.robbed", "lid-check").replace("demo.", "mine.").replace("lid-check", "full-inspection"),
    )
    report = prove_own.prove_own([mine], [CLIMATE], folder=folder)
    found = {finding.key: finding.entry.partition(" (")[0] for finding in report.findings}
    assert found["never:demo.look"] == "changed rule demo.look when"
    assert found["unsafe:mine.open:no-frames-in-the-cold"] == "rule mine.open"
    assert "unsafe:demo.open:no-frames-in-the-cold" not in found
    assert all(key.count("mine.") or key.count("demo.look") or key.count("limit.demo") for key in found), found


def test_a_guard_switched_off_is_named_for_what_it_kept_away(tmp_path):
    guard = "  - id: demo.shut\n    when: weather.open_high_c < limit.demo.cold\n    finding: shut\n    because: It is cold.\n    source: common-practice\n    evidence: practice\n"
    folder = ruleset(
        tmp_path / "rulesets",
        guard,
        rule("open", "[colony.robbed, weather.open_high_c is known]", "full-inspection", unless="finding.shut"),
        limits="{cold: {value: 12, unit: degC, source: common-practice}}",
    )
    body = "disable:\n  - {rule: demo.shut, reason: not in this valley}\nadd:\n  reason: for here\n  rules:\n"
    mine = overlay(tmp_path, body + rule("count", MILD, "lid-check").replace("demo.", "mine."))
    found = {one.key: one.entry for one in prove_own.prove_own([mine], [CLIMATE], folder=folder).findings}
    assert found["unsafe:demo.open:no-frames-in-the-cold"].startswith("rule demo.shut switched off")


def test_the_command_tells_the_entry(folder, monkeypatch, capsys):
    finding = Finding(
        "never", "never:valley.look", "valley.look can never fire", ["cool_maritime"], "valley.yaml:13:11"
    )
    finding.entry = "rule valley.look (valley.yaml:13:7)"
    monkeypatch.setattr(prove_own, "prove_own", lambda *args: Report([finding], of_base=3))
    assert main(["rules", "prove", str(folder / "valley.yaml")]) == 1
    out = capsys.readouterr().out
    assert "  brought by: rule valley.look (valley.yaml:13:7)" in out and "3 findings of the base left out" in out
    assert main(["rules", "prove", str(folder / "valley.yaml"), "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["findings"][0]["entry"] == finding.entry

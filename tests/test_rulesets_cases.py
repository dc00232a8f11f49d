"""The shipped rules: no mistakes in the files, every case holds, and the cases reach everything they should."""

import dataclasses
from pathlib import Path

import pytest

from hiveweek import climate
from hiveweek.authoring import cases, check, coverage

COVERED = 100.0  # percent of rules, conditions, limits and overlay entries that the cases must reach
PUBLISHED = Path(__file__).resolve().parents[2] / "shared" / "cases"  # a folder outside the project, where there is one


@pytest.fixture(scope="module")
def run():
    runner = cases.Runner()
    measuring = coverage.Measuring(runner.ruleset(climate.load_profile(name)) for name in climate.profile_ids())
    results = []
    for scenario in cases.read(cases.find()):
        result = runner.run(scenario, keep=True)
        measuring.add(result)
        results.append(dataclasses.replace(result, inference=None))  # all of them at once are gigabytes
    return runner, results, measuring.coverage


def test_rule_files_have_no_mistakes_and_no_findings_of_style():
    assert [str(finding) for finding in check.check()] == []


def test_every_case_holds(run):
    _, results, _ = run
    assert len(results) > 500
    failed = [f"{r.name}: {r.scenario.title}: {f.hive} {f.text}" for r in results for f in r.failures]
    assert failed == []


def test_cases_reach_every_rule_condition_limit_and_overlay_entry(run):
    _, _, found = run
    assert len(found.wanted) > 3000
    missing = "\n".join(f"{found.wanted[item]}: {item}" for item in found.missing[:40])
    assert found.percent >= COVERED, f"{found.percent:.1f} %\n{missing}"


def test_there_are_rules_enough_for_the_year(run):
    runner, _, _ = run
    ids = {
        rule.id for name in climate.profile_ids() for rule in runner.ruleset(climate.load_profile(name)).rules.values()
    }
    assert len(ids) >= 160
    runner_prohibitions = runner.ruleset(climate.load_profile("mild_maritime")).prohibitions
    assert len(runner_prohibitions) >= 35


def held(paths):
    """Run scenarios that stand outside the checkout: how many hold, how many there are, and what fails."""
    runner = cases.Runner()
    results = [runner.run(scenario) for scenario in cases.read(paths)]
    failed = [f"{r.name}: {r.scenario.title}: {f.hive} {f.text}" for r in results for f in r.failures]
    return sum(not r.failures for r in results), len(results), "\n".join(failed)


@pytest.mark.skipif(
    not PUBLISHED.is_dir(), reason="the folder of published advice as scenarios does not stand beside this checkout"
)
def test_published_advice_holds():
    # Each file names the publication its expectation follows from.
    good, every, failed = held(sorted(PUBLISHED.glob("*.yaml")))
    assert every
    assert good / every >= 0.95, failed


@pytest.mark.skipif(
    not (PUBLISHED / "inspected").is_dir(),
    reason="the folder of inspected situations does not stand beside this checkout",
)
def test_inspected_situations_hold():
    """Situations made up as an inspector would, also those that the first rulebook answered wrongly."""
    good, every, failed = held(sorted((PUBLISHED / "inspected").glob("*.yaml")))
    assert every
    assert good / every >= 0.95, failed

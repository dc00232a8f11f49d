"""Runs cases: scenarios with expectations, beside the rule files or anywhere else."""

from __future__ import annotations

import copy
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from hiveweek import content, facts, vocabulary
from hiveweek.authoring.judging import Failure, judge
from hiveweek.facts.scenario import Scenario
from hiveweek.inference.columnar import Inference
from hiveweek.plan import ranking as ranking_file
from hiveweek.plan.answer import answer, profile_of
from hiveweek.plan.why import Step, explain
from hiveweek.problems import InputProblems, Problem
from hiveweek.rules import Library, effective_in, read_library
from hiveweek.rules.model import RuleSet
from hiveweek.rules.reader import wrong_endings
from hiveweek.rules.store import climate_words
from hiveweek.show.why import MARK
from hiveweek.texts.parts import message
from hiveweek.texts.speaker import says

TURNING = (message("why.not"), message("why.unless"))


@dataclass
class Result:
    """One case and what came of it."""

    scenario: Scenario
    failures: list[Failure]
    trace: list[str] = field(default_factory=list)
    inference: Inference | None = None

    @property
    def name(self) -> str:
        """Where the case stands."""
        line, col = self.scenario.place
        return f"{self.scenario.file}:{line}:{col}"


def find(paths: Iterable[Path | str] = ()) -> list[Path]:
    """Return case and scenario files under paths; without any, all that ship.

    Raises
    ------
    InputProblems
        For a folder without a file that is read, and for files whose names end in ``.yml``, which nothing reads.
    """
    given = [Path(p) for p in paths]
    if not given:
        root = content.root()
        return sorted((root / "rulesets").rglob("*.cases.yaml")) + sorted((root / "scenarios").rglob("*.yaml"))
    found: list[Path] = []
    problems: list[Problem] = []
    for path in given:
        if not path.is_dir():
            found.append(path)
            continue
        problems += wrong_endings(path.rglob("*.yml"))
        inside = sorted(path.rglob("*.yaml"))
        if not inside:
            problems.append(Problem(content.shown(path), 0, 0, "no-file", "there is no .yaml file in this folder"))
        found += inside
    if problems:
        raise InputProblems(problems)
    return found


def read(paths: Iterable[Path], words=None) -> list[Scenario]:
    """Read the scenarios and cases of files.

    Raises
    ------
    InputProblems
        With the problems of all files.
    """
    words = words or vocabulary.load()
    scenarios: list[Scenario] = []
    problems: list[Problem] = []
    for path in paths:
        try:
            if path.name.endswith(".cases.yaml"):
                scenarios += facts.read_cases(path, words=words)
            else:
                scenarios.append(facts.read_scenario(path, words=words))
        except InputProblems as error:
            problems += error.problems
    if problems:
        raise InputProblems(problems)
    return scenarios


class Runner:
    """Answers many scenarios, merging each climate's rules once.

    Parameters
    ----------
    words : Vocabulary, optional
    folder : Path, optional
        Another rulesets folder than the shipped one.
    extra : iterable of Path
        Overlays that take part in every case.
    change : callable, optional
        Applied to each effective ruleset (a limit moved, say) before it is used.
    """

    def __init__(self, words=None, folder: Path | None = None, extra: Iterable[Path | str] = (), change=None):
        self.words = words or vocabulary.load()
        self.folder = folder
        self.extra = [Path(p) for p in extra]
        self.change = change
        self.ranking = ranking_file.load(self.words)
        self._libraries: dict[tuple, Library] = {}
        self._rulesets: dict[tuple, RuleSet] = {}

    def changed(self, change) -> Runner:
        """Return a runner over the same files, read once for both, whose rulesets are changed by ``change``."""
        other = copy.copy(self)
        other.change, other._rulesets = change, {}
        return other

    def ruleset(self, profile, jurisdiction: str | None = None, overlays: Iterable[Path | str] = ()) -> RuleSet:
        """Return the effective ruleset of a profile, read and merged once."""
        named = tuple(str(p) for p in [*overlays, *self.extra])
        key = (repr(climate_words(profile)), jurisdiction, named)
        if key not in self._rulesets:
            library = self._libraries.get(named)
            if library is None:
                library = self._libraries[named] = read_library(self.words, self.folder, [Path(p) for p in named])
            problems = list(library.problems)
            ruleset = effective_in(library, profile, jurisdiction, problems)
            if problems:
                raise InputProblems(problems)
            self._rulesets[key] = self.change(ruleset) if self.change else ruleset
        return self._rulesets[key]

    def answer(self, scenario: Scenario, date=None, second_channel: bool = False, since: bool = True, given=None):
        """Answer a scenario (one channel: the comparison of the two has tests of its own)."""
        profile = profile_of(scenario)
        ruleset = self.ruleset(profile, scenario.jurisdiction, scenario.rulesets)
        return answer(
            scenario,
            date=date,
            offline=True,
            second_channel=second_channel,
            words=self.words,
            ruleset=ruleset,
            ranking=self.ranking,
            since=since,
            given=given,
        )

    def run(self, scenario: Scenario, trace: bool = True, keep: bool = False) -> Result:
        """Answer a case and judge it."""
        found = self.answer(scenario)
        failures = judge(scenario, found.plan, found.inference)
        lines = [line for failure in failures for line in explained(failure, found)] if trace else []
        return Result(scenario, failures, lines, found.inference if keep else None)


def explained(failure: Failure, found) -> list[str]:
    """Return the trace of a failure: the rules concerned, with their places and the parts that decided."""
    inference = found.inference
    rows = range(len(inference.table)) if not failure.hive else [inference.table.hives.index(failure.hive)]
    names = list(failure.rules)
    for action in failure.actions:
        names += [rule.id for rule in inference.ruleset.advising() if rule.advise == action]
    lines = []
    for row in list(rows)[:3]:
        for name in names[:12]:
            why = explain(inference, name, row, found.date)
            lines.append(f"    {why.rule} ({why.place}) at {why.hive}: {says(f'why.{why.answer}')}")
            lines += [f"      {text}" for text in _deciding(why.steps, why.answer)][:4]
        plan = next((h for h in found.plan.hives if h.id == inference.table.hives[row]), None)
        for withheld in plan.withheld if plan else ():
            if withheld.action in failure.actions:
                lines.append(f"    {withheld.action} is withheld ({withheld.kind}): {withheld.because!s}")
    return lines


def _deciding(step: Step | None, answer_: str) -> list[str]:
    """The parts that kept a condition from holding (or made it hold)."""
    if step is None:
        return []
    wanted = answer_.startswith("holds")
    if step.answer.startswith("holds") != wanted:
        return []
    head = f"{MARK[step.answer]} {step.text!s}"
    if step.text in TURNING:
        part = step.parts[0]
        inner = _deciding(part, "does-not-hold" if wanted else "holds") or [
            f"{part.text!s} {says(f'why.{part.answer}')}"
        ]
        return [f"{head}: {line}" for line in inner]
    if not step.parts or str(step.text).startswith("finding."):
        return [head + (f"  [{'; '.join(map(str, step.values))}]" if step.values else "")]
    return [line for part in step.parts for line in _deciding(part, answer_)]

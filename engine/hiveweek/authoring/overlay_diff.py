"""Two versions of an overlay, held against each other: entries, advice on random yards, and what no case covers."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TypeVar

from hiveweek import vocabulary
from hiveweek.authoring import cases, coverage
from hiveweek.authoring.cases import Runner
from hiveweek.authoring.entries import Changed, changes, entries
from hiveweek.authoring.impact import Change, Impact
from hiveweek.authoring.overlay_versions import Version
from hiveweek.authoring.own_findings import climates, of_entry
from hiveweek.climate import load_profile, profile_ids
from hiveweek.problems import InputProblems, Problem

T = TypeVar("T")


@dataclass
class Uncovered:
    """What no case reaches of an entry that differs.

    Attributes
    ----------
    before : bool
        Whether the old version's cases reached it.
    """

    entry: str
    item: str
    before: bool


@dataclass
class Report:
    """What differs between two versions.

    Attributes
    ----------
    yards, hives : int
        Random yards asked, and the hives in them.
    differ : int
        Yards that are answered otherwise.
    failing : list of str
        Cases of the new version that do not hold.
    """

    entries: list[Changed] = field(default_factory=list)
    advice: list[Change] = field(default_factory=list)
    profiles: list[str] = field(default_factory=list)
    yards: int = 0
    hives: int = 0
    differ: int = 0
    seed: int = 1
    cases: int = 0
    failing: list[str] = field(default_factory=list)
    uncovered: list[Uncovered] = field(default_factory=list)

    @property
    def any(self) -> bool:
        """Whether anything differs."""
        return bool(self.entries or self.advice)


def diff(
    old: Version,
    new: Version,
    *,
    profiles: Iterable[str] | None = None,
    yards: int = 1000,
    seed: int = 1,
    more_cases: Iterable[Path] = (),
    tell: Callable[[str], None] = lambda text: None,
) -> Report:
    """Hold two versions of an overlay against each other.

    Parameters
    ----------
    profiles : iterable of str, optional
        Climates to ask yards of; those that the overlays are for by default.
    yards : int
        Random yards in all; with 0 only the entries and the cases are looked at.
    seed : int
        Seed of the random yards.
    more_cases : iterable of Path
        Case files asked of the new version besides those that stand beside it.
    tell : callable, optional
        Given a line now and then.

    Raises
    ------
    InputProblems
        With every problem of either version, its files named as the user named them.
    """
    words = vocabulary.load()
    sides = {}
    for version in (old, new):
        sides[version] = Runner(words, extra=version.overlays)
        _named(version, partial(sides[version].ruleset, load_profile(profile_ids()[0])))
    was, now = (entries(version.overlays, words) for version in (old, new))
    report = Report(seed=seed)
    report.profiles = list(profiles) if profiles is not None else climates((was, now))
    for version in (old, new):
        for name in report.profiles:
            _named(version, partial(sides[version].ruleset, load_profile(name)))
    units = {
        name: row.unit
        for version in (old, new)
        for profile in report.profiles
        for name, row in sides[version].ruleset(load_profile(profile)).numbers.rows.items()
    }
    report.entries = changes(was, now, units)
    if not report.entries:
        return report
    _cover(report, old, new, sides, list(more_cases), words)
    if yards:
        impact = Impact(sides[old], sides[new], report.profiles, tell)
        impact.yards(yards, seed)
        report.advice = sorted(impact.report.changes, key=lambda c: (c.rule, c.profile, c.kind, c.where, c.hive))
        report.hives, report.differ = impact.report.asked["sample"], impact.report.differ["sample"]
        report.yards = yards if report.hives else 0
    return report


def _named(version: Version, read: Callable[[], T]) -> T:
    """Return what is read; problems name the files of a revision as git names them."""
    try:
        return read()
    except InputProblems as error:
        raise InputProblems(
            [Problem(version.told(p.file), p.line, p.col, p.code, version.told(p.message)) for p in error.problems]
        ) from None


def _cover(report: Report, old: Version, new: Version, sides: dict[Version, Runner], more: list[Path], words) -> None:
    """Add what no case of the new version reaches of the entries that differ."""

    def measured(version: Version, files: Iterable[Path]) -> tuple[coverage.Coverage, list[cases.Result]]:
        scenarios = _named(version, partial(cases.read, files, words))
        runner = sides[version]
        results = _named(version, lambda: [runner.run(one, trace=False, keep=True) for one in scenarios])
        rulesets = [sides[version].ruleset(load_profile(name)) for name in report.profiles]
        return coverage.measure(results, rulesets), results

    now, results = measured(new, [*new.cases, *more])
    before, _ = measured(old, old.cases)
    report.cases = len(results)
    report.failing = [
        f"{new.told(result.name)}: {failure.hive + ': ' if failure.hive else ''}{failure.text}"
        for result in results
        for failure in result.failures
    ]
    missing = now.missing
    for change in report.entries:
        if change.how != "taken-away":
            report.uncovered += [
                Uncovered(change.entry.title, item, item in before.met)
                for item in missing
                if of_entry(item, change.entry)
            ]

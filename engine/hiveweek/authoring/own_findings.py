"""What the proofs and the coverage find of an overlay itself: each finding with the entry that brings it, without those of the base."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from hiveweek.authoring.coverage import Coverage
from hiveweek.authoring.entries import Entry, entries
from hiveweek.authoring.proof_report import Finding, Report
from hiveweek.climate import profile_ids
from hiveweek.language.terms import limit_names, refs
from hiveweek.rules.model import RuleSet

TOGETHER = "the entries together"
_NAME = re.compile(r"[a-z][a-z0-9_-]*(?:\.[a-z0-9_-]+)+")
_OF_LIMITS, _OF_RULES = ("number", "limit"), ("rule", "field")


def climates(found: Iterable[Mapping[tuple, Entry]]) -> list[str]:
    """Return the climates that some overlays are for; all of them where one is for any."""
    wanted: set[str] = set()
    for one in found:
        for entry in one.values():
            if entry.kind == "head":
                named = entry.parts.get("for")
                if not named:
                    return profile_ids()
                wanted.update(named)
    return [name for name in profile_ids() if name in wanted]


def files_of(paths: Iterable[Path]) -> list[Path]:
    """Return the overlay files among some paths and in their folders."""
    found = [each for path in paths for each in (sorted(path.glob("*.yaml")) if path.is_dir() else [path])]
    return [path for path in found if not path.name.endswith(".cases.yaml")]


def cases_beside(paths: Iterable[Path]) -> list[Path]:
    """Return the case files beside overlays; none where there are none."""
    return [beside for path in files_of(paths) if (beside := path.with_name(f"{path.stem}.cases.yaml")).exists()]


def file_of(place: str) -> str:
    """Return the file of a place ``file:line:col``."""
    return place.rsplit(":", 2)[0]


def own(paths: Iterable[Path], words) -> dict[tuple[str, str, str], Entry]:
    """Return the entries of some overlays."""
    return entries(files_of(paths), words)


def of_entry(item: str, entry: Entry) -> bool:
    """Tell whether an item of coverage is about an entry of an overlay."""
    starts: tuple[str, ...]
    if entry.kind in _OF_LIMITS:
        name, starts = entry.name, (f"limit {entry.name} ",)
    elif entry.kind in _OF_RULES:
        name = entry.name.partition(" ")[0]
        starts = (f"rule {name} ", f"{name}: ")
    else:
        return False
    return item.startswith(starts) or (item.startswith("overlay entry ") and item.endswith(f": {name}"))


def narrowed(found: Coverage, mine: Mapping[tuple, Entry]) -> tuple[Coverage, dict[str, Entry]]:
    """Return the coverage of what overlays add alone, and the entry of each item."""
    of = {item: entry for item in found.wanted for entry in mine.values() if of_entry(item, entry)}
    return Coverage({item: found.wanted[item] for item in of}, found.met & set(of)), of


def narrow(
    report: Report, mine: Mapping[tuple, Entry], rulesets: Iterable[RuleSet], of_base: Callable[[], set[str]]
) -> None:
    """Leave in a report of the proofs only what overlays bring, each finding with its entry.

    Parameters
    ----------
    report : Report
        Of the base with the overlays; changed in place.
    mine : mapping
        The entries of the overlays.
    rulesets : iterable of RuleSet
        What was proven, and the base.
    of_base : callable
        Gives the keys of what the proofs find without the overlays; asked only where a finding names no rule that an
        overlay adds.
    """
    rulesets = list(rulesets)
    added = {entry.name for entry in mine.values() if entry.kind == "rule"}
    candidates = [finding for finding in report.findings if not finding.excused]
    if any(not added & _names(finding) for finding in candidates):
        known = of_base()
        candidates = [finding for finding in candidates if finding.key not in known]
    for finding in candidates:
        entry = _entry(finding, mine, rulesets)
        beside = entry is not None and file_of(entry.place) != file_of(finding.place)
        finding.entry = (f"{entry.title} ({entry.place})" if beside else entry.title) if entry else TOGETHER
    report.of_base = len(report.findings) - len(candidates)
    report.findings, report.stale = candidates, []


def _names(finding: Finding) -> set[str]:
    return set(_NAME.findall(f"{finding.key.replace(':', ' ')} {finding.text}"))


def _entry(finding: Finding, mine: Mapping[tuple, Entry], rulesets: list[RuleSet]) -> Entry | None:
    """Return the entry that brings a finding: named in it, else one that a rule named in it rests on."""
    names = _names(finding)
    for wanted in (names, _rests_on(names, rulesets)):
        for kind in ("rule", "field", "off", "limit", "number"):
            for entry in mine.values():
                if entry.kind == kind and entry.name.partition(" ")[0] in wanted:
                    return entry
    whole = [entry for entry in mine.values() if entry.kind != "head"]
    return whole[0] if len(whole) == 1 else None


def _rests_on(names: set[str], rulesets: list[RuleSet]) -> set[str]:
    """Return the rules and limits that some rules read, through findings."""
    found: set[str] = set()
    for ruleset in rulesets:
        todo = [ruleset.rules[name] for name in sorted(names) if name in ruleset.rules]
        seen: set[str] = set()
        while todo:
            rule = todo.pop()
            if rule.id in seen:
                continue
            seen.add(rule.id)
            found.update(limit_names(rule.when))
            todo += [giving for ref in refs(rule.when) if ref.is_finding for giving in ruleset.giving(ref.finding)]
        found |= seen
    return found

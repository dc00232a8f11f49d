"""Everything that can be found wrong with rule files by reading them: the loader's errors and matters of style."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from hiveweek import __version__, content
from hiveweek.authoring import every_file, names_used
from hiveweek.climate import load_profile, profile_ids
from hiveweek.language.terms import limit_names
from hiveweek.numbers import shipped
from hiveweek.problems import InputProblems, Problem
from hiveweek.rules import effective_in, read_library
from hiveweek.rules.model import RuleSet
from hiveweek.rules.parsing import PLACEHOLDER
from hiveweek.rules.reader import Library

UNREAD = ("not-yaml", "not-utf8", "empty-file", "no-file", "too-large")  # then names are missing that stand there
LONGEST = {"because": 320, "safety": 320}
MOST_SENTENCES = 3
# Words that promise what nobody can promise, or that shout.
UNWELCOME = (
    (re.compile(r"!"), "no exclamation mark"),
    (
        re.compile(
            r"\b(?:perfectly|completely|totally|always|quite) safe\b|\bis safe\b|\bare safe\b|\bharmless\b|\bcannot fail\b",
            re.I,
        ),
        "nothing is promised to be safe",
    ),
    (re.compile(r"\bwill die\b|\bis dead sure\b", re.I), "say a chance in words, not a certainty of death"),
    (
        re.compile(r"\bit is (?:american |european )?foulbrood\b", re.I),
        "say suspect; the authority or a laboratory decides",
    ),
    (
        re.compile(r"\b(?:january|february|march|april|june|july|august|september|october|november|december)\b", re.I),
        "no calendar month without its place; name the season event",
    ),
    (re.compile(r"\b(?:your fault|you failed|careless|stupid)\b", re.I), "no blame"),
)


@dataclass(frozen=True, order=True)
class Finding:
    """A problem with its level: ``error`` stops an answer, ``style`` does not."""

    problem: Problem
    level: str = "error"

    def __str__(self) -> str:
        return str(self.problem) if self.level == "error" else f"{self.problem} (style)"


def check(paths: Iterable[Path | str] = ()) -> list[Finding]:
    """Return every finding, in the order of files and lines.

    Parameters
    ----------
    paths : iterable of Path
        Overlays of an author and their cases, or a whole ``rulesets`` folder that replaces the shipped one. Files of the
        folder itself are checked anyway, so naming one adds nothing. Of a whole folder every file is held against the schema of
        its kind, also those that hold no rules; the shipped one's only where no overlay is named.
    """
    given = [Path(p) for p in paths]
    folder = next((p for p in given if (p / "base").is_dir()), None)
    own = (folder or content.root() / "rulesets").resolve()
    extra = [p for p in given if p != folder and not p.resolve().is_relative_to(own)]
    told: list[Problem] = []
    try:
        words = every_file.vocabulary_of(own, told)
    except InputProblems as error:
        return [Finding(problem) for problem in error.problems]
    library = read_library(words, folder, [p for p in extra if not p.name.endswith(".cases.yaml")])
    problems = {*library.problems, *told}
    problems.update(
        every_file.problems_of(own, words) if folder or not extra else every_file.cases_beside(extra, words)
    )
    used: set[str] = set()
    rulesets: dict[str, RuleSet] = {}
    for profile_id in profile_ids():
        profile = load_profile(profile_id)
        for jurisdiction in [None, *sorted(library.jurisdictions)]:
            found: list[Problem] = []
            ruleset = effective_in(library, profile, jurisdiction, found)
            problems.update(found)
            used |= _used(ruleset)
            rulesets.setdefault(profile_id, ruleset)
            if profile_id != profile_ids()[0]:
                break
    problems.update(_targets(library))
    if not any(problem.code in UNREAD for problem in problems):
        problems.update(names_used.problems_of(own, library, rulesets))
    findings = [Finding(problem) for problem in problems]
    if not problems:
        findings += [Finding(problem, "style") for problem in _style(library, used)]
    return sorted(findings)


def _used(ruleset) -> set[str]:
    names: set[str] = set()
    for rule in ruleset.rules.values():
        names.update(limit_names(rule.when))
        for text in (rule.because, rule.safety, rule.amount or ""):
            names.update(n for n in PLACEHOLDER.findall(text) if n.startswith("limit."))
    for prohibition in ruleset.prohibitions.values():
        names.update(limit_names(prohibition.when))
    for option in ruleset.options.values():
        for bar in option.bars:
            names.update(limit_names(bar[0]))
    for trouble in ruleset.troubles.values():
        names.update(limit_names(trouble.when))
    for late in ruleset.late.values():
        names.update(limit_names(late.until) if late.until is not None else ())
    return names


def _targets(library: Library) -> list[Problem]:
    """Profiles and jurisdictions that overlays and topics name."""
    from hiveweek.problems import nearest

    known = profile_ids()
    problems = []
    for overlay in library.overlays:
        names = known if overlay.layer != "jurisdiction" else sorted(library.jurisdictions)
        for index, name in enumerate(overlay.wanted):
            if name not in names:
                problems.append(
                    overlay.document.problem(
                        ("for", index), "unknown-profile", f"'{name}' is not known{nearest(name, names)}"
                    )
                )
    for topic in library.topics.values():
        for index, name in enumerate(topic.climates if isinstance(topic.climates, list) else ()):
            if name not in known:
                problems.append(
                    topic.document.problem(
                        ("climates", index), "unknown-profile", f"'{name}' is no profile{nearest(name, known)}"
                    )
                )
    return problems


def _style(library: Library, used: set[str]) -> list[Problem]:
    problems: list[Problem] = []
    raws = list(library.rules.values()) + [raw for overlay in library.overlays for raw in overlay.rules.values()]
    for raw in raws:
        for key in ("because", "safety"):
            piece = raw.pieces.get(key)
            if piece is None or not isinstance(piece.value, str):
                continue
            text = piece.value
            if len(text) > LONGEST[key]:
                problems.append(
                    piece.document.problem(
                        piece.path, "too-long", f"'{key}' of {raw.id} has {len(text)} letters; at most {LONGEST[key]}"
                    )
                )
            if len(re.findall(r"[.?](?:\s|$)", text)) > MOST_SENTENCES:
                problems.append(
                    piece.document.problem(
                        piece.path, "too-long", f"'{key}' of {raw.id} has more than {MOST_SENTENCES} sentences"
                    )
                )
            for pattern, why in UNWELCOME:
                if pattern.search(text):
                    problems.append(piece.document.problem(piece.path, "wording", f"'{key}' of {raw.id}: {why}"))
        stakes, most = raw.pieces.get("stakes"), shipped().plan.weights.gain_most_pts
        if (
            stakes is not None
            and isinstance(stakes.value, dict)
            and stakes.value.get("loses") == "colony"
            and stakes.value.get("gain_pts", 0) > most
        ):
            problems.append(
                stakes.document.problem(
                    stakes.path, "too-high", f"{raw.id}: no published or judged gain is above {most:g} points"
                )
            )
    limits = dict(library.limits)
    for overlay in library.overlays:
        limits.update(overlay.limits)
    for limit in limits.values():
        place = limit.place
        if not limit.status and limit.source not in (("common-practice",), ("judgement",)):
            problems.append(
                Problem(
                    place.file,
                    place.line,
                    place.col,
                    "no-status",
                    f"{limit.name}: say how the figure was come by (status)",
                )
            )
        if limit.name not in used:
            problems.append(
                Problem(place.file, place.line, place.col, "unused-limit", f"{limit.name} is compared with nowhere")
            )
    return problems


def as_json(findings: list[Finding]) -> dict:
    """Return findings as plain data."""
    return {
        "errors": sum(f.level == "error" for f in findings),
        "style": sum(f.level == "style" for f in findings),
        "findings": [
            {
                "file": f.problem.file,
                "line": f.problem.line,
                "col": f.problem.col,
                "code": f.problem.code,
                "level": f.level,
                "message": f.problem.message,
            }
            for f in findings
        ],
    }


def as_sarif(findings: list[Finding]) -> dict:
    """Return findings as SARIF 2.1.0 (OASIS standard)."""
    codes = sorted({f.problem.code for f in findings})
    return {
        "$schema": "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json",
        "version": "2.1.0",
        "runs": [
            {
                "tool": {
                    "driver": {"name": "hiveweek", "version": __version__, "rules": [{"id": code} for code in codes]}
                },
                "results": [
                    {
                        "ruleId": f.problem.code,
                        "level": "error" if f.level == "error" else "warning",
                        "message": {"text": f.problem.message},
                        "locations": [
                            {
                                "physicalLocation": {
                                    "artifactLocation": {"uri": quote(f.problem.file)},
                                    "region": {
                                        "startLine": max(1, f.problem.line),
                                        "startColumn": max(1, f.problem.col),
                                    },
                                }
                            }
                        ],
                    }
                    for f in findings
                ],
            }
        ],
    }

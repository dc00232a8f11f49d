"""The declared numbers behind the season calendar, read from ``rulesets/vocabulary/season_criteria.yaml``.

One set holds for the whole earth; none belongs to one place.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from hiveweek import content
from hiveweek.problems import InputProblems, Problem
from hiveweek.shapes import marked_yaml

STATUS_WORDS = ("seen", "seen-2nd", "memory", "calc", "derived", "judgement", "practice")


@dataclass(frozen=True)
class Criterion:
    """One number of the calendar: its value, unit, where it comes from and why it is used as it is."""

    id: str
    value: float
    unit: str
    source: tuple[str, ...]
    status: str
    note: str


class Criteria:
    """All numbers by name; ``criteria["cluster_autumn_mean_c"]`` gives the value."""

    def __init__(self, entries: dict[str, Criterion]):
        self.entries = entries

    def __getitem__(self, name: str) -> float:
        return self.entries[name].value


def read(path: Path | str) -> Criteria:
    """Read a criteria file.

    Raises
    ------
    InputProblems
        With every entry that lacks a number, unit, source, status or note, at its place.
    """
    document = marked_yaml.read(path, content.shown(Path(path)))
    problems = list(document.problems)
    entries: dict[str, Criterion] = {}
    data = document.data if isinstance(document.data, dict) else {}
    listed = data.get("criteria")
    if not isinstance(listed, dict):
        problems.append(document.problem((), "criteria-missing", "the file holds no mapping called 'criteria'"))
        listed = {}
    for name, entry in listed.items():
        path_ = ("criteria", name)
        problem = _entry_problem(entry)
        if problem:
            problems.append(Problem(document.name, *document.place(path_), "criterion", f"'{name}' {problem}"))
            continue
        source = entry["source"] if isinstance(entry["source"], list) else [entry["source"]]
        entries[name] = Criterion(
            name, float(entry["value"]), entry["unit"], tuple(source), entry["status"], entry["note"]
        )
    if problems:
        raise InputProblems(problems)
    return Criteria(entries)


def _entry_problem(entry: object) -> str:
    if not isinstance(entry, dict):
        return "is not a mapping of value, unit, source, status, note"
    if isinstance(entry.get("value"), bool) or not isinstance(entry.get("value"), (int, float)):
        return "has no number under 'value'"
    for key in ("unit", "source", "note"):
        if not entry.get(key):
            return f"has no '{key}'"
    if entry.get("status") not in STATUS_WORDS:
        return f"needs a status out of {', '.join(STATUS_WORDS)}"
    return ""


@lru_cache(maxsize=1)
def load() -> Criteria:
    """Return the shipped criteria."""
    return read(content.root() / "rulesets" / "vocabulary" / "season_criteria.yaml")

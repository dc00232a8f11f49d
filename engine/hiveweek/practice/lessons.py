"""The scenarios to practise on."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from hiveweek import content, facts
from hiveweek.facts.scenario import Lesson, Scenario
from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.vocabulary.model import Vocabulary


def load(words: Vocabulary, folder: Path | None = None) -> list[Scenario]:
    """Return the scenarios of a folder that have a lesson, in the order of their files; those that ship without a folder.

    Raises
    ------
    InputProblems
        With the problems of all files; for a folder that is not there or holds none; for two lessons of one id.
    """
    place = folder or content.root() / "scenarios" / "practice"
    found: list[Scenario] = []
    problems: list[Problem] = []
    for path in sorted(place.rglob("*.cases.yaml")):
        try:
            found += [one for one in facts.read_cases(path, words=words) if one.lesson is not None]
        except InputProblems as error:
            problems += error.problems
    seen: dict[str, Scenario] = {}
    for one in found:
        first = seen.setdefault(lesson_of(one).id, one)
        if first is not one:
            said = f"lesson '{lesson_of(one).id}' stands twice; first at {first.file}:{first.place[0]}"
            problems.append(Problem(one.file, *one.place, "duplicate-id", said))
    if not found and not problems:
        problems.append(Problem("", 0, 0, "no-lesson", f"no scenario with a lesson in {content.shown(place)}"))
    if problems:
        raise InputProblems(problems)
    return found


def lesson_of(scenario: Scenario) -> Lesson:
    """Return the lesson of a scenario that has one."""
    assert scenario.lesson is not None
    return scenario.lesson


def chosen(scenarios: Iterable[Scenario], topic: str | None = None, climate: str | None = None) -> list[Scenario]:
    """Return those of a topic and a climate.

    Raises
    ------
    InputProblems
        For a topic or a climate that none of them has, with the nearest name; where none has both.
    """
    found = list(scenarios)
    problems = []
    for word, wanted, known in (
        ("topic", topic, {lesson_of(one).topic for one in found}),
        ("climate", climate, {str(one.climate) for one in found}),
    ):
        if wanted is not None and wanted not in known:
            said = f"no scenario of the {word} '{wanted}'; there are {', '.join(sorted(known))}{nearest(wanted, known)}"
            problems.append(Problem("", 0, 0, f"unknown-{word}", said))
    if problems:
        raise InputProblems(problems)
    found = [one for one in found if topic in (None, lesson_of(one).topic) and climate in (None, one.climate)]
    if not found:
        raise InputProblems([Problem("", 0, 0, "no-lesson", f"no scenario of '{topic}' in {climate}")])
    return found


def by_id(scenarios: Iterable[Scenario], id: str) -> Scenario:
    """Return the scenario of a lesson.

    Raises
    ------
    InputProblems
        Where there is none, with the nearest.
    """
    known = {lesson_of(one).id: one for one in scenarios}
    if id not in known:
        raise InputProblems([Problem("", 0, 0, "unknown-lesson", f"no scenario '{id}'{nearest(id, known)}")])
    return known[id]

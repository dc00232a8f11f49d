"""Whether scenarios to practise on hold: with what is known at first, and once looks have found the rest."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from hiveweek.authoring.cases import Runner
from hiveweek.authoring.judging import judge
from hiveweek.facts.scenario import Scenario
from hiveweek.vocabulary.model import Vocabulary


@dataclass(frozen=True)
class Judged:
    """One scenario as it was judged.

    Attributes
    ----------
    lesson, place : str
    found : bool
        With what looks find; else with what is known at first.
    failures : tuple of str
        What was expected and what came.
    """

    lesson: str
    place: str
    found: bool
    failures: tuple[str, ...]


def judged(scenarios: Iterable[Scenario], words: Vocabulary, *, first: bool = True) -> list[Judged]:
    """Judge scenarios with a lesson.

    Parameters
    ----------
    first : bool
        Also with what is known at first; without it only with what looks find.
    """
    runner = Runner(words)
    results = []
    for one in scenarios:
        for found, scenario in _stages(one):
            if found or first:
                answer = runner.answer(scenario, since=False)
                failures = judge(scenario, answer.plan, answer.inference)
                said = tuple(f"{failure.hive}: {failure.text}" for failure in failures)
                place = f"{one.file}:{one.place[0]}:{one.place[1]}"
                results.append(Judged(one.lesson.id if one.lesson else "", place, found, said))
    return results


def _stages(one: Scenario) -> Iterator[tuple[bool, Scenario]]:
    """Yield the scenario as it stands, and with all that looks find where something is expected then."""
    yield False, one
    if one.lesson is not None and one.lesson.then:
        found, then = one.lesson.found, one.lesson.then
        hives = [
            dataclasses.replace(hive, facts={**hive.facts, **found.get(hive.id, {})}, expect=then.get(hive.id, {}))
            for hive in one.hives
        ]
        yield True, dataclasses.replace(one, hives=hives, expect={})

"""Hives with one thing changed: another sign noted, a number worse, a fact not known. The other hives of the yard stay."""

from __future__ import annotations

import copy
import math
from collections.abc import Iterator
from typing import Any

import numpy as np

from hiveweek import content
from hiveweek.facts.constraints import broken
from hiveweek.facts.implied import contradictions
from hiveweek.facts.scenario import ScenarioHive
from hiveweek.shapes import marked_yaml
from hiveweek.vocabulary.model import Vocabulary
from upkeep.laws.hives import CATCHING, Yard

TURNS = 3  # changes tried at a hive


def declared(key: str) -> dict[str, Any]:
    """Return what the shipped list of troubles says under a key, by trouble."""
    path = content.root() / "rulesets" / "vocabulary" / "troubles.yaml"
    data = marked_yaml.read(path, content.shown(path)).data["troubles"]
    return {name: body[key] for name, body in data.items() if body.get(key)}


def agrees(words: Vocabulary, facts: dict) -> bool:
    """Whether facts of one day can stand together."""

    def column(name: str) -> np.ndarray:
        return np.array([words.facts[name].encode(facts.get(name))])

    return not broken(words, column) and not contradictions(words, column) and not too_many(facts)


def too_many(facts: dict) -> bool:
    """Whether a sample has more mites than bees: its share is then not known, as of a slip of the pen."""
    mites, bees = facts.get("mites.sample_mites"), facts.get("mites.sample_bees")
    return mites is not None and bees is not None and mites > bees


def with_facts(hive: ScenarioHive, more: dict) -> ScenarioHive:
    """Return a hive at which more was noted on the day of its facts."""
    changed = copy.copy(hive)
    changed.facts = {**hive.facts, **more}
    return changed


def without(hive: ScenarioHive, fact: str) -> ScenarioHive:
    """Return a hive at which a fact was never noted."""
    changed = copy.copy(hive)
    changed.facts = {name: value for name, value in hive.facts.items() if name != fact}
    looks = [(day, {k: v for k, v in seen.items() if k != fact}) for day, seen in hive.observed]
    changed.observed = [(day, seen) for day, seen in looks if seen]
    return changed


def worse(value: float, direction: str, whole: bool) -> float:
    """Return a number that is worse: half or twice as much, whole where it counts things."""
    number = value / 2 if direction == "down" else value * 2 + 1
    return math.floor(number) if whole else round(number, 2)


def catching(more: dict) -> bool:
    """Whether facts concern the whole yard where one hive has them."""
    return any(name.startswith(CATCHING) for name in more)


def small(yard: Yard) -> bool:
    """Whether a yard is small enough to change in it what concerns all its hives."""
    return len(yard.scenario.hives) == 1


def turns(yard: Yard, options: list[list]) -> Iterator[list]:
    """Yield, a few times, one of the options of each hive, another one each time; None where a hive has none (left)."""
    first = yard.scenario.date.day
    for turn in range(min(TURNS, max(map(len, options), default=0))):
        yield [own[(7 * row + first + turn) % len(own)] if turn < len(own) else None for row, own in enumerate(options)]

"""Answers yards and keeps what the laws ask of an answer: the JSON of each hive, its facts, the troubles that stand at it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from hiveweek import vocabulary
from hiveweek.authoring.cases import Runner
from hiveweek.facts.past import Past
from hiveweek.inference.columnar import Inference
from hiveweek.language.truth import Truth
from hiveweek.plan.answer import answer, profile_of
from hiveweek.plan.model import WeekPlan
from hiveweek.rules.model import RuleSet, Trouble
from hiveweek.show import json as as_json
from hiveweek.vocabulary.normal import load as load_normal
from upkeep.laws.hives import Yard

TOP = 3  # how far down a keeper surely reads
SURE = 0.8  # chance from which a trouble counts as known; season and models have their spread


def _stands(outcome: tuple[Truth, Truth, float]) -> bool:
    return outcome[0] == Truth.TRUE and outcome[2] >= SURE


@dataclass
class Told:
    """What one hive was told.

    Attributes
    ----------
    hive : dict
        Its part of the JSON, facts among it.
    troubles : list of Trouble
        Those that are known to stand; the one that kills soonest first.
    """

    id: str
    hive: dict
    troubles: list[Trouble]

    @cached_property
    def actions(self) -> list[str]:
        """Actions in rank order."""
        return [advice["action"] for advice in self.hive["advice"]]

    @property
    def top(self) -> list[str]:
        """The first of them."""
        return self.actions[:TOP]

    @cached_property
    def advice(self) -> dict[str, dict]:
        """Advice by action."""
        return {advice["action"]: advice for advice in self.hive["advice"]}

    @cached_property
    def withheld(self) -> dict[str, dict]:
        """What is withheld, by action."""
        return {item["action"]: item for item in self.hive["withheld"]}

    def fact(self, name: str) -> Any:
        """Return a fact's value; None where it is not known."""
        found = self.hive["facts"].get(name)
        return None if found is None else found["value"]


@dataclass
class Answered:
    """A yard and its answer."""

    yard: Yard
    date: dt.date
    plan: WeekPlan
    inference: Inference
    data: dict
    told: list[Told]

    @property
    def ruleset(self) -> RuleSet:
        """The rules it was answered with."""
        return self.inference.ruleset


@dataclass
class Break:
    """One break of a law.

    Attributes
    ----------
    kind : str
        What breaks in which way, without the figures of this hive: breaks of one kind have one witness.
    variant : object
        What the law changed in the hive, where it compares two answers.
    """

    law: str
    kind: str
    text: str
    yard: Yard
    row: int
    variant: object = None


@dataclass
class Bench:
    """Answers yards, the last ones from memory, and keeps the last walk through days."""

    words: Any = field(default_factory=vocabulary.load)

    def __post_init__(self):
        self.runner = Runner(self.words)
        self.ranking = self.runner.ranking
        self.normal = load_normal(self.words)
        self.forget()

    def forget(self) -> None:
        """Answer anew from here on."""
        self._last: list[tuple[Yard, dt.date | None, Answered]] = []
        self.walked: tuple[Yard, tuple[int, ...], list[Answered]] | None = None

    def ruleset(self, yard: Yard) -> RuleSet:
        """Return the rules of a yard's climate and place."""
        scenario = yard.scenario
        return self.runner.ruleset(profile_of(scenario), scenario.jurisdiction, scenario.rulesets)

    def answer(self, yard: Yard, date: dt.date | None = None, past: Past | None = None) -> Answered:
        """Return the answer of a yard, on its own date or another; with the days gone by where they are at hand."""
        for kept, day, answered in self._last:
            if kept is yard and day == date:
                return answered
        found = answer(
            yard.scenario,
            date=date,
            offline=True,
            second_channel=False,
            with_facts=True,
            words=self.words,
            ruleset=self.ruleset(yard),
            ranking=self.ranking,
            past=past,
        )
        data = as_json.week(found.plan, with_facts=True)
        troubles = found.inference.ruleset.troubles.values()
        told = []
        for row, hive in enumerate(data["hives"]):
            told.append(Told(hive["id"], hive, [t for t in troubles if _stands(found.inference.holds(t.when, row))]))
        answered = Answered(yard, found.date, found.plan, found.inference, data, told)
        self._last = [*self._last[-3:], (yard, date, answered)]
        return answered

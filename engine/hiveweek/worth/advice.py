"""The week's advice for many independent hives at once: which jobs the rules advise, what they are worth, how much is given.

The same rules, models and prohibitions as those of the sheet, a row a hive, each hive a yard of its own; no text is made, nothing
is asked about days gone by, and no two hives are joined.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass

import numpy as np

from hiveweek.climate import Profile
from hiveweek.climate import weather as weather_room
from hiveweek.facts.build import Builder
from hiveweek.facts.estimates import MODELS
from hiveweek.facts.scenario import Scenario
from hiveweek.facts.table import FactTable
from hiveweek.inference.columnar import Inference, infer
from hiveweek.language.truth import TRUE
from hiveweek.plan import ranking as ranking_file
from hiveweek.plan.answer import rules_of
from hiveweek.rules.forbidden import aims_at, names_option, spared_where, withholds
from hiveweek.rules.model import Rule
from hiveweek.vocabulary.model import Vocabulary
from hiveweek.worth.notes import Notes

PLACE = re.compile(r"\{([a-z_.0-9]+)\}")
FIGURE = re.compile(r"\d+(?:\.\d+)?")


@dataclass
class Job:
    """What is advised of one action.

    Attributes
    ----------
    where : ndarray of bool
        The hives at which it is.
    points : ndarray
        What it is worth there.
    amount : ndarray
        As its rule says it; NaN where it says none.
    chance : ndarray
        How likely its rule is to hold, where intervals leave it in doubt.
    active : ndarray of object
        Of a treatment, the active ingredient.
    """

    where: np.ndarray
    points: np.ndarray
    amount: np.ndarray
    chance: np.ndarray
    active: np.ndarray | None = None


class _Independent(Builder):
    """The facts of hives of which each stands alone."""

    def yard(self) -> None:
        """Say of each hive's yard what is known of the hive."""
        self.put("apiary.hives", 1.0)
        self.put("apiary.robbed", self.table.column("colony.robbed").value)
        dead = self.table.column("colony.alive").value == 0
        self.put("apiary.dead_share", dead.astype(float))


class Adviser:
    """Asks the rules of a place.

    Parameters
    ----------
    profile : Profile
    words : Vocabulary
    """

    def __init__(self, profile: Profile, words: Vocabulary):
        day = dt.date(2027, 1, 1)
        self.scenario = Scenario("", profile.id, day, [])
        self.rules = rules_of(self.scenario, profile, (), words)
        self.profile = profile.with_numbers(self.rules.numbers)
        self.words = words
        self.ranking = ranking_file.load(words).under(self.rules.numbers)
        self.by_action: dict[str, list[Rule]] = {}
        for rule in self.rules.advising():
            if not rule.roles:
                self.by_action.setdefault(str(rule.advise), []).append(rule)
        self.barring = {
            action: [p for p in self.rules.prohibitions.values() if not p.roles and withholds(p) and aims_at(p, body)]
            for action, body in words.actions.items()
        }

    def infer(self, notes: Notes, day: dt.date, weather: dict[str, np.ndarray]) -> Inference:
        """Return what the rules say on a day, with the highs and lows of its week at each hive."""
        usual = weather_room.week(self.profile, day, offline=True, numbers=self.rules.numbers)
        table = FactTable(self.words, notes.hives, origins=False)
        building = _Independent(
            self.scenario, [day], self.profile, [usual], self.words, notes, table, self.rules.numbers, self.rules.law
        )
        for name, value in weather.items():
            table.set(name, np.round(value, 1))
            building.fixed[name] = np.ones(notes.rows, dtype=bool)
        building.run(MODELS)
        return infer(self.rules, table, groups=notes.rows)

    def jobs(self, notes: Notes, day: dt.date, weather: dict[str, np.ndarray]) -> dict[str, Job]:
        """Return the jobs of a week by action: what fires and is not forbidden; of two that clash the one worth more."""
        inference = self.infer(notes, day, weather)
        found: dict[str, Job] = {}
        for action, rules in self.by_action.items():
            job = self._job(inference, action, rules)
            if job is not None:
                found[action] = job
        for action, job in found.items():
            for other in self.words.actions[action].clashes:
                if other in found:
                    better = found[other].where & (
                        (found[other].points > job.points) | (found[other].points == job.points) & (other < action)
                    )
                    job.where = job.where & ~better
        return {action: job for action, job in found.items() if job.where.any()}

    def _job(self, inference: Inference, action: str, rules: list[Rule]) -> Job | None:
        n = len(inference.table)
        where, points, amount = np.zeros(n, dtype=bool), np.full(n, -1.0), np.full(n, np.nan)
        chance = np.ones(n)
        for rule in rules:
            fires = inference.rules[rule.id].point == TRUE
            if not fires.any():
                continue
            worth = self._worth(inference.table, rule)
            sure = inference.rules[rule.id].chance
            best = fires & (worth > points)
            points = np.where(best, worth, points)
            chance = np.where(best, sure, chance)
            amount = np.where(best, self._amount(inference.table, rule), amount)
            where = where | fires
        for prohibition in self.barring[action] if where.any() else ():
            holds = inference.prohibitions[prohibition.id].point == TRUE
            if spared_where(prohibition, action) is None:
                where = where & ~holds
        if not where.any():
            return None
        active = self._active(inference, action, where) if self.words.effects[action].treats is True else None
        if active is not None:
            where = where & (active != "")
        return Job(where, points, amount, chance, active)

    def _worth(self, table: FactTable, rule: Rule) -> np.ndarray:
        gain = np.full(len(table), rule.stakes.gain_pts)
        if rule.stakes.gain_fact:
            own = table.column(rule.stakes.gain_fact).value
            gain = np.where(np.isnan(own), gain, own)
        return gain * self.ranking.gain(rule.stakes.loses, 1.0)

    def _amount(self, table: FactTable, rule: Rule) -> np.ndarray:
        """The first figure of a rule's amount: a fact's, a limit's, or the written one."""
        said = PLACE.search(rule.amount or "")
        if said and said[1].startswith("limit."):
            return np.full(len(table), self.rules.numbers[said[1]].value)
        if said:
            return table.column(said[1]).value
        written = FIGURE.search(rule.amount or "")
        return np.full(len(table), float(written[0]) if written else np.nan)

    def _active(self, inference: Inference, action: str, where: np.ndarray) -> np.ndarray:
        """The first active, by name, of which a form is open at each hive; empty where all are barred."""
        found = np.full(len(where), "", dtype=object)
        for option in sorted(self.rules.options.values(), key=lambda o: (o.active, o.form, o.id)):
            open_here = where & (found == "")
            for outcome in inference.options[option.id]:
                open_here &= outcome.point != TRUE
            for prohibition in self.rules.prohibitions.values():
                if not prohibition.roles and names_option(prohibition, action, option.active):
                    open_here &= inference.prohibitions[prohibition.id].point != TRUE
            found[open_here] = option.active
        return found

"""One scenario being practised on: what is known, what looks find and cost, and the answer to what is known by then."""

from __future__ import annotations

import dataclasses
import math
import random
from dataclasses import dataclass, field

from hiveweek.climate import Profile
from hiveweek.facts.scenario import Lesson, Scenario
from hiveweek.language.truth import Truth
from hiveweek.numbers import Branch
from hiveweek.plan import ranking as ranking_file
from hiveweek.plan.answer import Answer, answer, profile_of, rules_of
from hiveweek.plan.deciding import Deciding
from hiveweek.plan.looks import LEVEL
from hiveweek.plan.model import HivePlan
from hiveweek.plan.ranking import Ranking
from hiveweek.plan.safety import Safety
from hiveweek.plan.words import Filler
from hiveweek.practice.lessons import lesson_of
from hiveweek.record import Entry, Kind
from hiveweek.rules.model import RuleSet
from hiveweek.texts.parts import Phrase
from hiveweek.vocabulary.model import Vocabulary

WARMTH = "weather.open_high_c"


@dataclass(frozen=True)
class Looked:
    """A look that the learner asked for.

    Attributes
    ----------
    found : dict of str to plain value
        What it told that was not known; empty where it told nothing new.
    minutes : int
    cost_pts : float
        What it cost the bees, in colonies of a hundred; nothing for a look that the answer asks for, or asked for at first.
    forbidden : Phrase or None
        Why it should not have been made.
    """

    action: str
    found: dict
    minutes: float
    cost_pts: float
    forbidden: Phrase | None = None


@dataclass
class Sitting:
    """A learner before one scenario.

    Attributes
    ----------
    scenario : Scenario
        With what is known by now; its lesson says what is not.
    looked : list of Looked
        In their order.
    """

    scenario: Scenario
    words: Vocabulary
    looked: list[Looked] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.profile: Profile = profile_of(self.scenario)
        self.rules: RuleSet = rules_of(self.scenario, self.profile, (), self.words)
        self.profile = self.profile.with_numbers(self.rules.numbers)
        self.ranking: Ranking = ranking_file.load(self.words).under(self.rules.numbers)
        self._answer: Answer | None = None
        self._safety: Safety | None = None
        self._at_first: tuple[list[str], dict] | None = None

    @property
    def lesson(self) -> Lesson:
        """What makes the scenario one to practise on."""
        return lesson_of(self.scenario)

    @property
    def numbers(self) -> Branch:
        """Marks and costs, ``plan.practice``."""
        return self.rules.numbers.branch("plan.practice")

    @property
    def minutes(self) -> float:
        """Minutes that the looks have taken."""
        return sum(look.minutes for look in self.looked)

    @property
    def answer(self) -> Answer:
        """The answer to what is known by now."""
        if self._answer is None:
            self._answer = answer(
                self.scenario,
                offline=True,
                second_channel=False,
                words=self.words,
                ruleset=self.rules,
                ranking=self.ranking,
                profile=self.profile,
                since=False,
            )
        return self._answer

    @property
    def plan(self) -> HivePlan:
        """The week of the hive that is asked about."""
        return next(hive for hive in self.answer.plan.hives if hive.id == self.lesson.hive)

    @property
    def row(self) -> int:
        """Its place in the table of facts."""
        return self.answer.inference.table.hives.index(self.lesson.hive)

    @property
    def expect(self) -> dict:
        """What the author expects of the answer to what is known by now; empty while only part of it has been found."""
        hidden = self.lesson.found.get(self.lesson.hive, {})
        hive = next(one for one in self.scenario.hives if one.id == self.lesson.hive)
        if not any(fact in hive.facts for fact in hidden):
            return hive.expect
        return self.lesson.then.get(hive.id, {}) if all(fact in hive.facts for fact in hidden) else {}

    def looks(self) -> list[str]:
        """Return the looks that can be asked for, those that disturb least first."""
        body = self.words.actions
        found = [look for look in self.ranking.looks if look not in self.ranking.not_looked_for and self._fits(look)]
        return sorted(found, key=lambda look: (LEVEL[body[look].opens], body[look].minutes, look))

    def _fits(self, look: str) -> bool:
        """Whether a look makes sense at a hive of this kind; the season is the learner's to judge."""
        name, values = self.ranking.in_season.get(look, (None, ()))
        fact = self.words.facts.get(name or "")
        if fact is None or fact.scope == "calendar":
            return True
        return self.answer.inference.table.column(fact.id).value[self.row] in [fact.encode(value) for value in values]

    def look(self, action: str) -> Looked:
        """Make a look: what it tells is known from then on."""
        self._at_first = self._at_first or (self._told(), self.expect)
        asked = (*(one.action for one in self.plan.advice), *(one.action for one in self.plan.look_first))
        wanted = {*self._at_first[0], *asked}
        body = self.words.actions[action]
        stops = None if self._is_dead and not self.plan.suspect else self.stops(action)
        cost = 0.0 if action in wanted else self.opening_cost(body.opens)
        if stops is not None:
            cost += self.numbers.forbidden_look_pts
        hidden = self.lesson.found.get(self.lesson.hive, {})
        hives = list(self.scenario.hives)
        place = next(k for k, hive in enumerate(hives) if hive.id == self.lesson.hive)
        told = {f: v for f, v in hidden.items() if f in body.observes and f not in hives[place].facts}
        # It is noted as made, with what it told, so that it is not asked for again.
        hive = hives[place]
        known = {**hive.facts, **told}
        says = {detail: known[fact] for fact, detail in self.words.effects[action].told.items() if fact in known}
        done = Entry("", Kind.DONE, "", None, self.scenario.date, action=action, details=says)
        hives[place] = dataclasses.replace(hive, facts=known, entries=[*hive.entries, done])
        self.scenario = dataclasses.replace(self.scenario, hives=hives)
        self._answer = self._safety = None
        made = Looked(action, told, body.minutes, round(cost, 2), stops)
        self.looked.append(made)
        return made

    @property
    def _is_dead(self) -> bool:
        """Whether no bee is left whom the cold of an opening could harm."""
        return self.plan.alive is False

    def opening_cost(self, opens: str) -> float:
        """Return what opening costs in this week's weather, in colonies of a hundred; a dead colony has none to lose."""
        if self._is_dead:
            return 0.0
        inference = self.answer.inference
        high = inference.table.column(WARMTH).value[self.row]
        more = [
            name
            for name, condition in self.ranking.frames_cost_more.items()
            if inference.holds(condition, self.row)[0] is Truth.TRUE
        ]
        return float(self.ranking.opening_cost(opens, None if math.isnan(high) else float(high), more))

    def stops(self, action: str) -> Phrase | None:
        """Return why an action must not be done here; None where nothing known forbids it."""
        if self._safety is None:
            inference = self.answer.inference
            filler = Filler(inference.table, inference.ruleset.limits, self.answer.date)
            self._safety = Safety(inference, Deciding(inference), filler)
        stops = self._safety.verdict(action, self.row).stops
        return stops[0][1] if stops else None

    def offered(self, seed: int = 0) -> list[str]:
        """Return a list of jobs to choose from: those of the answer, those that tempt, and others; in the order of their words.

        The same scenario and seed give the same list, whatever looks were made: what they may lead to stands on it from the first.
        What else the answer to their finds names comes after it, so that no number changes its job.
        """
        told, expect = self._at_first or (self._told(), self.expect)
        told = [*told, *(name for one in (expect, self.lesson.then.get(self.lesson.hive, {})) for name in _named(one))]
        told += [name for name, body in self.words.actions.items() if body.leaves_closed]
        draw = random.Random(f"{self.lesson.id} {seed}")
        tempting = [name for name in expect.get("excludes", ()) if name not in told]
        draw.shuffle(tempting)
        others = [name for name in self.words.actions if name not in told and name not in tempting]
        draw.shuffle(others)
        size = int(self.numbers.offered)
        listed = list(dict.fromkeys([*told, *tempting[: max(1, size // 3)], *others]))[: max(size, len(set(told)))]
        listed.sort(key=lambda name: self.words.actions[name].label)
        return list(dict.fromkeys([*listed, *self._told(), *_named(self.expect)]))

    def _told(self) -> list[str]:
        return [one.action for one in self.plan.advice][: int(self.numbers.most_jobs)]


def _named(expect: dict) -> list[str]:
    """Return the jobs that an author wants in the answer."""
    groups = [expect.get("top", ()), expect.get("includes", ()), *expect.get("includes_any", ())]
    return [name for group in groups for name in group]

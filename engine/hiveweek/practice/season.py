"""A season that is played, week by week: what the keeper knows, the looks and jobs, and what the hidden colonies make of them."""

from __future__ import annotations

import datetime as dt
import math
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from hiveweek.climate import Profile, load_profile
from hiveweek.facts.build import history_of
from hiveweek.facts.scenario import Apiary, Scenario, ScenarioHive
from hiveweek.numbers import Numbers, shipped
from hiveweek.plan import ranking as ranking_file
from hiveweek.plan.answer import Answer, answer, rules_of
from hiveweek.practice.shown import Shown
from hiveweek.practice.world import WEEK, WEEKS, World
from hiveweek.problems import InputProblems, Problem
from hiveweek.record import Entry, Kind
from hiveweek.record.details import details_of
from hiveweek.record.entries import Plain
from hiveweek.record.history import History
from hiveweek.vocabulary import normal
from hiveweek.vocabulary.model import Vocabulary

NAMES = ("Ash", "Birch", "Cedar", "Elder", "Fir", "Hazel", "Larch", "Maple", "Oak", "Rowan")
LOOK, JOB, NEXT = "look", "do", "next"


@dataclass(frozen=True)
class Order:
    """What a keeper did, in plain words: the season is played again from these.

    Attributes
    ----------
    kind : str
        look, do or next.
    said : tuple of str
        Details of a job, ``name=value``.
    """

    kind: str
    hive: str = ""
    action: str = ""
    said: tuple[str, ...] = ()


@dataclass
class Row:
    """How a hive stood at the end of a week."""

    bees: float
    mites_per_100: float
    stores_kg: float


@dataclass
class Season:
    """One season of one keeper.

    Parameters
    ----------
    climate : str
        Id of a shipped profile.
    hives, seed : int
    words : Vocabulary

    Attributes
    ----------
    week : int
        Weeks gone by.
    orders : list of Order
        All that the keeper did.
    rows : dict of str to list of Row
        By hive, the end of each week.
    minutes, openings, treatments : float and int
    honey_kg : float
        Taken.
    """

    climate: str
    hives: int
    seed: int
    words: Vocabulary
    week: int = 0
    minutes: float = 0.0
    openings: int = 0
    treatments: int = 0
    honey_kg: float = 0.0
    orders: list[Order] = field(default_factory=list)
    rows: dict[str, list[Row]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if not 1 <= self.hives <= len(NAMES):
            raise _problem("bad-number", f"a season has 1 to {len(NAMES)} hives, not {self.hives}")
        self.profile: Profile = load_profile(self.climate)
        self.numbers: Numbers = shipped()
        self.names = NAMES[: self.hives]
        self.start = _start(self.profile)
        self.world = World(self.profile, self.numbers, self.seed, self.names, self.start)
        self.normal = normal.load(self.words)
        self.yard = {
            name: value
            for name, value in self.normal.parts["yard"].items()
            if self.words.facts[name].comes_from == "site"
        }
        self.entries: dict[str, list[Entry]] = {
            name: [Entry("", Kind.SET, "", None, self.start, facts=dict(self.normal.parts["equipment"]), found=True)]
            for name in self.names
        }
        self.rows = {name: [] for name in self.names}
        self.shown = Shown(self.world, self.words, self.normal)
        self._answer: Answer | None = None
        self._history: History | None = None
        blank = Scenario("", self.climate, self.start, [])
        self._rules = rules_of(blank, self.profile, (), self.words)
        self._ranking = ranking_file.load(self.words)

    @property
    def day(self) -> dt.date:
        """The first day of the week that is being played."""
        return self.start + dt.timedelta(days=WEEK * self.week)

    @property
    def looks(self) -> frozenset[str]:
        """The actions that are looks."""
        return self._ranking.looks

    @property
    def over(self) -> bool:
        """Whether the next spring has come."""
        return self.week >= WEEKS

    # --- what the keeper knows
    def scenario(self) -> Scenario:
        """Return the keeper's question of this week: what was noted, and this week's weather."""
        days = slice(WEEK * self.week, WEEK * (self.week + 1))
        weather = self.world.weather
        facts = {
            "weather.high_c": round(float(weather.high[days].max()), 1),
            "weather.low_c": round(float(weather.low[days].min()), 1),
            "weather.open_high_c": round(float(weather.high[days].max()), 1),
        }
        return self._asked(facts)

    def _asked(self, facts: Mapping[str, Plain]) -> Scenario:
        hives = [ScenarioHive(name, dict(facts), entries=list(self.entries[name])) for name in self.names]
        return Scenario("", self.climate, self.day, hives, Apiary("", dict(self.yard)))

    @property
    def answer(self) -> Answer:
        """The week's answer to what the keeper knows."""
        if self._answer is None:
            self._answer = answer(
                self.scenario(),
                offline=True,
                second_channel=False,
                words=self.words,
                ruleset=self._rules,
                ranking=self._ranking,
                since=False,
            )
        return self._answer

    # --- what the keeper does
    def look(self, hive: str, action: str) -> dict[str, Plain]:
        """Make a look; return what was found and note it."""
        body = self.words.actions[action]
        self._spend(action)
        draw = np.random.default_rng([self.seed, 2, self.week, self.names.index(hive), zlib.crc32(action.encode())])
        found = self.shown.facts(hive, body.observes, self.day, self._known(hive), draw)
        if found:
            self._note(hive, Entry("", Kind.SEEN, "", None, self.day, facts=found))
        self.orders.append(Order(LOOK, hive, action))
        return found

    def do(self, hive: str, action: str, said: Mapping[str, str]) -> None:
        """Do a job.

        Raises
        ------
        InputProblems
            Where something has to be said with it, or its details are none of it; nothing is done.
        """
        details = details_of(self.words, action, said.items(), self.known_hive)
        if action in self.looks and not details:
            raise _problem("is-a-look", f"{action} is a look: look {hive} {action}")
        self._spend(action)
        self.treatments += bool(self.words.effects[action].treats)
        self._note(hive, Entry("", Kind.DONE, "", None, self.day, action=action, details=details))
        self.honey_kg += self.shown.act(hive, action, details, self.day)
        self.orders.append(Order(JOB, hive, action, tuple(f"{key}={value}" for key, value in said.items())))

    def pass_week(self) -> None:
        """Let a week go by."""
        standing = {name: self.shown.standing(self._known(name)) for name in self.names}
        self.world.pass_week(self.week, standing)
        for name in self.names:
            colony = self.world.colonies[name]
            self.rows[name].append(Row(colony.bees, colony.per_100, colony.stores_kg + colony.honey_kg))
        self.week += 1
        self._answer = self._history = None
        self.orders.append(Order(NEXT))

    def follow(self) -> None:
        """Do what this week's answer says: first its looks, then the jobs of the answer to what they found."""
        for hive in self.answer.plan.hives:
            named = [*(one.action for one in hive.advice), *(one.action for one in hive.look_first)]
            for action in dict.fromkeys(named):
                if action in self.looks and hive.alive is not False:
                    self.look(hive.id, action)
        for hive in self.answer.plan.hives:
            for advice in hive.advice:
                if advice.action not in self.looks:
                    told = self.shown.details(advice)
                    if told is not None:
                        self.do(hive.id, advice.action, told)

    def known_hive(self, name: str) -> str:
        """Return the name of a hive that is there."""
        if name not in self.names:
            raise _problem("unknown-hive", f"no hive '{name}'; there are {', '.join(self.names)}")
        return name

    def _spend(self, action: str) -> None:
        body = self.words.actions[action]
        self.minutes += body.minutes
        self.openings += body.opens != "nothing"

    def _note(self, hive: str, entry: Entry) -> None:
        self.entries[hive].append(entry)
        self._answer = self._history = None

    def _known(self, hive: str) -> dict[str, Plain]:
        """Return what stands at a hive, by the keeper's own notes: as set, and as jobs left it."""
        if self._history is None:
            self._history = history_of(self._asked({}), self.day, self.words, self.numbers)
        row, known = self.names.index(hive), {}
        for name in self._history.facts():
            value = float(self._history.latest(name)[0][row])
            if not math.isnan(value):
                known[name] = self.words.facts[name].decode(value)
        return known


def played(climate: str, hives: int, seed: int, words: Vocabulary, keeper: Callable[[Season], None]) -> Season:
    """Return a whole season in which a keeper acts each week."""
    season = Season(climate, hives, seed, words)
    while not season.over:
        keeper(season)
        season.pass_week()
    return season


def again(climate: str, hives: int, seed: int, words: Vocabulary, orders: list[Order]) -> Season:
    """Return a season as it stands after some orders."""
    season = Season(climate, hives, seed, words)
    for order in orders:
        if order.kind == LOOK:
            season.look(order.hive, order.action)
        elif order.kind == JOB:
            season.do(order.hive, order.action, dict(one.split("=", 1) for one in order.said))
        else:
            season.pass_week()
    return season


def _start(profile: Profile) -> dt.date:
    """Return the first day: the spring build-up of the place, or the turn of the year where there is none."""
    first = dt.date(2027, 1, 1)
    return profile.calendar.event_date("spring_build_up_start", first + dt.timedelta(days=182)) or first


def _problem(code: str, message: str) -> InputProblems:
    return InputProblems([Problem("", 0, 0, code, message)])

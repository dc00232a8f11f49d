"""Years played under several keepers, and the course of the colonies."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from types import SimpleNamespace

import numpy as np

from hiveweek.climate import Profile, load_profile
from hiveweek.colony.strength import BOXES
from hiveweek.numbers import Numbers
from hiveweek.vocabulary.model import Vocabulary
from hiveweek.worth.advice import Adviser
from hiveweek.worth.jobs import COUNTS, Jobs
from hiveweek.worth.keepers import CALENDAR, NOTHING, AdvisedKeepers, CalendarKeeper
from hiveweek.worth.place import WEEK, WEEKS, Years, drawn, years
from hiveweek.worth.world import ALIVE, DRAWS, QUEEN, QUEENLESS, WEAK, Colonies

TRACKED = ("bees", "cells", "sealed", "stores", "honey", "mites", "per_100", "taken")
DANGERS = ("untreated", "unfed", "vent shut", "far too large", "queen lost")  # each beside an otherwise kept calendar


@dataclass
class Course:
    """What became of the colonies of a run.

    Attributes
    ----------
    start : date
    keepers : tuple of str
        By line.
    weeks : dict of str to ndarray, shape (weeks + 1, lines, seeds)
        Of each quantity, at the start and after each week; 0 where the colony is gone.
    alive : ndarray of bool, shape (weeks + 1, lines, seeds)
    ended : ndarray of int, shape (lines, seeds)
        Places in ``world.ENDS``: alive is a colony with a queen and bees enough.
    spent : dict of str to ndarray, shape (lines, seeds)
    """

    start: dt.date
    keepers: tuple[str, ...]
    weeks: dict[str, np.ndarray]
    alive: np.ndarray
    ended: np.ndarray
    spent: dict[str, np.ndarray]

    @property
    def survived(self) -> np.ndarray:
        """Which live at the end, with a queen and bees enough, shape (lines, seeds)."""
        return self.ended == ALIVE

    def line(self, keeper: str) -> int:
        """Return the line of a keeper."""
        return self.keepers.index(keeper)

    def week_of(self, month: int, day: int = 1) -> int:
        """Return how many weeks from the start a day of the year lies, the next such day."""
        wanted = dt.date(self.start.year, month, day)
        ahead = (wanted - self.start).days % 365
        return round(ahead / WEEK)


@dataclass
class Play:
    """One place, played.

    Parameters
    ----------
    climate : str
    numbers : Numbers
    words : Vocabulary or None
        Needed by those who follow the advice.
    data : dict
        As `keepers.calendars` reads it.
    seeds, seed, weeks : int
    held : dict of str to float
        Numbers of the world that have one value everywhere.
    """

    climate: str
    numbers: Numbers
    words: Vocabulary | None
    data: dict
    seeds: int = 500
    seed: int = 1
    weeks: int = WEEKS
    held: dict[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.profile: Profile = load_profile(self.climate)
        self.p: SimpleNamespace = drawn(self.numbers, self.seeds, self.seed, self.held)
        self.years: Years = years(self.profile, self.p, self.numbers, self.seed, self.weeks)

    def run(
        self,
        keepers: Sequence[str],
        *,
        done: Callable[[], None] = lambda: None,
    ) -> Course:
        """Play all seeds under each of some keepers.

        Parameters
        ----------
        keepers : sequence of str
            ``nothing``, ``calendar``, the calendar with one of ``DANGERS``, then those who follow the advice, side by side.
        done : callable
            Called after each week.
        """
        world = Colonies(self.p, self.years, self.numbers, self.seed, len(keepers))
        jobs = Jobs(world)
        acting: list[CalendarKeeper | AdvisedKeepers] = []
        by_calendar = [line for line, keeper in enumerate(keepers) if keeper in (CALENDAR, *DANGERS)]
        lines = np.arange(world.rows) // world.seeds
        at = {danger: lines == (keepers.index(danger) if danger in keepers else -1) for danger in DANGERS}
        jobs.idle = {"treat": at["untreated"], "feed": at["unfed"]}
        world.hives.top_open &= ~at["vent shut"]
        world.hives.top_warm &= ~at["vent shut"]
        month_day = self.data["late_summer"]["north" if self.profile.lat >= 0 else "south"]
        late_summer = dt.date.fromisoformat(f"{self.years.start.year}-{month_day}")
        late = round((late_summer - self.years.start).days % 365 / WEEK)
        if by_calendar:
            acting.append(CalendarKeeper(self.data, self.climate, jobs, by_calendar))
        advised = [keeper for keeper in keepers if keeper not in (NOTHING, *(keepers[k] for k in by_calendar))]
        if advised and self.words is not None:
            adviser = Adviser(self.profile, self.words)
            first = keepers.index(advised[0])
            acting.append(AdvisedKeepers(self.data, adviser, jobs, first, advised))
        shape = (len(keepers), world.seeds)
        course: dict[str, list[np.ndarray]] = {name: [] for name in (*TRACKED, "alive")}
        self._track(world, course, shape)
        for week in range(self.weeks):
            if week == late:
                raised = world.tiled(world.chances[week, DRAWS.index("raised")])
                world.lose_queen(at["queen lost"] & world.laying, raised)
                world.hives.boxes = np.where(at["far too large"], BOXES["triple"], world.hives.boxes)
            for keeper in acting:
                keeper.week(self.years.start + dt.timedelta(days=WEEK * week))
            world.pass_week()
            self._track(world, course, shape)
            done()
        ended = np.where(world.alive & (world.bees < world.p.bees.useful), WEAK, world.ended)
        ended = np.where(world.alive & (world.lays_from >= QUEENLESS), QUEEN, ended)
        return Course(
            self.years.start,
            tuple(keepers),
            {name: np.array(course[name]) for name in TRACKED},
            np.array(course["alive"]),
            ended.reshape(shape),
            {name: jobs.spent[name].reshape(shape) for name in COUNTS},
        )

    @staticmethod
    def _track(world: Colonies, course: dict[str, list[np.ndarray]], shape: tuple[int, int]) -> None:
        for name in course:
            course[name].append(np.array(getattr(world, name)).reshape(shape))

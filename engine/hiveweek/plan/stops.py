"""The shapes of a keeper's round: jobs, stops, things to take, what an apiary asks for, visits and days."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, field

from hiveweek.numbers import shipped
from hiveweek.plan.ways import Roads, Site


@dataclass(frozen=True)
class Task:
    """One job at one hive.

    Attributes
    ----------
    action : str
    minutes : float
        For this job alone.
    opens : str
        nothing, lid or frames.
    by : date or None
        Its deadline, also where that has gone by.
    points : float
    rank : int
        Its place in the list of its hive, which is the order of doing.
    yard : bool
        Done once for the whole yard.
    amount : (float, str) or None
        How much it takes, and the unit (kg, L, frames).
    sugar_kg : float
        Sugar in that amount.
    """

    action: str
    minutes: float
    opens: str
    by: dt.date | None
    points: float
    rank: int = 0
    yard: bool = False
    amount: tuple[float, str] | None = None
    sugar_kg: float = 0.0


@dataclass(frozen=True)
class Stop:
    """What is done at a hive in one go.

    Attributes
    ----------
    tasks : tuple of Task
        In the order of doing; those that open the hive share one opening.
    minutes : float
        For all of them.
    fit : bool
        It needs a day fit for opening.
    clean : bool
        Tools and gloves are cleaned after it: a suspicion stands, or the colony is dead.
    place : int
        Its place on the walk.
    """

    hive: str
    tasks: tuple[Task, ...]
    minutes: float
    fit: bool
    clean: bool
    place: int

    @property
    def by(self) -> dt.date | None:
        """The first deadline."""
        return min((task.by for task in self.tasks if task.by is not None), default=None)

    @property
    def points(self) -> float:
        """What its weightiest task is worth."""
        return max(task.points for task in self.tasks)

    @property
    def opens(self) -> bool:
        """Whether the hive is opened."""
        return any(task.opens != "nothing" for task in self.tasks)


@dataclass(frozen=True)
class Item:
    """A thing to take: once for all, for a number of hives, or by amounts.

    Attributes
    ----------
    hives : int
        How many hives need one each; 0 where one is enough for all.
    amounts : tuple of float
        What each takes, where it is measured; shorter than ``hives`` where an amount is not known.
    """

    item: str
    hives: int = 0
    amounts: tuple[float, ...] = ()
    unit: str = ""


@dataclass(frozen=True)
class Work:
    """What the plan of one apiary asks of its keeper this week.

    Attributes
    ----------
    stops : tuple of Stop
        Outdoors, in the order of the walk.
    home : tuple of (str, Task)
        Hive and job of what is done from home.
    fit_days : tuple of date or None
        The days of the week that are known to be fit for opening; None where no day is known.
    day_minutes, again_share : float
        What a person can do in a day; what a second job in the same opening takes of its time.
    kit : frozenset of str
        What is taken along at all (a smoker stays at home under a fire ban).
    site, roads : Site, Roads
        Where it stands, and how a straight line becomes a drive.
    away_minutes : float
        How long a person is away in a day, the way counted.
    """

    name: str
    date: dt.date
    stops: tuple[Stop, ...]
    home: tuple[tuple[str, Task], ...]
    fit_days: tuple[dt.date, ...] | None
    day_minutes: float
    again_share: float
    kit: frozenset[str]
    site: Site = field(default_factory=Site)
    roads: Roads = field(default_factory=lambda: Roads.of(shipped()))
    away_minutes: float = math.inf


@dataclass(frozen=True)
class Visit:
    """One apiary on one day; ``stops`` in the order of the walk, those under suspicion and the dead last.

    ``way`` has the minutes on the road to it, from the apiary before it or from home; None where they are not known.
    """

    apiary: str
    stops: tuple[Stop, ...]
    minutes: int
    kit: tuple[Item, ...]
    way: int | None = None


@dataclass(frozen=True)
class Day:
    """One day of a round.

    Attributes
    ----------
    fit : bool or None
        Whether it is fit for opening; None where that is not known.
    by : date or None
        The day by which it has to be, where it opens hives and no fit day is known.
    now : bool
        Something is due on it.
    back : int or None
        Minutes from the last apiary home, where they are known.
    """

    date: dt.date
    visits: tuple[Visit, ...]
    fit: bool | None
    by: dt.date | None
    now: bool
    back: int | None = None

    @property
    def minutes(self) -> int:
        """For all of its visits, without the way."""
        return sum(visit.minutes for visit in self.visits)

    @property
    def way(self) -> int:
        """Minutes on the road, as far as they are known."""
        return sum(visit.way or 0 for visit in self.visits) + (self.back or 0)


@dataclass(frozen=True)
class Round:
    """The days of a week's work.

    Attributes
    ----------
    home : tuple of (str, str, Task)
        Apiary, hive and job of what is done from home.
    left : tuple of (str, Stop)
        Apiary and stop of what no day of the week is fit and has room for.
    totals : tuple of (str, float, str)
        Action, amount and unit of all that is fed.
    sugar_kg : float
        Sugar in all of it.
    """

    days: tuple[Day, ...] = ()
    home: tuple[tuple[str, str, Task], ...] = ()
    left: tuple[tuple[str, Stop], ...] = ()
    totals: tuple[tuple[str, float, str], ...] = ()
    sugar_kg: float = 0.0

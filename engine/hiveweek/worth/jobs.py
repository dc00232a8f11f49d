"""What jobs do to hidden colonies, many at once, and what they cost."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from hiveweek.worth.place import WEEK
from hiveweek.worth.world import DRAWS, QUEEN, QUEENLESS, Colonies

NOWHERE = np.bool_(False)
COUNTS = ("minutes", "openings", "treatments")


@dataclass
class Jobs:
    """Acts on the colonies of a world; each takes the rows that it concerns as an array of bool.

    Attributes
    ----------
    world : Colonies
    spent : dict of str to ndarray
        Minutes, openings and treatments by row.
    idle : dict of str to ndarray of bool
        Acts that do nothing at some rows, as a planted danger leaves them: ``feed``, ``treat``.
    """

    world: Colonies
    spent: dict[str, np.ndarray] = field(default_factory=dict)
    idle: dict[str, np.ndarray] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.spent = {name: np.zeros(self.world.rows) for name in COUNTS}

    def spend(self, where: np.ndarray, minutes: float, opens: str) -> None:
        """Count the time of a job or look; frames lifted in the cold cost bees."""
        world = self.world
        self.spent["minutes"] += minutes * where
        self.spent["openings"] += (opens != "nothing") * where
        if opens == "frames":
            week = world.day // WEEK
            high = world.tiled(world.years.week_weather(week)["weather.high_c"])
            lost = 1 - world.p.hazards.opened_cold * (where & (high < world.p.hazards.opened_cold_c))
            world.summer, world.winter = world.summer * lost, world.winter * lost
            world.brood *= lost

    def feed(self, where: np.ndarray, sugar_kg: np.ndarray | float) -> None:
        """Give food, sugar in kg."""
        world = self.world
        given = where & world.alive & ~self.idle.get("feed", NOWHERE)
        fed = world.stores + np.where(given, np.nan_to_num(sugar_kg) * world.p.food.sugar_kg, 0)
        holds = np.maximum(world.hives.frames * world.p.food.frame_kg, world.stores)
        world.stores = np.minimum(fed, holds)

    def treat(self, where: np.ndarray, active: str, one_day: bool) -> None:
        """Give a treatment."""
        world, p = self.world, self.world.p.mites
        where = where & world.alive & ~self.idle.get("treat", NOWHERE)
        name = f"left_{active}"
        left = getattr(p, name, p.left_other)
        if one_day:
            left = np.where(world.sealed < p.broodless, p.left_oxalic_broodless, p.left_oxalic)
        days = np.ones(world.rows) if one_day else np.round(p.course)
        world.course_left = np.where(where, left ** (1 / days), world.course_left)
        world.course_days = np.where(where, days, world.course_days)
        self.spent["treatments"] += where

    def super_on(self, where: np.ndarray, number: float = 1) -> None:
        """Put supers on."""
        self.world.hives.supers += number * (where & self.world.alive)

    def supers_off(self, where: np.ndarray) -> None:
        """Take the supers off, with the honey in them."""
        self.take_honey(where)
        self.world.hives.supers = np.where(where, 0, self.world.hives.supers)

    def take_honey(self, where: np.ndarray) -> None:
        """Take the honey of the supers; they stand empty afterwards."""
        world = self.world
        world.taken += np.where(where, world.honey, 0)
        world.honey = np.where(where, 0, world.honey)

    def split(self, where: np.ndarray) -> None:
        """Take a part of the bees and the brood away, with queen cells; what goes is not followed."""
        world = self.world
        where = where & world.alive
        stays = np.where(where, 1 - world.p.queens.split_share, 1)
        for name in ("summer", "winter", "mites"):
            setattr(world, name, getattr(world, name) * stays)
        world.brood *= stays
        world.stores *= np.where(where, world.p.queens.split_stores, 1)
        world.cells_since = np.where(where, np.nan, world.cells_since)

    def take_nucleus(self, where: np.ndarray) -> None:
        """Move the old queen with a few bees out of a hive with cells; if no young queen lays after some weeks, she comes back."""
        world, queens = self.world, self.world.p.queens
        where = where & world.alive
        stays = np.where(where, 1 - queens.nucleus_share, 1)
        for name in ("summer", "winter", "mites"):
            setattr(world, name, getattr(world, name) * stays)
        world.brood *= stays
        raised = world.tiled(world.chances[world.day // WEEK, DRAWS.index("raised")])
        world.lose_queen(where, raised, sooner=WEEK)
        back = np.where(world.lays_from >= QUEENLESS, world.day + queens.nucleus_days, world.lays_from)
        world.lays_from = np.where(where, back, world.lays_from)
        world.cells_since = np.where(where, np.nan, world.cells_since)

    def give_queen(self, where: np.ndarray) -> None:
        """Give a mated queen; one that comes upon another, or upon a virgin, is lost."""
        world, queens = self.world, self.world.p.queens
        takes = (
            where
            & world.alive
            & (world.lays_from >= QUEENLESS)
            & (world.tiled(world.chances[world.day // WEEK, DRAWS.index("given")]) < queens.given_takes)
        )
        world.lays_from = np.where(takes, world.day + queens.given_days, world.lays_from)

    def join(self, where: np.ndarray) -> None:
        """Join colonies to others that are not followed: a colony less."""
        self.world.end(where, QUEEN)

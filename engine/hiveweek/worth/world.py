"""Hidden colonies of many seeds at once, day by day: bees, brood, food, mites, queens and what befalls them.

Written apart from the colony models of the advice: brood is held by its age, bees are summer or winter bees, mites shorten the lives
of those that were reared beside them. Rows are hives; all chance is drawn beforehand, so that what a keeper does changes nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from types import SimpleNamespace

import numpy as np

from hiveweek.numbers import Numbers
from hiveweek.worth.place import WEEK, Years

AGES, SEALED = 21, 9  # days from egg to bee, and the age at which the cell is closed
ALIVE, STARVED, MITES, QUEEN, DWINDLED, DISASTER, WEAK = range(7)
ENDS = ("alive", "starved", "mites", "queen", "dwindled", "disaster", "weak")
DRAWS = ("queen", "raised", "swarm", "robbers", "disaster", "given", "mouse")
QUEENLESS = 1e9  # the day from which a queen lays that nobody has


@dataclass
class Hives:
    """What stands around the colonies, arrays of shape (rows,).

    Attributes
    ----------
    frames, supers : ndarray
        Frames in the brood boxes, supers above.
    boxes : ndarray
        Brood boxes.
    narrow, guard : ndarray of bool
        Entrance narrowed; something keeps mice out.
    top_open, top_warm : ndarray of bool
        An opening at the top; insulation over the lid.
    """

    frames: np.ndarray
    supers: np.ndarray
    boxes: np.ndarray
    narrow: np.ndarray
    guard: np.ndarray
    top_open: np.ndarray
    top_warm: np.ndarray

    @classmethod
    def usual(cls, rows: int, frames: float) -> Hives:
        """Return so many hives of one box of so many frames, as most stand in."""
        return cls(
            np.full(rows, frames),
            np.zeros(rows),
            np.ones(rows),
            np.zeros(rows, dtype=bool),
            np.zeros(rows, dtype=bool),
            np.ones(rows, dtype=bool),
            np.ones(rows, dtype=bool),
        )


@dataclass
class Colonies:
    """The truth about every hive.

    Parameters
    ----------
    p : SimpleNamespace
        The drawn numbers (`place.drawn`), a value a seed.
    years : Years
    numbers : Numbers
    seed : int
    lines : int
        Keepers that are compared: each has every seed once, under the same chances. Row = line x seeds + seed.
    """

    p: SimpleNamespace
    years: Years
    numbers: Numbers
    seed: int
    lines: int
    day: int = 0
    hives: Hives = field(init=False)

    def __post_init__(self) -> None:
        self.seeds = len(self.p.bees.gone)
        self.rows = self.seeds * self.lines
        self.p = SimpleNamespace(
            **{
                group: SimpleNamespace(**{name: np.tile(value, self.lines) for name, value in vars(values).items()})
                for group, values in vars(self.p).items()
            }
        )
        p, n, draw = self.p, self.rows, np.random.default_rng([self.seed, 200])
        weeks = len(self.years.mean) // WEEK
        self.chances = draw.random((weeks, len(DRAWS), self.seeds))
        self.luck = self.tiled(np.exp(draw.normal(size=self.seeds) * p.food.flow_luck_sd[: self.seeds]))
        self.hard = self.tiled(np.exp(draw.normal(size=self.seeds) * p.bees.hard_winter_sd[: self.seeds]))
        self.hives = Hives.usual(n, float(self.numbers.model.heat.box_frames))
        first = self.tiled(self.years.laying[0])
        self.brood = np.zeros((AGES, n))
        self.summer = p.bees.start_bees * p.bees.start_summer_share
        self.winter = p.bees.start_bees * (1 - p.bees.start_summer_share)
        self.brood[:] = first * self._eggs(p.bees.start_bees) * p.bees.emerges
        spread = self.tiled(1 + draw.normal(size=self.seeds) * p.bees.start_spread[: self.seeds])
        spread = np.clip(spread, p.food.start_least_share, p.food.start_most_share)
        self.stores, self.honey = p.food.start_kg * spread, np.zeros(n)
        self.mites = p.bees.start_bees * p.mites.start_per_100 / 100
        self.hurt_summer, self.hurt_winter = np.zeros(n), np.zeros(n)
        self.lays_from, self.cells_since = np.full(n, -300.0), np.full(n, np.nan)
        self.swarmed_on = np.full(n, np.nan)
        self.course_left, self.course_days = np.ones(n), np.zeros(n)
        self.ended, self.ended_on = np.zeros(n, dtype=int), np.full(n, np.nan)
        self.robbed = np.zeros(n, dtype=bool)
        self.taken, self.gone_days = np.zeros(n), 0

    def tiled(self, of_seeds: np.ndarray) -> np.ndarray:
        """Return what each seed has for each row."""
        return np.tile(of_seeds, self.lines)

    # --- what can be asked
    @property
    def bees(self) -> np.ndarray:
        """Adults."""
        return self.summer + self.winter

    @property
    def cells(self) -> np.ndarray:
        """Cells with brood of any age."""
        return self.brood.sum(axis=0)

    @property
    def sealed(self) -> np.ndarray:
        """Closed cells."""
        return self.brood[SEALED:].sum(axis=0)

    @property
    def alive(self) -> np.ndarray:
        """Which are colonies still."""
        return self.ended == ALIVE

    @property
    def laying(self) -> np.ndarray:
        """Which have a laying queen."""
        return self.alive & (self.lays_from <= self.day)

    @property
    def on_bees(self) -> np.ndarray:
        """Share of the mites that sit on adults."""
        full = np.clip(self.sealed / np.maximum(self.p.mites.full_sealed * self.bees, 1), 0, 1)
        return 1 - (1 - self.p.mites.on_bees) * full

    @property
    def per_100(self) -> np.ndarray:
        """Mites on a hundred bees."""
        return 100 * self.mites * self.on_bees / np.maximum(self.bees, 1)

    @property
    def falling(self) -> np.ndarray:
        """Share of the mites that falls to the floor in a day: those that die, most of them where brood hatches, and what a course kills."""
        p = self.p.mites
        full = np.clip(self.sealed / np.maximum(p.full_sealed * self.bees, 1), 0, 1)
        died = p.rest_loss * (1 - full) + p.falls * full
        return 1 - (1 - died) * np.where(self.course_days > 0, self.course_left, 1)

    def window(self, name: str) -> np.ndarray:
        """Tell which rows are in a window of the season today."""
        return self.tiled(self.years.windows[name][min(self.day, len(self.years.mean) - 1)])

    # --- time
    def pass_week(self) -> None:
        """Let a week go by."""
        week = self.day // WEEK
        self._befall({name: self.tiled(self.chances[week, k]) for k, name in enumerate(DRAWS)})
        for _ in range(WEEK):
            self._day()
            self.day += 1

    def end(self, where: np.ndarray, how: int) -> None:
        """End some colonies that live."""
        where = where & self.alive
        self.ended[where], self.ended_on[where] = how, self.day
        for array in (self.summer, self.winter, self.mites, self.stores, self.honey):
            array[where] = 0.0
        self.brood[:, where] = 0.0

    def lose_queen(self, where: np.ndarray, chance: np.ndarray, sooner: float = 0.0) -> None:
        """Take the queens of some colonies; with young brood, drones and luck they raise another."""
        queens = self.p.queens
        raises = where & (self.brood[:6].sum(axis=0) > queens.raised_cells) & self.tiled(self.years.drones[self.day])
        raises &= chance < queens.raised
        self.lays_from = np.where(where, QUEENLESS, self.lays_from)
        self.lays_from = np.where(raises, self.day + queens.raised_days - sooner, self.lays_from)

    def _befall(self, chance: dict[str, np.ndarray]) -> None:
        """Let chance act for a week."""
        queens, hazards, bees = self.p.queens, self.p.hazards, self.bees
        self.end(chance["disaster"] < hazards.disaster_per_year * WEEK / 365, DISASTER)
        enters = chance["mouse"] < hazards.mouse_per_winter / hazards.mouse_weeks
        self.end(self.window("cold") & ~self.hives.guard & enters, DWINDLED)
        laying = self.laying
        leaves = self.alive & ~np.isnan(self.cells_since)
        stays = 1 - queens.leaves_share * leaves
        self.mites *= 1 - leaves * queens.leaves_share * self.on_bees
        self.summer, self.winter = self.summer * stays, self.winter * stays
        self.lose_queen(leaves, chance["raised"], sooner=WEEK)
        self.swarmed_on = np.where(leaves, float(self.day), self.swarmed_on)
        room = self.hives.frames * queens.frame_bees + self.hives.supers * queens.super_bees
        odds = np.where(bees > queens.crowded_share * room, queens.swarms_per_week, queens.any_swarms_per_week)
        begins = laying & ~leaves & self.window("swarming") & (bees > queens.swarm_bees) & (chance["swarm"] < odds)
        self.cells_since = np.where(begins, float(self.day), np.nan)
        self.lose_queen(laying & ~leaves & (chance["queen"] < queens.lost_per_year * WEEK / 365), chance["raised"])
        odds = hazards.robbed_per_week * np.where(self.hives.narrow, 1 - hazards.narrow_saves, 1)
        self.robbed = self.alive & self.window("dearth") & (bees < hazards.robbed_bees) & (chance["robbers"] < odds)
        self.stores = np.maximum(0, self.stores - self.robbed * hazards.robbed_kg)

    def _eggs(self, bees: np.ndarray) -> np.ndarray:
        """Eggs that are reared a day in full season."""
        return self.p.bees.laying_most * bees / (self.p.bees.nurse_bees + bees)

    def _day(self) -> None:
        p, k = self.p, self.day
        bees, alive = self.bees, self.alive
        season = self.tiled(self.years.laying[k])
        mean = self.tiled(self.years.mean[k])
        larder = self.stores + self.honey  # what stands above feeds the brood as well
        fed = larder > 0
        thrift = np.where(self.window("flow"), 1, np.clip(larder / p.food.thrift_kg, p.food.thrift_least, 1))
        share = np.where(self.laying & fed, season * thrift, 0.0)
        hurt = 1 - np.exp(-self.mites * (1 - self.on_bees) / np.maximum(self.sealed, 50))
        # brood
        born = self.brood[-1] * (1 - p.mites.kills_brood * hurt)
        comb = self.hives.frames - np.minimum(self.stores, p.food.most_frames * p.food.frame_kg) / p.food.frame_kg
        room = np.maximum(comb, 1) * p.bees.brood_room * p.bees.frame_cells - self.brood.sum(axis=0)
        laid = np.clip(share * self._eggs(bees), 0, np.maximum(room, 0))
        self.brood[1:] = self.brood[:-1]
        self.brood[0] = laid * p.bees.emerges
        # bees
        rest = np.clip(1 - season / p.bees.winter_bees_under, 0, 1)
        rest = np.maximum(rest, self.window("winter_bees") * p.bees.winter_share)
        least = 1 / p.bees.idle_lives
        toil = np.clip(least + (p.bees.idle_lives - 1) / p.bees.idle_lives * mean / p.bees.toil_c, least, 1)
        floor = p.bees.least * (1 - p.bees.least_box_share + p.bees.least_box_share * self.hives.boxes)
        cluster = (mean < p.bees.cold_c) * p.bees.too_few * np.clip(1 - bees / floor, 0, 1)
        damp = (self.window("cold") & ~self.hives.top_open & ~self.hives.top_warm) * p.hazards.damp_share
        stress = 1 + p.mites.shortens * self.hurt_winter + damp
        dying = np.minimum((self.hard * stress) / p.bees.winter_life + cluster, 1)
        fading = np.minimum(toil * (1 + p.mites.shortens * self.hurt_summer) / p.bees.summer_life + cluster, 1)
        starving = np.where(fed, 1.0, 1 - p.food.starving)
        wakes = self.winter * p.bees.winter_wakes * np.clip(season, 0, 1)
        old_summer, old_winter = self.summer.copy(), self.winter.copy()
        self.winter = (old_winter * (1 - dying) - wakes + born * rest) * starving
        self.summer = (old_summer * (1 - fading) + wakes + born * (1 - rest)) * starving
        self.winter = np.maximum(self.winter, 0)
        self.hurt_winter = _mixed(self.hurt_winter, self.winter, hurt, born * rest)
        self.hurt_summer = _mixed(self.hurt_summer, self.summer, hurt, born * (1 - rest))
        self.brood *= starving
        self._eat(mean, laid)
        self._mites()
        gone = alive & (self.bees < p.bees.gone)
        hungry = gone & ~fed
        queenless = gone & ~hungry & (self.lays_from > k) & (self.hurt_winter + self.hurt_summer < p.mites.hurt_well)
        sick = gone & (np.maximum(self.hurt_winter, self.hurt_summer) > p.mites.hurt_sick)
        for where, how in ((sick, MITES), (hungry, STARVED), (queenless, QUEEN), (gone, DWINDLED)):
            if where.any():
                self.end(where, how)

    def _eat(self, mean: np.ndarray, laid: np.ndarray) -> None:
        """Gather and eat; what the boxes do not hold is not gathered."""
        p, bees, hives = self.p, self.bees, self.hives
        flies = self.tiled(self.years.flies[self.day])
        active = self.summer / np.maximum(bees, 1) * np.clip((mean - p.food.least_c) / p.bees.toil_c, 0, 1)
        box_bees = self.numbers.model.heat.box_frames * p.queens.frame_bees
        empty = np.clip(hives.boxes - np.maximum(1, bees / box_bees), 0, None)
        cold = np.maximum(p.food.least_c - mean, 0) * p.food.cold_share
        rest = p.food.bee_mg * (1 + 0.5 * p.food.small_cluster / np.maximum(bees, p.food.small_cluster / 2))
        wide = p.food.box_share * empty * (mean < p.food.box_cold_c)
        use = bees * (rest * (1 + cold) * (1 + wide) + p.food.flier_mg * active)
        use = (use + laid * p.food.cell_mg) / 1e6
        foragers = np.maximum(bees - p.food.home_bees, 0)
        fields = foragers / 20000  # as many as flow_kg is of
        between = np.where(self.window("dearth"), p.food.dearth_share, p.food.between_share)
        laying = self.tiled(self.years.laying[self.day])
        # Before the brood rises nothing blooms.
        blooms = np.where(self.window("cold"), np.clip(laying / p.food.blooms_laying, 0, 1), 1)
        between = between * blooms * use * np.clip(foragers / p.food.between_bees, 0, 1)
        income = np.where(self.window("flow"), use + p.food.flow_kg * self.luck * fields, between) * flies
        self.stores += income - use
        season = np.minimum(laying, 1)  # the queen keeps combs for brood
        room, most = (
            hives.frames * p.food.frame_kg * (1 - (1 - share) * season)
            for share in (p.food.nest_share, p.food.full_share)
        )
        up = np.minimum(np.maximum(self.stores - room, 0), np.maximum(hives.supers * p.food.super_kg - self.honey, 0))
        self.honey += up
        self.stores = np.where(
            income > use, np.minimum(self.stores - up, np.maximum(most, self.stores - (income - use))), self.stores
        )
        down = np.minimum(self.honey, np.maximum(-self.stores, 0))
        self.honey -= down
        self.stores = np.maximum(self.stores + down, 0)

    def _mites(self) -> None:
        p, bees = self.p.mites, np.maximum(self.bees, 1)
        full = np.clip(self.sealed / np.maximum(p.growth_sealed * bees, 1), 0, 1)
        slows = np.clip(1 - 100 * self.mites / bees / p.crowded_pct, -1, 1)
        self.mites *= np.exp(p.growth * full * slows - p.rest_loss * (1 - full))
        late = (self.window("dearth") | self.window("winter_bees")) & self.tiled(self.years.flies[self.day])
        self.mites += late * p.carried_in * self.alive
        acts = self.course_days > 0
        self.mites *= np.where(acts, self.course_left, 1)
        self.course_days = np.maximum(self.course_days - 1, 0)
        self.mites = np.minimum(self.mites, bees)


def _mixed(mean: np.ndarray, number: np.ndarray, of_new: np.ndarray, new: np.ndarray) -> np.ndarray:
    """Return the mean of a group after some joined it, who are counted in it already."""
    with np.errstate(invalid="ignore", divide="ignore"):
        joined = np.where(number > 0, np.minimum(new / number, 1), 0)
    return mean + joined * (of_new - mean)

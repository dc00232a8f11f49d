"""A season that is played: hidden true colonies, the weather that comes, and what befalls them.

The colonies follow the published forms of the models, with numbers drawn inside their published bands: the adviser does not know
them. All chance is drawn beforehand, by seed, so that what a keeper does changes nothing else.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, field, replace

import numpy as np

from hiveweek.climate import Profile
from hiveweek.colony import food, heat, population
from hiveweek.colony.year import UsualYear, day_of_year, plain, usual_year
from hiveweek.numbers import Branch, Numbers

WEEK, WEEKS = 7, 52
DRAWS = ("swarm", "mating", "queen", "robbers", "disease")


@dataclass
class Colony:
    """The truth about one hive.

    Attributes
    ----------
    bees, cells : float
        Adults and cells with brood.
    stores_kg, honey_kg : float
        Food in the brood boxes, and honey in the supers.
    mites : float
        In the colony.
    lays_from : date or None
        Since when, or from when on, a queen lays; None where there is none.
    cells_since : date or None
        Queen cells with larvae since that day.
    course : tuple of (date, date, float) or None
        A treatment's first and last day, and the share of the mites that it leaves each day.
    foul : bool
        Foulbrood.
    robbed : bool
        This week.
    ended : str
        How it ended; empty while it lives.
    """

    bees: float
    cells: float
    stores_kg: float
    mites: float
    lays_from: dt.date | None
    honey_kg: float = 0.0
    cells_since: dt.date | None = None
    course: tuple[dt.date, dt.date, float] | None = None
    foul: bool = False
    robbed: bool = False
    ended: str = ""

    @property
    def per_100(self) -> float:
        """Mites on adults, per 100 bees, were all mites on adults half the time."""
        return 100 * self.mites / self.bees if self.bees > 0 else 0.0


@dataclass(frozen=True)
class Weather:
    """The days that come: mean, high and low [degC], and whether it rains; from the first day of the season."""

    mean: np.ndarray
    high: np.ndarray
    low: np.ndarray
    wet: np.ndarray


@dataclass
class World:
    """One place through a year.

    Parameters
    ----------
    profile : Profile
    numbers : Numbers
        The shipped ones; those of ``model`` are drawn anew inside their bands.
    seed : int
    names : tuple of str
        Of the hives.
    start : date
    """

    profile: Profile
    numbers: Numbers
    seed: int
    names: tuple[str, ...]
    start: dt.date
    colonies: dict[str, Colony] = field(default_factory=dict)

    def __post_init__(self) -> None:
        draw = np.random.default_rng([self.seed, 1])
        self.truth: Branch = drawn(self.numbers, draw).model
        self.played: Branch = self.numbers.branch("plan.season")
        self.usual: UsualYear = usual_year(self.profile.daily, self.profile.calendar, p=self.numbers.model)
        self.weather = weather(self.profile, self.start, draw, self.numbers)
        self.year_luck = float(draw.lognormal(0.0, self.played.flow_luck_sd))
        self.chances = draw.random((WEEKS + 1, len(self.names), len(DRAWS)))
        self.share = heat.cluster_share(self.truth)
        for _ in self.names:
            bees = self.played.start_bees * self._share(draw)
            laying = self.usual.days.laying[day_of_year(self.start)]
            brood = float(population.usual_cells(np.array(bees), laying, self.truth))
            self.colonies[self.names[len(self.colonies)]] = Colony(
                bees,
                brood,
                self.played.start_stores_kg * self._share(draw),
                bees * float(draw.exponential(self.played.start_mites_per_100)) / 100,
                self.start,
            )

    def _share(self, draw: np.random.Generator) -> float:
        """Draw what a hive begins with, as a share of the mean."""
        n = self.played
        return float(np.clip(draw.normal(1.0, n.start_spread), n.start_least_share, n.start_most_share))

    def season(self, day: dt.date) -> dict:
        """Return the usual season facts of a day."""
        return {name: plain(value) for name, value in self.profile.calendar.facts(day).items()}

    def chance(self, week: int, name: str, what: str) -> float:
        """Return the draw of a week for a hive."""
        return float(self.chances[min(week, WEEKS), self.names.index(name), DRAWS.index(what)])

    # --- time
    def pass_week(self, week: int, standing: dict[str, dict]) -> None:
        """Let a week go by.

        Parameters
        ----------
        week : int
            Its number, from 0.
        standing : dict of str to dict
            By hive: ``frames``, ``supers``, ``w_per_k``, ``narrow`` (the entrance), as the keeper has them.
        """
        for name, colony in self.colonies.items():
            if colony.ended:
                continue
            self._befall(week, name, colony, standing[name])
            for k in range(WEEK):
                self._day(week * WEEK + k, colony, standing[name])

    def _befall(self, week: int, name: str, colony: Colony, hive: dict) -> None:
        """Let chance act on a hive for a week: swarm, queen, robbers, disease."""
        day, n = self.start + dt.timedelta(days=WEEK * week), self.played
        season = self.season(day)
        laying = colony.lays_from is not None and colony.lays_from <= day
        room = hive["frames"] * self.frame_bees + hive["supers"] * n.super_bees
        if colony.cells_since is not None:
            stays = self.chance(week, name, "mating") >= n.mating_fails
            colony.bees *= 1 - n.swarm_share
            colony.cells_since = None
            colony.lays_from = day + dt.timedelta(days=n.virgin_days) if stays else None
        elif (
            season["season.swarming"]
            and laying
            and colony.bees > n.crowded_share * room
            and self.chance(week, name, "swarm") < n.swarm_crowded_per_week
        ):
            colony.cells_since = day
        if self.chance(week, name, "queen") < n.queen_lost_per_year / WEEKS:
            colony.lays_from = None
        small = colony.bees < n.robbed_bees
        odds = n.robbed_per_week * (1 - n.narrow_saves if hive["narrow"] else 1)
        colony.robbed = bool(season["season.dearth"]) and small and self.chance(week, name, "robbers") < odds
        if colony.robbed:
            colony.stores_kg = max(0.0, colony.stores_kg - n.robbed_kg)
        if self.chance(week, name, "disease") < n.foulbrood_per_year / WEEKS:
            colony.foul = True

    @property
    def frame_bees(self) -> float:
        """Bees on a deep frame covered on both sides."""
        return float(2 * self.truth.bees.comb_side_deep_dm2 * self.truth.bees.bees_per_dm2)

    def _day(self, number: int, colony: Colony, hive: dict) -> None:
        if colony.bees <= 0:
            return
        day, p, n = self.start + dt.timedelta(days=number), self.truth, self.played
        usual, i = self.usual.days, day_of_year(day)
        lays = colony.lays_from is not None and colony.lays_from <= day and colony.stores_kg > 0
        share = float(usual.laying[i]) if lays else 0.0
        share *= n.foulbrood_brood if colony.foul else 1.0
        worn = float(usual.dying[i]) * (1 + n.mite_wear_per_100 * colony.per_100)
        mean = float(self.weather.mean[number])
        if mean < n.cold_c and colony.bees < n.least_bees:
            worn += n.too_few_per_day
        bees, cells = population.step(
            np.array(colony.bees), np.array(colony.cells), np.array(share), np.array(min(worn, 1.0)), p
        )
        colony.bees, colony.cells = float(bees), float(cells)
        self._eat(number, i, colony, hive)
        self._mites(day, share, colony)
        if colony.bees < n.gone_bees:
            colony.ended = (
                "starved" if colony.stores_kg <= 0 else "mites" if colony.per_100 > n.collapse_per_100 else "dwindled"
            )
            colony.bees = colony.cells = colony.mites = 0.0

    def _eat(self, number: int, i: int, colony: Colony, hive: dict) -> None:
        """Gather and eat; what the boxes do not hold is not gathered."""
        p, n, usual = self.truth, self.played, self.usual.days
        mean = float(np.clip(self.weather.mean[number], -60, 50))
        least = heat.least_w(np.array(colony.bees), p)
        use = float(
            food.use_kg(
                np.array(colony.bees),
                np.array(colony.cells),
                np.array(mean),
                np.array(hive["w_per_k"]),
                p,
                self.share,
                least,
            )
        )
        flies = self.weather.high[number] >= self.numbers.weather.days.flight_high_c and not self.weather.wet[number]
        income = 0.0
        if flies and usual.flow[i]:
            income = use + p.food.flow_gain_kg_day * self.year_luck * colony.bees / p.food.flow_gain_bees
        elif flies:
            income = float(usual.income[i]) * use
        colony.stores_kg += income - use
        over = colony.stores_kg - hive["frames"] * n.frame_kg
        if over > 0:
            colony.stores_kg -= over
            colony.honey_kg = min(colony.honey_kg + over, hive["supers"] * n.super_kg)
        if colony.stores_kg < 0:
            taken = min(colony.honey_kg, -colony.stores_kg)
            colony.honey_kg -= taken
            colony.stores_kg += taken
        if colony.stores_kg < 0:
            colony.stores_kg = 0.0
            colony.bees *= 1 - n.starving_per_day

    def _mites(self, day: dt.date, share: float, colony: Colony) -> None:
        p, n = self.truth.mites, self.played
        grows = p.growth_per_day * min(share, 1.0) if share > 0 else -p.winter_loss_per_day
        colony.mites *= math.exp(grows)
        if self.season_carries(day):
            colony.mites += n.carried_in_per_day
        if colony.course is not None and colony.course[0] <= day <= colony.course[1]:
            colony.mites *= colony.course[2]
        # No bee carries them beyond this: the colony is near its end.
        colony.mites = min(colony.mites, colony.bees * p.level_most / 100)

    def season_carries(self, day: dt.date) -> bool:
        """Whether bees rob and drift as they do late in summer."""
        season = self.season(day)
        return bool(season["season.dearth"] or season["season.winter_bees"]) and not season["season.cold"]


def drawn(numbers: Numbers, draw: np.random.Generator) -> Numbers:
    """Return numbers whose models have other values inside their published bands, most of them near the middle."""
    rows = []
    for _, row in sorted(numbers.under("model").items()):
        if row.band is not None and not row.curve and not row.constant and isinstance(row.value, int | float):
            low, high = row.band
            if low <= row.value <= high and high > low:
                rows.append(replace(row, value=float(draw.triangular(low, row.value, high))))
    return numbers.moved(rows)


def weather(profile: Profile, start: dt.date, draw: np.random.Generator, numbers: Numbers) -> Weather:
    """Return a year's days drawn from the usual weather and its spread, each like the one before it."""
    days = WEEK * (WEEKS + 1)
    at = [day_of_year(start + dt.timedelta(days=k)) for k in range(days)]
    daily, lag = profile.daily, numbers.weather.spread.lag1
    z = np.empty(days)
    z[0] = draw.normal()
    for k in range(1, days):
        z[k] = lag * z[k - 1] + math.sqrt(1 - lag * lag) * draw.normal()
    mean = daily.tmean[at] + daily.sd[at] * z
    wet = np.where(np.isnan(daily.wet_chance[at]), numbers.branch("plan.season").wet_chance, daily.wet_chance[at])
    high = mean + (daily.tmax - daily.tmean)[at]
    low = mean - (daily.tmean - daily.tmin)[at]
    return Weather(mean, high, low, draw.random(days) < wet)

"""The years of one place: its usual seasons, and the weather of each year that is played."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from types import SimpleNamespace

import numpy as np

from hiveweek.climate import Profile
from hiveweek.colony.year import laying_through, plain
from hiveweek.numbers import Numbers

WEEK, WEEKS, YEAR = 7, 52, 365
WIDE = 5.0  # ends of a band further apart than this ratio are drawn between in logarithms
GROUPS = ("bees", "food", "mites", "queens", "hazards", "looks")
WINDOWS = ("flow", "dearth", "cold", "swarming", "winter_bees")


def drawn(numbers: Numbers, seeds: int, seed: int, held: dict[str, float] | None = None) -> SimpleNamespace:
    """Return the world's numbers by group and name, arrays of shape (seeds,).

    Parameters
    ----------
    numbers : Numbers
        Rows ``world.GROUP.NAME``; one with a band is drawn inside it, most of the draws near its value.
    seed : int
        Same seed, same draws.
    held : dict of str to float, optional
        Rows, as ``GROUP.NAME``, that have one value at every seed.
    """
    found = SimpleNamespace()
    for group in GROUPS:
        values = {}
        for place, name in enumerate(numbers.branch(f"world.{group}")):
            row = numbers[f"world.{group}.{name}"]
            # By place in the group: a row that joins at its end leaves the draws of the others alone.
            draw = np.random.default_rng([seed, GROUPS.index(group), place])
            if held and f"{group}.{name}" in held:
                values[name] = np.full(seeds, held[f"{group}.{name}"])
            elif row.band is None or row.low == row.high:
                values[name] = np.full(seeds, row.value)
            elif row.low > 0 and row.high / row.low > WIDE:
                values[name] = np.exp(draw.triangular(np.log(row.low), np.log(row.value), np.log(row.high), seeds))
            else:
                values[name] = draw.triangular(row.low, row.value, row.high, seeds)
        setattr(found, group, SimpleNamespace(**values))
    return found


@dataclass(frozen=True)
class Years:
    """The days that are played, a column a seed.

    Attributes
    ----------
    start : date
    mean, high, low : ndarray, shape (days, seeds)
        Temperature of each day, degC.
    flies : ndarray of bool
        Warm and dry enough to forage.
    laying : ndarray
        Share of full laying that the season allows.
    flow, dearth, cold, swarming, winter_bees : ndarray of bool
        Windows of this year's season.
    drones : ndarray of bool
        Warm enough for queens to mate.
    """

    start: dt.date
    mean: np.ndarray
    high: np.ndarray
    low: np.ndarray
    flies: np.ndarray
    laying: np.ndarray
    drones: np.ndarray
    windows: dict[str, np.ndarray]

    def week_weather(self, week: int) -> dict[str, np.ndarray]:
        """Return the facts of a week's weather at each seed."""
        days = slice(WEEK * week, WEEK * (week + 1))
        high, low = self.high[days].max(axis=0), self.low[days].min(axis=0)
        return {"weather.high_c": high, "weather.low_c": low, "weather.open_high_c": high}


def first_day(profile: Profile) -> dt.date:
    """Return the day on which a year begins: the spring build-up, or the turn of the year where there is none."""
    year = dt.date(2027, 1, 1)
    return profile.calendar.event_date("spring_build_up_start", year + dt.timedelta(days=182)) or year


def years(profile: Profile, p: SimpleNamespace, numbers: Numbers, seed: int, weeks: int = WEEKS) -> Years:
    """Draw a year of a place for each seed.

    The windows of the seasons are those of the place's calendar, early or late as a whole by the seed's own days, so that the
    calendar that the advice has is never quite this year's. Weather follows the place's usual spread, each day like the one before.
    """
    start, daily = first_day(profile), profile.daily
    rows = [profile.calendar.facts(dt.date(2023, 1, 1) + dt.timedelta(days=day)) for day in range(YEAR)]
    usual = [{name: plain(value) for name, value in row.items()} for row in rows]
    seeds, days = len(p.bees.shift_sd), WEEK * weeks
    draw = np.random.default_rng([seed, 100])
    shift = np.round(draw.normal(0, p.bees.shift_sd)).astype(int)
    at = (start.timetuple().tm_yday - 1 + np.arange(days)) % YEAR
    moved = (at[:, None] - shift) % YEAR
    lag = numbers.weather.spread.lag1
    z = np.empty((days, seeds))
    z[0] = draw.normal(size=seeds)
    for k in range(1, days):
        z[k] = lag * z[k - 1] + np.sqrt(1 - lag * lag) * draw.normal(size=seeds)
    mean = daily.tmean[at][:, None] + daily.sd[at][:, None] * z
    high = mean + (daily.tmax - daily.tmean)[at][:, None]
    wet = np.where(np.isnan(daily.wet_chance), numbers.branch("plan.season").wet_chance, daily.wet_chance)[at]
    dry = draw.random((days, seeds)) >= wet[:, None] * (1 - p.food.wet_flies)
    warmer = np.zeros((days, seeds))
    for k in range(days):
        warmer[k] = (mean[max(0, k - 13) : k + 1] - daily.tmean[at[max(0, k - 13) : k + 1]][:, None]).mean(axis=0)
    share = laying_through([row["season.brood"] for row in usual], p=numbers.model)
    laying = np.minimum(share, 1.0)[moved] * np.clip(1 + p.bees.warm_pace * warmer, p.bees.pace_least, p.bees.pace_most)
    windows = {name: np.array([bool(row[f"season.{name}"]) for row in usual])[moved] for name in WINDOWS}
    mating = np.convolve(np.tile(daily.tmax, 3), np.ones(15) / 15, "same")[YEAR : 2 * YEAR]
    return Years(
        start,
        mean,
        high,
        mean - (daily.tmean - daily.tmin)[at][:, None],
        (high >= p.food.fly_c) & dry,
        np.clip(laying, 0, p.bees.laying_cap),
        (mating[at][:, None] >= p.queens.drones_c) | windows["swarming"],
        windows,
    )

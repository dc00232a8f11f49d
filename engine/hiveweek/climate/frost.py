"""Dates of the last frost of spring and the first of autumn, from usual weather and its spread."""

from __future__ import annotations

import datetime as dt

import numpy as np

from hiveweek.climate import criteria as criteria_module
from hiveweek.climate.daily import DailyClimate, month_day
from hiveweek.climate.smooth import DAYS

YEARS = 1000
SEED = 20250101


def frost_dates(daily: DailyClimate, limit_c: float = 0.0, shares=(0.1, 0.5, 0.9)) -> dict[str, list[str | None]]:
    """Return when the last frost of spring and the first of autumn come.

    Treating the days as independent puts the dates 6 to 10 days too far into the summer, so a thousand years
    of daily lows are drawn with the declared day-to-day correlation (criteria ``frost_memory``); the draw is
    fixed, the same climate gives the same dates.

    Parameters
    ----------
    daily : DailyClimate
    limit_c : float
        degC; a frost is a low at or below it.
    shares : tuple of float
        Shares of the years, 0 to 1.

    Returns
    -------
    dict
        ``last_spring`` and ``first_autumn``: for each share the day ``MM-DD`` by which that share of the
        years has had it (its last frost, its first frost). None where fewer years than that have a frost.
    """
    lows = _drawn_lows(daily)
    warmest = int(np.argmax(daily.tmin))
    half = DAYS // 2
    before = lows[:, np.arange(warmest - half, warmest) % DAYS] <= limit_c
    after = lows[:, np.arange(warmest, warmest + half) % DAYS] <= limit_c
    last = np.where(
        before.any(axis=1), half - 1 - before[:, ::-1].argmax(axis=1), -1
    )  # days after warmest - half; -1 = no frost
    first = np.where(after.any(axis=1), after.argmax(axis=1), half + 1)
    return {
        "last_spring": [_day(np.quantile(last, share, method="higher"), 0, warmest - half) for share in shares],
        "first_autumn": [_day(np.quantile(first, share, method="higher"), 0, warmest, half) for share in shares],
    }


def _day(offset: float, least: int, start: int, most: int = DAYS) -> str | None:
    return month_day(start + int(offset)) if least <= offset <= most else None


def _drawn_lows(daily: DailyClimate) -> np.ndarray:
    memory = criteria_module.load()["frost_memory"]
    fresh = np.random.default_rng(SEED).standard_normal((YEARS, DAYS))
    state = np.empty_like(fresh)
    state[:, 0] = fresh[:, 0]
    share = np.sqrt(1 - memory**2)
    for day in range(1, DAYS):
        state[:, day] = memory * state[:, day - 1] + share * fresh[:, day]
    return daily.tmin + daily.sd_low * state


def frost_free_days(daily: DailyClimate, limit_c: float = 0.0) -> int | None:
    """Return the days between the middle dates of the last spring and the first autumn frost; None without frost."""
    dates = frost_dates(daily, limit_c, (0.5,))
    ends = [dates["last_spring"][0], dates["first_autumn"][0]]
    if None in ends:
        return None
    last, first = (dt.date.fromisoformat(f"2023-{day}") for day in ends)
    return (first - last).days % DAYS

"""What a keeper sees in flower, as a measure of how early or late this year's spring is."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np

from hiveweek.numbers import Branch

if TYPE_CHECKING:  # the calendar reads the signs
    from hiveweek.climate.season import SeasonCalendar

SIGNS = ("none", "first_pollen", "willow", "dandelion", "main_bloom", "bloom_over")


def shift(calendar: SeasonCalendar, sign: str | None, on: dt.date) -> int:
    """Return by how many days this year's spring runs late (positive) or early.

    Parameters
    ----------
    calendar : SeasonCalendar
        The usual year.
    sign : str or None
        One of `SIGNS`. ``none`` (nothing in flower yet) can only show that the year is late.
    on : date
        The day it was seen.

    Returns
    -------
    int
        Days between the day it was seen and the day it is usual, at most the declared limit either way; 0
        without a sign, for a climate without that event, and for a sign seen long after its season.
    """
    numbers = calendar.numbers
    most = int(numbers.signs.sign_shift_most_days)
    usual = _usual_day(calendar, sign, on, numbers)
    if usual is None:
        return 0
    late = (on - usual).days
    if abs(late) > 2 * most or (sign == "none" and late <= 0):
        return 0
    return int(np.clip(late, -most, most))


def _usual_day(calendar: SeasonCalendar, sign: str | None, on: dt.date, numbers: Branch) -> dt.date | None:
    if sign is None:
        return None
    event, days = {
        "none": ("first_pollen", 0),
        "first_pollen": ("first_pollen", 0),
        "willow": ("first_pollen", numbers.signs.sign_willow_after_days),
        "dandelion": ("swarm_season_start", -numbers.signs.sign_dandelion_before_days),
        "main_bloom": ("main_flow_start", 0),
        "bloom_over": ("main_flow_end", 0),
    }[sign]
    date = calendar.event_date(event, on)
    return None if date is None else date + dt.timedelta(days=int(days))

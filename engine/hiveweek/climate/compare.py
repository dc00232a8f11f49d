"""Two climates beside each other: traits with their difference, events with the days between them."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass

from hiveweek.climate.profiles import Profile

YEAR = 365
HALF_YEAR = 182.5


@dataclass(frozen=True)
class Row:
    """One thing of two climates.

    Attributes
    ----------
    name : str
        Fact or event id.
    first, second : object
        The two values; for events (from, to) as MM-DD or None where the climate lacks it.
    difference : float or None
        Second less first; days for events, positive where the second is later. None where one is not known or lacking.
    """

    name: str
    first: object
    second: object
    difference: float | None


def opposite(a: Profile, b: Profile) -> bool:
    """Whether two profiles lie in opposite hemispheres."""
    return (a.lat >= 0) != (b.lat >= 0)


def traits(a: Profile, b: Profile) -> list[Row]:
    """Return the climate facts of two profiles; the id is left out, and differences are None unless both are numbers."""
    rows = []
    first, second = a.traits(), b.traits()
    for name, value in first.items():
        if name == "climate.profile":
            continue
        other = second.get(name)
        numbers = all(
            isinstance(v, (int, float)) and not isinstance(v, bool) and math.isfinite(v) for v in (value, other)
        )
        rows.append(Row(name, value, other, other - value if numbers else None))
    return rows


def events(a: Profile, b: Profile) -> list[Row]:
    """Return the events of two profiles with the days from the first's to the second's.

    Middle of range to middle of range, the short way round the year. Between hemispheres half a year is taken off, so
    that like seasons are compared.
    """
    rows = []
    for name, first in a.calendar.events.items():
        second = b.calendar.events[name]
        gap = None
        if first is not None and second is not None:
            gap = middle(*second) - middle(*first) - (HALF_YEAR if opposite(a, b) else 0)
            gap = (gap + HALF_YEAR) % YEAR - HALF_YEAR
        rows.append(Row(name, first, second, gap))
    return rows


def day_of_year(month_day: str) -> int:
    """Return the day of a common year, 1 to 365, of ``MM-DD``; 29 February counts as 28."""
    month, day = (int(part) for part in month_day.split("-"))
    return dt.date(2023, month, min(day, 28) if month == 2 else day).timetuple().tm_yday


def middle(start: str, end: str) -> float:
    """Return the middle of a stretch of days as a day of the year; a stretch may run over the new year."""
    first, last = day_of_year(start), day_of_year(end)
    return first + ((last - first) % YEAR) / 2

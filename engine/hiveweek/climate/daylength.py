"""Hours between sunrise and sunset, polar day and polar night included."""

from __future__ import annotations

import datetime as dt
import math
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path

import numpy as np

from hiveweek.kept import kept, key_of

REFERENCE_YEAR = 2023  # day lengths of the same calendar day differ by under two minutes between years
_RISE = math.radians(90.833)  # zenith angle of the sun's centre at sunrise: radius of the disc and refraction


@lru_cache(maxsize=4096)
def day_length(lat: float, day: dt.date) -> float:
    """Return the hours of daylight (upper limb of the sun above a flat horizon).

    Parameters
    ----------
    lat : float
        Latitude in degrees, north positive, -90 to 90.
    day : date

    Returns
    -------
    float
        Hours, 0 in polar night, 24 in polar day. Agrees with the NREL solar position algorithm within 3
        minutes up to 65 degrees of latitude.
    """
    from astral import Observer
    from astral.julian import julianday, julianday_to_juliancentury
    from astral.sun import daylight, sun_declination

    try:
        rise, fall = daylight(Observer(lat, 0.0, 0.0), day)
    except ValueError:  # the sun does not cross the horizon on this day
        sun = sun_declination(julianday_to_juliancentury(julianday(day)))
        noon = math.radians(abs(lat - sun))
        return 24.0 if noon < _RISE else 0.0
    hours = (fall - rise).total_seconds() / 3600.0
    return hours % 24.0 if hours < 0 else min(hours, 24.0)


@lru_cache(maxsize=64)
def year_of_day_lengths(lat: float) -> np.ndarray:
    """Return the day length in hours for each of the 365 days of a common year."""
    start = dt.date(REFERENCE_YEAR, 1, 1)
    spec = find_spec("astral")
    assert spec is not None
    assert spec.origin is not None
    sun = Path(spec.origin).parent
    key = key_of(("daylength", lat), [Path(__file__), sun / "sun.py", sun / "julian.py"])
    days = np.array(
        kept("daylength", key, list[float], lambda: [day_length(lat, start + dt.timedelta(days=i)) for i in range(365)])
    )
    days.flags.writeable = False
    return days


def winter_solstice(lat: float) -> int:
    """Return the day (0 = 1 January) of the hemisphere's winter solstice: 21 December or 21 June."""
    return 354 if lat >= 0 else 171


def autumn_equinox(lat: float) -> int:
    """Return the day (0 = 1 January) of the hemisphere's autumn equinox: 22 September or 20 March."""
    return 264 if lat >= 0 else 78

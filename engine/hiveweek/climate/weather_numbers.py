"""The declared numbers of the week's weather (rulesets/vocabulary/weather_score.yaml), read once."""

from __future__ import annotations

from functools import lru_cache
from types import SimpleNamespace

from hiveweek import content
from hiveweek.problems import InputProblems
from hiveweek.shapes import marked_yaml

NAMES = (
    "warm_enough_c",
    "too_hot_c",
    "hot_cost",
    "still_kmh",
    "wind_cost",
    "wind_stop_kmh",
    "wind_stop_cost",
    "rain_cost",
    "unknown_rain_chance",
    "wet_day_mm",
    "flight_high_c",
    "flight_rain_mm",
    "flight_wind_kmh",
    "lag1",
    "low_spread",
    "year_spread",
    "wind_low_share",
    "wind_high_share",
    "rain_after_dry",
    "lapse_c_per_km",
    "station_radius_km",
    "normals_radius_km",
    "height_km_per_100m",
    "normals_years",
    "short_years",
)


def parse(document: marked_yaml.Document) -> SimpleNamespace:
    """Return the numbers of a weather_score document by name.

    Parameters
    ----------
    document : Document
        As read by ``marked_yaml.read``: ``numbers: {name: {value, unit, source, status, note}}``.

    Raises
    ------
    InputProblems
        For a missing, unknown or non-numeric number and for one without unit or source; all at once.
    """
    problems = list(document.problems)
    numbers = document.data.get("numbers") if isinstance(document.data, dict) else None
    if not isinstance(numbers, dict):
        if not problems:
            problems.append(document.problem((), "bad-shape", "expected 'numbers:' with a mapping of names"))
        raise InputProblems(problems)
    found = {}
    for name, entry in numbers.items():
        if name not in NAMES:
            problems.append(
                document.problem(("numbers", name), "unknown-name", f"no number called '{name}' is used", key=True)
            )
            continue
        value = entry.get("value") if isinstance(entry, dict) else None
        if not isinstance(value, (int, float)) or isinstance(value, bool):
            problems.append(
                document.problem(("numbers", name), "not-a-number", f"'{name}' needs 'value:' with a number")
            )
            continue
        for key in ("unit", "source", "status"):
            if not entry.get(key):
                problems.append(document.problem(("numbers", name), "no-source", f"'{name}' needs '{key}:'"))
        found[name] = float(value)
    for name in NAMES:
        if name not in numbers:
            problems.append(document.problem(("numbers",), "missing-name", f"the number '{name}' is missing"))
    if problems:
        raise InputProblems(problems)
    return SimpleNamespace(**found)


@lru_cache(maxsize=1)
def numbers() -> SimpleNamespace:
    """Return the shipped numbers as attributes; see the YAML for unit, source and note of each."""
    return parse(
        marked_yaml.read(
            content.root() / "rulesets" / "vocabulary" / "weather_score.yaml", "rulesets/vocabulary/weather_score.yaml"
        )
    )

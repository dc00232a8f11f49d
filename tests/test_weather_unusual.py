"""Days far from usual: real weeks pass, degrees Fahrenheit and the other half of the Earth are refused."""

import csv
import datetime as dt
from pathlib import Path

import numpy as np
import pytest

from hiveweek.climate import load_profile, profile_ids
from hiveweek.climate.forecast import Day
from hiveweek.climate.unusual import far_from_usual
from hiveweek.numbers import shipped
from hiveweek.problems import InputProblems

NUMBERS = shipped().weather
DAILY = Path(__file__).resolve().parents[2] / "shared" / "reference" / "climate" / "daily"


def days(profile, first, shift=0.0, told=lambda celsius: celsius):
    """Usual lows and highs of a week, moved and told in some unit."""
    usual = profile.daily.days(first, 7)
    lows, highs = usual["tmin"] + shift, usual["tmax"] + shift
    return [
        Day(first + dt.timedelta(days=i), told(float(low)), told(float(high)), line=i + 2)
        for i, (low, high) in enumerate(zip(lows, highs, strict=True))
    ]


def fahrenheit(celsius):
    return celsius * 9 / 5 + 32


@pytest.mark.parametrize("name", profile_ids())
def test_a_usual_week_passes_and_the_same_in_fahrenheit_does_not_in_the_bees_season(name):
    profile = load_profile(name)
    year = profile.daily.days(dt.date(2026, 1, 1), 365)
    for start in range(0, 365, 13):
        first = dt.date(2026, 1, 1) + dt.timedelta(days=start)
        assert far_from_usual(days(profile, first), profile, "f.csv", NUMBERS) == []
        # 1 degC is 34 degF: in the deep cold of a continent the two lie near each other, and the week is only told
        if np.mean(year["tmean"][start : start + 7]) > 8:
            with pytest.raises(InputProblems, match=r"far-from-usual.*degF"):
                far_from_usual(days(profile, first, told=fahrenheit), profile, "f.csv", NUMBERS)


def test_measured_weeks_are_never_refused():
    """Moore Park 2016-2022, daily values of the national service, against their own months' means and spread."""
    path = DAILY / "moorepark_ie_2016_2022.csv"
    if not path.is_file():
        pytest.skip(f"the daily series is not here: {path.name}")
    with path.open(encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if row["tmin_c"] and row["tmax_c"]]
    measured = [Day(dt.date.fromisoformat(row["date"]), float(row["tmin_c"]), float(row["tmax_c"])) for row in rows]
    profile = load_profile("mild_maritime")
    told = [
        bool(far_from_usual(measured[i : i + 7], profile, "f.csv", NUMBERS)) for i in range(0, len(measured) - 7, 7)
    ]
    assert len(told) > 300 and sum(told) <= 2


def test_weeks_between_are_told():
    profile = load_profile("boreal")
    first = dt.date(2026, 11, 2)
    spread = float(profile.daily.days(first, 1)["sd"][0])
    assert far_from_usual(days(profile, first, shift=3.2 * spread), profile, "f.csv", NUMBERS) == []
    assert len(far_from_usual(days(profile, first, shift=4.5 * spread), profile, "f.csv", NUMBERS)) == 1
    assert len(far_from_usual(days(profile, first, shift=-4.5 * spread), profile, "f.csv", NUMBERS)) == 1
    with pytest.raises(InputProblems, match=r"f.csv:2:1: far-from-usual.*colder"):
        far_from_usual(days(profile, first, shift=-6 * spread), profile, "f.csv", NUMBERS)


def test_the_other_half_of_the_earth_is_refused():
    with pytest.raises(InputProblems, match=r"other-hemisphere.*37.8 degrees south.*southern_maritime"):
        load_profile("boreal").at_latitude(-37.8)
    with pytest.raises(InputProblems, match=r"other-hemisphere.*half a year off"):
        load_profile("southern_maritime").at_latitude(45.0)
    for name, lat in (("boreal", 60.0), ("boreal", None), ("southern_maritime", -40.0), ("tropical_highland", -3.0)):
        assert load_profile(name).at_latitude(lat).id == name

"""Koeppen-Geiger classes against published classes and an independent program."""

from __future__ import annotations

import numpy as np
import pytest
from climaclass._types import MonthlyClimate
from climaclass.koppen import classify
from hypothesis import given, settings
from hypothesis import strategies as st

from hiveweek import content
from hiveweek.climate import load_profile, profile_ids
from hiveweek.climate.koppen import koppen_class

# Class named by a published page for the station's town:
# Cork: thecork.ie; Chicago, Perth, Brisbane, Orlando, Minneapolis, Helsinki: table of city climates (authorea 111045/324138).
PUBLISHED = {
    "mild_maritime": "Cfb",
    "humid_continental": "Dfa",
    "southern_mediterranean": "Csa",
    "southern_subtropical": "Cfa",
    "warm_winter": "Cfa",
    "minneapolis": "Dfa",
    "helsinki": "Dfb",
}
# Class worked out by hand from the normals with Peel's table 1 and the 0 degC boundary, for stations no page names.
WORKED = {
    "boreal": "Dfc",
    "tropical_highland": "BSk",
    "cool_maritime": "Cfb",
    "southern_maritime": "Cfb",
    "southern_cold_maritime": "Cfb",
    "long_snow_cover": "Dfb",
    "dry_cold_prairie": "BSk",
    "subarctic": "Dfb",
    "snowy_continental": "Dfa",
    "cool_continental": "Dfb",
    "alpine_valley": "Dfb",
    "humid_subtropical": "Cfa",
    "mediterranean": "Csa",
    "semi_arid_highland": "BSk",
    "hot_desert": "BWh",
    "cold_steppe": "BSk",
    "windy_islands": "Cfb",
    "auckland": "Cfb",
    "oxford": "Cfb",
    "braemar": "Cfb",
    "milwaukee": "Dfa",
    "lebanon_nh": "Dfb",
    "austin": "Cfa",
    "dublin": "Cfb",
    "christchurch": "Cfb",
}


def profile(name):
    if name in profile_ids():
        return load_profile(name)
    return load_profile(content.root() / "docs" / "climate-stations" / f"{name}.yaml")


@pytest.mark.parametrize(("name", "wanted"), [*PUBLISHED.items(), *WORKED.items()])
def test_class_of_known_stations(name, wanted):
    assert profile(name).koppen == wanted


def test_every_profile_is_checked():
    assert set(profile_ids()) <= set(PUBLISHED) | set(WORKED)


@pytest.mark.parametrize("name", profile_ids())
def test_same_class_as_climaclass(name):
    place = profile(name)
    theirs = classify(
        MonthlyClimate(list(place.monthly["tmean_c"]), list(place.monthly["precip_mm"]), latitude=place.lat)
    )
    assert place.koppen == theirs.code


def test_classes_that_no_profile_has():
    warm, even = [26] * 12, [100] * 12
    assert koppen_class(warm, even) == "Af"
    assert koppen_class(warm, [300] * 6 + [50] + [300] * 5) == "Am"  # driest 50 is at least 100 - 3350/25
    assert koppen_class(warm, [250] * 6 + [5] * 6) == "Aw"
    assert koppen_class([-30, -28, -20, -10, 0, 5, 8, 6, 0, -10, -20, -28], [20] * 12) == "ET"
    assert koppen_class([-30, -28, -20, -10, -5, -3, -1, -2, -5, -10, -20, -28], [20] * 12) == "EF"
    siberia = [-45, -40, -25, -8, 3, 12, 16, 12, 3, -12, -32, -43]
    assert koppen_class(siberia, [25, 22, 20, 22, 25, 35, 50, 45, 35, 32, 30, 26]) == "Dfd"
    monsoon = [2, 5, 10, 16, 21, 25, 27, 26, 21, 15, 9, 4]
    assert koppen_class(monsoon, [5, 10, 20, 50, 80, 150, 250, 220, 120, 40, 15, 5]) == "Cwa"


def test_summer_is_the_warmer_half_of_the_year_and_not_that_of_the_latitude():
    # A highland at the equator, warmest and driest about February: the table's summer is October to March there, so a dry
    # summer; by the sign of the latitude no season is dry enough.
    temp = [17.5, 18.2, 18.6, 17.9, 17.1, 16.3, 15.6, 15.8, 16.4, 17.0, 16.8, 17.0]
    rain = [25, 35, 60, 150, 130, 110, 150, 170, 80, 60, 60, 30]
    assert koppen_class(temp, rain) == "Csb"
    by_latitude = classify(MonthlyClimate(temp, rain, latitude=0.5))
    assert by_latitude.code == "Cfb"


@settings(max_examples=200, deadline=None)
@given(st.floats(-20, 25), st.floats(1, 25), st.lists(st.floats(0, 300), min_size=12, max_size=12))
def test_half_a_year_turned_is_the_same_class(mean, swing, rain):
    """A northern table rolled by six months is the same climate in the south."""
    temp = mean - swing * np.cos(2 * np.pi * np.arange(12) / 12)
    first = koppen_class(temp, rain)
    months = np.roll(temp, 6), np.roll(rain, 6)
    assert koppen_class(*months)[0] == first[0]
    assert len(first) in (2, 3)

"""Bees through the days, against counted colonies."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hiveweek import climate
from hiveweek.colony import population, year
from hiveweek.colony.edge import BadNumber
from hiveweek.numbers import shipped


def ahead_of(profile, date):
    place = climate.load_profile(profile)
    return year.around(year.usual_year(place.daily, place.calendar).days, date)


@pytest.mark.parametrize("profile", ["snowy_continental", "humid_continental"])
def test_winter_decline_of_counted_colonies(profile):
    # Avitabile 1978 (NE USA, colonies killed and counted over three winters): 20,800 bees in November, 12,000 in March.
    _, ahead = ahead_of(profile, dt.date(2026, 11, 15))
    later = population.later_bees([20_800.0], [np.nan], [120], ahead.laying, ahead.dying)
    assert later[0] == pytest.approx(12_000, rel=0.12)


def test_wintered_colonies_of_the_plains_lie_in_the_interval():
    # Harris (northern Great Plains): March mean 13,274, from 5,000 to 20,746. A November count of 20,800 carried forward.
    past, _ = ahead_of("dry_cold_prairie", dt.date(2026, 3, 15))
    bees, _ = population.carry_forward([20_800.0], [np.nan], [120], past.laying, past.dying)
    assert bees.low[0] < 13_274 < bees.high[0]
    assert bees.low[0] > 5_000 * 0.6 and bees.high[0] < 20_746 * 1.2


def test_usual_high_of_laying():
    # 1,000 to 1,440 eggs a day are the usual high (Swiss leaflet); 2,000 the most.
    assert 1_000 <= population.eggs_a_day(np.array([30_000.0]), 1.0)[0] <= 1_440
    assert population.eggs_a_day(np.array([200_000.0]), 1.0)[0] < 2_000


def test_spring_and_summer_laying_of_a_central_european_year():
    # Laying by month at 45 to 52 degrees north, from general literature: March 300-600, April 700-1,200 for growing colonies.
    place = climate.load_profile("cool_continental")
    laying = year.usual_year(place.daily, place.calendar).days.laying
    march = population.eggs_a_day(np.array([12_000.0]), laying[59:90].mean())[0]
    april = population.eggs_a_day(np.array([15_000.0]), laying[90:120].mean())[0]
    assert 150 <= march <= 600
    assert 500 <= april <= 1_200
    assert laying[345:360].max() == 0


@pytest.mark.parametrize("profile", climate.profile_ids())
def test_usual_year_is_whole(profile):
    place = climate.load_profile(profile)
    usual = year.usual_year(place.daily, place.calendar)
    days = usual.days
    for curve in (days.laying, days.income, days.flow):
        assert curve.shape == (365,) and np.isfinite(curve).all() and curve.min() >= 0 and curve.max() <= 1
    p = shipped().model
    assert p.bees.death_winter_per_day <= days.dying.min() and days.dying.max() <= p.bees.death_summer_per_day
    assert np.abs(np.diff(days.laying)).max() < 0.15  # no cliff between states


def test_longer_gap_widens_the_interval():
    shares, dying = np.full(200, 0.3), np.full(200, 0.02)
    bees, cells = population.carry_forward(
        np.full(5, 15_000.0), np.full(5, 6_000.0), np.array([0, 10, 40, 90, 150.0]), shares, dying
    )
    for part in (bees, cells):
        width = (part.high - part.low) / part.value
        assert (np.diff(width) > 0).all()


@given(st.floats(1_000, 60_000), st.floats(0, 60_000), st.integers(0, 150), st.floats(0, 1))
def test_carried_bees_stay_finite_and_ordered(bees, cells, days, share):
    curve = np.full(200, share)
    for part in population.carry_forward([bees], [cells], [float(days)], curve, population.death_rate(curve)):
        assert 0 <= part.low[0] <= part.value[0] <= part.high[0] < np.inf


def test_impossible_numbers_are_refused():
    with pytest.raises(BadNumber):
        population.carry_forward([-1.0], [0.0], [3.0], np.zeros(10), np.zeros(10))
    with pytest.raises(ValueError):
        population.carry_forward([1.0], [0.0], [30.0], np.zeros(10), np.zeros(10))


def test_unknown_bees_stay_unknown():
    bees, cells = population.carry_forward([np.nan], [np.nan], [10.0], np.zeros(20), np.zeros(20))
    assert np.isnan(bees.value[0]) and np.isnan(cells.value[0])


def test_unknown_brood_is_what_is_usual_by_the_store_that_is_given():
    row = shipped().under("model.bees")["model.bees.brood_survives"]
    p = shipped().moved([replace(row, value=0.7)]).branch("model")
    shares, dying = np.full(30, 0.6), np.full(30, 0.02)
    usual = population.usual_cells(np.array([9_000.0]), 0.6, p)
    found = population.carry_forward([9_000.0], [np.nan], [20], shares, dying, p=p)
    for one, other in zip(found, population.carry_forward([9_000.0], usual, [20], shares, dying, p=p), strict=True):
        assert one.value == pytest.approx(other.value)


def test_a_colony_at_its_usual_brood_stays_there_by_the_store_that_is_given():
    row = shipped().under("model.bees")["model.bees.laying_most"]
    p = shipped().moved([replace(row, value=0.8 * row.value)]).branch("model")
    bees = np.array([9_000.0])
    cells = population.usual_cells(bees, 0.6, p)
    assert population.step(bees, cells, 0.6, 0.0, p)[1] == pytest.approx(cells)

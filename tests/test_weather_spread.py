"""Possible weeks: evenly spread draws against published statistics of normal order values and rain chains."""

import numpy as np
import pytest

from hiveweek.climate import spread

NOTHING = np.full(7, np.nan)


def test_warmest_of_seven_independent_days():
    # expected largest of 7 standard normal values 1.35218, of 3 0.84628 (Harter 1961, Biometrika 48:151, table 1)
    weeks = spread.week_anomalies(NOTHING, 0.0)
    assert weeks.max(axis=1).mean() == pytest.approx(1.35218, abs=0.01)
    assert weeks.min(axis=1).mean() == pytest.approx(-1.35218, abs=0.01)
    assert weeks[:, :3].max(axis=1).mean() == pytest.approx(0.84628, abs=0.01)


def test_likeness_of_days_falls_off_as_the_power_of_their_distance():
    weeks = spread.week_anomalies(NOTHING, 0.6)
    likeness = np.corrcoef(weeks.T)
    apart = np.abs(np.subtract.outer(np.arange(7), np.arange(7)))
    assert np.abs(likeness - 0.6**apart).max() < 0.03
    assert np.abs(weeks.std(axis=0) - 1).max() < 0.03
    # sd of a mean of 7 such days: sqrt(sum of the correlations) / 7
    assert weeks.mean(axis=1).std() == pytest.approx(np.sqrt((0.6**apart).sum()) / 7, abs=0.01)


def test_a_known_day_holds_and_pulls_its_neighbours():
    known = NOTHING.copy()
    known[2] = 2.0
    weeks = spread.week_anomalies(known, 0.6)
    assert (weeks[:, 2] == 2.0).all()
    # conditional mean and sd of a first-order chain k days from a known one: 2 x 0.6^k, sqrt(1 - 0.6^2k)
    for day, apart in ((1, 1), (3, 1), (4, 2), (6, 4)):
        assert weeks[:, day].mean() == pytest.approx(2 * 0.6**apart, abs=0.02)
        assert weeks[:, day].std() == pytest.approx(np.sqrt(1 - 0.6 ** (2 * apart)), abs=0.02)


def test_days_before_the_week_pull_too_and_are_not_returned():
    known = np.full(10, np.nan)
    known[0] = 1.0
    weeks = spread.week_anomalies(known, 0.6, first=3)
    assert weeks.shape == (spread.WEEKS, 7)
    assert weeks[:, 0].mean() == pytest.approx(0.6**3, abs=0.02)


def test_a_week_that_is_known_stays_as_it_is():
    known = np.arange(7.0)
    assert (spread.week_anomalies(known, 0.6) == known).all()


def test_limits_of_the_draws():
    with pytest.raises(ValueError):
        spread.week_anomalies(NOTHING, 1.0)
    with pytest.raises(ValueError):
        spread.week_anomalies(np.full(9, np.nan), 0.5)


@pytest.mark.parametrize("share", [0.05, 0.3, 0.6, 0.95])
def test_rain_keeps_its_usual_share_and_its_runs(share):
    wet, _ = spread.week_rain(NOTHING, np.full(7, share), 0.75, NOTHING)
    assert np.abs(wet.mean(axis=0) - share).max() < 0.03
    before, after = wet[:, :-1].ravel(), wet[:, 1:].ravel()
    # Geng et al. 1986: P(wet|dry) = 0.75 f, P(wet|wet) = 0.25 + 0.75 f
    assert after[before == 0].mean() == pytest.approx(0.75 * share, abs=0.02)
    assert after[before == 1].mean() == pytest.approx(0.25 + 0.75 * share, abs=0.04)


def test_rain_known_and_unknown():
    known, share = NOTHING.copy(), np.full(7, 0.4)
    known[0], share[3] = 1.0, np.nan
    wet, heavy = spread.week_rain(known, share, 0.75, np.full(7, 0.5))
    assert (wet[:, 0] == 1).all() and np.isnan(heavy[:, 0]).all()
    assert wet[:, 1].mean() == pytest.approx(0.25 + 0.75 * 0.4, abs=0.02)
    assert heavy[:, 1].mean() == pytest.approx(wet[:, 1].mean() / 2, abs=0.02)
    assert np.isnan(wet[:, 3]).all() and not np.isnan(wet[:, 4]).any()


def test_the_same_draws_every_time():
    first = spread.week_anomalies(NOTHING, 0.6)
    spread._points.cache_clear()
    spread._standard_normals.cache_clear()
    assert (spread.week_anomalies(NOTHING, 0.6) == first).all()


def test_interval_keeps_counts_whole():
    assert spread.interval(np.repeat([0, 1, 2, 3], 500)) == (0.0, 3.0)
    low, high = spread.interval(np.linspace(0, 1, 1001))
    assert (low, high) == pytest.approx((0.025, 0.975), abs=0.001)

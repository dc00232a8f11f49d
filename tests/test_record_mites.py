"""Mites carried on from the last count: they grow, a course leaves a part of them, and the range widens until it says nothing."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_record_doing import done, seen
from test_record_known import DAY, YARD, record

from hiveweek import climate
from hiveweek.facts import build
from hiveweek.facts.scenario import scenario_of_record
from hiveweek.numbers import shipped

MARITIME = climate.load_profile("cool_maritime")
P = shipped().model.mites


def days(month: int, day: int) -> int:
    return (dt.date(2026, month, day) - DAY).days


def sample(month: int, day: int, found: int, bees: int = 300, number: int = 1):
    return seen(number, days(month, day), mites__sample_mites=found, mites__sample_bees=bees, mites__method="wash")


def level(kept, month: int, day: int, fact: str = "mites.per_100"):
    """Return (value, low, high, origin)."""
    table = build(scenario_of_record(kept, YARD, dt.date(2026, month, day)), profile=MARITIME).table
    column = table.column(fact)
    return column.value[0], column.low[0], column.high[0], column.origin and column.origin[0]


def test_four_in_a_hundred_of_august_untreated_are_more_in_september_and_in_november():
    """Doubling in 23 to 46 days (V7, V26, V50): 28 days after, between 1.5 and 2.4 times as many."""
    kept = record(sample(8, 10, 12))
    then, *_, origin = level(kept, 8, 10)
    assert then == 4 and origin == "computed"
    assert 1.5 * then <= level(kept, 9, 7)[0] <= 2.4 * then
    assert level(kept, 9, 8)[0] > level(kept, 9, 7)[0]
    value, low, high, origin = level(kept, 11, 15)
    assert low > 4 and value > 8 and high > value and origin == "carried forward from 2026-08-10"
    assert level(kept, 11, 15, "mites.chance_over_limit")[0] > 0.95


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 30), st.integers(100, 400), st.integers(0, 150))
def test_from_one_day_to_the_next_the_level_moves_little(found: int, bees: int, age: int):
    """Law E: by no more than a fifth of itself, or half a mite, unless it is not known at all any more."""
    kept = record(sample(8, 10, found, bees))
    one, two = (
        build(
            scenario_of_record(kept, YARD, DAY + dt.timedelta(days=days(8, 10) + age + k)), profile=MARITIME
        ).table.column("mites.per_100")
        for k in (0, 1)
    )
    for part in ("value", "low"):
        before, after = getattr(one, part)[0], getattr(two, part)[0]
        assert np.isnan(after) or abs(after - before) <= max(0.2 * before, 0.5)


def test_a_course_leaves_the_published_share():
    """Amitraz takes 80 to 99 in a hundred of susceptible mites; six weeks of growth stand against it."""
    kept = record(
        sample(8, 10, 12),
        done(2, "treat-mites", days(8, 15), active="amitraz"),
        done(3, "remove-treatment", days(9, 30)),
    )
    untreated = level(record(sample(8, 10, 12)), 11, 10)
    treated = level(kept, 11, 10)
    assert treated[0] / untreated[0] == pytest.approx(0.1, rel=0.01)
    assert treated[1] / untreated[1] == pytest.approx(0.01, rel=0.01) and treated[2] / untreated[2] == pytest.approx(
        0.2, rel=0.01
    )
    half = level(kept, 9, 5)[0] / level(record(sample(8, 10, 12)), 9, 5)[0]
    assert half == pytest.approx(0.1**0.5, rel=0.01), "after 21 of 42 days"


def test_an_oxalic_dribble_beside_brood_leaves_most_and_without_brood_little():
    """52, 41 and 39 in a hundred with brood, 99 without (V84)."""
    for month, left in ((8, 0.65), (11, 0.03)):
        kept = record(sample(month, 1, 12), done(2, "treat-oxalic-broodless", days(month, 15), form="dribble"))
        later = dt.date(2026, month, 15) + dt.timedelta(days=40)  # once the days of the count after it are over
        share = level(kept, later.month, later.day)[0] / level(record(sample(month, 1, 12)), later.month, later.day)[0]
        assert share == pytest.approx(left, rel=0.01)


def test_a_later_count_replaces_what_was_carried():
    kept = record(sample(8, 10, 12), sample(10, 10, 1, number=2))
    assert level(kept, 10, 10)[0] == pytest.approx(100 / 300, abs=1e-4)


def test_a_range_as_wide_as_knowing_nothing_is_not_known():
    kept = record(sample(4, 12, 1))
    assert level(kept, 4, 12)[0] == pytest.approx(100 / 300, abs=1e-4)
    assert np.isnan(level(kept, 9, 20)[0]) and np.isnan(level(kept, 9, 20, "mites.chance_over_limit")[0])


def test_a_tray_beside_a_course_is_no_natural_drop():
    hive = {"colony__frames_of_bees": 9, "hive__frame": "deep"}
    treated = done(1, "treat-mites", days(8, 15), active="amitraz")
    tray = seen(2, days(8, 20), mites__drop_per_day=80, **hive)
    assert np.isnan(level(record(treated, tray), 8, 20)[0])
    assert level(record(tray), 8, 20)[0] > 0
    before = seen(3, days(8, 14), mites__drop_per_day=10, **hive)
    assert level(record(before, treated, tray), 8, 20)[3] == "carried forward from 2026-08-14"

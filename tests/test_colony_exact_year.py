"""The usual year and the plan of food over it, worked a second time by hand."""

import datetime as dt
import math
from types import SimpleNamespace

import numpy as np
import psychrolib
import pytest
import reference_colony as plain
from colony_kit import assert_same

from hiveweek.colony import population, year
from hiveweek.colony.runway import Horizon

NAN = math.nan
WASH, SUGAR, GAS = 0, 1, 2
psychrolib.SetUnitSystem(psychrolib.SI)


RUNS = [("none", 60), ("little", 20), ("rising", 70), ("full", 90), ("falling", 80), ("little", 45)]
STATES = [state for state, days in RUNS for _ in range(days)]


def own(name):
    return plain.number(f"brood_share_{name}")


def test_laying_runs_straight_from_border_to_border():
    share = year.laying_through(STATES)
    borders = [own("none"), own("none"), own("rising"), own("full"), own("full"), own("little")]
    start = 0
    for i, (_, days) in enumerate(RUNS):
        left, right = borders[i], borders[(i + 1) % len(RUNS)]
        for k in range(days):
            assert share[start + k] == pytest.approx(left + (right - left) * (k + 0.5) / days)
        start += days


def test_laying_the_same_however_the_year_is_turned():
    turned = STATES[200:] + STATES[:200]
    assert year.laying_through(turned).tolist() == pytest.approx(np.roll(year.laying_through(STATES), -200).tolist())
    assert year.laying_through(["full"] * 365).tolist() == [own("full")] * 365
    # without a pause the fall ends with little and the rise begins at the level of the fall
    share = year.laying_through(["rising"] * 100 + ["falling"] * 265)
    for day in range(365):
        start, left, right, length = (
            (0, own("falling"), own("little"), 100) if day < 100 else (100, own("little"), own("falling"), 265)
        )
        assert share[day] == pytest.approx(left + (right - left) * (day - start + 0.5) / length)


def test_wear_follows_the_brood_but_not_on_the_way_down():
    laying = year.laying_through(STATES)
    worn = year.wear_through(STATES, laying)
    autumn = plain.number("death_autumn_share")
    for day, state in enumerate(STATES):
        if state == "falling":
            assert worn[day] == autumn
        elif day >= 320:  # the last stretch of little brood comes after the fall
            assert worn[day] == pytest.approx(autumn * (1 - (day - 320 + 0.5) / 45))
        else:
            assert worn[day] == min(laying[day], 1)
    turned = STATES[340:] + STATES[:340]
    assert year.wear_through(turned, np.roll(laying, -340)).tolist() == pytest.approx(np.roll(worn, -340).tolist())
    short = ["full"] * 300 + ["falling"] + ["little"] * 64
    worn = year.wear_through(short, year.laying_through(short))
    assert worn[300] == autumn and worn[301] == pytest.approx(autumn * (1 - 0.5 / 64))
    spring = population.death_rate([0, 0.5, 1])
    low, high = plain.number("death_winter_per_day"), plain.number("death_summer_per_day")
    assert_same(spring.tolist(), [low, (low + high) / 2, high])
    assert_same(
        population.brood_share([0, 1, 2, 3, 4, NAN]).tolist(), [own(s) for s in population.BROOD_STATES] + [NAN]
    )


def season(**changes):
    usual = {"flow": False, "cold": False, "dearth": False, "winter_bees": False, "brood": "full"}
    usual |= {"weeks_to_winter": 20.0, "weeks_to_forage": 0.0, "syrup_weeks_left": 9.0} | changes
    return {f"season.{name}": value for name, value in usual.items()}


def test_what_is_found_outside():
    n = plain.number
    assert year.income_share(season(flow=True, cold=True), 0) == 1
    assert year.income_share(season(cold=True, dearth=True), 20) == 0
    assert year.income_share(season(dearth=True, winter_bees=True), 20) == n("dearth_income_share")
    assert year.income_share(season(), 0) == n("season_income_share")
    assert year.income_share(season(weeks_to_forage=99.0), 0) == n("season_income_share")
    assert year.income_share(season(weeks_to_forage=60.0), 0) == 0
    assert year.income_share(season(weeks_to_forage=0.1), 0) == 0
    none, full = n("autumn_income_none_c"), n("autumn_income_full_c")
    for autumn in ({"winter_bees": True}, {"brood": "falling"}, {"brood": "little"}, {"brood": "none"}):
        for c, share in ((none - 1, 0), (none, 0), ((none + full) / 2, 0.5), (full, 1), (full + 9, 1)):
            assert year.income_share(season(**autumn), c) == pytest.approx(share * n("autumn_income_share"))
        for weeks, there in ((60.0, True), (60.1, False)):
            got = year.income_share(season(weeks_to_winter=weeks, **autumn), full)
            assert got == n("autumn_income_share" if there else "season_income_share")


class Plain:
    """A calendar and a daily climate with all that a usual year asks."""

    tmean = np.linspace(-5, 25, 365)
    rh_pct = np.full(365, 80.0)

    def facts(self, date):
        day = (date - dt.date(2023, 1, 1)).days
        brood = STATES[day]
        return season(
            flow=day in (150, 151),
            cold=(day < 40, 0, 1),
            brood=brood,
            weeks_to_forage=(10 - day / 7 if day < 70 else 0.0) if day < 300 else 99.0,
        )


def test_a_usual_year_gathers_its_days():
    place = Plain()
    usual = year.usual_year(place, place)
    assert year.usual_year(place, place) is usual
    assert usual.days.outdoor_c.tolist() == place.tmean.tolist() and len(usual.days) == 365
    assert usual.cold.tolist() == [day < 40 for day in range(365)]
    assert usual.days.flow.tolist() == [float(day in (150, 151)) for day in range(365)]
    assert usual.to_forage[[0, 1, 69, 70, 299, 300]].tolist() == [70, 69, 1, 0, 0, 0]
    expected = [
        year.income_share(
            {k: year.plain(v) for k, v in place.facts(dt.date(2023, 1, 1) + dt.timedelta(d)).items()}, place.tmean[d]
        )
        for d in range(365)
    ]
    assert usual.days.income.tolist() == expected
    laying = year.laying_through(STATES)
    assert usual.days.laying.tolist() == laying.tolist()
    assert usual.days.dying.tolist() == population.death_rate(year.wear_through(STATES, laying)).tolist()


def test_days_before_and_after_a_date():
    days = year.usual_year(Plain(), Plain()).days
    for date, first in (
        (dt.date(2024, 2, 29), 58),
        (dt.date(2023, 3, 1), 59),
        (dt.date(2026, 1, 1), 0),
        (dt.date(2028, 12, 31), 364),
    ):
        assert year.day_of_year(date) == first
        past, ahead = year.around(days, date)
        assert (len(past), len(ahead)) == (366, 400)
        assert (
            past.outdoor_c[-1] == days.outdoor_c[first - 1] and past.outdoor_c[0] == days.outdoor_c[(first - 366) % 365]
        )
        assert ahead.laying[0] == days.laying[first] and ahead.laying[399] == days.laying[(first + 399) % 365]
    past, ahead = year.around(days, dt.date(2026, 6, 1), past=3, ahead=5)
    assert (len(past), len(ahead)) == (3, 5)


def test_food_is_planned_to_the_far_side_of_winter_from_the_last_crop_on():
    """A winter 100 days long; its need begins to count eight weeks before the last crop is over, in step with the days."""
    gap = np.zeros(365)
    date = dt.date(2026, 9, 1)
    today, check, ramp = year.day_of_year(date), plain.number("candy_days"), plain.number("winter_ramp_weeks") * 7
    gap[today + 20 : today + 23] = 1.0
    usual = SimpleNamespace(to_forage=np.arange(365.0) % 200, crop_over=50.0, days=SimpleNamespace(dearth=gap))

    def horizon(forage, winter, dearth=0):
        (found,) = year.food_horizon(usual, date, *(np.array([float(x)]) for x in (forage, winter, dearth)))
        return found

    assert horizon(3, 0).forage == 21 and horizon(3.05, 20).forage == 21
    assert horizon(60, 0).forage == 330 and horizon(60.5, 0).forage == 0 and horizon(99, 99) == Horizon(0, 20, 23)
    assert horizon(9, 99, 1) == Horizon(0, 0, check) and horizon(2, 99, 1) == Horizon(0, 0, 14)
    for days, share in ((50 + ramp, 0), (50 + ramp / 2, 0.5), (51, 1 - 1 / ramp), (50, 1), (3, 1)):
        found = horizon(0, days / 7)
        assert found.winter == min(days + usual.to_forage[int(today + days) % 365], 330)
        assert found.winter_share == pytest.approx(share)
        assert found.days == pytest.approx(23 + share * (found.winter - 23))
    assert horizon(5, 0) == Horizon(35, 20, 23), "inside the winter to forage only"
    assert horizon(NAN, 20) is None and horizon(5, NAN) is None
    far = SimpleNamespace(to_forage=np.full(365, 320.0), crop_over=50.0, days=SimpleNamespace(dearth=np.zeros(365)))
    (found,) = year.food_horizon(far, date, *(np.array([x]) for x in (0.0, 3.0, 0.0)))
    assert found.winter == 330
    assert found.gap_from == found.gap_to == check, "no dearth before the next check"
    assert year.plain((3, 1, 5)) == 3 and year.plain(4) == 4


def test_a_crop_is_waited_for_to_its_end_or_as_long_as_there_is_time_for_syrup():
    store = plain.number("winter_store_weeks")

    def over(flow_ends, syrup_ends, winter=300):
        class Place(Plain):
            def facts(self, date):
                day = (date - dt.date(2023, 1, 1)).days
                return season(
                    flow=100 <= day < flow_ends,
                    weeks_to_winter=((winter - day) % 365) / 7 if winter else 99.0,
                    syrup_weeks_left=max(syrup_ends - day, 0) / 7,
                )

        one = Place()
        return year.usual_year(one, one).crop_over

    assert over(150, 280) == 150
    assert over(295, 280) == 20 + store * 7, "so long before the last day on which syrup can be given"
    assert np.isnan(over(150, 280, winter=None))

"""The season calendar against a second, plain implementation, over the profiles and made-up climates."""

import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reference_season import SPANS, Season

from hiveweek.climate import daily, load_profile, profile_ids
from hiveweek.climate.daily import month_day
from hiveweek.climate.events import EVENT_IDS
from hiveweek.climate.season import Override, SeasonCalendar

FIRST = dt.date(2025, 1, 1)
SOME = [FIRST + dt.timedelta(days=i) for i in (0, 1, 45, 58, 59, 100, 151, 200, 243, 280, 333, 364)]


def shown(span):
    return None if span is None else (month_day(span[0]), month_day(span[1]))


def assert_season(calendar, plain, dates):
    assert {name: calendar.events[name] for name in EVENT_IDS} == {name: shown(plain.shown(name)) for name in EVENT_IDS}
    assert list(calendar.events) == list(EVENT_IDS)
    for window, spans in plain.stretches.items():
        assert calendar.windows[window] == [shown((a, a + n - 1)) for a, n in spans], window
    phases = plain.phases()
    for date in dates:
        today = (date - dt.date(date.year, 1, 1)).days
        facts = calendar.facts(date)
        expected = plain.facts(today)
        for name, value in expected.items():
            assert facts[name] == pytest.approx(value) if isinstance(value, float) else facts[name] == value, (
                name,
                date,
            )
        for event in EVENT_IDS:
            assert facts[f"season.days_to_{event}"] == calendar.days_to(event, date) == plain.days_to(event, date), (
                event,
                date,
            )
        assert set(facts) == set(expected) | {f"season.days_to_{event}" for event in EVENT_IDS}
        assert calendar.phase(date) == phases[today]
    # the list of phases: each stretch of days of one phase, the one in force on 1 January first
    changes = [i for i in range(365) if phases[i] != phases[i - 1]]
    order = changes if not changes or changes[0] == 0 else [changes[-1], *changes[:-1]]
    ends = [*order[1:], *order[:1]]
    spans = [(phases[a], month_day(a), month_day(b - 1)) for a, b in zip(order, ends, strict=True)]
    assert calendar.phases == (spans or [(phases[0], "01-01", "12-31")])


@pytest.mark.parametrize("name", profile_ids())
def test_every_profile(name):
    profile = load_profile(name)
    assert_season(SeasonCalendar(profile.daily), Season(profile.daily), SOME)


@pytest.mark.parametrize("name", ["cool_continental", "southern_maritime", "warm_winter", "mediterranean", "subarctic"])
@pytest.mark.parametrize("later", [-21, 9])
def test_a_spring_that_runs_early_or_late(name, later):
    profile = load_profile(name)
    assert_season(SeasonCalendar(profile.daily).shifted(later), Season(profile.daily, later), SOME[::3])


CLIMATES = st.tuples(
    st.floats(-6, 26), st.floats(0.5, 22), st.integers(0, 11), st.floats(2, 9), st.floats(0, 150), st.floats(-1, 1)
)


def climate_of(mean, swing, month, above, rain, tilt, lat, sd=3.0):
    turn = 2 * np.pi * (np.arange(12) - month) / 12
    tmean = mean - swing * np.cos(turn)
    monthly = {"tmean_c": tmean, "tmax_c": tmean + above, "tmin_c": tmean - 5}
    monthly |= {"precip_mm": np.maximum(rain * (1 + tilt * np.cos(turn)), 0), "sd_daily_c": np.full(12, sd)}
    return daily.from_monthly(monthly, lat)


@given(CLIMATES, st.sampled_from([62.0, 48.0, 33.0, 8.0, 0.0, -20.0, -41.0]), st.floats(1, 6), st.integers(0, 364))
@settings(max_examples=80, deadline=None)
def test_made_up_climates(numbers, lat, sd, day):
    mean, swing, month, *rest = numbers
    place = climate_of(mean, swing, (0 if lat >= 0 else 6) if month > 4 else month, *rest, lat, sd)
    assert_season(SeasonCalendar(place), Season(place), [FIRST + dt.timedelta(day)])


@pytest.mark.parametrize(
    "case",
    [
        # warm winters with rains in summer, the flow in the dry spring: the second flow follows the rains
        (18, 5, 0, 6, 60, -0.9, 20.0),
        (18, 4, 0, 6, 45, -1, 10.0),
        (20, 6, 0, 6, 90, -1, 25.0),
        (20, 6, 6, 6, 70, -0.8, -25.0),
        (17, 5, 0, 6, 40, -0.6, 28.0),
        # rains late, only in autumn, or the year round
        (18, 5, 0, 6, 60, 0.9, 20.0),
        (22, 3, 0, 6, 120, 0, 5.0),
        # a cool wet summer has no gap, a dry one has, a hot one has
        (8, 9, 0, 6, 80, -0.3, 55.0),
        (8, 9, 0, 6, 20, 0, 55.0),
        (9, 14, 0, 6, 80, 0, 45.0),
        # a winter that hardly is one, and one that never ends
        (13, 3.1, 0, 5, 60, 0, 40.0),
        (13, 2.9, 0, 5, 60, 0, 40.0),
        (-6, 12, 0, 5, 40, 0, 65.0),
        (2, 3, 0, 3, 80, 0, 60.0),
    ],
)
def test_climates_at_the_turns_of_the_criteria(case):
    place = climate_of(*case)
    assert_season(SeasonCalendar(place), Season(place), SOME[::4])


def test_weeks_left_on_the_coldest_day_are_those_of_a_whole_year():
    # On the coldest day the year behind is over and the year ahead begins; the day before, next to nothing is left.
    profile = load_profile("cool_continental")
    calendar = SeasonCalendar(profile.daily)
    coldest = int(np.argmin(profile.daily.tmean))
    warm = int((profile.daily.tmax >= 15).sum())
    assert calendar.facts(FIRST + dt.timedelta(coldest))["season.weeks_above_15"] == pytest.approx(warm / 7)
    assert calendar.facts(FIRST + dt.timedelta((coldest - 1) % 365))["season.weeks_above_15"] == 0


@pytest.mark.parametrize("event", ["main_flow_start", "first_pollen", "winter_bee_rearing"])
@pytest.mark.parametrize("name", ["southern_cold_maritime", "cool_continental"])
def test_local_dates_over_the_new_year_keep_both_ends(name, event):
    place = load_profile(name).daily
    if event == "first_pollen" or name.startswith("southern"):
        calendar = SeasonCalendar(place, [Override(event, 361, 3, "kept records")])
        assert calendar.events[event] == ("12-28", "01-04")
        middle = calendar.event_date(event, dt.date(2026, 1, 1))
        assert middle == (dt.date(2025, 12, 28) if event in SPANS else dt.date(2025, 12, 31))
        assert f"{event.replace('_', ' ')}: local date, kept records" in map(str, calendar.notes)


def test_a_local_beginning_or_end_keeps_the_usual_length_of_its_pair():
    place = load_profile("cool_continental").daily
    usual = SeasonCalendar(place)
    late = SeasonCalendar(place, [Override("swarm_season_start", 240, 240, "late here")])
    assert late.events["swarm_season_start"] == (month_day(240), month_day(240))
    assert late.days_to("swarm_season_end", dt.date(2025, 8, 29)) == 63
    early = SeasonCalendar(place, [Override("main_flow_end", 20, 20, "odd")])
    assert (early.event_date("main_flow_end", FIRST) - early.event_date("main_flow_start", FIRST)).days == 49
    second = SeasonCalendar(place, [Override("second_flow_start", 200, 200, "lime")])
    assert (second.event_date("second_flow_end", dt.date(2025, 8, 1)) - dt.date(2025, 7, 20)).days == 42
    pause = SeasonCalendar(load_profile("warm_winter").daily, [Override("broodless_start", 330, 330, "caged")])
    gap = pause.event_date("broodless_end", FIRST) - pause.event_date("broodless_start", FIRST)
    assert gap.days == 60
    pause = SeasonCalendar(load_profile("warm_winter").daily, [Override("broodless_end", 20, 20, "caged")])
    assert (pause.event_date("broodless_end", FIRST) - pause.event_date("broodless_start", FIRST)).days == 60
    # an end moved within reason leaves its beginning alone, and so does what is not of the pair
    near = SeasonCalendar(place, [Override("swarm_season_end", 190, 190, "short")])
    assert near.events["swarm_season_start"] == usual.events["swarm_season_start"]
    other = SeasonCalendar(place, [Override("first_pollen", 60, 70, "hazel")])
    assert {k: v for k, v in other.events.items() if k != "first_pollen"} == {
        k: v for k, v in usual.events.items() if k != "first_pollen"
    }
    assert other.events["first_pollen"] == (month_day(60), month_day(70))


def test_a_beginning_given_after_its_end_is_refused():
    place = load_profile("cool_continental").daily
    for start, end in ((200, 190), (100, 300)):
        given_both = [Override("main_flow_start", start, start, "x"), Override("main_flow_end", end, end, "y")]
        with pytest.raises(ValueError, match="main_flow_start must come before main_flow_end, and within half a year"):
            SeasonCalendar(place, given_both)
    whole = [Override("main_flow_start", 190, 190, "x"), Override("main_flow_end", 200, 200, "y")]
    assert SeasonCalendar(place, whole).windows["flow"][0] == (month_day(190), month_day(199))


def test_a_shift_leaves_local_dates_and_autumn_alone():
    place = load_profile("cool_continental").daily
    own = SeasonCalendar(place, [Override("first_pollen", 60, 70, "hazel")])
    moved = own.shifted(10)
    assert moved.events["first_pollen"] == own.events["first_pollen"]
    for name in ("cold_start_", "stop_syrup_by", "mouse_guards_on", "broodless_start", "winter_bee_rearing"):
        assert moved.events.get(name) == own.events.get(name)
    assert moved.days_to("unwrap", FIRST) == own.days_to("unwrap", FIRST) + 10
    assert own.shifted(10) is moved and own.shifted(0).events == own.events


def test_a_local_date_is_taken_in_the_year_nearest_to_the_usual_one():
    # The coldest day is in January; a pause that ends in early January still lies before the year's spring.
    place = load_profile("cool_continental").daily
    calendar = SeasonCalendar(place, [Override("broodless_end", 2, 6, "early")])
    assert calendar.inside("broodless", dt.date(2025, 12, 30)) and not calendar.inside(
        "broodless", dt.date(2025, 1, 10)
    )
    treat = SeasonCalendar(place, [Override("late_summer_mite_treatment", 360, 20, "winter")])
    assert treat.days_to("late_summer_mite_treatment", FIRST) == 0
    assert treat.days_to("late_summer_mite_treatment", dt.date(2025, 1, 25)) == -4
    assert treat.days_to("late_summer_mite_treatment", dt.date(2025, 12, 20)) == 7


def test_event_dates_at_the_ends_of_time():
    calendar = SeasonCalendar(load_profile("cool_continental").daily)
    assert calendar.event_date("first_pollen", dt.date(1, 12, 30)).year in (1, 2)
    assert calendar.event_date("stop_syrup_by", dt.date(9999, 12, 30)).year == 9999
    assert calendar.event_date("winter_wrap_on", FIRST) is None or calendar.days_to("winter_wrap_on", FIRST) != 999


def test_notes_say_what_is_odd_here():
    def notes(name):
        return list(map(str, SeasonCalendar(load_profile(name).daily).notes))

    assert sum("Without a winter" in n or "No clustering season" in n for n in notes("warm_winter")) == 2
    assert not any("Without a winter" in n or "No clustering" in n for n in notes("cool_continental"))
    for name in profile_ids():
        second = SeasonCalendar(load_profile(name).daily).events["second_flow_start"] is not None
        assert any("second flow depends" in n for n in notes(name)) == second, name
        plain = Season(load_profile(name).daily)
        last = max(plain.day(x) for x in ("main_flow_end", "second_flow_end") if x in plain.found)
        late = plain.winter and last > plain.found["winter_bee_rearing"][0]
        assert any("last flow runs into" in n for n in notes(name)) == late, name

"""Normals of any place from stations near it: the real client against a small archive of its format."""

import datetime as dt
import math

import pytest
from weather_archive import write_daily, write_monthly

from hiveweek.climate import normals as builder
from hiveweek.climate import station, station_normals
from hiveweek.problems import InputProblems

PLACE = (51.90, -8.52)
# Cork Airport 1981-2010, monthly lows, highs and rain (Met Eireann normals as sent in CLIMAT reports)
LOWS = [3.1, 3.0, 3.8, 4.7, 7.1, 9.7, 11.6, 11.5, 9.9, 7.5, 5.1, 3.7]
HIGHS = [8.1, 8.3, 9.9, 11.8, 14.4, 16.9, 18.7, 18.5, 16.5, 13.2, 10.3, 8.5]
RAIN = [131, 98, 98, 77, 82, 81, 79, 97, 95, 138, 120, 133]


def months(years, shift=0.0, without=(), **blank):
    """Every month of the years; a steady swing of one degree between even and odd years leaves the mean as it is."""
    rows = {}
    for year in years:
        for month in range(1, 13):
            swing = shift + (0.5 if year % 2 else -0.5)
            rows[year, month] = {
                "tmin": round(LOWS[month - 1] + swing, 2),
                "tmax": round(HIGHS[month - 1] + swing, 2),
                "temp": round((LOWS[month - 1] + HIGHS[month - 1]) / 2 + swing, 2),
                "prcp": RAIN[month - 1],
            }
            for name in without:
                rows[year, month].pop(name)
    return rows


def build(tmp_path, elev=160, **more):
    return station_normals.normals(*PLACE, elev, cache_dir=tmp_path / "cache", **more)


def table(found):
    monthly, problems, _ = builder.parse_csv(found.csv, "made")
    assert problems == []
    return monthly


def test_means_of_thirty_years(archive, tmp_path):
    rows = months(range(1985, 2025))
    rows[1985, 1]["tmax"] = 40.0  # outside the thirty years: must not count
    write_monthly(archive.folder, "T0001", rows)
    found = build(tmp_path, profile_id="home")
    monthly = table(found)
    assert list(monthly["tmin_c"]) == pytest.approx(LOWS, abs=0.051)
    assert list(monthly["tmax_c"]) == pytest.approx(HIGHS, abs=0.051)
    assert list(monthly["precip_mm"]) == pytest.approx(RAIN, abs=0.051)
    assert found.about["id"] == "home" and found.about["station"] == "Alder Field"
    assert found.about["period"] == "1991-2020" and found.about["kind"] == "means of reports"
    assert "Deutscher Wetterdienst" in found.about["attribution"] and found.about["licence"] == "CC BY 4.0"
    assert found.used[0] == "Station Alder Field (T0001), 1.4 km away, 160 m."
    assert found.used[1] == "Means of 1991-2020, 30 years a month."
    # what monthly files do not tell stays absent
    assert "snow_days" not in monthly and "sd_daily_c" not in monthly
    assert any("spread of days is estimated" in line for line in found.used)


def test_temperatures_at_the_height_of_the_place(archive, tmp_path):
    write_monthly(archive.folder, "T0001", months(range(1991, 2021)))
    found = build(tmp_path, elev=460)
    # 300 m at 6.5 degC a km (ICAO standard atmosphere)
    assert table(found)["tmax_c"][6] == pytest.approx(18.7 - 1.95, abs=0.051)
    assert table(found)["precip_mm"][6] == 79
    assert found.about["elev_m"] == 460
    assert any("from 160 m to 460 m" in line for line in found.used)
    unknown = station_normals.normals(*PLACE, None, cache_dir=tmp_path / "cache")
    assert table(unknown)["tmax_c"][6] == pytest.approx(18.7, abs=0.051)
    assert any("No height was given" in line for line in unknown.used)


def test_a_few_years_do_not_pass_for_thirty(archive, tmp_path):
    write_monthly(archive.folder, "T0001", months(range(2010, 2016), shift=5))  # six years, far too warm
    write_monthly(archive.folder, "T0002", months(range(1991, 2021)))
    found = build(tmp_path, elev=60)
    assert found.about["station"] == "Brook Hill"
    assert table(found)["tmax_c"][0] == pytest.approx(8.1, abs=0.051)


def test_the_nearest_station_with_all_the_years_wins_over_a_nearer_short_one(archive, tmp_path):
    write_monthly(archive.folder, "T0001", months(range(2001, 2021), shift=2))
    write_monthly(archive.folder, "T0002", months(range(1991, 2021)))
    assert build(tmp_path).about["station"] == "Brook Hill"


def test_short_records_are_used_with_a_warning_where_there_are_no_others(archive, tmp_path):
    write_monthly(archive.folder, "T0001", months(range(2005, 2021)))
    found = build(tmp_path)
    assert "Means of 1991-2020, 16 years a month." in found.used
    assert any("rest on few years" in line for line in found.used)


def test_a_gap_is_filled_from_the_next_station_and_says_so(archive, tmp_path):
    write_monthly(archive.folder, "T0001", months(range(1991, 2021), without=("prcp",)))
    write_monthly(archive.folder, "T0002", months(range(1991, 2021), shift=9))
    found = build(tmp_path)
    monthly = table(found)
    assert list(monthly["precip_mm"]) == RAIN
    assert monthly["tmax_c"][0] == pytest.approx(8.1, abs=0.051)  # temperatures stay those of the nearest
    assert "Rain of all months from Brook Hill." in found.used


def test_a_gap_that_nobody_fills_is_an_error_that_names_it(archive, tmp_path):
    write_monthly(archive.folder, "T0001", months(range(1991, 2021), without=("prcp",)))
    with pytest.raises(InputProblems, match="rain of January"):
        build(tmp_path)


def test_missing_daily_mean_is_the_middle_of_low_and_high(archive, tmp_path):
    write_monthly(archive.folder, "T0001", months(range(1991, 2021), without=("temp",)))
    found = build(tmp_path)
    assert table(found)["tmean_c"][0] == pytest.approx(5.6, abs=0.051)
    assert any("middle of low and high" in line for line in found.used)


def test_daily_values_give_spread_rain_days_snow_and_wind(archive, tmp_path):
    write_monthly(archive.folder, "T0001", months(range(1991, 2021)))
    rows, day = {}, dt.date(2011, 1, 1)
    while day < dt.date(2021, 1, 1):
        even = day.day % 2 == 0
        rows[day] = {
            "temp": 3.0 if even else 7.0,
            "tmin": 1.0,
            "tmax": 9.0,
            "prcp": 4.0 if even else 0.2,
            "snwd": 5 if day.month == 1 and day.day <= 10 else 0,
            "wspd": 18.0,
            "rhum": 80,
        }
        day += dt.timedelta(days=1)
    write_daily(archive.folder, "T0001", rows)
    found = build(tmp_path)
    monthly = table(found)
    # half the days 3, half 7: spread 2 (sample sd of 30 such days 2.03), 15 rain days in January and in June
    assert monthly["sd_daily_c"][5] == pytest.approx(2.03, abs=0.06)
    assert monthly["precip_days"][0] == 15 and monthly["precip_days"][5] == 15
    assert monthly["snow_days"][0] == 10 and monthly["snow_days"][6] == 0
    assert monthly["wind_kmh"][3] == 18 and monthly["rh_pct"][3] == 80
    assert any("2011-2020" in line for line in found.used)


def test_the_profile_that_comes_out_has_a_calendar(archive, tmp_path):
    from hiveweek.climate import read_profile

    write_monthly(archive.folder, "T0001", months(range(1991, 2021)))
    found = build(tmp_path)
    monthly, _, warnings = builder.parse_csv(found.csv, "made")
    path = tmp_path / "made.yaml"
    path.write_text(builder.profile_yaml(monthly, found.about, warnings))
    profile = read_profile(path)
    assert profile.id == "at_51_90n_8_52w"
    assert profile.calendar.events["first_pollen"] is not None


def test_same_archive_same_text(archive, tmp_path):
    write_monthly(archive.folder, "T0001", months(range(1991, 2021)))
    first = build(tmp_path)
    again = station_normals.normals(*PLACE, 160, cache_dir=tmp_path / "other")
    assert (first.csv, first.about) == (again.csv, again.about)


def test_offline_uses_what_was_fetched_and_nothing_else(archive, tmp_path):
    with pytest.raises(InputProblems, match="offline"):
        build(tmp_path, offline=True)
    assert archive.asked == []
    write_monthly(archive.folder, "T0001", months(range(1991, 2021)))
    first = build(tmp_path)
    archive.close()
    assert build(tmp_path, offline=True).csv == first.csv


@pytest.mark.parametrize(
    ("break_it", "words"),
    [
        (lambda a: a.fail.update(monthly=503), "does not answer"),
        (lambda a: a.fail.update({"stations.db": 500}), "does not answer"),
        (lambda a: None, "has monthly means"),
        (
            lambda a: (a.folder / "monthly").mkdir() or (a.folder / "monthly" / "T0001.csv.gz").write_bytes(b"<html>"),
            "cannot be read",
        ),
    ],
)
def test_each_trouble_has_its_own_words(archive, tmp_path, break_it, words):
    if break_it(archive) is None and archive.fail:
        write_monthly(archive.folder, "T0001", months(range(1991, 2021)))
    with pytest.raises(InputProblems, match=words):
        build(tmp_path)


def test_a_slow_archive_ends_in_time(archive, tmp_path, monkeypatch):
    archive.slow["monthly"] = 20
    monkeypatch.setattr(station, "NORMALS_SECONDS", 2.0)
    with pytest.raises(InputProblems, match="too long"):
        build(tmp_path)


def test_no_station_near(archive, tmp_path):
    with pytest.raises(InputProblems, match="no weather station within 150 km"):
        station_normals.normals(0.0, -30.0, 0, cache_dir=tmp_path / "cache")


@pytest.mark.parametrize("place", [(95, 0), (math.nan, 0), (0, 200)])
def test_a_place_off_the_earth(tmp_path, place):
    with pytest.raises(InputProblems):
        station_normals.normals(*place, cache_dir=tmp_path)


@pytest.mark.parametrize("name", ["../up", "Home Hill", "1st", ""])
def test_ids_that_are_none(tmp_path, name):
    if name:
        with pytest.raises(InputProblems, match="no profile id"):
            station_normals.normals(*PLACE, profile_id=name, cache_dir=tmp_path)
    else:
        assert station_normals._default_id(-43.5, 172.0) == "at_43_50s_172_00e"

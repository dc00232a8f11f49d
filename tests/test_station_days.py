"""This week's weather from stations: the real client against a small archive of its format on the loopback."""

import datetime as dt
import gzip
import math
import os
import socket
import stat
import time

import kept_kit
import pytest
from weather_archive import write_daily

from hiveweek.climate import station
from hiveweek.problems import InputProblems

START, END = dt.date(2026, 2, 7), dt.date(2026, 2, 16)
PLACE = (51.90, -8.52, 160)


def days_of(first, count, **values):
    return {
        first + dt.timedelta(days=step): {
            key: value(step) if callable(value) else value for key, value in values.items()
        }
        for step in range(count)
    }


def near(tmp_path, place=PLACE):
    return station.days_near(*place, START, END, cache_dir=tmp_path / "cache")


def test_days_of_the_nearest_station(archive, tmp_path):
    write_daily(
        archive.folder, "T0001", days_of(START, 10, tmin=lambda s: 2.0 + s, tmax=lambda s: 8.0 + s, prcp=0.4, wspd=12.0)
    )
    found = near(tmp_path)
    assert found.status == "ok"
    assert found.station["name"] == "Alder Field"
    assert [day.date for day in found.days] == [START + dt.timedelta(days=step) for step in range(10)]
    assert found.days[3].tmin == 5.0 and found.days[3].tmax == 11.0
    assert found.days[3].precip == 0.4 and found.days[3].wind == 12.0
    assert {day.source for day in found.days} == {"observed"}
    # the licence of the weather service whose values these are must reach the user
    assert found.attribution == "Meteostat, Deutscher Wetterdienst (CC BY 4.0)"


def test_expected_days_are_told_from_measured_ones(archive, tmp_path):
    rows = days_of(START, 5, tmin=1.0, tmax=9.0)
    rows |= {
        date: {**values, "source": "dwd_mosmix"}
        for date, values in days_of(START + dt.timedelta(days=5), 5, tmin=2.0, tmax=10.0).items()
    }
    write_daily(archive.folder, "T0001", rows)
    assert [day.source for day in near(tmp_path).days] == ["observed"] * 5 + ["forecast"] * 5


def test_temperatures_are_brought_to_the_height_of_the_apiary(archive, tmp_path):
    write_daily(archive.folder, "T0001", days_of(START, 10, tmin=2.0, tmax=8.0))
    high = near(tmp_path, (51.90, -8.52, 360))
    # 200 m at 6.5 degC a km (ICAO standard atmosphere) = 1.3 degC
    assert high.days[0].tmax == pytest.approx(6.7)
    assert high.days[0].tmin == pytest.approx(0.7)
    unknown = near(tmp_path, (51.90, -8.52, None))
    assert unknown.days[0].tmax == 8.0


def test_a_cell_that_is_missing_stays_unknown(archive, tmp_path):
    write_daily(archive.folder, "T0001", days_of(START, 4, tmin=2.0, tmax=8.0))
    found = near(tmp_path)
    assert len(found.days) == 4
    assert all(math.isnan(day.precip) and math.isnan(day.wind) for day in found.days)


def test_a_station_without_a_file_gives_way_to_the_next(archive, tmp_path):
    write_daily(archive.folder, "T0002", days_of(START, 10, tmin=3.0, tmax=9.0))
    found = near(tmp_path)
    assert found.status == "ok" and found.station["id"] == "T0002"


def test_no_file_anywhere_is_no_data_and_not_an_outage(archive, tmp_path):
    found = near(tmp_path)
    assert found.status == "no-data" and found.days == []
    assert "tell nothing of these days" in str(found.notes[0])


def test_no_station_near_enough(archive, tmp_path):
    assert near(tmp_path, (10.0, 100.0, 5)).status == "no-station"


@pytest.mark.parametrize("word", ["daily", "stations.db"])
def test_a_server_in_trouble_is_an_outage_and_not_missing_data(archive, tmp_path, word):
    write_daily(archive.folder, "T0001", days_of(START, 10, tmin=2.0, tmax=8.0))
    archive.fail[word] = 503
    found = near(tmp_path)
    assert found.status == "outage"
    assert "does not answer" in str(found.notes[0])


def test_an_outage_is_never_kept_as_an_answer(archive, tmp_path):
    write_daily(archive.folder, "T0001", days_of(START, 10, tmin=2.0, tmax=8.0))
    archive.fail["daily"] = 503
    assert near(tmp_path).status == "outage"
    archive.fail.clear()
    assert near(tmp_path).status == "ok"


@pytest.mark.parametrize(
    "content",
    [
        b"<html>busy</html>",
        gzip.compress(b"\x00\x01 nonsense", mtime=0),
        gzip.compress(b"year,month\n1,2\n", mtime=0),
        gzip.compress(b"year,month,day,temp,temp_source\n" * 3, mtime=0)[:30],
    ],
    ids=["page", "noise", "other columns", "cut off"],
)
def test_garbage_in_a_file_is_unreadable_and_never_a_number(archive, tmp_path, content):
    path = archive.folder / "daily" / "2026" / "T0001.csv.gz"
    path.parent.mkdir(parents=True)
    path.write_bytes(content)
    found = near(tmp_path)
    assert found.status == "unreadable" and found.days == []


def test_a_garbage_list_of_stations_does_not_stay(archive, tmp_path):
    good = (archive.folder / "stations.db").read_bytes()
    (archive.folder / "stations.db").write_bytes(b"<html>busy</html>")
    assert near(tmp_path).status == "unreadable"
    assert not list((tmp_path / "cache").glob("stations*"))
    (archive.folder / "stations.db").write_bytes(good)
    write_daily(archive.folder, "T0001", days_of(START, 10, tmin=2.0, tmax=8.0))
    assert near(tmp_path).status == "ok"


def test_values_that_cannot_be_are_left_out(archive, tmp_path):
    rows = days_of(START, 3, tmin=2.0, tmax=8.0)
    rows[START] = {"tmin": 12.0, "tmax": 8.0, "prcp": 1.0}
    write_daily(archive.folder, "T0001", rows)
    found = near(tmp_path)
    assert math.isnan(found.days[0].tmin) and math.isnan(found.days[0].tmax) and found.days[0].precip == 1.0
    assert any("left out" in str(note) for note in found.notes)


def test_a_second_question_is_answered_from_the_cache(archive, tmp_path):
    write_daily(archive.folder, "T0001", days_of(START, 10, tmin=2.0, tmax=8.0))
    first = near(tmp_path)
    asked = len(archive.asked)
    assert near(tmp_path).days == first.days
    assert len(archive.asked) == asked
    # the client's own cache is pickled: none may ever be written or read
    assert not list(tmp_path.rglob("*.pickle"))


def test_an_old_answer_stands_in_when_the_archive_is_gone(archive, tmp_path, monkeypatch):
    write_daily(archive.folder, "T0001", days_of(START, 10, tmin=2.0, tmax=8.0))
    monkeypatch.setattr(station, "_long_past", lambda request: False)
    first = near(tmp_path)
    kept = next((tmp_path / "cache").glob("days-*.json"))
    archive.close()
    old = time.time() - 20 * 3600
    os.utime(kept, (old, old))
    again = near(tmp_path)
    assert again.days == first.days
    assert any("20 hours ago" in str(note) for note in again.notes)
    old = time.time() - 3 * 86400
    os.utime(kept, (old, old))
    assert near(tmp_path).status == "outage"


@kept_kit.posix
@pytest.mark.parametrize("planted", ["file", "link", "pipe", "open folder"])
def test_what_others_may_have_put_into_the_cache_is_not_read(archive, tmp_path, planted):
    write_daily(archive.folder, "T0001", days_of(START, 10, tmin=2.0, tmax=8.0))
    first, cache = near(tmp_path), tmp_path / "cache"
    (path,) = cache.glob("days-*.json")
    assert stat.S_IMODE(cache.stat().st_mode) == 0o700 and stat.S_IMODE(path.stat().st_mode) == 0o600
    good = path.read_bytes()
    path.unlink()
    if planted == "file":
        path.write_bytes(good[good.index(b"{") :])
    elif planted == "link":
        (tmp_path / "good").write_bytes(good)
        path.symlink_to(tmp_path / "good")
    elif planted == "pipe":
        os.mkfifo(path)
    else:
        path.write_bytes(good)
        path.chmod(0o600)
        cache.chmod(0o777)
    asked = len(archive.asked)
    assert near(tmp_path).days == first.days
    assert len(archive.asked) > asked


@pytest.mark.parametrize("text", ["", "{", "[]", '{"status": "wonderful"}', '{"status": 3}'])
def test_a_spoilt_cache_file_is_ignored(archive, tmp_path, text):
    write_daily(archive.folder, "T0001", days_of(START, 10, tmin=2.0, tmax=8.0))
    near(tmp_path)
    kept = next((tmp_path / "cache").glob("days-*.json"))
    kept.write_text(text)
    assert near(tmp_path).status == "ok"


def test_a_slow_archive_cannot_hold_up_the_answer(archive, tmp_path, monkeypatch):
    archive.slow["stations.db"] = 20
    monkeypatch.setattr(station, "DAYS_SECONDS", 1.5)
    began = time.monotonic()
    found = near(tmp_path)
    assert time.monotonic() - began < 3.5
    assert found.status == "outage" and found.notes


def test_nobody_there_costs_less_than_a_second(tmp_path, monkeypatch):
    for name in list(os.environ):
        if name.lower().endswith("_proxy"):
            monkeypatch.delenv(name)
    # a socket that listens and never answers: worse than a refused connection
    with socket.socket() as silent:
        silent.bind(("127.0.0.1", 0))
        silent.listen(1)
        monkeypatch.setenv(
            "MS_DAILY_ENDPOINT", f"http://127.0.0.1:{silent.getsockname()[1]}/{{year}}/{{station}}.csv.gz"
        )
        began = time.monotonic()
        found = near(tmp_path)
        assert time.monotonic() - began < 1.0
    assert found.status == "outage" and [str(note) for note in found.notes] == ["No network: usual weather here."]


def test_a_name_that_takes_for_ever_to_resolve_costs_less_than_a_second(tmp_path, monkeypatch):
    monkeypatch.setenv("MS_DAILY_ENDPOINT", "http://archive.invalid/{year}/{station}.csv.gz")
    monkeypatch.setattr(socket, "getaddrinfo", lambda *args, **kwargs: time.sleep(5) or [])
    began = time.monotonic()
    assert near(tmp_path).status == "outage"
    assert time.monotonic() - began < 1.0


def test_a_folder_serves_as_archive(archive, tmp_path, monkeypatch):
    write_daily(archive.folder, "T0001", days_of(START, 10, tmin=2.0, tmax=8.0))
    monkeypatch.setenv("MS_DAILY_ENDPOINT", f"file://{archive.folder}/daily/{{year}}/{{station}}.csv.gz")
    monkeypatch.setenv("MS_STATIONS_DB_FILE", str(archive.folder / "stations.db"))
    assert near(tmp_path).status == "ok"
    monkeypatch.setenv("MS_DAILY_ENDPOINT", f"file://{archive.folder}/nothing/{{year}}/{{station}}.csv.gz")
    assert near(tmp_path).status == "no-data"


def test_a_folder_that_cannot_be_written_does_not_stop_the_answer(archive, tmp_path):
    write_daily(archive.folder, "T0001", days_of(START, 10, tmin=2.0, tmax=8.0))
    blocked = tmp_path / "blocked"
    blocked.write_text("a file where the folder should be")
    assert station.days_near(*PLACE, START, END, cache_dir=blocked / "cache").status == "ok"


@pytest.mark.parametrize("place", [(91, 0, None), (0, 181, None), (math.nan, 0, None), (50, 0, 9000)])
def test_a_place_off_the_earth_is_refused(tmp_path, place):
    with pytest.raises(InputProblems):
        near(tmp_path, place)

"""hiveweek climate: what is printed, what is written, and what happens with unusable words."""

import io
import json
import os
import subprocess
import sys

import pytest
import yaml
from weather_archive import Server, write_monthly, write_stations

from hiveweek import climate, content
from hiveweek.cli.main import main
from hiveweek.climate import compare, station
from hiveweek.shapes import comment
from hiveweek.show import climate as showing
from hiveweek.show.text import Page
from hiveweek.texts.english import MESSAGES

PHASES = {
    "winter_cluster",
    "late_winter",
    "early_build_up",
    "build_up",
    "swarm_season",
    "main_flow",
    "dearth",
    "late_summer",
    "autumn",
    "early_winter",
    "mild_winter",
}
EVENTS = [
    "first_pollen",
    "end_of_cluster",
    "first_full_inspection",
    "spring_build_up_start",
    "swarm_season_start",
    "swarm_season_end",
    "main_flow_start",
    "main_flow_end",
    "second_flow_start",
    "second_flow_end",
    "summer_dearth",
    "late_summer_mite_treatment",
    "winter_bee_rearing",
    "stop_syrup_by",
    "mouse_guards_on",
    "winter_wrap_on",
    "broodless_start",
    "broodless_end",
    "unwrap",
]


def call(*words):
    return main(["climate", *map(str, words)])


def test_list_names_every_profile(capsys):
    assert call("list") == 0
    out = capsys.readouterr().out
    for name in climate.profile_ids():
        assert f"{name} " in out
    assert "Innsbruck (AT)" in out


def test_show_json_is_the_contract(capsys):
    assert call("show", "boreal", "--json") == 0
    shown = json.loads(capsys.readouterr().out)
    assert list(shown)[:6] == ["profile", "source", "phases", "events", "monthly", "winter_weeks"]
    assert shown["profile"] == "boreal" and list(shown["events"]) == EVENTS
    assert {entry["phase"] for entry in shown["phases"]} <= PHASES
    assert len(shown["monthly"]["tmean_c"]) == 12


@pytest.mark.parametrize("name", climate.profile_ids())
def test_every_profile_can_be_shown_in_80_plain_columns(name, capsys):
    assert call("show", name) == 0
    out = capsys.readouterr().out
    assert "\x1b" not in out
    assert max(len(line) for line in out.splitlines()) <= 80
    calendar = climate.load_profile(name).calendar
    lines = out.splitlines()
    strip = next(line for line in lines if line.startswith("Phase  "))[showing.LABEL :]
    assert len(strip) == 52
    letters = {showing.PHASES[phase][0] for phase, _, _ in calendar.phases}
    assert set(strip) <= letters
    for event in calendar.events:
        assert sum(line.strip().startswith(MESSAGES[f"event.{event}"]) for line in lines) >= 1
    assert any("none here" in line for line in lines) == any(span is None for span in calendar.events.values())


def test_every_phase_event_and_window_has_words():
    assert set(showing.PHASES) == PHASES
    assert [id.removeprefix("event.") for id in MESSAGES if id.startswith("event.")] == EVENTS
    assert all(f"phase.{phase}" in MESSAGES for phase in PHASES)
    assert len({letter for letter, _ in showing.PHASES.values()}) == len(PHASES)
    for name in climate.profile_ids():
        assert set(climate.load_profile(name).calendar.windows) <= set(showing.WINDOWS)


def test_colour_only_on_a_terminal():
    class Terminal(io.StringIO):
        def isatty(self):
            return True

    seen = Terminal()
    page = Page(file=seen)
    page.console._force_terminal = True
    page.console._color_system = 1
    showing.show_profile(climate.load_profile("boreal"), page)
    assert "\x1b[" in seen.getvalue()


def test_weeks_of_a_window_over_the_new_year():
    weeks = showing.weeks_inside([("12-18", "01-14")])
    assert weeks[:2] == [True, True] and weeks[2] is False
    assert weeks[50:] == [True, True] and sum(weeks) == 4


def test_compare_prints_both(capsys):
    assert call("compare", "mild_maritime", "boreal") == 0
    out = capsys.readouterr().out
    assert "mild_maritime" in out and "boreal" in out and "later" in out and "hemispheres" not in out
    assert call("compare", "mild_maritime", "southern_cold_maritime") == 0
    out = capsys.readouterr().out
    assert "hemispheres" in out and max(len(line) for line in out.splitlines()) <= 80


def test_a_place_compared_with_itself_differs_nowhere():
    profile = climate.load_profile("alpine_valley")
    assert {row.difference for row in compare.events(profile, profile)} <= {0.0, None}
    assert {row.difference for row in compare.traits(profile, profile) if row.difference is not None} == {0.0}


def test_comparing_the_other_way_round_turns_the_sign():
    for first, second in (("mild_maritime", "boreal"), ("cool_continental", "southern_maritime")):
        a, b = climate.load_profile(first), climate.load_profile(second)
        for one, other in zip(compare.events(a, b), compare.events(b, a), strict=False):
            if one.difference is None:
                assert other.difference is None
            else:
                assert (one.difference + other.difference) % 365 == pytest.approx(0, abs=1e-9)
                assert abs(one.difference) <= 182.5


def test_middle_of_a_stretch_over_the_new_year():
    assert compare.middle("12-22", "01-11") == 356 + 10
    assert compare.middle("03-01", "03-21") == 70


def test_unknown_profiles_are_all_named_with_the_nearest(capsys):
    assert call("compare", "mild_maritme", "boreel") == 2
    seen = capsys.readouterr()
    assert seen.out == "" and len(seen.err.splitlines()) == 2
    assert "nearest: mild_maritime" in seen.err and "nearest: boreal" in seen.err
    assert call("show", "nowhere_at_all") == 2


# --- building ---------------------------------------------------------------------------------------

NORMALS = content.root() / "climate_profiles" / "normals"


def test_build_from_a_file_prints_or_writes(tmp_path, capsys):
    words = ("build", "--normals", NORMALS / "boreal.csv", "--about", NORMALS / "boreal.about.yaml")
    assert call(*words) == 0
    printed = capsys.readouterr().out
    shipped = content.root() / "climate_profiles" / "boreal.yaml"
    assert comment("profile", shipped.parent) + printed == shipped.read_text()
    out = tmp_path / "mine.yaml"
    out.write_text("old")
    assert call(*words, "--out", out) == 0
    assert out.read_text() == comment("profile", tmp_path) + printed and capsys.readouterr().out == ""
    assert [path.name for path in tmp_path.iterdir()] == ["mine.yaml"]
    assert call("show", out) == 0


def test_a_bad_file_leaves_what_was_there(tmp_path, capsys):
    bad = tmp_path / "bad.csv"
    text = (NORMALS / "boreal.csv").read_text().splitlines()
    text[3] = text[3].replace(text[3].split(",")[1], "x", 1)
    text.pop(7)
    bad.write_text("\n".join(text))
    out = tmp_path / "mine.yaml"
    out.write_text("old")
    assert call("build", "--normals", bad, "--about", NORMALS / "boreal.about.yaml", "--out", out) == 2
    assert out.read_text() == "old" and sorted(path.name for path in tmp_path.iterdir()) == ["bad.csv", "mine.yaml"]
    err = capsys.readouterr().err.splitlines()
    assert len(err) >= 2 and all("bad.csv:" in line for line in err)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ((), "give either"),
        (("--lat", "50"), "--lon is missing"),
        (("--normals", "x.csv"), "--about is missing"),
        (("--lat", "50", "--lon", "8", "--normals", "x.csv", "--about", "y.yaml"), "give either"),
        (("--elev", "5"), "--lat, --lon is missing"),
        (("--lat", "99", "--lon", "8"), "latitude"),
        (("--lat", "50", "--lon", "8", "--id", "Bad Name"), "no profile id"),
    ],
)
def test_words_that_do_not_go_together(words, told, capsys):
    assert call("build", *words, "--offline") == 2
    assert told in capsys.readouterr().err


def test_out_in_no_folder_or_a_folder(tmp_path, capsys):
    words = ("build", "--normals", NORMALS / "boreal.csv", "--about", NORMALS / "boreal.about.yaml", "--out")
    assert call(*words, tmp_path / "none" / "x.yaml") == 2
    assert call(*words, tmp_path) == 2
    assert list(tmp_path.iterdir()) == []


def test_a_write_that_fails_leaves_nothing(tmp_path, monkeypatch, capsys):
    def fail(*args):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", fail)
    assert (
        call(
            "build",
            "--normals",
            NORMALS / "boreal.csv",
            "--about",
            NORMALS / "boreal.about.yaml",
            "--out",
            tmp_path / "x.yaml",
        )
        == 2
    )
    assert "No space left" in capsys.readouterr().err and list(tmp_path.iterdir()) == []


def test_build_from_stations(tmp_path, capsys, monkeypatch):
    for name in list(os.environ):
        if name.startswith("MS_") or name.lower().endswith("_proxy"):
            monkeypatch.delenv(name)
    folder = tmp_path / "archive"
    write_stations(folder / "stations.db")
    boreal = climate.load_profile("boreal").monthly
    write_monthly(
        folder,
        "T0001",
        {
            (year, month): {
                "tmin": boreal["tmin_c"][month - 1],
                "tmax": boreal["tmax_c"][month - 1],
                "temp": boreal["tmean_c"][month - 1],
                "prcp": boreal["precip_mm"][month - 1],
            }
            for year in range(1991, 2021)
            for month in range(1, 13)
        },
    )
    server = Server(folder)
    try:
        for name, value in server.settings().items():
            monkeypatch.setenv(name, value)
        monkeypatch.setattr(
            station, "_folder", lambda cache_dir: (tmp_path / "cache").mkdir(exist_ok=True) or tmp_path / "cache"
        )
        assert (
            call(
                "build",
                "--lat",
                "51.9",
                "--lon",
                "-8.52",
                "--elev",
                "160",
                "--id",
                "home",
                "--out",
                tmp_path / "home.yaml",
            )
            == 0
        )
    finally:
        server.close()
    err = capsys.readouterr().err
    assert "Station Alder Field (T0001), 1.4 km away" in err and "30 years a month" in err
    assert "Deutscher Wetterdienst" in err and "CC BY 4.0" in err
    made = climate.load_profile(str(tmp_path / "home.yaml"))
    assert made.id == "home" and made.lat == 51.9
    assert yaml.safe_load((tmp_path / "home.yaml").read_text())["built_from"]["elev_m"] == 160


def test_without_a_network_build_says_so_and_writes_nothing(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("MS_MONTHLY_ENDPOINT", "http://127.0.0.1:9/{station}.csv.gz")
    monkeypatch.setattr(station, "_folder", lambda cache_dir: tmp_path)
    assert call("build", "--lat", "51.9", "--lon", "-8.5", "--out", tmp_path / "x.yaml") == 2
    assert "no network" in capsys.readouterr().err and not (tmp_path / "x.yaml").exists()


def test_showing_a_profile_never_loads_the_archive_client():
    code = (
        "import sys, datetime; from hiveweek import climate; from hiveweek.climate import weather;"
        "weather.week(climate.load_profile('boreal'), datetime.date(2026, 2, 10));"
        "sys.exit(any(name in sys.modules for name in ('pandas', 'meteostat', 'requests')))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_a_climate_beside_itself_is_the_same(capsys):
    assert call("compare", "boreal", "boreal") == 0
    rows = [line for line in capsys.readouterr().out.splitlines() if line.startswith(("Coldest month", "First pollen"))]
    assert len(rows) == 2 and all(row.endswith(" same") for row in rows)

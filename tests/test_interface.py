"""The Python interface: what other programs get from ``import hiveweek``, held against the command line's JSON."""

from __future__ import annotations

import contextlib
import datetime as dt
import io
import json
import subprocess
import sys
from pathlib import Path

import pytest

import hiveweek
from hiveweek.cli.main import main

ROOT = Path(__file__).resolve().parents[1]
DEMO = ROOT / "scenarios" / "demo.yaml"
RECORD = {
    "climate": "long_snow_cover",
    "date": "2026-02-10",
    "apiary": {"name": "Alder Bank", "site": {"site.wind": "exposed"}},
    "hives": [
        {"id": "NO", "facts": {"food.stores_kg": 4, "colony.frames_of_bees": 5, "hive.size": "single"}},
        {"id": "012", "facts": {"food.stores_kg": 20.5, "colony.alive": True}},
    ],
}


def command(*words: str) -> dict:
    """Return what a command prints as JSON."""
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        assert main(list(words)) == 0
    return json.loads(said.getvalue())


def plain(value):
    """Return what a value is once it has been written as JSON and read back."""
    return json.loads(json.dumps(value, allow_nan=False))


def written(folder: Path, record: dict) -> Path:
    """Write a record as a scenario file; JSON is YAML."""
    path = folder / "record.yaml"
    path.write_text(json.dumps({"scenario": "a test", **record}, default=str), encoding="utf-8")
    return path


@pytest.mark.parametrize("facts", [False, True])
def test_the_week_of_a_file_is_what_the_command_prints(facts):
    plan = hiveweek.week(DEMO, offline=True, facts=facts)
    wanted = command("week", str(DEMO), "--offline", "--json", *(["--facts"] if facts else []))
    assert isinstance(plan, hiveweek.WeekPlan)
    assert plain(hiveweek.as_json(plan, facts=facts)) == wanted
    assert [hive.id for hive in plan.hives] == [hive["id"] for hive in wanted["hives"]]


def test_a_record_in_plain_data_answers_as_its_file(tmp_path):
    wanted = command("week", str(written(tmp_path, RECORD)), "--offline", "--json", "--date", "2026-02-17")
    for date in ("2026-02-17", dt.date(2026, 2, 17)):
        plan = hiveweek.week(RECORD, date=date, offline=True)
        assert plain(hiveweek.as_json(plan)) == wanted
    assert plan.date == dt.date(2026, 2, 17)
    assert [hive.id for hive in plan.hives] == ["NO", "012"]


def test_plain_data_may_hold_dates_and_leave_its_own_to_the_call():
    undated = {key: value for key, value in RECORD.items() if key != "date"}
    dated = {**RECORD, "date": dt.date(2026, 2, 10)}
    wanted = hiveweek.as_json(hiveweek.week(RECORD, offline=True))
    assert hiveweek.as_json(hiveweek.week(undated, date="2026-02-10", offline=True)) == wanted
    assert hiveweek.as_json(hiveweek.week(dated, offline=True)) == wanted


def test_a_scenario_read_before_answers_as_its_file():
    from hiveweek.facts import read_scenario

    first = hiveweek.week(read_scenario(DEMO), offline=True)
    assert hiveweek.as_json(first) == hiveweek.as_json(hiveweek.week(str(DEMO), offline=True))


def test_without_the_second_channel_the_advice_is_the_same():
    both, alone = (hiveweek.as_json(hiveweek.week(DEMO, offline=True, second_channel=asked)) for asked in (True, False))
    assert alone.pop("channels")["rete"] == "not asked"
    assert both.pop("channels")["rete"] != "not asked"
    assert alone == both


def test_a_forecast_and_an_overlay_take_part(tmp_path):
    days = [f"2026-02-{day},{-4 + day - 10},{3 + day - 10}" for day in range(10, 17)]
    forecast = tmp_path / "days.csv"
    forecast.write_text("\n".join(["date,tmin_c,tmax_c", *days]), encoding="utf-8")
    overlay = tmp_path / "mine.yaml"
    limit = next(
        row for row in hiveweek.rules("long_snow_cover")["limits"] if row["limit"] == "limit.careful.short_days"
    )
    change = {"limit": limit["limit"], "was": limit["value"], "value": limit["value"] + 1, "reason": "A test."}
    change |= {"source": "common-practice", "status": "practice"}
    about = {"overlay": "mine", "layer": "author", "for": ["long_snow_cover"], "version": 1}
    overlay.write_text(json.dumps({**about, "override": [change]}), encoding="utf-8")
    plan = hiveweek.week(RECORD, forecast=forecast, rules=[overlay], offline=True)
    file = str(written(tmp_path, RECORD))
    wanted = command("week", file, "--offline", "--json", "--forecast", str(forecast), "--rules", str(overlay))
    assert plain(hiveweek.as_json(plan)) == wanted
    assert wanted["weather"]["basis"] == "forecast"
    assert "mine" in {row["name"] for row in wanted["rulesets"]}


def test_everything_wrong_with_a_record_is_said_at_its_path():
    wrong = {
        "climate": "boreall",
        "hives": [{"id": "H1", "facts": {"food.stores_kg": 400, "fod.days_left": 3}}, {"id": "H1", "facts": {}}],
    }
    with pytest.raises(hiveweek.InputProblems) as caught:
        hiveweek.week(wrong, date="10 February")
    said = {problem.code: problem.message for problem in caught.value.problems}
    assert said["bad-date"].startswith("'10 February'")
    assert said["unknown-profile"].startswith("climate: ")
    assert said["unknown-profile"].endswith("nearest: boreal")
    assert said["out-of-range"].startswith("hives[0].facts.food.stores_kg: ")
    assert said["unknown-fact"].startswith("hives[0].facts.fod.days_left: ")
    assert any(message.startswith("hives[1]") for message in said.values())
    assert "<" not in str(caught.value)


def test_what_no_record_can_hold_is_a_type_error():
    with pytest.raises(TypeError, match="not set"):
        hiveweek.week({**RECORD, "note": {1, 2}})


def test_problems_of_a_file_keep_their_places(tmp_path):
    path = tmp_path / "wrong.yaml"
    path.write_text("scenario: x\nclimate: boreal\ndate: 2026-02-10\nhives:\n  - {id: H1, facts: {fod.x: 1}}\n")
    with pytest.raises(hiveweek.InputProblems) as caught:
        hiveweek.week(path)
    assert [(problem.line, problem.code) for problem in caught.value.problems] == [(5, "unknown-fact")]


@pytest.mark.parametrize("profile", ["boreal", "southern_maritime"])
def test_the_climate_is_what_the_command_prints(profile):
    assert plain(hiveweek.climate(profile)) == command("climate", "show", profile, "--json")


def test_a_climate_is_built_from_normals():
    shipped = hiveweek.climate("boreal")
    place = {key: shipped["source"][key] for key in ("lat", "lon", "elev_m")}
    built = hiveweek.climate({"normals": ROOT / "climate_profiles" / "normals" / "boreal.csv", **place})
    assert built["phases"] == shipped["phases"]
    assert built["events"] == shipped["events"]
    assert built["monthly"] == shipped["monthly"]
    with pytest.raises(hiveweek.InputProblems, match="-90 and 90"):
        hiveweek.climate({"normals": "no.csv", "lat": 91, "lon": 0, "elev_m": 0})


def test_the_rules_are_what_the_command_prints():
    found = hiveweek.rules("boreal", jurisdiction="england")
    assert plain(found) == command("rules", "merged", "boreal", "--jurisdiction", "england", "--json")
    with pytest.raises(hiveweek.InputProblems, match="nearest: boreal"):
        hiveweek.rules("boreall")


def test_importing_it_loads_nothing_more_and_every_name_is_there_in_any_order():
    script = """
import sys
import hiveweek
assert not [name for name in sys.modules if name.startswith(("hiveweek.", "numpy"))], "import hiveweek is to stay cheap"
assert hiveweek.climate("boreal")["koppen"] == "Dfc"        # before the room was imported
from hiveweek.climate import load_profile                   # and after
import hiveweek.rules.reader
from hiveweek import climate, rules, week
assert climate("boreal")["koppen"] == hiveweek.climate("boreal")["koppen"] == load_profile("boreal").koppen
assert rules("boreal")["profile"] == hiveweek.rules("boreal")["profile"] == "boreal"
assert hiveweek.week is week
assert all(hasattr(hiveweek, name) for name in hiveweek.__all__)
assert not hasattr(hiveweek, "weak")
"""
    ran = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=120, check=False)
    assert ran.returncode == 0, ran.stderr

"""What each option of ``hiveweek week`` does, and the command as users run it."""

import datetime as dt
import importlib.util
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from promises_kit import SINGLE, answer, facts, hive_of, quick, scenario, two_light, week

from hiveweek import content
from hiveweek.inference import rete

DEMO = content.root() / "scenarios" / "demo.yaml"


@pytest.fixture(autouse=True)
def _quick(monkeypatch):
    quick(monkeypatch)


@pytest.fixture
def light(tmp_path):
    return two_light(tmp_path)


def test_a_later_date_keeps_the_days_of_what_was_seen(capsys, light):
    data = answer(capsys, light, "--date", "2026-03-20", "--facts")
    hive = hive_of(data, "NO")
    assert data["date"] == "2026-03-20"
    assert hive["facts"]["hive.size"]["origin"] == "seen 2026-03-10"
    assert hive["facts"]["colony.frames_of_bees"]["origin"] == "carried forward from 2026-03-10"
    assert hive["facts"]["food.stores_kg"]["origin"] == "carried forward from 2026-03-10"
    assert hive["facts"]["food.stores_kg"]["value"] < 2
    assert hive["facts"]["weather.high_c"]["origin"] == "usual here", "a file's own weather is for its week only"


def test_a_forecast_wins_over_what_is_usual(capsys, tmp_path):
    path = scenario(tmp_path, "cool_continental", "2026-05-10", {"A": facts(f"{SINGLE}, colony.frames_of_bees: 8")})
    days = [dt.date(2026, 5, 10) + dt.timedelta(days=k) for k in range(7)]
    csv = tmp_path / "days.csv"
    csv.write_text(
        "date,tmin_c,tmax_c,precip_mm,wind_kmh\n"
        + "".join(f"{d},{5 + k},{12 + k},{0 if k == 4 else 5},10\n" for k, d in enumerate(days))
    )
    usual, told = answer(capsys, path, "--facts"), answer(capsys, path, "--facts", "--forecast", csv)
    assert usual["weather"]["basis"] == "normals" and told["weather"]["basis"] == "forecast"
    known = told["hives"][0]["facts"]
    assert known["weather.high_c"] == {"value": 18, "low": 18, "high": 18, "unit": "degC", "origin": "forecast"}
    assert known["weather.low_c"]["value"] == 5 and known["weather.dry_days"]["value"] == 1
    assert told["apiary"]["best_day"] == "2026-05-14" and usual["apiary"]["best_day"] is None
    assert usual["hives"][0]["facts"]["weather.high_c"]["low"] < usual["hives"][0]["facts"]["weather.high_c"]["high"]


def test_own_rules_take_part_and_are_named(capsys, tmp_path, light):
    overlay = tmp_path / "mine.yaml"
    overlay.write_text(
        "overlay: my-yard\nlayer: author\nfor: [long_snow_cover]\nversion: 3\noverride:\n"
        "  - {limit: limit.food.starving_days, value: 9, was: 7, reason: the road is shut for a week, source: [common-practice], status: practice}\n"
    )
    before, after = answer(capsys, light), answer(capsys, light, "--rules", overlay)
    there = {v["name"] for v in before["rulesets"]}
    assert [(v["name"], v["version"]) for v in after["rulesets"] if v["name"] not in there] == [("my-yard", 3)]
    assert len({v["hash"] for v in after["rulesets"]}) == len(after["rulesets"])
    limits = {
        (f["limit"], f["value"], f["from"]) for hive in after["hives"] for a in hive["advice"] for f in a["limits"]
    }
    assert ("limit.food.starving_days", 9.0, "author overlay my-yard") in limits, limits


def test_why_of_a_wrong_name_says_the_nearest(capsys, light):
    code, out, err = week(capsys, light, "--why", "food.candy-nwo")
    assert code == 2 and out == "" and err.count("\n") == 1
    assert "nearest: food.candy-now" in err
    code, out, err = week(capsys, light, "--why", "food.candy-soon", "--hive", "NO")
    assert code == 0 and err == "" and "food.candy-soon at hive NO: holds" in out and "012" not in out
    assert (
        "food.days_left <= limit.food.short_days" in out
        and "limit 28 days (profile overlay long_snow_cover" in " ".join(out.split())
    )


def test_page_writes_one_file_that_needs_nothing_else(capsys, tmp_path, light):
    target = tmp_path / "week.html"
    code, out, err = week(capsys, light, "--page", target)
    text = target.read_text(encoding="utf-8")
    assert code == 0 and err == "" and str(target) in out
    assert "NO" in text and "012" in text
    assert "http-equiv" not in text and "<script src" not in text and "<link" not in text and "@import" not in text
    assert 'src="http' not in text and "url(http" not in text


def test_json_and_page_do_not_go_together(capsys, tmp_path, light):
    code, out, err = week(capsys, light, "--json", "--page", tmp_path / "x.html")
    assert code == 2 and out == "" and len(err.strip().splitlines()) == 1


def _as_users(*arguments):
    env = {**os.environ, "HIVEWEEK_NO_CACHE": "1"}
    return subprocess.run(
        [sys.executable, "-m", "hiveweek.cli.main", "week", *map(str, arguments)],
        capture_output=True,
        text=True,
        timeout=120,
        env=env,
        cwd=Path(__file__).resolve().parents[1],
        check=False,
    )


def test_as_a_process_with_both_channels(light):
    there = importlib.util.find_spec("durable") is not None and sys.version_info < (3, 13)
    ran = _as_users(light, "--offline", "--json", *(["--strict"] if there else []))
    assert ran.returncode == 0 and ran.stderr == "", ran.stderr
    data = json.loads(ran.stdout)
    assert data["channels"] == {"columnar": "answered", "rete": "agrees" if there else "absent"}
    assert not any(a["unverified"] for hive in data["hives"] for a in hive["advice"])


def test_where_the_second_channel_does_not_load_the_answer_says_so(capsys, light):
    assert not rete.available()
    data = answer(capsys, light)
    assert data["channels"] == {"columnar": "answered", "rete": "absent"}
    code, out, err = week(capsys, light, "--strict")
    assert (code, out) == (3, "") and err.startswith("no answer, because the second channel needs Python below 3.13")

"""What cannot be used is named, all of it, a line each, with its place, on standard error; nothing else happens."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from promises_kit import quick, week

GOOD = """\
scenario: a yard in early spring
climate: cool_continental
date: 2026-03-14
apiary:
  name: Orchard end
  site: {site.wind: sheltered, site.water_near: true}
hives:
  - id: Blue
    facts: {hive.size: single, hive.frames: 10, hive.frame: deep, colony.frames_of_bees: 5, food.stores_kg: 3}
    observed:
      - {date: 2026-01-20, food.stores_kg: 8}
  - id: Red
    facts: {food.heft: light}
"""
LINE = re.compile(r"^(?P<file>.+?):(?P<line>\d+):(?P<col>\d+): (?P<code>[a-z][a-z0-9-]+) (?P<message>\S.*)$")

# what is changed, into what, the code, the place (line, column), words that must be said
MISTAKES = {
    "unknown fact": ("food.stores_kg: 3", "food.store_kg: 3", "unknown-fact", (9, 93), "nearest: food.stores_kg"),
    "value above its range": (
        "food.stores_kg: 3",
        "food.stores_kg: 300",
        "out-of-range",
        (9, 109),
        "between 0 and 120 kg",
    ),
    "negative value": ("food.stores_kg: 3", "food.stores_kg: -3", "out-of-range", (9, 109), "-3 is outside"),
    "not a number": ("food.stores_kg: 3", "food.stores_kg: .nan", "not-finite", (9, 109), ".nan"),
    "endless": ("food.stores_kg: 3", "food.stores_kg: .inf", "not-finite", (9, 109), ".inf"),
    "text for a number": ("food.stores_kg: 3", "food.stores_kg: lots", "wrong-type", (9, 109), "is a number (kg)"),
    "a unit with the number": (
        "food.stores_kg: 3",
        "food.stores_kg: 3 kg",
        "wrong-type",
        (9, 109),
        "write the number alone",
    ),
    "a word the fact does not have": (
        "food.heft: light",
        "food.heft: lite",
        "unknown-value",
        (13, 24),
        "nearest: light",
    ),
    "a law that is not here, with no name near": (
        "climate: cool_continental\n",
        "climate: cool_continental\njurisdiction: mexico\n",
        "unknown-jurisdiction",
        (3, 15),
        "'mexico' is no jurisdiction; there are alberta, austria, british_columbia",
    ),
    "a date that is none": ("date: 2026-03-14", "date: 2026-02-30", "no-such-date", (3, 7), "2026-02-30"),
    "a date in words": ("date: 2026-03-14", "date: yesterday", "no-such-date", (3, 7), "yesterday"),
    "a look that is no date": ("date: 2026-01-20", "date: 2026-13-01", "no-such-date", (11, 16), "2026-13-01"),
    "a look after the day": ("date: 2026-01-20", "date: 2026-05-20", "date-ahead", (11, 16), "2026-05-20"),
    "duplicate key": (
        "name: Orchard end",
        "name: Orchard end\n  name: Far end",
        "duplicate-key",
        (6, 3),
        "first at line 5",
    ),
    "duplicate hive": ("id: Red", "id: Blue", "duplicate-hive", (12, 9), "first at line 8"),
    "unknown profile": (
        "climate: cool_continental",
        "climate: cool_continetal",
        "unknown-profile",
        (2, 10),
        "nearest: cool_continental",
    ),
    "unknown jurisdiction": (
        "date: 2026-03-14",
        "date: 2026-03-14\njurisdiction: new_zeeland",
        "unknown-jurisdiction",
        (4, 15),
        "nearest: new_zealand",
    ),
    "unknown key": ("hives:", "hive:", "unknown-key", (7, 1), "nearest: hives"),
    "more bees than room": (
        "hive.frames: 10,",
        "hive.frames: 3, hive.supers: 0,",
        "cannot-be",
        None,
        "more frames of bees than frames",
    ),
    "a missing overlay": (
        "date: 2026-03-14",
        "date: 2026-03-14\nrulesets: [mine.yaml]",
        "no-file",
        (4, 12),
        "mine.yaml",
    ),
    "tabs": ("  name: Orchard end", "\tname: Orchard end", "not-yaml", (5, 1), ""),
    "an open bracket": ("{food.heft: light}", "{food.heft: light", "not-yaml", None, ""),
}


@pytest.fixture(autouse=True)
def _quick(monkeypatch):
    quick(monkeypatch)


def refused(capsys, *arguments) -> list[str]:
    """Run the command; it must refuse in the one way there is. Returns the lines it says."""
    code, out, err = week(capsys, *arguments)
    assert code == 2 and out == "", (code, out[:200])
    lines = err.splitlines()
    assert lines and all(line.strip() for line in lines) and "Traceback" not in err and "Error" not in err, err
    return lines


def placed(lines, path):
    """Match lines with their place; all must be of the file."""
    found = [LINE.match(line) for line in lines]
    assert all(found), lines
    assert {match["file"] for match in found} == {str(path)}, lines
    return found


def written(tmp_path, text, name="yard.yaml") -> Path:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def test_the_file_without_a_mistake_is_answered(capsys, tmp_path):
    code, out, err = week(capsys, written(tmp_path, GOOD))
    assert code == 0 and err == "" and "Blue" in out


@pytest.mark.parametrize("name", MISTAKES)
@pytest.mark.parametrize("shape", [(), ("--json",)], ids=["screen", "json"])
def test_each_mistake_has_its_line(capsys, tmp_path, name, shape):
    old, new, code, place, said = MISTAKES[name]
    assert GOOD.count(old) == 1
    path = written(tmp_path, GOOD.replace(old, new))
    found = [match for match in placed(refused(capsys, path, *shape), path) if match["code"] == code]
    assert found, name
    assert any(said in match["message"] for match in found), [match["message"] for match in found]
    if place is not None:
        assert (int(found[0]["line"]), int(found[0]["col"])) == place


def test_all_mistakes_of_a_file_come_in_one_run(capsys, tmp_path):
    text = GOOD
    chosen = (
        "unknown profile",
        "a look that is no date",
        "value above its range",
        "a word the fact does not have",
        "duplicate key",
    )
    for name in chosen:
        old, new, *_ = MISTAKES[name]
        text = text.replace(old, new)
    path = written(tmp_path, text)
    found = placed(refused(capsys, path), path)
    assert {match["code"] for match in found} == {MISTAKES[name][2] for name in chosen}
    places = [(int(match["line"]), int(match["col"])) for match in found]
    assert places == sorted(places)


def test_nothing_is_written_where_the_input_is_unusable(capsys, tmp_path):
    path = written(tmp_path, GOOD.replace("food.heft: light", "food.heft: lite"))
    refused(capsys, path, "--page", tmp_path / "out.html")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["yard.yaml"]


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "empty-file"),
        ("# only a note\n", "empty-file"),
        ("just words\n", "wrong-type"),
        ("- a\n- b\n", "wrong-type"),
        ("{[", "not-yaml"),
        ("scenario: x\n---\nscenario: y\n", "not-yaml"),
        ("a: &b 1\nc: *b\n", "anchor"),
    ],
)
def test_files_that_are_no_scenario(capsys, tmp_path, text, code):
    path = written(tmp_path, text)
    assert code in {match["code"] for match in placed(refused(capsys, path), path)}


def test_bytes_that_are_no_text(capsys, tmp_path):
    path = tmp_path / "yard.yaml"
    path.write_bytes(b"scenario: a\nclimate: \xff\xfe\n")
    found = placed(refused(capsys, path), path)
    assert [match["code"] for match in found] == ["not-utf8"] and found[0]["line"] == "2"


def test_a_file_that_is_not_there_and_a_folder(capsys, tmp_path):
    missing = tmp_path / "none.yaml"
    assert [match["code"] for match in placed(refused(capsys, missing), missing)] == ["no-file"]
    assert [match["code"] for match in placed(refused(capsys, tmp_path), tmp_path)] == ["no-file"]


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (["--hive", "Blu"], "unknown-hive", "nearest: Blue"),
        (["--hive", "zzz"], "unknown-hive", "there are Blue, Red"),
        (["--date", "2026-02-30"], "bad-date", "2026-02-30"),
        (["--date", "14 March"], "bad-date", "2026-02-10"),
        (["--date", ""], "bad-date", "like"),
        (["--why", "food.candy-sooon"], "unknown-rule", "nearest: food.candy-soon"),
        (["--frobnicate"], "command-line", "frobnicate"),
    ],
)
def test_words_of_the_command_that_mean_nothing(capsys, tmp_path, arguments, code, said):
    lines = refused(capsys, written(tmp_path, GOOD), *arguments)
    assert len(lines) == 1 and lines[0].startswith(code + " ") and said in lines[0]


FORECAST = "date,tmin_c,tmax_c,precip_mm\n2026-03-14,1,9,0\n2026-03-15,2,8,4\n"


@pytest.mark.parametrize(
    ("old", "new", "code", "line", "said"),
    [
        ("tmax_c", "tmax", "unknown-column", 1, "nearest: tmax_c"),
        (",tmax_c", "", "missing-column", 1, "tmax_c"),
        ("2026-03-15", "2026-02-30", "bad-date", 3, "2026-02-30"),
        ("2026-03-15", "2026-03-14", "date-twice", 3, "line 2"),
        ("2,8,4", "2,8", "cells", 3, "3 cells"),
        ("2,8,4", "2,warm,4", "not-a-number", 3, "warm"),
        ("2,8,4", "12,8,4", "low-above-high", 3, "12"),
        ("2,8,4", "2,88,4", "out-of-range", 3, "degF"),
        ("2,8,4", "2,8,-4", "out-of-range", 3, "-4"),
        ("2,8,4", "2,nan,4", "not-a-number", 3, "nan"),
        (",", ";", "not-csv", 1, "commas"),
    ],
)
def test_a_forecast_with_a_mistake(capsys, tmp_path, old, new, code, line, said):
    csv = written(tmp_path, FORECAST.replace(old, new), "days.csv")
    found = [m for m in placed(refused(capsys, written(tmp_path, GOOD), "--forecast", csv), csv) if m["code"] == code]
    assert found and int(found[0]["line"]) == line and said in found[0]["message"]


def test_forecasts_that_are_none(capsys, tmp_path):
    yard = written(tmp_path, GOOD)
    for path, code in (
        (tmp_path / "none.csv", "no-file"),
        (tmp_path, "no-file"),
        (written(tmp_path, "", "empty.csv"), "empty-file"),
    ):
        assert [m["code"] for m in placed(refused(capsys, yard, "--forecast", path), path)] == [code]


OVERLAY = """\
overlay: mine
layer: author
for: [cool_continental]
version: 1
override:
  - {limit: limit.food.starving_days, value: 9, was: 7, reason: far away, source: [common-practice], status: practice}
"""


@pytest.mark.parametrize(
    ("old", "new", "code", "said"),
    [
        ("starving_days", "starving_day", "unknown-target", "nearest: limit.food.starving_days"),
        ("was: 7", "was: 8", "stale-was", "7"),
        ("layer: author", "layer: autor", "unknown-value", "nearest: author"),
        ("value: 9", "value: many", "wrong-type", ""),
        ("value: 9", "value: 9, values: 8", "unknown-key", "nearest: value"),
    ],
)
def test_own_rules_with_a_mistake(capsys, tmp_path, old, new, code, said):
    mine = written(tmp_path, OVERLAY.replace(old, new), "mine.yaml")
    found = [
        m for m in map(LINE.match, refused(capsys, written(tmp_path, GOOD), "--rules", mine)) if m and m["code"] == code
    ]
    assert found and found[0]["file"] == str(mine) and said in found[0]["message"], found


def test_own_rules_may_not_loosen_what_is_for_protection(capsys, tmp_path):
    mine = written(
        tmp_path,
        OVERLAY.replace("limit.food.starving_days, value: 9, was: 7", "limit.safety.frames_c, value: 2, was: 10"),
        "mine.yaml",
    )
    assert any(
        m and m["code"] == "loosens-safety"
        for m in map(LINE.match, refused(capsys, written(tmp_path, GOOD), "--rules", mine))
    )


def test_unknown_commands_and_nothing_at_all(capsys):
    from hiveweek.cli.main import main

    assert main(["weak"]) == 2
    said = capsys.readouterr()
    assert said.out == "" and said.err.count("\n") == 1 and "nearest: week" in said.err


@pytest.mark.parametrize("name", ["unknown fact", "an open bracket"])
def test_as_a_process(tmp_path, name):
    old, new, code, *_ = MISTAKES[name]
    path = written(tmp_path, GOOD.replace(old, new))
    ran = subprocess.run(
        [sys.executable, "-m", "hiveweek.cli.main", "week", str(path), "--offline"],
        capture_output=True,
        text=True,
        timeout=120,
        env={**os.environ, "HIVEWEEK_NO_CACHE": "1"},
        check=False,
    )
    assert ran.returncode == 2 and ran.stdout == ""
    assert code in {match["code"] for match in placed(ran.stderr.splitlines(), path)}

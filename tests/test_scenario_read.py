"""Scenario files: what a good one gives, and every problem of a bad one at its place."""

import datetime as dt
from pathlib import Path

import pytest

from hiveweek import facts
from hiveweek.problems import InputProblems
from hiveweek.shapes import marked_yaml

PROFILES = ["cool_continental", "boreal"]
GOOD = """\
scenario: light hive before the willows
source: [A book]
reason: it is light
climate: cool_continental
date: 2026-02-10
apiary:
  name: Alder Bank
  lat: 48.1
  lon: 11.5
  site: {site.wind: exposed, stock.sugar_kg: 20}
hives:
  - id: NO
    facts: {food.stores_kg: 4, colony.frames_of_bees: 5, hive.size: single}
    observed:
      - {date: 2026-01-12, food.stores_kg: 9}
      - {date: 2025-12-01, mites.in_hive: none}
    expect: {top: [feed-candy], phase: late_winter}
  - id: 012
    facts: {food.heft: heavy, colony.eggs: false}
expect: {includes: [feed-candy]}
"""


def read(text, folder="."):
    return facts.scenario_of(
        marked_yaml.parse(text, "file.yaml"), folder, profile_ids=PROFILES, jurisdictions=["england"]
    )


def problems(text, folder="."):
    with pytest.raises(InputProblems) as caught:
        read(text, folder)
    return caught.value.problems


def test_a_good_file():
    scenario = read(GOOD)
    assert scenario.title == "light hive before the willows"
    assert scenario.climate == "cool_continental" and scenario.date == dt.date(2026, 2, 10)
    assert [hive.id for hive in scenario.hives] == ["NO", "012"]
    assert scenario.hives[0].facts["food.stores_kg"] == 4
    assert scenario.hives[1].facts == {"food.heft": "heavy", "colony.eggs": False}
    assert [day for day, _ in scenario.hives[0].observed] == [dt.date(2025, 12, 1), dt.date(2026, 1, 12)]
    assert scenario.hives[0].expect == {"top": ["feed-candy"], "phase": ["late_winter"]}
    assert scenario.apiary.coords == (48.1, 11.5, None)
    assert scenario.apiary.site == {"site.wind": "exposed", "stock.sugar_kg": 20}
    assert scenario.expect == {"includes": ["feed-candy"]} and scenario.source == ["A book"]


def test_a_value_left_empty_is_not_known():
    scenario = read(GOOD.replace("food.heft: heavy", "food.heft: ~"))
    assert "food.heft" not in scenario.hives[1].facts


@pytest.mark.parametrize(
    ("old", "new", "code", "said"),
    [
        ("climate: cool_continental", "climate: cool_contnental", "unknown-profile", "nearest: cool_continental"),
        ("climate: cool_continental\n", "", "missing-key", "boreal"),
        ("date: 2026-02-10\n", "", "missing-key", "2026-02-10"),
        ("date: 2026-02-10", "date: 2026-02-30", "no-such-date", "2026-02-30"),
        ("date: 2026-02-10", "date: soon", "no-such-date", "soon"),
        ("date: 2026-02-10", "date: 0001-02-10", "no-such-date", "outside"),
        ("reason:", "reasons:", "unknown-key", "nearest: reason"),
        ("    facts: {food.heft", "    fact: {food.heft", "unknown-key", "nearest: facts"),
        ("food.stores_kg: 4", "food.stores: 4", "unknown-fact", "nearest: food.stores_kg"),
        ("food.stores_kg: 4", "food.stores_kg: 400", "out-of-range", "between 0 and 120 kg"),
        ("food.stores_kg: 4", "food.stores_kg: -1", "out-of-range", "-1 is outside"),
        ("food.stores_kg: 4", "food.stores_kg: 4 kg", "wrong-type", "write the number alone"),
        ("food.stores_kg: 4", "food.stores_kg: '4,5'", "wrong-type", "write 4.5"),
        ("food.stores_kg: 4", "food.stores_kg: true", "wrong-type", "is a number"),
        ("food.stores_kg: 4", "food.stores_kg: [4]", "wrong-type", "not a list"),
        ("colony.eggs: false", "colony.eggs: 1", "wrong-type", "true or false"),
        ("food.heft: heavy", "food.heft: hevy", "unknown-value", "nearest: heavy"),
        ("colony.eggs: false", "hive.supers: 1.5", "wrong-type", "whole number"),
        ("colony.eggs: false", "hive.moved_on: 2026-13-01", "no-such-date", "calendar"),
        ("colony.eggs: false", "hive.moved_on: yesterday", "no-such-date", "yesterday"),
        ("colony.eggs: false", "hive.moved_on: 2026-02-11", "date-ahead", "after 2026-02-10"),
        ("date: 2026-01-12", "date: 2026-02-12", "date-ahead", "after the scenario"),
        ("date: 2026-01-12, ", "", "missing-key", "lacks 'date': A date like 2026-02-10"),
        ("food.stores_kg: 9", "weather.high_c: 9", "unknown-fact", "under facts only"),
        ("site.wind: exposed", "food.stores_kg: 3", "unknown-fact", "others belong to a hive"),
        ("id: 012", "id: NO", "duplicate-hive", "first at line 12"),
        ("id: 012", "id: ''", "wrong-id", "short text"),
        ("id: 012", "id: [a]", "wrong-type", "is a text"),
        ("  - id: 012\n    facts", "  - facts", "missing-key", "entry 2 of 'hives' lacks 'id'"),
        ("top: [feed-candy]", "top: [feed-cndy]", "unknown-action", "nearest: feed-candy"),
        ("phase: late_winter", "phase: late_wintr", "unknown-phase", "nearest: late_winter"),
        ("top: [feed-candy]", "looks_first: [mites.sample]", "unknown-fact", "mites.sample"),
        ("top: [feed-candy]", "treatments: {allowed: [thimol]}", "unknown-active", "nearest: thymol"),
        ("top: [feed-candy]", "treatments: {allow: [thymol]}", "unknown-key", "nearest: allowed"),
        ("top: [feed-candy]", "includes_any: [[feed-cndy]]", "unknown-action", "nearest: feed-candy"),
        ("top: [feed-candy]", "tops: [feed-candy]", "unknown-key", "nearest: top"),
        ("expect: {includes: [feed-candy]}", "expect: {top: [feed-candy]}", "unknown-key", "'top'"),
        ("  lat: 48.1\n", "", "missing-key", "go together"),
        ("lat: 48.1", "lat: 148.1", "out-of-range", "148.1"),
        ("reason: it is light", "jurisdiction: englnd", "unknown-jurisdiction", "nearest: england"),
        ("reason: it is light", "rulesets: [none.yaml]", "no-file", "none.yaml"),
        ("reason: it is light", "reason: it is light\nreason: twice", "duplicate-key", "stands twice"),
        ("hives:", "hives: 5\nnote:", "wrong-type", "list of hives"),
        ("apiary:", "apiary: 5\nnote:", "wrong-type", "is a mapping"),
    ],
)
def test_one_mistake_each(old, new, code, said):
    assert GOOD.count(old) >= 1
    text = GOOD.replace(old, new, 1)
    found = [p for p in problems(text) if p.code == code]
    assert found, problems(text)
    assert said in found[0].message, found[0]
    assert found[0].file == "file.yaml"


@pytest.mark.parametrize(
    ("old", "new", "line", "col"),
    [
        ("food.stores_kg: 4", "food.stores_kg: 400", 13, 29),
        ("food.heft: heavy", "food.heft: hevy", 19, 24),
        ("site.wind: exposed", "site.wnd: exposed", 10, 10),
        ("date: 2026-01-12", "date: 2026-02-12", 15, 16),
    ],
)
def test_the_place_is_exact(old, new, line, col):
    found = problems(GOOD.replace(old, new, 1))
    assert (found[0].line, found[0].col) == (line, col)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ("colony.alive: false, colony.frames_of_bees: 5", "colony.alive is true"),
        ("colony.alive: false, colony.queen: seen", "colony.alive is true"),
        ("colony.frames_of_bees: 15, hive.frames: 10, hive.supers: 0", "more frames of bees than frames"),
        ("colony.frames_of_brood: 12, hive.frames: 10, hive.supers: 0", "more frames of brood than frames"),
        ("colony.eggs: true, colony.youngest_brood: sealed", "colony.eggs is false"),
        ("hive.supers: 0, harvest.super_frames_full: 8", "supers that are not there"),
        ("weather.low_c: 10, weather.high_c: 5", "coldest night"),
        ("mites.sample_mites: 300, mites.sample_bees: 3", "swapped"),
        ("hive.size: single, hive.frames: 30, hive.type: stacked_boxes", "does not hold so many frames"),
        ("colony.queen_cells: none, colony.queen_cell_count: 4", "colony.queen_cell_count is 0"),
        ("colony.sealed_brood: true, colony.frames_of_brood: 0", "colony.sealed_brood is false"),
    ],
)
def test_what_cannot_be_together(given, said):
    text = GOOD.replace("food.heft: heavy, colony.eggs: false", given)
    found = [p for p in problems(text) if p.code == "cannot-be"]
    assert len(found) >= 1 and any(said in p.message for p in found), problems(text)
    assert all(p.line == 19 for p in found) and all("012:" in p.message for p in found)


@pytest.mark.parametrize(
    "given",
    [
        "colony.frames_of_bees: 11, hive.frames: 10, hive.supers: 0",  # ten frames have up to eleven gaps
        "colony.frames_of_bees: 18, hive.frames: 10, hive.supers: 1",
        "colony.frames_of_bees: 15, hive.frames: 10",  # supers unknown: cannot be judged
        "hive.size: single, hive.frames: 30, hive.type: long",
        "hive.size: single, hive.frames: 30",  # might be a long hive
        "colony.alive: false, colony.frames_of_bees: 0",
        "weather.low_c: 5, weather.high_c: 5",
    ],
)
def test_what_may_be_together(given):
    assert read(GOOD.replace("food.heft: heavy, colony.eggs: false", given)).hives[1].facts


def test_a_site_fact_and_a_hive_fact_are_held_together():
    text = GOOD.replace("site.wind: exposed", "weather.low_c: 10").replace("colony.eggs: false", "weather.high_c: 5")
    assert any("coldest night" in p.message for p in problems(text))


def test_two_values_on_one_day():
    text = GOOD.replace("date: 2026-01-12, food.stores_kg: 9", "date: 2026-02-10, food.stores_kg: 9")
    assert [p.code for p in problems(text)] == ["two-values"]


def test_all_problems_come_in_one_run_in_order():
    text = (
        GOOD.replace("food.stores_kg: 4", "food.stores: 4")
        .replace("food.heft: heavy", "food.heft: hevy")
        .replace("cool_con", "kool_con")
    )
    found = problems(text)
    assert [p.code for p in found] == ["unknown-profile", "unknown-fact", "unknown-value"]
    assert [p.line for p in found] == sorted(p.line for p in found)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "empty-file"),
        ("   \n# only a note\n", "empty-file"),
        ("hives: [", "not-yaml"),
        ("- a\n- b\n", "wrong-type"),
        ("5", "wrong-type"),
        ("a: &x 1\nb: *x\n", "anchor"),
        ("scenario: x\n---\nscenario: y\n", "not-yaml"),
    ],
)
def test_files_that_are_no_scenario(text, code):
    assert code in [p.code for p in problems(text)]


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(InputProblems) as caught:
        facts.read_scenario(tmp_path / "none.yaml")
    assert [p.code for p in caught.value.problems] == ["no-file"]


def test_bytes_that_are_no_text(tmp_path):
    path = tmp_path / "x.yaml"
    path.write_bytes(b"scenario: \xff\xfe\n")
    with pytest.raises(InputProblems) as caught:
        facts.read_scenario(path)
    assert caught.value.problems[0].code == "not-utf8"


def test_climate_from_normals_needs_its_file_and_place(tmp_path):
    text = GOOD.replace("climate: cool_continental", "climate: {normals: mine.csv, lat: 50, lon: 8}")
    assert {p.code for p in problems(text, tmp_path)} == {"no-file", "missing-key"}
    (tmp_path / "mine.csv").write_text("month\n")
    scenario = read(text.replace("lon: 8", "lon: 8, elev_m: 100"), tmp_path)
    assert scenario.climate == {"normals": tmp_path / "mine.csv", "lat": 50.0, "lon": 8.0, "elev_m": 100.0}


def test_the_yard_has_dated_facts_too():
    text = GOOD.replace(
        "  lat: 48.1\n", "  observed:\n    - {date: 2026-02-08, site.spray_notice: true}\n  lat: 48.1\n"
    )
    assert read(text).apiary.observed == [(dt.date(2026, 2, 8), {"site.spray_notice": True})]
    assert [p.code for p in problems(text.replace("site.spray_notice", "colony.robbed"))] == ["unknown-fact"]
    assert [p.code for p in problems(text.replace("2026-02-08", "2026-02-28"))] == ["date-ahead"]


def test_season_events_can_be_moved_with_a_reason():
    moved = "  overrides:\n    stop_syrup_by: {from: 09-20, to: 09-30, note: high valley}\n"
    scenario = read(GOOD.replace("  lat: 48.1\n", moved + "  lat: 48.1\n"))
    assert scenario.apiary.overrides == {"stop_syrup_by": {"from": "09-20", "to": "09-30", "note": "high valley"}}
    for old, new, code in (
        (", note: high valley", "", "missing-key"),
        ("09-30", "09-31", "no-such-date"),
        ("stop_syrup_by", "stop_syrup", "unknown-event"),
    ):
        text = GOOD.replace("  lat: 48.1\n", moved.replace(old, new) + "  lat: 48.1\n")
        assert code in [p.code for p in problems(text)]


CASES = """\
hives:
  normal: {facts: {food.stores_kg: 12, colony.frames_of_bees: 8, colony.alive: true}}
cases:
  - {scenario: light, climate: boreal, date: 2026-02-10, rule: food.candy-now,
     hives: [{id: H1, like: normal, facts: {food.stores_kg: 1}, expect: {fires: [food.candy-now]}}]}
  - {scenario: unknown, climate: boreal, date: 2026-02-10, rule: food.candy-now,
     hives: [{id: H1, like: normal, facts: {food.stores_kg: ~}, expect: {undecided: [food.candy-now]}}]}
"""


def cases(tmp_path, text):
    path = tmp_path / "food.cases.yaml"
    path.write_text(text)
    return facts.read_cases(path, profile_ids=PROFILES)


def test_cases_share_presets_and_take_facts_away(tmp_path):
    light, unknown = cases(tmp_path, CASES)
    assert light.rule == "food.candy-now" and light.hives[0].expect == {"fires": ["food.candy-now"]}
    assert light.hives[0].facts == {"food.stores_kg": 1, "colony.frames_of_bees": 8, "colony.alive": True}
    assert unknown.hives[0].facts == {"colony.frames_of_bees": 8, "colony.alive": True}


def test_an_unknown_preset_and_a_contradiction_with_one(tmp_path):
    with pytest.raises(InputProblems, match="nearest: normal"):
        cases(tmp_path, CASES.replace("like: normal", "like: nrmal"))
    with pytest.raises(InputProblems, match=r"colony\.alive"):
        cases(tmp_path, CASES.replace("facts: {food.stores_kg: 1}", "facts: {colony.alive: false}"))


def test_every_published_case_is_read():
    folder = Path(__file__).resolve().parents[2] / "shared" / "cases"
    if not folder.is_dir():
        pytest.skip("the published cases do not stand beside this checkout (../shared/cases)")
    for path in sorted(folder.glob("*.yaml")):
        scenario = facts.read_scenario(path)
        assert scenario.hives and scenario.source and scenario.reason, path.name


def test_a_climate_of_the_other_half_of_the_earth_is_told_where_the_latitude_stands(tmp_path):
    path = tmp_path / "s.yaml"
    path.write_text(
        "scenario: upside down\nclimate: boreal\ndate: 2026-11-02\napiary: {lat: -37.8, lon: 145}\nhives:\n  - {id: Ash, facts: {}}\n"
    )
    with pytest.raises(InputProblems) as found:
        facts.read_scenario(path)
    assert [(p.line, p.col, p.code) for p in found.value.problems] == [(4, 15, "other-hemisphere")]

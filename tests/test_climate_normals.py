"""Normals in, profile out: what is refused, what is only remarked on, and that shipped profiles can be rebuilt."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hiveweek import content
from hiveweek.climate import load_profile, normals, profile_ids
from hiveweek.problems import InputProblems
from hiveweek.shapes import comment

FOLDER = content.root() / "climate_profiles"
GOOD = "month,tmean_c,tmin_c,tmax_c,precip_mm\n" + "".join(
    f"{m},{t},{t - 4},{t + 5},{60 + m}\n" for m, t in enumerate([-2, 0, 4, 9, 14, 17, 19, 18, 14, 9, 4, 0], start=1)
)


def codes(text):
    return [p.code for p in normals.parse_csv(text, "n.csv")[1]]


@pytest.mark.parametrize("profile", profile_ids())
def test_every_shipped_profile_is_exactly_what_the_build_gives(profile):
    built = normals.build_profile(FOLDER / "normals" / f"{profile}.csv", FOLDER / "normals" / f"{profile}.about.yaml")
    assert comment("profile", FOLDER) + built == (FOLDER / f"{profile}.yaml").read_text(encoding="utf-8")


def test_twenty_two_profiles_each_with_its_source():
    assert len(profile_ids()) == 22
    for name in profile_ids():
        source = load_profile(name).source
        for key in ("station", "period", "publisher", "kind", "licence", "attribution"):
            assert source[key], (name, key)
        assert source["kind"] in ("official normals", "means of reports")


def test_a_sound_table_has_no_problem_and_keeps_unknown_unknown():
    text = GOOD.replace("precip_mm\n", "precip_mm,snow_days\n", 1)
    head, *rows = text.splitlines()
    text = "\n".join([head] + [row + ("," if i else ",12") for i, row in enumerate(rows)]) + "\n"
    monthly, problems, warnings = normals.parse_csv(text)
    assert problems == [] and warnings == []
    assert monthly["snow_days"][0] == 12
    assert np.isnan(monthly["snow_days"][1:]).all()
    assert "vapour_hpa" not in monthly


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "empty-file"),
        ("\n\n", "empty-file"),
        (GOOD.replace("7,19,15,24,67\n", ""), "month-missing"),
        (GOOD.replace("7,19,15,24,67", "7,19,25,24,67"), "min-above-max"),
        (GOOD.replace("7,19,15,24,67", "7,12,15,24,67"), "mean-outside"),
        (GOOD.replace("7,19,15,24,67", "7,19,15,24"), "row-length"),
        (GOOD.replace("7,19,15,24,67", "7,warm,15,24,67"), "not-a-number"),
        (GOOD.replace("7,19,15,24,67", "7,nan,15,24,67"), "not-a-number"),
        (GOOD.replace("7,19,15,24,67", "7,19,,24,67"), "value-missing"),
        (GOOD.replace("7,19,15,24,67", "7,19,15,24,-67"), "out-of-range"),
        (GOOD.replace("7,19,15,24,67", "8,19,15,24,67"), "month-twice"),
        (GOOD.replace("7,19,15,24,67", "13,19,15,24,67"), "month"),
        (GOOD.replace("tmean_c", "tmean_f"), "unknown-column"),
        (GOOD.replace("precip_mm", "tmin_c"), "duplicate-column"),
        (GOOD.replace("precip_mm", "rh_pct"), "column-missing"),
    ],
)
def test_broken_tables_are_refused(text, code):
    assert code in codes(text)


def test_a_problem_names_file_line_column_and_month():
    problems = normals.parse_csv(GOOD.replace("7,19,15,24,67", "7,19,25,24,67"), "n.csv")[1]
    assert len(problems) == 1
    assert str(problems[0]).startswith("n.csv:8:3: min-above-max July")


def test_all_problems_come_in_one_run():
    text = GOOD.replace("7,19,15,24,67", "7,x,15,24,67").replace("2,0,-4,5,62", "2,0,-4,5,y")
    assert codes(text) == ["not-a-number", "not-a-number"]


def test_twelve_equal_months_are_refused():
    text = "month,tmean_c,tmin_c,tmax_c,precip_mm\n" + "".join(f"{m},10,5,15,50\n" for m in range(1, 13))
    assert "months-equal" in codes(text)


def test_fahrenheit_is_suspected():
    # Cork, 1981-2010, turned to degrees Fahrenheit by a slip: 42 to 59 as a mean is no climate on earth in Celsius
    cork = load_profile("mild_maritime").monthly
    rows = ["month,tmean_c,tmin_c,tmax_c,precip_mm"]
    for m in range(12):
        f = [round(cork[c][m] * 9 / 5 + 32, 1) for c in ("tmean_c", "tmin_c", "tmax_c")]
        rows.append(f"{m + 1},{f[0]},{f[1]},{f[2]},{cork['precip_mm'][m]}")
    problems = normals.parse_csv("\n".join(rows))[1]
    assert any("Fahrenheit" in p.message for p in problems)


@pytest.mark.parametrize("profile", profile_ids())
def test_every_profile_given_in_fahrenheit_is_noticed(profile):
    monthly = load_profile(profile).monthly
    rows = ["month,tmean_c,tmin_c,tmax_c,precip_mm"]
    for m in range(12):
        f = [round(float(monthly[c][m]) * 9 / 5 + 32, 1) for c in ("tmean_c", "tmin_c", "tmax_c")]
        rows.append(f"{m + 1},{f[0]},{f[1]},{f[2]},{monthly['precip_mm'][m]}")
    _, problems, warnings = normals.parse_csv("\n".join(rows))
    assert any("Fahrenheit" in text for text in [p.message for p in problems] + warnings)


def test_a_low_desert_is_only_asked_about():
    # Furnace Creek in July: mean 39.6, lowest 31.4, highest 47.7 degC (from memory)
    text = GOOD.replace("7,19,15,24,67", "7,39.6,31.4,47.7,3").replace("8,18,14,23,68", "8,38,30,46,3")
    _, problems, warnings = normals.parse_csv(text)
    assert problems == [] and any("Fahrenheit" in w for w in warnings)


@pytest.mark.parametrize("profile", profile_ids())
def test_no_real_climate_is_called_fahrenheit(profile):
    _, problems, warnings = normals.read_csv(FOLDER / "normals" / f"{profile}.csv")
    assert problems == []
    assert not any("Fahrenheit" in text for text in warnings)


def test_a_month_that_stands_out_is_remarked_on():
    warnings = normals.parse_csv(GOOD.replace("7,19,15,24,67", "7,-1,-5,3,67"))[2]
    assert any(text.startswith("July") for text in warnings)


def test_more_vapour_than_air_can_hold_is_remarked_on():
    _, problems, warnings = normals.read_csv(FOLDER / "normals" / "mild_maritime.csv")
    assert problems == []
    assert len(warnings) == 1 and warnings[0].startswith("March: vapour pressure 10.48")


def about(tmp_path, **changes):
    base = {
        "id": "hill",
        "station": '"Hill"',
        "lat": 50.1,
        "lon": 8.2,
        "elev_m": 300,
        "period": '"1991-2020"',
        "publisher": '"a service"',
        "licence": '"open"',
        "attribution": '"a service"',
    }
    base.update(changes)
    path = tmp_path / "hill.about.yaml"
    path.write_text("".join(f"{k}: {v}\n" for k, v in base.items() if v is not None), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"lat": 91}, "out-of-range"),
        ({"lat": "north"}, "wrong-type"),
        ({"lon": -181}, "out-of-range"),
        ({"licence": None}, "missing-key"),
        ({"colour": "blue"}, "unknown-key"),
        ({"id": '"a b/c"'}, "bad-name"),
    ],
)
def test_the_about_file_is_checked(tmp_path, changes, code):
    found = normals.read_about(about(tmp_path, **changes))[1]
    assert [p.code for p in found] == [code]
    assert found[0].line >= 1


def test_build_reports_both_files_at_once(tmp_path):
    table = tmp_path / "hill.csv"
    table.write_text(GOOD.replace("7,19,15,24,67", "7,x,15,24,67"), encoding="utf-8")
    with pytest.raises(InputProblems) as caught:
        normals.build_profile(table, about(tmp_path, lat=95))
    assert {p.code for p in caught.value.problems} == {"not-a-number", "out-of-range"}


def test_built_text_reads_back_as_the_same_figures(tmp_path):
    table = tmp_path / "hill.csv"
    table.write_text(GOOD, encoding="utf-8")
    text = normals.build_profile(table, about(tmp_path))
    path = tmp_path / "hill.yaml"
    path.write_text(text, encoding="utf-8")
    profile = load_profile(path)
    assert profile.id == "hill" and profile.elev_m == 300
    np.testing.assert_array_equal(profile.monthly["tmean_c"], normals.parse_csv(GOOD)[0]["tmean_c"])


def test_missing_files_are_problems_not_tracebacks(tmp_path):
    with pytest.raises(InputProblems) as caught:
        normals.build_profile(tmp_path / "none.csv", tmp_path / "none.yaml")
    assert {p.code for p in caught.value.problems} == {"no-file"}


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=300))
def test_no_text_gives_a_traceback(text):
    monthly, problems, _ = normals.parse_csv(text)
    assert problems or monthly


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(1, 12), st.sampled_from(["", "x", "1e999", "-", "5", "1_0", "٣"])), max_size=6))
def test_cells_of_all_kinds_are_refused_or_read(changes):
    rows = [line.split(",") for line in GOOD.splitlines()]
    for month, cell in changes:
        rows[month][1 + month % 4] = cell
    text = "\n".join(",".join(row) for row in rows)
    monthly, problems, _ = normals.parse_csv(text)
    assert problems or all(np.isfinite(monthly[name]).all() for name in ("tmean_c", "tmin_c", "tmax_c", "precip_mm"))


def test_paths_in_problems_are_short():
    problem = normals.read_csv(Path("no/such/file.csv"))[1][0]
    assert problem.file == "no/such/file.csv"

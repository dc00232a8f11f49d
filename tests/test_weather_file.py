"""Reading the forecast file: every problem with its place, in one run; an empty cell is unknown, never zero."""

import datetime as dt
import math

import pytest

from hiveweek.climate import forecast
from hiveweek.problems import InputProblems

GOOD = """date,tmin_c,tmax_c,precip_mm,wind_kmh
2026-02-10,-3.5,4,0,12
2026-02-11,1,9.5,,8
2026-02-12,2,11,6.2,
"""


def found(text):
    return [(p.line, p.col, p.code) for p in forecast.parse(text)[1]]


def test_a_good_file():
    days, problems = forecast.parse(GOOD)
    assert problems == []
    assert days[0] == forecast.Day(dt.date(2026, 2, 10), -3.5, 4.0, 0.0, 12.0)
    assert math.isnan(days[1].precip) and days[1].wind == 8
    assert math.isnan(days[2].wind) and days[2].precip == 6.2


def test_columns_in_any_order_and_days_in_any_order():
    days, problems = forecast.parse("wind_kmh, tmax_c ,date,tmin_c\n5,9,2026-02-12,1\n6,8,2026-02-11,0\n")
    assert problems == []
    assert [day.date.day for day in days] == [11, 12]
    assert days[0].wind == 6 and math.isnan(days[0].precip)


def test_quotes_marks_and_line_ends_of_spreadsheets(tmp_path):
    path = tmp_path / "week.csv"
    path.write_bytes(
        b'\xef\xbb\xbfdate,tmin_c,tmax_c\r\n"2026-02-10","1","5"\r\n\r\n# a remark\r\n2026-02-11, 2 ,6\r\n'
    )
    days = forecast.read(path)
    assert [(day.tmin, day.tmax) for day in days] == [(1, 5), (2, 6)]


def test_every_problem_in_one_run_with_its_place():
    text = (
        "date,tmin_c,tmax_c,rain_mm,wind_kmh\n"
        "2026-02-30,1,5,0,3\n"
        "2026-02-11,one,5,0,3\n"
        "2026-02-12,9,5,0,3\n"
        "2026-02-12,1,5,0,3\n"
        "2026-02-13,1,75,0,3\n"
        "2026-02-14,1,5\n"
        "2026-02-15,1,5,0,-4\n"
    )
    assert found(text) == [
        (1, 20, "unknown-column"),
        (2, 1, "bad-date"),
        (3, 12, "not-a-number"),
        (4, 12, "low-above-high"),
        (5, 1, "date-twice"),
        (6, 14, "out-of-range"),
        (7, 1, "cells"),
        (8, 18, "out-of-range"),
    ]


def test_what_to_do_stands_in_the_message():
    messages = [p.message for p in forecast.parse("date,tmin_c,tmax_c,precip\n2026-02-10,20,68,0\n")[1]]
    assert "nearest: precip_mm" in messages[0]
    assert "degF" in messages[1]


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "empty-file"),
        ("\n\n", "empty-file"),
        ("date,tmin_c,tmax_c\n", "no-days"),
        ("date,tmin_c\n2026-02-10,1\n", "missing-column"),
        ("date;tmin_c;tmax_c\n2026-02-10;1;5\n", "not-csv"),
        ("date,tmin_c,tmax_c,tmax_c\n2026-02-10,1,5,6\n", "column-twice"),
        ("date,tmin_c,tmax_c\n20260210,1,5\n", "bad-date"),
        ("date,tmin_c,tmax_c\n2026-02-10,nan,5\n", "not-a-number"),
        ("date,tmin_c,tmax_c\n2026-02-10,1e3,5\n", "not-a-number"),
        ("date,tmin_c,tmax_c\n2026-02-10,inf,5\n", "not-a-number"),
        ("date,tmin_c,tmax_c\n2026-02-10,1,-\n", "not-a-number"),
    ],
)
def test_one_problem_a_file(text, code):
    assert code in [c for _, _, c in found(text)]


@pytest.mark.parametrize(
    ("content", "code"), [(None, "no-file"), (b"date,tmin_c\xff", "not-utf8"), (b"x" * 2_100_000, "too-large")]
)
def test_files_that_cannot_be_read(tmp_path, content, code):
    path = tmp_path / "week.csv"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(InputProblems) as caught:
        forecast.read(path, "week.csv")
    assert [p.code for p in caught.value.problems] == [code]
    assert caught.value.problems[0].file == "week.csv"


def test_a_folder_is_no_file(tmp_path):
    with pytest.raises(InputProblems):
        forecast.read(tmp_path)

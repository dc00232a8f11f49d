"""The store of numbers: what a row holds, and every mistake in one named with its place."""

import numpy as np
import pytest

from hiveweek import content, numbers, vocabulary
from hiveweek.authoring import book
from hiveweek.numbers import reader
from hiveweek.problems import InputProblems
from hiveweek.shapes import marked_yaml
from upkeep.schemas import numbers as schema

ROW = "unit: kg, source: [W1], status: seen"


def read(text, sources=None):
    """Return rows and problems of a number file."""
    problems = []
    rows = reader.read_file(marked_yaml.parse(text, "n.yaml"), "model", problems, sources)
    return rows, sorted(problems)


def one(row):
    """Return the problems of a file with one row, on its third line."""
    return read(f"numbers:\n  food:\n    a: {row}\n")[1]


@pytest.mark.parametrize(
    ("row", "code", "words"),
    [
        (f"{{{ROW}}}", "missing-key", "'value' or 'curve'"),
        (f"{{value: 3, curve: [[1, 2], [2, 3]], {ROW}}}", "missing-key", "'value' or 'curve'"),
        (f"{{value: many, {ROW}}}", "wrong-type", "a number"),
        (f"{{value: true, {ROW}}}", "wrong-type", "a number"),
        (f"{{value: 3, band: [4, 5], {ROW}}}", "outside-band", "4 to 5"),
        (f"{{value: 3, band: [5, 1], {ROW}}}", "out-of-range", "backwards"),
        (f"{{value: 3, band: [1], {ROW}}}", "out-of-range", "at least 2"),
        ("{value: 3, source: [W1], status: seen}", "missing-key", "'unit'"),
        ("{value: 3, unit: kg, status: seen}", "missing-key", "'source'"),
        ("{value: 3, unit: kg, source: [W1]}", "missing-key", "'status'"),
        ("{value: 3, unit: kg, source: [W1], status: certain}", "unknown-value", "seen, seen-2nd, memory"),
        (f"{{value: 3, colour: red, {ROW}}}", "unknown-key", "curve"),
        (f"{{value: 3, notes: red, {ROW}}}", "unknown-key", "nearest: note"),
        (f"{{value: 3, constant: false, {ROW}}}", "wrong-type", "true"),
        (f"{{curve: [[1, 2], [1, 3]], {ROW}}}", "not-a-curve", "x rising"),
        (f"{{curve: [[1, 2]], {ROW}}}", "out-of-range", "at least 2"),
        (f"{{curve: [[1, two], [2, 3]], {ROW}}}", "wrong-type", "a number"),
        ("3", "wrong-type", "a mapping"),
    ],
)
def test_a_bad_row_is_named_with_its_place(row, code, words):
    found = one(row)
    assert [p.code for p in found] == [code]
    assert (found[0].file, found[0].line) == ("n.yaml", 3) and found[0].col >= 5
    assert words in found[0].message


@pytest.mark.parametrize("text", ["", "numbers: {}\n", "numbers: [1]\n", "criteria: {}\n", "numbers: {food: {}}\n"])
def test_a_file_without_numbers_is_told(text):
    rows, problems = read(text)
    assert rows == {} and problems


def test_all_faults_in_one_run():
    rows, problems = read(
        f"numbers:\n  food:\n    a: {{value: 3, status: seen, source: [W1]}}\n    b: {{value: x, {ROW}}}\n"
        f"    c: {{value: 1, {ROW}}}\n"
    )
    assert [p.line for p in problems] == [3, 4]
    assert rows["model.food.c"].value == 1


def test_a_reason_lets_a_value_lie_outside_its_band():
    rows, problems = read(
        f'numbers:\n  food:\n    a: {{value: 3, band: [4, 5], outside_band: "measured on this moor", {ROW}}}\n'
    )
    row = rows["model.food.a"]
    assert problems == [] and row.outside_band == "measured on this moor"
    assert (row.low, row.high) == (3, 5), "an interval taken from the band still holds the value"


def test_sources_are_looked_up_and_the_nearest_is_told():
    _, problems = read(
        f"numbers:\n  food:\n    a: {{value: 3, {ROW.replace('[W1]', '[S1, W11x]')}}}\n", {"S1": 0, "W11": 0}
    )
    assert [(p.code, p.line) for p in problems] == [("unknown-source", 3)]
    assert "nearest: W11" in problems[0].message


def test_a_missing_file_is_told_with_its_name(tmp_path):
    with pytest.raises(InputProblems) as caught:
        reader.read(tmp_path)
    assert [p.code for p in caught.value.problems] == ["no-file"] * len(reader.ROOTS)


def test_shipped_numbers_carry_unit_status_and_known_sources():
    known = vocabulary.load().sources
    for root in reader.ROOTS:
        path = reader.path_of(content.root() / "rulesets", root)
        problems = []
        rows = reader.read_file(marked_yaml.read(path), root, problems, known)
        assert problems == [] and rows
    for row in numbers.shipped().rows.values():
        assert row.status in schema.STATUSES and row.source, row.name
        assert set(row.source) <= set(known), row.name
        assert row.low <= row.value <= row.high, row.name
        assert row.name.count(".") == 2, "three parts each, so that no number has the name of a fact"


def test_there_is_one_list_of_statuses_and_the_rulebook_explains_each():
    assert tuple(book.STATUS) == schema.STATUSES


def test_judgement_and_memory_say_why():
    # What nobody published must say what it stands on: by a note, a band, or as common practice.
    silent = [
        row.name
        for row in numbers.shipped().rows.values()
        if row.status in ("judgement", "memory") and not (row.note or row.band or row.source == ("common-practice",))
    ]
    assert silent == []


def test_moving_makes_another_store_and_leaves_the_first():
    import dataclasses
    import pickle

    first = numbers.shipped()
    name = "season.winter.cluster_autumn_mean_c"
    other = first.moved([dataclasses.replace(first[name], value=4.0)])
    assert other.season.winter.cluster_autumn_mean_c == 4.0 != first.season.winter.cluster_autumn_mean_c
    assert not other.same(first, "season") and other.same(first, "weather") and first.same(first, "season")
    again = pickle.loads(pickle.dumps(other))
    assert dict(again.rows) == dict(other.rows) and again.season.winter.cluster_autumn_mean_c == 4.0
    assert len(first) == len(other) and set(first) == set(other) and name in first and first.get("x.y.z") is None
    with pytest.raises(AttributeError, match="cluster_autum"):
        _ = first.season.winter.cluster_autum


def test_a_curve_reads_straight_between_its_corners_or_in_steps():
    curve = numbers.shipped().model.points["starvation_cold"]
    xs, ys = zip(*curve.curve, strict=True)
    assert curve.at(xs).tolist() == list(ys)
    assert curve.at([(xs[0] + xs[1]) / 2])[0] == pytest.approx((ys[0] + ys[1]) / 2)
    assert curve.at([1e6])[0] == ys[-1] and np.isnan(curve.at([np.nan])[0])
    steps = numbers.Number("plan.a.b", 3.0, curve=((0, 3.0), (10, 1.0)))
    assert [steps.step(x) for x in (-5, 0, 9.9, 10, 50)] == [3, 3, 3, 1, 1]

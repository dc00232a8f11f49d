"""The parameter file and the table of models against published figures."""

import pytest
import yaml

from hiveweek import content
from hiveweek.colony import parameters
from hiveweek.problems import InputProblems
from upkeep import check_table


def test_every_parameter_names_a_source_that_is_listed():
    listed = yaml.safe_load((content.root() / "rulesets/vocabulary/sources.yaml").read_text(encoding="utf-8"))
    for row in parameters.load().rows.values():
        assert set(row.source) <= set(listed), row.name
        assert row.low <= row.value <= row.high, row.name


def test_judgement_and_memory_say_why():
    # What nobody published must say what it stands on, by a note or a band.
    silent = [
        row.name
        for row in parameters.load().rows.values()
        if row.status in ("judgement", "memory") and not row.note and row.low == row.high
    ]
    assert silent == []


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("a: {unit: kg, source: [W1], status: seen}", "no-value"),
        ("a: {value: many, unit: kg, source: [W1], status: seen}", "not-a-number"),
        ("a: {value: 3, low: 4, unit: kg, source: [W1], status: seen}", "band"),
        ("a: {value: 3, source: [W1], status: seen}", "no-unit"),
        ("a: {value: 3, unit: kg, status: seen}", "no-source"),
        ("a: {value: 3, unit: kg, source: [W1], status: certain}", "status"),
        ("a: {value: 3, unit: kg, source: [W1], status: seen, colour: red}", "unknown-key"),
        ("a: {curve: [[1, 2], [1, 3]], unit: kg, source: [W1], status: seen}", "not-a-curve"),
        ("a: 3", "not-a-row"),
        ("", "empty-file"),
    ],
)
def test_a_bad_row_is_named_with_its_place(tmp_path, text, code):
    path = tmp_path / "p.yaml"
    path.write_text("# numbers\n" + text, encoding="utf-8")
    with pytest.raises(InputProblems) as caught:
        parameters.read(path)
    assert [p.code for p in caught.value.problems] == [code]
    assert caught.value.problems[0].line >= 1


def test_all_faults_in_one_run(tmp_path):
    path = tmp_path / "p.yaml"
    path.write_text(
        "a: {value: 3, status: seen, source: [W1]}\nb: {value: x, unit: kg, source: [W1], status: seen}\n",
        encoding="utf-8",
    )
    with pytest.raises(InputProblems) as caught:
        parameters.read(path)
    assert [p.line for p in caught.value.problems] == [1, 2]


def test_curve_reads_straight_between_corners():
    curve = parameters.load()["starvation_cold"]
    xs, ys = zip(*curve.curve, strict=True)
    assert curve.at(xs).tolist() == list(ys)
    assert curve.at([(xs[0] + xs[1]) / 2])[0] == pytest.approx((ys[0] + ys[1]) / 2)
    assert curve.at([1e6])[0] == ys[-1]


def test_models_page_is_up_to_date():
    page = check_table.page(check_table.rows())
    assert (content.root() / "docs" / "models.md").read_text(encoding="utf-8") == page
    assert check_table.main(["--check"]) == 0


def test_models_lie_in_the_published_bands_or_say_why():
    table = check_table.rows()
    for row in table:
        assert row.inside or row.why, f"{row.what}: {row.model} outside {row.low}-{row.high} without a reason"
        assert not (row.inside and row.why), f"{row.what}: inside, its excuse is stale"
    places = [row for row in table if row.what.startswith("Stores before winter") and row.inside]
    assert len(places) >= 8
    assert sum(row.status == "seen" for row in places) >= 6


def test_a_row_with_an_unknown_model_is_refused(tmp_path):
    path = tmp_path / "m.yaml"
    path.write_text(
        "rows:\n  - {what: a, unit: kg, published: [1, 2], source: W1, status: seen, model: magic, with: {}}\n",
        encoding="utf-8",
    )
    with pytest.raises(InputProblems):
        check_table.rows(path)

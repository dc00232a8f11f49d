"""The table of models against published figures."""

import pytest

from hiveweek import content
from hiveweek.problems import InputProblems
from upkeep import check_table


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

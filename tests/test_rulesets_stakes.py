"""Points of the rules against the scale of stakes and its budgets."""

import re

import pytest

from hiveweek import content, rules, vocabulary
from hiveweek.plan import ranking
from hiveweek.shapes import marked_yaml

ROW = re.compile(r"^Row ([A-Z]\d+)(?:[.:]|$)")


@pytest.fixture(scope="module")
def scale():
    document = marked_yaml.read(content.root() / "rulesets" / "vocabulary" / "stakes.yaml")
    assert not document.problems
    return document.data


@pytest.fixture(scope="module")
def advising():
    library = rules.library(vocabulary.load())
    assert not library.problems
    return {raw.id: raw for raw in library.rules.values() if "advise" in raw.pieces}


def test_sums_stay_within_what_surveys_say_is_lost(scale):
    # Points times how often colonies are left in the situation may not exceed the losses by cause that the surveys report.
    sums = {}
    for row in scale["rows"].values():
        if "left" in row:
            sums[row["cause"]] = sums.get(row["cause"], 0.0) + row.get("counts", row["points"]) * row["left"] / 100
    assert set(sums) == set(scale["budgets"])
    for cause, total in sums.items():
        assert 0 < total <= scale["budgets"][cause]["lost"], cause


def test_every_row_lies_in_its_own_range(scale):
    for name, row in scale["rows"].items():
        low, high = row["range"]
        assert low <= row["points"] <= high, name


def test_rules_keep_to_the_row_they_name(scale, advising):
    weight = ranking.load(vocabulary.load()).weights.crop
    named = 0
    for raw in advising.values():
        stakes = raw.pieces["stakes"].value if "stakes" in raw.pieces else {}
        found = ROW.match(str(stakes.get("note", "")))
        if not found:
            continue
        named += 1
        row = scale["rows"][found.group(1)]
        points = stakes["gain_pts"] * (weight if stakes["loses"] == "crop" else 1.0)
        low, high = row["range"]
        assert low <= points <= high, f"{raw.id} gives {points}, row {found.group(1)} goes from {low} to {high}"
    assert named >= 30


def test_every_row_is_used(scale, advising):
    notes = " ".join(
        str(raw.pieces["stakes"].value.get("note", "")) for raw in advising.values() if "stakes" in raw.pieces
    )
    unused = [name for name in scale["rows"] if not re.search(rf"\b{name}\b", notes)]
    assert not unused


def test_no_rule_is_above_the_worst_row(scale, advising):
    top = max(row["range"][1] for row in scale["rows"].values())
    for raw in advising.values():
        stakes = raw.pieces["stakes"].value if "stakes" in raw.pieces else {"gain_pts": 0, "loses": "colony"}
        if stakes["loses"] != "crop":
            assert stakes["gain_pts"] <= top, raw.id

"""The worked overlay's page is what its commands print, and the parts of ``hiveweek rules`` say what they should."""

import json
from pathlib import Path

import pytest

from hiveweek import content, vocabulary
from hiveweek.cli.main import main
from hiveweek.cli.rules import PARTS
from hiveweek.rules import reader
from upkeep import pages

OVERLAY = content.root() / "docs" / "worked-overlay" / "long_fell.yaml"
CASES = content.root() / "docs" / "worked-overlay" / "long_fell.cases.yaml"


# --- the page
def test_a_page_that_has_fallen_behind_is_told_and_renewed(tmp_path, capsys):
    page = tmp_path / "page.md"
    page.write_text(
        "# A page\n\n```console\n$ hiveweek --version\nhiveweek 0\n$ hiveweek rules year nowhere | head -1\n```\n\nEnd.\n"
    )
    assert pages.main([str(page)]) == 1
    assert capsys.readouterr().out.startswith(f"{page}:5:1: ")
    assert pages.main(["--write", str(page)]) == 0
    assert pages.main([str(page)]) == 0
    text = page.read_text()
    assert (
        "hiveweek 0\n" not in text
        and "unknown-profile 'nowhere' is no profile" in text
        and text.endswith("```\n\nEnd.\n")
    )


def test_an_exit_code_is_shown_where_nothing_is_cut_off():
    assert pages.run("hiveweek rules year nowhere").endswith("(exit code 2)\n")
    assert "exit code" not in pages.run("hiveweek rules year nowhere | tail -1")


def test_what_moves_with_any_edit_is_left_out():
    assert "rulesets/base/harvest.yaml:LINE:COL" in pages.run(
        "hiveweek rules merged boreal | grep limit.harvest.late_weeks"
    )


@pytest.mark.parametrize(
    "command", ["rm -r docs", "hiveweek --version | sort", "hiveweek --version | head -x", "cat a b", ""]
)
def test_a_page_runs_nothing_else(command):
    with pytest.raises(pages.PageError):
        pages.run(command)


# --- the parts
def test_every_part_has_a_command(capsys):
    assert main(["rules"]) == 0
    out = capsys.readouterr().out
    assert not [part for part in PARTS if f"\n    {part} " not in out]


def test_a_part_that_is_none(capsys):
    with pytest.raises(SystemExit) as stopped:
        main(["rules", "chek"])
    assert stopped.value.code == 2


@pytest.mark.parametrize("part", ["check", "cases", "coverage", "prove"])
def test_a_path_that_is_not_there(part, capsys):
    assert main(["rules", part, "nowhere.yaml"]) == 2
    assert "nowhere.yaml:1:1: no-file" in capsys.readouterr().err


def test_cases_that_hold_and_one_that_does_not(tmp_path, capsys):
    assert main(["rules", "cases", str(CASES), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["failures"] == []
    folder = tmp_path / "fell"
    folder.mkdir()
    (folder / OVERLAY.name).write_text(OVERLAY.read_text().replace("look_days: {value: 21", "look_days: {value: 40"))
    (folder / CASES.name).write_text(CASES.read_text())
    assert main(["rules", "cases", str(folder / CASES.name)]) == 1
    out = capsys.readouterr().out
    assert "expected that long_fell.look-after-heather fires; it does not fire" in out
    assert "      - log.days_since_opened > limit.long_fell.look_days  [" in out  # the part that decided, and no other
    assert "+ harvest.honey_kind == heather" not in out
    assert out.splitlines()[-1] == "4 of 7 cases hold"


def test_an_overlay_named_twice_is_one(capsys):
    library = reader.read_library(
        vocabulary.load(), None, [OVERLAY, OVERLAY.parent / ".." / OVERLAY.parent.name / OVERLAY.name]
    )
    assert [overlay.name for overlay in library.overlays].count("long_fell") == 1
    yard = OVERLAY.parent / "yard.yaml"
    assert main(["week", str(yard), "--offline", "--rules", str(OVERLAY), "--rules", str(OVERLAY), "--json"]) in (0, 3)
    told = json.loads(capsys.readouterr().out)["hives"][0]["advice"]
    rules = {rule for advice in told for rule in (advice["rule"], *(one["rule"] for one in advice["also"]))}
    assert "long_fell.look-after-heather" in rules


def test_places_in_the_coverage_are_the_rules_own(capsys):
    assert main(["rules", "coverage", str(CASES), "--rules", str(OVERLAY), "--all", "--with-base", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    own = [row for row in found["missing"] if row["item"].startswith("swarm.")]
    assert own and all(Path(row["place"].rsplit(":", 2)[0]).stem == "swarm" for row in own)


def test_a_shipped_rule_file_may_be_named(capsys):
    """A newcomer names the file that was changed; it is checked with all others, not taken for an overlay."""
    assert main(["rules", "check", "rulesets/base/food.yaml"]) == 0
    assert "0 errors" in capsys.readouterr().out


def test_the_trace_of_a_case_speaks_words(tmp_path, capsys):
    """No codes of the program: what does not hold is said so."""
    case = tmp_path / "x.cases.yaml"
    case.write_text(
        "cases:\n  - scenario: a heavy hive\n    rule: food.candy-now\n    climate: snowy_continental\n    date: 2026-02-10\n"
        "    hives: [{id: H, facts: {food.stores_kg: 30, colony.frames_of_bees: 6}, expect: {fires: [food.candy-now]}}]\n",
        encoding="utf-8",
    )
    assert main(["rules", "cases", str(case)]) == 1
    said = capsys.readouterr().out
    assert "food.candy-now" in said
    assert "does not hold" in said or "not known" in said
    assert "does-not-hold" not in said

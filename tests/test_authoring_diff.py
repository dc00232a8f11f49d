"""Two versions of an overlay held against each other, as an author does it on the command line."""

import json
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st
from valley_kit import FIRST, write

from hiveweek.authoring.entries import Entry, changes, condition
from hiveweek.cli.main import main

COMMAND = (sys.executable, "-m", "hiveweek.cli.main")
SECOND = {
    **FIRST,
    "version": 2,
    "weeks": 5,
    "off": 'disable:\n  - {rule: harvest.supers-off-late, reason: "They stay on the moor."}\n',
    "frames": 19,
    "more": ", harvest.honey_kind == heather",
    "because": "There are many bees in this hive of the moor.",
}


@pytest.fixture(scope="module")
def report(tmp_path_factory):
    place = tmp_path_factory.mktemp("both")
    old, new = write(place / "old", FIRST), write(place / "new", SECOND)
    ran = subprocess.run(
        [*COMMAND, "rules", "diff", old, new, "--yards", "24", "--json", "--exit-code"],
        check=False,
        capture_output=True,
        text=True,
    )
    assert ran.returncode == 1, ran.stderr
    return json.loads(ran.stdout)


def said(report, kind, name):
    return next(e for e in report["entries"] if (e["kind"], e["name"]) == (kind, name))


def test_each_entry_that_differs_is_told_in_words(report):
    assert said(report, "head", "valley")["said"] == ["version: 1 -> 2"]
    assert said(report, "number", "limit.harvest.late_weeks")["said"] == ["value: 4 weeks -> 5 weeks"]
    assert said(report, "limit", "limit.valley.frames")["said"] == ["value: 4 frames -> 19 frames"]
    off = said(report, "off", "harvest.supers-off-late")
    assert off["how"] == "added" and off["said"] == ["reason: They stay on the moor."]
    when, because = said(report, "rule", "valley.look")["said"]
    assert when == (
        'when: "all of (colony.frames_of_bees > limit.valley.frames)" -> '
        '"all of (colony.frames_of_bees > limit.valley.frames; harvest.honey_kind == heather)"'
    )
    assert because.endswith('bees in this hive." -> "... many bees in this hive of the moor."')
    assert len(report["entries"]) == 5


def test_whose_advice_changes_is_told(report):
    assert report["yards"]["asked"] == 24 and report["yards"]["hives"] == 144 and report["yards"]["differ"] > 0
    assert any(change["action"] == "check-entrance" for change in report["advice"])
    assert {change["profile"] for change in report["advice"]} == {"cool_maritime"}


def test_what_no_case_covers_any_more_is_told(report):
    lost = {row["item"] for row in report["uncovered"] if row["before"]}
    assert "rule valley.look fires" in lost and "limit limit.valley.frames from above" in lost
    assert any(not row["before"] for row in report["uncovered"])
    assert len(report["failing"]) == 1 and "valley.look fires" in report["failing"][0]


def git(place, *words):
    subprocess.run(["git", "-C", str(place), "-c", "user.name=a", "-c", "user.email=a@b.c", *words], check=True)


def test_a_revision_is_read_without_a_checkout(tmp_path, monkeypatch, capsys):
    write(tmp_path / "my rules", FIRST)
    git(tmp_path, "init", "-q", "-b", "main")
    git(tmp_path, "add", ".")
    git(tmp_path, "commit", "-q", "-m", "first")
    new = write(tmp_path / "my rules", SECOND)
    monkeypatch.chdir(tmp_path)
    before = sorted(str(p) for p in tmp_path.rglob("*") if ".git" not in p.parts)
    assert main(["rules", "diff", "HEAD:my rules", "my rules", "--yards", "0"]) == 0
    out = capsys.readouterr().out
    assert "value: 4 weeks -> 5 weeks" in out and "no case covers any more: rule valley.look fires" in out
    assert main(["rules", "diff", new, "HEAD:my rules/valley.yaml", "--yards", "0", "--exit-code"]) == 1
    out = capsys.readouterr().out
    assert "HEAD:my rules/valley.yaml:6:5: changed: moved number limit.harvest.late_weeks" in out
    assert "taken away: rule harvest.supers-off-late switched off" in out
    monkeypatch.chdir(tmp_path / "my rules")
    assert main(["rules", "diff", "HEAD:./valley.yaml", "HEAD:my rules", "--exit-code"]) == 0
    assert "nothing differs between" in capsys.readouterr().out
    assert sorted(str(p) for p in tmp_path.rglob("*") if ".git" not in p.parts) == before


@pytest.mark.parametrize(
    ("old", "code", "words"),
    [
        ("nowhere.yaml", "no-file", "there is no such file or folder"),
        ("mian:valley.yaml", "no-revision", "'mian' is no git revision; nearest: main"),
        ("main:hills.yaml", "no-revision", "revision 'main' holds no 'hills.yaml'"),
        ("main:bad.yaml", "not-yaml", "main:bad.yaml:4:1: "),
        ("empty", "no-file", "there is no .yaml file in this folder"),
    ],
)
def test_what_cannot_be_read_is_told(old, code, words, tmp_path, monkeypatch, capsys):
    write(tmp_path, FIRST)
    (tmp_path / "bad.yaml").write_text("overlay: bad\nlayer: author\n{[\n")
    (tmp_path / "empty").mkdir()
    git(tmp_path, "init", "-q", "-b", "main")
    git(tmp_path, "add", ".")
    git(tmp_path, "commit", "-q", "-m", "first")
    monkeypatch.chdir(tmp_path)
    assert main(["rules", "diff", old, "valley.yaml", "--yards", "0"]) == 2
    found = capsys.readouterr()
    assert found.out == "" and code in found.err and words in found.err


def test_without_a_repository_a_revision_is_none(tmp_path, monkeypatch, capsys):
    new = write(tmp_path, FIRST)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("GIT_CEILING_DIRECTORIES", str(tmp_path.parent))
    assert main(["rules", "diff", "HEAD:valley.yaml", new]) == 2
    assert "stands in no git repository" in capsys.readouterr().err


KEYS = st.sampled_from([("a", kind, name) for kind in ("number", "rule", "off") for name in ("x", "y", "z")])
PARTS = st.dictionaries(st.sampled_from(["value", "when", "reason"]), st.sampled_from([1, 2.5, "one two", "one three"]))
SIDE = st.dictionaries(KEYS, PARTS).map(lambda rows: {key: Entry(*key, parts, "f:1:1") for key, parts in rows.items()})


@given(SIDE, SIDE)
def test_what_one_way_adds_the_other_takes_away(old, new):
    there, back = changes(old, new, {}), changes(new, old, {})
    keys = {
        how: {(c.entry.kind, c.entry.name) for c in there if c.how == how} for how in ("added", "taken-away", "changed")
    }
    other = {how: {(c.entry.kind, c.entry.name) for c in back if c.how == how} for how in keys}
    assert keys["added"] == other["taken-away"] and keys["taken-away"] == other["added"]
    assert keys["changed"] == other["changed"] and all(c.said for c in there if c.how == "changed")
    assert changes(old, old, {}) == []


CONDITION = st.recursive(
    st.sampled_from(["a.b < 3", "finding.x"]),
    lambda inner: (
        st.lists(inner, min_size=1, max_size=3)
        | st.builds(
            lambda key, parts: {key: parts}, st.sampled_from(["all", "any"]), st.lists(inner, min_size=1, max_size=3)
        )
        | st.builds(lambda part: {"not": part}, inner)
    ),
    max_leaves=6,
)


@given(CONDITION, CONDITION)
def test_conditions_that_differ_read_otherwise(one, other):
    if one != other and not isinstance(one, list) and not isinstance(other, list):
        assert (condition(one) == condition(other)) <= (_flat(one) == _flat(other))


def _flat(value):
    """A list of one is said as what it holds, and a list in a list as one."""
    if isinstance(value, list):
        return [part for item in value for part in (_flat(item) if isinstance(item, list) else [_flat(item)])]
    if isinstance(value, dict):
        key, inner = next(iter(value.items()))
        inner = _flat(inner)
        return {key: inner if isinstance(inner, list) else [inner]}
    return value

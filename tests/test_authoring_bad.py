"""One small folder of rule files for each mistake a reader can make: the check finds it, in its place, under its code."""

import ast
from pathlib import Path

import pytest

from hiveweek import content, rules, vocabulary
from hiveweek.authoring import check, every_file
from hiveweek.cli.main import main
from hiveweek.problems import InputProblems
from hiveweek.rules import reader

BAD = Path(__file__).parent / "bad"
FOLDERS = sorted(path for path in BAD.iterdir() if path.is_dir())
STYLE = {"too-long", "wording", "too-high", "no-status", "unused-limit"}
MADE_HERE = {"no-file", "too-large", "unknown-jurisdiction"}
READERS = (
    "files.py",
    "shapes/marked_yaml.py",
    "language/conditions.py",
    "shapes/structure.py",
    "rules/reader.py",
    "numbers/reader.py",
    "numbers/moving.py",
    "rules/parsing.py",
    "rules/layering.py",
    "rules/locked.py",
    "rules/__init__.py",
    "authoring/check.py",
    "authoring/every_file.py",
)
PLACE_OF_CODE = {"Problem": 3, "problem": 1, "Misfit": 1, "Mistake": 1, "complain": 1, "refuse": 1}


def found_in(folder: Path) -> list:
    return check.check([folder / "rulesets", *sorted(folder.glob("mine*.yaml"))])


def lines_of(folder: Path, findings) -> list[str]:
    """``file:line:col code`` with files named from the fixture's own folder."""
    prefix = content.shown(folder) + "/"
    return [
        f"{f.problem.file.removeprefix(prefix)}:{f.problem.line}:{f.problem.col} {f.problem.code}"
        for f in findings
        if f.level == "error"
    ]


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda path: path.name)
def test_each_mistake_is_found_in_its_place(folder):
    assert lines_of(folder, found_in(folder)) == (folder / "expected.txt").read_text().splitlines()


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda path: path.name)
def test_each_folder_shows_the_code_it_is_named_after(folder):
    codes = [line.split()[-1] for line in (folder / "expected.txt").read_text().splitlines()]
    assert folder.name in codes


def codes_raised() -> set[str]:
    """Every code that the readers of rule files can give, read from their calls."""
    codes = set()
    for name in READERS:
        tree = ast.parse((Path(check.__file__).parents[1] / name).read_text())
        for node in ast.walk(tree):
            if isinstance(node, ast.Call):
                called = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
                if called == "not_among" and isinstance(node.args[0], ast.Constant):
                    codes.add(f"unknown-{node.args[0].value}")
                index = PLACE_OF_CODE.get(called)
                if index is not None and len(node.args) > index:
                    codes |= {
                        part.value
                        for part in ast.walk(node.args[index])
                        if isinstance(part, ast.Constant)
                        and isinstance(part.value, str)
                        and part.value.replace("-", "").isalnum()
                        and part.value.islower()
                    }
    return codes - {"type", "const", "code"}  # names looked up beside a code, not codes


def test_no_code_goes_without_its_folder():
    assert codes_raised() == {path.name for path in FOLDERS} | STYLE | MADE_HERE


@pytest.mark.parametrize(
    ("name", "near"),
    [
        ("unknown-action", "nearest: feed-candy"),
        ("unknown-fact", "nearest: food.days_left"),
        ("unknown-limit", "nearest: limit.demo.days"),
        ("unknown-event", "nearest: first_pollen"),
        ("unknown-finding", "nearest: short"),
        ("unknown-key", "nearest: evidence"),
        ("unknown-target", "nearest: limit.demo.days"),
        ("unknown-profile", "nearest: boreal"),
    ],
)
def test_an_unknown_name_comes_with_the_nearest(name, near):
    assert near in found_in(BAD / name)[0].problem.message


@pytest.mark.parametrize(
    ("name", "both"),
    [
        ("two-peers", "mine-a.yaml:6:5"),
        ("duplicate-id", "rulesets/base/demo.yaml:7:9"),
        ("stale-was", "rulesets/base/demo.yaml:5:3"),
    ],
)
def test_what_conflicts_shows_both_places(name, both):
    assert both in found_in(BAD / name)[0].problem.message


def test_a_file_that_is_not_there():
    found = check.check([BAD / "stale-was" / "rulesets", BAD / "nowhere.yaml"])
    assert [f.problem.code for f in found if f.level == "error"] == ["no-file"]


def test_a_folder_without_a_file_of_content(tmp_path):
    assert [f.problem.code for f in check.check([BAD / "stale-was" / "rulesets", tmp_path])][:1] == ["no-file"]


@pytest.mark.parametrize(
    "name",
    sorted({every_file.kind_of(path): path for path in (content.root() / "rulesets").rglob("*.yaml")}.items()),
    ids=lambda one: one[0],
)
def test_a_broken_file_of_any_kind_is_found(name, tmp_path):
    kind, shipped = name
    folder = tmp_path / "rulesets"
    broken = folder / shipped.relative_to(content.root() / "rulesets")
    broken.parent.mkdir(parents=True)
    text = shipped.read_text(encoding="utf-8")
    broken.write_text(text + "\n{[\n", encoding="utf-8")
    found = every_file.problems_of(folder, vocabulary.load())
    assert {p.file for p in found} == {content.shown(broken)}
    assert found[0].line > text.count("\n") - 1
    broken.write_text(text + "\nno_such_key: 1\n", encoding="utf-8")
    code = "wrong-type" if kind == "sources" else "unknown-key"  # there any key is a source
    assert {p.code for p in every_file.problems_of(folder, vocabulary.load())} == {code}


def test_a_file_far_too_large(tmp_path):
    path = tmp_path / "mine.yaml"
    path.write_text("#" * 20_000_001)
    found = check.check([BAD / "stale-was" / "rulesets", path])
    assert [f.problem.code for f in found if f.level == "error"] == ["too-large"]


def test_an_unknown_jurisdiction_is_named():
    with pytest.raises(InputProblems) as caught:
        rules.load("boreal", {}, jurisdiction="atlantis", folder=BAD / "stale-was" / "rulesets")
    assert [p.code for p in caught.value.problems] == ["unknown-jurisdiction"]


def test_a_retired_id_stays_retired_in_overlays_too(tmp_path):
    folder = BAD / "retired-id" / "rulesets"
    mine = tmp_path / "mine.yaml"
    mine.write_text(
        "overlay: mine\nlayer: author\nversion: 1\nadd:\n  reason: our own look\n  rules:\n    - {id: demo.one, when: colony.robbed, finding: taken}\n"
    )
    library = reader.read_library(vocabulary.load(), folder, [mine])
    assert [p.file for p in library.problems if p.code == "retired-id"] == [
        content.shown(folder / "base" / "demo.yaml"),
        content.shown(mine),
    ]


def test_an_entry_of_the_retired_list_says_why(tmp_path):
    (tmp_path / "vocabulary").mkdir()
    (tmp_path / "vocabulary" / "retired.yaml").write_text("retired:\n  - {id: demo.gone}\n  - demo.older\n")
    library = reader.read_library(vocabulary.load(), tmp_path)
    assert [(p.line, p.code) for p in library.problems] == [(2, "missing-key"), (3, "wrong-type")]


def test_no_rule_that_ships_bears_a_retired_id():
    library = reader.read_library(vocabulary.load())
    assert not set(library.rules) & set(library.retired)


def test_the_command_prints_a_line_a_mistake_and_exits_with_2(capsys):
    folder = BAD / "wrong-unit"
    assert main(["rules", "check", str(folder / "rulesets")]) == 2
    out = capsys.readouterr().out.splitlines()
    assert out[0].startswith(content.shown(folder / "rulesets/base/demo.yaml") + ":8:28: wrong-unit ")
    assert out[-1].startswith("1 errors")

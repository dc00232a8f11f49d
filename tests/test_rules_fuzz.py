"""No rule file whatever ends in a traceback: only problems with their places."""

from __future__ import annotations

import random

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from hiveweek import content, vocabulary
from hiveweek.problems import Problem
from hiveweek.rules.layering import effective
from hiveweek.rules.reader import read_library
from hiveweek.shapes import marked_yaml

WORDS = vocabulary.load()
SHIPPED = content.root() / "rulesets"
TRAITS = {"climate.snow_weeks": 10.0, "climate.winter_weeks": 20.0}
ALPHABET = "{}[]:,#&*!|>'\"%@`-? \n\t" + "abwhenr.0_<=é\0\x85" + "🐝"


def _damaged(text: str, source: random.Random) -> str:
    """A file after a slip or two of the hand."""
    lines = text.split("\n")
    for _ in range(source.randrange(1, 4)):
        kind, at = source.randrange(8), source.randrange(len(lines))
        if kind == 0:
            del lines[at : at + source.randrange(1, 4)]
        elif kind == 1:
            lines[at] = " " * source.randrange(5) + lines[at]
        elif kind == 2:
            lines[at] = lines[at].lstrip()
        elif kind == 3:
            lines.insert(at, lines[source.randrange(len(lines))])
        elif kind == 4:
            lines[at] = lines[at].replace(":", source.choice(["", "::", ": [", ": {", ": &a ", ": *a", ": ~"]), 1)
        elif kind == 5:
            cut = source.randrange(len(lines[at]) + 1)
            lines[at] = lines[at][:cut] + source.choice(ALPHABET) + lines[at][cut:]
        elif kind == 6:
            lines[at] = lines[at][: source.randrange(len(lines[at]) + 1)]
        else:
            words = lines[at].split(" ")
            words[source.randrange(len(words))] = source.choice(
                ["~", "3", "1e999", ".nan", "2026-02-30", "yes", "[]", "{}", "x" * 40, "'"]
            )
            lines[at] = " ".join(words)
        lines = lines or [""]
    return "\n".join(lines)


def _only_problems(folder):
    library = read_library(WORDS, folder)
    problems = list(library.problems)
    effective(library, "long_snow_cover", TRAITS, next(iter(library.jurisdictions), None), problems)
    for problem in problems:
        assert isinstance(problem, Problem) and problem.code and problem.message and "\n" not in str(problem)
        assert problem.line >= 1 and problem.col >= 1, problem
    return problems


FILES = sorted(
    p
    for p in SHIPPED.rglob("*.yaml")
    if not p.name.endswith(".cases.yaml") and "vocabulary" not in p.parts and p.name != "ranking.yaml"
)


def test_damaged_rule_files_give_problems_and_no_traceback(tmp_path):
    source = random.Random(11)
    found = 0
    for turn in range(160):
        path = FILES[turn % len(FILES)]
        folder = tmp_path / str(turn)
        target = folder / path.relative_to(SHIPPED)
        target.parent.mkdir(parents=True)
        target.write_text(_damaged(path.read_text(encoding="utf-8"), source), encoding="utf-8")
        found += bool(_only_problems(folder))
    assert found > 100


JUNK = (
    None,
    True,
    3,
    -1.5,
    "x",
    "food.stores_kg < 3",
    [],
    {},
    [[]],
    [{}],
    [None],
    {"a": {}},
    ["x", ["y"]],
    {"all": 3},
    {"not": []},
    "2026-02-10",
    "x" * 300,
    [True],
    {"x": [1]},
)


def _with_junk(data, source):
    """The same data with a value or two replaced by something of another kind."""
    if isinstance(data, dict) and data and source.random() < 0.92:
        key = source.choice(list(data))
        return data | {key: _with_junk(data[key], source)}
    if isinstance(data, list) and data and source.random() < 0.92:
        at = source.randrange(len(data))
        return data[:at] + [_with_junk(data[at], source)] + data[at + 1 :]
    return source.choice(JUNK)


def test_values_of_another_kind_give_problems_and_no_traceback(tmp_path):
    source = random.Random(12)
    found = 0
    whole = {path: marked_yaml.read(path).data for path in FILES}
    for turn in range(400):
        path = FILES[turn % len(FILES)]
        data = whole[path]
        for _ in range(source.randrange(1, 3)):
            data = _with_junk(data, source)
        target = tmp_path / path.relative_to(SHIPPED)
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(yaml.safe_dump(data, sort_keys=False), encoding="utf-8")
        found += bool(_only_problems(tmp_path))
        target.unlink()
    assert found > 300


@settings(max_examples=80, deadline=None)
@given(
    st.one_of(
        st.text(max_size=200),
        st.text(st.sampled_from(ALPHABET), max_size=120),
        st.recursive(
            st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=8), st.dates()),
            lambda inner: st.one_of(
                st.lists(inner, max_size=3),
                st.dictionaries(
                    st.sampled_from(
                        [
                            "ruleset",
                            "version",
                            "rules",
                            "limits",
                            "id",
                            "when",
                            "unless",
                            "finding",
                            "advise",
                            "by",
                            "stakes",
                            "source",
                            "climates",
                            "where",
                            "all",
                            "any",
                            "not",
                            "for",
                            "at",
                            "overlay",
                            "layer",
                            "override",
                            "limit",
                            "value",
                            "was",
                            "prohibitions",
                            "never",
                            "options",
                            "bars",
                            "jurisdiction",
                            "add",
                            "disable",
                            "rule",
                            "field",
                        ]
                    ),
                    inner,
                    max_size=5,
                ),
            ),
            max_leaves=20,
        ).map(lambda data: yaml.safe_dump(data, allow_unicode=True)),
    )
)
def test_any_file_whatever_gives_problems_and_no_traceback(tmp_path_factory, text):
    folder = tmp_path_factory.mktemp("any")
    for place in (
        "base/food.yaml",
        "base/treatments.yaml",
        "safety.yaml",
        "overlays/north.yaml",
        "jurisdictions/erewhon.yaml",
        "vocabulary/retired.yaml",
    ):
        target = folder / place
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(text.encode("utf-8", "surrogatepass"))
    _only_problems(folder)
    assert (
        marked_yaml.read(folder / "base/food.yaml").problems
        or marked_yaml.read(folder / "base/food.yaml").data is not None
    )


@pytest.mark.parametrize(
    "raw",
    [
        b"\xff\xfe\x00",
        b"\x00",
        b"a: \x80",
        "a: \ud800".encode("utf-8", "surrogatepass"),
        b"%YAML 9.9\n---\na",
        b"a: !!python/object:os.system x",
        b"? [1]\n: 2",
        b"a: 1\n---\nb: 2",
        b"&a [*a]",
        b"{a: 1, a: 2}",
        b"[" * 5000,
        b"- " * 3000 + b"a",
        b"a: 999999999999999999999999999999",
        b"a: 1e400",
        b"a: 0001-01-00",
    ],
)
def test_odd_bytes_give_problems(tmp_path, raw):
    path = tmp_path / "odd.yaml"
    path.write_bytes(raw)
    document = marked_yaml.read(path)
    assert document.problems or document.data is not None
    for problem in document.problems:
        assert "\n" not in str(problem)

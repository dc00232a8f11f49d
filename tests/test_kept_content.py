"""Rules, vocabulary and curves as they are kept: they come back whole, and an edit counts at once."""

from __future__ import annotations

import ast
import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from kept_kit import TRAITS

from hiveweek import content, kept, rules, vocabulary
from hiveweek.climate import daylength, load_profile, smooth
from hiveweek.numbers import reader as numbers_reader
from hiveweek.plain import Codec
from hiveweek.rules import store
from hiveweek.rules.model import RuleSet
from hiveweek.vocabulary.model import text_code

pytestmark = pytest.mark.usefixtures("place")


def _rules(vocabulary_, **more):
    return store.effective_rules("long_snow_cover", TRAITS, vocabulary=vocabulary_, **more)


def _parts(ruleset):
    return (
        ruleset.rules,
        ruleset.limits,
        ruleset.prohibitions,
        ruleset.options,
        ruleset.layers,
        ruleset.versions,
        ruleset.overlays,
        ruleset.disabled,
        ruleset.profile,
        [rule.place for rule in ruleset.rules.values()],
    )


def test_kept_rules_are_the_rules(monkeypatch):
    words = vocabulary.load()
    anew = rules.load("long_snow_cover", TRAITS, vocabulary=words)
    assert _parts(_rules(words)) == _parts(anew)
    monkeypatch.setattr("hiveweek.rules.store.load", None)  # from here on only what is kept can answer
    assert _parts(_rules(words)) == _parts(anew)


OVERLAY = """
overlay: mine
layer: author
version: 1
override:
  - {rule: food.candy-now, field: safety, value: "Keep the lid off for a minute only.", was: WAS, reason: "as here", source: common-practice}
"""


@pytest.mark.parametrize(
    ("profile", "jurisdiction"),
    [("long_snow_cover", None), ("cool_maritime", "england"), ("mediterranean", "new_zealand")],
)
def test_every_ruleset_comes_back_whole(profile, jurisdiction, tmp_path):
    """Equal in everything, places and edits among it, which two rules that are equal need not share."""
    words = vocabulary.load()
    place = load_profile(profile)
    safety = rules.load(profile, rules.traits_of(place), vocabulary=words).rules["food.candy-now"].safety
    overlay = tmp_path / "mine.yaml"
    overlay.write_text(OVERLAY.replace("WAS", repr(safety) if "'" not in safety else f'"{safety}"'), encoding="utf-8")
    more = {"jurisdiction": jurisdiction, "vocabulary": words, "extra": [overlay]}
    anew = rules.load(profile, rules.traits_of(place), **more)
    assert anew.rules["food.candy-now"].edits
    codec = Codec(RuleSet)
    back = codec.read(codec.text(anew))
    assert _deep(back) == _deep(anew)
    assert _deep(store.effective_rules(profile, rules.traits_of(place), **more)) == _deep(anew)
    assert _deep(store.effective_rules(profile, rules.traits_of(place), **more)) == _deep(anew)


def _deep(thing):
    """Everything a thing holds, with its types, fields that do not count in comparisons too."""
    if hasattr(thing, "__dataclass_fields__"):
        return type(thing), {name: _deep(getattr(thing, name)) for name in thing.__dataclass_fields__}
    if isinstance(thing, dict):
        return {name: _deep(value) for name, value in thing.items()}
    if isinstance(thing, (list, tuple)):
        return type(thing), [_deep(value) for value in thing]
    return type(thing), thing


def test_vocabulary_and_numbers_come_back_whole(place):
    folder = content.root() / "rulesets"
    words, numbers = vocabulary.read_vocabulary(folder / "vocabulary"), numbers_reader.read(folder)
    for _ in range(2):
        vocabulary.load.cache_clear()
        numbers_reader.shipped.cache_clear()
        assert _deep(vocabulary.load()) == _deep(words)
        assert _deep(dict(numbers_reader.shipped().rows)) == _deep(dict(numbers.rows))
    assert {path.name.split("-")[0] for path in place.glob("*.kept")} == {"vocabulary", "numbers"}


def test_day_lengths_and_curves_come_back_to_the_last_bit(place):
    solved = smooth._solve()
    for _ in range(2):
        daylength.year_of_day_lengths.cache_clear()
        smooth._matrix.cache_clear()
        days = daylength.year_of_day_lengths(60.25)
        assert np.array_equal(smooth._matrix(), solved) and smooth._matrix().flags.c_contiguous
    start = daylength.dt.date(daylength.REFERENCE_YEAR, 1, 1)
    assert list(days) == [daylength.day_length(60.25, start + daylength.dt.timedelta(days=i)) for i in range(365)]
    assert {path.name.split("-")[0] for path in place.glob("*.kept")} == {"daylength", "smooth"}


@pytest.fixture
def copy(tmp_path, monkeypatch):
    """The shipped content in a folder that can be changed."""
    folder = tmp_path / "content"
    shutil.copytree(content.root() / "rulesets", folder / "rulesets", ignore=shutil.ignore_patterns("*.cases.yaml"))
    monkeypatch.setattr(content, "root", lambda: folder)
    return folder / "rulesets"


def test_an_edit_counts_at_once_whatever_the_clock_says(copy):
    words = vocabulary.read_vocabulary(copy / "vocabulary")
    before = _rules(words)
    path = copy / "base" / "food.yaml"
    stat = path.stat()
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("gain_pts: 3", "gain_pts: 4"), encoding="utf-8")
    os.utime(path, ns=(stat.st_atime_ns, stat.st_mtime_ns))
    assert path.stat().st_size == stat.st_size and path.read_text(encoding="utf-8") != text
    after = _rules(words)
    assert after.rules != before.rules and _parts(after) == _parts(
        rules.load("long_snow_cover", TRAITS, vocabulary=words)
    )
    path.write_text(text, encoding="utf-8")
    assert _rules(words).rules == before.rules


def test_a_mistake_is_told_every_time_and_never_kept(copy):
    words = vocabulary.read_vocabulary(copy / "vocabulary")
    _rules(words)
    path = copy / "base" / "food.yaml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("food.days_left", "food.days_lefft", 1), encoding="utf-8")
    for _ in range(2):
        with pytest.raises(Exception, match=r"food\.days_lefft"):
            _rules(words)
    path.write_text(text, encoding="utf-8")
    assert _rules(words).rules


def test_an_overlay_of_one_s_own_is_part_of_the_key(tmp_path):
    words = vocabulary.load()
    name, limit = next((n, v) for n, v in _rules(words).limits.items() if n.startswith("limit.food."))
    mine = tmp_path / "mine.yaml"

    def write(value):
        mine.write_text(
            f"overlay: mine\nlayer: author\nversion: 1\noverride:\n  - {{limit: {name}, value: {value}, was: {limit.value:g}, "
            'reason: "as here", source: common-practice}\n',
            encoding="utf-8",
        )

    write(limit.value + 1)
    assert _rules(words, extra=[mine]).limits[name].value == limit.value + 1
    write(limit.value + 2)
    assert _rules(words, extra=[mine]).limits[name].value == limit.value + 2
    assert _rules(words, extra=[tmp_path]).limits[name].value == limit.value + 2
    assert _rules(words).limits[name].value == limit.value
    mine.unlink()
    with pytest.raises(Exception, match="no such file"):
        _rules(words, extra=[mine])


def test_profile_climate_and_place_are_part_of_the_key():
    words = vocabulary.load()
    here = _rules(words)
    assert store.effective_rules("mild_maritime", TRAITS, vocabulary=words).profile == "mild_maritime"
    assert _rules(words, jurisdiction="england").jurisdiction is not None and _rules(words).jurisdiction is None
    assert _parts(_rules(words)) == _parts(here)


def test_the_code_that_reads_is_part_of_the_key():
    names = {path.name for path in kept.code("rules", "language", "shapes", "vocabulary")}
    assert {
        "parsing.py",
        "layering.py",
        "reader.py",
        "meaning.py",
        "conditions.py",
        "loader.py",
        "marked_yaml.py",
        "kept.py",
        "facts.schema.json",
    } <= names


def _imported(path, own, seen):
    """Every file of the package that a file imports, at its head or within, and what those import."""
    if path in seen or path == own / "__init__.py":  # the interface names the whole package, and loads it when asked
        return seen
    seen.add(path)
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            names = [node.module, *(f"{node.module}.{name.name}" for name in node.names)]
        elif isinstance(node, ast.Import):
            names = [name.name for name in node.names]
        else:
            continue
        for name in names:
            base = own.parent / name.replace(".", "/")
            for file in (base.with_suffix(".py"), base / "__init__.py"):
                if name.startswith("hiveweek") and file.is_file():
                    _imported(file, own, seen)
    return seen


@pytest.mark.parametrize(
    ("reader", "room", "read"),
    [
        (
            "rules/__init__.py",
            store,
            lambda: _rules(vocabulary.read_vocabulary(content.root() / "rulesets/vocabulary")),
        ),
        ("vocabulary/loader.py", vocabulary.loader, vocabulary.load.__wrapped__),
        ("numbers/reader.py", numbers_reader, numbers_reader.shipped.__wrapped__),
    ],
)
def test_no_code_that_a_reader_uses_is_left_out_of_its_key(monkeypatch, reader, room, read):
    covered = []
    monkeypatch.setattr(room, "key_of", lambda words, files: covered.extend(files) or "key")
    read()
    own = Path(content.__file__).parent
    assert _imported(own / reader, own, set()) <= set(covered)


def test_texts_have_the_same_code_in_every_process():
    """Kept rules compare with texts of another process."""
    script = "from hiveweek.vocabulary import text_code; [text_code(t) for t in ('x', 'y')]; print(text_code('Dfb'), text_code('boreal'))"
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=60, check=False)
    assert done.stdout.split() == [str(text_code("Dfb")), str(text_code("boreal"))], done.stderr
    fact = vocabulary.load().facts["climate.koppen"]
    assert fact.decode(fact.encode("Dfb")) == "Dfb" and fact.decode(fact.encode("BWh")) == "BWh"
    assert round(fact.encode("Dfb"), 4) == fact.encode("Dfb") and text_code("a") != text_code("b")


def test_the_week_is_the_same_read_anew_and_from_what_is_kept(place, tmp_path):
    command = [sys.executable, "-m", "hiveweek.cli.main", "week", "--offline", "--json", "--facts"]
    plain = {name: value for name, value in os.environ.items() if name != "HIVEWEEK_CACHE"}
    said = [
        subprocess.run(command, env=plain | more, capture_output=True, timeout=120, check=False)
        for more in ({"HIVEWEEK_NO_CACHE": "1"}, {"HIVEWEEK_CACHE": str(place)}, {"HIVEWEEK_CACHE": str(place)})
    ]
    assert [done.returncode for done in said] == [0, 0, 0], said[0].stderr
    assert said[0].stdout == said[1].stdout == said[2].stdout
    assert {path.name.split("-")[0] for path in place.glob("*.kept")} == {
        "daylength",
        "forms",
        "numbers",
        "phrases",
        "rules",
        "shape",
        "smooth",
        "vocabulary",
    }

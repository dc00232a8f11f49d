"""What is kept between runs: used only where nothing it came from has changed, and never missed where it cannot be."""

from __future__ import annotations

import os
import pickle
import shutil
import subprocess
import sys

import pytest

from hiveweek import content, kept, rules, vocabulary
from hiveweek.rules import store
from hiveweek.vocabulary.model import text_code

TRAITS = {"climate.profile": "long_snow_cover", "climate.snow_weeks": 20.0, "climate.koppen": "Dfb"}


@pytest.fixture(autouse=True)
def place(tmp_path, monkeypatch):
    """An empty folder for what is kept."""
    monkeypatch.delenv("HIVEWEEK_NO_CACHE", raising=False)
    monkeypatch.setenv("HIVEWEEK_CACHE", str(tmp_path / "kept"))
    return tmp_path / "kept"


class Maker:
    """Counts how often it is asked."""

    def __init__(self, made="something"):
        self.made, self.times = made, 0

    def __call__(self):
        self.times += 1
        return self.made


def test_a_thing_is_made_once_for_its_key():
    make = Maker({"a": [1, 2]})
    assert kept.kept("x", "k1", make) == kept.kept("x", "k1", make) == {"a": [1, 2]} and make.times == 1
    kept.kept("x", "k2", make)
    kept.kept("y", "k1", make)
    assert make.times == 3


def test_none_and_false_are_kept_too():
    for made in (None, False, 0, ""):
        make = Maker(made)
        assert kept.kept("x", repr(made), make) == made and kept.kept("x", repr(made), make) == made and make.times == 1


def test_what_raises_is_raised_each_time(place):
    def fail():
        raise ValueError("no")

    for _ in range(2):
        with pytest.raises(ValueError):
            kept.kept("x", "k", fail)
    assert not place.exists()


def test_it_can_be_switched_off(place, monkeypatch):
    monkeypatch.setenv("HIVEWEEK_NO_CACHE", "1")
    make = Maker()
    kept.kept("x", "k", make)
    kept.kept("x", "k", make)
    assert make.times == 2 and not place.exists()


def _only(place):
    (path,) = place.glob("*.kept")
    return path


@pytest.mark.parametrize(
    "damage",
    [
        lambda whole: b"",
        lambda whole: whole[:10],
        lambda whole: whole[:-1],
        lambda whole: whole + b"x",
        lambda whole: b"\0" * len(whole),
        lambda whole: whole[:32] + bytes([whole[32] ^ 1]) + whole[33:],
        lambda whole: whole[:-9] + bytes([whole[-9] ^ 64]) + whole[-8:],
        lambda whole: pickle.dumps("other"),
    ],
)
def test_a_damaged_file_is_made_again(place, damage):
    make = Maker({"number": 123456, "text": "abcdef"})
    kept.kept("x", "k", make)
    path = _only(place)
    path.write_bytes(damage(path.read_bytes()))
    assert kept.kept("x", "k", make) == make.made and make.times == 2
    assert kept.kept("x", "k", make) == make.made and make.times == 2


def test_no_bit_of_a_file_can_turn_without_notice(place):
    make = Maker({"limit.food.low_kg": 5.0})
    kept.kept("x", "k", make)
    path = _only(place)
    whole = path.read_bytes()
    for at in range(len(whole)):
        path.write_bytes(whole[:at] + bytes([whole[at] ^ 4]) + whole[at + 1 :])
        assert kept.kept("x", "k", Maker({"limit.food.low_kg": 5.0})) == {"limit.food.low_kg": 5.0}


@pytest.mark.skipif(not hasattr(os, "getuid"), reason="this system has no file owners")
def test_another_s_file_is_not_read(monkeypatch):
    kept.kept("x", "k", Maker("mine"))
    monkeypatch.setattr(os, "getuid", lambda: os.geteuid() + 1)
    make = Maker("again")
    assert kept.kept("x", "k", make) == "again" and make.times == 1


def test_a_folder_that_takes_nothing_costs_only_time(tmp_path, monkeypatch):
    file = tmp_path / "file"
    file.write_text("no folder")
    for where in (file, file / "below"):
        monkeypatch.setenv("HIVEWEEK_CACHE", str(where))
        make = Maker()
        assert kept.kept("x", "k", make) == "something" and kept.kept("x", "k", make) == "something" and make.times == 2


def test_what_cannot_be_written_is_made_each_time():
    make = Maker(lambda: None)
    assert kept.kept("x", "k", make) is make.made and kept.kept("x", "k", make) is make.made and make.times == 2


def test_old_files_are_tidied_away(place, monkeypatch):
    monkeypatch.setattr(kept, "MOST", 5)
    for number in range(12):
        kept.kept("x", str(number), Maker(number))
        path = place / f"x-{number}.kept"
        os.utime(path, (number, number))
    names = {path.name for path in place.iterdir()}
    assert "x-11.kept" in names and len(names) <= 6 and "x-0.kept" not in names


def test_a_key_covers_names_contents_and_words(tmp_path):
    one, two = tmp_path / "a", tmp_path / "b"
    one.write_text("1")
    two.write_text("2")
    keys = [
        kept.key_of(["w"], [one, two]),
        kept.key_of(["w"], [two, one]),
        kept.key_of(["v"], [one, two]),
        kept.key_of(["w"], [one]),
        kept.key_of(["w"], [one, two, tmp_path / "none"]),
    ]
    one.write_text("12")
    two.write_text("")
    keys.append(kept.key_of(["w"], [one, two]))
    one.write_text("1")
    two.write_text("3")
    keys.append(kept.key_of(["w"], [one, two]))
    assert len(set(keys)) == len(keys)
    stat = one.stat()
    before = kept.key_of([], [one])
    one.write_text("7")
    os.utime(one, ns=(stat.st_atime_ns, stat.st_mtime_ns))
    assert kept.key_of([], [one]) != before, "same name, size and time, other content"


# --- rules ---
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
    assert {path.name.split("-")[0] for path in place.glob("*.kept")} >= {"rules", "vocabulary"}

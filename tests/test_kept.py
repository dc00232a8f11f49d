"""What is kept between runs: used only where nothing it came from has changed, and never missed where it cannot be."""

from __future__ import annotations

import ast
import hashlib
import os
import pickle
import shutil
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hiveweek import content, kept, rules, vocabulary
from hiveweek.climate import daylength, load_profile, smooth
from hiveweek.numbers import reader as numbers_reader
from hiveweek.plain import Codec
from hiveweek.rules import store
from hiveweek.rules.model import RuleSet
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
    assert kept.kept("x", "k1", object, make) == kept.kept("x", "k1", object, make) == {"a": [1, 2]} and make.times == 1
    kept.kept("x", "k2", object, make)
    kept.kept("y", "k1", object, make)
    assert make.times == 3


def test_none_and_false_are_kept_too():
    for made in (None, False, 0, ""):
        make = Maker(made)
        assert (
            kept.kept("x", repr(made), object, make) == made
            and kept.kept("x", repr(made), object, make) == made
            and make.times == 1
        )


def test_what_raises_is_raised_each_time(place):
    def fail():
        raise ValueError("no")

    for _ in range(2):
        with pytest.raises(ValueError):
            kept.kept("x", "k", object, fail)
    assert not place.exists()


def test_it_can_be_switched_off(place, monkeypatch):
    monkeypatch.setenv("HIVEWEEK_NO_CACHE", "1")
    make = Maker()
    kept.kept("x", "k", object, make)
    kept.kept("x", "k", object, make)
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
    kept.kept("x", "k", object, make)
    path = _only(place)
    path.write_bytes(damage(path.read_bytes()))
    assert kept.kept("x", "k", object, make) == make.made and make.times == 2
    assert kept.kept("x", "k", object, make) == make.made and make.times == 2


def test_no_bit_of_a_file_can_turn_without_notice(place):
    make = Maker({"limit.food.low_kg": 5.0})
    kept.kept("x", "k", object, make)
    path = _only(place)
    whole = path.read_bytes()
    for at in range(len(whole)):
        path.write_bytes(whole[:at] + bytes([whole[at] ^ 4]) + whole[at + 1 :])
        assert kept.kept("x", "k", object, Maker({"limit.food.low_kg": 5.0})) == {"limit.food.low_kg": 5.0}


# --- files that are not ours, or not what they seem ---
posix = pytest.mark.skipif(os.name != "posix", reason="this system has no owners and modes of files")


class Bomb:
    """Makes a file where it is unpickled."""

    def __init__(self, path):
        self.path = path

    def __reduce__(self):
        return (open, (str(self.path), "w"))


def _signed(body, name="x", key="k", kind=object):
    """Return a file as the one who planted it could write it: head and digest fit."""
    return kept._HEAD + kept._digest(f"{name} {key} {Codec(kind).shape}", body) + body


def _is_made_anew_and_healed(path, made):
    """Whatever lies at the path: it is not used, made anew, and written over."""
    make = Maker(made)
    assert kept.kept("x", "k", object, make) == made and make.times == 1
    assert kept.kept("x", "k", object, make) == made and make.times == 1, "what was written heals the cache"
    assert stat.S_ISREG(path.lstat().st_mode)


@pytest.mark.parametrize("owner", ["asked", "not to be asked"])
@pytest.mark.parametrize(
    "dress",
    [lambda body: body, lambda body: hashlib.sha256(body).digest() + body, _signed],
    ids=["bare", "as an earlier version kept it", "with head and digest"],
)
def test_what_would_run_is_not_run(place, tmp_path, monkeypatch, dress, owner):
    if owner != "asked":
        monkeypatch.delattr(os, "getuid", raising=False)
        monkeypatch.setenv("HOME", str(tmp_path))
    place.mkdir(mode=0o700)
    path, mark = place / "x-k.kept", tmp_path / "it-ran"
    path.write_bytes(dress(pickle.dumps(Bomb(mark))))
    _is_made_anew_and_healed(path, {"a": 1})
    assert not mark.exists()
    pickle.loads(pickle.dumps(Bomb(mark))).close()
    assert mark.exists(), "the bomb is one"


@posix
def test_another_s_file_is_not_read(place, monkeypatch):
    kept.kept("x", "k", object, Maker("mine"))
    monkeypatch.setattr(os, "getuid", lambda: os.geteuid() + 1)
    before = _only(place).read_bytes()
    make = Maker("again")
    assert kept.kept("x", "k", object, make) == "again" and make.times == 1
    assert _only(place).read_bytes() == before, "nor is anything written into another's folder"


def test_where_the_owner_cannot_be_asked_only_the_home_is_trusted(place, tmp_path, monkeypatch):
    monkeypatch.delattr(os, "getuid", raising=False)
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.setenv("USERPROFILE", str(tmp_path / "home"))
    place.mkdir(mode=0o700)
    planted = place / "x-k.kept"
    planted.write_bytes(_signed(b'"planted"'))
    make = Maker("mine")
    for _ in range(2):
        assert kept.kept("x", "k", object, make) == "mine"
    assert make.times == 2 and planted.read_bytes() == _signed(b'"planted"')
    monkeypatch.setenv("HIVEWEEK_CACHE", str(tmp_path / "home" / "kept"))
    for _ in range(2):
        assert kept.kept("x", "k", object, make) == "mine"
    assert make.times == 3


@posix
@pytest.mark.parametrize("mode", [0o770, 0o702, 0o1777])
def test_a_folder_that_others_may_write_is_not_trusted(place, mode):
    place.mkdir()
    place.chmod(mode)
    (place / "x-k.kept").write_bytes(_signed(b'"planted"'))
    make = Maker("mine")
    for _ in range(2):
        assert kept.kept("x", "k", object, make) == "mine"
    assert make.times == 2
    assert [path.name for path in place.iterdir()] == ["x-k.kept"]
    assert _only(place).read_bytes() == _signed(b'"planted"')


@posix
def test_a_file_that_others_may_write_is_made_again(place):
    kept.kept("x", "k", object, Maker("mine"))
    path = _only(place)
    path.write_bytes(_signed(b'"planted"'))
    path.chmod(0o622)
    _is_made_anew_and_healed(path, "mine")
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


@posix
@pytest.mark.parametrize("umask", [0o000, 0o077])
def test_folder_and_files_are_for_this_user_alone(place, umask):
    before = os.umask(umask)
    try:
        kept.kept("x", "k", object, Maker("mine"))
    finally:
        os.umask(before)
    assert stat.S_IMODE(place.stat().st_mode) == 0o700
    assert stat.S_IMODE(_only(place).stat().st_mode) == 0o600


@posix
@pytest.mark.parametrize(
    "kind", ["link to a good file", "link to nothing", "link to a device", "pipe", "huge", "empty folder"]
)
def test_what_is_no_plain_file_is_made_again(place, tmp_path, kind):
    place.mkdir(mode=0o700)
    path = place / "x-k.kept"
    good = tmp_path / "good"
    good.write_bytes(_signed(b'"planted"'))
    good.chmod(0o600)
    if kind == "pipe":
        os.mkfifo(path)
    elif kind == "huge":
        with path.open("wb") as file:
            file.write(_signed(b'"planted"'))
            file.truncate(1 << 40)  # a hole: it takes no room on the disk
    elif kind == "empty folder":
        path.mkdir()
    else:
        path.symlink_to({"link to a good file": good, "link to nothing": tmp_path / "none"}.get(kind, "/dev/zero"))
    begun = time.monotonic()
    if kind == "empty folder":
        make = Maker("mine")
        assert kept.kept("x", "k", object, make) == kept.kept("x", "k", object, make) == "mine" and make.times == 2
    else:
        _is_made_anew_and_healed(path, "mine")
    assert time.monotonic() - begun < 10
    assert good.read_bytes() == _signed(b'"planted"'), "what a link leads to is left alone"
    assert not list(place.glob("*.part"))


@posix
def test_the_folders_above_are_made_for_this_user_alone(tmp_path, monkeypatch):
    monkeypatch.setenv("HIVEWEEK_CACHE", str(tmp_path / "a" / "b" / "c"))
    kept.kept("x", "k", object, Maker("mine"))
    assert [stat.S_IMODE(path.stat().st_mode) for path in sorted(tmp_path.rglob("[abc]"))] == [0o700] * 3


def test_a_file_of_another_name_key_or_type_does_not_stand_in(place):
    kept.kept("x", "k", object, Maker("mine"))
    path = _only(place)
    for body in (_signed(b'"other"', name="y"), _signed(b'"other"', key="k2"), _signed(b'"other"', kind=RuleSet)):
        path.write_bytes(body)
        _is_made_anew_and_healed(path, "mine")
    make = Maker([1.5])
    assert kept.kept("x", "k", list[float], make) == [1.5] and make.times == 1, "a text is no list of numbers"


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.binary(max_size=200), st.booleans())
def test_no_bytes_are_used_and_none_makes_it_stumble(place, body, signed):
    """Bytes as such, and under the head and digest that fit them: no ruleset comes of either."""
    place.mkdir(mode=0o700, exist_ok=True)
    path = place / "x-k.kept"
    path.write_bytes(_signed(body, kind=RuleSet) if signed else body)
    path.chmod(0o600)
    make = Maker(RuleSet())
    assert kept.kept("x", "k", RuleSet, make) is make.made and make.times == 1
    assert kept.kept("x", "k", RuleSet, make) == make.made and make.times == 1


# --- writers ---
WRITER = """
import sys
from hiveweek import kept
for turn in range(40):
    said = kept.kept("x", f"k{turn % 4}", list[int], lambda: list(range(20_000)))
    assert said == list(range(20_000)), "half a file was read"
"""


def test_writers_at_the_same_time_do_no_harm(place):
    writers = [subprocess.Popen([sys.executable, "-c", WRITER], stderr=subprocess.PIPE) for _ in range(4)]
    assert [writer.communicate(timeout=120)[1] for writer in writers] == [b""] * 4
    assert [writer.returncode for writer in writers] == [0] * 4
    assert sorted(path.name for path in place.iterdir()) == [f"x-k{k}.kept" for k in range(4)]


@posix
def test_a_writer_that_was_killed_leaves_nothing_that_stays(place):
    code = (
        "import os, signal; from hiveweek import kept; "
        "os.replace = lambda *paths: os.kill(os.getpid(), signal.SIGKILL); kept.kept('x', 'k', str, lambda: 'mine')"
    )
    done = subprocess.run([sys.executable, "-c", code], timeout=60, check=False)
    assert done.returncode == -signal.SIGKILL
    (stray,) = place.iterdir()
    assert stray.suffix == ".part"
    make = Maker("mine")
    assert kept.kept("x", "k", str, make) == kept.kept("x", "k", str, make) == "mine" and make.times == 1
    assert stray.exists(), "it may be another's that is at work"
    os.utime(stray, (1, 1))
    kept.kept("y", "k", str, make)
    assert not stray.exists() and len(list(place.glob("*.kept"))) == 2


def test_a_disk_without_room_leaves_nothing_behind(place, monkeypatch):
    def full(*paths):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    make = Maker("mine")
    assert kept.kept("x", "k", object, make) == "mine" and list(place.iterdir()) == []


def test_a_folder_that_takes_nothing_costs_only_time(tmp_path, monkeypatch):
    file = tmp_path / "file"
    file.write_text("no folder")
    for where in (file, file / "below"):
        monkeypatch.setenv("HIVEWEEK_CACHE", str(where))
        make = Maker()
        assert (
            kept.kept("x", "k", object, make) == "something"
            and kept.kept("x", "k", object, make) == "something"
            and make.times == 2
        )


def test_what_cannot_be_written_is_made_each_time():
    make = Maker(lambda: None)
    assert (
        kept.kept("x", "k", object, make) is make.made
        and kept.kept("x", "k", object, make) is make.made
        and make.times == 2
    )


def test_old_files_are_tidied_away(place, monkeypatch):
    monkeypatch.setattr(kept, "MOST", 5)
    for number in range(12):
        kept.kept("x", str(number), object, Maker(number))
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

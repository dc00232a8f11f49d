"""What is kept between runs: used only where nothing it came from has changed, and never missed where it cannot be."""

from __future__ import annotations

import os
import pickle
import signal
import subprocess
import sys

import pytest
from kept_kit import Maker, only, posix

from hiveweek import kept

pytestmark = pytest.mark.usefixtures("place")


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
    path = only(place)
    path.write_bytes(damage(path.read_bytes()))
    assert kept.kept("x", "k", object, make) == make.made and make.times == 2
    assert kept.kept("x", "k", object, make) == make.made and make.times == 2


def test_no_bit_of_a_file_can_turn_without_notice(place):
    make = Maker({"limit.food.low_kg": 5.0})
    kept.kept("x", "k", object, make)
    path = only(place)
    whole = path.read_bytes()
    for at in range(len(whole)):
        path.write_bytes(whole[:at] + bytes([whole[at] ^ 4]) + whole[at + 1 :])
        assert kept.kept("x", "k", object, Maker({"limit.food.low_kg": 5.0})) == {"limit.food.low_kg": 5.0}


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

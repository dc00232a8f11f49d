"""Files in the folder of what is kept that are not ours, or not what they seem: they cost the making, and nothing else."""

from __future__ import annotations

import hashlib
import os
import pickle
import stat
import time

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from kept_kit import Maker, only, posix

from hiveweek import kept
from hiveweek.plain import Codec
from hiveweek.rules.model import RuleSet

pytestmark = pytest.mark.usefixtures("place")


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
    before = only(place).read_bytes()
    make = Maker("again")
    assert kept.kept("x", "k", object, make) == "again" and make.times == 1
    assert only(place).read_bytes() == before, "nor is anything written into another's folder"


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
    assert only(place).read_bytes() == _signed(b'"planted"')


@posix
def test_a_file_that_others_may_write_is_made_again(place):
    kept.kept("x", "k", object, Maker("mine"))
    path = only(place)
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
    assert stat.S_IMODE(only(place).stat().st_mode) == 0o600


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
    path = only(place)
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

"""Files that somebody named: devices, pipes, folders and loops of links end in one line; terminals of few letters get plain ones."""

import io
import os
import sys

import pytest
from kept_kit import posix

from hiveweek import content
from hiveweek.cli import letters
from hiveweek.cli.main import main
from hiveweek.files import read_bytes
from hiveweek.problems import InputProblems

DEMO = content.root() / "scenarios" / "demo.yaml"


def test_a_plain_file_is_read_whole_and_a_longer_one_refused(tmp_path):
    path = tmp_path / "f"
    path.write_bytes(b"x" * 10)
    assert read_bytes(path, 10) == b"x" * 10
    with pytest.raises(InputProblems, match="too-large"):
        read_bytes(path, 9)


@posix
@pytest.mark.parametrize("kind", ["device", "pipe", "folder", "loop", "nothing", "empty name"])
@pytest.mark.parametrize(
    "words",
    [
        ("week", "{}", "--offline"),
        ("week", str(DEMO), "--offline", "--forecast", "{}"),
        ("climate", "build", "--normals", "{}", "--about", "{}"),
        ("rules", "check", "{}/x.yaml"),
    ],
    ids=["week", "forecast", "climate", "rules"],
)
def test_what_is_no_file_is_told_in_a_line(words, kind, tmp_path, capsys):
    path = tmp_path / "f"
    if kind == "pipe":
        os.mkfifo(path)
    elif kind == "folder":
        path.mkdir()
    elif kind == "loop":
        path.symlink_to(path)
    named = {"device": "/dev/zero", "empty name": ""}.get(kind, str(path))
    assert main([word.format(named) for word in words]) == 2
    told = capsys.readouterr()
    wanted = "bad-words" if named == "" and words[0] == "climate" else "no-file"  # an empty word is none
    assert told.out == "" and wanted in told.err and "Traceback" not in told.err


@pytest.mark.parametrize(
    ("encoding", "shown"), [("ascii", "-3 degC - 'Muller' x 2 ?"), ("utf-8", "-3 °C – ‘Müller’ × 2 蜂")]
)
def test_letters_that_a_terminal_lacks_are_written_with_those_it_has(encoding, shown, monkeypatch):
    held = io.TextIOWrapper(io.BytesIO(), encoding=encoding)
    monkeypatch.setattr(sys, "stdout", held)
    letters.settle()
    print("-3 °C – ‘Müller’ × 2 蜂", end="", file=held)
    held.flush()
    assert held.buffer.getvalue().decode(encoding) == shown

"""With ``--strict`` there is an answer only where both channels gave one; no process of the second outlives its parent."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import textwrap
import time

import pytest
from channels_kit import second

from hiveweek.inference import channel

SCENARIO = """
scenario: one hive in winter
climate: long_snow_cover
date: 2026-02-10
hives:
  - id: A
    facts: {food.stores_kg: 0.00001, colony.frames_of_bees: 5}
"""
# Faults of the second channel, put in before the command runs as it does for users; ``run`` is what the child calls.
DIES = "rete.Prepared.run = lambda self, table: os.kill(os.getpid(), signal.SIGSEGV)"
KILLED = "rete.Prepared.run = lambda self, table: os.kill(os.getpid(), signal.SIGKILL)"
LEAVES = "rete.Prepared.run = lambda self, table: os._exit(0)"
RAISES = "rete.Prepared.run = lambda self, table: 1 / 0"
HANGS = "channel.DEADLINE_S = 0.5; rete.Prepared.run = lambda self, table: time.sleep(300)"
REFUSED = """
def refuse(self):
    raise OSError(11, "Resource temporarily unavailable")
multiprocessing.get_context("fork").Process.start = refuse
"""
ABSENT = "rete.available = lambda: False"
CROWDED = "channel.MOST_HIVES = 0"
PREAMBLE = """
import faulthandler, ctypes, multiprocessing, os, signal, sys, time
from hiveweek import facts
from hiveweek.cli import main
from hiveweek.inference import channel, orphan, rete
{fault}
main.entry()
"""


def command(fault, scenario, *more):
    code = PREAMBLE.format(fault=textwrap.dedent(fault))
    return [sys.executable, "-c", code, "week", str(scenario), "--offline", *more]


def week(fault, scenario, *more):
    return subprocess.run(command(fault, scenario, *more), capture_output=True, text=True, timeout=120, check=False)


@pytest.fixture
def scenario(tmp_path):
    path = tmp_path / "winter.yaml"
    path.write_text(SCENARIO, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        pytest.param(DIES, "ended without an answer", marks=second),
        pytest.param(KILLED, "ended without an answer", marks=second),
        pytest.param(RAISES, "stopped: ZeroDivisionError", marks=second),
        pytest.param(HANGS, "no answer within 0.5 s", marks=second),
        pytest.param(REFUSED, "could not be started: Resource temporarily unavailable", marks=second),
        pytest.param(CROWDED, "carries up to 0 hives", marks=second),
        (ABSENT, "needs Python below 3.13"),
    ],
)
def test_one_channel_alone_is_no_answer_when_two_are_asked_for(fault, said, scenario):
    done = week(fault, scenario, "--strict")
    assert (done.returncode, done.stdout) == (3, "")
    (line,) = done.stderr.splitlines()
    assert line.startswith("no answer, because the second channel") and said in line


@second
def test_nothing_is_written_where_there_is_no_answer(scenario, tmp_path):
    page = tmp_path / "week.html"
    for more in (["--json"], ["--page", str(page)], ["--why", "food.candy-now"]):
        done = week(LEAVES, scenario, "--strict", *more)
        assert (done.returncode, done.stdout) == (3, "") and len(done.stderr.splitlines()) == 1
    assert not page.exists()


@second
def test_both_channels_at_one_give_the_answer(scenario):
    strict, plain = week("", scenario, "--strict", "--json"), week("", scenario, "--json")
    assert (strict.returncode, strict.stderr) == (0, "") and strict.stdout == plain.stdout
    assert '"rete": "agrees"' in strict.stdout


@second
@pytest.mark.parametrize(("fault", "state"), [(LEAVES, "failed"), (CROWDED, "not run")])
def test_without_strict_the_columnar_answer_stands_and_the_reason_is_told(fault, state, scenario):
    done = week(fault, scenario, "--json")
    assert done.returncode == 0 and f'"rete": "{state}"' in done.stdout
    assert done.stderr.startswith("note: the second channel") and len(done.stderr.splitlines()) == 1


# --- a parent that is killed ---
BEFORE_FACTS = "{note}; facts.build = lambda *words, **more: time.sleep(300)"
AT_WORK = "rete.Prepared.run = lambda self, table: [{note}, time.sleep(300)]"
IN_C = "rete.Prepared.run = lambda self, table: [{note}, ctypes.PyDLL(None).pause()]"
WITHOUT_KERNEL = "orphan._ask_kernel = lambda: None; " + AT_WORK
CHILD = """
true_child = channel._child
def child(*words):
    open({place!r}, "w").write(str(os.getpid()))
    true_child(*words)
channel._child = child
"""


def gone(pid):
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return True
    # Where nobody reaps orphans, the dead stay listed.
    with open(f"/proc/{pid}/stat", encoding="utf-8") as file:
        return file.read().rpartition(")")[2].split()[0] in "ZX"


@second
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="looks at processes as Linux lists them")
@pytest.mark.parametrize(
    "fault",
    [BEFORE_FACTS, AT_WORK, IN_C, WITHOUT_KERNEL],
    ids=["before the facts", "at work", "inside the library", "without the kernel's help"],
)
def test_the_second_channel_ends_with_a_killed_parent(fault, scenario, tmp_path):
    child, ready = tmp_path / "child", tmp_path / "ready"
    note = f"open({str(ready)!r}, 'w').close()"
    fault = CHILD.format(place=str(child)) + fault.format(note=note)
    parent = subprocess.Popen(
        command(fault, scenario), stdout=subprocess.PIPE, stderr=subprocess.STDOUT, start_new_session=True
    )
    try:
        wait_for(lambda: ready.exists() and child.exists() and child.read_text())
        parent.send_signal(signal.SIGKILL)
        assert parent.communicate(timeout=20)[0] == b"", "the output pipe is closed by all"
        wait_for(lambda: gone(int(child.read_text())))
    finally:
        parent.kill()
        if child.exists() and not gone(int(child.read_text())):
            os.kill(int(child.read_text()), signal.SIGKILL)


def wait_for(condition, seconds=60):
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, "waited too long"
        time.sleep(0.05)


def test_what_a_child_says_to_nobody_is_no_error(capfd):
    """The parent has gone: the child that would tell of a fault has nobody to tell, and says nothing on the screen."""

    class Closed:
        def recv(self):
            raise OSError

        def send(self, said):
            raise BrokenPipeError

        def close(self):
            pass

    channel_end, channel.end_with_parent = channel.end_with_parent, lambda: None
    try:
        channel._child(Closed(), None, None, False)
    finally:
        channel.end_with_parent = channel_end
    assert capfd.readouterr() == ("", "")

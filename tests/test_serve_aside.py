"""The process beside the served page: what it answers, when it is ended from outside, and how it ends."""

import os
import signal
import subprocess
import sys
import time
from concurrent.futures import CancelledError
from contextlib import suppress

import kept_kit
import pytest

from hiveweek.serve.aside import Aside, Gone


@pytest.fixture
def aside():
    made = Aside()
    yield made
    made.close()


def linger(until):
    """Leave a process behind that holds all open files of this one, as long as another one runs."""
    if os.fork() == 0:
        with suppress(ProcessLookupError):
            while True:
                os.kill(until, 0)
                time.sleep(0.02)
        os._exit(0)


def test_it_works_out_one_job_after_another_and_tells_what_was_raised(aside):
    jobs = [aside.submit(divmod, 7, by) for by in (2, 0, 3)]
    assert (jobs[0].result(), jobs[2].result()) == ((3, 1), (2, 1))
    with pytest.raises(RuntimeError, match="ZeroDivisionError"):
        jobs[1].result()


def test_ended_from_outside_it_says_so_and_the_next_job_starts_another(aside):
    first = aside.submit(os.getpid).result()
    with pytest.raises(Gone):
        aside.submit(os.kill, first, signal.SIGTERM).result()
    assert aside.submit(os.getpid).result() != first


def test_what_waits_is_cancelled_when_it_is_closed():
    aside = Aside()
    aside.submit(os.getpid).result()
    works, waits = aside.submit(time.sleep, 600), aside.submit(os.getpid)
    while not works.running():
        time.sleep(0.01)
    aside.close()
    with pytest.raises(Gone):
        works.result()
    for one in (waits, aside.submit(os.getpid)):
        with pytest.raises((CancelledError, Gone)):
            one.result()


@kept_kit.posix
@pytest.mark.parametrize("closed", ["aside.close()", "pass"])
def test_its_end_waits_for_nothing_that_it_has_started(closed):
    script = f"""
import os, time
from hiveweek.serve.aside import Aside
from test_serve_aside import linger
aside = Aside()
aside.submit(linger, os.getpid()).result()
works = aside.submit(time.sleep, 600)
{closed}
"""
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([os.path.dirname(__file__), *sys.path])}
    assert subprocess.run([sys.executable, "-c", script], env=environment, timeout=60, check=True).returncode == 0

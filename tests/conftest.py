"""What tests keep between runs goes to a folder of their own, not to the user's."""

import atexit
import gc
import json
import os
import shutil
import sys
import tempfile

import hypothesis
import pytest

if "HIVEWEEK_CACHE" not in os.environ and "HIVEWEEK_NO_CACHE" not in os.environ:
    os.environ["HIVEWEEK_CACHE"] = tempfile.mkdtemp(prefix="hiveweek-")
    atexit.register(shutil.rmtree, os.environ["HIVEWEEK_CACHE"], True)

# Nor does a test meet the record of whoever runs it.
os.environ["HIVEWEEK_RECORD"] = os.path.join(tempfile.gettempdir(), "hiveweek-no-record-of-a-test.sqlite")

# Rules and facts that are read once stay for the session: looks through them for what is no longer used cost a fifth.
gc.set_threshold(50_000)

# How long an example takes says how busy the machine is, nothing of the code.
hypothesis.settings.register_profile("suite", deadline=None)
hypothesis.settings.load_profile("suite")

if "MUTANT_UNDER_TEST" in os.environ:  # set by mutmut: the same examples for each fault, and none made smaller
    hypothesis.settings.register_profile(
        "mutants",
        phases=(hypothesis.Phase.explicit, hypothesis.Phase.generate),
        database=None,
        derandomize=True,
        deadline=None,
    )
    hypothesis.settings.load_profile("mutants")


# Files whose tests take longest begin first, so that no worker ends with one of them while the others have nothing left.
_LONG = (
    "rulesets_cases",
    "laws",
    "worked_year",
    "rulesets_proofs",
    "session_year",
    "laws_days",
    "authoring_write",
    "plan_since",
)


def pytest_collection_modifyitems(items):
    """Put the files that take longest first; the order inside a file stays."""
    rank = {f"test_{name}.py": place for place, name in enumerate(_LONG)}
    items.sort(key=lambda item: rank.get(item.path.name, len(_LONG)))


def pytest_sessionstart(session):
    """Under mutmut, forget what the code without the fault had worked out before this process was forked."""
    if "MUTANT_UNDER_TEST" in os.environ:
        _forget()


def pytest_runtest_setup(item):
    """While mutmut notes which test reaches which function, let none find the work done by the one before."""
    if os.environ.get("MUTANT_UNDER_TEST") == "stats":
        _forget()


def _forget():
    tests = os.path.dirname(os.path.abspath(__file__))
    rooms = tuple(f"hiveweek.{room}." for room in ("language", "climate", "colony", "facts", "inference", "plan"))
    for name, module in list(sys.modules.items()):
        if name.startswith((*rooms, "upkeep.")) or str(getattr(module, "__file__", "")).startswith(tests):
            for held in list(vars(module).values()):
                if hasattr(held, "cache_clear") and getattr(held, "__module__", "") == name:
                    held.cache_clear()


@pytest.fixture
def record(tmp_path, monkeypatch):
    """Where the record of a test's commands is kept; nothing is there yet."""
    path = tmp_path / "record.sqlite"
    monkeypatch.setenv("HIVEWEEK_RECORD", str(path))
    return path


@pytest.fixture
def run(record, capsys):
    """Run a command over that record: what it prints, read where it is JSON; its complaint where it is to fail."""
    from hiveweek.cli.main import main

    def command(*words, code=0):
        capsys.readouterr()
        assert main(list(words)) == code, capsys.readouterr()
        said = capsys.readouterr()
        if code:
            return said.err or said.out
        return json.loads(said.out) if "--json" in words else said.out

    return command


@pytest.fixture
def archive(tmp_path, monkeypatch):
    """A small weather archive on the loopback, and nothing else for the client to ask."""
    from weather_archive import Server, write_stations

    for name in list(os.environ):
        if name.startswith("MS_") or name.lower().endswith("_proxy"):
            monkeypatch.delenv(name)
    folder = tmp_path / "archive"
    write_stations(folder / "stations.db")
    server = Server(folder)
    for name, value in server.settings().items():
        monkeypatch.setenv(name, value)
    yield server
    server.close()


@pytest.fixture(name="place")
def kept_place(tmp_path, monkeypatch):
    """An empty folder for what is kept between runs."""
    monkeypatch.delenv("HIVEWEEK_NO_CACHE", raising=False)
    monkeypatch.setenv("HIVEWEEK_CACHE", str(tmp_path / "kept"))
    return tmp_path / "kept"

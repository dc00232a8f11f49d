"""What tests keep between runs goes to a folder of their own, not to the user's."""

import atexit
import os
import shutil
import tempfile

import pytest

if "HIVEWEEK_CACHE" not in os.environ and "HIVEWEEK_NO_CACHE" not in os.environ:
    os.environ["HIVEWEEK_CACHE"] = tempfile.mkdtemp(prefix="hiveweek-")
    atexit.register(shutil.rmtree, os.environ["HIVEWEEK_CACHE"], True)


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

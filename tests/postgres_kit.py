"""A PostgreSQL of the tests' own: started in a temporary folder on a loopback port, ended with the process.

Where the distribution's package is missing, tests that need it fail when CI is set and say so elsewhere.
"""

import atexit
import functools
import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from pathlib import Path

import pytest

OWNER = "postgres"


def _programs() -> Path | None:
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    if found:
        return found[-1].parent
    one = shutil.which("initdb")
    return Path(one).parent if one else None


def _as_owner(command: list[str]) -> list[str]:
    """The server refuses to run as root; then its own user runs it."""
    return ["runuser", "-u", OWNER, "--", *command] if os.geteuid() == 0 else command


@functools.lru_cache(maxsize=1)
def _server() -> str:
    programs = _programs()
    if programs is None:
        message = "PostgreSQL is not installed here (Debian: apt-get install postgresql)"
        if os.environ.get("CI"):
            pytest.fail(message)
        pytest.skip(message)
    folder = Path(tempfile.mkdtemp(prefix="hiveweek-pg-"))
    data = folder / "data"
    if os.geteuid() == 0:
        owner = pwd.getpwnam(OWNER)
        os.chown(folder, owner.pw_uid, owner.pw_gid)
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    quiet = {"capture_output": True, "cwd": "/"}
    subprocess.run(
        _as_owner([str(programs / "initdb"), "-D", str(data), "-A", "trust", "-U", "keeper", "--no-sync"]),
        check=True,
        **quiet,
    )
    options = f"-p {port} -c listen_addresses=127.0.0.1 -c unix_socket_directories={folder} -c fsync=off -c max_connections=40"
    start = [str(programs / "pg_ctl"), "-D", str(data), "-w", "-l", str(folder / "log"), "-o", options, "start"]
    subprocess.run(_as_owner(start), check=True, **(quiet | {"capture_output": False, "stdout": subprocess.DEVNULL}))

    def stop():
        subprocess.run(
            _as_owner([str(programs / "pg_ctl"), "-D", str(data), "-m", "immediate", "stop"]),
            check=False,
            capture_output=True,
            cwd="/",
        )
        shutil.rmtree(folder, ignore_errors=True)

    atexit.register(stop)
    return f"postgresql+psycopg://keeper@127.0.0.1:{port}"


_made = iter(range(10**9))


def database() -> str:
    """Return the URL of a new, empty database."""
    import psycopg

    server = _server()
    name = f"record_{os.getpid()}_{next(_made)}"
    with psycopg.connect(server.replace("+psycopg", "") + "/postgres", autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
    return f"{server}/{name}"

"""The page served as a user serves it: a process of its own, asked over real sockets."""

import os
import re
import signal
import subprocess
import sys
import time
from contextlib import contextmanager

import httpx

from hiveweek.cli.main import main

DAY = "2026-05-10"


def record(path, hives=("Ash", "Birch"), apiary="Mill Lane"):
    """A record of one apiary, each hive with a look and its equipment."""
    place = ("--record", str(path))
    assert main(["apiary", "new", apiary, "--climate", "cool_continental", *place]) == 0
    for hive in hives:
        words = ["hive.size=single", "hive.frames=10", "colony.frames_of_bees=7", "food.stores_kg=9"]
        assert main(["hive", "add", hive, *words, "--apiary", apiary, "--date", "2026-05-01", *place]) == 0
    return path


@contextmanager
def served(path, *words, secure=False):
    """Serve a record; give the address and the process."""
    command = [
        sys.executable,
        "-X",
        "faulthandler",
        "-m",
        "hiveweek.cli.main",
        "serve",
        "--record",
        str(path),
        "--port",
        "0",
    ]
    process = subprocess.Popen(
        [*command, "--date", DAY, "--offline", *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )
    try:
        said = ""
        while "Ctrl-C" not in said:
            line = process.stdout.readline()
            assert line, said
            said += line
        yield re.search(r"https?://[^/\s]+", said)[0], process, said
    finally:
        process.terminate()
        _ended(process)
        process.stdout.close()


def _ended(process):
    """Wait until it has ended; one that does not shows where it stands."""
    try:
        process.wait(60)
    except subprocess.TimeoutExpired:
        process.send_signal(signal.SIGABRT)
        print(process.stdout.read())
        process.wait()
        raise


class Browser(httpx.Client):
    """A client that keeps cookies, follows, and fills in forms as a browser without script does."""

    def __init__(self, base, **more):
        self.hives = {}
        super().__init__(base_url=base, follow_redirects=True, timeout=120, trust_env=False, **more)

    def forms(self, path, action):
        """The forms of a page with an action, as dicts of what they would send untouched."""
        text = self.get(path).text
        found = []
        for form in re.findall(rf'<form method="post" action="{action}".*?</form>', text, re.S):
            fields = {}
            for tag in re.findall(r"<(?:input|textarea|select)[^>]*>", form):
                said = dict(re.findall(r'([\w:-]+)="([^"]*)"', tag))
                kind = said.get("type", "")
                if "name" in said and (kind not in ("radio", "checkbox", "file") or " checked" in tag):
                    fields[said["name"]] = said.get("value", "")
            found.append(fields)
        return found

    def fill(self, action, fields, **headers):
        """Send a form."""
        return self.post(action, data=fields, headers={"origin": str(self.base_url).rstrip("/"), **headers})

    def until(self, path, words, seconds=180):
        """Load a page until it says something."""
        end = time.monotonic() + seconds
        while True:
            page = self.get(path)
            if words in page.text:
                return page
            assert time.monotonic() < end, page.text
            time.sleep(0.2)

    def hive(self, name):
        """The address of a hive's page, as the first sheet gave it."""
        if not self.hives:
            rows = re.findall(r'href="(/h/[^"]+)">.*?<b>([^<]+)</b>', self.get("/").text)
            self.hives = {hive: path for path, hive in rows}
        return self.hives[name]

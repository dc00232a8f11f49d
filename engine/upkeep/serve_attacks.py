"""Attacks on the served page, on the loopback: ``python -m upkeep.serve_attacks`` (long). Prints what each came to; exit 1 where one got through.

A record of 40 hives is served with a pass phrase, over plain HTTP so that what is counted is the page and not the handshake. Then:
many guesses at the phrase, forms without token or from elsewhere, foreign hosts, paths that climb, large uploads, pictures that
unpack to more than they should, slow clients, many phones at once, and texts full of HTML and escape codes.
"""

from __future__ import annotations

import argparse
import concurrent.futures
import datetime as dt
import io
import os
import re
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any
from urllib.parse import quote

import httpx
from argon2 import PasswordHasher
from PIL import Image

from hiveweek.record import Apiary, Entry, Hive, Kind, Placement
from hiveweek.record.entries import new_id
from hiveweek.record.photos import folder_of
from hiveweek.record.store import open_store
from hiveweek.serve.secrets_kept import keep_phrase

DAY = dt.date(2026, 5, 10)
HIVES = 40
PHRASE = "nine frames of quiet bees"
NASTY = "<script>alert(1)</script><img src=x onerror=alert(1)>\x1b]0;gone\x07\x1b[31m\u202e{{7*7}}'\"&"
MEGABYTE = 1024 * 1024


def record(place: Path) -> None:
    """Make a record of one apiary, whose names and texts are as bad as the record lets them be."""
    with open_store(place) as store:
        apiary = Apiary(new_id(), "<b>Mill & Lane</b>", climate="cool_continental")
        store.add_apiary(apiary)
        for number in range(HIVES):
            hive = Hive(new_id(), f"<i>{number}</i>\x1b[31m", (Placement(apiary.id, DAY.replace(year=2025)),))
            store.add_hive(hive)
            facts = {"colony.frames_of_bees": 4 + number % 9, "food.stores_kg": 3 + number % 12}
            common: dict[str, Any] = {"recorded_at": dt.datetime.now(dt.UTC), "who": NASTY, "note": new_id()}
            seen = Entry(new_id(), Kind.SEEN, apiary.id, hive.id, DAY - dt.timedelta(days=3), facts=facts, **common)
            said = Entry(new_id(), Kind.REMARK, apiary.id, hive.id, DAY - dt.timedelta(days=3), text=NASTY, **common)
            store.add([seen, said])
    cheap = PasswordHasher(
        time_cost=1, memory_cost=1024, parallelism=1
    )  # guesses cost the attacker next to nothing here
    for role, phrase in (("keeper", PHRASE), ("helper", "carry the smoker")):
        keep_phrase(folder_of(str(place)), role, cheap.hash(phrase))


class Served:
    """The page in a process of its own."""

    def __init__(self, place: Path):
        words = ["serve", "--lan", "--address", "127.0.0.1", "--plain-http", "--port", "0", "--offline"]
        self.process = subprocess.Popen(
            [sys.executable, "-m", "hiveweek.cli.main", *words, "--date", DAY.isoformat(), "--record", str(place)],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )
        said = ""
        while "Ctrl-C" not in said:
            assert self.process.stdout is not None
            line = self.process.stdout.readline()
            if not line:
                raise SystemExit(said)
            said += line
        self.url = re.findall(r"http://[\d.:]+", said)[-1]
        self.host, port = self.url.removeprefix("http://").split(":")
        self.port = int(port)

    def memory_mb(self) -> float:
        """Return the memory that the page holds, in MB."""
        status = Path(f"/proc/{self.process.pid}/status").read_text(encoding="utf-8")
        found = re.search(r"VmRSS:\s+(\d+)", status)
        return int(found[1]) / 1024 if found else float("nan")

    def client(self, **more: Any) -> httpx.Client:
        """Return a client without cookies."""
        headers = {"origin": self.url}
        return httpx.Client(
            base_url=self.url, headers=headers, timeout=60, trust_env=False, follow_redirects=True, **more
        )

    def keeper(self) -> httpx.Client:
        """Return a client that is signed in."""
        client = self.client()
        end = time.monotonic() + 120
        while client.post("/enter", data={"phrase": PHRASE, "to": "/"}).status_code != 200:
            assert time.monotonic() < end
            time.sleep(1)
        while "most pressing first" not in client.get("/").text:
            assert time.monotonic() < end
            time.sleep(0.5)
        return client

    def raw(self, data: bytes, seconds: float = 20) -> bytes:
        """Send bytes as they are; return what comes back until the end."""
        with socket.create_connection((self.host, self.port), timeout=seconds) as one:
            one.sendall(data)
            found = b""
            while chunk := one.recv(65536):
                found += chunk
        return found


def token_and_hives(client: httpx.Client) -> tuple[str, list[str]]:
    """Return the token of a session, and the ids of the hives."""
    page = client.get("/").text
    return re.findall(r'data-token="([^"]+)"', page)[0], re.findall(r'href="/h/([\w-]+)"', page)


def entries(place: Path) -> int:
    """Return how many entries the record has."""
    with open_store(place) as store:
        return len(store.everything().entries)


# --- attacks: each returns (what it came to, whether it was held)
def foreign(served: Served, place: Path, keeper: httpx.Client) -> tuple[str, bool]:
    """Forms of other sites, without token, with other people's; foreign hosts."""
    token, hives = token_and_hives(keeper)
    before, refused, tried = entries(place), 0, 0
    good = {"note": new_id(), "hive": hives[0], "f:colony.eggs": "true"}
    ways: list[tuple[dict, dict]] = [
        ({**good, "token": token}, {"origin": origin})
        for origin in ("http://evil.example", "null", served.url + ".evil.example", "")
    ]
    ways += [({**good, "token": token}, {"sec-fetch-site": site}) for site in ("cross-site", "same-site", "none")]
    ways += [({**good, "token": bad}, {}) for bad in ("", "x", token[:-2] + "xx", token.partition(".")[0])]
    ways += [({**good, "token": token}, {"host": host}) for host in ("evil.example", served.host, "localhost", "[::1]")]
    for path in ("/note", "/words", "/done", "/later", "/skip", "/undo", "/photo", "/read"):
        for data, headers in ways:
            tried += 1
            refused += keeper.post(path, data=data, headers=headers).status_code in (403, 421)
    return f"{refused} of {tried} refused, {entries(place) - before} entries written", refused == tried and entries(
        place
    ) == before


def climbing(served: Served, place: Path, keeper: httpx.Client) -> tuple[str, bool]:
    """Paths that climb out of the page's folder."""
    cookie = "; ".join(f"{name}={value}" for name, value in keeper.cookies.items())
    steps = ("../", "..%2f", "%2e%2e/", "..\\", "%2e%2e%5c", "....//", "%252e%252e%252f", "/", "%00/")
    aims = ("keys.json", "key.pem", "record.sqlite", "etc/passwd", "app.py")
    found, tried = 0, 0
    for start in ("/static/", "/photo/", "/h/", "/a/", "/"):
        for step in steps:
            for times in (1, 3, 8):
                for aim in aims:
                    path = f"{start}{step * times}{aim}"
                    said = served.raw(
                        f"GET {path} HTTP/1.1\r\nHost: {served.host}:{served.port}\r\nCookie: {cookie}\r\nConnection: close\r\n\r\n".encode()
                    )
                    tried += 1
                    status = said.split(b" ", 2)[1:2]
                    found += status not in ([b"404"], [b"400"], [b"421"]) or b"root:" in said or b"argon2" in said
    return f"{tried} paths, {found} led anywhere", not found


def large(served: Served, place: Path, keeper: httpx.Client) -> tuple[str, bool]:
    """Bodies of 50 MB, told and untold; pictures that unpack to a great deal; heads without end."""
    token, hives = token_and_hives(keeper)
    before = served.memory_mb()
    held = []
    for path in ("/photo", "/note", "/enter", "/words"):
        try:
            answer = keeper.post(
                path, content=b"x" * (50 * MEGABYTE), headers={"content-type": "application/x-www-form-urlencoded"}
            )
            held.append(answer.status_code == 413)
        except httpx.HTTPError:  # the connection was closed before all of it was sent
            held.append(True)
        try:
            chunks = (b"x" * MEGABYTE for _ in range(50))
            answer = keeper.post(path, content=chunks, headers={"content-type": "application/x-www-form-urlencoded"})
            held.append(answer.status_code in (400, 403, 413))
        except httpx.HTTPError:
            held.append(True)
    flat = io.BytesIO()
    Image.new("1", (30_000, 30_000)).save(flat, "PNG")
    sent = {"token": token, "note": new_id(), "hive": hives[0]}
    bomb = keeper.post("/photo", data=sent, files={"photo": ("bomb.png", flat.getvalue())})
    held.append(bomb.status_code == 422)
    for broken in (
        b"",
        b"\xff\xd8\xff",
        os.urandom(200_000),
        b"GIF89a" + b"\0" * 1000,
        b"<svg onload='alert(1)'/>",
        b"%PDF-1.7",
    ):
        held.append(
            keeper.post("/photo", data={**sent, "note": new_id()}, files={"photo": ("x", broken)}).status_code == 422
        )
    head = f"GET / HTTP/1.1\r\nHost: {served.host}:{served.port}\r\nX: ".encode() + b"y" * MEGABYTE
    try:
        held.append(b" 400 " in served.raw(head)[:40])
    except OSError:
        held.append(True)
    grown = served.memory_mb() - before
    return f"{sum(held)} of {len(held)} refused, memory of the page {grown:+.0f} MB", all(held) and grown < 200


def slow(served: Served, place: Path, keeper: httpx.Client) -> tuple[str, bool]:
    """300 clients that send a letter now and then; the page goes on answering others."""
    many = []
    for number in range(300):
        one = socket.create_connection((served.host, served.port), timeout=60)
        one.sendall(b"POST /note HTTP/1.1\r\nHost: " if number % 2 else b"G")
        many.append(one)
    body = [socket.create_connection((served.host, served.port), timeout=60) for _ in range(50)]
    for one in body:
        head = f"POST /enter HTTP/1.1\r\nHost: {served.host}:{served.port}\r\nContent-Length: 1000\r\n"
        one.sendall(head.encode() + b"Content-Type: application/x-www-form-urlencoded\r\n\r\np")
    times = [timed(lambda: keeper.get("/")) for _ in range(20)]
    end = time.monotonic() + 30
    open_still = [*many, *body]
    while open_still and time.monotonic() < end:
        left = []
        for one in open_still:
            one.settimeout(0.01)
            try:
                one.sendall(b"a")
                if one.recv(4096):
                    left.append(one)  # told that it took too long; the end comes next
            except TimeoutError:
                left.append(one)
            except OSError:
                pass
        open_still = left
        time.sleep(1)
    for one in (*many, *body):
        one.close()
    said = f"350 clients, {len(open_still)} still open after 30 s; others meanwhile answered in {1000 * max(times):.0f} ms at most"
    return said, not open_still and max(times) < 2


def timed(act: Callable[[], object]) -> float:
    """Return the seconds that something takes."""
    began = time.monotonic()
    act()
    return time.monotonic() - began


def phones(served: Served, place: Path, keeper: httpx.Client) -> tuple[str, bool]:
    """50 phones at once, each reading and noting; every note once."""
    token, hives = token_and_hives(keeper)
    cookies = dict(keeper.cookies)
    before, times, lost = entries(place), [], []

    def phone(number: int) -> list[float]:
        with served.client(cookies=cookies) as client:
            taken = []
            for turn in range(6):
                hive = hives[(number + turn) % len(hives)]
                taken.append(timed(partial(client.get, f"/h/{hive}")))
                note = {
                    "token": token,
                    "note": str(uuid.uuid4()),
                    "hive": hive,
                    "f:colony.eggs": "true",
                    "at": f"{DAY}T10:{turn:02d}:00",
                }
                for _ in range(2):  # each sent twice, as after an answer that was lost
                    said = client.post("/note", data=note, headers={"accept": "application/json"})
                    if said.status_code != 200:
                        lost.append(said.text)
            return taken

    with concurrent.futures.ThreadPoolExecutor(50) as pool:
        for taken in pool.map(phone, range(50)):
            times += taken
    came = entries(place) - before
    middle, high = statistics.median(times), sorted(times)[int(len(times) * 0.95)]
    said = f"300 notes sent twice, {came} came, {len(lost)} refused; a hive's page took {1000 * middle:.0f} ms in the middle, {1000 * high:.0f} ms at 95 in 100"
    return said, came == 300 and not lost


def quiet(served: Served, place: Path, keeper: httpx.Client) -> tuple[str, bool]:
    """The pages of 40 hives with nobody else there, after their first answer."""
    _, hives = token_and_hives(keeper)
    end = time.monotonic() + 60
    while "worked out anew" in keeper.get("/").text and time.monotonic() < end:
        time.sleep(0.5)
    sheets = [timed(lambda: keeper.get("/")) for _ in range(20)]
    cards = [timed(partial(keeper.get, f"/h/{hive}")) for hive in hives]
    note = {"token": token_and_hives(keeper)[0], "note": new_id(), "hive": hives[0], "f:colony.eggs": "true"}
    written = timed(lambda: keeper.post("/note", data=note, headers={"accept": "application/json"}))
    at_once = timed(lambda: keeper.get("/"))
    said = (
        f"sheet {1000 * statistics.median(sheets):.0f} ms (most {1000 * max(sheets):.0f}), card {1000 * statistics.median(cards):.0f} ms "
        f"(most {1000 * max(cards):.0f}), a note {1000 * written:.0f} ms, the sheet right after it {1000 * at_once:.0f} ms"
    )
    return said, max(statistics.median(sheets), statistics.median(cards), at_once) < 0.3


def texts(served: Served, place: Path, keeper: httpx.Client) -> tuple[str, bool]:
    """HTML and escape codes in every text that can be sent, and in the record itself."""
    token, hives = token_and_hives(keeper)
    pages, bad = 0, 0
    for path in (
        "/",
        f"/h/{hives[0]}",
        f"/enter?to={quote(NASTY)}",
        f"/h/{quote(NASTY, safe='')}",
        f"/?kept={quote(NASTY)}",
    ):
        pages, bad = pages + 1, bad + _harmful(keeper.get(path).text)
    base = {
        "token": token,
        "note": new_id(),
        "hive": hives[1],
        "at": "",
        "action": "feed-thin-syrup",
        "text": "7 seams",
        "reason": "x",
    }
    for action in ("/note", "/words", "/read", "/done", "/later", "/skip", "/undo", "/enter", "/photo"):
        for name in (
            *base,
            "d:litres",
            "f:colony.eggs",
            "f:" + NASTY,
            "d:" + NASTY,
            "until",
            "phrase",
            "who",
            "to",
            NASTY,
        ):
            if name != "token":
                answer = keeper.post(action, data={**base, "note": new_id(), name: NASTY})
                pages, bad = pages + 1, bad + _harmful(answer.text) + (answer.status_code >= 500)
    return f"{pages} pages, {bad} with anything of it as more than text", not bad


def _harmful(page: str) -> bool:
    return any(piece in page for piece in ("<script>alert", "<img src=x", "\x1b", "\u202e", "<b>Mill", "<i>0", ">49<"))


def guesses(served: Served, place: Path, keeper: httpx.Client, number: int) -> tuple[str, bool]:
    """Guesses as fast as they can be sent, from eight places at once, the right one among them."""
    began, statuses = time.monotonic(), []

    def some(part: int) -> list[int]:
        with served.client() as client:
            return [
                client.post("/enter", data={"phrase": f"guess number {one} of many"}).status_code
                for one in range(part, number, 8)
            ]

    with concurrent.futures.ThreadPoolExecutor(8) as pool:
        for found in pool.map(some, range(8)):
            statuses += found
    with served.client() as client:
        right = client.post("/enter", data={"phrase": PHRASE}).status_code
    tried = sum(status != 429 for status in statuses)
    inside = keeper.get("/").url.path != "/enter"
    said = f"{len(statuses)} guesses in {time.monotonic() - began:.0f} s, {tried} were tried, the others had to wait (as the right phrase then: {right}); who was in stayed in"
    return said, tried <= 10 and inside and right == 429


def main() -> int:
    """Run them all."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--guesses", type=int, default=10_000)
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "record.sqlite"
        record(place)
        served = Served(place)
        try:
            keeper = served.keeper()
            attacks: dict[str, Callable[[], tuple[str, bool]]] = {
                attack.__name__: partial(attack, served, place, keeper)
                for attack in (quiet, foreign, climbing, texts, large, phones, slow)
            }
            first = {
                "guesses": lambda: guesses(served, place, keeper, args.guesses)
            }  # before others have used up its tries
            attacks = {**first, **attacks}
            held = True
            for name, attack in attacks.items():
                said, well = attack()
                held = held and well
                print(f"{name:9} {'held' if well else 'NOT HELD'}: {said}", flush=True)
        finally:
            served.process.terminate()
            served.process.wait(20)
    return 0 if held else 1


if __name__ == "__main__":
    raise SystemExit(main())

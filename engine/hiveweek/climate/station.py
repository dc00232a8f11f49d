"""Weather of a real place: the days around a date, and the means of thirty years, from stations near it.

The archive is asked in a process of its own with a deadline, after a quick try whether it answers at all, so a missing
or slow network costs little and never looks like missing data. Answers are kept in the user's cache folder as JSON, for the user alone (``kept``).
All that is ours of the asking is that quick try (the archive's client has no deadline, and importing it takes longer).
"""

from __future__ import annotations

import atexit
import datetime as dt
import hashlib
import json
import math
import os
import shutil
import subprocess
import sys
import tempfile
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from hiveweek.climate.forecast import RANGES, Day
from hiveweek.kept import own_folder, read_file, write_file
from hiveweek.numbers import Branch, shipped
from hiveweek.problems import InputProblems, Problem
from hiveweek.texts.parts import DIFFERENCE, Message, Quantity, Written, message

ENDPOINTS = {
    "days": ("MS_DAILY_ENDPOINT", "https://data.meteostat.net/daily/{year}/{station}.csv.gz"),
    "normals": ("MS_MONTHLY_ENDPOINT", "https://data.meteostat.net/monthly/{station}.csv.gz"),
}
KNOCK_SECONDS = 0.7  # is anybody there at all
DAYS_SECONDS = 6.0  # the whole answer for a week
NORMALS_SECONDS = 120.0  # the list of stations and many years of files
KEPT_SECONDS = {"near": 3 * 3600, "past": 30 * 86400, "no-station": 7 * 86400, "no-data": 3 * 3600}
FETCHER = Path(__file__).with_name("station_fetch.py")  # run by its path: it needs nothing of this package
STALE_SECONDS = 2 * 86400  # an older answer than this does not stand in for one that cannot be fetched


@dataclass
class Nearby:
    """Days of weather near a place.

    Attributes
    ----------
    days : list of Day
        With temperatures brought to the height of the place; empty where nothing was found or fetched.
    status : str
        ``ok``, ``no-station``, ``no-data``, ``outage`` or ``unreadable``.
    station : dict
        id, name, lat, lon, elev, distance_km of the station used; empty otherwise.
    notes : list of Phrase
        For people.
    attribution : str
        Whose data it is, with licences.
    """

    status: str
    days: list = field(default_factory=list)
    station: dict = field(default_factory=dict)
    notes: list = field(default_factory=list)
    attribution: str = ""


def check_place(lat: float | None, lon: float | None, elev: float | None = None) -> None:
    """Raise InputProblems where coordinates or height lie outside the Earth's."""
    problems = []
    for word, value, low, high in (
        ("latitude", lat, -90, 90),
        ("longitude", lon, -180, 180),
        ("elevation", elev, -430, 6000),
    ):
        if value is None and word == "elevation":
            continue
        if value is None or not math.isfinite(value) or not low <= value <= high:
            problems.append(Problem("", 0, 0, "out-of-range", f"{word} {value} lies outside {low} to {high}"))
    if problems:
        raise InputProblems(problems)


def days_near(
    lat: float,
    lon: float,
    elev: float | None,
    start: dt.date,
    end: dt.date,
    cache_dir: Path | None = None,
    numbers: Branch | None = None,
) -> Nearby:
    """Return the days that a station near a place has measured or expects.

    Parameters
    ----------
    lat, lon : float
        Degrees north and east.
    elev : float or None
        Metres above the sea; None uses temperatures as measured.
    start, end : date
        First and last day, both included.
    cache_dir : path, optional
        The user's cache folder by default.
    numbers : Branch, optional
        ``weather.*``; the shipped ones by default.

    Returns
    -------
    Nearby
        Never raises for the network: an outage, a slow or broken archive and a place without stations are statuses.

    Raises
    ------
    InputProblems
        For coordinates outside the Earth's.
    """
    check_place(lat, lon, elev)
    n = numbers or shipped().weather
    request = {
        "want": "days",
        "lat": round(lat, 3),
        "lon": round(lon, 3),
        "elev": elev,
        "start": start.isoformat(),
        "end": end.isoformat(),
        "radius_km": n.stations.station_radius_km,
        "height_km_per_100m": n.stations.height_km_per_100m,
        "patience": 3,
    }
    reply, age = ask(request, DAYS_SECONDS, cache_dir)
    if reply["status"] != "ok":
        return Nearby(reply["status"], notes=[_why_not(reply)])
    station = reply["station"]
    shift = (
        n.stations.lapse_c_per_km * (station["elev"] - elev) / 1000
        if elev is not None and station["elev"] is not None
        else 0.0
    )
    found = Nearby("ok", station=station, attribution=_rights(reply))
    dropped = 0
    for entry in reply["days"]:
        day, bad = _day(entry, shift)
        dropped += bad
        found.days.append(day)
    found.notes.append(_about_station(station, shift))
    if dropped:
        found.notes.append(message("note.station-dropped"))
    if age > KEPT_SECONDS["near"] and not _long_past(request):
        found.notes.append(message("note.station-kept", hours=Quantity(round(age / 3600), "hours")))
    return found


def _day(entry: dict, shift: float) -> tuple[Day, int]:
    values, bad = {}, 0
    for name, column in (("tmin", "tmin_c"), ("tmax", "tmax_c"), ("precip", "precip_mm"), ("wind", "wind_kmh")):
        value = entry.get(name)
        low, high = RANGES[column]
        if not isinstance(value, (int, float)) or not math.isfinite(value):
            value = math.nan
        elif not low <= value <= high:
            value, bad = math.nan, 1
        values[name] = value + shift if name in ("tmin", "tmax") else value
    if values["tmin"] > values["tmax"]:
        values["tmin"] = values["tmax"] = math.nan
        bad = 1
    source = "forecast" if entry.get("source") == "forecast" else "observed"
    day = dt.date.fromisoformat(entry["date"])
    return Day(day, values["tmin"], values["tmax"], values["precip"], values["wind"], source), bad


def _about_station(station: dict, shift: float) -> Message:
    about = {"station": station["name"], "distance": Quantity(station["distance_km"], "km", 3)}
    if abs(shift) < 0.1:
        return message("note.station", **about)
    step = Written(f"{shift:+.1f} °C", (shift,), "degC", DIFFERENCE)
    return message("note.station-shifted", **about, shift=step)


def _rights(reply: dict) -> str:
    licences = ", ".join(reply.get("licences") or [])
    return reply.get("attribution", "") + (f" ({licences})" if licences else "")


def _why_not(reply: dict) -> Message:
    return message(f"usual-here.{reply.get('why') or reply['status']}")


# --- asking -------------------------------------------------------------------------------------


def ask(request: dict, seconds: float, cache_dir: Path | None, offline: bool = False) -> tuple[dict, float]:
    """Return (reply, its age in seconds) from the cache or, within so many seconds, from the archive.

    The reply's ``status`` is ok, no-station, no-data, outage or unreadable; ``why`` says more of an outage. An answer of a
    few hours is used again; an older one stands in only where the archive cannot be reached.
    """
    folder = _folder(cache_dir)
    name, endpoint = ENDPOINTS[request["want"]]
    endpoint = os.environ.get(name) or endpoint
    settings = {key: value for key, value in sorted(os.environ.items()) if key.startswith("MS_")}
    key = hashlib.sha256(json.dumps([request, settings], sort_keys=True).encode()).hexdigest()[:24]
    path = folder / f"{request['want']}-{key}.json"
    kept, age = _kept(path)
    if kept is not None and age <= _lifetime(request, kept):
        return kept, age
    if offline:
        return (kept, age) if kept is not None else ({"status": "outage", "why": "offline", "message": "offline"}, 0.0)
    reply = _fetch({**request, "cache_dir": str(folder)}, endpoint, seconds)
    if reply["status"] in ("ok", "no-station", "no-data") and not (reply.get("trouble") or []):
        _keep(path, reply)
    if (
        reply["status"] in ("outage", "unreadable")
        and kept is not None
        and kept["status"] == "ok"
        and age <= STALE_SECONDS
    ):
        return kept, age
    return reply, 0.0


def _long_past(request: dict) -> bool:
    return "end" in request and (dt.date.today() - dt.date.fromisoformat(request["end"])).days > 7


def _lifetime(request: dict, reply: dict) -> float:
    if reply["status"] != "ok":
        return KEPT_SECONDS[reply["status"]]
    return KEPT_SECONDS["past" if request["want"] == "normals" or _long_past(request) else "near"]


def _fetch(request: dict, endpoint: str, seconds: float) -> dict:
    if not _answers(endpoint):
        return {"status": "outage", "why": "no-network", "message": "no network"}
    try:
        done = subprocess.run(
            [sys.executable, "-P", str(FETCHER)],
            input=json.dumps(request),
            text=True,
            capture_output=True,
            timeout=seconds,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return {"status": "outage", "why": "slow", "message": f"no answer within {seconds:g} seconds"}
    except OSError as error:
        return {"status": "outage", "message": str(error)}
    try:
        reply = json.loads(done.stdout)
        if reply["status"] not in ("ok", "outage", "unreadable", "no-station", "no-data"):
            raise ValueError(reply["status"])
        return reply
    except (ValueError, KeyError, TypeError):
        last = done.stderr.strip().splitlines()[-1:] or ["no answer"]
        return {"status": "unreadable", "message": last[0]}


def _answers(endpoint: str) -> bool:
    """Whether the archive's server says anything at all within a moment; a folder always does.

    Looked up in a thread, since resolving a name cannot be given a deadline.
    """
    parts = urllib.parse.urlsplit(endpoint)
    if parts.scheme not in ("http", "https"):
        return True
    heard, ended = threading.Event(), threading.Event()

    def knock():
        try:
            door = urllib.request.Request(f"{parts.scheme}://{parts.netloc}/", method="HEAD")
            with urllib.request.urlopen(door, timeout=KNOCK_SECONDS):
                heard.set()
        except urllib.error.HTTPError:
            heard.set()  # "not found" is an answer
        except Exception:  # no name, no route, no patience, no sense in the answer: nobody there
            ended.set()

    threading.Thread(target=knock, daemon=True).start()
    limit = time.monotonic() + KNOCK_SECONDS
    while time.monotonic() < limit and not ended.is_set():
        if heard.wait(0.02):
            return True
    return heard.is_set()


def _folder(cache_dir: Path | None) -> Path:
    if cache_dir is None:
        import platformdirs

        cache_dir = Path(platformdirs.user_cache_dir("hiveweek")) / "weather"
    cache_dir = Path(cache_dir)
    try:
        own_folder(cache_dir)
        if not os.access(cache_dir, os.W_OK):
            raise PermissionError
    except OSError:
        cache_dir = Path(tempfile.mkdtemp(prefix="hiveweek-"))  # a place of our own for this run; nothing is kept
        atexit.register(shutil.rmtree, cache_dir, ignore_errors=True)
    return cache_dir


def _kept(path: Path) -> tuple[dict | None, float]:
    try:
        age = max(0.0, time.time() - path.stat().st_mtime)
        reply = json.loads(read_file(path, path.name))
        return (reply, age) if reply["status"] in ("ok", "no-station", "no-data") else (None, age)
    except (OSError, ValueError, KeyError, TypeError, RuntimeError):
        return None, 0.0


def _keep(path: Path, reply: dict) -> None:
    with suppress(OSError):  # a folder that takes nothing: the next run asks again
        write_file(path, path.name, json.dumps(reply))

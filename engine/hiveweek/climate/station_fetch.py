"""Asks the weather archive, in a process of its own that can be ended when it takes too long.

Run as a file, without the package: one JSON request on standard input, one JSON reply on standard output. Settings of the
archive's client (``MS_*`` environment variables) hold; its pickle cache is always off.
"""

from __future__ import annotations

import datetime as dt
import gzip
import json
import logging
import math
import os
import socket
import sys
from pathlib import Path
from typing import Any

MAX_STATIONS = 5


class _Ear(logging.Handler):
    """Keeps what the client only writes to its log: a failed download looks like missing data in its answer."""

    def __init__(self):
        super().__init__(logging.DEBUG)
        self.trouble: list[tuple[str, str]] = []

    def emit(self, record):
        if record.levelno < logging.WARNING:
            return
        error = record.exc_info[1] if record.exc_info else None
        if isinstance(getattr(error, "reason", error), FileNotFoundError):
            return  # an archive in a folder: no such file is the same as "not found"
        reach = error is None or (isinstance(error, OSError) and not isinstance(error, gzip.BadGzipFile))
        self.trouble.append(("outage" if reach else "unreadable", str(error or record.getMessage())))


def _reply(**words: Any) -> dict:
    return words


def _number(value):
    try:
        value = float(value)
    except (TypeError, ValueError):
        return None
    return value if math.isfinite(value) else None


def _open_stations(request: dict, ear: _Ear) -> tuple[Any, dict | None]:
    """Make sure that a readable list of stations stands in the cache folder; a half-fetched one never does."""
    import sqlite3

    from meteostat.api.config import config
    from meteostat.api.stations import stations

    final = Path(os.environ.get("MS_STATIONS_DB_FILE") or Path(request["cache_dir"]) / "stations.db")

    def readable(path: Path) -> bool:
        try:
            with sqlite3.connect(f"file:{path}?mode=ro", uri=True) as connection:
                connection.execute("select id, latitude, longitude, elevation from stations limit 1").fetchall()
            return True
        except sqlite3.Error:
            return False

    max_age = max(config.stations_db_ttl, config.cache_ttl)
    there = final.exists() and readable(final)
    fresh = there and dt.datetime.now().timestamp() - final.stat().st_mtime <= max_age
    if not fresh:
        part = final.with_name(f"{final.name}.{os.getpid()}.part")
        config.stations_db_file = str(part)
        try:
            final.parent.mkdir(parents=True, exist_ok=True)
            stations.query("select count(*) from stations")
            if not readable(part):
                raise ValueError("the list of stations cannot be read")
            os.replace(part, final)
            there = True
        except Exception as error:
            if not there:
                last = ear.trouble[-1] if ear.trouble else None
                if isinstance(error, ValueError) or type(error).__name__ == "DatabaseError":
                    return None, _reply(status="unreadable", message="the list of stations cannot be read")
                return None, _reply(status="outage", message=last[1] if last else str(error))
        finally:
            part.unlink(missing_ok=True)
    config.stations_db_file = str(final)
    config.stations_db_ttl = 10**10  # an old list of stations is better than none
    return stations, None


def _nearest(stations: Any, request: dict) -> list[dict]:
    from meteostat import Point

    frame = stations.nearby(Point(request["lat"], request["lon"]), radius=request["radius_km"] * 1000, limit=60)
    found = []
    for station, row in frame.iterrows():
        height = _number(row["elevation"])
        away = float(row["distance"]) / 1000
        cost = away
        if height is not None and request["elev"] is not None:
            cost += abs(height - request["elev"]) / 100 * request["height_km_per_100m"]
        found.append(
            {
                "id": str(station),
                "name": str(row["name"]),
                "country": row["country"],
                "lat": _number(row["latitude"]),
                "lon": _number(row["longitude"]),
                "elev": height,
                "distance_km": round(away, 1),
                "cost": cost,
            }
        )
    return sorted(found, key=lambda entry: (entry["cost"], entry["id"]))[:MAX_STATIONS]


def _as_station(entry: dict) -> Any:
    from meteostat import Station

    return Station(
        id=entry["id"],
        name=entry["name"],
        country=entry["country"],
        latitude=entry["lat"],
        longitude=entry["lon"],
        elevation=None if entry["elev"] is None else int(entry["elev"]),
    )


def _licences(series: Any) -> dict:
    licences = sorted({licence.name for licence in series.licenses if licence.name})
    owners = sorted({licence.attribution for licence in series.licenses if licence.attribution})
    return {"licences": licences, "attribution": ", ".join(["Meteostat", *owners])}


def _days(request: dict, entry: dict) -> tuple[list[dict], dict]:
    import meteostat
    from meteostat.core.providers import provider_service
    from meteostat.enumerations import Grade

    start, end = (dt.date.fromisoformat(request[key]) for key in ("start", "end"))
    series = meteostat.daily(_as_station(entry), start, end)
    frame = series.fetch(sources=True)
    days = []
    if frame is not None:
        for time, row in frame.iterrows():
            told = {
                ours: _number(row.get(theirs))
                for ours, theirs in (("tmin", "tmin"), ("tmax", "tmax"), ("precip", "prcp"), ("wind", "wspd"))
            }
            if all(value is None for value in told.values()):
                continue
            sources = str(row.get("tmax_source") or row.get("tmin_source") or "").split()
            grades = [getattr(provider_service.get_provider(source), "grade", None) for source in sources]
            guessed = any(grade in (Grade.FORECAST, Grade.ANALYSIS) for grade in grades)
            days.append({"date": time.date().isoformat(), **told, "source": "forecast" if guessed else "observed"})
    return days, _licences(series)


def _months(request: dict, entry: dict) -> tuple[dict | None, dict]:
    """Means of each month over the years, with the number of years behind each."""
    import meteostat

    first, last = request["years"]
    series = meteostat.monthly(_as_station(entry), dt.date(first, 1, 1), dt.date(last, 12, 31))
    frame = series.fetch()
    if frame is None:
        return None, {}
    frame = frame[~frame.index.duplicated(keep="last")]
    months = {}
    for month in range(1, 13):
        part = frame[frame.index.month == month]
        row = {}
        for name in ("temp", "tmin", "tmax", "prcp", "tsun"):
            values = part[name].dropna() if name in part else part.iloc[:, :0]
            count = len(values) if name in part else 0
            row[name] = [_number(values.mean()) if count else None, count]
        months[str(month)] = row
    return months, _licences(series)


def _daily_extras(request: dict, entry: dict) -> dict | None:
    """What only daily values tell: spread of days, wet days, snow days, humidity, mean wind; over the last years."""
    import meteostat

    last = request["years"][1]
    first = max(request["years"][0], last - request["daily_years"] + 1)
    series = meteostat.daily(_as_station(entry), dt.date(first, 1, 1), dt.date(last, 12, 31))
    frame = series.fetch()
    if frame is None:
        return None
    frame = frame[~frame.index.duplicated(keep="last")]
    without_mean = "temp" not in frame or frame["temp"].isna().all()
    if without_mean and "tmin" in frame and "tmax" in frame:
        frame["temp"] = (frame["tmin"] + frame["tmax"]) / 2
    extras: dict = {}
    for month in range(1, 13):
        row = {}
        for ours, column, work in (
            ("sd_daily_c", "temp", lambda v: v.std()),
            ("precip_days", "prcp", lambda v: (v >= request["wet_day_mm"]).mean()),
            ("snow_days", "snwd", lambda v: (v > 0).mean()),
            ("rh_pct", "rhum", lambda v: v.mean()),
            ("wind_kmh", "wspd", lambda v: v.mean()),
        ):
            values = []
            if column in frame:
                for year in range(first, last + 1):
                    part = frame[(frame.index.year == year) & (frame.index.month == month)][column].dropna()
                    if (
                        len(part) >= 25
                    ):  # as in published normals, a month with more than a few days missing does not count
                        values.append(float(work(part)))
            row[ours] = [sum(values) / len(values) if values else None, len(values)]
        extras[str(month)] = row
    return {"first": first, "last": last, "months": extras}


def answer(request: dict) -> dict:
    """Answer one request; whatever goes wrong becomes a status: outage, unreadable, no-station or no-data."""
    os.environ["MS_CACHE_ENABLE"] = "false"  # its cache is pickled: never read one
    os.environ.setdefault("MS_CACHE_DIRECTORY", str(Path(request["cache_dir"]) / "client"))
    os.environ.setdefault("MS_NETWORK_MAX_RETRIES", "0")
    os.environ.setdefault("MS_NETWORK_TIMEOUT", str(request["patience"]))
    socket.setdefaulttimeout(request["patience"])
    ear = _Ear()
    logger = logging.getLogger("meteostat")
    logger.addHandler(ear)
    logger.propagate = False
    try:
        import meteostat  # noqa: F401
    except Exception as error:
        return _reply(status="outage", message=f"the weather archive's client does not start: {error}")
    stations, trouble = _open_stations(request, ear)
    if trouble:
        return trouble
    ear.trouble.clear()
    near = _nearest(stations, request)
    if not near:
        return _reply(status="no-station", message=f"no station within {request['radius_km']:g} km")
    if request["want"] == "days":
        for entry in near:
            days, rights = _days(request, entry)
            if days:
                return _reply(status="ok", station=entry, days=days, trouble=ear.trouble, **rights)
            if any(kind == "outage" for kind, _ in ear.trouble):
                break
        return _nothing(ear, "the stations near here have no data for these days")
    told = []
    for entry in near:
        months, rights = _months(request, entry)
        if months:
            told.append({"station": entry, "months": months, **rights})
        elif any(kind == "outage" for kind, _ in ear.trouble):
            break
    if not told:
        return _nothing(ear, "the stations near here have no monthly data for these years")
    extras: dict = {}
    for entry in told:
        if all(
            entry["months"][str(month)][name][1] >= request["short_years"]
            for month in range(1, 13)
            for name in ("tmin", "tmax")
        ):
            extras = _daily_extras(request, entry["station"]) or {}
            extras["station"] = entry["station"]["id"]
            break
    return _reply(status="ok", stations=told, extras=extras, trouble=ear.trouble)


def _nothing(ear: _Ear, message: str) -> dict:
    for wanted in ("outage", "unreadable"):
        for kind, text in ear.trouble:
            if kind == wanted:
                return _reply(status=wanted, message=text)
    return _reply(status="no-data", message=message)


def main() -> int:
    """Read the request, write the reply."""
    request = json.load(sys.stdin)
    try:
        reply = answer(request)
    except Exception as error:
        reply = _reply(status="unreadable", message=f"{type(error).__name__}: {error}")
    json.dump(reply, sys.stdout)
    return 0


if __name__ == "__main__":
    sys.exit(main())

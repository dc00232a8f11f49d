"""A small weather archive in the real one's format, for tests: a folder of files and a server on the loopback."""

from __future__ import annotations

import contextlib
import gzip
import http.server
import json
import sqlite3
import threading
import time
from pathlib import Path

STATIONS = [
    # id, name, country, lat, lon, elevation
    ("T0001", "Alder Field", "IE", 51.90, -8.50, 160),
    ("T0002", "Brook Hill", "IE", 52.10, -8.60, 60),
    ("T0003", "Cold Moor", "IE", 52.60, -8.40, 250),
]


def write_stations(path: Path, stations=STATIONS) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with sqlite3.connect(path) as connection:
        connection.executescript(
            "create table stations (id text, country text, region text, latitude real, longitude real, elevation integer, timezone text);"
            "create table names (station text, language text, name text);"
            "create table identifiers (station text, key text, value text);"
            "create table inventory (station text, provider text, parameter text, start text, end text, completeness real);"
        )
        for code, name, country, lat, lon, elev in stations:
            connection.execute(
                "insert into stations values (?,?,?,?,?,?,?)", (code, country, None, lat, lon, elev, "Europe/Dublin")
            )
            connection.execute("insert into names values (?,?,?)", (code, "en", name))
    connection.close()


def write_daily(folder: Path, code: str, rows: dict, source: str = "dwd_daily") -> None:
    """rows: date -> dict of temp, tmin, tmax, prcp, wspd, snwd, rhum (missing = empty cell)."""
    names = ("temp", "tmin", "tmax", "rhum", "prcp", "snwd", "wspd")
    by_year: dict[int, list[str]] = {}
    for date, values in sorted(rows.items()):
        cells = [str(date.year), str(date.month), str(date.day)]
        for name in names:
            value = values.get(name)
            cells += ["", ""] if value is None else [f"{value}", values.get("source", source)]
        by_year.setdefault(date.year, []).append(",".join(cells))
    heading = "year,month,day," + ",".join(f"{name},{name}_source" for name in names)
    for year, lines in by_year.items():
        path = folder / "daily" / str(year) / f"{code}.csv.gz"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(gzip.compress(("\n".join([heading, *lines]) + "\n").encode()))


def write_monthly(folder: Path, code: str, rows: dict, source: str = "dwd_monthly") -> None:
    """rows: (year, month) -> dict of temp, tmin, tmax, prcp, tsun."""
    names = ("temp", "tmin", "tmax", "prcp", "tsun")
    lines = ["year,month," + ",".join(f"{name},{name}_source" for name in names)]
    for (year, month), values in sorted(rows.items()):
        cells = [str(year), str(month)]
        for name in names:
            value = values.get(name)
            cells += ["", ""] if value is None else [f"{value}", source]
        lines.append(",".join(cells))
    path = folder / "monthly" / f"{code}.csv.gz"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(gzip.compress(("\n".join(lines) + "\n").encode()))


class Server:
    """Serves a folder; ``slow`` seconds before each answer, ``fail`` status for paths that hold a word."""

    def __init__(self, folder: Path):
        self.folder, self.slow, self.fail, self.asked = folder, {}, {}, []
        outer = self

        class Handler(http.server.SimpleHTTPRequestHandler):
            def __init__(self, *args):
                super().__init__(*args, directory=str(folder))

            def do_GET(self):
                outer.asked.append(self.path)
                for word, seconds in outer.slow.items():
                    if word in self.path:
                        time.sleep(seconds)
                for word, status in outer.fail.items():
                    if word in self.path:
                        self.send_error(status)
                        return
                with contextlib.suppress(BrokenPipeError, ConnectionResetError):
                    super().do_GET()

            def log_message(self, *args):
                pass

        self.server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.server.daemon_threads = True
        self.thread = threading.Thread(target=self.server.serve_forever, daemon=True)
        self.thread.start()
        self.url = f"http://127.0.0.1:{self.server.server_address[1]}"

    def settings(self) -> dict[str, str]:
        return {
            "MS_DAILY_ENDPOINT": self.url + "/daily/{year}/{station}.csv.gz",
            "MS_MONTHLY_ENDPOINT": self.url + "/monthly/{station}.csv.gz",
            "MS_STATIONS_DB_ENDPOINTS": json.dumps([self.url + "/stations.db"]),
        }

    def close(self) -> None:
        self.server.shutdown()
        self.server.server_close()

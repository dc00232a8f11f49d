"""The forecast file: a row a day, ``date,tmin_c,tmax_c`` and where known ``precip_mm,wind_kmh``."""

from __future__ import annotations

import datetime as dt
import math
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from hiveweek.climate.commas import comma_hint, other_sign
from hiveweek.files import read_bytes, text_of
from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.shapes.structure import number_hint

REQUIRED = ("date", "tmin_c", "tmax_c")
OPTIONAL = ("precip_mm", "wind_kmh")

# what has been measured on Earth, with room to spare; outside it a unit or a sign is wrong
RANGES = {"tmin_c": (-80.0, 45.0), "tmax_c": (-75.0, 58.0), "precip_mm": (0.0, 1900.0), "wind_kmh": (0.0, 300.0)}
UNITS = {"tmin_c": "degC", "tmax_c": "degC", "precip_mm": "mm", "wind_kmh": "km/h"}
MAX_BYTES = 2_000_000

_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}$")
_NUMBER = re.compile(r"[-+]?([0-9]+(\.[0-9]*)?|\.[0-9]+)$")


@dataclass(frozen=True)
class Day:
    """Weather of one day; NaN where unknown.

    Attributes
    ----------
    date : date
    tmin, tmax : float
        Daily low and high [degC].
    precip : float
        Rain and melted snow of the day [mm].
    wind : float
        Mean wind of the day [km/h].
    source : str
        ``forecast``, ``observed`` or ``normals``.
    line : int
        Where it stands in a file; 0 where it comes from none.
    """

    date: dt.date
    tmin: float = math.nan
    tmax: float = math.nan
    precip: float = math.nan
    wind: float = math.nan
    source: str = "forecast"
    line: int = field(default=0, compare=False)


def cells(line: str) -> list[tuple[str, int]]:
    """Split one CSV line into (text, one-based column) pairs; quotes may enclose a cell.

    Ours, since the csv module does not tell the columns, which the problems name.
    """
    found, start, quoted = [], 0, False
    for place, sign in enumerate(line + ","):
        if sign == '"':
            quoted = not quoted
        elif sign == "," and (not quoted or place == len(line)):
            raw = line[start:place]
            text = raw.strip().strip('"').strip()
            found.append((text, start + (len(raw) - len(raw.lstrip())) + 1))
            start = place + 1
    return found


def read(path: Path | str, name: str | None = None) -> list[Day]:
    """Read a forecast or observations file.

    Parameters
    ----------
    path : path
        CSV with a header line. An empty cell is unknown, never zero. Lines that start with ``#`` are skipped.
    name : str, optional
        The file as people named it.

    Returns
    -------
    list of Day
        In order of date.

    Raises
    ------
    InputProblems
        With every problem of the file: unknown or missing columns, text that is no number or date, values outside
        what occurs on Earth, a low above the high, a date twice.
    """
    name = name or str(path)
    days, problems = parse(text_of(read_bytes(path, MAX_BYTES, name), name), name)
    if problems:
        raise InputProblems(problems)
    return days


def parse(text: str, name: str = "<text>") -> tuple[list[Day], list[Problem]]:
    """Parse the text of a forecast file into days and problems; see `read`."""
    lines = [
        (number, line)
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not lines:
        return [], [Problem(name, 1, 1, "empty-file", "the file is empty; its first line is date,tmin_c,tmax_c")]
    columns, problems = _header(*lines[0], name)
    if columns is None:
        return [], problems
    if len(lines) == 1:
        problems.append(Problem(name, lines[0][0], 1, "no-days", "there is a heading but no day below it"))
    days: dict[dt.date, Day] = {}
    places: dict[dt.date, int] = {}
    for number, line in lines[1:]:
        row = cells(line)
        if len(row) != len(columns):
            said = f"{len(row)} cells, the heading has {len(columns)}{comma_hint(len(row), len(columns))}"
            problems.append(Problem(name, number, 1, "cells", said))
            continue
        values, place = {}, {}
        for (content, col), column in zip(row, columns, strict=False):
            if column is not None:
                place[column] = col
                values[column] = _value(column, content, Problem(name, number, col, "", ""), problems)
        date = values.pop("date")
        if date is None:
            continue
        if date in days:
            problems.append(
                Problem(name, number, place["date"], "date-twice", f"{date} stands twice; first at line {places[date]}")
            )
            continue
        if values["tmin_c"] > values["tmax_c"]:
            problems.append(
                Problem(
                    name,
                    number,
                    place["tmin_c"],
                    "low-above-high",
                    f"the low {values['tmin_c']:g} is above the high {values['tmax_c']:g} of {date}",
                )
            )
        places[date] = number
        days[date] = Day(
            date,
            values["tmin_c"],
            values["tmax_c"],
            values.get("precip_mm", math.nan),
            values.get("wind_kmh", math.nan),
            line=number,
        )
    return [days[date] for date in sorted(days)], problems


def _header(number: int, line: str, name: str) -> tuple[list[str | None] | None, list[Problem]]:
    problems: list[Problem] = []
    known = REQUIRED + OPTIONAL
    if said := other_sign(line):
        return None, [Problem(name, number, 1, "not-csv", said)]
    columns: list[str | None] = []
    for text, col in cells(line):
        word = text.lower()
        if word not in known:
            problems.append(
                Problem(
                    name,
                    number,
                    col,
                    "unknown-column",
                    f"'{text}' is no column here; known: {', '.join(known)}{nearest(word, known)}",
                )
            )
            columns.append(None)
        elif word in columns:
            problems.append(Problem(name, number, col, "column-twice", f"the column '{word}' stands twice"))
            columns.append(None)
        else:
            columns.append(word)
    missing = [column for column in REQUIRED if column not in columns]
    for column in missing:
        problems.append(Problem(name, number, 1, "missing-column", f"the column '{column}' is missing"))
    return (None if missing else columns), problems


def _value(column: str, text: str, at: Problem, problems: list[Problem]) -> Any:
    def complain(code, message):
        problems.append(Problem(at.file, at.line, at.col, code, message))

    if column == "date":
        try:
            if not _DATE.match(text):
                raise ValueError
            return dt.date.fromisoformat(text)
        except ValueError:
            complain("bad-date", f"'{text}' is no date; write YYYY-MM-DD")
            return None
    if text == "":
        return math.nan
    if not _NUMBER.match(text):
        hint = number_hint(text) or f"; leave the cell empty where {column} is not known"
        complain("not-a-number", f"'{text}' is no number{hint}")
        return math.nan
    value, (low, high) = float(text), RANGES[column]
    if not low <= value <= high:
        hint = "; is it in degF?" if UNITS[column] == "degC" and value > high else ""
        complain("out-of-range", f"{column} {text} lies outside {low:g} to {high:g} {UNITS[column]}{hint}")
        return math.nan
    return value

"""Monthly normals: a CSV of twelve rows and an ``about`` YAML in, a checked profile out."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from hiveweek import content, shapes
from hiveweek.climate.commas import comma_hint, other_sign
from hiveweek.climate.moist_air import mean_saturation_hpa
from hiveweek.climate.smooth import MONTH_LENGTHS
from hiveweek.files import read_bytes, text_of
from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.shapes.structure import number_hint

MAX_BYTES = 2_000_000
NEEDED = ("month", "tmean_c", "tmin_c", "tmax_c", "precip_mm")
EXTRA = (
    "precip_days",
    "snow_days",
    "rh_pct",
    "vapour_hpa",
    "sunshine_h",
    "wind_kmh",
    "days_wind_ge10ms",
    "sd_daily_c",
)
COLUMNS = NEEDED[1:] + EXTRA
LIMITS = {  # what a monthly normal anywhere on earth can be
    "tmean_c": (-60.0, 45.0),
    "tmin_c": (-65.0, 40.0),
    "tmax_c": (-55.0, 52.0),
    "precip_mm": (0.0, 4000.0),
    "precip_days": (0.0, 31.0),
    "snow_days": (0.0, 31.0),
    "rh_pct": (0.0, 100.0),
    "vapour_hpa": (0.0, 45.0),
    "sunshine_h": (0.0, 744.0),
    "wind_kmh": (0.0, 120.0),
    "days_wind_ge10ms": (0.0, 31.0),
    "sd_daily_c": (0.1, 15.0),
}
DAY_COLUMNS = ("precip_days", "snow_days", "days_wind_ge10ms")
MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)


def read_csv(path: Path | str) -> tuple[dict[str, np.ndarray], list[Problem], list[str]]:
    """Read a normals CSV.

    Parameters
    ----------
    path : Path
        ``month,tmean_c,tmin_c,tmax_c,precip_mm`` and any of `EXTRA`; a row a month in any order, UTF-8, comma.

    Returns
    -------
    monthly : dict of arrays of 12
        Columns present in the file; an empty cell of an extra column is NaN (unknown), never zero.
    problems : list of Problem
        Everything that makes the table unusable, with file, line and column.
    warnings : list of str
        What is odd but possible, naming the month.
    """
    path = Path(path)
    shown = content.shown(path)
    try:
        text = text_of(read_bytes(path, MAX_BYTES, shown), shown)
    except InputProblems as error:
        return {}, error.problems, []
    return parse_csv(text, shown)


def parse_csv(text: str, shown: str = "<text>") -> tuple[dict[str, np.ndarray], list[Problem], list[str]]:
    """As `read_csv`, from text."""
    try:
        rows = list(csv.reader(io.StringIO(text)))
    except csv.Error as error:
        return {}, [Problem(shown, 1, 1, "not-csv", f"cannot be read as CSV: {error}")], []
    if not any(any(cell.strip() for cell in row) for row in rows):
        return {}, [Problem(shown, 1, 1, "empty-file", "the file is empty")], []
    if said := other_sign(text.partition("\n")[0]):
        return {}, [Problem(shown, 1, 1, "not-csv", said)], []
    header = [cell.strip() for cell in rows[0]]
    problems = _header_problems(header, shown)
    if problems:
        return {}, problems, []
    monthly = {name: np.full(12, np.nan) for name in header if name != "month"}
    lines: dict[int, int] = {}
    for number, row in enumerate(rows[1:], start=2):
        if any(cell.strip() for cell in row):
            _read_row(row, number, header, monthly, lines, problems, shown)
    missing = [MONTHS[m - 1] for m in range(1, 13) if m not in lines]
    if missing:
        problems.append(Problem(shown, 1, 1, "month-missing", f"no row for {', '.join(missing)}"))
    if problems:
        return monthly, problems, []
    problems += _contradictions(monthly, lines, header, shown)
    return monthly, problems, _oddities(monthly)


def _header_problems(header: list[str], shown: str) -> list[Problem]:
    problems = []
    allowed = NEEDED + EXTRA
    for i, name in enumerate(header):
        if name not in allowed:
            hint = nearest(name, allowed)
            if name.endswith("_f"):
                hint = "; temperatures must be in degrees Celsius"
            problems.append(Problem(shown, 1, i + 1, "unknown-column", f"column '{name}' is not known{hint}"))
        elif name in header[:i]:
            problems.append(Problem(shown, 1, i + 1, "duplicate-column", f"column '{name}' stands twice"))
    for name in NEEDED:
        if name not in header:
            problems.append(Problem(shown, 1, 1, "column-missing", f"column '{name}' is missing"))
    return problems


def _read_row(
    row: list[str],
    number: int,
    header: list[str],
    monthly: dict[str, np.ndarray],
    lines: dict[int, int],
    problems: list[Problem],
    shown: str,
) -> None:
    if len(row) != len(header):
        said = f"{len(row)} cells where the header has {len(header)}{comma_hint(len(row), len(header))}"
        problems.append(Problem(shown, number, 1, "row-length", said))
        return
    at = header.index("month")
    text = row[at].strip()
    if not text.isdecimal() or not 1 <= int(text) <= 12:
        problems.append(Problem(shown, number, at + 1, "month", f"'{text}' is no month; 1 to 12{number_hint(text)}"))
        return
    month = int(text)
    if month in lines:
        problems.append(
            Problem(
                shown,
                number,
                at + 1,
                "month-twice",
                f"{MONTHS[month - 1]} stands already in line {lines[month]}",
            )
        )
        return
    lines[month] = number
    for i, name in enumerate(header):
        if name == "month":
            continue
        cell = row[i].strip()
        if not cell:
            if name in NEEDED:
                problems.append(
                    Problem(shown, number, i + 1, "value-missing", f"{name} of {MONTHS[month - 1]} is empty")
                )
            continue
        value = _number(cell)
        low, high = LIMITS[name]
        if value is None:
            problems.append(
                Problem(
                    shown,
                    number,
                    i + 1,
                    "not-a-number",
                    f"{name} of {MONTHS[month - 1]}: '{cell}' is not a number{number_hint(cell)}",
                )
            )
        elif not low <= value <= high:
            problems.append(
                Problem(
                    shown,
                    number,
                    i + 1,
                    "out-of-range",
                    f"{name} of {MONTHS[month - 1]} is {cell}; possible is {low:g} to {high:g}"
                    + ("; the table may be in degrees Fahrenheit" if name.startswith("t") and value > high else ""),
                )
            )
        else:
            monthly[name][month - 1] = value


def _number(cell: str) -> float | None:
    try:
        value = float(cell)
    except ValueError:
        return None
    return value if math.isfinite(value) and "_" not in cell else None


def _contradictions(
    monthly: dict[str, np.ndarray], lines: dict[int, int], header: list[str], shown: str
) -> list[Problem]:
    problems = []
    for month in range(1, 13):
        tmin, tmean, tmax = (monthly[name][month - 1] for name in ("tmin_c", "tmean_c", "tmax_c"))
        name, line = MONTHS[month - 1], lines[month]
        if tmin > tmax:
            problems.append(
                Problem(
                    shown,
                    line,
                    header.index("tmin_c") + 1,
                    "min-above-max",
                    f"{name}: lowest {tmin:g} is above highest {tmax:g}",
                )
            )
        elif not tmin <= tmean <= tmax:
            problems.append(
                Problem(
                    shown,
                    line,
                    header.index("tmean_c") + 1,
                    "mean-outside",
                    f"{name}: mean {tmean:g} is not between {tmin:g} and {tmax:g}",
                )
            )
        for column in DAY_COLUMNS:
            value = monthly.get(column, np.full(12, np.nan))[month - 1]
            if value > MONTH_LENGTHS[month - 1] + 0.5:
                problems.append(
                    Problem(
                        shown,
                        line,
                        header.index(column) + 1,
                        "too-many-days",
                        f"{name}: {value:g} days in {column}, the month has {MONTH_LENGTHS[month - 1]}",
                    )
                )
    if np.ptp(monthly["tmean_c"]) == 0 and np.ptp(monthly["precip_mm"]) == 0:
        problems.append(
            Problem(shown, 2, 1, "months-equal", "all twelve months are the same; a normal year has seasons")
        )
    return problems


def _oddities(monthly: dict[str, np.ndarray]) -> list[str]:
    warnings = []
    damp = too_damp(monthly)
    tmean = monthly["tmean_c"]
    if tmean.max() > 36:  # only a few low deserts are as hot; a cold coast is, when read in degrees Fahrenheit
        warnings.append(
            f"{MONTHS[int(tmean.argmax())]} has a mean of {tmean.max():g} degC: "
            "check that the table is not in degrees Fahrenheit"
        )
    for month in range(12):
        before, after = tmean[month - 1], tmean[(month + 1) % 12]
        if (
            min(abs(tmean[month] - before), abs(tmean[month] - after)) > 15
            and (tmean[month] - before) * (tmean[month] - after) > 0
        ):
            warnings.append(
                f"{MONTHS[month]}: mean {tmean[month]:g} degC stands far off its neighbours {before:g} and {after:g}"
            )
        gap = abs(tmean[month] - (monthly["tmin_c"][month] + monthly["tmax_c"][month]) / 2)
        if gap > 3:
            warnings.append(f"{MONTHS[month]}: mean is {gap:.1f} degC off the middle of lowest and highest")
        if month + 1 in damp:
            warnings.append(damp[month + 1])
    return warnings


def too_damp(monthly: dict) -> dict[int, str]:
    """Return {month, 1 to 12: warning} where the air of a month cannot hold the vapour pressure reported for it."""
    found = {}
    missing = np.full(12, np.nan)
    columns = (monthly["tmean_c"], monthly.get("vapour_hpa", missing), monthly.get("sd_daily_c", missing))
    for month, (mean, vapour, spread) in enumerate(zip(*columns, strict=True), start=1):
        if vapour > mean_saturation_hpa(mean, spread) * 1.02:
            found[month] = (
                f"{MONTHS[month - 1]}: vapour pressure {vapour:g} hPa is more than air of {mean:g} °C can hold; "
                "left out of the dampness figures"
            )
    return found


def read_about(path: Path | str) -> tuple[dict, list[Problem]]:
    """Read the ``about`` YAML of a normals file.

    Returns
    -------
    about : dict
        Id, station and place, period, publisher, licence, attribution and what else the schema of such files names.
    problems : list of Problem
        Missing or unknown keys, impossible coordinates, with their place.
    """
    document = shapes.read(path, "about")
    return document.data or {}, document.problems


def build_profile(csv_path: Path | str, about_path: Path | str) -> str:
    """Return the profile YAML made from a normals CSV and its ``about`` YAML.

    The same two files give the same text to the byte.

    Raises
    ------
    InputProblems
        With every problem of both files.
    """
    monthly, problems, warnings = read_csv(csv_path)
    about, more = read_about(about_path)
    if problems or more:
        raise InputProblems(problems + more)
    return profile_yaml(monthly, about, warnings)


def profile_yaml(monthly: dict[str, np.ndarray], about: dict, warnings: Sequence[str] = ()) -> str:
    """Write a profile as YAML text.

    Parameters
    ----------
    monthly : dict of arrays of 12
        NaN is written as ``null`` (unknown).
    about : dict
        As read by `read_about`.
    warnings : list of str
        Kept in the profile under ``remarks``.
    """
    lines = [f"profile: {about['id']}"]
    if about.get("stands_for"):
        lines.append(f"stands_for: {_quoted(about['stands_for'])}")
    lines.append("built_from:")
    for key in (
        "station",
        "country",
        "lat",
        "lon",
        "elev_m",
        "period",
        "publisher",
        "kind",
        "licence",
        "attribution",
        "note",
    ):
        if about.get(key) is not None:
            value = about[key]
            lines.append(f"  {key}: {_plain(value) if isinstance(value, (int, float)) else _quoted(value)}")
    if about.get("also"):
        lines.append("  also:")
        for item in about["also"]:
            lines.append("    - {" + ", ".join(f"{key}: {_value(item[key])}" for key in item) + "}")
    lines.append("monthly:")
    for name in COLUMNS:
        if name in monthly and np.isfinite(monthly[name]).any():
            lines.append(f"  {name}: [{', '.join(_plain(v) for v in monthly[name])}]")
    if about.get("overrides"):
        lines.append("overrides:")
        for event in about["overrides"]:
            item = about["overrides"][event]
            lines.append(f"  {event}: {{" + ", ".join(f"{key}: {_quoted(item[key])}" for key in item) + "}")
    if warnings:
        lines.append("remarks:")
        lines.extend(f"  - {_quoted(w)}" for w in warnings)
    return "\n".join(lines) + "\n"


def _plain(value: float) -> str:
    return "null" if not math.isfinite(value) else f"{round(float(value), 4):g}"


def _quoted(text: object) -> str:
    return '"' + str(text).replace("\\", "\\\\").replace('"', '\\"') + '"'


def _value(value: object) -> str:
    if isinstance(value, list):
        return "[" + ", ".join(_value(v) for v in value) + "]"
    return _plain(value) if isinstance(value, (int, float)) else _quoted(value)

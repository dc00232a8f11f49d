"""Numbers of the colony models, read from ``rulesets/vocabulary/colony_parameters.yaml``."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import numpy as np

from hiveweek import content
from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.shapes import marked_yaml

STATUSES = ("seen", "seen-2nd", "memory", "calc", "derived", "judgement", "practice")
_KEYS = {"value", "low", "high", "curve", "unit", "source", "status", "note"}


@dataclass(frozen=True)
class Parameter:
    """One number (or curve) with its band and where it comes from."""

    name: str
    value: float
    low: float
    high: float
    unit: str
    source: tuple[str, ...]
    status: str
    note: str = ""
    curve: tuple[tuple[float, float], ...] = ()

    def at(self, x) -> np.ndarray:
        """Return the curve at x by straight lines between its corners; beyond the ends the end value; NaN stays NaN."""
        xs, ys = np.array(self.curve, dtype=float).T
        x = np.asarray(x, dtype=float)
        return np.where(np.isnan(x), np.nan, np.interp(x, xs, ys))


class Parameters:
    """The parameters by name; ``p.brood_days`` is the value, ``p["brood_days"]`` the whole row."""

    def __init__(self, rows: dict[str, Parameter]):
        self.rows = rows

    def __getitem__(self, name: str) -> Parameter:
        return self.rows[name]

    def __getattr__(self, name: str) -> float:
        rows = self.__dict__.get("rows", {})
        if name not in rows:
            raise AttributeError(name)
        return rows[name].value


def read(path: Path) -> Parameters:
    """Read a parameter file.

    Raises
    ------
    InputProblems
        With every row that lacks a value, unit, source or status, or whose band does not hold its value.
    """
    document = marked_yaml.read(path, content.shown(path))
    problems = list(document.problems)
    rows: dict[str, Parameter] = {}
    data = document.data if isinstance(document.data, dict) else {}
    if not data and not problems:
        problems.append(Problem(document.name, 1, 1, "empty-file", "no parameter stands here"))
    for name, row in data.items():
        problems += [document.problem((name,), code, text) for code, text in _faults(row)]
        if not _faults(row):
            curve = tuple((float(x), float(y)) for x, y in row.get("curve", ()))
            value = float(row.get("value", curve[0][1] if curve else 0))
            rows[name] = Parameter(
                name,
                value,
                float(row.get("low", value)),
                float(row.get("high", value)),
                row["unit"],
                tuple(row["source"]),
                row["status"],
                row.get("note", ""),
                curve,
            )
    if problems:
        raise InputProblems(problems)
    return Parameters(rows)


def _faults(row) -> list[tuple[str, str]]:
    if not isinstance(row, dict):
        return [("not-a-row", "needs value, unit, source and status")]
    faults = [
        ("unknown-key", f"'{key}' is no key of a parameter{nearest(key, _KEYS)}") for key in row if key not in _KEYS
    ]
    if ("value" in row) == ("curve" in row):
        faults.append(("no-value", "needs a value or a curve"))
    for key in ("value", "low", "high"):
        if key in row and (isinstance(row[key], bool) or not isinstance(row[key], (int, float))):
            faults.append(("not-a-number", f"{key} needs a number, not {row[key]!r}"))
    if faults:
        return faults
    if "curve" in row and not _is_curve(row["curve"]):
        faults.append(("not-a-curve", "needs pairs [x, y] with x rising"))
    if "value" in row and not row.get("low", row["value"]) <= row["value"] <= row.get("high", row["value"]):
        faults.append(("band", "value lies outside low..high"))
    for key, kind in (("unit", str), ("source", list), ("status", str)):
        if not isinstance(row.get(key), kind) or not row[key]:
            faults.append((f"no-{key}", f"needs {key}"))
    if isinstance(row.get("status"), str) and row["status"] not in STATUSES:
        faults.append(("status", f"'{row['status']}' is no status word{nearest(row['status'], STATUSES)}"))
    return faults


def _is_curve(curve) -> bool:
    if not isinstance(curve, list) or len(curve) < 2:
        return False
    pairs = all(
        isinstance(p, list) and len(p) == 2 and all(isinstance(v, (int, float)) and not isinstance(v, bool) for v in p)
        for p in curve
    )
    return pairs and all(a[0] < b[0] for a, b in pairwise(curve))


@lru_cache(maxsize=1)
def load() -> Parameters:
    """Return the shipped parameters (read once)."""
    return read(content.root() / "rulesets" / "vocabulary" / "colony_parameters.yaml")

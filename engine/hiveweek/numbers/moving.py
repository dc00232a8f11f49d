"""Moves numbers: an overlay's entry held against the number it names, and the row that comes out of it."""

from __future__ import annotations

import dataclasses
from collections.abc import Collection, Mapping
from itertools import pairwise

from hiveweek.numbers.reader import curve_of, is_number, named, outside, unknown_sources
from hiveweek.numbers.store import Number
from hiveweek.problems import Place, Problem, nearest
from hiveweek.shapes.marked_yaml import Document
from hiveweek.shapes.structure import number_hint

SAFETY = "limit.safety."


def key_in(entry: Mapping) -> str | None:
    """Return the key under which an entry names a number: ``number``, or ``limit`` for a limit; None for neither."""
    return next((key for key in ("number", "limit") if isinstance(entry.get(key), str)), None)


def moved(
    document: Document,
    path: tuple,
    rows: Mapping[str, Number],
    base: Mapping[str, Number],
    origin: str,
    problems: list[Problem],
    sources: Collection[str] | None = None,
) -> Number | None:
    """Return the row that an entry makes of the number it names.

    Parameters
    ----------
    document : Document
    path : tuple
        Where the entry stands: ``{number: FULL.NAME, value, was, reason, source, status, outside_band}``.
    rows, base : mapping of str to Number
        As earlier layers left them, and as shipped; ``was`` may state either value.
    origin : str
        The layer and file that move it, in words.
    problems : list of Problem
        Where what is wrong is gathered.
    sources : iterable of str, optional
        Keys of the list of sources.

    Returns
    -------
    Number or None
        None where the name is unknown (the nearest is told) or a constant's, the value is no number (or no curve, for a
        curve), ``was`` is stale, the value lies outside its band without saying why, or it would loosen a safety limit.
    """
    entry = document.data
    for step in path:
        entry = entry[step]
    key = key_in(entry) or "number"
    name, value = entry[key], entry.get("value")

    def refuse(at: str, code: str, words: str) -> Number | None:
        problems.append(document.problem((*path, at), code, words))
        return None

    known = rows.get(name)
    if known is None:
        among = [other for other in rows if key == "number" or other.startswith("limit.")]
        return refuse(key, "unknown-target", f"'{name}' is no {key}{nearest(name, among)}")
    if known.constant:
        return refuse(key, "constant", f"'{name}' is a constant ({known.note or known.unit}); nothing moves it")
    curve = curve_of(value) if known.curve else ()
    if curve is None or (not known.curve and not is_number(value)):
        form = "corners [x, y]" if known.curve else "a number"
        hint = number_hint(value) if isinstance(value, str) else ""
        return refuse("value", "wrong-type", f"'{name}' needs {form}{hint}")
    if any(a[0] >= b[0] for a, b in pairwise(curve)):
        return refuse("value", "not-a-curve", f"'{name}' needs corners [x, y] with x rising")
    if not any(_is(entry.get("was"), row) for row in (known, base.get(name, known))):
        return refuse(
            "was",
            "stale-was",
            f"'{name}' is now {_shown(known)} (at {known.place}), not {entry.get('was')}; look at it again",
        )
    row = dataclasses.replace(
        known,
        value=float(curve[0][1] if curve else value),
        curve=curve,
        origin=origin,
        source=named(entry.get("source")),  # never that of the value it replaces
        status=str(entry.get("status") or ""),
        note=str(entry.get("reason", "")),
        outside_band=str(entry.get("outside_band") or ""),
        place=Place(document.name, *document.place(path)),
    )
    if name.startswith(SAFETY) and not _may_move(known, row.value):
        band = f" or within {known.band[0]:g} to {known.band[1]:g}" if known.band else ""
        return refuse(
            "value",
            "loosens-safety",
            f"'{name}' may only go {known.tighter or 'nowhere'} from {known.value:g}{band}; {row.value:g} would loosen it",
        )
    wrong = [
        *outside(document, (*path, "value"), row),
        *unknown_sources(document, (*path, "source"), entry.get("source"), sources),
    ]
    problems += wrong
    return None if wrong else row


def _is(was: object, row: Number) -> bool:
    """Tell whether ``was`` states the value of a row."""
    if row.curve:
        return curve_of(was) == row.curve
    return is_number(was) and float(was) == row.value  # type: ignore[arg-type]


def _shown(row: Number) -> str:
    return str([list(corner) for corner in row.curve]) if row.curve else f"{row.value:g}"


def _may_move(limit: Number, value: float) -> bool:
    if limit.tighter == "up" and value >= limit.value:
        return True
    if limit.tighter == "down" and value <= limit.value:
        return True
    return limit.band is not None and limit.band[0] <= value <= limit.band[1]

"""Reads named numbers, from number files and from the ``limits`` of rule files: the only place that does."""

from __future__ import annotations

from collections.abc import Collection
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

from hiveweek import content
from hiveweek.kept import code, kept, key_of
from hiveweek.numbers.store import Curve, Number, Numbers
from hiveweek.problems import InputProblems, Place, Problem, nearest
from hiveweek.shapes import marked_yaml, shape, structure
from hiveweek.shapes.marked_yaml import Document

ROOTS = (
    "model",
    "season",
    "weather",
    "plan",
    "world",
)  # a file each; limits stand with the rules that compare with them
WITHOUT_KEY = ("common-practice", "judgement")


@lru_cache(maxsize=1)
def shipped() -> Numbers:
    """Return the shipped numbers but for the limits of rules, read once and kept between runs.

    Raises
    ------
    InputProblems
        With every problem of every file.
    """
    folder = content.root() / "rulesets"
    files = [path_of(folder, root) for root in ROOTS]
    key = key_of(("numbers", content.shown(folder)), [*files, *code("numbers", "shapes")])
    return kept("numbers", key, Numbers, lambda: read(folder))


def path_of(rulesets: Path, root: str) -> Path:
    """Return where the numbers of a root stand in a ``rulesets`` folder."""
    return rulesets / "vocabulary" / "numbers" / f"{root}.yaml"


def read(rulesets: Path) -> Numbers:
    """Read the number files of a ``rulesets`` folder.

    Raises
    ------
    InputProblems
        With every problem of every file, each with its place.
    """
    rows: dict[str, Number] = {}
    problems: list[Problem] = []
    for root in ROOTS:
        path = path_of(rulesets, root)
        rows.update(read_file(marked_yaml.read(path, content.shown(path)), root, problems))
    if problems:
        raise InputProblems(problems)
    return Numbers(rows)


def read_for(rulesets: Path, problems: list[Problem], sources: Collection[str] | None = None) -> Numbers:
    """Read the numbers beside some rule files; the shipped ones stand for those that they do not state.

    A number that nothing reads is a problem.
    """
    rows: dict[str, Number] = {}
    read_by_code = shipped().rows
    for root in ROOTS:
        path = path_of(rulesets, root)
        if not path.exists():
            continue
        document = marked_yaml.read(path, content.shown(path))
        found = read_file(document, root, problems, sources)
        for row in found.values():
            if row.name not in read_by_code:
                words = f"'{row.name}': nothing reads it{nearest(row.name, read_by_code)}"
                problems.append(Problem(row.place.file, row.place.line, row.place.col, "unread-number", words))
        rows.update({name: row for name, row in found.items() if name in read_by_code})
    return Numbers({**read_by_code, **rows})


def read_file(
    document: Document, root: str, problems: list[Problem], sources: Collection[str] | None = None
) -> dict[str, Number]:
    """Return the numbers of a number file by full name.

    Parameters
    ----------
    document : Document
        ``numbers: {group: {name: {value, unit, source, status, ...}}}``.
    root : str
        First part of their names.
    problems : list of Problem
        Where what is wrong is gathered.
    sources : container of str, optional
        Keys of the list of sources; without it they are not looked up.
    """
    found = [*document.problems, *shape("numbers").check(document)]
    if document.data is None and not found:
        found.append(document.problem((), "empty-file", "no number stands here"))
    problems += found
    rows: dict[str, Number] = {}
    groups = document.data.get("numbers") if isinstance(document.data, dict) else None
    for group in groups if isinstance(groups, dict) else ():
        rows.update(read_group(document, ("numbers", group), f"{root}.{group}", problems, sources=sources))
    return rows


def read_group(
    document: Document,
    path: tuple,
    prefix: str,
    problems: list[Problem],
    *,
    sources: Collection[str] | None = None,
    origin: str = "base",
) -> dict[str, Number]:
    """Return the numbers that stand under a path of a document whose structure has been checked.

    Rows of another shape, which ``structure.check`` has told, are passed over.
    """
    data = document.data
    for step in path:
        data = data.get(step) if isinstance(data, dict) else None
    rows: dict[str, Number] = {}
    for key, body in data.items() if isinstance(data, dict) else ():
        row = _row(document, (*path, key), f"{prefix}.{key}", body, origin)
        if row is None:
            continue
        rows[row.name] = row
        problems += _faults(document, (*path, key), row)
        problems += unknown_sources(document, (*path, key, "source"), body.get("source"), sources)
    return rows


def _row(document: Document, path: tuple, name: str, body: object, origin: str) -> Number | None:
    if not isinstance(body, dict):
        return None
    curve = curve_of(body["curve"]) if "curve" in body else ()
    if (curve is None) or (not curve and not is_number(body.get("value"))):
        return None
    band = [end for end in structure.listed(body.get("band")) if is_number(end)]
    return Number(
        name,
        float(curve[0][1] if curve else body["value"]),
        unit_of(body.get("unit")),
        named(body.get("source")),
        str(body.get("status", "")),
        str(body.get("note", "")),
        body.get("tighter"),
        (float(band[0]), float(band[1])) if len(band) == 2 else None,
        origin,
        Place(document.name, *document.key_place(path)),
        curve,
        body.get("constant") is True,
        str(body.get("outside_band", "")),
    )


def _faults(document: Document, path: tuple, row: Number) -> list[Problem]:
    """What a schema cannot say: corners that rise, a band that holds its value or says why not."""
    if row.curve:
        if all(a[0] < b[0] for a, b in pairwise(row.curve)):
            return []
        return [document.problem((*path, "curve"), "not-a-curve", f"'{row.name}' needs corners [x, y] with x rising")]
    if row.band and row.band[0] > row.band[1]:
        return [document.problem((*path, "band"), "out-of-range", f"the band of '{row.name}' runs backwards")]
    return outside(document, (*path, "value"), row)


def outside(document: Document, path: tuple, row: Number) -> list[Problem]:
    """Return the problem of a value that lies outside its band without saying why; none where it does not."""
    if row.band is None or row.curve or row.outside_band or row.band[0] <= row.value <= row.band[1]:
        return []
    return [
        document.problem(
            path,
            "outside-band",
            f"'{row.name}': {row.value:g} lies outside its band, {row.band[0]:g} to {row.band[1]:g}; "
            "say why under 'outside_band', or stay within",
        )
    ]


def is_number(value: object) -> bool:
    """Tell whether a value is a number (``true`` is none)."""
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def curve_of(value: object) -> Curve | None:
    """Return corners as a curve, None where they are none (one corner, or something that is no pair of numbers)."""
    corners = structure.listed(value)
    if len(corners) < 2 or not all(isinstance(c, list) and len(c) == 2 and all(map(is_number, c)) for c in corners):
        return None
    return tuple((float(x), float(y)) for x, y in corners)


def unit_of(unit: object) -> str | None:
    """Return a unit as written; None for a bare count."""
    return None if unit in (None, "", "count") else str(unit)


def named(source: object) -> tuple[str, ...]:
    """Return sources as a tuple: a word, or the texts of a list."""
    return (source,) if isinstance(source, str) else structure.texts(source)


def unknown_sources(document: Document, path: tuple, source: object, known: Collection[str] | None) -> list[Problem]:
    """Return a problem for each source that is no key of the list of sources."""
    if known is None:
        return []
    return [
        document.problem((*path, place), "unknown-source", f"'{item}' is no key of sources.yaml{nearest(item, known)}")
        for place, item in enumerate(structure.listed(source))
        if isinstance(item, str) and item not in known and item not in WITHOUT_KEY
    ]

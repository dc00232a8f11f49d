"""The functions that other Python programs call; `hiveweek` itself offers them under their names."""

from __future__ import annotations

import datetime as dt
import json
import os
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from hiveweek import vocabulary
from hiveweek.authoring.merged import merged
from hiveweek.climate.profiles import Profile, load_profile, profile_json
from hiveweek.facts.reading import read_scenario, scenario_of
from hiveweek.facts.scenario import Scenario
from hiveweek.plan.answer import answer
from hiveweek.plan.model import WeekPlan
from hiveweek.problems import InputProblems, Problem
from hiveweek.shapes import marked_yaml
from hiveweek.shapes.marked_yaml import Document
from hiveweek.show import json as plan_json
from hiveweek.vocabulary.model import Vocabulary

__all__ = ["InputProblems", "WeekPlan", "as_json", "climate", "rules", "week"]

StrPath = str | os.PathLike[str]


def week(
    record: StrPath | Mapping[str, Any] | Scenario,
    *,
    date: dt.date | str | None = None,
    rules: Iterable[StrPath] = (),
    forecast: StrPath | None = None,
    offline: bool = False,
    facts: bool = False,
    second_channel: bool = True,
) -> WeekPlan:
    """Return what to do this week, for each hive, and why.

    Parameters
    ----------
    record : path, mapping or Scenario
        A scenario file; or the same as plain data (``{"climate": "boreal", "date": "2026-02-10", "hives": [{"id": "H1",
        "facts": {"food.stores_kg": 4}}]}``; files it names are looked for from the current folder); or a `Scenario` that
        was read before. What is not said is unknown, never "no".
    date : date or str, optional
        The day of the answer, as a date or ``YYYY-MM-DD``; the record's own by default. What was seen keeps its dates; what
        plain data without a date say was seen on this day.
    rules : iterable of path
        Overlays of rules, files or folders, besides those the record names.
    forecast : path, optional
        CSV of the week's weather (``date,tmin_c,tmax_c`` and where known ``precip_mm,wind_kmh``).
    offline : bool
        Never touch the network. It is asked only where the record gives the apiary's coordinates.
    facts : bool
        Carry all facts of each hive in the plan, and name what is not known.
    second_channel : bool
        Have the answer worked out by the second inference engine too, in a process of its own; what the two see differently is
        marked ``unverified``, and ``plan.channels`` says what each did.

    Returns
    -------
    WeekPlan
        A hive in ``plan.hives`` for each of the record's, in its order; all figures metric. `as_json` gives it as plain data.

    Raises
    ------
    InputProblems
        With every problem of the record, the rule files and the forecast: in a file at ``file:line:col``, in plain data at the
        path of keys that leads there.
    """
    words = vocabulary.load()
    problems: list[Problem] = []
    day = _day(date, problems)
    try:
        scenario = _scenario(record, words, day)
    except InputProblems as error:
        raise InputProblems([*problems, *error.problems]) from None
    if problems:
        raise InputProblems(problems)
    found = answer(
        scenario,
        date=day,
        forecast=None if forecast is None else Path(forecast),
        offline=offline,
        extra=[Path(path) for path in rules],
        second_channel=second_channel,
        with_facts=facts,
        words=words,
    )
    return found.plan


def as_json(plan: WeekPlan, *, facts: bool = False) -> dict[str, Any]:
    """Return a plan as plain data: what ``hiveweek week --json`` prints.

    Parameters
    ----------
    plan : WeekPlan
    facts : bool
        Add ``facts`` and ``unknown`` to every hive; the plan must have been asked for with them.

    Returns
    -------
    dict
        Keys in a fixed order; dates as ``YYYY-MM-DD``; nothing but texts, numbers, booleans, None, lists and dicts.
    """
    return plan_json.week(plan, with_facts=facts)


def climate(place: StrPath | Mapping[str, Any]) -> dict[str, Any]:
    """Return the year of a climate: what ``hiveweek climate show --json`` prints.

    Parameters
    ----------
    place : str, path or mapping
        Id of a shipped profile; or a profile file (``.yaml``); or what it is to be built from: ``{"normals": CSV, "lat": degrees
        north (-90 to 90), "lon": degrees east (-180 to 180), "elev_m": metres}``, the CSV with a row a month
        (``month,tmean_c,tmin_c,tmax_c,precip_mm`` and where known more; an absent column is unknown, not zero).

    Returns
    -------
    dict
        ``profile``, ``source``, ``phases``, ``events`` (None where the climate lacks one), ``monthly``, ``winter_weeks``,
        ``snow_weeks``, ``koppen`` and more; what is unknown is None.

    Raises
    ------
    InputProblems
        For an unknown id, with the nearest one; with every problem of the file or of the coordinates.
    """
    profile = Profile.from_normals(dict(place)) if isinstance(place, Mapping) else load_profile(os.fspath(place))
    return profile_json(profile)


def rules(profile: str, *, jurisdiction: str | None = None, rules: Iterable[StrPath] = ()) -> dict[str, Any]:
    """Return the rules that hold in a climate: what ``hiveweek rules merged --json`` prints.

    Parameters
    ----------
    profile : str
        Id of a shipped climate profile.
    jurisdiction : str, optional
        The place whose law takes part.
    rules : iterable of path
        Overlays of an author or an apiary, files or folders.

    Returns
    -------
    dict
        ``limits``, ``rules``, ``prohibitions``, ``options``, ``disabled`` and more; every value with the layer and the line it
        comes from.

    Raises
    ------
    InputProblems
        With every problem of the rule files; for an unknown profile or jurisdiction, with the nearest name.
    """
    return merged(profile, vocabulary.load(), jurisdiction=jurisdiction, extra=[Path(path) for path in rules])


def _scenario(record: StrPath | Mapping[str, Any] | Scenario, words: Vocabulary, day: dt.date | None) -> Scenario:
    if isinstance(record, Scenario):
        return record
    if not isinstance(record, Mapping):
        return read_scenario(Path(record), words=words)
    # As text it goes through the one reader of scenarios; a problem's place in that text is turned into a path of keys.
    written = json.dumps({"date": day, **record} if day else dict(record), indent=1, default=_plain)
    document = marked_yaml.parse(written, "record")
    paths = {place: path for path in _paths(document.data) for place in _places(document, path)}
    try:
        return scenario_of(document, words=words)
    except InputProblems as error:
        raise InputProblems(_at_path(problem, document.name, paths) for problem in error.problems) from None


def _plain(value: object) -> str:
    """Write what JSON has no form for: dates and paths."""
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, os.PathLike):
        return os.fspath(value)
    raise TypeError(f"a record holds texts, numbers, booleans, dates, lists and dicts, not {type(value).__name__}")


def _paths(data: Any, path: tuple = ()) -> Iterator[tuple]:
    """Yield the path of everything in plain data, the outer before the inner."""
    yield path
    if isinstance(data, dict | list):
        for key, inner in data.items() if isinstance(data, dict) else enumerate(data):
            yield from _paths(inner, (*path, key))


def _places(document: Document, path: tuple) -> set[tuple[int, int]]:
    return {document.place(path), document.key_place(path)}


def _at_path(problem: Problem, name: str, paths: Mapping[tuple[int, int], tuple]) -> Problem:
    if problem.file != name:
        return problem
    path = paths.get((problem.line, problem.col), ())
    said = "".join(f"[{key}]" if isinstance(key, int) else f".{key}" for key in path).removeprefix(".")
    return Problem("", 0, 0, problem.code, f"{said}: {problem.message}" if said else problem.message)


def _day(date: dt.date | str | None, problems: list[Problem]) -> dt.date | None:
    if not isinstance(date, str):
        return date
    try:
        return dt.date.fromisoformat(date)
    except ValueError:
        problems.append(Problem("", 0, 0, "bad-date", f"'{date}' is no day like 2026-02-10"))
        return None

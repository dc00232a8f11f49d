"""A whole record as YAML: one line an apiary, a hive, an entry, so that it is read, compared and mended by eye."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from hiveweek.problems import InputProblems, Problem
from hiveweek.record.plain_form import record_in
from hiveweek.record.record import Record
from hiveweek.shapes import shape
from hiveweek.shapes.marked_yaml import read

MOST_BYTES = 500_000_000
# Letters that YAML does not take as they are, or takes for the end of a line.
_HIDDEN = re.compile("[\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff]")
_BARE = re.compile(r"[a-z][a-z0-9_]*(\.[a-z0-9_]+)?")
_TAKEN = {"y", "n", "yes", "no", "on", "off", "true", "false", "null"}


def lines(data: dict[str, Any]) -> Iterator[str]:
    """Yield the lines of plain data whose lists hold mappings or texts."""
    for key, value in data.items():
        if isinstance(value, list):
            yield f"{key}:" if value else f"{key}: []"
            yield from (f"- {_flow(item)}" for item in value)
        else:
            yield f"{key}: {_flow(value)}"


def _flow(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_key(key)}: {_flow(one)}" for key, one in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_flow, value)) + "]"
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, float):
        # With a point even where the number is written with an exponent: without one YAML reads a text.
        digits, exponent, power = repr(value).partition("e")
        return f"{digits if '.' in digits else digits + '.0'}{exponent}{power}"
    text = json.dumps(value, ensure_ascii=False, allow_nan=False)
    return _HIDDEN.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) and key not in _TAKEN else _flow(key)


def read_record(path: Path | str, name: str | None = None) -> Record:
    """Read an exported record.

    Raises
    ------
    InputProblems
        Everything that is wrong with it, each with its place.
    """
    document = read(path, name, most=MOST_BYTES)
    found = shape("record").check(document)
    problems = [*document.problems, *found]
    if problems or document.data is None:
        raise InputProblems(problems or [Problem(document.name, 1, 1, "empty", "there is nothing in this file")])
    return record_of(document.data, document.name)


def record_of(data: dict[str, Any], name: str) -> Record:
    """Return the record of plain data; what refers to nothing is told.

    Raises
    ------
    InputProblems
        For apiaries, hives and entries that are named and not there, days and times that are none.
    """
    try:
        record = record_in(data)
    except (ValueError, TypeError, KeyError) as error:
        raise InputProblems([Problem(name, 1, 1, "bad-record", f"cannot be read: {error}")]) from None
    problems = []
    ids = {entry.id for entry in record.entries}

    def missing(what: str, key: str, of: str) -> None:
        problems.append(Problem(name, 1, 1, f"unknown-{what}", f"{of} names {what} '{key}', which is not there"))

    for hive in record.hives.values():
        for place in hive.placements:
            if place.apiary not in record.apiaries:
                missing("apiary", place.apiary, f"hive '{hive.name}'")
    for entry in record.entries:
        if entry.apiary not in record.apiaries:
            missing("apiary", entry.apiary, f"entry {entry.id}")
        if entry.hive is not None and entry.hive not in record.hives:
            missing("hive", entry.hive, f"entry {entry.id}")
        if entry.replaces is not None and entry.replaces not in ids:
            missing("entry", entry.replaces, f"entry {entry.id}")
    for key in record.withdrawn - ids:
        missing("entry", key, "withdrawn")
    if problems:
        raise InputProblems(problems)
    return record

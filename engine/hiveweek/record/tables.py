"""A whole record as the rows of one sheet, and back without loss: a column a fact, a row an apiary, a hive, an entry."""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from hiveweek.problems import InputProblems, Problem
from hiveweek.record import cells
from hiveweek.record.plain_yaml import record_of
from hiveweek.record.record import Record

HEAD = "hiveweek_record"
ONE = {"apiary": "apiaries", "hive": "hives", "entry": "entries", "withdrawn": "withdrawn", "practised": "practised"}
DETAIL = "detail:"
_CODED = ("rulesets", "overrides", "placements", "files", "jobs", "looks")  # lists and mappings, written as JSON


def rows(data: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    """Yield plain data of a record (`plain_form.record_out`) as rows: column to value."""
    for kind, listed in ONE.items():
        for item in data.get(listed, ()):
            row: dict[str, Any] = {HEAD: kind}
            if kind == "withdrawn":
                row["id"] = item
            else:
                for key, value in item.items():
                    if key in ("facts", "details"):
                        row.update({(DETAIL if key == "details" else "") + name: one for name, one in value.items()})
                    elif key in _CODED:
                        row[key] = json.dumps(value, default=str, ensure_ascii=False)
                    else:
                        row[key] = value
            yield row


def columns(found: Iterable[Mapping[str, Any]]) -> list[str]:
    """Return the columns of rows: what all have, then facts, then details, each sorted."""
    names = {name for row in found for name in row}
    plain = [name for name in names if "." not in name and not name.startswith(DETAIL)]
    order = ["id", "kind", "apiary", "hive", "name", "date", "time"]
    plain.sort(key=lambda name: (name != HEAD, order.index(name) if name in order else len(order), name))
    facts = sorted(name for name in names if "." in name and not name.startswith(DETAIL))
    return [*plain, *facts, *sorted(name for name in names if name.startswith(DETAIL))]


def write_csv(path: Path, data: Mapping[str, Any]) -> None:
    """Write a record as CSV, UTF-8 with a mark, as spreadsheets like it."""
    names = columns(rows(data))
    with path.open("w", encoding="utf-8-sig", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(names)
        for row in rows(data):
            writer.writerow([cells.text_cell(row[name]) if name in row else "" for name in names])


def write_xlsx(path: Path, data: Mapping[str, Any]) -> None:
    """Write a record as a spreadsheet."""
    from openpyxl import Workbook

    names = columns(rows(data))
    book = Workbook(write_only=True)
    sheet = book.create_sheet("record")
    sheet.append(names)
    for row in rows(data):
        sheet.append([cells.cell(row[name]) if name in row else None for name in names])
    book.save(path)


def record_of_rows(head: Sequence[str], body: Iterable[tuple[int, Sequence[Any]]], name: str) -> Record:
    """Return the record of rows as they were written.

    Parameters
    ----------
    head : sequence of str
        The columns.
    body : iterable of (line, cells)
        Empty cells are None or "".

    Raises
    ------
    InputProblems
        Everything wrong, each with its line and column.
    """
    data: dict[str, Any] = {listed: [] for listed in ONE.values()}
    problems: list[Problem] = []
    for line, held in body:
        row: dict[str, Any] = {}
        for number, (column, one) in enumerate(zip(head, held, strict=False), 1):
            if one is None or one == "":
                continue
            try:
                row[column] = json.loads(str(cells.value_of(one))) if column in _CODED else cells.value_of(one)
            except ValueError:
                problems.append(Problem(name, line, number, "bad-cell", f"'{one}' is no value of {column}"))
        kind = row.pop(HEAD, None)
        if not row and kind is None:
            continue
        if kind not in ONE:
            problems.append(Problem(name, line, 1, "unknown-row", f"'{kind}' is none of {', '.join(ONE)}"))
        elif kind == "withdrawn":
            data["withdrawn"].append(row.get("id"))
        else:
            data[ONE[kind]].append(_item(kind, row))
    if problems:
        raise InputProblems(problems)
    _held_against_shape(data, name)
    return record_of(data, name)


def _item(kind: str, row: dict[str, Any]) -> dict[str, Any]:
    if kind != "entry":
        return row
    facts = {name: one for name, one in row.items() if "." in name and not name.startswith(DETAIL)}
    details = {name.removeprefix(DETAIL): one for name, one in row.items() if name.startswith(DETAIL)}
    item = {name: one for name, one in row.items() if name not in facts and not name.startswith(DETAIL)}
    return {**item, **({"facts": facts} if facts else {}), **({"details": details} if details else {})}


def _held_against_shape(data: dict[str, Any], name: str) -> None:
    from hiveweek.shapes import shape
    from hiveweek.shapes.marked_yaml import Document

    document = Document(name, {HEAD: 1, **data})
    problems = shape("record").check(document)
    if problems:
        raise InputProblems(problems)

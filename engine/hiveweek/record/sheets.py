"""Reads CSV files and spreadsheets row by row, whatever program wrote them."""

from __future__ import annotations

import codecs
import contextlib
import csv
import os
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from hiveweek import files
from hiveweek.problems import InputProblems, Problem

SAMPLE = 64_000
MOST_CELL = 1_000_000
_MARKS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))
_DELIMITERS = ",;\t|"


@dataclass
class Sheet:
    """One sheet.

    Attributes
    ----------
    head : list of str
        The first row, blanks around taken off.
    body : iterator of (line, cells)
        The other rows, the line as a person counts it; read as it is asked for.
    """

    head: list[str]
    body: Iterator[tuple[int, Sequence[Any]]]


@contextlib.contextmanager
def opened(path: Path, name: str, sheet: str | None = None) -> Iterator[Sheet]:
    """Open a CSV file (any usual delimiter; UTF-8, UTF-16, or what spreadsheets of western Europe write) or an xlsx file.

    Parameters
    ----------
    path : Path
    name : str
        The file as the user named it.
    sheet : str, optional
        Name of the sheet in a spreadsheet; the first by default.

    Raises
    ------
    InputProblems
        Not there, not readable, empty; a row that cannot be read, with its line.
    """
    os.close(files.opened(path, name))
    try:
        if path.suffix.lower() == ".xlsx":
            with _spreadsheet(path, name, sheet) as found:
                yield found
        else:
            with path.open("rb") as raw:
                sample = raw.read(SAMPLE)
            coding = _coding(sample)
            with path.open(encoding=coding, newline="") as file:
                yield _csv(file, sample, coding, name)
    except OSError as error:
        raise InputProblems([Problem(name, 1, 1, "no-file", f"cannot be read: {error.strerror}")]) from None


def _coding(sample: bytes) -> str:
    for mark, coding in _MARKS:
        if sample.startswith(mark):
            return coding
    try:
        codecs.getincrementaldecoder("utf-8")().decode(sample)  # a letter cut in two at the end is no fault
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def _delimiter(first: str) -> str:
    """Return what stands between the cells of the head; of a single column a comma."""
    try:
        return csv.Sniffer().sniff(first, _DELIMITERS).delimiter
    except csv.Error:
        return max(_DELIMITERS, key=first.count)


def _csv(file: Any, sample: bytes, coding: str, name: str) -> Sheet:
    csv.field_size_limit(MOST_CELL)
    text = sample.decode(coding, errors="replace")
    first = text.splitlines()[0] if text.strip() else ""
    # The head decides: cells with commas in them mislead a look at all rows.
    reader = csv.reader(file, delimiter=_delimiter(first), strict=True)

    def rows() -> Iterator[tuple[int, Sequence[str]]]:
        while True:
            try:
                row = next(reader)
            except StopIteration:
                return
            except csv.Error as error:
                raise InputProblems(
                    [Problem(name, reader.line_num, 1, "bad-row", f"cannot be read: {error}")]
                ) from None
            except UnicodeError:
                said = "holds letters of another coding; save it as UTF-8"
                raise InputProblems([Problem(name, reader.line_num + 1, 1, "not-utf8", said)]) from None
            yield reader.line_num, row

    body = rows()
    head = next(body, None)
    if head is None:
        raise InputProblems([Problem(name, 1, 1, "empty", "there is nothing in this file")])
    return Sheet([cell.strip() for cell in head[1]], body)


@contextlib.contextmanager
def _spreadsheet(path: Path, name: str, wanted: str | None) -> Iterator[Sheet]:
    from openpyxl import load_workbook
    from openpyxl.utils.exceptions import InvalidFileException

    try:
        book = load_workbook(path, read_only=True, data_only=True)
    except (InvalidFileException, zipfile.BadZipFile, KeyError, ValueError):
        raise InputProblems([Problem(name, 1, 1, "not-xlsx", "this is no spreadsheet that can be read")]) from None
    try:
        if wanted is not None and wanted not in book.sheetnames:
            said = f"no sheet '{wanted}'; there are {', '.join(book.sheetnames)}"
            raise InputProblems([Problem(name, 1, 1, "unknown-sheet", said)])
        rows = book[wanted or book.sheetnames[0]].iter_rows(values_only=True)
        head = next(rows, None)
        if head is None or not any(head):
            raise InputProblems([Problem(name, 1, 1, "empty", "there is nothing in this sheet")])
        names = ["" if cell is None else str(cell).strip() for cell in head]
        yield Sheet(names, enumerate(rows, 2))
    finally:
        book.close()

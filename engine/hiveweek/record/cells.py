"""Values as cells of a sheet, and back without loss.

A number, a yes, a day is itself; what is not known again is ``~``. A text is itself too, unless it could be taken for one of those or
for a formula by a spreadsheet: then an apostrophe stands before it. Letters that a spreadsheet drops or changes are written as JSON.
"""

from __future__ import annotations

import datetime as dt
import json
import math
import re
from typing import Any

from hiveweek.record.entries import Plain

AGAIN = "~"
MARK, CODED = "'", "'json:"
_FORMULA = ("=", "+", "-", "@", "\t", MARK)
_LOST = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff]|_x[0-9A-Fa-f]{4}_")
_NUMBER = re.compile(r"-?\d+(\.\d+)?([eE][-+]?\d+)?")
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
_WORDS = {"true": True, "false": False, AGAIN: None}


def text_cell(value: Plain) -> str:
    """Return a value as the text of a cell; an empty cell stands for nothing said, so an empty text is marked."""
    if value is None:
        return AGAIN
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return repr(value)
    if isinstance(value, dt.date):
        return value.isoformat()
    if _LOST.search(value) or value != value.strip():
        return CODED + json.dumps(value)
    if value == "" or value.startswith(_FORMULA) or not isinstance(_bare(value), str):
        return MARK + value
    return value


def cell(value: Plain) -> Any:
    """Return a value as a spreadsheet holds it: numbers, yes and days as such, texts as `text_cell`.

    A number of more than the 16 digits that openpyxl writes (``%.16g``) is a text, which `value_of` reads as the number.
    """
    if isinstance(value, str) or value is None or (isinstance(value, float) and float(f"{value:.16g}") != value):
        return text_cell(value)
    return value


def value_of(held: Any) -> Plain:
    """Return the value of a cell that is not empty.

    Raises
    ------
    ValueError
        For a cell that no value is written as.
    """
    if isinstance(held, dt.datetime):
        return held.date()
    if not isinstance(held, str):
        plain: Plain = held
        return plain
    if held.startswith(CODED):
        found = json.loads(held[len(CODED) :])
        if not isinstance(found, str):
            raise ValueError("no text after 'json:")
        return found
    return held[1:] if held.startswith(MARK) else _bare(held)


def _bare(text: str) -> Plain:
    if text in _WORDS:
        return _WORDS[text]
    if _NUMBER.fullmatch(text):
        number = float(text)
        if not math.isfinite(number):
            return text
        return int(text) if text.lstrip("-").isdigit() else number
    if _DAY.fullmatch(text):
        try:
            return dt.date.fromisoformat(text)
        except ValueError:
            return text
    return text


def safe(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula, for sheets that people read and nobody reads back."""
    one = " ".join(text.split())
    return MARK + one if one.startswith(_FORMULA[:4]) and not _NUMBER.fullmatch(one) else one

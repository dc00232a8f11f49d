"""What is wrong with a value that someone wrote for a fact, in words."""

from __future__ import annotations

import datetime as dt
import math
import re

from hiveweek.problems import nearest
from hiveweek.vocabulary.model import Fact

_WITH_UNIT = re.compile(r"\s*[-+]?\d+(?:[.,]\d+)?\s*[A-Za-z%°/]+[\w%°/ ]*$")
_COMMA = re.compile(r"\s*[-+]?\d+,\d+\s*$")


def plain_value(fact: Fact, value: object, raw: str | None = None) -> tuple[object, tuple[str, str] | None]:
    """Check one written value.

    Parameters
    ----------
    fact : Fact
        What the value is for.
    value : object
        The value as YAML gave it; None means not known.
    raw : str, optional
        The value as it was written, for words that YAML takes for something else (``NO``).

    Returns
    -------
    (value, problem)
        The value to use (None where unknown or refused), and None or (code, message).
    """
    if value is None and (raw is None or raw in ("", "~", "null")):
        return None, None
    if isinstance(value, (dict, list)):
        return None, (
            "wrong-type",
            f"{fact.id} takes one value, not a {'mapping' if isinstance(value, dict) else 'list'}",
        )
    written = str(value) if raw is None else raw
    if fact.kind in ("number", "integer"):
        return _number(fact, value, written)
    if fact.kind == "yes_no":
        if isinstance(value, bool):
            return value, None
        return None, ("wrong-type", f"{fact.id} is true or false; '{_short(written)}' is not")
    if fact.kind == "one_of":
        if written in fact.values:
            return written, None
        return None, (
            "unknown-value",
            f"{fact.id} is one of {', '.join(fact.values)}; '{_short(written)}' is not{nearest(written, fact.values)}",
        )
    if fact.kind == "date":
        found = as_date(value)
        if found is None:
            return None, ("no-such-date", f"{fact.id} needs a date like 2026-02-10, not '{_short(written)}'")
        return found, None
    return written, None


def _number(fact: Fact, value: object, written: str):
    unit = f" ({fact.unit})" if fact.unit else ""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        hint = ""
        if _COMMA.match(written):
            hint = f"; write {written.strip().replace(',', '.')}"
        elif _WITH_UNIT.match(written):
            hint = "; write the number alone"
        return None, ("wrong-type", f"{fact.id} is a number{unit}; '{_short(written)}' is not{hint}")
    if not math.isfinite(value):
        return None, ("wrong-type", f"{fact.id} is a number{unit}; '{_short(written)}' is not")
    if (fact.low is not None and value < fact.low) or (fact.high is not None and value > fact.high):
        return None, (
            "out-of-range",
            f"{fact.id} lies between {fact.low:g} and {fact.high:g}{' ' + fact.unit if fact.unit else ''}; "
            f"{_short(written)} is outside",
        )
    if fact.kind == "integer" and value != int(value):
        return None, ("wrong-type", f"{fact.id} is a whole number{unit}; {_short(written)} is not")
    return (int(value) if fact.kind == "integer" else value), None


def as_date(value: object) -> dt.date | None:
    """Return a date from a date or from text like ``2026-02-10``; None where it is neither."""
    if isinstance(value, dt.datetime):
        return value.date()
    if isinstance(value, dt.date):
        return value
    if isinstance(value, str) and re.fullmatch(r"\d{4}-\d{2}-\d{2}", value.strip()):
        try:
            return dt.date.fromisoformat(value.strip())
        except ValueError:
            return None
    return None


def _short(text: str) -> str:
    text = " ".join(str(text).split())
    return text if len(text) <= 40 else text[:37] + "..."

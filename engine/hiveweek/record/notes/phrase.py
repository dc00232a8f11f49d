"""How a fact is written in a note, so that it is read back."""

from __future__ import annotations

import datetime as dt
from functools import lru_cache

from hiveweek.record.entries import Plain
from hiveweek.record.notes.reading import read_note
from hiveweek.record.notes.table import Table, shipped
from hiveweek.vocabulary import load
from hiveweek.vocabulary.model import Fact

_DAY = dt.date(2000, 7, 6)  # any day: the phrases asked for name none


@lru_cache(maxsize=4096)
def phrase_for(fact_id: str, value: Plain = None) -> str:
    """Return the words to note a fact with.

    Parameters
    ----------
    fact_id : str
    value : plain value, optional
        Without one the fact's own example: "5 seams", "eggs seen".

    Returns
    -------
    str
        A phrase of the table, or ``fact=value`` where there is none that says just that; empty for what is worked out and not noted,
        and for a text without a value.
    """
    fact, table = load().facts[fact_id], shipped()
    if fact.comes_from == "computed":
        return ""
    if value is None:
        rows = [row for row in table.rows if row.form and fact_id in row.says.facts]
        if rows:
            row = min(rows, key=lambda row: len(row.says.facts))
            return row.form.replace("{n}", f"{row.example:g}")
        value = _example(fact)
        if value is None:
            return ""
    for said in _candidates(table, fact_id, value):
        if _says(said, fact_id, value):
            return said
    return f"{fact_id}={_written(value)}"


def _candidates(table: Table, fact_id: str, value: Plain) -> list[str]:
    rows = [row for row in table.rows if fact_id in row.says.facts and row.ask is None]
    found = []
    for row in sorted(rows, key=lambda row: not row.form):
        if row.form and "{n}" in row.form and not isinstance(value, (str, bool, dt.date)) and value is not None:
            found.append(row.form.replace("{n}", _written(value)))
        elif row.says.facts == {fact_id: value} and type(row.says.facts[fact_id]) is type(value):
            found.append(row.form or row.first)
    return found


def _says(said: str, fact_id: str, value: Plain) -> bool:
    read = read_note(said, _DAY, load(), shipped())
    return bool(said) and len(read.entries) == 1 and not read.asked and read.entries[0].facts.get(fact_id) == value


def _example(fact: Fact) -> Plain:
    if fact.kind == "yes_no":
        return True
    if fact.kind == "one_of":
        return next((word for word in fact.values if word != "none"), None)
    if fact.kind == "date":
        return _DAY.replace(year=2026)
    if fact.kind in ("number", "integer") and fact.low is not None and fact.high is not None:
        return int(min(max(5, fact.low), fact.high))
    return None


def _written(value: Plain) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return (
        repr(value)
        if isinstance(value, float) and not value.is_integer()
        else f"{value:g}"
        if isinstance(value, (int, float))
        else str(value)
    )

"""What the columns of a keeper's own sheet mean: read from a map (YAML), or told by the names of the columns themselves."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.record.values import UNKNOWN_AGAIN, number_of
from hiveweek.shapes import Shape
from hiveweek.shapes.marked_yaml import read
from hiveweek.texts.units import IMPERIAL, ZERO_F
from hiveweek.vocabulary.definitions import definitions, entry_definitions
from hiveweek.vocabulary.model import Vocabulary

ROLES = ("apiary", "hive", "date", "who", "text")
EMPTY = ("", "-", "--", "n/a", "N/A", "?")
_GROUPED = re.compile(r"-?\d{1,3}([ .,'\u00a0\u202f]\d{3})+([.,]\d+)?")


@dataclass(frozen=True)
class Column:
    """What one column holds.

    Attributes
    ----------
    fact, action, detail : str
        A fact; or an action and the detail of it that the cell says (none where the cell only says that it was done).
    unit : str
        The unit of its numbers, where that is not the fact's.
    words : dict
        Words of the sheet to those of the vocabulary.
    """

    fact: str = ""
    action: str = ""
    detail: str = ""
    unit: str = ""
    words: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class SheetMap:
    """What a sheet means.

    Attributes
    ----------
    roles : dict
        apiary, hive, date, who, text -> the column that holds it.
    fixed : dict
        The same where one value holds for the whole sheet.
    forms : tuple of str
        Forms of dates (``%d.%m.%Y``), tried in this order; ISO by default.
    decimal : str
        comma or point; empty where either may stand, and what could be both is refused.
    """

    roles: dict[str, str]
    fixed: dict[str, str]
    columns: dict[str, Column]
    forms: tuple[str, ...] = ()
    decimal: str = ""
    empty: tuple[str, ...] = EMPTY
    sheet: str | None = None


def read_map(path: Path | str, words: Vocabulary) -> SheetMap:
    """Read a map.

    Raises
    ------
    InputProblems
        Everything wrong with it, with its place: keys, facts, actions and details that are not known, units that do not fit.
    """
    document = read(path)
    problems = [
        *document.problems,
        *Shape("sheet_map", {**definitions(words), **entry_definitions(words)}).check(document),
    ]
    data = document.data or {}
    columns: dict[str, Column] = {}
    for name, body in (data.get("columns") or {}).items():
        column = Column(**{key: value for key, value in body.items() if key != "note"})
        columns[str(name)] = column
        at = ("columns", name)
        if column.detail and column.detail not in _takes(words, column.action):
            takes = _takes(words, column.action)
            said = f"'{column.action}' has no '{column.detail}'; it takes {', '.join(takes) or 'none'}"
            problems.append(document.problem((*at, "detail"), "unknown-detail", said + nearest(column.detail, takes)))
        unit = _unit(words, column)
        if column.unit and column.unit not in (unit, *_other_units(unit)):
            said = f"'{column.unit}' is no unit of {unit or 'this'}; it may be {', '.join([unit or '-', *_other_units(unit)])}"
            problems.append(document.problem((*at, "unit"), "wrong-unit", said))
    roles: dict[str, str] = {}
    fixed: dict[str, str] = {}
    for role in ROLES:
        value = data.get(role)
        if isinstance(value, dict):
            roles[role] = str(value["column"])
        elif value is not None:
            fixed[role] = str(value)
    date = data.get("date")
    forms = date.get("form", ()) if isinstance(date, dict) else ()
    for role in ("hive", "date"):
        if role not in roles and role not in fixed and not problems:
            problems.append(
                document.problem((), "missing-key", f"say where the {role} stands: {role}: {{column: NAME}}")
            )
    if problems:
        raise InputProblems(problems)
    return SheetMap(
        roles,
        fixed,
        columns,
        (forms,) if isinstance(forms, str) else tuple(forms),
        data.get("decimal") or "",
        tuple(str(word) for word in data.get("empty", EMPTY)),
        data.get("sheet"),
    )


def map_of(head: Sequence[str], words: Vocabulary, name: str) -> SheetMap:
    """Return the map of a sheet whose columns are called hive, date (apiary, who, text) and by the ids of facts.

    Raises
    ------
    InputProblems
        Where hive or date is missing.
    """
    roles = {role: column for column in head for role in ROLES if column.casefold() == role}
    missing = [role for role in ("hive", "date") if role not in roles]
    if missing:
        said = f"no column '{' or '.join(missing)}'; --map MAP.yaml says which column holds what"
        raise InputProblems([Problem(name, 1, 1, "missing-column", said)])
    return SheetMap(roles, {}, {column: Column(column) for column in head if column in words.facts})


def _takes(words: Vocabulary, action: str) -> tuple[str, ...]:
    effect = words.effects.get(action)
    return () if effect is None else (*effect.asks, *effect.takes)


def _unit(words: Vocabulary, column: Column) -> str | None:
    if column.fact:
        fact = words.facts.get(column.fact)
        return fact.unit if fact else None
    detail = words.details.get(column.detail)
    return detail.unit if detail else None


def _other_units(unit: str | None) -> tuple[str, ...]:
    known = IMPERIAL.get(unit or "")
    return ((known[0],) if known else ()) + (("g",) if unit == "kg" else ())


def text_of(sheet_map: SheetMap, column: Column, cell: Any, words: Vocabulary) -> str:
    """Return what a cell says as it would be typed, in the unit and the words of the vocabulary.

    Raises
    ------
    ValueError
        For a number that can be read in two ways, or is none where a unit asks for one.
    """
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, dt.datetime):
        return cell.date().isoformat()
    text = cell if isinstance(cell, str) else repr(cell) if isinstance(cell, float) else str(cell)
    text = " ".join(text.split())
    named = {word.casefold(): own for word, own in column.words.items()}
    if text.casefold() in named:
        return named[text.casefold()]
    kind = words.facts[column.fact].kind if column.fact else words.details[column.detail].kind if column.detail else ""
    if text == UNKNOWN_AGAIN:
        return text
    if kind in ("number", "integer"):
        number = number_in(text, sheet_map.decimal) if isinstance(cell, str) else float(text)
        return repr(_metric(number, _unit(words, column), column.unit))
    if kind == "date" and sheet_map.forms:
        return day_in(text, sheet_map.forms).isoformat()
    return text


def number_in(text: str, decimal: str) -> float:
    """Return a number of a sheet.

    Raises
    ------
    ValueError
        Where it is none, or could be two (1,500 without ``decimal``).
    """
    plain = text.replace("\u00a0", "").replace("\u202f", "").replace(" ", "")
    if decimal == "comma":
        plain = plain.replace(".", "").replace(",", ".")
    elif decimal == "point":
        plain = plain.replace(",", "")
    elif _GROUPED.fullmatch(text):
        raise ValueError(f"'{text}' can be read in two ways; say decimal: comma or point in the map")
    try:
        return number_of(plain)
    except ValueError:
        raise ValueError(f"needs a number, not '{text}'") from None


def day_in(text: str, forms: Sequence[str]) -> dt.date:
    """Return a day written in one of some forms.

    Raises
    ------
    ValueError
        Where it fits none.
    """
    for form in forms:
        try:
            return dt.datetime.strptime(text, form).date()
        except ValueError:
            continue
    raise ValueError(
        f"needs a day like {' or '.join(dt.date(2026, 2, 10).strftime(form) for form in forms)}, not '{text}'"
    )


def _metric(number: float, unit: str | None, given: str) -> float:
    if not given or given == unit:
        return number
    if given == "g":
        return number / 1000
    name, factor, _ = IMPERIAL[unit or ""]
    # As many digits as were meant: 12 lb are 5.443 kg, not 5.443108443.
    return round((number - (ZERO_F if name == "degF" else 0)) / factor, 3 - min(0, _magnitude(number)))


def _magnitude(number: float) -> int:
    return math.floor(math.log10(abs(number))) if number else 0

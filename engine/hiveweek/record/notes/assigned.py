"""``fact=value`` in a note, also with a unit, and whether values fit their facts."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

from hiveweek.problems import nearest
from hiveweek.record.entries import Plain
from hiveweek.record.notes.table import Table
from hiveweek.vocabulary.model import Fact, Vocabulary

UNKNOWN_AGAIN = "~"
_FORM = re.compile(r"\s*([A-Za-z_]+(?:\.[A-Za-z_0-9]+)?)\s*=\s*(.*?)\s*$", re.DOTALL)
_NUMBER = re.compile(r"([-\N{MINUS SIGN}]?\d+(?:[.,]\d+)?)\s*([A-Za-z%/]*)$")
_YES = {"yes": True, "y": True, "true": True, "no": False, "n": False, "false": False}
_UNITS = {"kg": "mass", "L": "volume"}


@dataclass(frozen=True)
class Assigned:
    """One fact that is given outright.

    Attributes
    ----------
    fact : str or None
        None where it cannot be taken.
    value : plain value
        None = not known again.
    why : str
        What is wrong.
    """

    fact: str | None
    value: Plain = None
    why: str = ""


def read(text: str, words: Vocabulary, table: Table) -> Assigned | None:
    """Return what ``fact=value`` gives; None where a text is none.

    A fact is named by its id, by what stands after the dot where that is one fact's only, or by an alias of the phrases.
    """
    match = _FORM.match(text)
    if match is None:
        return None
    name = match[1].casefold()
    fact = named(name, words, table)
    if fact is None:
        return Assigned(None, why=f"there is no fact '{name}'{nearest(name, [*words.facts, *table.aliases])}")
    if fact.comes_from == "computed":
        return Assigned(None, why=f"{fact.id} is worked out, not noted")
    try:
        value = _value(fact, match[2], table)
    except ValueError as error:
        return Assigned(None, why=f"{fact.id} {error}")
    wrong = misfit(words, {fact.id: value})
    return Assigned(None, why=wrong) if wrong else Assigned(fact.id, value)


def named(name: str, words: Vocabulary, table: Table) -> Fact | None:
    """Return a fact by its id, its inner name or an alias; None where that is none or several."""
    if name in words.facts:
        return words.facts[name]
    if name in table.aliases:
        return words.facts[table.aliases[name]]
    inner = [fact for fact in words.facts.values() if fact.id.partition(".")[2] == name]
    return inner[0] if len(inner) == 1 else None


def _value(fact: Fact, text: str, table: Table) -> Plain:
    word = text.strip()
    if word == UNKNOWN_AGAIN:
        return None
    if fact.kind in ("number", "integer"):
        return _number(fact, word, table)
    if fact.kind == "yes_no":
        if word.casefold() not in _YES:
            raise ValueError(f"needs yes or no, not '{word}'")
        return _YES[word.casefold()]
    if fact.kind == "date":
        try:
            return dt.date.fromisoformat(word)
        except ValueError:
            raise ValueError(f"needs a day like 2026-02-10, not '{word}'") from None
    if fact.kind == "one_of":
        made = "_".join(word.casefold().replace("-", " ").replace("_", " ").split())
        if made not in fact.values:
            raise ValueError(f"needs one of {', '.join(fact.values)}, not '{word}'{nearest(made, fact.values)}")
        return made
    return word


def _number(fact: Fact, word: str, table: Table) -> float | int:
    match = _NUMBER.match(word)
    if match is None:
        raise ValueError(f"needs a number{f' ({fact.unit})' if fact.unit else ''}, not '{word}'")
    number = float(match[1].replace(",", ".").replace("\N{MINUS SIGN}", "-"))
    unit = match[2].casefold()
    if unit and unit != (fact.unit or "").casefold() and not (unit == "%" and fact.unit == "percent"):
        readings = table.units.get(_UNITS.get(fact.unit or "", ""), {}).get(unit, [])
        if len(readings) != 1:
            names = " or ".join(name for name, _ in readings)
            raise ValueError(
                f"is in {fact.unit or 'plain numbers'}; '{unit}' {f'may be {names}' if names else 'is no unit of it'}"
            )
        number = round(number * readings[0][1], 6)
    return int(number) if fact.kind == "integer" and number.is_integer() else number


def misfit(words: Vocabulary, facts: Mapping[str, Plain | str]) -> str:
    """Return what is wrong with the first value that its fact cannot have; empty where all fit."""
    for name, value in facts.items():
        fact = words.facts[name]
        try:
            number = fact.encode(value)
        except ValueError as error:
            return f"{name} {error}"
        if value is not None and fact.kind in ("number", "integer"):
            low, high = fact.low, fact.high
            if not math.isfinite(number) or (low is not None and number < low) or (high is not None and number > high):
                return f"{name} lies between {low:g} and {high:g}{f' {fact.unit}' if fact.unit else ''}, not {number:g}"
    return ""

"""``fact=value`` in a note, also with a unit, and whether values fit their facts."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from hiveweek.problems import nearest
from hiveweek.record.entries import Plain
from hiveweek.record.notes.table import Table
from hiveweek.record.values import UNKNOWN_AGAIN, misfit, value_of
from hiveweek.vocabulary.model import Fact, Vocabulary

_FORM = re.compile(r"\s*([A-Za-z_]+(?:\.[A-Za-z_0-9]+)?)\s*=\s*(.*?)\s*$", re.DOTALL)
_NUMBER = re.compile(r"([-\N{MINUS SIGN}]?\d+(?:[.,]\d+)?)\s*([A-Za-z%/]*)$")
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
    wrong = wrong_in(words, {fact.id: value})
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
    return value_of(fact, word)


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


def wrong_in(words: Vocabulary, facts: Mapping[str, Plain]) -> str:
    """Return what is wrong with the first value that its fact cannot have; empty where all fit."""
    said = ((name, misfit(words.facts[name], value)) for name, value in facts.items())
    return next((f"{name} {wrong}" for name, wrong in said if wrong), "")

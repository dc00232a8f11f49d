"""Values as people write them (``hive.size=double``, ``food.stores_kg=7,5``), and entries held against the vocabulary."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Iterable, Mapping, Sequence

from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.record.entries import Entry, Kind, Plain
from hiveweek.record.record import Hive
from hiveweek.vocabulary.model import Fact, Vocabulary

UNKNOWN_AGAIN = "~"
AHEAD = dt.timedelta(days=1)  # a day east of the machine's may have begun
FIRST_DAY, LAST_DAY = dt.date(1950, 1, 1), dt.date(2150, 1, 1)
_TWO_WAYS = re.compile(r"-?[1-9]\d{0,2},\d{3}")
_YES = {"true": True, "yes": True, "y": True, "1": True, "false": False, "no": False, "n": False, "0": False}


def number_of(text: str) -> float:
    """Return a number as it is written, with a point or a comma.

    Raises
    ------
    ValueError
        Where it is none, not finite, or could be two (1,500).
    """
    plain = text.strip().replace("\N{MINUS SIGN}", "-")
    if _TWO_WAYS.fullmatch(plain):
        raise ValueError(text)
    if plain.count(",") == 1 and "." not in plain:
        plain = plain.replace(",", ".")
    found = float(plain)
    if not math.isfinite(found) or "_" in plain:
        raise ValueError(text)
    return found


def value_of(fact: Fact, text: str) -> Plain:
    """Return the value of a fact from what was written; ``~`` gives None: not known again.

    Raises
    ------
    ValueError
        With what is wrong, what is allowed and the nearest word.
    """
    word = text.strip()
    if word == UNKNOWN_AGAIN:
        return None
    if fact.kind in ("number", "integer"):
        try:
            number = number_of(word)
        except ValueError:
            raise ValueError(f"needs a number{_unit(fact)}, not '{word}'") from None
        found: Plain = int(number) if fact.kind == "integer" and number.is_integer() else number
    elif fact.kind == "yes_no":
        if word.casefold() not in _YES:
            raise ValueError(f"needs yes or no, not '{word}'")
        found = _YES[word.casefold()]
    elif fact.kind == "date":
        found = day_of(word)
    elif fact.kind == "one_of":
        found = "_".join(word.casefold().replace("-", " ").replace("_", " ").split())
    else:
        found = word
    wrong = misfit(fact, found)
    if wrong:
        raise ValueError(wrong)
    return found


def day_of(text: str) -> dt.date:
    """Return a day written as 2026-02-10.

    Raises
    ------
    ValueError
        Where it is none, or outside the years that can be.
    """
    try:
        found = dt.date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"needs a day like 2026-02-10, not '{text}'") from None
    if not FIRST_DAY <= found <= LAST_DAY:
        raise ValueError(f"{found} is outside {FIRST_DAY.year} to {LAST_DAY.year}")
    return found


def _unit(fact: Fact) -> str:
    return f" ({fact.unit})" if fact.unit else ""


def misfit(fact: Fact, value: Plain) -> str:
    """Return what is wrong with a value of a fact; empty where nothing is."""
    if value is None:
        return ""
    if fact.comes_from == "computed":
        return "is worked out, not noted" + (
            f"; note {' or '.join(' and '.join(some) for some in fact.observed_by)}" if fact.observed_by else ""
        )
    if fact.kind == "one_of" and value not in fact.values:
        return f"needs one of {', '.join(fact.values)}, not '{value}'{nearest(value, fact.values)}"
    try:
        number = fact.encode(value)
    except ValueError as error:
        return str(error)
    if fact.kind in ("number", "integer"):
        if math.isnan(number) or math.isinf(number):
            return f"needs a number{_unit(fact)}, not {value}"
        if (fact.low is not None and number < fact.low) or (fact.high is not None and number > fact.high):
            return f"lies between {fact.low:g} and {fact.high:g}{_unit(fact)}, not {number:g}"
    return ""


def fact_named(words: Vocabulary, name: str) -> Fact:
    """Return a fact by its id.

    Raises
    ------
    InputProblems
        With the nearest id.
    """
    if name not in words.facts:
        raise InputProblems([unknown_fact(words, name)])
    return words.facts[name]


def unknown_fact(words: Vocabulary, name: str) -> Problem:
    """Return the complaint about a fact that the vocabulary does not have; a word without its group finds its fact too."""
    inner = [fact for fact in words.facts if fact.partition(".")[2] == name]
    near = f"; nearest: {inner[0]}" if inner else nearest(name, words.facts)
    return Problem("", 0, 0, "unknown-fact", f"there is no fact '{name}'{near}")


def assignments(words: Vocabulary, items: Iterable[str]) -> dict[str, Plain]:
    """Return facts and values from words like ``hive.size=double``.

    Raises
    ------
    InputProblems
        All that is wrong, at once.
    """
    found: dict[str, Plain] = {}
    problems: list[Problem] = []
    for item in items:
        name, equals, text = item.partition("=")
        name = name.strip()
        if not equals:
            problems.append(Problem("", 0, 0, "bad-words", f"'{item}' is no FACT=VALUE"))
        elif name not in words.facts:
            problems.append(unknown_fact(words, name))
        elif name in found:
            problems.append(Problem("", 0, 0, "two-values", f"{name} is given twice"))
        else:
            try:
                found[name] = value_of(words.facts[name], text)
            except ValueError as error:
                problems.append(Problem("", 0, 0, "bad-value", f"{name} {error}"))
    if problems:
        raise InputProblems(problems)
    return found


def problems_of(
    entries: Sequence[Entry],
    hives: Mapping[str, Hive],
    words: Vocabulary,
    today: dt.date,
    *,
    sure: bool = False,
) -> list[tuple[Entry, Problem]]:
    """Return what is wrong with entries before they are written, each with its entry.

    Parameters
    ----------
    entries : sequence of Entry
    hives : mapping of id to Hive
        At least those that the entries name.
    words : Vocabulary
    today : date
        Local day; what was seen or done more than a day ahead is refused.
    sure : bool
        The keeper says that entries before a hive's first day or after its end are meant.
    """
    found: list[tuple[Entry, Problem]] = []

    def complain(entry: Entry, code: str, message: str) -> None:
        found.append((entry, Problem("", 0, 0, code, message)))

    for entry in entries:
        for name, value in entry.facts.items():
            fact = words.facts.get(name)
            if fact is None:
                found.append((entry, unknown_fact(words, name)))
            elif misfit(fact, value):
                complain(entry, "bad-value", f"{name} {misfit(fact, value)}")
            elif isinstance(value, dt.date) and not fact.ahead and value > entry.date + AHEAD:
                complain(entry, "date-ahead", f"{name} is {value}, after {entry.date}")
        if entry.action is not None and entry.action not in words.actions:
            near = nearest(entry.action, words.actions)
            complain(entry, "unknown-action", f"there is no action '{entry.action}'{near}")
        if entry.kind is not Kind.ANSWERED and entry.date > today + AHEAD:
            complain(entry, "date-ahead", f"{entry.date} lies ahead of today, {today}")
        if not FIRST_DAY <= entry.date <= LAST_DAY:
            complain(entry, "no-such-date", f"{entry.date} is outside {FIRST_DAY.year} to {LAST_DAY.year}")
        hive = hives.get(entry.hive) if entry.hive is not None else None
        if hive is not None and not sure:
            first = hive.placements[0].since
            if entry.date < first:
                said = f"{entry.date} is before the first day of '{hive.name}', {first}; --sure if that is meant"
                complain(entry, "before-first-day", said)
            elif hive.ended is not None and entry.date > hive.ended:
                said = f"{entry.date} is after the end of '{hive.name}', {hive.ended}; --sure if that is meant"
                complain(entry, "after-end", said)
    return found


def check(
    entries: Sequence[Entry], hives: Iterable[Hive], words: Vocabulary, today: dt.date, *, sure: bool = False
) -> None:
    """Refuse entries with anything wrong; see `problems_of`.

    Raises
    ------
    InputProblems
        With all of it.
    """
    found = problems_of(entries, {hive.id: hive for hive in hives}, words, today, sure=sure)
    if found:
        raise InputProblems(problem for _, problem in found)

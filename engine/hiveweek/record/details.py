"""What is said of a job done (``litres=4 active=oxalic``), held against what the action asks for and takes."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable

from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.record.entries import Plain
from hiveweek.record.values import day_of, number_of, value_of
from hiveweek.vocabulary.model import Detail, Effect, Vocabulary

_SAID = re.compile(r"([A-Za-z_]\w*)=(.*)", re.DOTALL)


def parted(items: Iterable[str]) -> tuple[list[tuple[str, str]], str]:
    """Return the words of a command as details (name, text) and free text."""
    said: list[tuple[str, str]] = []
    free: list[str] = []
    for item in items:
        found = _SAID.fullmatch(item)
        if found is None:
            free.append(item)
        else:
            said.append((found[1], found[2]))
    return said, " ".join(free)


def details_of(
    words: Vocabulary, action: str, said: Iterable[tuple[str, str]], hive_named: Callable[[str], str]
) -> dict[str, Plain]:
    """Return the details of a job done.

    Parameters
    ----------
    words : Vocabulary
    action : str
        An action of the vocabulary.
    said : iterable of (name, text)
    hive_named : callable
        Id of the hive of a name; raises InputProblems for one that is not there.

    Raises
    ------
    InputProblems
        Everything wrong at once: an action or a detail that is not known, a value that does not fit, what the action asks for and
        nobody said. Each says what is allowed and the nearest name.
    """
    if action not in words.actions:
        raise InputProblems(
            [_problem("unknown-action", f"there is no action '{action}'{nearest(action, words.actions)}")]
        )
    effect: Effect = words.effects[action]
    takes = (*effect.asks, *effect.takes)
    found: dict[str, Plain] = {}
    problems: list[Problem] = []
    given = list(said)
    for name, text in given:
        if name not in takes:
            allowed = f"it takes {', '.join(takes)}" if takes else "it takes none"
            problems.append(_problem("unknown-detail", f"'{action}' has no '{name}'; {allowed}{nearest(name, takes)}"))
        elif [one for one, _ in given].count(name) > 1:
            problems.append(_problem("two-values", f"{name} is given twice"))
        else:
            try:
                found[name] = _value(words, words.details[name], text, hive_named)
            except ValueError as error:
                problems.append(_problem("bad-value", f"{name} {error}"))
            except InputProblems as error:
                problems += error.problems
    named = {name for name, _ in given}
    for name in effect.asks:
        if name not in named:
            said_so = f"'{action}' needs {name}=...: {_allowed(words, words.details[name])}"
            problems.append(_problem("missing-detail", said_so))
    if problems:
        raise InputProblems(problems)
    return found


def _problem(code: str, message: str) -> Problem:
    return Problem("", 0, 0, code, message)


def _words(words: Vocabulary, detail: Detail) -> tuple[str, ...]:
    """The words that a detail can take; empty for one that is no choice of words."""
    own = words.facts[detail.of].values if detail.of else ()
    return (*own, *detail.values)


def _allowed(words: Vocabulary, detail: Detail) -> str:
    """What may be said: the detail's label, its words or its range."""
    choice = _words(words, detail)
    if choice:
        return f"{detail.label}, one of {', '.join(choice)}"
    if detail.kind in ("number", "integer") and detail.low is not None and detail.high is not None:
        return f"{detail.label}, between {detail.low:g} and {detail.high:g}"
    return detail.label


def _value(words: Vocabulary, detail: Detail, text: str, hive_named: Callable[[str], str]) -> Plain:
    word = text.strip()
    if not word:
        raise ValueError(f"says nothing; it is {_allowed(words, detail)}")
    plain = "_".join(word.casefold().replace("-", " ").replace("_", " ").split())
    if detail.kind == "hive":
        return hive_named(word)
    if detail.kind == "date":
        return day_of(word)
    if detail.kind == "text":
        return word
    choice = _words(words, detail)
    if choice:
        if plain not in choice:
            raise ValueError(f"needs one of {', '.join(choice)}, not '{word}'{nearest(plain, choice)}")
        return plain
    if detail.of:
        found = value_of(words.facts[detail.of], word)
        if found is None:
            raise ValueError(f"says nothing; it is {_allowed(words, detail)}")
        return found
    return _number(words, detail, word)


def _number(words: Vocabulary, detail: Detail, word: str) -> float | int:
    try:
        number = number_of(word)
    except ValueError:
        raise ValueError(f"needs a number ({_allowed(words, detail)}), not '{word}'") from None
    if detail.kind == "integer" and not number.is_integer():
        raise ValueError(f"needs a whole number ({_allowed(words, detail)}), not '{word}'")
    if (detail.low is not None and number < detail.low) or (detail.high is not None and number > detail.high):
        raise ValueError(f"lies between {detail.low:g} and {detail.high:g}, not {number:g} ({detail.label})")
    return int(number) if detail.kind == "integer" else number

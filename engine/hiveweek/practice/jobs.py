"""Jobs as a learner writes them: a number of the list, the name of an action, or words."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Sequence

from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.texts.reading import plain
from hiveweek.vocabulary.model import Vocabulary

ALIKE = 0.88  # how much of two texts has to agree before one is taken for the other
_SMALL = frozenset(
    [
        "a",
        "an",
        "and",
        "at",
        "for",
        "from",
        "in",
        "is",
        "it",
        "my",
        "of",
        "on",
        "one",
        "out",
        "the",
        "them",
        "to",
        "up",
        "whether",
        "with",
    ]
)


def read(text: str, listed: Sequence[str], words: Vocabulary, among: Iterable[str] | None = None) -> list[str]:
    """Return the actions that a line names, each once, in its order.

    Parameters
    ----------
    text : str
        Numbers of the list, names of actions or words, with commas or semicolons between: ``2, heft the hive``.
    listed : sequence of str
        What the numbers mean; the first is 1.
    words : Vocabulary
    among : iterable of str, optional
        Only these actions may be named; any by default.

    Raises
    ------
    InputProblems
        For every part that is none of them, or may be several, with the nearest.
    """
    found: dict[str, None] = {}
    problems: list[Problem] = []
    allowed = list(words.actions if among is None else among)
    for part in re.split(r"[,;]", text):
        if part.strip():
            try:
                found[_one(part.strip(), listed, words, allowed)] = None
            except InputProblems as error:
                problems += error.problems
    if problems:
        raise InputProblems(problems)
    return list(found)


def _one(text: str, listed: Sequence[str], words: Vocabulary, allowed: list[str]) -> str:
    if text.isdigit():
        if not 1 <= int(text) <= len(listed):
            raise _problem("unknown-number", f"{text} is not on the list; it runs from 1 to {len(listed)}")
        return listed[int(text) - 1]
    said = " ".join(text.casefold().split())
    if said in allowed:
        return said
    labels = {action: str(plain(words.actions[action].label)).casefold() for action in allowed}
    for action, label in labels.items():
        if said == label or said.replace(" ", "-") == action:
            return action
    found = fitting(said, words, allowed)
    if len(found) == 1:
        return found[0]
    if found:
        several = ", ".join(f"'{labels[action]}'" for action in found)
        raise _problem("which-job", f"'{text}' may be {several}; say which")
    close = difflib.get_close_matches(said, list(labels.values()), n=1, cutoff=ALIKE)
    if close:
        return next(action for action, label in labels.items() if label == close[0])
    near = nearest(said, labels.values())
    if len(allowed) < len(words.actions):
        raise _problem("unknown-look", f"'{text}' is no look known here; jobs are asked for after the looks{near}")
    raise _problem("unknown-job", f"'{text}' is no job known here{near}")


def fitting(text: str, words: Vocabulary, among: Iterable[str] | None = None) -> list[str]:
    """Return the actions whose words hold all the words of a text that tell one job from another."""
    keys = _keys(text.casefold())
    allowed = words.actions if among is None else among
    held = {one: _keys(f"{plain(words.actions[one].label)!s} {one}".casefold()) for one in allowed}
    return [one for one, words_ in held.items() if keys and keys <= words_]


def _keys(text: str) -> frozenset[str]:
    """Return the words of a text that tell one job from another, without the s of a plural."""
    return frozenset(word.removesuffix("s") for word in re.findall(r"[a-z]+", text)) - _SMALL


def _problem(code: str, message: str) -> InputProblems:
    return InputProblems([Problem("", 0, 0, code, message)])

"""Problems found in what people wrote, each with its place.

A loader gathers every problem of every file before it gives up, so that one run shows them all.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, order=True)
class Problem:
    """One thing wrong in one place.

    Attributes
    ----------
    file : str
        The file as the user named it, or ``<text>``; empty where there is no file (a command-line word).
    line, col : int
        One-based place in the file; 0 where there is no file.
    code : str
        Short permanent code, such as ``unknown-fact``.
    message : str
        What is wrong, what is allowed and the nearest name, in one line.
    """

    file: str
    line: int
    col: int
    code: str
    message: str

    def __post_init__(self) -> None:
        # What people wrote is quoted in messages: it must break no line and send no codes to a terminal.
        object.__setattr__(self, "message", "".join(c if c.isprintable() else repr(c)[1:-1] for c in self.message))

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}:{self.col}: " if self.file else ""
        return f"{place}{self.code} {self.message}"


@dataclass(frozen=True)
class Place:
    """Where something was written."""

    file: str = ""
    line: int = 0
    col: int = 0

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.col}"


class InputProblems(Exception):
    """Raised at the edge with every problem found; the command line prints a line each and exits with 2."""

    def __init__(self, problems: Iterable[Problem]):
        self.problems = sorted(set(problems))
        super().__init__("\n".join(str(p) for p in self.problems))


def nearest(word: object, words: Iterable[str]) -> str:
    """Say which known name is closest to a word.

    Returns
    -------
    str
        ``"; nearest: NAME"``, or an empty string when nothing is close.
    """
    close = difflib.get_close_matches(str(word), list(words), n=1, cutoff=0.6)
    return f"; nearest: {close[0]}" if close else ""


def not_among(kind: str, word: str, known: Iterable[str]) -> list[Problem]:
    """Return the problem of a name given outside any file that is none of those there are; an empty list where it is one.

    Parameters
    ----------
    kind : str
        What is named, such as ``jurisdiction``; the code is then ``unknown-jurisdiction``.
    known : iterable of str
        The names there are.
    """
    names = sorted(known)
    if word in names:
        return []
    said = f"'{word}' is no {kind}; there are {', '.join(names) or 'none'}{nearest(word, names)}"
    return [Problem("", 0, 0, f"unknown-{kind}", said)]

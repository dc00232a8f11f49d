"""What is wrong, said on the error stream: a line each where a program reads it, wrapped where a person does."""

from __future__ import annotations

import shutil
import sys
import textwrap
from collections.abc import Iterable
from contextlib import suppress

from hiveweek.problems import Problem

NARROWEST, HANG = 20, 2


def complain(problems: Iterable[Problem]) -> None:
    """Print problems on the error stream."""
    width = shutil.get_terminal_size().columns if sys.stderr.isatty() else None
    with suppress(OSError):  # nobody can be told; the code of the command still says it
        for problem in problems:
            print("\n".join(lines(problem, width)), file=sys.stderr)


def lines(problem: Problem, width: int | None) -> list[str]:
    """Return a problem in lines; its place stays whole on the first of them.

    Parameters
    ----------
    width : int or None
        Columns of the terminal; None for one line, however long.
    """
    whole = str(problem)
    if width is None or len(whole) <= width:
        return [whole]
    width = max(width - 1, NARROWEST)
    place = f"{problem.file}:{problem.line}:{problem.col}: " if problem.file else ""
    message = whole[len(place) :]
    code = message.split(" ", 1)[0]
    beside = len(place) + len(code) <= width
    wrapped = textwrap.wrap(
        message,
        width,
        initial_indent="." * len(place) if beside else " " * HANG,
        subsequent_indent=" " * HANG,
        break_long_words=False,
        break_on_hyphens=False,
    )
    if beside:
        return [place + wrapped[0][len(place) :], *wrapped[1:]]
    return [place.rstrip(), *wrapped]

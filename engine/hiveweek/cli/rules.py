"""``hiveweek rules``: check, cases, and what else an author of rules needs."""

from __future__ import annotations

import argparse
import sys
from importlib import import_module
from pathlib import Path

from hiveweek.texts.speaker import says

PARTS = ("check", "cases", "coverage", "prove", "impact", "diff", "year", "book", "merged", "new")


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add the command and its parts to a parser."""
    parser = subparsers.add_parser(
        "rules",
        help="rulesets: " + ", ".join(PARTS),
        description=says("cli.rules.description"),
    )
    parts = parser.add_subparsers(dest="part", metavar="PART")
    for part in PARTS:
        try:
            module = import_module(f"hiveweek.cli.rules_{part}")
        except ModuleNotFoundError as error:
            if error.name != f"hiveweek.cli.rules_{part}":
                raise
            continue
        module.register(parts)
    parser.set_defaults(run=lambda args: _help(parser))


def _help(parser: argparse.ArgumentParser) -> int:
    parser.print_help()
    return 0


def existing(paths: list[str]) -> list[Path]:
    """Return paths that exist; the others are problems.

    Raises
    ------
    InputProblems
        Naming every path that is not there.
    """
    from hiveweek.problems import InputProblems, Problem

    missing = [
        Problem(path, 1, 1, "no-file", "there is no such file or folder") for path in paths if not Path(path).exists()
    ]
    if missing:
        raise InputProblems(missing)
    return [Path(path) for path in paths]


def known_profiles(names: list[str]) -> list[str]:
    """Return profile ids that exist; the others are problems.

    Raises
    ------
    InputProblems
        Naming every unknown profile with the nearest one.
    """
    from hiveweek.climate import profile_ids
    from hiveweek.problems import InputProblems, Problem, nearest

    known = profile_ids()
    wrong = [name for name in names if name not in known]
    if wrong:
        raise InputProblems(
            [Problem("", 0, 0, "unknown-profile", f"'{name}' is no profile{nearest(name, known)}") for name in wrong]
        )
    return list(names)


def say(text: str = "") -> None:
    """Print a line."""
    print(text, file=sys.stdout)

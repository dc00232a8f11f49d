"""``hiveweek completion``: the script with which a shell completes commands, options and files."""

from __future__ import annotations

import argparse
from collections.abc import Iterator

from hiveweek.texts.speaker import says

SHELLS = ("bash", "zsh", "tcsh")
FILES = ("FILE", "PATH", "CSV", "YAML", "OUT.", "MAP.")  # how the help names what is a file
FOLDER = "FOLDER"


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add the command to a parser."""
    parser = subparsers.add_parser(
        "completion", help=says("cli.main.completion"), description=says("cli.completion.description")
    )
    parser.add_argument("shell", choices=SHELLS, help=says("cli.completion.shell"))
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print the script."""
    import shtab  # nobody else waits for it

    from hiveweek.cli.main import parser

    whole = parser()
    for action in _words(whole):
        named = str(action.metavar or "")
        if named == FOLDER:
            action.complete = shtab.DIRECTORY  # type: ignore[attr-defined]
        elif named.startswith(FILES):
            action.complete = shtab.FILE  # type: ignore[attr-defined]
    print(shtab.complete(whole, args.shell))
    return 0


def _words(parser: argparse.ArgumentParser) -> Iterator[argparse.Action]:
    """Yield the words and options of a command and of all below it."""
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for below in dict.fromkeys(action.choices.values()):
                yield from _words(below)
        else:
            yield action

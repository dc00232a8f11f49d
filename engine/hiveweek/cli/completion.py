"""``hiveweek completion``: the script with which a shell completes commands and options."""

from __future__ import annotations

import argparse

from hiveweek.texts.speaker import says

SHELLS = ("bash", "zsh", "tcsh")


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

    print(shtab.complete(parser(), args.shell))
    return 0

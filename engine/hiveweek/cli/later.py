"""``hiveweek later``: put an advice of the week off."""

from __future__ import annotations

import argparse

from hiveweek.cli.record_put_off import add_words, write
from hiveweek.record import Answer
from hiveweek.texts.speaker import says


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add the command to a parser."""
    parser = subparsers.add_parser("later", help=says("cli.main.later"), description=says("cli.later.description"))
    add_words(parser)
    parser.add_argument("--until", metavar="YYYY-MM-DD", help=says("cli.later.until"))
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Write the answer."""
    return write(args, Answer.LATER, until=args.until)

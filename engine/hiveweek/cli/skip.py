"""``hiveweek skip``: say that an advice of the week does not fit a hive."""

from __future__ import annotations

import argparse

from hiveweek.cli.record_place import problem
from hiveweek.cli.record_put_off import add_words, write
from hiveweek.record import Answer
from hiveweek.texts.speaker import says


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add the command to a parser."""
    parser = subparsers.add_parser("skip", help=says("cli.main.skip"), description=says("cli.skip.description"))
    add_words(parser)
    parser.add_argument("--because", metavar="TEXT", required=True, help=says("cli.skip.because"))
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Write the answer, with its reason."""
    reason = " ".join(args.because.split())
    if not reason:
        raise problem("no-reason", "--because says nothing; say why it does not fit here")
    return write(args, Answer.NOT_HERE, reason=reason)

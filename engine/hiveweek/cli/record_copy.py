"""``hiveweek record copy``: the whole record as it stands at one moment, in another file."""

from __future__ import annotations

import argparse
from pathlib import Path

from hiveweek.cli.record_place import add_place, open_record, print_json, problem
from hiveweek.texts.speaker import says


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add the command to a parser."""
    parser = subparsers.add_parser("copy", help=says("cli.record.copy"), description=says("cli.record.copy"))
    parser.add_argument("out", metavar="OUT.sqlite")
    add_place(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Copy the record; a file that is there stays as it is."""
    target = Path(args.out)
    if target.exists():
        raise problem("file-there", f"{target} is there already; a copy goes into a new file")
    with open_record(args) as store:
        try:
            store.copy(target)
        except OSError as error:
            raise problem("cannot-write", f"{target}: {error.strerror}") from None
    if args.json:
        print_json({"copy": str(target)})
    else:
        print(says("cli.written", file=target.name))
    return 0

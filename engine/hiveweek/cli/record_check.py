"""``hiveweek record check``: whether the record is sound."""

from __future__ import annotations

import argparse

from hiveweek.cli.progress import Working, add_quiet
from hiveweek.cli.record_place import add_place, open_record, print_json
from hiveweek.texts.speaker import says


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add the command to a parser."""
    parser = subparsers.add_parser("check", help=says("cli.record.check"), description=says("cli.record.check"))
    parser.add_argument("--mend", action="store_true", help=says("cli.record.mend"))
    add_quiet(parser)
    add_place(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Say what is wrong with the record; 1 where anything is."""
    with Working(quiet=args.quiet), open_record(args) as store:
        if args.mend:
            store.mend()
        wrong = store.check()
        where = store.where
    if args.json:
        print_json({"record": where, "wrong": wrong})
    else:
        for line in wrong or [says("cli.record.sound", record=where)]:
            print(line)
    return 1 if wrong else 0

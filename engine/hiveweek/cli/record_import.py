"""``hiveweek record import``: take in an exported record."""

from __future__ import annotations

import argparse
from pathlib import Path

from hiveweek import vocabulary
from hiveweek.cli.record_place import add_place, open_record, print_json, problem, today
from hiveweek.problems import InputProblems, Problem
from hiveweek.record import Record, sheets, tables
from hiveweek.record.plain_yaml import read_record
from hiveweek.record.values import problems_of
from hiveweek.texts.speaker import says


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add the command to a parser."""
    parser = subparsers.add_parser("import", help=says("cli.record.import"), description=says("cli.record.import-long"))
    parser.add_argument("file", metavar="FILE")
    parser.add_argument("--trust", action="store_true", help=says("cli.record.trust"))
    parser.add_argument("--dry-run", action="store_true", help=says("cli.record.dry-run"))
    add_place(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Take the record in, whole or not at all; what is there already is kept once."""
    path = Path(args.file)
    if path.suffix.lower() in (".yaml", ".yml"):
        return _restore(args, read_record(path, args.file))
    with sheets.opened(path, args.file) as sheet:
        if tables.HEAD not in sheet.head:
            raise problem(
                "unknown-sheet", f"{args.file} is no exported record: its first column is not '{tables.HEAD}'"
            )
        return _restore(args, tables.record_of_rows(sheet.head, sheet.body, args.file))


def _restore(args: argparse.Namespace, record: Record) -> int:
    if not args.trust:
        found = problems_of(record.entries, record.hives, vocabulary.load(), today(), sure=True)
        if found:
            raise InputProblems(
                Problem("", 0, 0, one.code, f"entry {entry.id}: {one.message}; --trust takes it as it is")
                for entry, one in found
            )
    if args.dry_run:
        new = {"apiaries": len(record.apiaries), "hives": len(record.hives), "entries": len(record.entries)}
    else:
        with open_record(args, make=True) as store:
            new = store.restore(record)
    if args.json:
        print_json({"stored": not args.dry_run, **new})
    else:
        id = "cli.record.would-import" if args.dry_run else "cli.record.imported"
        print(says(id, apiaries=new["apiaries"], hives=new["hives"], entries=new["entries"]))
    return 0

"""``hiveweek record import``: take in an exported record, or the rows of a keeper's own sheet."""

from __future__ import annotations

import argparse
from pathlib import Path

from hiveweek import vocabulary
from hiveweek.cli.complaint import complain
from hiveweek.cli.progress import Working, add_quiet
from hiveweek.cli.record_place import add_place, find_apiary, open_record, print_json, today
from hiveweek.problems import InputProblems, Problem
from hiveweek.record import Record, sheets, tables
from hiveweek.record.plain_form import entry_out
from hiveweek.record.plain_yaml import read_record
from hiveweek.record.sheet_map import SheetMap, map_of, read_map
from hiveweek.record.sheet_rows import BAD, BLANK, NEW, THERE, RowReader, fates_shown
from hiveweek.record.values import problems_of
from hiveweek.texts.speaker import says
from hiveweek.vocabulary.model import Vocabulary


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add the command to a parser."""
    parser = subparsers.add_parser("import", help=says("cli.record.import"), description=says("cli.record.import-long"))
    parser.add_argument("file", metavar="FILE")
    parser.add_argument("--map", metavar="MAP.yaml", help=says("cli.record.map"))
    parser.add_argument("--apiary", metavar="NAME", help=says("cli.record.sheet-apiary"))
    parser.add_argument("--keep-good", action="store_true", help=says("cli.record.keep-good"))
    parser.add_argument("--sure", action="store_true", help=says("cli.record.sure"))
    parser.add_argument("--trust", action="store_true", help=says("cli.record.trust"))
    parser.add_argument("--dry-run", action="store_true", help=says("cli.record.dry-run"))
    add_quiet(parser)
    add_place(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Take in a record or a sheet, whole or not at all; what is there already is kept once."""
    path = Path(args.file)
    if path.suffix.lower() in (".yaml", ".yml"):
        with Working(quiet=args.quiet):
            record = read_record(path, args.file)
        return _restore(args, record)
    words = vocabulary.load()
    mapped = read_map(args.map, words) if args.map else None
    with sheets.opened(path, args.file, mapped.sheet if mapped else None) as sheet:
        if tables.HEAD in sheet.head and mapped is None:
            return _restore(args, tables.record_of_rows(sheet.head, sheet.body, args.file))
        return _rows(args, sheet, mapped or map_of(sheet.head, words, args.file), words)


def _rows(args: argparse.Namespace, sheet: sheets.Sheet, mapped: SheetMap, words: Vocabulary) -> int:
    """Take in the rows of a sheet. 2 where a row is bad and nothing is stored, 1 where only the good ones were kept."""
    with open_record(args) as store:
        apiary = find_apiary(store, args.apiary) if args.apiary else None
        reader = RowReader(store, sheet, mapped, words, args.file, today(apiary), apiary, args.sure)
        with Working(quiet=args.quiet) as working:
            fates = list(working.each(reader.fates()))
        bad = [problem for fate in fates for problem in fate.problems]
        keep = not args.dry_run and (args.keep_good or not bad)
        entries = [entry for fate in fates for entry in fate.entries]
        if keep and entries:
            store.add(entries)
    n = {state: sum(fate.state == state for fate in fates) for state in (NEW, THERE, BAD, BLANK)}
    if args.dry_run and not args.json:
        for line in fates_shown(fates, {key: hive.name for key, hive in reader.by_id.items()}, args.file):
            print(line)
    elif not args.dry_run:
        complain(bad)
    if args.json:
        rows = [
            {
                "row": fate.line,
                "fate": fate.state,
                "entries": [entry_out(entry) for entry in fate.entries],
                "problems": [str(one) for one in fate.problems],
            }
            for fate in fates
        ]
        print_json({"stored": len(entries) if keep else 0, "rows": n, "unread": reader.unread, "fates": rows})
    elif not (bad and not keep and not args.dry_run):
        if reader.unread:
            print(says("cli.record.unread", columns=", ".join(reader.unread)))
        print(says("cli.record.rows", new=n[NEW], there=n[THERE], bad=n[BAD], stored=len(entries) if keep else 0))
    if not bad:
        return 0
    return 1 if keep or args.dry_run else 2


def _restore(args: argparse.Namespace, record: Record) -> int:
    with Working(quiet=args.quiet):
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
    elif not args.quiet:
        id = "cli.record.would-import" if args.dry_run else "cli.record.imported"
        print(says(id, apiaries=new["apiaries"], hives=new["hives"], entries=new["entries"]))
    return 0

"""``hiveweek record show``: the entries of hives, day by day."""

from __future__ import annotations

import argparse

from hiveweek.cli.apiary import names_of
from hiveweek.cli.hive import entry_line
from hiveweek.cli.record_place import (
    add_place,
    add_span,
    find_apiary,
    find_hives,
    open_record,
    print_json,
    span,
    today,
)
from hiveweek.record.entries import in_order
from hiveweek.record.plain_form import entry_out
from hiveweek.texts.speaker import says


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add the command to a parser."""
    parser = subparsers.add_parser("show", help=says("cli.record.show"), description=says("cli.record.show-long"))
    parser.add_argument("hives", metavar="HIVES", nargs="?", help=says("cli.record.hives"))
    add_span(parser)
    parser.add_argument("--all", action="store_true", help=says("cli.record.withdrawn-too"))
    add_place(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print entries by day; with ``--all`` also those that were taken back or corrected."""
    first, last = span(args)
    with open_record(args) as store:
        apiary = find_apiary(store, args.apiary) if args.apiary else None
        hives = find_hives(store, args.hives, today(apiary), apiary) if args.hives else None
        record = store.everything()
        names = names_of(store.apiaries())
    standing = {entry.id for entry in record.live()}
    wanted = None if hives is None else {hive.id for hive in hives}
    entries = [
        entry
        for entry in in_order(record.entries)
        if (args.all or entry.id in standing)
        and first <= entry.date <= last
        and (apiary is None or entry.apiary == apiary.id)
        and (wanted is None or entry.hive in wanted)
    ]
    if args.json:
        print_json([{**entry_out(entry), "stands": entry.id in standing} for entry in entries])
        return 0
    for entry in entries:
        hive = record.hives[entry.hive].name if entry.hive is not None else says("cli.record.whole")
        gone = "" if entry.id in standing else "  " + says("cli.record.gone")
        print(f"{names[entry.apiary]}/{hive}  {entry_line(entry).strip()}{gone}")
    return 0

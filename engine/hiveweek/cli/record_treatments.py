"""``hiveweek record treatments``: the treatment record, for inspectors, as CSV or to print."""

from __future__ import annotations

import argparse
import csv
import io
from pathlib import Path

from hiveweek import vocabulary
from hiveweek.cli.climate import write_whole
from hiveweek.cli.record_place import add_place, add_span, find_apiary, open_record, print_json, span
from hiveweek.record.cells import safe
from hiveweek.record.treatments import COLUMNS, Reader
from hiveweek.texts.speaker import says

NARROW = ("apiary", "hive", "in", "out", "active")


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add the command to a parser."""
    text = says("cli.record.treatments")
    parser = subparsers.add_parser("treatments", help=text, description=says("cli.record.treatments-long"))
    add_span(parser)
    parser.add_argument("--csv", metavar="OUT.csv", help=says("cli.record.treatments-csv"))
    add_place(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print the treatments, or write them as CSV; a course counts where any of its days lies between both."""
    first, last = span(args)
    with open_record(args) as store:
        apiary = find_apiary(store, args.apiary) if args.apiary else None
        reader = Reader(store.everything(), vocabulary.load())
    rows = [
        reader.row(course)
        for course in reader.courses()
        if course.into <= last
        and (course.out is None or course.out >= first)
        and (apiary is None or reader.where(course)[0] == apiary.name)
    ]
    if args.csv:
        out = io.StringIO(newline="")
        writer = csv.writer(out)
        writer.writerow(COLUMNS)
        writer.writerows([safe(row[name]) for name in COLUMNS] for row in rows)
        write_whole(Path(args.csv), "\ufeff" + out.getvalue())
    if args.json:
        print_json(rows)
    elif args.csv:
        print(says("cli.written", file=args.csv))
    else:
        _print(rows)
    return 0


def _print(rows: list[dict[str, str]]) -> None:
    """Print a block a treatment: who and when first, then all that was said of it."""
    if not rows:
        print(says("cli.record.no-treatments"))
    for row in rows:
        out = row["out"] or says("cli.record.still-in")
        print(f"{row['apiary']}/{row['hive']}  {row['in']} - {out}  {row['active']}")
        for name in COLUMNS:
            if name not in NARROW and row[name]:
                print(f"    {name}: {row[name]}")

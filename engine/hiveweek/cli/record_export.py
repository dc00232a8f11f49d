"""``hiveweek record export``: everything, as YAML, CSV or a spreadsheet; ``record import`` takes it back without loss."""

from __future__ import annotations

import argparse
import os
import tempfile
from pathlib import Path

from hiveweek.cli.progress import Working, add_quiet
from hiveweek.cli.record_place import add_place, open_record, print_json, problem
from hiveweek.record import tables
from hiveweek.record.plain_form import record_out
from hiveweek.record.plain_yaml import lines
from hiveweek.texts.speaker import says

KINDS = (".yaml", ".csv", ".xlsx")


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add the command to a parser."""
    parser = subparsers.add_parser("export", help=says("cli.record.export"), description=says("cli.record.export-long"))
    parser.add_argument("out", metavar="OUT.yaml|.csv|.xlsx")
    parser.add_argument("--without-people", action="store_true", help=says("cli.record.without-people"))
    add_quiet(parser)
    add_place(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Write the whole record; the file appears whole or not at all."""
    out = Path(args.out)
    if out.suffix.lower() not in KINDS:
        raise problem("unknown-kind", f"'{out.name}' is none of {', '.join(KINDS)}")
    with Working(quiet=args.quiet):
        with open_record(args) as store:
            record = store.everything()
        data = record_out(record, people=not args.without_people)
        try:
            _whole(out, data)
        except OSError as error:
            raise problem("cannot-write", f"{out}: {error.strerror}") from None
    found = {"written": str(out), **{kind: len(data[kind]) for kind in ("apiaries", "hives", "entries")}}
    if args.json:
        print_json(found)
    elif not args.quiet:
        print(says("cli.record.exported", file=out.name, hives=found["hives"], entries=found["entries"]))
    return 0


def _whole(out: Path, data: dict) -> None:
    handle, part = tempfile.mkstemp(dir=out.parent, prefix=f".{out.name}.", suffix=".part")
    os.close(handle)
    try:
        _write(Path(part), out, data)
        os.replace(part, out)
    except BaseException:
        os.unlink(part)
        raise


def _write(part: Path, out: Path, data: dict) -> None:
    kind = out.suffix.lower()
    if kind == ".csv":
        tables.write_csv(part, data)
    elif kind == ".xlsx":
        tables.write_xlsx(part, data)
    else:
        with part.open("w", encoding="utf-8") as file:
            file.writelines(line + "\n" for line in lines(data))

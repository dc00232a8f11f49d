"""``hiveweek undo``: take back the last note, or one entry."""

from __future__ import annotations

import argparse

from hiveweek.cli.apiary import names_of
from hiveweek.cli.hive import entry_line
from hiveweek.cli.record_place import add_place, find_apiary, open_record, print_json, problem
from hiveweek.record import Apiary, Entry
from hiveweek.record.places import unplaced
from hiveweek.record.plain_form import entry_out
from hiveweek.record.store import Store
from hiveweek.texts.speaker import says


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add the command to a parser."""
    parser = subparsers.add_parser("undo", help=says("cli.main.undo"), description=says("cli.undo.description"))
    parser.add_argument("number", metavar="N", type=int, nargs="?", help=says("cli.undo.number"))
    parser.add_argument("--apiary", metavar="NAME", help=says("cli.hive.apiary"))
    parser.add_argument("--by", metavar="WHO", default="", help=says("cli.undo.by"))
    add_place(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Take entries back; they stay in the record as withdrawn."""
    with open_record(args) as store:
        if args.apiary or args.number is not None:
            apiaries = [find_apiary(store, args.apiary)]
        else:
            apiaries = store.apiaries()
        with store.writing():
            ids = (
                _last(store, apiaries, args.by) if args.number is None else [_numbered(store, apiaries[0], args.number)]
            )
            taken = store.withdraw(ids, args.by)
            unplaced(store, taken)
        names = names_of(store.apiaries())
        hives = {e.hive: store.hive(e.hive).name for e in taken if e.hive is not None}
    if args.json:
        print_json({"withdrawn": [entry_out(entry) for entry in taken]})
        return 0
    if not taken:
        print(says("cli.undo.already"))
    for entry in taken:
        where = hives[entry.hive] if entry.hive is not None else names[entry.apiary]
        print(says("cli.undo.taken", hive=where, entry=entry_line(entry).strip()))
    return 0


def _last(store: Store, apiaries: list[Apiary], who: str) -> list[str]:
    """Ids of the entries that were written in one go last."""
    found: list[list[Entry]] = []
    for apiary in apiaries:
        note = store.last_note(apiary.id, who or None)
        if note is not None:
            found.append(store.written_as(note))
    if not found:
        raise problem("nothing-to-undo", "there is no entry to take back")
    return [entry.id for entry in max(found, key=lambda entries: max(entry.recorded_at for entry in entries))]


def _numbered(store: Store, apiary: Apiary, number: int) -> str:
    found = store.numbered(apiary.id, number)
    if found is None:
        raise problem("unknown-entry", f"{apiary.name} has no entry {number}; 'hiveweek record show' gives the numbers")
    return found

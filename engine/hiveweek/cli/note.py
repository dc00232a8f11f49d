"""``hiveweek note``: write down what was seen and done, in a keeper's words."""

from __future__ import annotations

import argparse
import dataclasses
import datetime as dt
import sys
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from hiveweek import vocabulary
from hiveweek.cli.record_place import (
    add_place,
    apiary_of,
    day_given,
    find_apiary,
    find_hive,
    find_hives,
    open_record,
    print_json,
    problem,
    today,
)
from hiveweek.record import Apiary, Entry, Hive
from hiveweek.record.entries import BRING, new_id
from hiveweek.record.notes.entering import answered, entries_of, once
from hiveweek.record.notes.found import Asked, Read
from hiveweek.record.notes.many import read_notes
from hiveweek.record.notes.table import shipped
from hiveweek.record.plain_form import jsonable
from hiveweek.record.store import Store
from hiveweek.record.values import check
from hiveweek.show.echo import label_of, lines, told
from hiveweek.show.echo import why as why_of
from hiveweek.texts.speaker import says
from hiveweek.vocabulary.model import Vocabulary


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add the command to a parser."""
    parser = subparsers.add_parser("note", help=says("cli.main.note"), description=says("cli.note.description"))
    parser.add_argument("hives", metavar="HIVES", help=says("cli.record.hives"))
    parser.add_argument("text", metavar="TEXT", nargs="*", help=says("cli.note.text"))
    parser.mixed = True
    parser.add_argument("--apiary", metavar="NAME", help=says("cli.hive.apiary"))
    parser.add_argument("--date", metavar="YYYY-MM-DD", help=says("cli.record.date"))
    parser.add_argument("--by", metavar="WHO", default="", help=says("cli.record.by"))
    parser.add_argument("--yes", action="store_true", help=says("cli.note.yes"))
    parser.add_argument("--dry-run", action="store_true", help=says("cli.note.dry-run"))
    parser.add_argument("--replaces", metavar="N", type=int, help=says("cli.note.replaces"))
    parser.add_argument("--move", metavar="HIVE", help=says("cli.note.move"))
    parser.add_argument("--imperial", action="store_true", help=says("cli.note.imperial"))
    parser.add_argument("--sure", action="store_true", help=says("cli.record.sure"))
    add_place(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Read a note, say what was understood, ask what may be two things, and store what was shown."""
    if args.move:
        return _move(args)
    text = " ".join(args.text).strip()
    if not text:
        raise problem("empty-note", "a note has a text: hiveweek note Ash '5 seams, eggs seen'")
    words, table = vocabulary.load(), shipped()
    with open_record(args) as store:
        within = find_apiary(store, args.apiary) if args.apiary else None
        now = today(within)
        day = day_given(args.date) or now
        hives = find_hives(store, args.hives, day, within)
        places = {hive.id: apiary_of(store, hive, day) for hive in hives}
        beside = {
            hive.name: hive.id for place in dict.fromkeys(p.id for p in places.values()) for hive in store.hives(place)
        }
        own = [hive.name for hive in hives]
        if len(set(own)) < len(own):
            raise problem("two-hives", "a note for hives of one name; write it for each apiary by itself")
        read = read_notes(text, day, words, table, hives=own, known=beside, typed_on=now)
        asks = not (args.yes or args.dry_run or args.json) and sys.stdin.isatty()
        if asks:
            read = {name: answered(one, words, _prompts(name)) for name, one in read.items()}
        note, written_at = new_id(), dt.datetime.now(dt.UTC)
        entries = [
            entry
            for hive in hives
            for entry in entries_of(
                read[hive.name],
                day,
                words,
                apiary=places[hive.id].id,
                hive=hive.id,
                hives=beside,
                note=note,
                who=args.by,
                now=written_at,
                replaces=_replaced(store, args, places, hives),
            )
        ]
        check(entries, hives, words, now, sure=args.sure)
        waits = any(one.asked for one in read.values()) and not (args.yes or asks)
        store_it = not args.dry_run and not waits and bool(entries)
        written = store.add(once(entries)) if store_it else entries
    names = {hive.id: hive.name for hive in hives} | {key: name for name, key in beside.items()}
    if args.json:
        print_json(_json(read, written, names, stored=store_it))
    else:
        _echo(args, read, written, names, words, day, stored=store_it, waits=waits)
    return 1 if waits and not args.dry_run else 0


def _replaced(
    store: Store, args: argparse.Namespace, places: Mapping[str, Apiary], hives: Sequence[Hive]
) -> str | None:
    if args.replaces is None:
        return None
    if len(hives) > 1:
        raise problem("one-hive", f"a correction is of one hive, not {len(hives)}")
    apiary = places[hives[0].id]
    found = store.numbered(apiary.id, args.replaces)
    entry = store.entry(found) if found else None
    if entry is None or entry.hive != hives[0].id:
        raise problem(
            "unknown-entry", f"{hives[0].name} has no entry {args.replaces}; 'hiveweek record show' gives the numbers"
        )
    return entry.id


# --- asking
def _prompts(name: str) -> Callable[[int, Asked], int | None]:
    return lambda place, asked: _prompt(name, asked)


def _prompt(name: str, asked: Asked) -> int | None:
    """Ask on the terminal; None leaves it unstored."""
    labels = [label_of(reading) for reading in asked.readings]
    if not labels:
        print(says("cli.note.say-more", hive=name, text=asked.text, why=why_of(asked.why)))
        return None
    print(says("cli.note.which", hive=name, text=asked.text, why=why_of(asked.why)))
    for place, label in enumerate(labels, 1):
        print(f"  {place}  {label}")
    print("  0  " + says("cli.note.none-of-these"))
    while True:
        try:
            said = input("? ").strip()
        except EOFError:
            return None
        if said in ("", "0"):
            return None
        if said.isdigit() and int(said) <= len(labels):
            return int(said) - 1


# --- showing
def _echo(
    args: argparse.Namespace,
    read: Mapping[str, Read],
    entries: Sequence[Entry],
    names: Mapping[str, str],
    words: Vocabulary,
    day: dt.date,
    *,
    stored: bool,
    waits: bool,
) -> None:
    """Print what was understood in the same words and ids, what is asked, and what is kept as a remark."""
    for said, hives in _grouped(args, read, entries, names, words, day).items():
        print(", ".join(hives))
        for line in said:
            print(f"  {line}")
    print(says("cli.note.stored") if stored else says("cli.note.waits") if waits else says("cli.note.not-stored"))


def _grouped(
    args: argparse.Namespace,
    read: Mapping[str, Read],
    entries: Sequence[Entry],
    names: Mapping[str, str],
    words: Vocabulary,
    day: dt.date,
) -> dict[tuple[str, ...], list[str]]:
    """Return the lines of hives, those with the same lines together."""
    found: dict[tuple[str, ...], list[str]] = {}
    for name, one in read.items():
        mine = [entry for entry in entries if entry.hive is None or names[entry.hive] == name]
        said = lines(one, mine, lambda entry: told(entry, names, words, args.imperial, day))
        found.setdefault(tuple(said), []).append(name)
    return found


def _json(
    read: Mapping[str, Read], entries: Sequence[Entry], names: Mapping[str, str], *, stored: bool
) -> dict[str, Any]:
    """Return what a note gives as plain data."""
    return {
        "entries": [
            {
                "kind": str(entry.kind),
                "hive": names[entry.hive] if entry.hive else None,
                "date": entry.date,
                "until_date": entry.until_date,
                "facts": dict(entry.facts),
                "action": entry.action,
                "details": {key: names.get(str(value), value) for key, value in entry.details.items()},
                "text": entry.text,
                "number": entry.sequence or None,
            }
            for entry in entries
        ],
        "asked": [
            {
                "hive": name,
                "text": asked.text,
                "why": why_of(asked.why),
                "readings": [
                    {
                        "label": label_of(reading),
                        "facts": jsonable(dict(reading.facts)),
                        "done": [
                            {"action": action, "details": jsonable(dict(details))} for action, details in reading.acts
                        ],
                    }
                    for reading in asked.readings
                ],
            }
            for name, one in read.items()
            for asked in one.asked
        ],
        "not_understood": [
            {"hive": name, "text": left.text, "why": why_of(left.why)}
            for name, one in read.items()
            for left in one.left
            if not left.known
        ],
        "remark": "; ".join(dict.fromkeys(one.remark for one in read.values() if one.remark)),
        BRING: list(dict.fromkeys(brought.thing for one in read.values() for brought in one.bring)),
        "stored": stored,
    }


# --- a note on the wrong hive
def _move(args: argparse.Namespace) -> int:
    """Move the last note of a hive, or the note of entry N, to another hive."""
    if args.text:
        raise problem("two-things", "--move moves a note that is written already; leave out the text")
    with open_record(args) as store:
        within = find_apiary(store, args.apiary) if args.apiary else None
        now = today(within)
        hive, other = find_hive(store, args.hives, now, within), find_hive(store, args.move, now, within)
        place = apiary_of(store, other, now)
        entries = _noted(store, args, hive, apiary_of(store, hive, now))
        note, at = new_id(), dt.datetime.now(dt.UTC)
        moved = [
            dataclasses.replace(
                entry, id=new_id(), hive=other.id, apiary=place.id, note=note, recorded_at=at, replaces=None, sequence=0
            )
            for entry in entries
        ]
        if any(other.id in entry.details.values() for entry in moved):
            raise problem("same-hive", f"the note speaks of {other.name} as the other hive; write it again")
        check(moved, [other], vocabulary.load(), now, sure=args.sure)
        if not args.dry_run:
            with store.writing():
                store.withdraw([entry.id for entry in entries], args.by)
                moved = store.add(moved)
    if args.json:
        names = {other.id: other.name}
        print_json(_json({}, moved, names, stored=not args.dry_run))
    else:
        text = ", ".join(entry.text for entry in moved)
        print(
            says(
                "cli.note.would-move" if args.dry_run else "cli.note.moved", hive=hive.name, other=other.name, text=text
            )
        )
    return 0


def _noted(store: Store, args: argparse.Namespace, hive: Hive, apiary: Apiary) -> list[Entry]:
    standing = [
        entry for entry in store.record([apiary.id], today(apiary)).of_hive(hive.id) if entry.note and not entry.found
    ]
    if args.replaces is not None:
        number_of = {entry.sequence: entry for entry in standing}
        if args.replaces not in number_of:
            raise problem(
                "unknown-entry", f"{hive.name} has no entry {args.replaces}; 'hiveweek record show' gives the numbers"
            )
        last = number_of[args.replaces]
    elif standing:
        last = max(standing, key=lambda entry: entry.sequence)
    else:
        raise problem("no-note", f"{hive.name} has no note to move")
    return [entry for entry in standing if entry.note == last.note]

"""``hiveweek done``: note a job as done."""

from __future__ import annotations

import argparse
import dataclasses
import datetime as dt
from collections.abc import Mapping

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
    today,
)
from hiveweek.plan.asked import Asked, asked_at
from hiveweek.problems import InputProblems
from hiveweek.record import Entry, Hive, Kind
from hiveweek.record.details import details_of, parted
from hiveweek.record.entries import Plain, new_id
from hiveweek.record.plain_form import entry_out
from hiveweek.record.store import Store
from hiveweek.record.values import check
from hiveweek.texts.parts import Day, Phrase, Quantity, Word, listed, message
from hiveweek.texts.reading import plain
from hiveweek.texts.speaker import says
from hiveweek.vocabulary.model import Detail, Vocabulary


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add the command to a parser."""
    parser = subparsers.add_parser("done", help=says("cli.main.done"), description=says("cli.done.description"))
    parser.add_argument("hives", metavar="HIVES", help=says("cli.record.hives"))
    parser.add_argument("action", metavar="ACTION", help=says("cli.done.action"))
    parser.add_argument("words", metavar="KEY=VALUE|TEXT", nargs="*", help=says("cli.done.words"))
    parser.mixed = True
    parser.add_argument("--apiary", metavar="NAME", help=says("cli.hive.apiary"))
    parser.add_argument("--date", metavar="YYYY-MM-DD", help=says("cli.record.date"))
    parser.add_argument("--by", metavar="WHO", default="", help=says("cli.record.by"))
    parser.add_argument("--sure", action="store_true", help=says("cli.record.sure"))
    add_place(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Write an entry a hive, with the rule that asked for the job where one did."""
    words = vocabulary.load()
    said, _ = parted(args.words)
    with open_record(args) as store:
        within = find_apiary(store, args.apiary) if args.apiary else None
        day = day_given(args.date) or today(within)
        hives = find_hives(store, args.hives, day, within)
        details = details_of(words, args.action, said, lambda name: find_hive(store, name, day, within).id)
        note, now = new_id(), dt.datetime.now(dt.UTC)
        entries = [
            Entry(
                new_id(),
                Kind.DONE,
                apiary_of(store, hive, day).id,
                hive.id,
                day,
                action=args.action,
                details=details,
                text=" ".join(args.words),
                who=args.by,
                note=note,
                recorded_at=now,
            )
            for hive in hives
        ]
        check(entries, hives, words, today(within), sure=args.sure)
        asked = _asked(store, hives, day, words)
        entries = [_asked_for(entry, asked) for entry in entries]
        written = store.add(entries)
        names = {other: store.hive(other).name for entry in written if (other := str(entry.details.get("partner", "")))}
    if args.json:
        print_json({"entries": [entry_out(entry) for entry in written]})
    else:
        for hive, entry in zip(hives, written, strict=True):
            print(
                says(
                    "cli.done.noted", hive=hive.name, day=Day(entry.date, today(within)), job=_job(entry, words, names)
                )
            )
        print(says("cli.done.back"))
    return 0


def _job(entry: Entry, words: Vocabulary, names: Mapping[str, str]) -> Phrase:
    """Return a job and what was said with it, in a keeper's words."""
    label = plain(words.actions[entry.action or ""].label)
    said = [_detail(words.details[name], value, names) for name, value in entry.details.items()]
    return message("cli.done.job", job=label, details=listed(said, "comma")) if said else label


def _detail(detail: Detail, value: Plain, names: Mapping[str, str]) -> Phrase:
    if detail.unit and isinstance(value, (int, float)):
        return Quantity(value, detail.unit)
    said = names.get(str(value), value)
    words = Day(said) if isinstance(said, dt.date) else Word(str(said)) if isinstance(said, str) else str(said)
    return message("labelled", label=detail.label, words=words)


def _asked(store: Store, hives: list[Hive], day: dt.date, words: Vocabulary) -> dict[str, dict[str, Asked]]:
    """What the week asks; a job done is taken down also where the week cannot be answered."""
    try:
        return asked_at(store, hives, day, words)
    except InputProblems:
        return {}


def _asked_for(entry: Entry, asked: dict[str, dict[str, Asked]]) -> Entry:
    found = asked.get(entry.hive or "", {}).get(entry.action or "")
    if found is None:
        return entry
    return dataclasses.replace(entry, rule=found.rule, rules_hash=found.rules_hash)

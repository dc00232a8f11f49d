"""What ``hiveweek later`` and ``hiveweek skip`` have in common: an answer to an advice of the week."""

from __future__ import annotations

import argparse
import datetime as dt

from hiveweek import vocabulary
from hiveweek.cli.hive import entry_line
from hiveweek.cli.record_place import (
    add_place,
    apiary_of,
    day_given,
    find_apiary,
    find_hives,
    open_record,
    print_json,
    problem,
    today,
)
from hiveweek.plan.asked import Asked, asked_at
from hiveweek.problems import nearest
from hiveweek.record import Answer, Entry, Hive, Kind
from hiveweek.record.entries import new_id
from hiveweek.record.plain_form import entry_out
from hiveweek.record.values import check
from hiveweek.texts.speaker import says


def add_words(parser: argparse.ArgumentParser) -> None:
    """Add what both commands take."""
    parser.add_argument("hives", metavar="HIVES", help=says("cli.record.hives"))
    parser.add_argument("action", metavar="ACTION", help=says("cli.put-off.action"))
    parser.add_argument("--apiary", metavar="NAME", help=says("cli.hive.apiary"))
    parser.add_argument("--date", metavar="YYYY-MM-DD", help=says("cli.record.date"))
    parser.add_argument("--by", metavar="WHO", default="", help=says("cli.record.by"))
    parser.add_argument("--forecast", metavar="CSV", help=says("cli.week.forecast"))
    parser.add_argument("--offline", action="store_true", help=says("cli.week.offline"))
    add_place(parser)


def write(args: argparse.Namespace, answer: Answer, *, until: str | None = None, reason: str = "") -> int:
    """Write one answer a hive where the week asks for the action; nothing where any of them cannot be put away.

    Raises
    ------
    InputProblems
        For an action that nobody asks for, one that law or people ask for, a day that is not ahead.
    """
    words = vocabulary.load()
    if args.action not in words.actions:
        raise problem("unknown-action", f"there is no action '{args.action}'{nearest(args.action, words.actions)}")
    with open_record(args) as store:
        within = find_apiary(store, args.apiary) if args.apiary else None
        day = day_given(args.date) or today(within)
        last = day_given(until, "--until")
        if last is not None and last <= day:
            raise problem("not-ahead", f"--until {last} is not after {day}, the day of the answer")
        hives = find_hives(store, args.hives, day, within)
        asked = asked_at(store, hives, day, words, offline=args.offline, forecast=args.forecast)
        wanting = [hive for hive in hives if args.action in asked[hive.id]]
        _refuse(args.action, hives, wanting, asked)
        late = ", ".join(h.name for h in wanting if not asked[h.id][args.action].may_put_off(answer, day, last))
        if late:
            raise problem("due-now", f"'{args.action}' at {late} is due by now: it is not put away")
        note, now = new_id(), dt.datetime.now(dt.UTC)
        entries = [
            Entry(
                new_id(),
                Kind.ANSWERED,
                apiary_of(store, hive, day).id,
                hive.id,
                day,
                action=args.action,
                details=asked[hive.id][args.action].as_answered(),
                answer=answer,
                until=last,
                reason=reason,
                rule=asked[hive.id][args.action].rule,
                rules_hash=asked[hive.id][args.action].rules_hash,
                who=args.by,
                note=note,
                recorded_at=now,
            )
            for hive in wanting
        ]
        check(entries, wanting, words, today(within))
        written = store.add(entries)
    others = [hive.name for hive in hives if hive not in wanting]
    if args.json:
        print_json({"entries": [entry_out(entry) for entry in written], "not_asked": others})
        return 0
    for hive, entry in zip(wanting, written, strict=True):
        print(f"{hive.name}: {entry_line(entry).strip()}")
        again = asked[hive.id][args.action].comes_back(answer, day, last)
        if again is not None:
            print("  " + says("cli.put-off.again", day=again.isoformat()))
    if others:
        print(says("cli.put-off.not-asked", action=args.action, hives=", ".join(others)))
    return 0


def _refuse(action: str, hives: list[Hive], wanting: list[Hive], asked: dict[str, dict[str, Asked]]) -> None:
    if not wanting:
        there = list(dict.fromkeys(name for hive in hives for name in asked[hive.id]))
        names = ", ".join(there) or "nothing"
        raise problem(
            "not-asked", f"the week does not ask for '{action}'; asked there: {names}{nearest(action, there)}"
        )
    law = ", ".join(hive.name for hive in wanting if asked[hive.id][action].band == 0)
    if law:
        raise problem(
            "law-or-people", f"'{action}' at {law} is asked by law or for people's sake: it is never put away"
        )

"""``hiveweek hive``: the hives of the record."""

from __future__ import annotations

import argparse
import datetime as dt
from collections.abc import Mapping
from typing import Any

from hiveweek import vocabulary
from hiveweek.cli.apiary import names_of
from hiveweek.cli.record_place import (
    add_place,
    apiary_of,
    day_given,
    find_apiary,
    find_hive,
    find_hives,
    good_name,
    open_record,
    print_json,
    problem,
    today,
)
from hiveweek.record import Apiary, Entry, Hive, Kind, Placement, Plain
from hiveweek.record.entries import new_id
from hiveweek.record.places import moved
from hiveweek.record.plain_form import entry_out, hive_out
from hiveweek.record.record import last_values
from hiveweek.record.values import assignments, check
from hiveweek.show.echo import typed as shown
from hiveweek.texts.speaker import says
from hiveweek.vocabulary.model import Vocabulary

LAST_SHOWN = 10


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add the command to a parser."""
    hive = subparsers.add_parser("hive", help=says("cli.main.hive"), description=says("cli.main.hive"))
    commands = hive.add_subparsers(dest="hive_command", metavar="COMMAND", required=True)

    def command(name: str, run: Any, *, one: bool = True) -> argparse.ArgumentParser:
        text = says(f"cli.hive.{name}")
        parser: argparse.ArgumentParser = commands.add_parser(name, help=text, description=text)
        if name != "list":
            parser.add_argument("name", metavar="NAME" if one else "HIVES")
        parser.add_argument("--apiary", metavar="NAME", help=says("cli.hive.apiary"))
        add_place(parser)
        parser.set_defaults(run=run)
        return parser

    def dated(parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--date", metavar="YYYY-MM-DD", help=says("cli.record.date"))
        parser.add_argument("--by", metavar="WHO", default="", help=says("cli.record.by"))

    add = command("add", run_add)
    add.add_argument("values", metavar="FACT=VALUE", nargs="*")
    add.mixed = True  # type: ignore[attr-defined]
    listing = command("list", run_list)
    listing.add_argument("--ended", action="store_true", help=says("cli.hive.ended"))
    command("show", run_show)
    change = command("set", run_set, one=False)
    change.add_argument("values", metavar="FACT=VALUE", nargs="+")
    change.mixed = True  # type: ignore[attr-defined]
    change.add_argument("--since", metavar="YYYY-MM-DD|unknown", help=says("cli.hive.since"))
    change.add_argument("--sure", action="store_true", help=says("cli.record.sure"))
    move = command("move", run_move)
    move.add_argument("--to", metavar="APIARY", required=True, help=says("cli.hive.to"))
    end = command("end", run_end)
    end.add_argument("--because", metavar="TEXT", default="", help=says("cli.hive.because"))
    end.add_argument("--take-back", action="store_true", help=says("cli.hive.take-back"))
    rename = command("rename", run_rename)
    rename.add_argument("new", metavar="NEW")
    for parser in (add, change, move, end):
        dated(parser)


def _set(
    args: argparse.Namespace, hive: Hive, apiary: str, day: dt.date, facts: Mapping[str, Plain], note: str, **more: Any
) -> Entry:
    return Entry(
        new_id(),
        Kind.SET,
        apiary,
        hive.id,
        day,
        facts=facts,
        text=" ".join(args.values),
        who=args.by,
        note=note,
        recorded_at=dt.datetime.now(dt.UTC),
        **more,
    )


def _day(args: argparse.Namespace, apiary: Apiary | None) -> dt.date:
    found = day_given(getattr(args, "date", None)) or today(apiary)
    if found > today(apiary) + dt.timedelta(days=1):
        raise problem("date-ahead", f"{found} lies ahead of today, {today(apiary)}")
    return found


def run_add(args: argparse.Namespace) -> int:
    """Add a hive, with what is known of its equipment."""
    words = vocabulary.load()
    facts = assignments(words, args.values)
    name = good_name(args.name)
    with open_record(args) as store:
        apiary = find_apiary(store, args.apiary)
        day = _day(args, apiary)
        hive = Hive(new_id(), name, (Placement(apiary.id, day),))
        note = new_id()
        # Equipment is found so at a first look, put there at a time nobody noted; the rest is seen that day.
        kit, seen = _parted(words, facts)
        entries = [_set(args, hive, apiary.id, day, kit, note, found=True)] if kit else []
        if seen:
            now = dt.datetime.now(dt.UTC)
            entries.append(
                Entry(new_id(), Kind.SEEN, apiary.id, hive.id, day, facts=seen, who=args.by, note=note, recorded_at=now)
            )
        check(entries, [hive], words, today(apiary))
        with store.writing():
            store.add_hive(hive)
            written = store.add(entries)
    if args.json:
        print_json({"hive": hive_out(hive), "entries": [entry_out(entry) for entry in written]})
    else:
        print(says("cli.hive.added", name=name, apiary=apiary.name, day=day.isoformat()))
    return 0


def _parted(words: Vocabulary, facts: Mapping[str, Plain]) -> tuple[dict[str, Plain], dict[str, Plain]]:
    kit = {fact: value for fact, value in facts.items() if words.facts[fact].comes_from != "observed"}
    return kit, {fact: value for fact, value in facts.items() if fact not in kit}


def run_list(args: argparse.Namespace) -> int:
    """Name the hives that stand in an apiary, or in all."""
    with open_record(args) as store:
        apiary = find_apiary(store, args.apiary) if args.apiary else None
        day, names = today(apiary), names_of(store.apiaries())
        found = [
            hive
            for hive in store.hives(apiary.id if apiary else None)
            if (args.ended and hive.ended is not None) or _stands(hive, day, apiary)
        ]
    found.sort(key=lambda hive: (names[hive.placements[-1].apiary], hive.name))
    if args.json:
        print_json([{**hive_out(hive), "apiary": names[hive.placements[-1].apiary]} for hive in found])
    else:
        for hive in found:
            print(f"{names[hive.placements[-1].apiary]}/{hive.name}" + _ended(hive))
    return 0


def _stands(hive: Hive, day: dt.date, apiary: Apiary | None) -> bool:
    at = hive.apiary_on(day)
    return at is not None and (apiary is None or at == apiary.id)


def _ended(hive: Hive) -> str:
    if hive.ended is None:
        return ""
    return "  " + says("cli.hive.ended-on", day=hive.ended.isoformat(), because=hive.ended_because).rstrip(": ")


def run_show(args: argparse.Namespace) -> int:
    """Show a hive: where it stood, its equipment, its last entries."""
    with open_record(args) as store:
        within = find_apiary(store, args.apiary) if args.apiary else None
        day = today(within)
        hive = find_hive(store, args.name, day, within)
        names = names_of(store.apiaries())
        entries = store.record([hive.placements[-1].apiary], day).of_hive(hive.id)
    kit = last_values(entry for entry in entries if entry.kind is Kind.SET)
    if args.json:
        facts = {fact: {"value": value, "since": since} for fact, (value, since) in sorted(kit.items())}
        print_json({**hive_out(hive), "set": facts, "entries": [entry_out(entry) for entry in entries]})
        return 0
    print(f"{names[hive.placements[-1].apiary]}/{hive.name}" + _ended(hive))
    for place in hive.placements:
        print("  " + says("cli.hive.stood", day=place.since.isoformat(), apiary=names[place.apiary]))
    for fact, (value, since) in sorted(kit.items()):
        print("  " + says("cli.record.set-since", fact=fact, value=shown(value), day=since.isoformat()))
    for entry in entries[-LAST_SHOWN:]:
        print("  " + entry_line(entry))
    return 0


def entry_line(entry: Entry) -> str:
    """Return an entry in one line: number, day, what it says."""
    said = [f"{fact}={shown(value)}" for fact, value in entry.facts.items()]
    if entry.action:
        said = [entry.action, *(f"{key}={shown(value)}" for key, value in entry.details.items())]
    if entry.answer is not None:
        said += [str(entry.answer), entry.until.isoformat() if entry.until else "", entry.reason]
    if entry.kind is Kind.REMARK or not said:
        said = [entry.text]
    who = f" ({entry.who})" if entry.who else ""
    return f"{entry.sequence:>5}  {entry.date}  {entry.kind}  {' '.join(word for word in said if word)}{who}"


def run_set(args: argparse.Namespace) -> int:
    """Set equipment and site of hives from a day on."""
    words = vocabulary.load()
    facts = assignments(words, args.values)
    observed = [fact for fact in facts if words.facts[fact].comes_from == "observed"]
    if observed:
        raise problem(
            "fact-seen", f"{', '.join(observed)}: seen at a look, not set; 'hiveweek note' writes down what was seen"
        )
    found = args.since == "unknown"
    since = None if found else day_given(args.since, "--since")
    with open_record(args) as store:
        within = find_apiary(store, args.apiary) if args.apiary else None
        day = _day(args, within)
        hives = find_hives(store, args.name, day, within)
        note = new_id()
        entries = [
            _set(args, hive, apiary_of(store, hive, day).id, day, facts, note, since=since, found=found)
            for hive in hives
        ]
        check(entries, hives, words, today(within), sure=args.sure)
        written = store.add(entries)
    if args.json:
        print_json({"entries": [entry_out(entry) for entry in written]})
    else:
        for hive, entry in zip(hives, written, strict=True):
            print(f"{hive.name}: {entry_line(entry).strip()}")
    return 0


def run_move(args: argparse.Namespace) -> int:
    """Move a hive to another apiary."""
    with open_record(args) as store:
        within = find_apiary(store, args.apiary) if args.apiary else None
        to = find_apiary(store, args.to)
        day = _day(args, to)
        hive = find_hive(store, args.name, day, within)
        before = names_of(store.apiaries())[hive.placements[-1].apiary]
        if hive.placements[-1].apiary == to.id:
            raise problem("no-move", f"'{hive.name}' stands at {to.name} already")
        if hive.ended is not None:
            raise problem("hive-ended", f"'{hive.name}' ended on {hive.ended}")
        with store.writing():
            store.place(hive.id, Placement(to.id, day))
            (entry,) = store.add([moved(hive, to.id, day, f"{before} -> {to.name}", args.by)])
    if args.json:
        print_json({"hive": hive_out(_again(args, hive.id)), "entries": [entry_out(entry)]})
    else:
        print(says("cli.hive.moved", name=hive.name, before=before, apiary=to.name, day=day.isoformat()))
    return 0


def _again(args: argparse.Namespace, hive: str) -> Hive:
    with open_record(args) as store:
        return store.hive(hive)


def run_end(args: argparse.Namespace) -> int:
    """Note that a hive is no longer kept, or take that back."""
    with open_record(args) as store:
        within = find_apiary(store, args.apiary) if args.apiary else None
        day = _day(args, within)
        hive = find_hive(store, args.name, day, within)
        if not args.take_back and day < hive.placements[-1].since:
            first = hive.placements[-1].since
            raise problem("before-first-day", f"'{hive.name}' stands where it is since {first}; it ends later")
        store.end_hive(hive.id, None if args.take_back else day, "" if args.take_back else args.because)
        again = store.hive(hive.id)
    if args.json:
        print_json(hive_out(again))
    elif args.take_back:
        print(says("cli.hive.again", name=again.name))
    else:
        print(says("cli.hive.has-ended", name=again.name, day=day.isoformat()))
    return 0


def run_rename(args: argparse.Namespace) -> int:
    """Give a hive another name."""
    new = good_name(args.new)
    with open_record(args) as store:
        within = find_apiary(store, args.apiary) if args.apiary else None
        hive = find_hive(store, args.name, today(within), within)
        store.rename_hive(hive.id, new)
        again = store.hive(hive.id)
    if args.json:
        print_json(hive_out(again))
    else:
        print(says("cli.hive.renamed", name=hive.name, new=new))
    return 0

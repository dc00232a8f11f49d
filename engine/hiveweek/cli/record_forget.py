"""``hiveweek record forget``: people are forgotten, the facts of the hives stay."""

from __future__ import annotations

import argparse

from hiveweek.cli.record_place import add_place, find_apiary, open_record, place_of, print_json, problem
from hiveweek.record import photos
from hiveweek.record.record import folded
from hiveweek.texts.speaker import says


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add the command to a parser."""
    parser = subparsers.add_parser("forget", help=says("cli.record.forget"), description=says("cli.record.forget-long"))
    parser.add_argument("numbers", metavar="N", type=int, nargs="*", help=says("cli.record.forget-numbers"))
    parser.add_argument("--apiary", metavar="NAME", help=says("cli.hive.apiary"))
    parser.add_argument("--by", metavar="WHO", help=says("cli.record.forget-by"))
    parser.add_argument("--everyone", action="store_true", help=says("cli.record.forget-everyone"))
    parser.add_argument("--yes", action="store_true", help=says("cli.record.forget-yes"))
    add_place(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Blank what names or shows people, for good."""
    if bool(args.numbers) + bool(args.by) + args.everyone != 1:
        raise problem("what-to-forget", "name numbers of entries, or --by WHO, or --everyone")
    with open_record(args) as store:
        apiary = find_apiary(store, args.apiary) if args.apiary or args.numbers else None
        entries = [e for e in store.everything().entries if apiary is None or e.apiary == apiary.id]
        if args.numbers:
            missing = set(args.numbers) - {entry.sequence for entry in entries}
            if missing:
                raise problem("unknown-entry", f"there is no entry {', '.join(map(str, sorted(missing)))}")
            entries = [entry for entry in entries if entry.sequence in args.numbers]
        elif args.by:
            entries = [entry for entry in entries if folded(entry.who) == folded(args.by)]
        if not args.yes:
            raise problem("for-good", f"{len(entries)} entries would lose text, who and photos for good; --yes does it")
        learners = [
            one.id
            for one in store.practised()
            if one.who and (folded(one.who) == folded(args.by) if args.by else args.everyone and apiary is None)
        ]
        shown = {name for entry in entries for name in entry.files}
        with store.writing():
            forgotten = store.forget([entry.id for entry in entries])
            store.forget_practised(learners)
            if args.everyone:
                for place in store.apiaries():
                    if apiary is None or place.id == apiary.id:
                        store.forget_place(place.id)
        left = {name for entry in store.everything().entries for name in entry.files}
    photos.remove(photos.folder_of(place_of(args)), shown - left)
    if args.json:
        print_json({"forgotten": forgotten})
    else:
        print(says("cli.record.forgotten", n=forgotten))
    return 0

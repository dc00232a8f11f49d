"""``hiveweek rules diff OLD NEW``."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING

from hiveweek.cli.progress import Working, add_quiet
from hiveweek.cli.rules import existing, known_profiles, say
from hiveweek.texts.speaker import says

if TYPE_CHECKING:  # loaded when it is asked for
    from hiveweek.authoring.overlay_diff import Report
    from hiveweek.authoring.overlay_versions import Version


def register(parts: argparse._SubParsersAction) -> None:
    """Add this part."""
    parser = parts.add_parser("diff", help=says("cli.rules.diff.help"), description=says("cli.rules.diff.description"))
    parser.add_argument("old", metavar="OLD", help=says("cli.rules.diff.old"))
    parser.add_argument("new", metavar="NEW", help=says("cli.rules.diff.new"))
    parser.add_argument("--profile", action="append", metavar="ID", help=says("cli.rules.diff.profile"))
    parser.add_argument("--yards", type=int, default=1000, metavar="N", help=says("cli.rules.diff.yards"))
    parser.add_argument("--seed", type=int, default=1, help=says("cli.rules.diff.seed"))
    parser.add_argument("--cases", action="append", default=[], metavar="PATH", help=says("cli.rules.diff.cases"))
    parser.add_argument("--exit-code", action="store_true", help=says("cli.rules.diff.exit-code"))
    parser.add_argument("--json", action="store_true", help=says("cli.rules.diff.json"))
    add_quiet(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Compare; exit code 0, with ``--exit-code`` 1 where something differs."""
    import tempfile
    from pathlib import Path

    from hiveweek.authoring import cases, overlay_diff
    from hiveweek.authoring.overlay_versions import version
    from hiveweek.problems import InputProblems, Problem

    if args.yards < 0 or args.seed < 0:
        raise InputProblems([Problem("", 0, 0, "out-of-range", "--yards and --seed need a number from 0 up")])
    profiles = known_profiles(args.profile) if args.profile else None
    more = cases.find(existing(args.cases)) if args.cases else []
    with tempfile.TemporaryDirectory(prefix="hiveweek-") as folder:
        places = [Path(folder) / "old", Path(folder) / "new"]
        for place in places:
            place.mkdir()
        old, new = (version(name, place) for name, place in zip((args.old, args.new), places, strict=True))
        with Working(quiet=args.quiet) as working:
            report = overlay_diff.diff(
                old, new, profiles=profiles, yards=args.yards, seed=args.seed, more_cases=more, tell=working.tell
            )
    if args.json:
        say(json.dumps(_json(report, old, new), indent=2))
    else:
        _text(report, old, new)
    return 1 if args.exit_code and report.any else 0


def _text(report: Report, old: Version, new: Version) -> None:
    from hiveweek.cli.rules_impact import say_changes

    if not report.entries:
        say(says("cli.rules.diff.same", old=old.name, new=new.name))
        return
    for change in report.entries:
        told = old.told if change.how == "taken-away" else new.told
        title = says(f"cli.rules.diff.{change.how}", what=change.entry.title)
        say(f"{told(change.entry.place)}: {title}")
        for line in change.said:
            say(f"  {line}")
    if report.uncovered:
        say()
        for item in report.uncovered:
            say(says("cli.rules.diff.uncovered-now" if item.before else "cli.rules.diff.uncovered", what=item.item))
    for line in report.failing:
        say(says("cli.rules.diff.failing", what=line))
    say_changes(report.advice)
    say()
    asked = {"yards": report.yards, "hives": report.hives, "differ": report.differ, "seed": report.seed}
    counts = {"n": len(report.entries), "uncovered": len(report.uncovered), "cases": report.cases}
    say(says("cli.rules.diff.sum", **counts, **asked))


def _json(report: Report, old: Version, new: Version) -> dict:
    return {
        "old": old.name,
        "new": new.name,
        "profiles": report.profiles,
        "entries": [
            {
                "how": change.how,
                "overlay": change.entry.overlay,
                "kind": change.entry.kind,
                "name": change.entry.name,
                "place": (old.told if change.how == "taken-away" else new.told)(change.entry.place),
                "said": list(change.said),
            }
            for change in report.entries
        ],
        "cases": report.cases,
        "failing": report.failing,
        "uncovered": [vars(item) for item in report.uncovered],
        "yards": {"asked": report.yards, "hives": report.hives, "differ": report.differ, "seed": report.seed},
        "advice": [{key: value for key, value in vars(change).items() if key != "group"} for change in report.advice],
    }

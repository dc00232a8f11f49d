"""``hiveweek rules impact``."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING

from hiveweek.cli.progress import Working, add_quiet
from hiveweek.cli.rules import existing, known_profiles, say
from hiveweek.texts.parts import message
from hiveweek.texts.speaker import says

EXAMPLES = 2  # shown for each rule and profile

if TYPE_CHECKING:  # the solver and the runs are loaded when they are asked for
    from hiveweek.authoring.impact import Change, Report


def register(parts: argparse._SubParsersAction) -> None:
    """Add this part."""
    parser = parts.add_parser(
        "impact",
        help=says("cli.rules.impact.help"),
        description=says("cli.rules.impact.description"),
    )
    parser.add_argument("sides", nargs="*", metavar="OLD NEW", help=says("cli.rules.impact.sides"))
    parser.add_argument(
        "--set",
        action="append",
        default=[],
        dest="moved",
        metavar="limit.topic.name=VALUE",
        help=says("cli.rules.impact.moved"),
    )
    parser.add_argument(
        "--rules",
        action="append",
        default=[],
        metavar="PATH",
        help=says("cli.rules.impact.rules"),
    )
    parser.add_argument("--profile", action="append", metavar="ID", help=says("cli.rules.impact.profile"))
    parser.add_argument(
        "--cases",
        action="append",
        default=[],
        metavar="PATH",
        help=says("cli.rules.impact.cases"),
    )
    parser.add_argument("--sample", type=int, default=12, metavar="N", help=says("cli.rules.impact.sample"))
    parser.add_argument("--seed", type=int, default=1, help=says("cli.rules.impact.seed"))
    parser.add_argument("--json", action="store_true", help=says("cli.rules.impact.json"))
    add_quiet(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Compare; exit code 0 whatever changes, 1 where a case holds no longer."""
    import tempfile
    from pathlib import Path

    from hiveweek.authoring import cases, impact, sides
    from hiveweek.problems import InputProblems, Problem

    if sum(map(bool, (args.moved, args.sides, args.rules))) != 1 or len(args.sides) not in (0, 2):
        raise InputProblems(
            [
                Problem(
                    "",
                    0,
                    0,
                    "command-line",
                    "name OLD and NEW, or move limits with --set limit.topic.name=VALUE, or name an "
                    "overlay with --rules PATH",
                )
            ]
        )
    if args.sample < 0:
        raise InputProblems([Problem("", 0, 0, "out-of-range", "--sample needs a number from 0 up")])
    profiles = known_profiles(args.profile) if args.profile else None
    with tempfile.TemporaryDirectory(prefix="hiveweek-") as folder:
        if args.moved:
            before = cases.Runner()
            moved = sides.settings(args.moved, before)
            after, notes = sides.with_limits(before, moved), sides.cautions(before, moved)
        elif args.rules:
            before, notes = cases.Runner(), []
            after = cases.Runner(before.words, extra=existing(args.rules))
        else:
            before, after = (sides.side(name, Path(folder)) for name in args.sides)
            notes = []
        scenarios = cases.read([*cases.find(), *(cases.find(existing(args.cases)) if args.cases else ())], after.words)
        with Working(quiet=args.quiet) as working:
            report = impact.Impact(before, after, profiles, working.tell).run(scenarios, args.sample, args.seed)
    if args.json:
        say(json.dumps(_json(report, notes), indent=2))
    else:
        _text(report, notes)
    return 1 if report.broken else 0


def say_changes(found: list[Change]) -> None:
    """Print the advice that differs, by rule and profile, with a few examples each."""
    from hiveweek.authoring.impact import WORDS

    groups: dict[str, dict[str, list]] = {}
    for change in found:
        groups.setdefault(f"{change.rule} ({change.action})", {}).setdefault(change.profile, []).append(change)
    for rule, profiles in groups.items():
        say()
        say(rule)
        for profile, changes in profiles.items():
            kinds = {kind: sum(c.kind == kind for c in changes) for kind in WORDS}
            say(f"  {profile}: " + ", ".join(f"{number} {WORDS[kind]}" for kind, number in kinds.items() if number))
            for change in changes[:EXAMPLES]:
                say("    " + says("cli.rules.impact.change", where=change.where, hive=change.hive, what=change.text))


def _text(report: Report, notes: list[str]) -> None:
    for text in report.differences[:20]:
        say(says("cli.rules.impact.changed", what=text))
    if len(report.differences) > 20:
        say(says("cli.rules.impact.more", n=len(report.differences) - 20))
    for text in notes:
        say(says("cli.rules.impact.mind", what=text))
    say_changes(report.changes)
    for title, lines in (
        ("broken", report.broken),
        ("mended", report.mended),
        ("skipped", report.skipped),
    ):
        if lines:
            say()
            say(says(f"cli.rules.impact.{title}"))
            for line in lines:
                say(f"  {line}")
    say()
    asked, differ = report.asked, report.differ
    asked_of = ("case", "year", "sample")
    counts = {kind: differ[kind] for kind in asked_of} | {f"{kind}s": asked[kind] for kind in asked_of}
    weeks = message("each-week" if report.weeks_apart == 1 else "every-weeks", n=report.weeks_apart)
    say(says("cli.rules.impact.sum", **counts, weeks=weeks, seed=report.seed))


def _json(report: Report, notes: list[str]) -> dict:
    return {
        "differences": report.differences,
        "cautions": notes,
        "profiles": report.profiles,
        "asked": report.asked,
        "differ": report.differ,
        "weeks_apart": report.weeks_apart,
        "seed": report.seed,
        "changes": [vars(change) for change in report.changes],
        "broken": report.broken,
        "mended": report.mended,
        "skipped": report.skipped,
    }

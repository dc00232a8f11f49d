"""``hiveweek rules year PROFILE``."""

from __future__ import annotations

import argparse
import json

from hiveweek.cli.progress import Working, add_quiet
from hiveweek.cli.rules import existing, known_profiles, say
from hiveweek.texts.speaker import says


def register(parts: argparse._SubParsersAction) -> None:
    """Add this part."""
    parser = parts.add_parser(
        "year",
        help=says("cli.rules.year.help"),
        description=says("cli.rules.year.description"),
    )
    parser.add_argument("profile", metavar="PROFILE", help=says("cli.rules.year.profile"))
    parser.add_argument("--hive", metavar="FILE", help=says("cli.rules.year.hive"))
    parser.add_argument("--rules", action="append", default=[], metavar="PATH", help=says("cli.rules.year.rules"))
    parser.add_argument("--start", metavar="MM-DD", help=says("cli.rules.year.start"))
    parser.add_argument("--json", action="store_true", help=says("cli.rules.year.json"))
    add_quiet(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Walk and print."""
    from hiveweek import facts
    from hiveweek.authoring import year
    from hiveweek.authoring.cases import Runner

    profile = known_profiles([args.profile])[0]
    start = year.month_day(args.start) if args.start else None
    runner = Runner(extra=existing(args.rules))
    given, overlays, jurisdiction = {}, [], None
    if args.hive:
        scenario = facts.read_scenario(existing([args.hive])[0], words=runner.words)
        given, overlays, jurisdiction = year.own_facts(scenario), scenario.rulesets, scenario.jurisdiction
    with Working(year.WEEKS, quiet=args.quiet) as working:
        found = year.walk(
            profile,
            runner,
            start=start,
            given=given,
            overlays=overlays,
            jurisdiction=jurisdiction,
            tap=lambda scenario, answer: working.step(),
        )
    if args.json:
        say(json.dumps(year.as_json(found), indent=2))
    else:
        for line in year.as_lines(found):
            say(line)
    return 0

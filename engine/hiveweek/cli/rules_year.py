"""``hiveweek rules year PROFILE``."""

from __future__ import annotations

import json

from hiveweek.cli.rules import existing, say


def register(parts) -> None:
    """Add this part."""
    parser = parts.add_parser(
        "year",
        help="a normal colony's advice, week by week",
        description="What a normal healthy colony is advised "
        "in each of 52 weeks, everything seen afresh each week and the advice of the week before followed.",
    )
    parser.add_argument("profile", metavar="PROFILE", help="climate profile")
    parser.add_argument(
        "--hive", metavar="FILE", help="a scenario file with one hive whose facts stand in place of the normal ones"
    )
    parser.add_argument("--rules", action="append", default=[], metavar="PATH", help="an overlay that takes part")
    parser.add_argument("--start", metavar="MM-DD", default="01-01", help="first day of the walk (01-01)")
    parser.add_argument("--json", action="store_true", help="the weeks as JSON, with reasons")
    parser.set_defaults(run=run)


def run(args) -> int:
    """Walk and print."""
    from hiveweek import facts
    from hiveweek.authoring import year
    from hiveweek.authoring.cases import Runner
    from hiveweek.cli.rules import known_profiles

    profile = known_profiles([args.profile])[0]
    start = year.month_day(args.start)
    runner = Runner(extra=existing(args.rules))
    given, overlays, jurisdiction = {}, [], None
    if args.hive:
        scenario = facts.read_scenario(existing([args.hive])[0], words=runner.words)
        given, overlays, jurisdiction = year.own_facts(scenario), scenario.rulesets, scenario.jurisdiction
    found = year.walk(profile, runner, start=start, given=given, overlays=overlays, jurisdiction=jurisdiction)
    if args.json:
        say(json.dumps(year.as_json(found), indent=2))
    else:
        for line in year.as_lines(found):
            say(line)
    return 0

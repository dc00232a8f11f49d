"""``hiveweek rules coverage``."""

from __future__ import annotations

import argparse
import json

from hiveweek.cli.progress import Working, add_quiet
from hiveweek.cli.rules import existing, say
from hiveweek.texts.speaker import says


def register(parts: argparse._SubParsersAction) -> None:
    """Add this part."""
    parser = parts.add_parser(
        "coverage",
        help=says("cli.rules.coverage.help"),
        description=says("cli.rules.coverage.description"),
    )
    parser.add_argument("paths", nargs="*", metavar="PATH", help=says("cli.rules.coverage.paths"))
    parser.add_argument("--rules", action="append", default=[], metavar="PATH", help=says("cli.rules.coverage.rules"))
    parser.add_argument("--fail-under", type=float, metavar="PERCENT", help=says("cli.rules.coverage.fail-under"))
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--all", action="store_true", help=says("cli.rules.coverage.all"))
    add_quiet(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Measure; exit code 1 below ``--fail-under``."""
    from hiveweek.authoring import cases, coverage
    from hiveweek.climate import load_profile, profile_ids

    runner = cases.Runner(extra=existing(args.rules))
    scenarios = cases.read(cases.find(existing(args.paths)))
    profiles = profile_ids()
    with Working(len(scenarios) + len(profiles), quiet=args.quiet) as working:
        results = [runner.run(scenario, trace=False, keep=True) for scenario in working.each(scenarios)]
        rulesets = [runner.ruleset(load_profile(name)) for name in working.each(profiles)]
        found = coverage.measure(results, rulesets)
    missing = found.missing
    if args.json:
        say(
            json.dumps(
                {
                    "percent": round(found.percent, 2),
                    "wanted": len(found.wanted),
                    "missing": [{"item": item, "place": found.wanted[item]} for item in missing],
                },
                indent=2,
            )
        )
    else:
        shown = missing if args.all else missing[:40]
        for item in shown:
            say(says("cli.rules.coverage.missing", place=str(found.wanted[item]), item=str(item)))
        if len(missing) > len(shown):
            say(says("cli.rules.coverage.more", n=len(missing) - len(shown)))
        reached = {"n": len(found.wanted) - len(missing), "of": len(found.wanted), "cases": len(scenarios)}
        say(says("cli.rules.coverage.reached", **reached, share=f"{found.percent:.1f}"))
    return 1 if args.fail_under is not None and found.percent < args.fail_under else 0

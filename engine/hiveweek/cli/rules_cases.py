"""``hiveweek rules cases [PATHS]``."""

from __future__ import annotations

import argparse
import json

from hiveweek.cli.progress import Working, add_quiet
from hiveweek.cli.rules import existing, say
from hiveweek.texts.speaker import says


def register(parts: argparse._SubParsersAction) -> None:
    """Add this part."""
    parser = parts.add_parser(
        "cases",
        help=says("cli.rules.cases.help"),
        description=says("cli.rules.cases.description"),
    )
    parser.add_argument("paths", nargs="*", metavar="PATH")
    parser.add_argument("--rules", action="append", default=[], metavar="PATH", help=says("cli.rules.cases.rules"))
    parser.add_argument("--json", action="store_true", help=says("cli.rules.cases.json"))
    parser.add_argument("--brief", action="store_true", help=says("cli.rules.cases.brief"))
    parser.add_argument("--ci", action="store_true", help=says("cli.rules.cases.ci"))
    add_quiet(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Run the cases; exit code 1 when one does not hold."""
    from hiveweek.authoring import cases

    if args.ci:
        return _step(args)
    scenarios = [s for s in cases.read(cases.find(existing(args.paths))) if s.expect or any(h.expect for h in s.hives)]
    runner = cases.Runner(extra=existing(args.rules))
    with Working(len(scenarios), quiet=args.quiet) as working:
        results = [runner.run(scenario, trace=not args.brief) for scenario in working.each(scenarios)]
    failed = [result for result in results if result.failures]
    if args.json:
        say(
            json.dumps(
                {
                    "cases": len(results),
                    "hold": len(results) - len(failed),
                    "failures": [
                        {
                            "case": r.name,
                            "title": r.scenario.title,
                            "failures": [{"hive": f.hive, "text": f.text} for f in r.failures],
                        }
                        for r in failed
                    ],
                },
                indent=2,
            )
        )
        return 1 if failed else 0
    for result in failed:
        say(f"{result.name}: {result.scenario.title}")
        for failure in result.failures:
            say(f"  {failure.hive + ': ' if failure.hive else ''}{failure.text}")
        for line in result.trace:
            say(line)
    say(says("cli.rules.cases.hold", n=len(results) - len(failed), of=len(results)))
    return 1 if failed else 0


def _step(args: argparse.Namespace) -> int:
    """Print a step of continuous integration that checks overlays and runs their cases."""
    from hiveweek.authoring.ci_step import step
    from hiveweek.authoring.own_findings import cases_beside
    from hiveweek.problems import InputProblems, Problem

    rules = existing(args.rules)
    paths = existing(args.paths) or cases_beside(rules)
    if not paths:
        raise InputProblems([Problem("", 0, 0, "command-line", says("cli.rules.cases.ci-none"))])
    say(f"# {says('cli.rules.cases.ci-where')}")
    say(step(says("cli.rules.cases.ci-name"), rules, paths).rstrip())
    return 0

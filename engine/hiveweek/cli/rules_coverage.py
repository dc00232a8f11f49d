"""``hiveweek rules coverage``."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING

from hiveweek.cli.progress import Working, add_quiet
from hiveweek.cli.rules import existing, say
from hiveweek.texts.speaker import says

if TYPE_CHECKING:  # loaded when it is asked for
    from hiveweek.authoring.entries import Entry


def register(parts: argparse._SubParsersAction) -> None:
    """Add this part."""
    parser = parts.add_parser(
        "coverage",
        help=says("cli.rules.coverage.help"),
        description=says("cli.rules.coverage.description"),
    )
    parser.add_argument("paths", nargs="*", metavar="PATH", help=says("cli.rules.coverage.paths"))
    parser.add_argument("--rules", action="append", default=[], metavar="PATH", help=says("cli.rules.coverage.rules"))
    parser.add_argument("--with-base", action="store_true", help=says("cli.rules.coverage.with-base"))
    parser.add_argument("--fail-under", type=float, metavar="PERCENT", help=says("cli.rules.coverage.fail-under"))
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--all", action="store_true", help=says("cli.rules.coverage.all"))
    add_quiet(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Measure; exit code 1 below ``--fail-under``."""
    from hiveweek.authoring import cases, coverage, own_findings
    from hiveweek.climate import load_profile, profile_ids

    overlays = existing(args.rules)
    runner = cases.Runner(extra=overlays)
    profiles, paths, mine = profile_ids(), existing(args.paths), {}
    entry_of: dict[str, Entry] = {}
    if overlays and not args.with_base:
        runner.ruleset(load_profile(profiles[0]))  # mistakes are told before anything else is read
        mine = own_findings.own(overlays, runner.words)
        profiles, paths = own_findings.climates([mine]), paths or own_findings.cases_beside(overlays)
    scenarios = cases.read(cases.find(paths))
    with Working(len(scenarios) + len(profiles), quiet=args.quiet) as working:
        results = [runner.run(scenario, trace=False, keep=True) for scenario in working.each(scenarios)]
        rulesets = [runner.ruleset(load_profile(name)) for name in working.each(profiles)]
        found = coverage.measure(results, rulesets)
    if mine:
        found, entry_of = own_findings.narrowed(found, mine)
    missing = found.missing
    if args.json:
        say(
            json.dumps(
                {
                    "percent": round(found.percent, 2),
                    "wanted": len(found.wanted),
                    "missing": [
                        {"item": item, "place": found.wanted[item]}
                        | ({"entry": entry_of[item].title, "entry_place": entry_of[item].place} if mine else {})
                        for item in missing
                    ],
                },
                indent=2,
            )
        )
    else:
        shown = missing if args.all else missing[:40]
        for item in shown:
            place, named = str(found.wanted[item]), str(item)
            if mine and own_findings.file_of(place) != own_findings.file_of(
                entry_of[item].place
            ):  # a rule of the base that the overlay changes
                place, named = entry_of[item].place, f"{entry_of[item].title}: {item}"
            say(says("cli.rules.coverage.missing", place=place, item=named))
        if len(missing) > len(shown):
            say(says("cli.rules.coverage.more", n=len(missing) - len(shown)))
        reached = {"n": len(found.wanted) - len(missing), "of": len(found.wanted), "cases": len(scenarios)}
        say(says("cli.rules.coverage.reached", **reached, share=f"{found.percent:.1f}"))
    return 1 if args.fail_under is not None and found.percent < args.fail_under else 0

"""``hiveweek rules coverage``."""

from __future__ import annotations

import json

from hiveweek.cli.rules import existing, say


def register(parts) -> None:
    """Add this part."""
    parser = parts.add_parser(
        "coverage",
        help="what the cases exercise",
        description="Rules fired and not, conditions decided both "
        "ways, limits reached from both sides, overlay entries exercised: what is missing, and the share.",
    )
    parser.add_argument("paths", nargs="*", metavar="PATH", help="case files and folders; all that ship without any")
    parser.add_argument("--rules", action="append", default=[], metavar="PATH", help="an overlay that takes part")
    parser.add_argument("--fail-under", type=float, metavar="PERCENT", help="exit with 1 below this share")
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--all", action="store_true", help="list everything missing, not the first 40")
    parser.set_defaults(run=run)


def run(args) -> int:
    """Measure; exit code 1 below ``--fail-under``."""
    from hiveweek.authoring import cases, coverage
    from hiveweek.climate import load_profile, profile_ids

    runner = cases.Runner(extra=existing(args.rules))
    scenarios = cases.read(cases.find(existing(args.paths)))
    results = [runner.run(scenario, trace=False, keep=True) for scenario in scenarios]
    rulesets = [runner.ruleset(load_profile(name)) for name in profile_ids()]
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
            say(f"{found.wanted[item]}: not reached: {item}")
        if len(missing) > len(shown):
            say(f"and {len(missing) - len(shown)} more (--all lists them)")
        say(
            f"{len(found.wanted) - len(missing)} of {len(found.wanted)} items reached by {len(scenarios)} cases: {found.percent:.1f} %"
        )
    return 1 if args.fail_under is not None and found.percent < args.fail_under else 0

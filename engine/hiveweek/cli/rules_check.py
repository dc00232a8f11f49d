"""``hiveweek rules check [PATHS]``."""

from __future__ import annotations

import argparse
import json

from hiveweek.cli.progress import Working, add_quiet
from hiveweek.cli.rules import existing, say
from hiveweek.texts.speaker import says


def register(parts: argparse._SubParsersAction) -> None:
    """Add this part."""
    parser = parts.add_parser(
        "check",
        help=says("cli.rules.check.help"),
        description=says("cli.rules.check.description"),
    )
    parser.add_argument(
        "paths",
        nargs="*",
        metavar="PATH",
        help=says("cli.rules.check.paths"),
    )
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help=says("cli.rules.check.json"))
    form.add_argument("--sarif", action="store_true", help=says("cli.rules.check.sarif"))
    add_quiet(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print the findings; exit code 0 without any, 1 with style findings only, 2 with errors."""
    from hiveweek.authoring import check

    with Working(quiet=args.quiet):
        findings = check.check(existing(args.paths))
    errors = [f for f in findings if f.level == "error"]
    if args.json:
        say(json.dumps(check.as_json(findings), indent=2))
    elif args.sarif:
        say(json.dumps(check.as_sarif(findings), indent=2))
    else:
        for finding in findings:
            say(str(finding))
        say(says("cli.rules.check.found", errors=len(errors), style=len(findings) - len(errors)))
    return 2 if errors else 1 if findings else 0

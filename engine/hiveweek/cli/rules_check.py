"""``hiveweek rules check [PATHS]``."""

from __future__ import annotations

import json

from hiveweek.cli.rules import existing, say


def register(parts) -> None:
    """Add this part."""
    parser = parts.add_parser(
        "check",
        help="find every mistake in rule files",
        description="Find every mistake in the shipped rule files, or in overlays under PATHS together with them.",
    )
    parser.add_argument(
        "paths",
        nargs="*",
        metavar="PATH",
        help="overlay files or folders; a folder named rulesets replaces the shipped one",
    )
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="as JSON")
    form.add_argument("--sarif", action="store_true", help="as SARIF 2.1.0, for code hosts")
    parser.set_defaults(run=run)


def run(args) -> int:
    """Print the findings; exit code 0 without any, 1 with style findings only, 2 with errors."""
    from hiveweek.authoring import check

    findings = check.check(existing(args.paths))
    errors = [f for f in findings if f.level == "error"]
    if args.json:
        say(json.dumps(check.as_json(findings), indent=2))
    elif args.sarif:
        say(json.dumps(check.as_sarif(findings), indent=2))
    else:
        for finding in findings:
            say(str(finding))
        say(f"{len(errors)} errors, {len(findings) - len(errors)} style findings")
    return 2 if errors else 1 if findings else 0

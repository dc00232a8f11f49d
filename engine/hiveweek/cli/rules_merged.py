"""``hiveweek rules merged PROFILE``."""

from __future__ import annotations

import argparse
import json

from hiveweek.cli.progress import Working, add_quiet
from hiveweek.cli.rules import existing, known_profiles, say
from hiveweek.texts.speaker import says


def register(parts: argparse._SubParsersAction) -> None:
    """Add this part."""
    parser = parts.add_parser(
        "merged",
        help=says("cli.rules.merged.help"),
        description=says("cli.rules.merged.description"),
    )
    parser.add_argument("profile", metavar="PROFILE", help=says("cli.rules.merged.profile"))
    parser.add_argument("--jurisdiction", metavar="ID", help=says("cli.rules.merged.jurisdiction"))
    parser.add_argument("--rules", action="append", default=[], metavar="PATH", help=says("cli.rules.merged.rules"))
    parser.add_argument("--json", action="store_true", help=says("cli.rules.merged.json"))
    add_quiet(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Merge and print."""
    from hiveweek import vocabulary
    from hiveweek.authoring import merged

    profile, extra = known_profiles([args.profile])[0], existing(args.rules)
    with Working(quiet=args.quiet):
        found = merged.merged(profile, vocabulary.load(), jurisdiction=args.jurisdiction, extra=extra)
    if args.json:
        say(json.dumps(found, indent=2))
    else:
        for line in merged.as_lines(found):
            say(line)
    return 0

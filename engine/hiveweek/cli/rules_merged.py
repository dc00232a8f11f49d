"""``hiveweek rules merged PROFILE``."""

from __future__ import annotations

import json

from hiveweek.cli.rules import existing, known_profiles, say


def register(parts) -> None:
    """Add this part."""
    parser = parts.add_parser(
        "merged",
        help="the effective rules of a climate, each value with its origin",
        description="What remains "
        "for a climate after all layers: limits, rules and their edits, with layer, file and line.",
    )
    parser.add_argument("profile", metavar="PROFILE", help="climate profile")
    parser.add_argument("--jurisdiction", metavar="ID", help="the law of this place takes part")
    parser.add_argument("--rules", action="append", default=[], metavar="PATH", help="an overlay that takes part")
    parser.add_argument("--json", action="store_true", help="as JSON")
    parser.set_defaults(run=run)


def run(args) -> int:
    """Merge and print."""
    from hiveweek import vocabulary
    from hiveweek.authoring import merged

    found = merged.merged(
        known_profiles([args.profile])[0], vocabulary.load(), jurisdiction=args.jurisdiction, extra=existing(args.rules)
    )
    if args.json:
        say(json.dumps(found, indent=2))
    else:
        for line in merged.as_lines(found):
            say(line)
    return 0

"""``hiveweek rules book``."""

from __future__ import annotations

import argparse

from hiveweek.cli.progress import Working, add_quiet
from hiveweek.cli.rules import existing, known_profiles, say
from hiveweek.texts.speaker import says


def register(parts: argparse._SubParsersAction) -> None:
    """Add this part."""
    parser = parts.add_parser(
        "book",
        help=says("cli.rules.book.help"),
        description=says("cli.rules.book.description"),
    )
    parser.add_argument("--profile", metavar="ID", help=says("cli.rules.book.profile"))
    parser.add_argument("--rules", action="append", default=[], metavar="PATH", help=says("cli.rules.book.rules"))
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--html", metavar="FILE", help=says("cli.rules.book.html"))
    form.add_argument("--md", metavar="FILE", help=says("cli.rules.book.md"))
    add_quiet(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Write the page; without a file Markdown is printed."""
    from hiveweek import vocabulary
    from hiveweek.authoring import book
    from hiveweek.problems import InputProblems, Problem
    from hiveweek.show.files import write

    profile = known_profiles([args.profile])[0] if args.profile else None
    extra = existing(args.rules)
    with Working(quiet=args.quiet):
        found = book.Book(vocabulary.load(), profile, extra=extra)
        text = book.as_html(found) if args.html else book.as_markdown(found)
    target = args.html or args.md
    if not target:
        say(text)
        return 0
    try:
        write(target, text)
    except OSError as error:
        raise InputProblems(
            [Problem(target, 1, 1, "no-file", says("cli.cannot-be-written", why=error.strerror))]
        ) from None
    if not args.quiet:
        say(says("cli.rules.book.written", file=str(target), size=len(text) // 1000))
    return 0

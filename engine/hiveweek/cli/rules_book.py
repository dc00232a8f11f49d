"""``hiveweek rules book``."""

from __future__ import annotations

from hiveweek.cli.rules import existing, known_profiles, say


def register(parts) -> None:
    """Add this part."""
    parser = parts.add_parser(
        "book",
        help="all rules as one page to read",
        description="The rulebook as one HTML page or as Markdown: rules in "
        "plain words, numbers, prohibitions, treatment options, the law of places, sources.",
    )
    parser.add_argument("--profile", metavar="ID", help="as the rules hold in this climate, with its weeks")
    parser.add_argument(
        "--rules", action="append", default=[], metavar="PATH", help="an overlay that takes part (with --profile)"
    )
    form = parser.add_mutually_exclusive_group()
    form.add_argument("--html", metavar="FILE", help="write one HTML page")
    form.add_argument("--md", metavar="FILE", help="write Markdown")
    parser.set_defaults(run=run)


def run(args) -> int:
    """Write the page; without a file Markdown is printed."""
    from hiveweek import vocabulary
    from hiveweek.authoring import book
    from hiveweek.problems import InputProblems, Problem

    profile = known_profiles([args.profile])[0] if args.profile else None
    found = book.Book(vocabulary.load(), profile, extra=existing(args.rules))
    text = book.as_html(found) if args.html else book.as_markdown(found)
    target = args.html or args.md
    if not target:
        say(text)
        return 0
    try:
        with open(target, "w", encoding="utf-8") as file:
            file.write(text)
    except OSError as error:
        raise InputProblems([Problem(target, 1, 1, "no-file", f"cannot be written: {error.strerror}")]) from None
    say(f"written: {target} ({len(text) // 1000} kB)")
    return 0

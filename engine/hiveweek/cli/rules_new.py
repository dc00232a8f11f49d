"""``hiveweek rules new``."""

from __future__ import annotations

import argparse

from hiveweek.cli.rules import say
from hiveweek.texts.speaker import says


def register(parts: argparse._SubParsersAction) -> None:
    """Add this part."""
    parser = parts.add_parser(
        "new",
        help=says("cli.rules.new.help"),
        description=says("cli.rules.new.description"),
    )
    parser.add_argument("rule", nargs="?", metavar="TOPIC.NAME", help=says("cli.rules.new.rule"))
    parser.add_argument("--overlay", metavar="PROFILE", help=says("cli.rules.new.overlay"))
    parser.add_argument("--name", metavar="NAME", help=says("cli.rules.new.name"))
    parser.add_argument("--folder", metavar="DIR", help=says("cli.rules.new.folder"))
    parser.add_argument(
        "--print",
        action="store_true",
        dest="shown",
        help=says("cli.rules.new.shown"),
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Write the files and say what to do next."""
    from pathlib import Path

    from hiveweek import content, vocabulary
    from hiveweek.authoring import scaffold
    from hiveweek.problems import InputProblems, Problem

    wrong = None
    if args.overlay and args.rule:
        wrong = "both"
    elif args.overlay and not args.name:
        wrong = "no-name"
    elif not args.overlay and not args.rule:
        wrong = "neither"
    if wrong:
        raise InputProblems([Problem("", 0, 0, "command-line", says(f"cli.rules.new.{wrong}"))])
    folder = Path(args.folder) if args.folder else None
    words = vocabulary.load()
    if args.overlay:
        made = scaffold.overlay_files(args.overlay, args.name, folder, words)
    elif args.shown:
        for text in scaffold.topic_texts(args.rule, folder or content.root() / "rulesets" / "base"):
            say(text)
        return 0
    else:
        made = scaffold.topic_files(args.rule, folder, words)
    if args.shown:
        for item in made:
            say(item.text)
        return 0
    scaffold.write(made)
    for item in made:
        say(says("cli.written", file=content.shown(item.path)))
    rules, cases = (content.shown(item.path) for item in made)
    say(says("cli.rules.new.next", check=f" {rules}" if args.overlay else "", cases=cases))
    return 0

"""``hiveweek rules new``."""

from __future__ import annotations

from hiveweek.cli.rules import say


def register(parts) -> None:
    """Add this part."""
    parser = parts.add_parser(
        "new",
        help="begin a topic or an overlay from an example that passes",
        description="Write a new topic with "
        "one example rule and its cases, or with --overlay an overlay of your own. Nothing is ever overwritten.",
    )
    parser.add_argument("rule", nargs="?", metavar="TOPIC.NAME", help="id of the first rule of a new topic")
    parser.add_argument("--overlay", metavar="PROFILE", help="an overlay for this climate instead")
    parser.add_argument("--name", metavar="NAME", help="name of the overlay")
    parser.add_argument(
        "--folder", metavar="DIR", help="where the files go (rulesets/base; for an overlay the current folder)"
    )
    parser.add_argument(
        "--print",
        action="store_true",
        dest="shown",
        help="print the texts, write nothing (to copy a rule into a topic)",
    )
    parser.set_defaults(run=run)


def run(args) -> int:
    """Write the files and say what to do next."""
    from pathlib import Path

    from hiveweek import content, vocabulary
    from hiveweek.authoring import scaffold
    from hiveweek.problems import InputProblems, Problem

    wrong = None
    if args.overlay and args.rule:
        wrong = "name a rule or an overlay, not both"
    elif args.overlay and not args.name:
        wrong = "an overlay needs --name NAME"
    elif not args.overlay and not args.rule:
        wrong = "name the first rule as TOPIC.NAME, or --overlay PROFILE --name NAME"
    if wrong:
        raise InputProblems([Problem("", 0, 0, "command-line", wrong)])
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
        say(f"written: {content.shown(item.path)}")
    rules, cases = (content.shown(item.path) for item in made)
    say(
        f"Next: change the example, then 'hiveweek rules check{' ' + rules if args.overlay else ''}' and 'hiveweek rules cases {cases}'."
    )
    return 0

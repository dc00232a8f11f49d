"""``hiveweek week``: what to do this week, for each hive, and why."""

from __future__ import annotations

import argparse
import datetime as dt
import sys
from pathlib import Path

from hiveweek import content, facts, vocabulary
from hiveweek.plan.answer import Answer, answer
from hiveweek.plan.why import explain
from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.show import json as as_json
from hiveweek.show import week as as_text
from hiveweek.show import why as as_why
from hiveweek.show.text import Page
from hiveweek.texts.parts import message
from hiveweek.texts.speaker import IMPERIAL, METRIC, says
from hiveweek.vocabulary.model import Vocabulary

DONE, UNUSABLE, DIFFER = 0, 2, 3


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add the command to a parser."""
    parser = subparsers.add_parser(
        "week",
        help=says("cli.week.help"),
        description=says("cli.week.description"),
    )
    parser.add_argument("file", nargs="?", metavar="FILE", help=says("cli.week.file"))
    parser.add_argument("--date", metavar="YYYY-MM-DD", help=says("cli.week.date"))
    parser.add_argument("--hive", metavar="ID", help=says("cli.week.hive"))
    parser.add_argument("--rules", metavar="PATH", action="append", default=[], help=says("cli.week.rules"))
    parser.add_argument("--forecast", metavar="CSV", help=says("cli.week.forecast"))
    parser.add_argument("--facts", action="store_true", help=says("cli.week.facts"))
    parser.add_argument("--why", metavar="RULE", help=says("cli.week.why"))
    parser.add_argument("--imperial", action="store_true", help=says("cli.week.imperial"))
    parser.add_argument("--offline", action="store_true", help=says("cli.week.offline"))
    parser.add_argument("--strict", action="store_true", help=says("cli.week.strict"))
    shape = parser.add_mutually_exclusive_group()
    shape.add_argument("--json", action="store_true", help=says("cli.week.json"))
    shape.add_argument("--page", metavar="OUT.html", help=says("cli.week.page"))
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Answer, and return the exit code.

    0 done; 2 unusable input; 3 the two channels differ or, with ``--strict``, they do not both stand behind an answer.
    """
    try:
        return _run(args)
    except InputProblems as error:
        for problem in error.problems:
            print(problem, file=sys.stderr)
        return UNUSABLE


def _run(args: argparse.Namespace) -> int:
    words = vocabulary.load()
    path, demo = _file(args.file)
    date = _date(args.date)
    scenario = facts.read_scenario(path, words=words)
    known = [hive.id for hive in scenario.hives]
    if args.hive is not None and args.hive not in known:
        raise InputProblems(
            [
                _word(
                    "unknown-hive",
                    f"no hive '{args.hive}' in {content.shown(path)}{nearest(args.hive, known)}"
                    f"; there are {', '.join(known) or 'none'}",
                )
            ]
        )
    found = answer(
        scenario,
        date=date,
        forecast=args.forecast,
        offline=args.offline,
        extra=[Path(p) for p in args.rules],
        with_facts=args.facts,
        words=words,
    )
    for difference in found.differences:
        print(difference, file=sys.stderr)
    state, note = found.plan.channels["rete"], "; ".join(found.notes)
    if args.strict and state != "agrees":
        why = message("cli.week.channels-differ") if state == "differs" else note
        print(says("cli.week.no-answer", why=why), file=sys.stderr)
        return DIFFER
    if state in ("failed", "not run"):
        print(says("cli.week.answers-alone", note=note), file=sys.stderr)
    elif note and state != "absent":  # the JSON says so; a Python without the library would say it at every answer
        print(says("cli.week.note", note=note), file=sys.stderr)
    if args.why:
        _why(args, found, words)
    elif args.page:
        _page(args, found, words)
    elif args.json:
        sys.stdout.write(_json(found, args))
    else:
        if demo:
            print(says("cli.week.demo"), end="\n\n")
        page = Page(speaker=_speaker(args))
        as_text.show(page, found.plan, words, only=args.hive, with_facts=args.facts)
    return DIFFER if found.differences else DONE


def _page(args: argparse.Namespace, found: Answer, words: Vocabulary) -> None:
    from hiveweek.show import page as as_page  # only here: nobody else waits for the template library

    if args.hive is not None:
        found.plan.hives = [hive for hive in found.plan.hives if hive.id == args.hive]
    text = as_page.html(found.plan, words, speaker=_speaker(args), with_facts=args.facts)
    try:
        as_page.write(args.page, text)
    except OSError as error:
        raise InputProblems([_word("cannot-write", f"{args.page}: {error.strerror}")]) from None
    print(says("cli.written", file=args.page))


def _speaker(args):
    return IMPERIAL if args.imperial else METRIC


def _json(found: Answer, args: argparse.Namespace) -> str:
    if args.hive is not None:
        found.plan.hives = [hive for hive in found.plan.hives if hive.id == args.hive]
    return as_json.text(found.plan, with_facts=args.facts)


def _why(args: argparse.Namespace, found: Answer, words: Vocabulary) -> None:
    ruleset = found.inference.ruleset
    names = sorted([*ruleset.rules, *ruleset.prohibitions])
    if args.why not in names:
        gone = next((d for d in ruleset.disabled if d.get("rule") == args.why), None)
        said = message("cli.week.switched-off", reason=str(gone.get("reason"))) if gone else nearest(args.why, names)
        raise InputProblems([_word("unknown-rule", says("cli.week.unknown-rule", rule=args.why, said=said))])
    page = Page(speaker=_speaker(args))
    for row, hive in enumerate(found.inference.table.hives):
        if args.hive is None or hive == args.hive:
            as_why.show(page, explain(found.inference, args.why, row, found.date), words)


def _file(given: str | None) -> tuple[Path, bool]:
    if given is not None:
        return Path(given), False
    demo = content.root() / "scenarios" / "demo.yaml"
    if not demo.is_file():
        raise InputProblems([_word("no-file", "name a scenario file: hiveweek week FILE")])
    return demo, True


def _date(given: str | None) -> dt.date | None:
    if given is None:
        return None
    try:
        return dt.date.fromisoformat(given)
    except ValueError:
        raise InputProblems([_word("bad-date", f"--date needs a day like 2026-02-10, not '{given}'")]) from None


def _word(code: str, message: str) -> Problem:
    return Problem("", 0, 0, code, message)

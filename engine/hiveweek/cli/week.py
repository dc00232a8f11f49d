"""``hiveweek week``: what to do this week, for each hive, and why."""

from __future__ import annotations

import argparse
import datetime as dt
import sys
from pathlib import Path

from hiveweek import content, facts, vocabulary
from hiveweek.cli import week_record
from hiveweek.facts.scenario import Scenario
from hiveweek.plan.answer import Answer, answer
from hiveweek.plan.why import explain
from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.rules.model import RuleSet
from hiveweek.show import json as as_json
from hiveweek.show import week as as_text
from hiveweek.show import why as as_why
from hiveweek.show.text import Page
from hiveweek.texts.parts import message
from hiveweek.texts.speaker import IMPERIAL, METRIC, says
from hiveweek.vocabulary.model import Vocabulary

DONE, UNUSABLE, DIFFER = 0, 2, 3
FILE = "file"


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
    parser.add_argument("--apiary", metavar="NAME", help=says("cli.week.apiary"))
    parser.add_argument("--record", metavar="PATH|URL", help=says("cli.record.place"))
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
    date = _date(args.date)
    if args.file is not None:
        source, scenarios, only = FILE, [_of_file(Path(args.file), args, words)], args.hive
    else:
        source, scenarios, only = week_record.asked(args, words, date)
        if source == week_record.DEMO:
            _known_hive(args.hive, scenarios[0], week_record.demo())
    if args.page and len(scenarios) > 1:
        raise InputProblems([_word("which-apiary", "--page holds one apiary; say which with --apiary NAME")])
    answers = _answers(scenarios, args, words, date)
    if _channels(answers, strict=args.strict):
        return DIFFER
    if only is not None and (args.page or args.json):
        for found in answers:
            found.plan.hives = [hive for hive in found.plan.hives if hive.id == only]
    if args.why:
        _why(args, answers, words, only)
    elif args.page:
        _page(args, answers[0], words)
    elif args.json:
        sys.stdout.write(_json(answers, args, source, date))
    else:
        if source == week_record.DEMO:
            print(says("cli.week.demo"), end="\n\n")
        for number, found in enumerate(answers):
            if number:
                print()
            as_text.show(Page(speaker=_speaker(args)), found.plan, words, only=only, with_facts=args.facts)
    return DIFFER if any(found.differences for found in answers) else DONE


def _of_file(path: Path, args: argparse.Namespace, words: Vocabulary) -> Scenario:
    if args.record or args.apiary:
        raise InputProblems([_word("bad-words", "--record and --apiary are for a week without a FILE")])
    scenario = facts.read_scenario(path, words=words)
    _known_hive(args.hive, scenario, path)
    return scenario


def _known_hive(hive: str | None, scenario: Scenario, path: Path) -> None:
    known = [one.id for one in scenario.hives]
    if hive is not None and hive not in known:
        raise InputProblems(
            [
                _word(
                    "unknown-hive",
                    f"no hive '{hive}' in {content.shown(path)}{nearest(hive, known)}"
                    f"; there are {', '.join(known) or 'none'}",
                )
            ]
        )


def _answers(
    scenarios: list[Scenario], args: argparse.Namespace, words: Vocabulary, date: dt.date | None
) -> list[Answer]:
    """Answer every scenario; what is wrong with any of them is told for all."""
    answers: list[Answer] = []
    problems: list[Problem] = []
    rules: dict[str, RuleSet] = {}  # apiaries of one climate, law and overlays share their rules, read once
    for scenario in scenarios:
        of = repr((scenario.climate, scenario.apiary.overrides, scenario.jurisdiction, scenario.rulesets))
        try:
            answers.append(
                answer(
                    scenario,
                    date=date,
                    forecast=args.forecast,
                    offline=args.offline,
                    extra=[Path(p) for p in args.rules],
                    with_facts=args.facts,
                    words=words,
                    ruleset=rules.get(of),
                )
            )
            rules[of] = answers[-1].inference.ruleset
        except InputProblems as error:
            problems += error.problems
    if problems:
        raise InputProblems(problems)
    return answers


def _channels(answers: list[Answer], *, strict: bool) -> bool:
    """Say on stderr, each once, what the channels did; return whether ``--strict`` forbids an answer."""
    said: dict[str, None] = {}
    refused = False
    for found in answers:
        said.update(dict.fromkeys(map(str, found.differences)))
        state, note = found.plan.channels["rete"], "; ".join(found.notes)
        if strict and state != "agrees":
            why = message("cli.week.channels-differ") if state == "differs" else note
            said[says("cli.week.no-answer", why=why)] = None
            refused = True
        elif state in ("failed", "not run"):
            said[says("cli.week.answers-alone", note=note)] = None
        elif note and state != "absent":  # the JSON says so; a Python without the library would say it at every answer
            said[says("cli.week.note", note=note)] = None
    for line in said:
        print(line, file=sys.stderr)
    return refused


def _page(args: argparse.Namespace, found: Answer, words: Vocabulary) -> None:
    from hiveweek.show import page as as_page  # only here: nobody else waits for the template library

    text = as_page.html(found.plan, words, speaker=_speaker(args), with_facts=args.facts)
    try:
        as_page.write(args.page, text)
    except OSError as error:
        raise InputProblems([_word("cannot-write", f"{args.page}: {error.strerror}")]) from None
    print(says("cli.written", file=args.page))


def _speaker(args):
    return IMPERIAL if args.imperial else METRIC


def _json(answers: list[Answer], args: argparse.Namespace, source: str, date: dt.date | None) -> str:
    if source == FILE:
        return as_json.text(answers[0].plan, with_facts=args.facts)
    return as_json.text_of(source, date or dt.date.today(), [found.plan for found in answers], with_facts=args.facts)


def _why(args: argparse.Namespace, answers: list[Answer], words: Vocabulary, only: str | None) -> None:
    """Explain a rule at each hive; it must hold in one of the apiaries."""
    page = Page(speaker=_speaker(args))
    unknown: list[Problem] = []
    for found in answers:
        ruleset = found.inference.ruleset
        names = sorted([*ruleset.rules, *ruleset.prohibitions])
        if args.why not in names:
            gone = next((d for d in ruleset.disabled if d.get("rule") == args.why), None)
            said = (
                message("cli.week.switched-off", reason=str(gone.get("reason"))) if gone else nearest(args.why, names)
            )
            unknown.append(_word("unknown-rule", says("cli.week.unknown-rule", rule=args.why, said=said)))
            continue
        if len(answers) > 1:
            page.line(found.plan.name, style="bold")
        for row, hive in enumerate(found.inference.table.hives):
            if only is None or hive == only:
                as_why.show(page, explain(found.inference, args.why, row, found.date), words)
    if len(unknown) == len(answers):
        raise InputProblems(unknown)


def _date(given: str | None) -> dt.date | None:
    if given is None:
        return None
    try:
        return dt.date.fromisoformat(given)
    except ValueError:
        raise InputProblems([_word("bad-date", f"--date needs a day like 2026-02-10, not '{given}'")]) from None


def _word(code: str, message: str) -> Problem:
    return Problem("", 0, 0, code, message)

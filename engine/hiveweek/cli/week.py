"""``hiveweek week``: what to do this week, for each hive, and why."""

from __future__ import annotations

import argparse
import datetime as dt
import io
import sys
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from hiveweek import content, facts, vocabulary
from hiveweek.cli import week_record
from hiveweek.cli.progress import Working
from hiveweek.cli.week_why import Asked as Explained
from hiveweek.cli.week_why import Told, chosen
from hiveweek.facts.scenario import Scenario
from hiveweek.plan import rounds
from hiveweek.plan.answer import Answer
from hiveweek.plan.answers import Asking, answers, several
from hiveweek.plan.stops import Work
from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.show import files, round_text, trends
from hiveweek.show import json as as_json
from hiveweek.show import week as as_text
from hiveweek.show.text import Page, columns
from hiveweek.texts.parts import message
from hiveweek.texts.speaker import IMPERIAL, METRIC, says
from hiveweek.vocabulary.model import Vocabulary

if TYPE_CHECKING:
    from hiveweek.show.calendar import Entry

DONE, DIFFER = 0, 3
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
    parser.add_argument("--all", action="store_true", help=says("cli.week.all"))
    parser.add_argument("--apiary", metavar="NAME", help=says("cli.week.apiary"))
    parser.add_argument("--record", metavar="PATH|URL", help=says("cli.record.place"))
    parser.add_argument("--rules", metavar="PATH", action="append", default=[], help=says("cli.week.rules"))
    parser.add_argument("--forecast", metavar="CSV", help=says("cli.week.forecast"))
    parser.add_argument("--facts", action="store_true", help=says("cli.week.facts"))
    parser.add_argument("--why", metavar="NAME", help=says("cli.week.why"))
    parser.add_argument("--imperial", action="store_true", help=says("cli.week.imperial"))
    parser.add_argument("--offline", action="store_true", help=says("cli.week.offline"))
    parser.add_argument("--quiet", action="store_true", help=says("cli.week.quiet"))
    parser.add_argument("--strict", action="store_true", help=says("cli.week.strict"))
    shape = parser.add_mutually_exclusive_group()
    shape.add_argument("--json", action="store_true", help=says("cli.week.json"))
    shape.add_argument("--visits", action="store_true", help=says("cli.week.visits"))
    shape.add_argument("--calendar", metavar="OUT.ics", help=says("cli.week.calendar"))
    shape.add_argument("--page", metavar="OUT.html", help=says("cli.week.page"))
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Answer, and return the exit code.

    0 done; 3 the two channels differ or, with ``--strict``, they do not both stand behind an answer.

    Raises
    ------
    InputProblems
        For unusable input.
    """
    words = vocabulary.load()
    date = _date(args.date)
    if args.file is not None:
        asked = week_record.of_scenario(FILE, _of_file(Path(args.file), args, words), args.hive)
    else:
        asked = week_record.asked(args, words, date)
        if asked.source == week_record.DEMO:
            _known_hive(args.hive, asked.yards[0], week_record.demo())
    shown = _shown(asked, args, words, date)
    if _channels(shown, strict=args.strict, quiet=args.quiet):
        return DIFFER
    if args.why:
        _why(shown, asked)
    elif args.page:
        _page(args, shown)
    elif args.calendar:
        _calendar(args, shown, words)
    elif args.visits:
        page = Page(sys.stdout, _speaker(args), width=columns())
        round_text.show(page, rounds.plan_round([one.work for one in shown if one.work], words), words)
    elif args.json:
        text = shown[0].text if asked.source == FILE else as_json.together(asked.source, date, [s.text for s in shown])
        sys.stdout.write(text)
    else:
        if asked.source == week_record.DEMO and not args.quiet:
            print(says("cli.week.demo"), end="\n\n")
        sys.stdout.write("\n".join(one.text for one in shown))
        if len(shown) > 1 and not (args.all or args.facts):
            page = Page(sys.stdout, width=columns())
            page.line()
            as_text.foot(page)
    return DIFFER if any(one.differences for one in shown) else DONE


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


@dataclass
class _Shown:
    """What is shown of one apiary's answer, and what its channels did.

    Attributes
    ----------
    text : str
        In the shape that was asked for.
    state : str
        Of the second channel.
    note : str
        What is said about it; empty for nothing.
    differences : list of str
    unknown : list of Problem
        For ``--why``: there is no such name in the rules of this apiary.
    told : list of Told
        For ``--why``.
    title : str
        For ``--page``.
    work : Work or None
        For ``--visits`` and ``--calendar``.
    entries : list of Entry
        For ``--calendar``.
    """

    text: str
    state: str
    note: str
    differences: list[str]
    unknown: list[Problem]
    title: str
    work: Work | None = None
    entries: list[Entry] = field(default_factory=list)
    told: list[Told] = field(default_factory=list)


def _shown(
    asked: week_record.Questions, args: argparse.Namespace, words: Vocabulary, date: dt.date | None
) -> list[_Shown]:
    """Answer every apiary, in the order in which they are shown; what is wrong with any of them is told for all."""
    asking = Asking(
        asked.reading,
        lambda found: _show(found, args, words, asked),
        words,
        date,
        args.forecast,
        args.offline,
        tuple(Path(p) for p in args.rules),
        args.facts,
    )
    with Working(len(asked.yards), quiet=args.quiet, alone=several(asked.yards, asking) == 1) as working:
        found = answers(asked.yards, asking, working.step)
    found = [found[place] for place in asked.order]
    problems = [problem for one in found if isinstance(one, list) for problem in one]
    if problems:
        raise InputProblems(list(dict.fromkeys(problems)))
    return [one for one in found if not isinstance(one, list)]


def _show(found: Answer, args: argparse.Namespace, words: Vocabulary, asked: week_record.Questions) -> _Shown:
    """Return what is shown of an answer."""
    differences = [str(difference) for difference in found.differences]
    shown = _Shown("", found.plan.channels["rete"], "; ".join(found.notes), differences, [], "")
    speaker = _speaker(args)
    if args.why:
        try:
            titled = len(asked.yards) > 1
            shown.told = Explained(args.why, words, speaker, columns(), titled=titled).told(found)
        except InputProblems as error:
            shown.unknown = error.problems
        return shown
    if asked.only is not None and (args.page or args.json or args.visits or args.calendar):
        found.plan.hives = [hive for hive in found.plan.hives if hive.id == asked.only]
    if args.page:
        from hiveweek.show import page as as_page  # only here: nobody else waits for the template library

        drawn = as_page.Drawn(trends.trends(found), trends.season(found))
        part = as_page.part(found.plan, words, speaker=speaker, with_facts=args.facts, drawn=drawn)
        shown.title, shown.text = part.title, part.html
    elif args.visits or args.calendar:
        shown.work = rounds.work(found.plan, words)
        if args.calendar:
            from hiveweek.show import calendar  # as above

            shown.entries = calendar.entries(found.plan, words, speaker=speaker)
    elif args.json:
        shown.text = as_json.text(found.plan, with_facts=args.facts)
    else:
        out = io.StringIO()
        page = Page(out, speaker, terminal=sys.stdout.isatty(), width=columns())
        if args.all or args.facts or asked.only is not None:
            as_text.show_cards(page, found.plan, words, only=asked.only, with_facts=args.facts)
        else:
            as_text.show(page, found.plan, words, alone=len(asked.yards) == 1)
        shown.text = out.getvalue()
    return shown


def _why(shown: list[_Shown], asked: week_record.Questions) -> None:
    if all(one.unknown for one in shown):
        raise InputProblems([problem for one in shown for problem in one.unknown])
    for one in chosen([told for each in shown for told in each.told], asked.only):
        sys.stdout.write(one.text)


def _channels(shown: list[_Shown], *, strict: bool, quiet: bool) -> bool:
    """Say on stderr, each once, what the channels did; return whether ``--strict`` forbids an answer.

    Where they differ, and what is refused, is said also where all is quiet.
    """
    said: dict[str, None] = {}
    refused = False
    for one in shown:
        said.update(dict.fromkeys(one.differences))
        if strict and one.state != "agrees":
            why = message("cli.week.channels-differ") if one.state == "differs" else one.note
            said[says("cli.week.no-answer", why=why)] = None
            refused = True
        elif quiet:
            continue
        elif one.state in ("failed", "not run"):
            said[says("cli.week.answers-alone", note=one.note)] = None
        elif (
            one.note and one.state != "absent"
        ):  # the JSON says so; a Python without the library would say it at every answer
            said[says("cli.week.note", note=one.note)] = None
    for line in said:
        print(line, file=sys.stderr)
    return refused


def _page(args: argparse.Namespace, shown: list[_Shown]) -> None:
    from hiveweek.show import page as as_page

    parts = [as_page.Part(one.title, one.text) for one in shown]
    _write(args, args.page, as_page.whole(parts, speaker=_speaker(args)))


def _calendar(args: argparse.Namespace, shown: list[_Shown], words: Vocabulary) -> None:
    from hiveweek.show import calendar

    works = [one.work for one in shown if one.work is not None]
    entries = calendar.visits(rounds.plan_round(works, words), words, speaker=_speaker(args))
    entries += [entry for one in shown for entry in one.entries]
    day = max((work.date for work in works), default=dt.date.today())
    _write(args, args.calendar, calendar.text(entries, day))


def _write(args: argparse.Namespace, path: str, content: str | bytes) -> None:
    try:
        files.write(path, content)
    except OSError as error:
        raise InputProblems([_word("cannot-write", f"{path}: {error.strerror}")]) from None
    if not args.quiet:
        print(says("cli.written", file=path))


def _speaker(args):
    return IMPERIAL if args.imperial else METRIC


def _date(given: str | None) -> dt.date | None:
    if given is None:
        return None
    try:
        return dt.date.fromisoformat(given)
    except ValueError:
        raise InputProblems([_word("bad-date", f"--date needs a day like 2026-02-10, not '{given}'")]) from None


def _word(code: str, message: str) -> Problem:
    return Problem("", 0, 0, code, message)

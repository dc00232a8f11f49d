"""``hiveweek practice``: a scenario, what the learner would do there, and the answer beside it."""

from __future__ import annotations

import argparse
import datetime as dt
import re
import sys
from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import TypeVar

from hiveweek import vocabulary
from hiveweek.cli.complaint import complain
from hiveweek.cli.progress import Working, add_quiet
from hiveweek.cli.record_place import is_there, place_of, print_json, problem
from hiveweek.facts.scenario import Scenario
from hiveweek.numbers import Branch, shipped
from hiveweek.practice import jobs as job_words
from hiveweek.practice import lessons, spacing
from hiveweek.practice.marking import Marks, mark
from hiveweek.practice.sitting import Sitting
from hiveweek.problems import InputProblems
from hiveweek.record.entries import new_id
from hiveweek.record.practised import Practised
from hiveweek.record.store import Store, open_store
from hiveweek.show import practice as as_text
from hiveweek.show import practice_json as as_json
from hiveweek.show.text import Page, columns
from hiveweek.texts.parts import Day, message
from hiveweek.texts.speaker import IMPERIAL, METRIC, says
from hiveweek.vocabulary.model import Vocabulary

DONE, FAILED = 0, 1
STOPS = {"q", "quit", "exit", "stop"}
Read = TypeVar("Read")


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add the command to a parser."""
    parser = subparsers.add_parser(
        "practice", help=says("cli.main.practice"), description=says("cli.practice.description")
    )
    parser.add_argument("--list", action="store_true", help=says("cli.practice.list"))
    parser.add_argument("--progress", action="store_true", help=says("cli.practice.progress"))
    parser.add_argument("--check", metavar="FOLDER", help=says("cli.practice.check"))
    parser.add_argument("--from", dest="folder", metavar="FOLDER", help=says("cli.practice.folder"))
    parser.add_argument("--topic", metavar="TOPIC", help=says("cli.practice.topic"))
    parser.add_argument("--climate", metavar="PROFILE", help=says("cli.practice.climate"))
    parser.add_argument("--lesson", metavar="ID", help=says("cli.practice.lesson"))
    parser.add_argument("--seed", metavar="N", type=int, help=says("cli.practice.seed"))
    parser.add_argument("--look", metavar="LOOKS", default="", help=says("cli.practice.look"))
    parser.add_argument("--jobs", metavar="JOBS", help=says("cli.practice.jobs"))
    parser.add_argument("--sure", metavar="CHANCE", help=says("cli.practice.sure"))
    parser.add_argument("--unrecorded", action="store_true", help=says("cli.practice.unrecorded"))
    parser.add_argument("--imperial", action="store_true", help=says("cli.week.imperial"))
    add_quiet(parser)
    parser.add_argument("--record", metavar="PATH|URL", help=says("cli.record.place"))
    parser.add_argument("--json", action="store_true", help=says("cli.practice.json"))
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Practise, or tell about practice. 1 where scenarios of ``--check`` do not hold."""
    words = vocabulary.load()
    if args.check:
        return _check(args, words)
    numbers = shipped().branch("plan.practice")
    every = lessons.load(words, _folder(args.folder))
    wanted = lessons.chosen(every, args.topic, args.climate)
    page = Page(speaker=IMPERIAL if args.imperial else METRIC, width=columns())
    with _opened(args) as store:
        practised = [one for one in store.practised() if not one.who] if store is not None else []
        if args.list:
            _list(args, page, wanted, practised)
        elif args.progress:
            _progress(args, page, wanted, practised, numbers)
        else:
            _sit(args, page, words, every, wanted, practised, numbers, store)
    return DONE


def _folder(name: str | None) -> Path | None:
    if name is not None and not Path(name).is_dir():
        raise problem("no-folder", f"'{name}' is no folder")
    return None if name is None else Path(name)


def _opened(args: argparse.Namespace) -> AbstractContextManager[Store | None]:
    """Open the record; one is made only where something will be taken down."""
    place = place_of(args)
    writes = not (args.list or args.progress or args.unrecorded or (args.json and args.jobs is None))
    if args.unrecorded or not (writes or is_there(place)):
        return nullcontext(None)
    return open_store(place)


def _check(args: argparse.Namespace, words: Vocabulary) -> int:
    from hiveweek.authoring.lessons import judged  # only here: nobody else waits for the checks of authors

    scenarios = lessons.load(words, _folder(args.check))
    with Working(len(scenarios), quiet=args.quiet) as working:
        results = judged(working.each(scenarios), words)
    failed = [one for one in results if one.failures]
    if args.json:
        rows = [{"lesson": one.lesson, "found": one.found, "failures": one.failures} for one in results]
        print_json({"scenarios": len(results), "failed": len(failed), "results": rows})
    else:
        for one in failed:
            print(f"{one.place}: {one.lesson}", *one.failures, sep="\n  ")
        print(says("practice.held", n=len(results) - len(failed), of=len(results)))
    return FAILED if failed else DONE


def _list(args: argparse.Namespace, page: Page, found: list[Scenario], practised: list[Practised]) -> None:
    if not args.json:
        as_text.scenarios(page, found, practised)
        return
    marks = {
        lessons.lesson_of(one).id: [each.marks for each in practised if each.lesson == lessons.lesson_of(one).id]
        for one in found
    }
    print_json({"scenarios": [{**as_json.scenario(s), "practised": marks[lessons.lesson_of(s).id]} for s in found]})


def _progress(
    args: argparse.Namespace, page: Page, found: list[Scenario], practised: list[Practised], numbers: Branch
) -> None:
    stands = spacing.topics(found, practised)
    upcoming = spacing.following(found, practised, _now(), numbers, args.seed)
    if args.json:
        rows = {topic: {"practised": one.practised, "met": one.met, "mean": one.mean} for topic, one in stands.items()}
        print_json({"topics": rows, "next": as_json.scenario(upcoming)})
        return
    every = [lessons.lesson_of(one).topic for one in found]
    as_text.progress(page, stands, {topic: every.count(topic) for topic in stands}, numbers.topic_cases)
    page.say(message("practice.next", title=upcoming.title))


def _now() -> dt.datetime:
    return dt.datetime.now(dt.UTC)


def _sit(
    args: argparse.Namespace,
    page: Page,
    words: Vocabulary,
    every: list[Scenario],
    wanted: list[Scenario],
    practised: list[Practised],
    numbers: Branch,
    store: Store | None,
) -> None:
    """Ask one scenario, in words or from the options of the command."""
    if args.lesson:
        one = lessons.by_id(every, args.lesson)
    else:
        one = spacing.following(wanted, practised, _now(), numbers, args.seed)
    sitting = Sitting(one, words)
    seed = args.seed or 0
    asks = args.jobs is None
    if not args.json:
        as_text.question(page, sitting)
    if asks and not args.json:
        as_text.looks(page, sitting)
    for action in _looks(args.look, sitting):
        found = sitting.look(action)
        if not args.json:
            as_text.looked(page, found, words)
    if asks and args.json:
        print_json(as_json.question(sitting, sitting.offered(seed)))
        return
    if asks:
        asked = _ask_all(page, sitting, seed, numbers)
        if asked is None:
            page.line()
            page.say(message("practice.ended"))
            return
        chosen, chance = asked
    else:
        chosen = _jobs(args.jobs, sitting, seed)
        chance = _chance(args.sure or "", numbers)
    marks = mark(sitting, chosen, chance, seed)
    card = _kept(store, practised, sitting, marks, chance, numbers)
    if args.json:
        due = None if card is None else card.isoformat()
        print_json({**as_json.marks(sitting, marks, chance), "comes_back": due})
    else:
        as_text.marks(page, sitting, marks, chance)
        if card is not None:
            page.say(message("practice.back", day=Day(card.date())), style="dim")


def _kept(
    store: Store | None,
    practised: list[Practised],
    sitting: Sitting,
    marks: Marks,
    chance: float | None,
    numbers: Branch,
) -> dt.datetime | None:
    """Take a sitting down; return when the scenario comes back."""
    if store is None:
        return None
    done = Practised(
        new_id(),
        sitting.lesson.id,
        _now(),
        marks.total,
        tuple(choice.action for choice in marks.choices),
        tuple(look.action for look in sitting.looked),
        numbers.chance_unsaid if chance is None else chance,
        marks.sound,
    )
    store.add_practised([done])
    return spacing.cards([*practised, done], numbers)[done.lesson].due


# --- what the learner says ---------------------------------------------------------------------------------------------
def _looks(text: str, sitting: Sitting) -> list[str]:
    return job_words.read(text, sitting.looks(), sitting.words, sitting.looks())


def _jobs(text: str, sitting: Sitting, seed: int) -> list[str]:
    found = job_words.read(text, sitting.offered(seed), sitting.words)
    most = int(sitting.numbers.most_jobs)
    if len(found) > most:
        raise problem("too-many-jobs", f"at most {most} jobs; here are {len(found)}")
    return found


def _chance(text: str, numbers: Branch) -> float | None:
    """Return a chance from 0 to 1, said as a percentage or in a word; None for nothing said."""
    said = text.strip().casefold().removesuffix("%").strip()
    if not said:
        return None
    named = {"guess": "chance_guess", "fairly": "chance_fairly", "sure": "chance_sure"}
    if said in named:
        return float(numbers[named[said]].value)
    if said.isdigit() and int(said) <= 100:
        return int(said) / 100
    raise problem("bad-chance", f"'{text.strip()}' is no chance: 0 to 100, or {', '.join(named)}")


def _ask_all(page: Page, sitting: Sitting, seed: int, numbers: Branch) -> tuple[list[str], float | None] | None:
    """Ask for looks, jobs and how sure, line by line; None where the learner stops or the input ends."""

    def look_meant(text: str) -> None:
        _explain(page, text, sitting.looks(), sitting)

    def job_meant(text: str) -> None:
        _explain(page, text, sitting.offered(seed), sitting)

    while found := _ask(says("practice.ask-looks"), lambda text: _looks(text, sitting), look_meant):
        for action in found:
            as_text.looked(page, sitting.look(action), sitting.words)
    if found is None:
        return None
    page.line()
    as_text.jobs(page, sitting.offered(seed), sitting.words)
    said = says("practice.ask-jobs", n=int(numbers.most_jobs))
    chosen = _ask(said, lambda text: _jobs(text, sitting, seed), job_meant)
    if chosen is None:
        return None
    chance = _ask(says("practice.ask-sure"), lambda text: (_chance(text, numbers),), job_meant)
    return None if chance is None else (chosen, *chance)


def _explain(page: Page, text: str, listed: list[str], sitting: Sitting) -> None:
    """Print what looks, jobs, things that are known and words of the trade are."""
    if not text.strip(" ,;"):
        page.say(message("practice.help"))
    for part in (part.strip() for part in re.split("[,;]", text)):
        if part and not as_text.meant(page, part, sitting):
            actions = _named(part, listed, sitting)
            for action in actions:
                as_text.explained(page, action, sitting.words)
            if not actions:
                as_text.nearly_meant(page, part)


def _named(text: str, listed: list[str], sitting: Sitting) -> list[str]:
    """Return what looks and jobs a question may mean: one by its number or words, or all that hold these words."""
    try:
        return job_words.read(text, listed, sitting.words)
    except InputProblems:
        if text.isdigit():
            raise
        return job_words.fitting(text, sitting.words)


def _ask(prompt: str, read: Callable[[str], Read], explain: Callable[[str], None]) -> Read | None:
    """Return what a line of the input says, asked again until it can be read; None at a word that stops, or the input's end.

    A line that begins with a question mark asks what a look or job is.
    """
    while True:
        print(prompt, end="", flush=True)
        line = sys.stdin.readline()
        if not sys.stdin.isatty():
            print(line.rstrip("\n"))  # what was piped in stands after its question, as if it had been typed
        said = line.strip()
        if not line or said.casefold() in STOPS:
            return None
        try:
            if not said.startswith("?"):
                return read(said)
            explain(said.removeprefix("?"))
        except InputProblems as error:
            complain(error.problems)

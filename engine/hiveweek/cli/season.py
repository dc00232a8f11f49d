"""``hiveweek season``: a season played week by week, and its course beside two others."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from hiveweek import vocabulary
from hiveweek.cli.complaint import complain
from hiveweek.cli.progress import Working, add_quiet
from hiveweek.cli.record_place import print_json, problem
from hiveweek.files import read_bytes
from hiveweek.practice import jobs as job_words
from hiveweek.practice.season import Order, Season, again, played
from hiveweek.practice.world import WEEKS
from hiveweek.problems import InputProblems
from hiveweek.show import season as as_text
from hiveweek.show import week as as_week
from hiveweek.show.cards import name as job_name
from hiveweek.show.files import write
from hiveweek.show.text import Page, columns
from hiveweek.texts.parts import Capital, message
from hiveweek.texts.speaker import IMPERIAL, METRIC, says
from hiveweek.vocabulary.model import Vocabulary

MOST_BYTES = 20_000_000  # of a season that is kept
DONE = 0
ME, ADVICE, NOTHING = "me", "advice", "nothing"
FORM = 1
KEEPERS = {ADVICE: lambda season: season.follow(), NOTHING: lambda season: None}


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add the command to a parser."""
    parser = subparsers.add_parser("season", help=says("cli.main.season"), description=says("cli.season.description"))
    parser.add_argument("--climate", metavar="PROFILE", help=says("cli.season.climate"))
    parser.add_argument("--hives", metavar="N", type=int, help=says("cli.season.hives"))
    parser.add_argument("--seed", metavar="N", type=int, help=says("cli.season.seed"))
    parser.add_argument("--save", metavar="FILE", help=says("cli.season.save"))
    parser.add_argument("--new", action="store_true", help=says("cli.season.new"))
    parser.add_argument("--keeper", choices=(ME, *KEEPERS), default=ME, help=says("cli.season.keeper"))
    parser.add_argument("--alone", action="store_true", help=says("cli.season.alone"))
    add_quiet(parser)
    parser.add_argument("--imperial", action="store_true", help=says("cli.week.imperial"))
    parser.add_argument("--json", action="store_true", help=says("cli.season.json"))
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Play a season, or go on with one."""
    words = vocabulary.load()
    page = Page(speaker=IMPERIAL if args.imperial else METRIC, width=columns())
    if args.keeper != ME:
        one = _played(args, _asked(args), words, args.keeper)
        _show(args, page, args.keeper, one, words)
        return DONE
    path = _path(args)
    season = _begun(args, path, words)
    as_text.head(page, season)
    _play(page, season, path, args.quiet)
    if season.over:
        page.say(message("play.over"), style="bold")
        _show(args, page, ME, season, words)
    return DONE


def _played(args: argparse.Namespace, place: tuple[str, int, int], words: Vocabulary, name: str) -> Season:
    """Return a whole season of another keeper."""
    with Working(WEEKS, quiet=args.quiet, what=says("play.playing")) as working:

        def act(season: Season) -> None:
            KEEPERS[name](season)
            working.step()

        return played(*place, words, act)


def _asked(args: argparse.Namespace) -> tuple[str, int, int]:
    hives = 2 if args.hives is None else args.hives
    return args.climate or "cool_continental", hives, 1 if args.seed is None else args.seed


def _path(args: argparse.Namespace) -> Path:
    if args.save:
        return Path(args.save)
    import platformdirs

    return Path(platformdirs.user_data_dir("hiveweek", appauthor=False)) / "play.json"


def _begun(args: argparse.Namespace, path: Path, words: Vocabulary) -> Season:
    """Return the season that was saved, as far as it was played; another one where nothing was, or where one is asked for."""
    asks = any(word is not None for word in (args.climate, args.hives, args.seed))
    if args.new or not path.exists():
        return Season(*_asked(args), words)
    try:
        kept = json.loads(read_bytes(path, MOST_BYTES))
        if kept["hiveweek_season"] != FORM:
            raise ValueError("version")
        place = (str(kept["climate"]), int(kept["hives"]), int(kept["seed"]))
        orders = [Order(kind, hive, action, tuple(said)) for kind, hive, action, said in kept["orders"]]
    except (InputProblems, ValueError, KeyError, TypeError, IndexError) as error:
        raise problem("bad-season", f"{path} cannot be read as a season ({error}); --new begins another") from None
    if asks and place != _asked(args):
        raise problem(
            "season-begun",
            f"{path} holds a season of {place[0]}, {place[1]} hives, seed {place[2]}; --new begins another",
        )
    with Working(quiet=args.quiet):
        return again(*place, words, orders)


def _keep(season: Season, path: Path) -> None:
    """Save the orders; the file stands whole or as it was."""
    rows = [[order.kind, order.hive, order.action, list(order.said)] for order in season.orders]
    data = {
        "hiveweek_season": FORM,
        "climate": season.climate,
        "hives": season.hives,
        "seed": season.seed,
        "orders": rows,
    }
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write(path, json.dumps(data))
    except OSError as error:
        raise problem("cannot-write", f"{path}: {error.strerror}") from None


def _play(page: Page, season: Season, path: Path, quiet: bool) -> None:
    """Take orders from the input, line by line, until the season is over or the input ends."""
    shown = -1
    while not season.over:
        if shown != season.week:
            as_text.week(page, season)
            shown = season.week
        print("> ", end="", flush=True)
        line = sys.stdin.readline()
        if not sys.stdin.isatty():
            print(line.rstrip("\n"))
        if not line or line.strip().casefold() == "end":
            break
        try:
            _order(page, season, line.split(), quiet)
        except InputProblems as error:
            complain(error.problems)
    _keep(season, path)
    if not season.over:
        page.say(message("play.saved", week=season.week))


def _order(page: Page, season: Season, said: list[str], quiet: bool) -> None:
    if not said:
        return
    verb, rest = said[0].casefold(), said[1:]
    if verb == "next":
        if rest and not rest[0].isdigit():
            raise problem("bad-number", f"next takes a number of weeks, not '{rest[0]}'")
        with Working(quiet=quiet):
            for _ in range(int(rest[0]) if rest else 1):
                if not season.over:
                    season.pass_week()
    elif verb == "advice":
        with Working(quiet=quiet):
            plan = season.answer.plan
        as_week.show(page, plan, season.words, alone=False)
        page.say(message("week.label-wins"), style="dim")
    elif verb in ("look", "do") and len(rest) >= 2:
        hive = next((name for name in season.names if name.casefold() == rest[0].casefold()), rest[0])
        season.known_hive(hive)
        if verb == "look":
            for action in job_words.read(" ".join(rest[1:]), [], season.words, sorted(season.looks)):
                as_text.found(page, season, hive, season.look(hive, action))
        else:
            details = dict(word.split("=", 1) for word in rest[1:] if "=" in word)
            text = " ".join(word for word in rest[1:] if "=" not in word)
            for action in job_words.read(text, [], season.words):
                season.do(hive, action, details)
                job = Capital(job_name(season.words, action))
                page.say(message("play.done", hive=hive, job=job), indent=2)
    else:
        page.say(message("play.help"))


def _show(args: argparse.Namespace, page: Page, keeper: str, season: Season, words: Vocabulary) -> None:
    """Print the courses: this one and, unless it is to stand alone, the others."""
    seasons = {keeper: season}
    for name in KEEPERS:
        if name not in seasons and not args.alone:
            seasons[name] = _played(args, (season.climate, season.hives, season.seed), words, name)
    if args.json:
        print_json(as_text.as_json(seasons))
    else:
        as_text.courses(page, seasons)

"""Which record a command means, and which apiary and hives of it."""

from __future__ import annotations

import argparse
import datetime as dt
import json
import os
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.record import Apiary, Hive
from hiveweek.record.places import apiary_of as apiary_of
from hiveweek.record.places import today as today
from hiveweek.record.plain_form import jsonable
from hiveweek.record.record import folded
from hiveweek.record.store import Store, open_store
from hiveweek.record.values import day_of
from hiveweek.texts.speaker import says

MOST_NAMED = 25
ALL, BUT = "all", ("but", "except")


def problem(code: str, message: str) -> InputProblems:
    """Return one complaint about the words of a command."""
    return InputProblems([Problem("", 0, 0, code, message)])


def add_place(parser: argparse.ArgumentParser) -> None:
    """Add what every command of the record takes."""
    parser.add_argument("--record", metavar="PATH|URL", help=says("cli.record.place"))
    parser.add_argument("--json", action="store_true", help=says("cli.record.json"))


def place_of(args: argparse.Namespace) -> str:
    """Return the record's file or URL: the word of the command, the environment's, or the user's own."""
    given = getattr(args, "record", None) or os.environ.get("HIVEWEEK_RECORD")
    if given:
        return str(given)
    import platformdirs

    return str(Path(platformdirs.user_data_dir("hiveweek", appauthor=False)) / "record.sqlite")


def is_there(place: str) -> bool:
    """Whether there is a record to read; of a server only opening it tells."""
    return "://" in place or Path(place).exists()


def open_record(args: argparse.Namespace, *, make: bool = False) -> Store:
    """Open the record of a command.

    Parameters
    ----------
    args : Namespace
        With ``record``.
    make : bool
        Make one where there is none.

    Raises
    ------
    InputProblems
        Where there is none, or it cannot be opened.
    """
    place = place_of(args)
    if not make and not is_there(place):
        raise problem("no-record", f"there is no record at {place} yet; 'hiveweek apiary new NAME' begins one")
    return open_store(place)


def add_span(parser: argparse.ArgumentParser) -> None:
    """Add the options that choose an apiary and days."""
    parser.add_argument("--apiary", metavar="NAME", help=says("cli.hive.apiary"))
    parser.add_argument("--from", dest="first", metavar="YYYY-MM-DD", help=says("cli.record.from"))
    parser.add_argument("--to", dest="last", metavar="YYYY-MM-DD", help=says("cli.record.to"))


def span(args: argparse.Namespace) -> tuple[dt.date, dt.date]:
    """Return the first and the last day chosen; where none is, all days."""
    return day_given(args.first, "--from") or dt.date.min, day_given(args.last, "--to") or dt.date.max


def day_given(text: str | None, word: str = "--date") -> dt.date | None:
    """Return the day a command gives; None where it gives none."""
    if text is None:
        return None
    try:
        return day_of(text)
    except ValueError as error:
        raise problem("bad-date", f"{word} {error}") from None


def good_name(name: str) -> str:
    """Return a name fit for an apiary or a hive, blanks made one.

    Raises
    ------
    InputProblems
        Empty, long, or with what separates names on the command line.
    """
    found = " ".join(name.split())
    words = folded(found).split()
    if not found or len(found) > 60 or not found.isprintable() or found.startswith("-"):
        raise problem("bad-name", f"'{name}' is no name: a short text on one line, not beginning with a dash")
    if "," in found or "/" in found or words[0] == ALL:
        raise problem("bad-name", f"'{name}' is no name here: commas, slashes and 'all' stand between names")
    return found


def find_apiary(store: Store, name: str | None) -> Apiary:
    """Return the apiary of a name; without one the only apiary there is.

    Raises
    ------
    InputProblems
        None of that name (with the nearest), or several and no name.
    """
    apiaries = store.apiaries()
    if name is None:
        if len(apiaries) == 1:
            return apiaries[0]
        if not apiaries:
            raise problem("no-apiary", "there is no apiary yet; 'hiveweek apiary new NAME' adds one")
        raise problem("which-apiary", f"say which apiary: {_names(apiaries)}")
    for apiary in apiaries:
        if folded(apiary.name) == folded(name) or apiary.id == name:
            return apiary
    raise problem("unknown-apiary", f"no apiary '{name}'; there are {_names(apiaries)}{_nearest(name, apiaries)}")


def _nearest(name: str, things: Sequence[Apiary | Hive]) -> str:
    return nearest(name, [thing.name for thing in things])


def _names(things: Iterable[Apiary | Hive]) -> str:
    names = sorted(thing.name for thing in things)
    more = [f"... ({len(names)})"] if len(names) > MOST_NAMED else []
    return ", ".join([*names[:MOST_NAMED], *more]) or "none"


def find_hives(store: Store, text: str, day: dt.date, apiary: Apiary | None = None) -> list[Hive]:
    """Return the hives that a text names, each once, in its order.

    Parameters
    ----------
    text : str
        ``Ash``, ``Ash,Birch``, ``Mill Lane/Ash``, ``all``, ``Mill Lane/all``, ``all but Elm,Oak``.
    day : date
        ``all`` are those that stand there on that day; a hive named by its own name may have ended.
    apiary : Apiary, optional
        Only its hives.

    Raises
    ------
    InputProblems
        For every name that is no hive's, with the nearest, or that is a hive's in two apiaries.
    """
    head, _, rest = text.strip().partition(" ")
    words = rest.split(maxsplit=1)
    left_out: list[Hive] = []
    if folded(head.rpartition("/")[2]) == ALL and len(words) == 2 and folded(words[0]) in BUT:
        text, within = head, head.rpartition("/")[0]
        found = find_apiary(store, within) if within else apiary
        left_out = find_hives(store, words[1], day, found)
    problems: list[Problem] = []
    named: dict[str, Hive] = {}
    for item in text.split(","):
        try:
            named.update({hive.id: hive for hive in _item(store, item.strip(), day, apiary)})
        except InputProblems as error:
            problems += error.problems
    if problems:
        raise InputProblems(problems)
    out = {hive.id for hive in left_out}
    kept = [hive for hive in named.values() if hive.id not in out]
    if not kept:
        raise problem("no-hive", f"no hive is left of '{text}'")
    return kept


def find_hive(store: Store, text: str, day: dt.date, apiary: Apiary | None = None) -> Hive:
    """Return the one hive that a text names.

    Raises
    ------
    InputProblems
        As `find_hives`; or for more than one.
    """
    found = find_hives(store, text, day, apiary)
    if len(found) > 1:
        raise problem("one-hive", f"this takes one hive, not {len(found)}")
    return found[0]


def _item(store: Store, item: str, day: dt.date, apiary: Apiary | None) -> list[Hive]:
    within, slash, name = item.rpartition("/")
    if slash:
        apiary = find_apiary(store, within.strip())
        name = name.strip()
    if folded(name) == ALL:
        return [hive for hive in store.hives(apiary.id if apiary else None) if _stands(hive, day, apiary)]
    same = [hive for hive in store.hives_named(name) if apiary is None or _ever(hive, apiary)]
    living = [hive for hive in same if _stands(hive, day, apiary)]
    found = living or [hive for hive in same if hive.ended is None] or same[-1:]
    if not found:
        known = [hive for hive in store.hives(apiary.id if apiary else None) if _stands(hive, day, apiary)]
        raise problem("unknown-hive", f"no hive '{item}'; there are {_names(known)}{_nearest(name, known)}")
    if len(found) > 1:
        names = {one.id: one.name for one in store.apiaries()}
        where = ", ".join(f"{names[hive.placements[-1].apiary]}/{hive.name}" for hive in found)
        raise problem("two-hives", f"'{item}' is more than one hive; say {where}")
    return found


def _stands(hive: Hive, day: dt.date, apiary: Apiary | None) -> bool:
    at = hive.apiary_on(day)
    return at is not None and (apiary is None or at == apiary.id)


def _ever(hive: Hive, apiary: Apiary) -> bool:
    return any(placement.apiary == apiary.id for placement in hive.placements)


def print_json(data: Any) -> None:
    """Print plain data as JSON."""
    json.dump(jsonable(data), sys.stdout, indent=2, ensure_ascii=False, allow_nan=False)
    print()

"""What ``hiveweek week`` asks where no file is named: every apiary of the record, or the demo where there is no record yet."""

from __future__ import annotations

import argparse
import datetime as dt
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from hiveweek import content, facts
from hiveweek.cli.record_place import find_apiary, find_hive, is_there, place_of, problem, today
from hiveweek.facts.scenario import Scenario, scenario_of_record
from hiveweek.record import Apiary
from hiveweek.record.store import Store, open_store
from hiveweek.vocabulary.model import Vocabulary

RECORD, DEMO = "record", "demo"


@dataclass(frozen=True)
class Questions:
    """What a week is asked about.

    Attributes
    ----------
    source : str
        ``file``, ``record`` or ``demo``.
    yards : list
        One for each apiary, those of the same climate, law and overlays side by side.
    order : list of int
        Places of the yards in the order in which they are shown.
    reading : callable
        Opens what they are read from and gives the function that makes of a yard its scenario.
    only : str or None
        Id of the one hive to show.
    """

    source: str
    yards: list
    order: list[int]
    reading: Callable[[], AbstractContextManager[Callable[[Any], Scenario]]]
    only: str | None


def of_scenario(source: str, scenario: Scenario, only: str | None) -> Questions:
    """Return the question of one scenario that is read already."""
    return Questions(source, [scenario], [0], lambda: nullcontext(lambda yard: yard), only)


def asked(args: argparse.Namespace, words: Vocabulary, date: dt.date | None) -> Questions:
    """Return what to ask: every apiary of the record, or the demo.

    Raises
    ------
    InputProblems
        For a record that cannot be read, an apiary or hive that is not there, an apiary without a climate.
    """
    place = place_of(args)
    if is_there(place):
        with open_store(place) as store:
            apiaries = store.apiaries()
            if apiaries:
                yards, only = _wanted(store, args, apiaries, date)
                # Names order them on the screen; the rules that they share order the work.
                rank = sorted(range(len(yards)), key=lambda k: repr(_rules_of(yards[k][0])))
                order = sorted(range(len(yards)), key=lambda k: rank[k])
                return Questions(RECORD, [yards[k] for k in rank], order, lambda: _read_from(place), only)
    elif getattr(args, "record", None):
        raise problem("no-record", f"there is no record at {place} yet; 'hiveweek apiary new NAME' begins one")
    if args.apiary:
        raise problem("unknown-apiary", f"no apiary '{args.apiary}': there is no record yet")
    return of_scenario(DEMO, facts.read_scenario(demo(), words=words), args.hive)


def _wanted(
    store: Store, args: argparse.Namespace, apiaries: list[Apiary], date: dt.date | None
) -> tuple[list[tuple[Apiary, dt.date]], str | None]:
    """Return the apiaries that are asked about, each with its day, and the one hive."""
    within = find_apiary(store, args.apiary) if args.apiary else None
    hive = find_hive(store, args.hive, date or today(within), within) if args.hive else None
    wanted = [within] if within is not None else apiaries
    if hive is not None:
        stands = hive.apiary_on(date or today(within))
        wanted = [apiary for apiary in wanted if apiary.id == stands]
        if not wanted:
            raise problem("hive-ended", f"'{hive.name}' stands nowhere on {date or today(within)}")
    homeless = [apiary.name for apiary in wanted if not apiary.climate]
    if homeless:
        names = ", ".join(homeless)
        raise problem("no-climate", f"{names}: no climate yet; 'hiveweek apiary set NAME climate=PROFILE'")
    return [(apiary, date or today(apiary)) for apiary in wanted], hive.name if hive is not None else None


def _rules_of(apiary: Apiary) -> tuple:
    return apiary.climate, sorted(apiary.overrides), apiary.jurisdiction, apiary.rulesets


@contextmanager
def _read_from(place: str) -> Iterator[Callable[[tuple[Apiary, dt.date]], Scenario]]:
    with open_store(place) as store:
        yield lambda yard: scenario_of_record(store.record([yard[0].id], yard[1]), yard[0].id, yard[1])


def demo() -> Path:
    """Return the file of the demo apiary."""
    found = content.root() / "scenarios" / "demo.yaml"
    if not found.is_file():
        raise problem("no-file", "name a scenario file: hiveweek week FILE")
    return found

"""What ``hiveweek week`` asks where no file is named: every apiary of the record, or the demo where there is no record yet."""

from __future__ import annotations

import argparse
import datetime as dt
from pathlib import Path

from hiveweek import content, facts
from hiveweek.cli.record_place import find_apiary, find_hive, is_there, place_of, problem, today
from hiveweek.facts.scenario import Scenario, scenario_of_record
from hiveweek.record.store import open_store
from hiveweek.vocabulary.model import Vocabulary

RECORD, DEMO = "record", "demo"


def asked(args: argparse.Namespace, words: Vocabulary, date: dt.date | None) -> tuple[str, list[Scenario], str | None]:
    """Return where the questions come from (record or demo), a scenario for each apiary, and the id of the one hive to show.

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
                days = {apiary.id: date or today(apiary) for apiary in wanted}
                records = {apiary.id: store.record([apiary.id], days[apiary.id]) for apiary in wanted}
                scenarios = [scenario_of_record(records[key], key, day) for key, day in days.items()]
                return RECORD, scenarios, hive.name if hive is not None else None
    elif getattr(args, "record", None):
        raise problem("no-record", f"there is no record at {place} yet; 'hiveweek apiary new NAME' begins one")
    if args.apiary:
        raise problem("unknown-apiary", f"no apiary '{args.apiary}': there is no record yet")
    return DEMO, [facts.read_scenario(demo(), words=words)], args.hive


def demo() -> Path:
    """Return the file of the demo apiary."""
    found = content.root() / "scenarios" / "demo.yaml"
    if not found.is_file():
        raise problem("no-file", "name a scenario file: hiveweek week FILE")
    return found

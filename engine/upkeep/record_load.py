"""What a large record costs: ``python -m upkeep.record_load`` (long). Times are processor times of this machine; what counts are ratios.

Builds a record of many hives with years of weekly notes, and one apiary of it in a record of its own. Then asks for the week of that
apiary in both, for the week of all, and writes a note.
"""

from __future__ import annotations

import argparse
import datetime as dt
import os
import random
import resource
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from hiveweek.cli.record_place import find_hives
from hiveweek.record import Apiary, Entry, Hive, Kind, Placement
from hiveweek.record.entries import new_id
from hiveweek.record.store import codec, open_store
from hiveweek.record.store.store import Store

TODAY = dt.date(2026, 8, 10)
YARD = 40  # hives of an apiary
BATCH = 20_000
CLIMATES = ("cool_continental", "boreal", "cool_maritime", "mild_maritime")
SPACE = uuid.UUID("1b9d6bcd-bbfd-4b2d-9b5d-ab8dfbbd4bed")


def key(*parts: object) -> str:
    """Return an id that is the same in every run."""
    return str(uuid.uuid5(SPACE, " ".join(map(str, parts))))


def notes(hive: str, apiary: str, weeks: int, chance: random.Random) -> Iterator[Entry]:
    """Yield the weekly notes of a hive, oldest first: some facts each, no two hives alike; a feed now and then, a count twice a year."""
    for week in range(weeks):
        day = TODAY - dt.timedelta(weeks=weeks - 1 - week)
        summer = 4 <= day.month <= 9
        facts: dict[str, float | str | bool] = {"food.stores_kg": round(chance.uniform(2, 25), 1)}
        if summer:
            facts["colony.frames_of_bees"] = round(chance.uniform(4, 14), 1)
            facts["colony.frames_of_brood"] = round(chance.uniform(1, 8), 1)
            facts["colony.eggs"] = chance.random() < 0.9
            facts["colony.queen_cells"] = chance.choice(("none", "none", "none", "play_cups", "charged"))
            facts["food.nectar"] = chance.choice(("none", "some", "strong"))
        else:
            facts["food.heft"] = chance.choice(("light", "middling", "heavy"))
        if week % 26 == 0:
            facts["mites.drop_per_day"] = round(chance.expovariate(0.3), 1)
        at = dt.datetime.combine(day, dt.time(9), dt.UTC)
        common: dict[str, Any] = {"note": key(hive, week, "n"), "recorded_at": at}
        if chance.random() < 0.05:
            details = {"litres": round(chance.uniform(1, 4), 1)}
            yield Entry(
                key(hive, week),
                Kind.DONE,
                apiary,
                hive,
                day,
                action="feed-thick-syrup",
                details=details,
                text="fed",
                **common,
            )
        else:
            yield Entry(
                key(hive, week),
                Kind.SEEN,
                apiary,
                hive,
                day,
                facts=facts,
                text="as usual",
                **common,
            )


def build(store: Store, apiaries: range, years: int, climates: tuple[str, ...]) -> int:
    """Fill a store with apiaries of 40 hives; return how many entries it holds. Rows go in as they would by ``add``, in large steps."""
    weeks = years * 52
    total = 0
    for number in apiaries:
        apiary = Apiary(
            key("apiary", number),
            f"Yard {number}",
            climate=climates[number % len(climates)],
        )
        store.add_apiary(apiary)
        entries: list[dict] = []
        told: list[dict] = []
        sequence = 0
        with store.writing():
            for one in range(YARD):
                hive = key("hive", number, one)
                start = TODAY - dt.timedelta(weeks=weeks)
                store.add_hive(Hive(hive, f"Hive {one}", (Placement(apiary.id, start),)))
                for entry in notes(hive, apiary.id, weeks, random.Random(f"{number} {one}")):
                    sequence += 1
                    entries.append({**codec.entry_row(entry), "sequence": sequence})
                    told += codec.told_rows(entry)
                if len(entries) >= BATCH or one == YARD - 1:
                    store.backend.run("add_entry", entries)
                    store.backend.run("tell", told)
                    total += len(entries)
                    entries, told = [], []
            store.backend.run("set_revision", [{"key": apiary.id, "revision": sequence + YARD}])
    return total


def asked(*words: str, record: str) -> tuple[float, float]:
    """Run a command of its own; return its processor time and its time by the clock, in seconds."""
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    environment = {**os.environ, "HIVEWEEK_RECORD": record}
    subprocess.run(
        [sys.executable, "-m", "hiveweek.cli.main", *words],
        check=True,
        stdout=subprocess.DEVNULL,
        env=environment,
    )
    after, wall = (
        resource.getrusage(resource.RUSAGE_CHILDREN),
        time.perf_counter() - start,
    )
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, wall


def checked(record: str) -> tuple[float, float]:
    """Check a record in a process of its own; return its processor time in seconds and the memory that it took, in MB."""
    command = [sys.executable, "-m", "hiveweek.cli.main", "record", "check"]
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL, env={**os.environ, "HIVEWEEK_RECORD": record})
    _, status, used = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode:
        raise subprocess.CalledProcessError(child.returncode, command)
    return used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def best(times: int, *words: str, record: str) -> float:
    """Return the least processor time of several runs."""
    return min(asked(*words, record=record)[0] for _ in range(times))


def note(record: str) -> float:
    """Write notes into an open record; return the processor time of one, in seconds."""
    spent = []
    with open_store(record) as store:
        for number in range(20):
            start = time.process_time()
            (hive,) = find_hives(store, "Yard 1/Hive 7", TODAY)
            store.add(
                [
                    Entry(
                        new_id(),
                        Kind.SEEN,
                        hive.placements[-1].apiary,
                        hive.id,
                        TODAY,
                        facts={"food.stores_kg": float(number)},
                        note=new_id(),
                    )
                ]
            )
            spent.append(time.process_time() - start)
    return sorted(spent)[len(spent) // 2]


def reading(record: str, number: int) -> float:
    """Return the processor time of reading one apiary, in seconds."""
    with open_store(record) as store:
        spent = []
        for _ in range(5):
            start = time.process_time()
            store.record([key("apiary", number)], TODAY)
            spent.append(time.process_time() - start)
    return min(spent)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--hives", type=int, default=5000)
    parser.add_argument("--years", type=int, default=10)
    parser.add_argument("--keep", help="build the record here, or use the one that is there")
    parser.add_argument("--url", help="an empty database instead of a file")
    parser.add_argument("--whole", action="store_true", help="ask for the week of all hives too")
    parser.add_argument("--check", action="store_true", help="check the whole record too, and the small one")
    parser.add_argument(
        "--turns",
        type=int,
        default=3,
        help="how often the week of one apiary is asked; the least counts",
    )
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        where = args.url or args.keep or str(Path(folder, "large.sqlite"))
        small = str(Path(folder, "small.sqlite"))
        start = time.perf_counter()
        with open_store(where) as store:
            if not store.apiaries():
                count = build(store, range(args.hives // YARD), args.years, CLIMATES)
                print(
                    f"built: {count} entries in {time.perf_counter() - start:.0f} s",
                    flush=True,
                )
        with open_store(small) as store:
            build(store, range(1, 2), args.years, CLIMATES)
        told: dict[str, float] = {}

        def found(name: str, value: float) -> float:
            told[name] = round(value, 3)
            print(f"{name} {told[name]}", flush=True)
            return value

        found("read_large_s", reading(where, 1))
        found("read_small_s", reading(small, 1))
        found("note_large_ms", 1000 * note(where))
        found("note_small_ms", 1000 * note(small))
        words = (
            "week",
            "--apiary",
            "Yard 1",
            "--json",
            "--offline",
            "--date",
            TODAY.isoformat(),
        )
        large = found("week_large_s", best(args.turns, *words, record=where))
        alone = found("week_small_s", best(args.turns, *words, record=small))
        found("ratio", large / alone)
        if args.whole:
            processor, clock = asked("week", "--json", "--offline", "--date", TODAY.isoformat(), record=where)
            found("whole_cpu_s", processor)
            found("whole_wall_s", clock)
            found("whole_apiary_over_alone", processor / (args.hives / YARD) / alone)
        if args.check:
            (large, memory), (alone, little) = checked(where), checked(small)
            found("check_cpu_s", large)
            found("check_mb", memory)
            found("check_an_entry_over_small", large / alone / (args.hives / YARD))
            found("check_memory_over_small", memory / little)


if __name__ == "__main__":
    main()

"""Writers killed at any moment: nothing that was acknowledged is lost, the file opens, and it is whole.

    python -m upkeep.record_hunt --kills 1000

A child process writes entries and tells each id once the store has returned; the parent kills it after a random time, opens the file
and looks.
"""

from __future__ import annotations

import argparse
import datetime as dt
import random
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path

from hiveweek.record import Apiary, Hive, Placement
from hiveweek.record.entries import new_id
from hiveweek.record.store import open_store

WRITER = """
import sys, datetime as dt
from hiveweek.record import Entry, Kind
from hiveweek.record.entries import new_id
from hiveweek.record.store import open_store
where, apiary, hive = sys.argv[1:]
print("open", flush=True)
with open_store(where) as store:
    while True:
        batch = [Entry(new_id(), Kind.SEEN, apiary, hive, dt.date(2026, 3, 1), facts={"food.stores_kg": 8.0}) for _ in range(3)]
        store.add(batch)
        print(*(entry.id for entry in batch), flush=True)
"""


@dataclass
class Tally:
    """What the kills showed."""

    kills: int = 0
    acknowledged: int = 0
    kept: int = 0
    faults: list[str] = field(default_factory=list)


def kill_writers(where: Path | str, kills: int, seed: int) -> Tally:
    """Kill writers at random moments and look at the record after each.

    Parameters
    ----------
    where : path or str
        A new file or an empty database.
    """
    chance = random.Random(seed)
    tally = Tally()
    apiary = Apiary(new_id(), "Mill Lane", climate="cool_continental")
    hive = Hive(new_id(), "Ash", (Placement(apiary.id, dt.date(2026, 1, 1)),))
    with open_store(where) as store:
        store.add_apiary(apiary)
        store.add_hive(hive)
    told: set[str] = set()
    for _ in range(kills):
        command = [sys.executable, "-c", WRITER, str(where), apiary.id, hive.id]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as child:
            assert child.stdout is not None
            child.stdout.readline()
            time.sleep(chance.uniform(0.0, 0.12))
            child.kill()
            lines = child.stdout.read().splitlines(keepends=True)
        told |= {key for line in lines if line.endswith("\n") for key in line.split()}
        tally.kills += 1
        with open_store(where) as store:
            kept = {entry.id for entry in store.everything().entries}
            if told - kept:
                tally.faults.append(f"{len(told - kept)} acknowledged entries are gone")
            if len(kept) % 3:
                tally.faults.append("part of a batch was kept")
            tally.faults += store.check()
    tally.acknowledged, tally.kept = len(told), len(kept)
    return tally


def main() -> int:
    """Run from the command line; 1 where anything was lost."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--record", help="a database URL; a file of its own by default")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        tally = kill_writers(args.record or Path(folder) / "record.sqlite", args.kills, args.seed)
    print(
        f"{tally.kills} kills, {tally.acknowledged} entries acknowledged, {tally.kept} kept, {len(tally.faults)} faults"
    )
    print("\n".join(tally.faults[:20]))
    return 1 if tally.faults else 0


if __name__ == "__main__":
    sys.exit(main())

"""Writers killed at any moment: nothing that was acknowledged is lost, the file opens, and it is whole.

    python -m upkeep.record_hunt --kills 1000

Two child processes write entries at once and tell each id once the store has returned; the parent kills each after a random time,
opens the record and looks.
"""

from __future__ import annotations

import argparse
import datetime as dt
import multiprocessing
import random
import sys
import tempfile
import time
from contextlib import suppress
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from multiprocessing.context import ForkContext, SpawnContext
from pathlib import Path

from hiveweek.record import Apiary, Entry, Hive, Kind, Placement
from hiveweek.record.entries import new_id
from hiveweek.record.store import open_store

BATCH = 3  # entries that the writer writes in one go
LOOK_EVERY = 100  # kills after which the whole record is looked through


def _write(pipe: Connection, where: str, apiary: str, hive: str) -> None:
    """Write for ever, and tell each id once the store has returned."""
    with open_store(where) as store:
        pipe.send([])
        while True:
            facts = {"food.stores_kg": 8.0}
            batch = [Entry(new_id(), Kind.SEEN, apiary, hive, dt.date(2026, 3, 1), facts=facts) for _ in range(BATCH)]
            store.add(batch)
            pipe.send([entry.id for entry in batch])


def _told(pipe: Connection) -> list[str]:
    """Return the ids that a writer has told; half a message is none."""
    told: list[str] = []
    with suppress(EOFError, OSError):
        while True:
            told += pipe.recv()
    return told


@dataclass
class Tally:
    """What the kills showed."""

    kills: int = 0
    acknowledged: int = 0
    kept: int = 0
    faults: list[str] = field(default_factory=list)


def kill_writers(where: Path | str, kills: int, seed: int, writers: int = 2) -> Tally:
    """Kill writers at random moments and look at the record after each.

    Parameters
    ----------
    where : path or str
        A new file or an empty database.
    kills : int
        How many writers are killed.
    writers : int
        How many write at once, all for one hive.
    """
    chance = random.Random(seed)
    tally = Tally()
    apiary = Apiary(new_id(), "Mill Lane", climate="cool_continental")
    hive = Hive(new_id(), "Ash", (Placement(apiary.id, dt.date(2026, 1, 1)),))
    with open_store(where) as store:
        store.add_apiary(apiary)
        store.add_hive(hive)
    # A fork of this process writes at once; one that is spawned first loads all that it needs.
    context: ForkContext | SpawnContext = multiprocessing.get_context("spawn")
    if "fork" in multiprocessing.get_all_start_methods():
        context = multiprocessing.get_context("fork")
    while tally.kills < kills:
        children, pipes = [], []
        for _ in range(writers):
            near, far = context.Pipe(duplex=False)
            children.append(context.Process(target=_write, args=(far, str(where), apiary.id, hive.id), daemon=True))
            pipes.append(near)
            children[-1].start()
            far.close()
        for pipe in pipes:
            pipe.recv()  # it is about to write
        for child in chance.sample(children, len(children)):
            time.sleep(chance.uniform(0.0, 0.12))
            child.kill()
        told = [key for pipe in pipes for key in _told(pipe)]
        for child in children:
            child.join()
        tally.kills += len(children)
        tally.acknowledged += len(told)
        with open_store(where) as store:
            gone = sum(not store.has(key) for key in told)
            if gone:
                tally.faults.append(f"{gone} acknowledged entries are gone")
            if tally.kills % LOOK_EVERY < len(children) or tally.kills >= kills:
                tally.kept = len(store.everything().entries)
                tally.faults += store.check()
                if tally.kept % BATCH:
                    tally.faults.append("part of a batch was kept")
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

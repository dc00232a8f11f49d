"""A move as an entry, and what taking it back means for where the hive stands."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from hiveweek.record.entries import Entry, Kind, new_id
from hiveweek.record.record import Hive
from hiveweek.record.store import Store

MOVED_ON = "hive.moved_on"


def moved(hive: Hive, to: str, day: dt.date, text: str, who: str = "") -> Entry:
    """Return the entry of a move to another apiary; it counts there."""
    return Entry(
        new_id(),
        Kind.SET,
        to,
        hive.id,
        day,
        facts={MOVED_ON: day},
        text=text,
        who=who,
        note=new_id(),
        recorded_at=dt.datetime.now(dt.UTC),
    )


def unplaced(store: Store, taken: Iterable[Entry]) -> list[Hive]:
    """Take back the placements of moves whose entries were withdrawn; return the hives that stand where they stood before."""
    back = []
    for entry in taken:
        if entry.hive is None or MOVED_ON not in entry.facts:
            continue
        last = store.hive(entry.hive).placements[-1]
        if (last.apiary, last.since) == (entry.apiary, entry.date):
            store.unplace(entry.hive)
            back.append(store.hive(entry.hive))
    return back

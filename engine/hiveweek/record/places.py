"""Where a hive stands and what day it is there; a move as an entry, and what taking it back means."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from collections.abc import Iterable

from hiveweek.record.entries import Entry, Kind, new_id
from hiveweek.record.record import Apiary, Hive
from hiveweek.record.store import Store

MOVED_ON = "hive.moved_on"


def now(apiary: Apiary | None = None) -> dt.datetime:
    """Return the local time of an apiary, or the machine's, without its zone."""
    zone = zoneinfo.ZoneInfo(apiary.timezone) if apiary is not None and apiary.timezone else None
    return dt.datetime.now(zone).replace(tzinfo=None)


def today(apiary: Apiary | None = None) -> dt.date:
    """Return the local day of an apiary, or the machine's."""
    return now(apiary).date()


def place_on(hive: Hive, day: dt.date) -> str:
    """Return the id of the apiary where a hive stands on a day; before its first day or after its end the nearest place."""
    return next((p.apiary for p in reversed(hive.placements) if p.since <= day), hive.placements[0].apiary)


def apiary_of(store: Store, hive: Hive, day: dt.date) -> Apiary:
    """Return where a hive stands on a day; before its first day or after its end the nearest place."""
    key = place_on(hive, day)
    return next(apiary for apiary in store.apiaries() if apiary.id == key)


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

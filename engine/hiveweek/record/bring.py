"""What keepers noted to bring next time, until the hive was looked at again."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from hiveweek.record.entries import BRING, Kind
from hiveweek.record.record import Record


@dataclass(frozen=True)
class Brought:
    """A thing to bring: for which hive, in the keeper's words, and the day on which it was noted."""

    hive: str
    thing: str
    noted: dt.date


def to_bring(record: Record, hives: Iterable[str], day: dt.date) -> list[Brought]:
    """Return what is to be brought to some hives, oldest first.

    Parameters
    ----------
    record : Record
    hives : iterable of str
        Ids.
    day : date
        The day of the answer; later entries do not count.

    Notes
    -----
    A later day on which something was seen or done at the hive is the next time: then it is no longer asked for.
    """
    wanted = set(hives)
    noted: list[Brought] = []
    last: dict[str, dt.date] = {}
    if not any(BRING in entry.details for entry in record.entries):
        return noted
    for entry in record.live(until=day):
        if entry.hive not in wanted or entry.hive is None:
            continue
        if entry.kind in (Kind.SEEN, Kind.DONE):
            last[entry.hive] = max(entry.date, last.get(entry.hive, entry.date))
        elif BRING in entry.details:
            noted.append(Brought(entry.hive, str(entry.details[BRING]), entry.date))
    standing = [one for one in noted if one.noted >= last.get(one.hive, one.noted)]
    return [Brought(record.hives[one.hive].name, one.thing, one.noted) for one in standing]

"""From the entries of a record to dated values at each hive of one apiary."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from hiveweek.record.entries import Entry, Kind
from hiveweek.record.history import History
from hiveweek.record.record import Hive, Record
from hiveweek.vocabulary.model import Vocabulary

SAID = (Kind.SEEN, Kind.SET)


def history_of(
    record: Record, apiary: str, hives: Sequence[str], day: dt.date, words: Vocabulary, *, names: Sequence[str] = ()
) -> History:
    """Return what was seen, set and done at some hives, up to a day.

    Parameters
    ----------
    record : Record
        Its live entries count, in their order (``Entry.order``).
    apiary : str
        Id of the apiary that is asked about.
    hives : sequence of str
        Ids of hives, one a row.
    day : date
        The day of the answer.
    words : Vocabulary
        Facts outside it are left out; so are computed ones, which are worked out anew.
    names : sequence of str, optional
        How the rows are called; by default the hives' names.

    Notes
    -----
    What is written for an apiary holds for every hive that stood there on the day, and what concerns the place also for
    those that came later. Of one day a hive's own value counts before that of its apiary. A hive that was moved leaves the
    facts of its former place behind.
    """
    history = History(words, list(names) or [record.hives[hive].name for hive in hives], day.toordinal())
    rows = {hive: row for row, hive in enumerate(hives)}
    own: set[tuple[int, str, int]] = set()  # what a hive has of its own, by day
    for entry in record.live(until=day):
        if entry.kind not in SAID:
            continue
        concerned = rows if entry.hive is None else [entry.hive] if entry.hive in rows else []
        for hive in concerned:
            _say(history, rows[hive], record.hives[hive], entry, apiary, own)
    return history


def _say(history: History, row: int, hive: Hive, entry: Entry, apiary: str, own: set[tuple[int, str, int]]) -> None:
    """Add the values of one entry to one hive."""
    here = entry.apiary == apiary
    stood = entry.hive is not None or hive.apiary_on(entry.date) == entry.apiary
    day = (entry.since or entry.date).toordinal()
    for name, value in entry.facts.items():
        fact = history.vocabulary.facts.get(name)
        if fact is None or fact.comes_from == "computed" or value is None:
            continue
        if not (here if fact.shared else stood):
            continue
        key = (row, name, day)
        if entry.hive is not None:
            own.add(key)
        elif key in own:
            continue
        history.add(row, name, day, fact.encode(value), entry.found)

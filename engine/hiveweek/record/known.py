"""From the entries of a record to dated values at each hive of one apiary."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from hiveweek.numbers import Numbers, shipped
from hiveweek.record.doing import FED, Doing
from hiveweek.record.entries import Entry, Kind
from hiveweek.record.history import History
from hiveweek.record.record import Record
from hiveweek.vocabulary.model import Vocabulary


def history_of(
    record: Record,
    apiary: str,
    hives: Sequence[str],
    day: dt.date,
    words: Vocabulary,
    *,
    names: Sequence[str] = (),
    numbers: Numbers | None = None,
) -> History:
    """Return what was seen, set and done at some hives, up to a day.

    Parameters
    ----------
    record : Record
        Its live entries count, in their order (`in_order`).
    apiary : str
        Id of the apiary that is asked about.
    hives : sequence of str
        Ids of hives, one a row.
    day : date
        The day of the answer.
    words : Vocabulary
        Facts and actions outside it are left out; so are computed facts, which are worked out anew.
    names : sequence of str, optional
        How the rows are called; by default the hives' names.
    numbers : Numbers, optional
        Recipes of feed; the shipped ones by default.

    Notes
    -----
    What is written for an apiary holds for every hive that stood there on the day, and what concerns the place also for
    those that came later. Of one day a hive's own value counts before that of its apiary. A hive that was moved leaves the
    facts of its former place behind. An entry about a range of days counts from the middle of the range. A value of None
    says that a fact is not known again.
    """
    reader = _Reader(record, apiary, hives, day, words, names, numbers or shipped())
    for entry in record.live(until=day):
        reader.take(entry)
    return reader.history


class _Reader:
    """Takes over entries, in their order."""

    def __init__(self, record, apiary, hives, day, words, names, numbers):
        self.record, self.apiary, self.words = record, apiary, words
        called = list(names) or [record.hives[hive].name for hive in hives]
        self.history = History(words, called, day.toordinal())
        self.rows = {hive: row for row, hive in enumerate(hives)}
        self.own: set[tuple[int, str, int]] = set()  # what a hive has of its own, by day
        self.doing = Doing(self.history, self.rows, numbers)

    def take(self, entry: Entry) -> None:
        """Take over one entry at each hive that it concerns."""
        if entry.kind not in (Kind.SEEN, Kind.SET, Kind.DONE):
            return
        concerned = self.rows if entry.hive is None else [entry.hive] if entry.hive in self.rows else []
        day = day_of(entry)
        for hive in concerned:
            stood = entry.hive is not None or self.record.hives[hive].apiary_on(entry.date) == entry.apiary
            if entry.kind is not Kind.DONE:
                self.say(self.rows[hive], entry, day, stood)
            elif stood:
                self.doing.take(self.rows[hive], entry, day, here=entry.apiary == self.apiary)

    def say(self, row: int, entry: Entry, day: int, stood: bool) -> None:
        """Add the values of one entry to one hive."""
        for name, value in entry.facts.items():
            fact = self.words.facts.get(name)
            if fact is None or fact.comes_from == "computed":
                continue
            if not (entry.apiary == self.apiary if fact.shared else stood):
                continue
            if name == FED and (row, day) in self.doing.fed:
                continue  # the jobs of that day say it
            key = (row, name, day)
            if entry.hive is not None:
                self.own.add(key)
            elif key in self.own:
                continue
            if value is None:
                self.history.forget(row, name, day)
            else:
                self.history.add(row, name, day, fact.encode(value), entry.found)


def day_of(entry: Entry) -> int:
    """Return the day number from which an entry counts: that it names, or the middle of its range."""
    if entry.since is not None:
        return entry.since.toordinal()
    last = entry.until_date or entry.date
    return (entry.date.toordinal() + last.toordinal()) // 2

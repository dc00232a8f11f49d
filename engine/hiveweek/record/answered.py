"""What keepers answered to the advice: jobs done, put off, or not fitting, by hive and action."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field

from hiveweek.record.entries import Entry, Kind
from hiveweek.record.record import Record
from hiveweek.vocabulary.model import Vocabulary


@dataclass
class Given:
    """The last word on one action at one hive.

    Attributes
    ----------
    answer : Entry or None
        The last ``answered`` entry, where the job has not been done since.
    done : Entry or None
        The last ``done`` entry.
    seen : set of str
        Facts that were noted as seen after its day.
    news : set of str
        Facts that were noted as seen after the day of the answer.
    """

    answer: Entry | None = None
    done: Entry | None = None
    seen: set[str] = field(default_factory=set)
    news: set[str] = field(default_factory=set)


def given_at(record: Record, hives: Sequence[str], day: dt.date, words: Vocabulary) -> list[dict[str, Given]]:
    """Return what was answered at some hives, up to a day; a mapping of actions a hive.

    Parameters
    ----------
    record : Record
    hives : sequence of str
        Ids of hives, one a row.
    day : date
        The day of the answer; later entries do not count.
    words : Vocabulary
        Tells which jobs concern another hive as well.

    Notes
    -----
    What is written for an apiary concerns the hives that stood there on its day. A job that two hives do together is done at
    both. Doing a job ends the answer to it.
    """
    found: list[dict[str, Given]] = [{} for _ in hives]
    if not any(entry.kind in (Kind.DONE, Kind.ANSWERED) for entry in record.entries):
        return found
    rows = {hive: row for row, hive in enumerate(hives)}
    for entry in record.live(until=day):
        for row in _concerned(record, entry, rows, words):
            told = found[row]
            if entry.kind is Kind.SEEN:
                for given in told.values():
                    # What is noted on the day of a job is what the job was done for, whichever was written first.
                    if given.done is None or entry.date > (given.done.until_date or given.done.date):
                        given.seen.update(entry.facts)
                    if given.answer is not None and entry.date > given.answer.date:
                        given.news.update(entry.facts)
            elif entry.action is not None and entry.kind is Kind.ANSWERED:
                given = told.setdefault(entry.action, Given())
                given.answer, given.news = entry, set()
            elif entry.action is not None and entry.kind is Kind.DONE:
                told[entry.action] = Given(done=entry)
    return found


def _concerned(record: Record, entry: Entry, rows: dict[str, int], words: Vocabulary) -> list[int]:
    if entry.hive is None:
        return [row for hive, row in rows.items() if record.hives[hive].apiary_on(entry.date) == entry.apiary]
    if entry.kind is not Kind.DONE:
        return [rows[entry.hive]] if entry.hive in rows else []
    names = [entry.hive]
    effect = words.effects.get(entry.action or "")
    if effect is not None and effect.act and effect.partner is not None and effect.partner.act == effect.act:
        names.append(str(entry.details.get("partner")))
    return [rows[name] for name in dict.fromkeys(names) if name in rows]

"""What lies in each hive for some days, and the days of its next step."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass

import numpy as np

from hiveweek.facts.observed import Turned
from hiveweek.facts.table import FactTable
from hiveweek.record.history import History
from hiveweek.vocabulary.courses import Left

ENDS = "_on"


@dataclass(frozen=True)
class Lying:
    """A thing that lies in a hive: since when, and from which to which day its next step comes."""

    left: Left
    since: dt.date
    first: dt.date
    last: dt.date


def lies_in(table: FactTable, row: int, today: dt.date) -> list[Lying]:
    """Return what is noted as lying in one hive, in the order of the vocabulary; nothing that is to go in later."""
    found = []
    for left in table.vocabulary.left.values():
        day = table.column(left.fact).value[row] if left.fact in table.vocabulary.facts else math.nan
        ended = table.column(left.ended_on).value[row] if left.ended_on in table.vocabulary.facts else math.nan
        if math.isnan(day) or day > today.toordinal() or ended > day:
            continue
        since = dt.date.fromordinal(int(day))
        first, last = (since + dt.timedelta(days=days) for days in (left.next.first, left.next.last))
        found.append(Lying(left, since, first, last))
    return found


def told_by_what_lies_in(history: History) -> list[Turned]:
    """Return what other facts are by now because of what lies in a hive, where nothing of them was seen since they are so."""
    out = []
    for left in history.vocabulary.left.values():
        if left.tells is None:
            continue
        tells, facts = left.tells, history.vocabulary.facts
        value, _ = history.latest(left.fact)
        ended, _ = history.latest(left.ended_on) if left.ended_on else (np.full(len(history), np.nan), None)
        for hive in np.flatnonzero(~np.isnan(value)).tolist():
            since, today = int(value[hive]), int(history.days[hive])
            if not tells.first <= today - since <= tells.last or ended[hive] > since:
                continue
            if any(history.last_act(act)[hive] >= since for act in facts[left.fact].voided_by):
                continue
            if any(history.seen_since(hive, name, since + tells.first - 1) for name in tells.facts):
                continue
            seen = history.entries(hive, tells.unless_seen) if tells.unless_seen else ()
            if any(day >= since + tells.after and true for day, true in seen):
                continue
            out += [Turned(hive, name, facts[name].encode(v), today, since) for name, v in tells.facts.items()]
    return out


def inside_facts(table: FactTable, days: np.ndarray) -> dict[str, np.ndarray]:
    """Return the ``_by`` and ``_days_to`` facts of what lies in on the day of each row, NaN where nothing of the kind does."""
    lefts = [left for left in table.vocabulary.left.values() if left.fact in table.vocabulary.facts]
    names = [left.fact.removesuffix(ENDS) + end for left in lefts for end in ("_by", "_days_to")]
    found = {name: np.full(len(table), np.nan) for name in names}
    noted = np.zeros(len(table), dtype=bool)
    for left in lefts:
        noted |= table.column(left.fact).known
    for row in np.flatnonzero(noted).tolist():
        today = dt.date.fromordinal(int(days[row]))
        for lying in lies_in(table, row, today):
            name = lying.left.fact.removesuffix(ENDS)
            found[name + "_by"][row] = lying.last.toordinal()
            found[name + "_days_to"][row] = (lying.first - today).days
    return found

"""Facts of the course that lies in each hive, or has just ended: its next steps as dates and as days from now."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np

from hiveweek.facts.table import FactTable
from hiveweek.record.courses import Running, Window, count_again, running

# step -> the facts of its first and last day, and of the days from now to both
FACTS: dict[str, tuple[str, str, str, str | None]] = {
    "out": ("course.out_from", "course.out_by", "course.days_to_out", "course.days_left"),
    "dose": ("course.dose_from", "course.dose_by", "course.days_to_dose", "course.dose_days_left"),
    "count": ("course.count_from", "course.count_by", "course.days_to_count", None),
}


def running_at(table: FactTable, row: int, today: dt.date) -> Running | None:
    """Return the course that lies in one hive; None where nothing does, or where it is not known."""
    if "mites.in_hive" not in table.vocabulary.facts:
        return None
    days = table.column("mites.days_in_hive").value[row]
    return running(
        table.vocabulary,
        table.plain(row, "mites.in_hive"),
        table.plain(row, "mites.form"),
        None if math.isnan(days) else today - dt.timedelta(days=int(days)),
        table.plain(row, "mites.last_dose_on"),
    )


def count_after(table: FactTable, row: int, end: dt.date) -> Window | None:
    """Return when mites are counted after what lies in one hive came out on a day."""
    active, form = (table.plain(row, name) for name in ("mites.in_hive", "mites.form"))
    return count_again(table.vocabulary, active, form, end)


def course_facts(table: FactTable, today: dt.date) -> dict[str, np.ndarray]:
    """Return the ``course.*`` facts, NaN where a hive has no such step or its day is not known.

    Parameters
    ----------
    table : FactTable
        With ``mites.in_hive``, ``mites.form``, ``mites.days_in_hive``, ``mites.last_dose_on``, ``mites.last_active`` and
        ``mites.treated_days_ago`` filled in.
    today : date
        The day of the answer.
    """
    found = {name: np.full(len(table), np.nan) for names in FACTS.values() for name in names if name}
    ended = table.column("mites.treated_days_ago").value
    for row in np.flatnonzero(table.column("mites.in_hive").known | ~np.isnan(ended)).tolist():
        course = running_at(table, row, today)
        windows = [course.out, course.dose] if course is not None else []
        if course is None and not math.isnan(ended[row]):
            end = today - dt.timedelta(days=int(ended[row]))
            active, form = (table.plain(row, name) for name in ("mites.last_active", "mites.form"))
            windows.append(count_again(table.vocabulary, active, form, end))
        for window in windows:
            if window is None:
                continue
            first, last, to_first, to_last = FACTS[window.step]
            found[first][row], found[last][row] = window.first.toordinal(), window.last.toordinal()
            found[to_first][row] = (window.first - today).days
            if to_last:
                found[to_last][row] = (window.last - today).days
    return found

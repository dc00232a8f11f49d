"""Facts of the course that lies in each hive, or has just ended: its next steps as dates and as days from now."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np

from hiveweek.facts.table import FactTable
from hiveweek.record.courses import Running, Window, after_end, count_again, running
from hiveweek.vocabulary.courses import course_for

# step -> the facts of its first and last day, and of the days from now to both
FACTS: dict[str, tuple[str, str | None, str, str | None]] = {
    "out": ("course.out_from", "course.out_by", "course.days_to_out", "course.days_left"),
    "dose": ("course.dose_from", "course.dose_by", "course.days_to_dose", "course.dose_days_left"),
    "count": ("course.count_from", "course.count_by", "course.days_to_count", None),
    "eggs": ("course.eggs_from", "course.eggs_by", "course.days_to_eggs", None),
    "honey": ("course.honey_from", None, "course.days_to_honey", None),
}
BESIDE = {"feed": "course.no_feed", "syrup": "course.no_syrup", "frames": "course.in_peace"}


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


def _beside(found: dict[str, np.ndarray], row: int, course: Running | None, *, known: bool, today: dt.date) -> None:
    """Say what must not be done beside what lies in; nothing is barred where nothing lies in, unknown where that is not known."""
    if not known:
        return
    barred = course.course.not_beside if course is not None and course.course is not None else ()
    for name, fact in BESIDE.items():
        found[fact][row] = float(name in barred)
    if "frames" in barred:
        out = course.out if course is not None else None
        found[BESIDE["frames"]][row] = np.nan if out is None else float(today < out.first)


def following(table: FactTable, row: int, today: dt.date) -> list[Window]:
    """Return what follows on the course that lies in one hive, or on the last that ended: ``count``, ``eggs``, ``honey``.

    What is over is left out, and counting where it has been done since the end; empty where neither course is known.
    """
    course = running_at(table, row, today)
    if course is not None:
        return course.after
    if "mites.treated_days_ago" not in table.vocabulary.facts:
        return []
    ago = table.column("mites.treated_days_ago").value[row]
    counted = table.column("mites.days_since_count").value[row]
    if math.isnan(ago):
        return []
    found = [window for window in _after_last(table, row, today, int(ago)) if window.last >= today]
    return [window for window in found if window.step != "count" or not counted <= ago]


def _after_last(table: FactTable, row: int, today: dt.date, ago: int) -> list[Window]:
    active, form = (table.plain(row, name) for name in ("mites.last_active", "mites.form"))
    return after_end(table.vocabulary, active, form, today - dt.timedelta(days=ago))


def count_after(table: FactTable, row: int, end: dt.date) -> Window | None:
    """Return when mites are counted after what lies in one hive came out on a day."""
    active, form = (table.plain(row, name) for name in ("mites.in_hive", "mites.form"))
    return count_again(table.vocabulary, active, form, end)


def course_facts(table: FactTable, days: np.ndarray) -> dict[str, np.ndarray]:
    """Return the ``course.*`` facts, NaN where a hive has no such step or its day is not known.

    Parameters
    ----------
    table : FactTable
        With ``mites.in_hive``, ``mites.form``, ``mites.days_in_hive``, ``mites.last_dose_on``, ``mites.last_active`` and
        ``mites.treated_days_ago`` filled in.
    days : ndarray, shape (rows,)
        Day number of each row.
    """
    names = [name for names in FACTS.values() for name in names if name]
    found = {name: np.full(len(table), np.nan) for name in (*names, *BESIDE.values(), "course.after_failure")}
    next_class = table.vocabulary.facts.get("course.after_failure")
    ended = table.column("mites.treated_days_ago").value
    for row in np.flatnonzero(table.column("mites.in_hive").known | ~np.isnan(ended)).tolist():
        today = dt.date.fromordinal(int(days[row]))
        course = running_at(table, row, today)
        windows = [course.out, course.dose] if course is not None else []
        _beside(found, row, course, known=table.column("mites.in_hive").known[row], today=today)
        active, form = (table.plain(row, name) for name in ("mites.last_active", "mites.form"))
        if course is None and not math.isnan(ended[row]):
            windows += _after_last(table, row, today, int(ended[row]))
        last = course.course if course is not None else course_for(table.vocabulary.courses.values(), active, form)
        if last is not None and last.failed_next and next_class is not None:
            found["course.after_failure"][row] = next_class.encode(last.failed_next[0])
        for window in windows:
            if window is None:
                continue
            first, last_day, to_first, to_last = FACTS[window.step]
            found[first][row] = window.first.toordinal()
            if last_day:
                found[last_day][row] = window.last.toordinal()
            found[to_first][row] = (window.first - today).days
            if to_last:
                found[to_last][row] = (window.last - today).days
    return found

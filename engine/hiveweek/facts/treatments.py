"""The story of mite treatments at each hive: what is in, how long, what ended when."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hiveweek.numbers import Branch, shipped
from hiveweek.record.history import History
from hiveweek.vocabulary.courses import course_for

# Actives whose labels name a yearly maximum -> the fact that counts their courses.
COURSES_OF = {
    "amitraz": "mites.amitraz_courses",
    "thymol": "mites.thymol_courses",
    "oxalic_strip": "mites.oxalic_strip_courses",
}


@dataclass
class Course:
    """One treatment.

    Attributes
    ----------
    active : float
        Encoded value of ``mites.last_active``; NaN where only the day is known.
    start, end : int or None
        Day numbers; start None where it was found in the hive at the first look, end None while it is in.
    end_after : int or None
        Last day it was seen in the hive, where its end was only found later.

    A course that is spent after its last day ends then, though it was noted out later or only found to be gone.
    """

    active: float
    start: int | None
    end: int | None
    end_after: int | None = None
    form: float = float("nan")


def courses(history: History, hive: int) -> list[Course]:
    """Return the treatments of one hive, oldest first.

    Read from changes of ``mites.in_hive`` and from one-day treatments (``mites.treated_on``, or ``mites.last_active``
    turning to an active of one day).
    """
    if not any(history.entries(hive, name) for name in ("mites.in_hive", "mites.treated_on", "mites.last_active")):
        return []
    facts = history.vocabulary.facts
    in_hive, last = facts["mites.in_hive"], facts["mites.last_active"]
    found: list[Course] = []
    running: Course | None = None
    before_day = None
    forms = history.entries(hive, "mites.form")
    for day, value in history.entries(hive, "mites.in_hive"):
        word = in_hive.decode(value)
        snapshot = history.is_snapshot(hive, "mites.in_hive", day)
        active = last.encode(word)
        if running is not None and active != running.active:
            running.end = min(day, _spent_on(history, running, day))
            running.end_after = before_day if snapshot else running.end
            running = None
        if word != "none" and running is None:
            unknown = snapshot and before_day is None
            running = Course(active, None if unknown else day, None, form=_form_on(forms, day))
            found.append(running)
        before_day = day
    one_day = last.codes("one_day")
    days = {int(value) for _, value in history.entries(hive, "mites.treated_on")}
    days |= {day for day, _ in history.turns(hive, "mites.last_active", one_day)}
    named = history.entries(hive, "mites.last_active")
    for day in sorted(days):
        if day <= history.days[hive]:
            active = next((v for d, v in reversed(named) if d >= day and v in one_day), float("nan"))
            found.append(Course(active, day, day, day, _form_on(forms, day)))
    return sorted(found, key=lambda c: (c.start or 0, c.end or 10**7))


def _spent_on(history: History, course: Course, day: int) -> int:
    """The day from which nothing of a course works any more: its last one, where it is one that is spent by then; else ``day``."""
    if course.start is None:
        return day
    facts = history.vocabulary.facts
    form = None if np.isnan(course.form) else facts["mites.form"].decode(course.form)
    active = facts["mites.last_active"].decode(course.active)
    declared = course_for(history.vocabulary.courses.values(), active, form)
    if declared is None or not declared.spent or declared.out is None:
        return day
    return course.start + declared.out.last


def _form_on(forms: list, day: int) -> float:
    """The form written on that day or next after it; else the last before it."""
    after = [value for d, value in forms if d >= day]
    if after:
        return after[0]
    return forms[-1][1] if forms else float("nan")


def treatment_facts(history: History, p: Branch | None = None) -> dict[str, tuple[np.ndarray, np.ndarray, np.ndarray]]:
    """Return the ``mites.*`` facts that the history gives, as (value, low, high), NaN where unknown.

    Parameters
    ----------
    history : History
        What was seen and done.
    p : Branch, optional
        ``model.*``; the shipped ones by default.

    Notes
    -----
    ``mites.days_in_hive`` is unknown where the treatment was found in the hive and nobody knows since when.
    ``mites.treated_days_ago`` counts from the first look without it; its high end from the last look with it.
    Courses are counted only where the history shows at least one or says that there was none; one whose active nobody noted
    counts for no active.
    """
    p = p or shipped().model
    n = len(history)
    names = (
        "mites.days_in_hive",
        "mites.treated_days_ago",
        "mites.last_active",
        "mites.courses_this_year",
        "mites.dribbled_this_winter",
        *COURSES_OF.values(),
    )
    out = {name: (np.full(n, np.nan), np.full(n, np.nan), np.full(n, np.nan)) for name in names}
    facts = history.vocabulary.facts
    last, dribble = facts["mites.last_active"], facts["mites.form"].encode("dribble")
    never = last.encode("none")

    def put(name, hive, value, low=None, high=None):
        columns = out[name]
        columns[0][hive] = value
        columns[1][hive] = value if low is None else low
        columns[2][hive] = value if high is None else high

    concerned = set()
    for fact in ("mites.in_hive", "mites.treated_on", "mites.last_active"):
        values, _ = history.latest(fact)
        concerned.update(np.flatnonzero(~np.isnan(values)).tolist())
    for hive in sorted(concerned):
        now = int(history.days[hive])
        story = courses(history, hive)
        named = history.entries(hive, "mites.last_active")
        running = [c for c in story if c.end is None]
        ended = [(c.end, c.end_after or c.end) for c in story if c.end is not None]
        if running and running[-1].start is not None:
            put("mites.days_in_hive", hive, now - running[-1].start)
        if ended:
            end, end_after = max(ended, key=lambda days: days[0])
            put("mites.treated_days_ago", hive, now - end, high=now - end_after)
        if story and not (named and named[-1][0] >= max(c.end or c.start or 0 for c in story)):
            known = [c.active for c in story if not np.isnan(c.active)]
            if known:
                put("mites.last_active", hive, known[-1])
        told_never = bool(named) and named[-1][1] == never
        dated = [(c.start, c) for c in story if c.start is not None]
        if dated or told_never:
            this_year = [c for start, c in dated if now - start <= p.treatments.treatment_year_days]
            put("mites.courses_this_year", hive, len(this_year))
            for active, name in COURSES_OF.items():
                put(name, hive, sum(c.active == last.encode(active) for c in this_year))
        recent = [c for start, c in dated if start == c.end and now - start <= p.treatments.dribble_winter_days]
        if any(c.form == dribble for c in recent):
            put("mites.dribbled_this_winter", hive, 1.0)
        elif told_never or (dated and not any(np.isnan(c.form) for c in recent)):
            put("mites.dribbled_this_winter", hive, 0.0)
    value, low, high = out["mites.treated_days_ago"]
    out["mites.days_since_treated"] = value.copy(), low.copy(), high.copy()
    return out

"""The story of mite treatments at each hive: what is in, how long, what ended when."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hiveweek.numbers import Branch, shipped
from hiveweek.record.history import History
from hiveweek.vocabulary.courses import course_for

STORY = (  # what the story of treatments tells, besides the courses of single actives
    "mites.days_in_hive",
    "mites.treated_days_ago",
    "mites.last_active",
    "mites.courses_this_year",
    "mites.dribbled_this_winter",
    "harvest.beside_medicine",
    "mites.drop_of_treatment",
)


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

    Read from changes of ``mites.in_hive`` (where it is not known again what lies in, the course before it is over) and from one-day
    treatments (``mites.treated_on``, or ``mites.last_active`` turning to an active of one day).
    """
    if not any(history.ever(hive, name) for name in ("mites.in_hive", "mites.treated_on", "mites.last_active")):
        return []
    facts = history.vocabulary.facts
    in_hive, last = facts["mites.in_hive"], facts["mites.last_active"]
    found: list[Course] = []
    running: Course | None = None
    before_day = None
    forms = history.entries(hive, "mites.form")
    for day, value in history.ever(hive, "mites.in_hive"):
        word = "none" if np.isnan(value) else in_hive.decode(value)
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
    named = history.ever(hive, "mites.last_active")
    for day in sorted(days):
        if day <= history.days[hive]:
            active = next((v for d, v in reversed(named) if d >= day and v in one_day), float("nan"))
            found.append(Course(active, day, day, day, _form_on(forms, day)))
    return sorted(found, key=lambda c: (c.start or 0, c.end or 10**7))


def fell_beside(history: History, day: int, story: list[Course], p: Branch) -> bool:
    """Whether a tray of that day lay beside a course, or so soon after a treatment of one day that its fall is of the treatment.

    Parameters
    ----------
    day : int
        Day number of the tray.
    story : list of Course
        The treatments of that hive.
    p : Branch
        ``model.*``.
    """
    for course in story:
        start, end = course.start, course.end
        last = end + _falls_for(history, course, p) if end is not None and start == end else end
        if (start is None or day > start) and (last is None or day < last):
            return True
    return False


def _falls_for(history: History, course: Course, p: Branch) -> float:
    """Days after a treatment of one day on which what falls is no natural drop: until the count that its course declares."""
    facts = history.vocabulary.facts
    if np.isnan(course.active) or np.isnan(course.form):
        return p.mites.drop_after_days
    active, form = facts["mites.last_active"].decode(course.active), facts["mites.form"].decode(course.form)
    declared = course_for(history.vocabulary.courses.values(), active, form)
    return p.mites.drop_after_days if declared is None else declared.count.first


def _tray_of_treatment(history: History, hive: int, story: list[Course], p: Branch) -> bool | None:
    """Whether the last tray shows what a treatment of one day brought down; None where none is noted."""
    drops = history.entries(hive, "mites.drop_per_day")
    if not drops:
        return None
    return fell_beside(history, drops[-1][0], [c for c in story if c.start is not None and c.start == c.end], p)


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


def _untold(history: History, hive: int, story: list[Course], days: list[int]) -> list[tuple[int, float]]:
    """Days, each with its form (NaN where not noted), of treatments given whose active nobody told."""
    known = {course.start for course in story}
    noted = dict(history.entries(hive, "mites.form"))
    untold = [day for day in days if day not in known and not history.found_later("treatment", hive, day)]
    return [(day, noted.get(day, float("nan"))) for day in untold]


def _comes_in(history: History, active: str, form: float) -> bool:
    """Whether an active is given in a form; one that is not known may be any."""
    if np.isnan(form):
        return True
    word = history.vocabulary.facts["mites.form"].decode(form)
    return any(c.active == active and word in c.forms for c in history.vocabulary.courses.values())


def _form_on(forms: list, day: int) -> float:
    """The form written on that day or next after it; else the last before it."""
    after = [value for d, value in forms if d >= day]
    if after:
        return after[0]
    return forms[-1][1] if forms else float("nan")


def _lay_beside(history: History, hive: int, story: list[Course], none: float) -> float:
    """The last active that lay in a hive for days while the supers that are on now were on; NaN where that is not known.

    Supers taken off and put on again begin anew. Where they were on at the first look, nobody knows since when.
    """
    on_since, known = None, False
    for day, supers in history.ever(hive, "hive.supers"):
        known |= supers == 0
        if supers == 0:
            on_since = None
        elif supers > 0 and on_since is None:
            on_since = day
    if on_since is None:
        return none if known else float("nan")
    lying = [c for c in story if c.start is None or c.end is None or c.end > c.start]  # not those given on a day
    beside = [c.active for c in lying if c.end is None or c.end > on_since]
    if beside:
        return beside[-1]
    return none if known else float("nan")


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
    Courses are counted only where the history shows at least one or says that there was none. Those of one active
    (``counts_active``) have at their high end each course besides that may have been of it: one whose active nobody noted, given
    in a form that it comes in (or not known), and one of it found in the hive at the first look, begun nobody knows when.
    ``harvest.beside_medicine`` is the last active that lay in the hive for days under the supers that are on now.
    """
    p = p or shipped().model
    n = len(history)
    facts = history.vocabulary.facts
    counting = {fact.id: fact.counts_active for fact in facts.values() if fact.counts_active}
    out = {name: (np.full(n, np.nan), np.full(n, np.nan), np.full(n, np.nan)) for name in (*STORY, *counting)}
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
    given = history.acts("treatment")
    concerned.update(hive for hive, days in enumerate(given) if days)
    for hive in sorted(concerned):
        now = int(history.days[hive])
        story = courses(history, hive)
        named = history.entries(hive, "mites.last_active")
        untold = [
            Course(float("nan"), day, None, form=form) for day, form in _untold(history, hive, story, given[hive])
        ]
        newest = untold[-1].start if untold else None
        running = [c for c in story if c.end is None]
        ended = [(c.end, c.end_after or c.end) for c in story if c.end is not None]
        if running and running[-1].start is not None:
            put("mites.days_in_hive", hive, now - running[-1].start)
        if ended and (newest is None or newest < max(ended)[0]):
            end, end_after = max(ended, key=lambda days: days[0])
            put("mites.treated_days_ago", hive, now - end, high=now - end_after)
        put("harvest.beside_medicine", hive, _lay_beside(history, hive, story, never))
        last_day = max((c.end or c.start or 0 for c in story), default=0)
        if story and (newest is None or newest < last_day) and not (named and named[-1][0] >= last_day):
            known = [c.active for c in story if not np.isnan(c.active)]
            if known:
                put("mites.last_active", hive, known[-1])
        told_never = bool(named) and named[-1][1] == never
        dated = [(c.start, c) for c in story if c.start is not None]
        year_ago = now - p.treatments.treatment_year_days
        if dated or told_never or untold:
            this_year = [c for c in (*story, *untold) if c.start is not None and c.start >= year_ago]
            begun_before = [c for c in story if c.start is None and (c.end is None or c.end >= year_ago)]
            put("mites.courses_this_year", hive, len(this_year), high=len(this_year) + len(begun_before))
            for name, active in counting.items():
                firm = sum(c.active == last.encode(active) for c in this_year)
                maybe = sum(c.active == last.encode(active) for c in begun_before)
                maybe += sum(np.isnan(c.active) and _comes_in(history, active, c.form) for c in this_year)
                put(name, hive, firm, high=firm + maybe)
        recent = [c for start, c in dated if start == c.end and now - start <= p.treatments.dribble_winter_days]
        if any(c.form == dribble for c in recent):
            put("mites.dribbled_this_winter", hive, 1.0)
        elif told_never or (dated and not any(np.isnan(c.form) for c in (*recent, *untold))):
            put("mites.dribbled_this_winter", hive, 0.0)
        of_treatment = _tray_of_treatment(history, hive, story, p)
        if of_treatment is not None:
            put("mites.drop_of_treatment", hive, float(of_treatment))
    value, low, high = out["mites.treated_days_ago"]
    out["mites.days_since_treated"] = value.copy(), low.copy(), high.copy()
    return out

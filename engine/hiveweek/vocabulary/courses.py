"""Courses of mite treatment as data: which step belongs to which day."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from hiveweek.shapes.structure import listed, texts

NOT_BESIDE = ("feed", "syrup", "frames")


@dataclass(frozen=True)
class Step:
    """A window of days.

    Attributes
    ----------
    first, last : int
        Days since the first dose, or since the end of the course where ``after`` is out.
    """

    first: int
    last: int
    after: str = "in"
    source: tuple[str, ...] = ()
    status: str = ""
    note: str = ""


@dataclass(frozen=True)
class Course:
    """What is done on which day where an active is given in some form.

    Attributes
    ----------
    active : str
        A word of ``mites.last_active``; what lies in the hive is also one of ``mites.in_hive``.
    forms : tuple of str
        Words of ``mites.form``.
    usual : bool
        The course that is meant where the form is not known.
    one_day : bool
        Given on a day; nothing lies in the hive.
    spent : bool
        After its last day nothing works any more, also where nobody has taken it out.
    doses : tuple of Step
        The second dose and those after it.
    out, move, eggs : Step or None
        Taking it out, moving strips to the bees, looking for eggs; None where the course has no such step.
    count : Step
        Counting mites again.
    honey : Step or None
        Supers for people's honey may go on again; None where nothing is known.
    not_beside : tuple of str
        What must not be done while it lies in, of ``NOT_BESIDE``.
    beside : dict of str to str
        What to know while it runs, by what it is about.
    failed_next : tuple of str
        Actives of another class, the likeliest first, for where it failed.
    """

    id: str
    label: str
    active: str
    forms: tuple[str, ...]
    count: Step
    out: Step | None = None
    usual: bool = False
    one_day: bool = False
    spent: bool = False
    doses: tuple[Step, ...] = ()
    move: Step | None = None
    eggs: Step | None = None
    honey: Step | None = None
    beside: dict[str, str] = field(default_factory=dict)
    failed_next: tuple[str, ...] = ()
    not_beside: tuple[str, ...] = ()


@dataclass(frozen=True)
class Tells:
    """What other facts are while a thing lies in a hive, between two of its days.

    Attributes
    ----------
    first, last : int
        Days since it went in.
    facts : dict of str to value
        What holds then, where nothing of it was seen since the first of these days.
    unless_seen : str
        A yes-or-no fact: seen true ``after`` days or more after it went in, it tells that the thing is out; empty where there is none.
    after : int
    """

    first: int
    last: int
    facts: dict[str, Any]
    unless_seen: str = ""
    after: int = 0


@dataclass(frozen=True)
class Left:
    """What else lies in a hive for some days.

    Attributes
    ----------
    fact : str
        The date fact of the day it went in; its next step stands in facts that begin with the same name.
    next : Step
        When to look, or to take it out.
    say : str
        What to do, with ``{first}`` and ``{last}`` for the days.
    ended_on : str
        A date fact: a later day there says that it is out; empty where there is none.
    tells : Tells or None
        What follows while it lies there.
    """

    id: str
    label: str
    fact: str
    next: Step
    say: str = ""
    ended_on: str = ""
    tells: Tells | None = None


def left_of(name: str, body: dict) -> Left:
    """Return what the block of a thing that lies in declares."""
    say, ended_on = body.get("say", ""), body.get("ended_on", "")
    told, tells = body.get("tells"), None
    if told:
        days = (int(told.get("from", 0)), int(told.get("to", 0)))
        tells = Tells(*days, dict(told.get("facts") or {}), told.get("unless_seen", ""), int(told.get("after", 0)))
    fact, label = body.get("fact", ""), body.get("label", "")
    return Left(name, label, fact, step_of(body.get("next") or {}), say, ended_on, tells)


def step_of(body: dict) -> Step:
    """Return the step that a block of the file declares."""
    return Step(
        int(body.get("from", 0)),
        int(body.get("to", 0)),
        body.get("after", "in"),
        texts(body.get("source")),
        body.get("status", ""),
        body.get("note", ""),
    )


def course_of(name: str, body: dict) -> Course:
    """Return the course that a block of the file declares."""
    steps = {key: step_of(body[key]) for key in ("out", "move", "eggs", "honey") if body.get(key)}
    return Course(
        name,
        body.get("label", ""),
        body.get("active", ""),
        texts(body.get("forms")),
        step_of(body.get("count") or {}),
        usual=bool(body.get("usual", False)),
        spent=bool(body.get("spent", False)),
        one_day=bool(body.get("one_day", False)),
        doses=tuple(step_of(dose) for dose in listed(body.get("doses"))),
        beside={key: text for key, text in (body.get("beside") or {}).items() if key not in ("source", "status")},
        failed_next=texts(body.get("failed_next")),
        not_beside=texts(body.get("not_beside")),
        **steps,
    )


def course_for(courses: Iterable[Course], active: str | None, form: str | None) -> Course | None:
    """Return the course of an active in a form; the usual one of the active where the form is none of its courses'.

    Parameters
    ----------
    active : str or None
        None where it is not known what was given.
    form : str or None
        None where it is not known.

    Returns
    -------
    Course or None
        None where no course is declared for the active.
    """
    same = [course for course in courses if course.active == active]
    exact = [course for course in same if form in course.forms]
    return next(iter(exact or [course for course in same if course.usual]), None)

"""The running course of a hive: which step is next, and on which days."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass

from hiveweek.vocabulary.courses import Course, Step, course_for
from hiveweek.vocabulary.model import Vocabulary


@dataclass(frozen=True)
class Window:
    """A step on its days: ``dose`` (with its number), ``move``, ``out``, ``eggs``, ``count`` or ``honey``."""

    step: str
    first: dt.date
    last: dt.date
    number: int | None = None


@dataclass(frozen=True)
class Running:
    """A course that lies in a hive.

    Attributes
    ----------
    active : str
        A word of ``mites.in_hive``.
    form : str or None
        A word of ``mites.form``; None where not known.
    course : Course or None
        None where none is declared for the active.
    since : date or None
        The day it went in; None where nobody knows.
    last_dose : date or None
        The day of the last dose after the first; None where none is noted.
    """

    active: str
    form: str | None
    course: Course | None
    since: dt.date | None
    last_dose: dt.date | None = None

    def window(self, step: Step, name: str, number: int | None = None) -> Window | None:
        """Return a step on its days; None where it is not known since when the course runs."""
        if self.since is None:
            return None
        days = [self.since + dt.timedelta(days=day) for day in (step.first, step.last)]
        return Window(name, days[0], days[1], number)

    @property
    def out(self) -> Window | None:
        """When it comes out; a dose given after its last day puts it off by as many days."""
        found = self.window(self.course.out, "out") if self.course is not None and self.course.out else None
        if found is None or not self.late:
            return found
        late = dt.timedelta(days=self.late)
        return Window(found.step, found.first + late, found.last + late)

    @property
    def given(self) -> int:
        """How many doses after the first are noted.

        A dose counts for the one whose days it is nearest to, so that one given a day early or late is not asked again.
        """
        if self.course is None or self.since is None or self.last_dose is None:
            return 0
        day = (self.last_dose - self.since).days
        before = (0, *(dose.last for dose in self.course.doses))
        return sum(day > (end + dose.first) / 2 for end, dose in zip(before, self.course.doses, strict=False))

    @property
    def late(self) -> int:
        """Days by which the last dose was given after its last day; 0 where none was, or none is noted."""
        if self.course is None or self.since is None or self.last_dose is None or not self.given:
            return 0
        return max(0, (self.last_dose - self.since).days - self.course.doses[self.given - 1].last)

    @property
    def honey_from(self) -> dt.date | None:
        """The first day for supers if it comes out as early as it may; None where that is not known."""
        honey = self.course.honey if self.course is not None else None
        return None if honey is None or self.out is None else self.out.first + dt.timedelta(days=honey.first)

    @property
    def dose(self) -> Window | None:
        """The next dose; None where no further one belongs to the course."""
        doses = self.course.doses if self.course is not None else ()
        given = self.given
        return None if given >= len(doses) else self.window(doses[given], "dose", given + 2)

    def steps(self) -> Iterator[Window]:
        """Yield the steps still to come while it lies in, each on its days."""
        if self.course is None:
            return
        move = self.window(self.course.move, "move") if self.course.move else None
        yield from (step for step in (self.dose, move, self.out) if step is not None)

    @property
    def after(self) -> list[Window]:
        """What follows once it is out, as early and as late as it may come out: ``count``, ``eggs``, ``honey``; empty where unknown."""
        if self.course is None or self.out is None:
            return []
        found = [
            Window(name, self.out.first + dt.timedelta(days=step.first), self.out.last + dt.timedelta(days=step.last))
            for name, step in (("count", self.course.count), ("eggs", self.course.eggs))
            if step is not None
        ]
        honey = self.honey_from
        return found if honey is None else [*found, Window("honey", honey, honey)]

    def next(self, today: dt.date) -> Window | None:
        """Return the step whose last day comes next; what is overdue stays next where it is taking it out."""
        coming = [step for step in self.steps() if step.last >= today or step.step == "out"]
        return min(coming, key=lambda step: (step.last, step.first), default=None)


def running(
    words: Vocabulary, active: str | None, form: str | None, since: dt.date | None, last_dose: dt.date | None = None
) -> Running | None:
    """Return the course that lies in a hive.

    Parameters
    ----------
    active : str or None
        Value of ``mites.in_hive``; None where not known.
    form : str or None
        Value of ``mites.form``.
    since : date or None
        The day it went in.
    last_dose : date, optional
        The day of the last dose after the first.

    Returns
    -------
    Running or None
        None where nothing lies in, or where it is not known.
    """
    if active in (None, "none"):
        return None
    return Running(active, form, course_for(words.courses.values(), active, form), since, last_dose)


def count_again(words: Vocabulary, active: str | None, form: str | None, end: dt.date) -> Window | None:
    """Return when mites are counted after a course that ended on a day; the window for all where the active is not known."""
    return next((window for window in after_end(words, active, form, end) if window.step == "count"), None)


def after_end(words: Vocabulary, active: str | None, form: str | None, end: dt.date) -> list[Window]:
    """Return what follows on a course that ended on a day: ``count`` (also where the active is not known), ``eggs``, ``honey``."""
    course = course_for(words.courses.values(), active, form)
    steps = {"count": course.count if course is not None else words.count_again}
    if course is not None:
        steps |= {"eggs": course.eggs, "honey": course.honey}
    return [
        Window(name, end + dt.timedelta(days=step.first), end + dt.timedelta(days=step.last))
        for name, step in steps.items()
        if step is not None
    ]

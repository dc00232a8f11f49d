"""What the keepers are worth: survival, honey and work with their intervals, each beside the others on the same seeds."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from scipy import stats

from hiveweek.worth.keepers import ALL, BUT, CALENDAR, FEW, KNOWN, NOTHING
from hiveweek.worth.runs import DANGERS, Course
from hiveweek.worth.world import ENDS

LEVEL = 0.95
RESAMPLES = 999
ADVISED = (FEW, ALL, KNOWN)
Interval = list[float]  # the value and the ends of its 95 % interval


def share(found: np.ndarray) -> Interval:
    """Return a share of seeds with its Wilson interval."""
    ends = stats.binomtest(int(found.sum()), len(found)).proportion_ci(LEVEL, method="wilson")
    return [float(found.mean()), float(ends.low), float(ends.high)]


def mean(values: np.ndarray) -> Interval:
    """Return a mean over seeds with its bootstrap interval."""
    values = np.asarray(values, dtype=float)
    if np.ptp(values) == 0:
        return [float(values[0])] * 3
    ends = stats.bootstrap(
        (values,), np.mean, n_resamples=RESAMPLES, confidence_level=LEVEL, method="percentile", rng=1
    ).confidence_interval
    return [float(values.mean()), float(ends.low), float(ends.high)]


def keeper(course: Course, name: str) -> dict:
    """Return what one keeper reaches and spends."""
    line = course.line(name)
    return {
        "survival": share(course.survived[line]),
        "honey_kg": mean(course.weeks["taken"][-1, line]),
        "hours": mean(course.spent["minutes"][line] / 60),
        "openings": mean(course.spent["openings"][line]),
        "treatments": mean(course.spent["treatments"][line]),
        "ends": {end: int((course.ended[line] == place).sum()) for place, end in enumerate(ENDS)},
    }


def beside(course: Course, name: str, other: str) -> dict:
    """Return one keeper less another, seed by seed."""
    mine, theirs = course.line(name), course.line(other)
    return {
        "survival": mean(course.survived[mine].astype(float) - course.survived[theirs]),
        "honey_kg": mean(course.weeks["taken"][-1, mine] - course.weeks["taken"][-1, theirs]),
        "hours": mean((course.spent["minutes"][mine] - course.spent["minutes"][theirs]) / 60),
    }


def compared(course: Course) -> dict:
    """Return the keepers of a run, and those who follow the advice beside those who do not."""
    return {
        "keepers": {name: keeper(course, name) for name in course.keepers},
        "beside": {
            name: {other: beside(course, name, other) for other in (NOTHING, CALENDAR)}
            for name in ADVISED
            if name in course.keepers
        },
    }


def kinds(course: Course) -> dict:
    """Return what each kind of look is worth: all looks less all but that kind."""
    return {name.removeprefix(BUT): beside(course, ALL, name) for name in course.keepers if name.startswith(BUT)}


def dangers(course: Course) -> dict:
    """Return the survival under each planted danger, and how much less it is than without."""
    return {
        name: {
            "survival": share(course.survived[course.line(name)]),
            "less": beside(course, name, CALENDAR)["survival"],
        }
        for name in DANGERS
    }


def not_below(climate: Mapping, name: str, other: str) -> bool:
    """Whether survival under one keeper is at least that under another, or their interval leaves it open."""
    value, _, high = climate["beside"][name][other]["survival"]
    return bool(value >= 0 or high >= 0)

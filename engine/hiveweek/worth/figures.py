"""The simulated world beside published figures: each measured as it was published, inside its interval or not."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize
from scipy.special import expit

from hiveweek import content
from hiveweek.problems import InputProblems
from hiveweek.shapes import shape
from hiveweek.worth.keepers import CALENDAR
from hiveweek.worth.place import WEEK, WEEKS
from hiveweek.worth.runs import Course, Play

ORDINARY, UNTREATED, UNFED = "ordinary", "untreated", "unfed"
KEEPERS = (CALENDAR, UNTREATED, UNFED)
LONG = ("life", "honey_ratio")  # measured over several years
LONG_YEARS = 3
MONTH = 30
FORTNIGHT = 2


@dataclass(frozen=True)
class Held:
    """A published figure and what the world gives.

    Attributes
    ----------
    figure : mapping
        As it stands in ``figures.yaml``.
    value : float
    """

    figure: Mapping
    value: float

    @property
    def inside(self) -> bool:
        """Whether it lies in the published interval."""
        return bool(self.figure["low"] <= self.value <= self.figure["high"])


def figures() -> list[dict]:
    """Read the published figures.

    Raises
    ------
    InputProblems
        With everything wrong with the file.
    """
    document = shape("figures").read(content.root() / "rulesets" / "vocabulary" / "figures.yaml")
    if document.problems:
        raise InputProblems(document.problems)
    return document.data["figures"]


def held(play: Callable[[str, int], Play], done: Callable[[], None] = lambda: None) -> list[Held]:
    """Measure every figure.

    Parameters
    ----------
    play : callable
        Gives the play of a climate over a number of weeks.
    done : callable
        Called after each run.
    """
    runs: dict[tuple[str, int], Course] = {}
    found = []
    for figure in figures():
        key = figure["climate"], WEEKS * (LONG_YEARS if figure["measure"] in LONG else 1)
        if key not in runs:
            runs[key] = play(*key).run(KEEPERS)
            done()
        found.append(Held(figure, float(MEASURES[figure["measure"]](runs[key], figure))))
    return found


def _week(course: Course, day: str) -> int:
    return course.week_of(*map(int, day.split("-")))


def _of(course: Course, figure: Mapping, name: str, week: int) -> np.ndarray:
    return course.weeks[name][week, course.line(figure["keeper"])]


def _ends(course: Course, figure: Mapping) -> tuple[np.ndarray, np.ndarray]:
    """A quantity at both ends, of the colonies that live at both."""
    first, last = _week(course, figure["at"]), _week(course, figure["to"])
    line = course.line(figure["keeper"])
    both = course.alive[first, line] & course.alive[last, line]
    if "low_mites" in figure:
        both &= course.weeks["per_100"][first, line] < figure["low_mites"]
    return _of(course, figure, figure["of"], first)[both], _of(course, figure, figure["of"], last)[both]


def _ratio(course: Course, figure: Mapping) -> float:
    first, last = _ends(course, figure)
    return float(np.median(last / np.maximum(first, 1e-9)))


def _rate(course: Course, figure: Mapping) -> float:
    days = WEEK * (_week(course, figure["to"]) - _week(course, figure["at"]))
    return float(np.log(_ratio(course, figure)) / days)


def _median(course: Course, figure: Mapping) -> float:
    week = _week(course, figure["at"])
    return float(np.median(_of(course, figure, figure["of"], week)[course.alive[week, course.line(figure["keeper"])]]))


def _by_colony(course: Course, figure: Mapping) -> np.ndarray:
    line = course.line(figure["keeper"])
    return course.weeks[figure["of"]][:, line][:, course.ended[line] == 0]


def _peak(course: Course, figure: Mapping) -> float:
    return float(np.median(_by_colony(course, figure).max(axis=0)))


def _peak_day(course: Course, figure: Mapping) -> float:
    week = float(np.median(_by_colony(course, figure).argmax(axis=0)))
    return (course.start + dt.timedelta(days=WEEK * week)).timetuple().tm_yday


def _food(course: Course, figure: Mapping) -> np.ndarray:
    line = course.line(figure["keeper"])
    kept = sum(course.weeks[name][:, line] for name in ("stores", "honey", "taken"))
    return np.asarray(kept)


def _weight(course: Course, figure: Mapping) -> float:
    first, last = _week(course, figure["at"]), _week(course, figure["to"])
    line = course.line(figure["keeper"])
    food = _food(course, figure)[:, course.alive[max(first, last), line]]
    # A colony's year begins in spring: what lies before that day is the year's end.
    change = food[last] - food[first] if last > first else np.full(food.shape[1], np.nan)
    return float(np.median(change)) * MONTH / (WEEK * (last - first))


def _first_gain(course: Course, figure: Mapping) -> float:
    food = _food(course, figure)
    gains = np.median(food[FORTNIGHT:] - food[:-FORTNIGHT], axis=1) > 0
    return (course.start + dt.timedelta(days=WEEK * int(gains.argmax()))).timetuple().tm_yday


def _honey(course: Course, figure: Mapping) -> float:
    return float(_of(course, figure, "taken", -1).mean())


def _honey_ratio(course: Course, figure: Mapping) -> float:
    """Honey of the second year a colony that lives into it, to that of treated ones."""
    crop = course.weeks["taken"][2 * WEEKS] - course.weeks["taken"][WEEKS]
    mine, treated = (crop[line][course.alive[WEEKS, line]] for line in map(course.line, (figure["keeper"], CALENDAR)))
    return float(mine.mean() / treated.mean())


def _lost(course: Course, figure: Mapping) -> tuple[np.ndarray, np.ndarray, int]:
    week, line = _week(course, figure["at"]), course.line(figure["keeper"])
    return course.alive[week, line], course.ended[line] != 0, week


def _loss(course: Course, figure: Mapping) -> float:
    there, lost, _ = _lost(course, figure)
    return float(lost[there].mean())


def _loss_where(course: Course, figure: Mapping) -> float:
    there, lost, week = _lost(course, figure)
    return float(lost[there & (_of(course, figure, "stores", week) >= figure["heavy_kg"])].mean())


def _loss_ratio(course: Course, figure: Mapping) -> float:
    there, lost, week = _lost(course, figure)
    if "high_mites" in figure:
        more = _of(course, figure, "per_100", week) >= figure["high_mites"]
        return float(lost[there & more].mean() / max(lost[there & ~more].mean(), 1e-9))
    bees = _of(course, figure, "bees", week)
    weak, strong = np.quantile(bees[there], [1 / 3, 2 / 3])
    return float(lost[there & (bees <= weak)].mean() / max(lost[there & (bees >= strong)].mean(), 1e-9))


def _quarter(course: Course, figure: Mapping) -> float:
    """Share of the year's deaths in a quarter, where so many treat as did there."""
    deaths, treating = np.zeros(4), figure["treating"]
    for keeper, share in ((CALENDAR, treating), (UNTREATED, 1 - treating)):
        alive = course.alive[:, course.line(keeper)]
        for week in range(1, len(alive)):
            month = (course.start + dt.timedelta(days=WEEK * week)).month
            deaths[(month - 1) // 3] += share * (alive[week - 1] & ~alive[week]).sum()
        # The weak and queenless are found at the year's end.
        line, last = course.line(keeper), course.start - dt.timedelta(days=1)
        deaths[(last.month - 1) // 3] += share * (alive[-1] & (course.ended[line] != 0)).sum()
    return float(deaths[figure["quarter"] - 1] / deaths.sum())


def _life(course: Course, figure: Mapping) -> float:
    alive = course.alive[:, course.line(figure["keeper"])].mean(axis=1)
    return float(np.argmax(alive < 0.5) * WEEK / 365) if (alive < 0.5).any() else float(LONG_YEARS)


def _odds(course: Course, figure: Mapping) -> float:
    """Odds ratio a mite per 100 bees, by logistic regression."""
    there, lost, week = _lost(course, figure)
    mites, dead = _of(course, figure, "per_100", week)[there], lost[there]

    def minus_likelihood(terms: np.ndarray) -> float:
        chance = np.clip(expit(terms[0] + terms[1] * mites), 1e-9, 1 - 1e-9)
        return -float(np.where(dead, np.log(chance), np.log(1 - chance)).sum())

    return float(np.exp(minimize(minus_likelihood, np.array([-2.0, 0.1])).x[1]))


MEASURES: dict[str, Callable[[Course, Mapping], float]] = {
    "rate": _rate,
    "factor": _ratio,
    "ratio": _ratio,
    "median": _median,
    "peak": _peak,
    "peak_day": _peak_day,
    "weight": _weight,
    "first_gain": _first_gain,
    "honey": _honey,
    "honey_ratio": _honey_ratio,
    "loss": _loss,
    "loss_where": _loss_where,
    "loss_ratio": _loss_ratio,
    "quarter": _quarter,
    "life": _life,
    "odds": _odds,
}

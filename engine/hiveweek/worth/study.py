"""The whole study: every climate, what each look is worth, dangers, published figures and what hangs on which number."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass, field
from multiprocessing import get_context
from typing import Any

from hiveweek import vocabulary
from hiveweek.numbers import Numbers, shipped
from hiveweek.worth import tally
from hiveweek.worth.figures import UNTREATED, held
from hiveweek.worth.keepers import ALL, BUT, CALENDAR, FEW, KNOWN, NOTHING, calendars
from hiveweek.worth.runs import DANGERS, Play

KIND_SHARE = 5  # seeds of which one is played without each kind of look
SWAYING = 5  # numbers on which most hangs, at whose ends the advice is asked too
FIGURE_SEEDS = 300
COMPARED, FIGURES, SWAYS, ASKED = "compared", "figures", "sways", "asked"


@dataclass(frozen=True)
class Task:
    """A part of the study that is worked out by itself.

    Attributes
    ----------
    kind : str
        ``compared`` and ``asked``: a climate with its keepers; ``figures``; ``sways``: a number at both ends of its band.
    """

    kind: str
    climate: str = ""
    number: str = ""


@dataclass
class Study:
    """How the study is made.

    Attributes
    ----------
    climates : sequence of str
    seeds, seed : int
    figures : bool
        Also the world beside published figures.
    sensitivity : str
        Climate in which each number of the world is moved, one at a time; empty for none.
    processes : int
    """

    climates: Sequence[str]
    seeds: int = 500
    seed: int = 1
    figures: bool = False
    sensitivity: str = ""
    processes: int = 1
    result: dict[str, Any] = field(default_factory=dict)

    def run(self, done: Callable[[str], None], save: Callable[[dict], None] = lambda result: None) -> dict:
        """Work it out; ``done`` is told each part that is finished, ``save`` gets the result as it grows."""
        began = time.monotonic()
        self.result = {"seeds": self.seeds, "seed": self.seed, "climates": {}}
        self._work(self.tasks(), done, save)
        if self.sensitivity:
            rows = self.result["sensitivity"]["rows"]
            rows.sort(key=lambda row: -max(abs(change) for change in row["change"]))
            asked = [Task(ASKED, self.sensitivity, row["number"]) for row in rows[:SWAYING]]
            self._work(asked, done, save)
        self.result["climates"] = dict(sorted(self.result["climates"].items()))
        self.result["minutes"] = round((time.monotonic() - began) / 60, 1)
        save(self.result)
        return self.result

    def tasks(self) -> list[Task]:
        """Return the parts, those that take longest first."""
        found = [Task(COMPARED, climate) for climate in self.climates]
        if self.figures:
            found.append(Task(FIGURES))
        if self.sensitivity:
            self.result["sensitivity"] = {"climate": self.sensitivity, "rows": [], "asked": []}
            banded = [name for name, row in sorted(shipped().under("world").items()) if row.band is not None]
            found += [Task(SWAYS, self.sensitivity, name.removeprefix("world.")) for name in banded]
        return found

    @property
    def parts(self) -> int:
        """How many parts there are in all."""
        return len(self.tasks()) + (SWAYING if self.sensitivity else 0)

    def _work(self, tasks: Sequence[Task], done: Callable[[str], None], save: Callable[[dict], None]) -> None:
        if self.processes <= 1:
            for task in tasks:
                self._take(task, worked(task, self.seeds, self.seed), done, save)
            return
        with ProcessPoolExecutor(self.processes, mp_context=get_context("spawn")) as pool:
            running = {pool.submit(worked, task, self.seeds, self.seed): task for task in tasks}
            for future in as_completed(running):
                self._take(running[future], future.result(), done, save)

    def _take(self, task: Task, found: Any, done: Callable[[str], None], save: Callable[[dict], None]) -> None:
        if task.kind == COMPARED:
            self.result["climates"][task.climate] = found
        elif task.kind == FIGURES:
            self.result["figures"] = found
        else:
            self.result["sensitivity"]["rows" if task.kind == SWAYS else "asked"].append(found)
        done(task.climate if task.kind == COMPARED else task.number or task.kind)
        save(self.result)


def worked(task: Task, seeds: int, seed: int) -> Any:
    """Work out one part; in a process of its own where several work."""
    numbers, data = shipped(), calendars()
    if task.kind == FIGURES:
        return _figures(numbers, data, seed)
    few = max(seeds // KIND_SHARE, 2)
    if task.kind == COMPARED:
        words = vocabulary.load()
        play = Play(task.climate, numbers, words, data, seeds, seed)
        whose = data["climates"][task.climate]
        kinds = Play(task.climate, numbers, words, data, few, seed).run((ALL, *(BUT + kind for kind in data["kinds"])))
        return {
            "calendar": data["calendars"][whose["calendar"]]["region"],
            "nearest": bool(whose.get("nearest")),
            **tally.compared(play.run((NOTHING, CALENDAR, FEW, ALL, KNOWN))),
            "kinds": tally.kinds(kinds),
            "dangers": tally.dangers(play.run((CALENDAR, *DANGERS))),
        }
    row = numbers[f"world.{task.number}"]
    ends = [row.low, row.high]
    if task.kind == SWAYS:
        lines = (CALENDAR, UNTREATED)
        plays = [
            Play(task.climate, numbers, None, data, seeds, seed, held={task.number: end}) for end in (row.value, *ends)
        ]
        found = [play.run(lines).survived.mean(axis=1) for play in plays]
        survival = [float(one[0]) for one in found]
        return {
            "number": task.number,
            "ends": ends,
            "survival": survival[1:],
            "untreated": [float(one[1]) for one in found[1:]],
            "change": [value - survival[0] for value in survival[1:]],
        }
    words, worth = vocabulary.load(), []
    for end in ends:
        course = Play(task.climate, numbers, words, data, few, seed, held={task.number: end}).run((CALENDAR, ALL))
        worth.append(tally.beside(course, ALL, CALENDAR)["survival"])
    return {"number": task.number, "ends": ends, "worth": worth}


def _figures(numbers: Numbers, data: dict, seed: int) -> list[dict]:
    def play(climate: str, weeks: int) -> Play:
        return Play(climate, numbers, None, data, FIGURE_SEEDS, seed, weeks)

    return [{**one.figure, "value": one.value, "inside": one.inside} for one in held(play)]

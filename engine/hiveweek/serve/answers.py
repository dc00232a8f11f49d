"""The week's answers of a record, worked out beside the pages: once for each state of an apiary and each day."""

from __future__ import annotations

import datetime as dt
import threading
import time
from collections.abc import Callable, Mapping
from concurrent.futures import Future, wait
from contextlib import nullcontext
from dataclasses import dataclass, field
from typing import Any, TypeVar

from hiveweek import vocabulary
from hiveweek.facts.scenario import scenario_of_record
from hiveweek.plan.answers import Asking, Shared
from hiveweek.plan.asked import Asked, asked_by
from hiveweek.plan.model import WeekPlan
from hiveweek.problems import InputProblems, Problem
from hiveweek.record.store import Store, StoreFault, open_store
from hiveweek.serve.aside import Aside, Gone
from hiveweek.serve.settings import Settings
from hiveweek.show.trends import Phase, Trend, season, trends

PATIENCE = 0.05  # seconds that a page waits for a newer answer before it shows the one it has
BUSY_SECONDS = 1.0  # after which a record that could not be read is read again
Result = TypeVar("Result")
Key = tuple[dt.date, tuple[tuple[str, int], ...]]


@dataclass(frozen=True, eq=False)
class Found:
    """An answer, for one state of the record.

    Attributes
    ----------
    plan : WeekPlan or None
        None where the apiary cannot be answered.
    asked : dict
        What it asks, by id of the hive and action.
    hives : dict of str to int
        Id of a hive to its place in the plan.
    wrong : tuple of Problem
        Why there is no plan.
    busy : bool
        The record could not be read just now: this is no answer, and is not kept.
    trends : mapping
        How stores and mites of each hive go, by the name of the hive.
    season : tuple of Phase
    """

    key: Key
    plan: WeekPlan | None
    asked: dict[str, dict[str, Asked]]
    hives: dict[str, int]
    wrong: tuple[Problem, ...] = ()
    busy: bool = False
    trends: Mapping[str, tuple[Trend, ...]] = field(default_factory=dict)
    season: tuple[Phase, ...] = ()


class Answers:
    """Keeps the last answer of each apiary, and has newer ones worked out in a process of their own.

    Parameters
    ----------
    settings : Settings
    """

    def __init__(self, settings: Settings):
        self.settings = settings
        self._lock = threading.Lock()
        self._kept: dict[str, Found] = {}
        self._working: dict[str, Future[Found]] = {}
        self._again: dict[str, float] = {}  # when the record of an apiary is read again, by the clock of the machine
        self._aside = Aside()

    def ask(self, store: Store, apiary: str, day: dt.date, patience: float = PATIENCE) -> tuple[Found | None, bool]:
        """Return the newest answer of an apiary, and whether it is of the record as it stands now.

        None where the first one is not there within the time given. What is not of now is being worked out.
        """
        key = key_of(store, apiary, day)
        work = self._ask(apiary, day, key)
        if work is not None:
            wait([work], patience)
        with self._lock:
            found = self._kept.get(apiary)
        return found, found is not None and found.key == key

    def _ask(self, apiary: str, day: dt.date, key: Key) -> Future[Found] | None:
        with self._lock:
            kept, work = self._kept.get(apiary), self._working.get(apiary)
            if kept is not None and kept.key == key:
                return None
            if work is not None:
                return work
            if time.monotonic() < self._again.get(apiary, 0.0):
                return None
            work = self._aside.submit(_work, self.settings, apiary, day, key)
            self._working[apiary] = work
        work.add_done_callback(lambda done: self._keep(apiary, key, done))
        return work

    def _keep(self, apiary: str, key: Key, done: Future[Found]) -> None:
        error = None if done.cancelled() else done.exception()
        with self._lock:
            self._working.pop(apiary, None)
            if error is not None and not isinstance(error, Gone):
                # Kept too, or every look at the page would try it again.
                self._kept[apiary] = Found(key, None, {}, {}, (Problem("", 0, 0, "no-answer", repr(error)),))
            elif error is None and not done.cancelled():
                found = done.result()
                if found.busy:
                    self._again[apiary] = time.monotonic() + BUSY_SECONDS
                else:
                    self._kept[apiary] = found

    def work(self, job: Callable[..., Result], *given: Any) -> Result:
        """Have something else worked out in the process, and wait for it.

        Raises
        ------
        InputProblems
            As the job does.
        """
        found, wrong = self._aside.submit(_tried, job, given).result()
        if wrong:
            raise InputProblems(wrong)
        return found

    def start(self) -> None:
        """Start the process, so that the first answer need not wait for it."""
        self._aside.submit(_warm)

    def close(self) -> None:
        """End the process."""
        self._aside.close()


def key_of(store: Store, apiary: str, day: dt.date) -> Key:
    """Return what an answer hangs on: the day, and the revisions of the apiary and of all where its hives stood before."""
    stood = {place.apiary for hive in store.hives(apiary) for place in hive.placements} | {apiary}
    return day, tuple((one, store.revision(one)) for one in sorted(stood))


# --- in the process of its own
_shared: dict[str, Shared] = {}


def _tried(job: Callable[..., Any], given: tuple) -> tuple[Any, tuple[Problem, ...]]:
    try:
        return job(*given), ()
    except InputProblems as error:  # it does not come whole through to another process
        return None, tuple(error.problems)


def _warm() -> None:
    vocabulary.load()


def _work(settings: Settings, apiary: str, day: dt.date, key: Key) -> Found:
    words = vocabulary.load()
    try:
        with open_store(settings.place) as store:
            scenario = scenario_of_record(store.record([apiary], day), apiary, day)
        asking: Asking[Any, Any] = Asking(
            lambda: nullcontext(lambda yard: yard), lambda told: told, words, day, settings.forecast, settings.offline
        )
        known = Shared.key_of(scenario)
        if known not in _shared:
            _shared[known] = Shared(scenario, asking)
        told = _shared[known].answer(scenario)
    except InputProblems as error:
        return Found(key, None, {}, {}, tuple(error.problems), busy=isinstance(error, StoreFault))
    asked = {hive.key: one for hive, one in zip(scenario.hives, asked_by(told), strict=True)}
    places = {hive.key: place for place, hive in enumerate(scenario.hives)}
    return Found(key, told.plan, asked, places, trends=trends(told), season=season(told))

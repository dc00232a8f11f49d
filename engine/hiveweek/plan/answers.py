"""The week's answers for many apiaries: what some of them share is read once, and several processes may work at it."""

from __future__ import annotations

import datetime as dt
import gc
import multiprocessing
import os
import signal
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from pathlib import Path
from typing import Any, Generic, TypeVar

from hiveweek.climate import Profile
from hiveweek.facts.scenario import Scenario
from hiveweek.inference import channel
from hiveweek.inference.orphan import end_with_parent
from hiveweek.plan import ranking as ranking_file
from hiveweek.plan.answer import Answer, answer, profile_of, rules_of
from hiveweek.plan.ranking import Ranking
from hiveweek.problems import InputProblems, Problem
from hiveweek.rules.model import RuleSet
from hiveweek.vocabulary.model import Vocabulary

LEAST_EACH = 4  # apiaries that make another process worth its start, or the help of one that has other rules at hand
MOST_STARTED = 3  # times that the second channel of one ruleset is started, where it ends without an answer

Yard = TypeVar("Yard")
Shown = TypeVar("Shown")


@dataclass(frozen=True)
class Asking(Generic[Yard, Shown]):
    """How the week is asked, for all apiaries of a run.

    Attributes
    ----------
    reading : callable
        Opens what the questions are read from and gives the function that reads one; called once in each process.
    show : callable
        Makes of an answer what is handed back. Where several processes work it has to be plain data, for a whole answer is large.
    words, date, forecast, offline, extra, with_facts
        See `answer`.
    processes : int, optional
        How many work at most; as many as this process may use by default.
    """

    reading: Callable[[], AbstractContextManager[Callable[[Yard], Scenario]]]
    show: Callable[[Answer], Shown]
    words: Vocabulary
    date: dt.date | None = None
    forecast: Path | str | None = None
    offline: bool = False
    extra: tuple[Path, ...] = ()
    with_facts: bool = False
    processes: int | None = None


def several(yards: Sequence[Any], asking: Asking[Any, Any]) -> int:
    """Return how many processes will answer; one where the work stays in this one."""
    workers = min(asking.processes or usable_cores(), len(yards) // LEAST_EACH)
    return workers if workers > 1 and "fork" in multiprocessing.get_all_start_methods() else 1


def answers(
    yards: Sequence[Yard], asking: Asking[Yard, Shown], done: Callable[[], None] = lambda: None
) -> list[Shown | list[Problem]]:
    """Answer for every apiary, in their order; for one that cannot be answered return what is wrong with it.

    ``done`` is called after each.

    Notes
    -----
    Apiaries of one climate, law and overlays should stand side by side: they share the rules, the profile and the second channel.
    Each process takes a part that stands side by side. A process that ends before its time costs only that what it had in hand
    and the last few of its part are worked out here.
    """
    found: dict[int, Shown | list[Problem]] = {}
    workers = several(yards, asking)
    if workers > 1:
        for number, shown in _by_several(yards, asking, workers):
            found[number] = shown
            done()
    left = (number for number in range(len(yards)) if number not in found)
    for number, shown in _worked_out(yards, asking, left):
        found[number] = shown
        done()
    return [found[number] for number in range(len(yards))]


def usable_cores() -> int:
    """Return how many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _worked_out(
    yards: Sequence[Yard], asking: Asking[Yard, Shown], numbers: Iterator[int]
) -> Iterator[tuple[int, Shown | list[Problem]]]:
    """Answer for some apiaries in this process, one after the other."""
    first = next(numbers, None)
    if first is None:
        return
    shared: Shared | None = None
    try:
        with asking.reading() as read:
            number: int | None = first
            while number is not None:
                try:
                    scenario = read(yards[number])
                    if shared is None or shared.key != Shared.key_of(scenario):
                        if shared is not None:
                            shared.stop()
                        shared = Shared(scenario, asking)
                    yield number, asking.show(shared.answer(scenario))
                except InputProblems as error:
                    yield number, error.problems
                number = next(numbers, None)
    finally:
        if shared is not None:
            shared.stop()


class Shared:
    """What apiaries of one climate, law and overlays share."""

    def __init__(self, scenario: Scenario, asking: Asking[Any, Any]):
        self.key, self.asking = self.key_of(scenario), asking
        self.second: channel.Started | None = None
        profile = profile_of(scenario)
        self.ruleset: RuleSet = rules_of(scenario, profile, asking.extra, asking.words)
        self.profile: Profile = profile.with_numbers(self.ruleset.numbers)
        self.ranking: Ranking = ranking_file.load(asking.words)
        self.starts = 0

    @staticmethod
    def key_of(scenario: Scenario) -> str:
        """Return what scenarios have in common that share it."""
        place = scenario.apiary
        return repr((scenario.climate, scenario.file, place.overrides, scenario.jurisdiction, scenario.rulesets))

    def answer(self, scenario: Scenario) -> Answer:
        """Answer for one of them."""
        asking = self.asking
        return answer(
            scenario,
            date=asking.date,
            forecast=asking.forecast,
            offline=asking.offline,
            with_facts=asking.with_facts,
            words=asking.words,
            ruleset=self.ruleset,
            ranking=self.ranking,
            profile=self.profile,
            second=self._second(),
        )

    def _second(self) -> channel.Started:
        """Return the second channel at work; one that has ended is started again a few times only."""
        if self.second is None or (self.second.ended and self.starts < MOST_STARTED):
            self.starts += 1
            self.second = channel.Started(self.ruleset, self.asking.words, 0, lasting=True)
        return self.second

    def stop(self) -> None:
        """End the second channel."""
        if self.second is not None:
            self.second.stop()


def _by_several(
    yards: Sequence[Yard], asking: Asking[Yard, Shown], workers: int
) -> Iterator[tuple[int, Shown | list[Problem]]]:
    """Let several processes answer, each the next apiary of its part, and then of the part with most left to do."""
    context = multiprocessing.get_context("fork")
    shares = [len(yards) * part // workers for part in range(workers + 1)]
    parts = context.Array("i", [bound for part in range(workers) for bound in shares[part : part + 2]])
    processes, pipes = [], []
    try:
        for own in range(workers):
            near, far = context.Pipe(duplex=False)
            process = context.Process(target=_work, args=(far, yards, asking, parts, own))
            with suppress(OSError):  # no more processes: the others do it, or this one
                process.start()
                processes.append(process)
                pipes.append(near)
            far.close()
        while pipes:
            for pipe in wait(pipes):
                assert isinstance(pipe, Connection)
                try:
                    yield pipe.recv()
                except EOFError:
                    pipes.remove(pipe)
    finally:
        for process in processes:
            process.kill()
            process.join()


def _work(pipe: Connection, yards: Sequence[Yard], asking: Asking[Yard, Shown], parts: Any, own: int) -> None:
    end_with_parent()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # who stops the run stops its parent, which ends this one
    # What is read stays, and of an answer little is left when it is told: looking through it all between would cost a tenth.
    gc.disable()
    gc.freeze()
    for found in _worked_out(yards, asking, _taken(parts, own)):
        pipe.send(found)
        gc.collect()
        gc.freeze()
    pipe.close()


def _taken(parts: Any, own: int) -> Iterator[int]:
    """Yield the numbers that fall to a process: its own part from the front, and what it takes over of others from their ends.

    Parameters
    ----------
    parts : shared array of int
        First number and end of what is left of each part, one part after the other.
    own : int
        Which of them is its own.
    """
    helped: set[int] = set()
    while True:
        with parts.get_lock():
            left = [end - first for first, end in zip(parts[::2], parts[1::2], strict=True)]
            most = left.index(max(left))
            if left[own]:
                number = parts[2 * own]
                parts[2 * own] += 1
            elif left[most] >= (1 if most in helped else LEAST_EACH):
                helped.add(most)
                parts[2 * most + 1] -= 1
                number = parts[2 * most + 1]
            else:
                return
        yield number

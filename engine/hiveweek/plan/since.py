"""Since when an act is due, and by when: today's rules asked for the days back.

An act is due on a day where a rule for it fires, or would but for a guard that only puts it off. The days asked are the Mondays of
twelve weeks and the days on which something was noted of the hive; then, one by one, the days in the first gap. What was noted
later counts on its own day, and nothing is kept: the same record gives the same answer.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from hiveweek.facts.estimates import models_for
from hiveweek.facts.past import Past
from hiveweek.inference.columnar import Inference, infer
from hiveweek.language.truth import TRUE
from hiveweek.plan.deadlines import Deadlines
from hiveweek.record.answered import Given
from hiveweek.rules.model import Rule
from hiveweek.rules.resting import needs_of, part_of

CHUNK = 4  # days asked at once, the last first: most acts are not due for long


@dataclass(frozen=True)
class Due:
    """Since when an act is due at a hive, and by when.

    Attributes
    ----------
    since : date or None
        The first day of the run of days on which it was due; None where it was due before the farthest day asked.
    before : date or None
        That farthest day, where it was due on it already.
    by : date or None
        The earliest deadline given in the run; None where it was given before the farthest day asked and is past since.
    by_rule : dict of str to date
        The same, for each rule that fires today.
    """

    since: dt.date | None
    before: dt.date | None = None
    by: dt.date | None = None
    by_rule: Mapping[str, dt.date] = field(default_factory=dict)


@dataclass
class _Run:
    """The days back from today on which an act was due at a hive, as far as they have been asked."""

    row: int
    action: str
    own: list[Rule]  # rules that advise it
    any_of: list[Rule]  # these, and those for what may be done in its place
    samples: list[int]  # days to ask, the latest first
    first: int  # the earliest day known to belong to the run
    gap_from: int | None = None  # the latest day known not to belong to it
    open: bool = True


class Since:
    """Finds since when the acts of a yard are due.

    Parameters
    ----------
    inference : Inference
        Of today.
    past : Past
    deadlines : Deadlines
    guards : iterable of str
        Findings that only put a job off.
    answered : sequence of mapping
        What was answered, a mapping of actions a hive; empty where nothing was. What was done ends a run.
    instead : callable
        Takes an action, gives the actions that are its late substitutes.
    weeks : int
        How far back the rules are asked.
    """

    def __init__(
        self,
        inference: Inference,
        past: Past,
        deadlines: Deadlines,
        guards: Iterable[str],
        answered: Sequence[Mapping[str, Given]],
        instead: Callable[[str], Iterable[str]],
        weeks: int,
    ):
        self.inference, self.past, self.deadlines = inference, past, deadlines
        self.guards, self.answered, self.instead = frozenset(guards), answered, instead
        self.ruleset = inference.ruleset
        self.words = inference.table.vocabulary
        self.today = deadlines.today.toordinal()
        back = self.today - 7 * weeks
        self.farthest = back - dt.date.fromordinal(back).weekday()  # a Monday
        self._asked: dict[int, _Day] = {}
        self._models_of: dict[str, frozenset[str]] = {}

    def find(self, advised: Sequence[Iterable[str]]) -> list[dict[str, Due]]:
        """Return, for each hive, since when its acts are due.

        Parameters
        ----------
        advised : sequence of iterable of str
            The actions that rules advise today, a set a hive.
        """
        by_action = self._by_action()
        runs = [
            self._run(row, action, by_action) for row, actions in enumerate(advised) for action in sorted(set(actions))
        ]
        self._walk_back(runs)
        self._fill_gaps(runs)
        found: list[dict[str, Due]] = [{} for _ in advised]
        for run in runs:
            found[run.row][run.action] = self._due(run)
        return found

    def ended(self, asked: Sequence[Iterable[str]], days: int) -> list[dict[str, dt.date]]:
        """Return, for each hive, the acts that were due in the last days and that no note has ended since, with the last such day.

        Parameters
        ----------
        asked : sequence of iterable of str
            Actions that no rule advises today, a set a hive.
        days : int
            How far back.
        """
        by_action = self._by_action()
        runs = [self._run(row, action, by_action) for row, actions in enumerate(asked) for action in sorted(actions)]
        samples = [(run, [day for day in run.samples if day >= self.today - days]) for run in runs]
        self._ask([(run, wanted) for run, wanted in samples if wanted and run.own])
        found: list[dict[str, dt.date]] = [{} for _ in asked]
        for run, wanted in samples:
            last = next((day for day in wanted if any(self._fires(rule, run.row, day) for rule in run.own)), None)
            if last is not None and not any(last < day <= self.today for day in self.past.noted[run.row]):
                found[run.row][run.action] = dt.date.fromordinal(last)
        return found

    def _by_action(self) -> dict[str, list[Rule]]:
        found: dict[str, list[Rule]] = {}
        for rule in self.ruleset.advising():
            found.setdefault(str(rule.advise), []).append(rule)
        return found

    # --- the days to ask
    def _run(self, row: int, action: str, by_action: dict[str, list[Rule]]) -> _Run:
        own = by_action.get(action, [])
        also = [rule for other in self.instead(action) for rule in by_action.get(other, ())]
        bound = self._bound(row, action)
        mondays = range(self.farthest, self.today, 7)
        days = {day for day in (*mondays, *self.past.noted[row], bound) if bound <= day < self.today}
        return _Run(row, action, own, own + also, sorted(days, reverse=True), self.today)

    def _bound(self, row: int, action: str) -> int:
        """The first day that can belong to the run: nothing is known of a hive before its first note, and what was done was not due."""
        noted = self.past.noted[row]
        bound = max(self.farthest, min(noted, default=self.today))
        given = self.answered[row].get(action) if self.answered else None
        if given is not None and given.done is not None:
            done = (given.done.until_date or given.done.date).toordinal()
            quiet = done + max(1, self.words.effects[action].quiet_for)
            bound = max(bound, min(quiet, *(day for day in noted if day > done), self.today))
        return min(bound, self.today)

    def _walk_back(self, runs: list[_Run]) -> None:
        while asking := [run for run in runs if run.open and run.samples]:
            asked = [(run, run.samples[:CHUNK]) for run in asking]
            self._ask(asked)
            for run, days in asked:
                run.samples = run.samples[CHUNK:]
                for day in days:
                    if not self._is_due(run, day):
                        run.open, run.gap_from = False, day
                        break
                    run.first = day

    def _fill_gaps(self, runs: list[_Run]) -> None:
        """Ask the single days before the first of each run, and of each of its rules: first the day before, then the rest of the gap."""
        for most in (1, 7):
            self._ask([(run, days) for run in runs if (days := self._before(run, most))])
        for run in runs:
            while self._joins(run, run.first - 1):
                run.first -= 1

    def _before(self, run: _Run, most: int) -> list[int]:
        """The last days, so many at most, of each gap in which the run or one of its rules may have begun and that are still to be asked."""
        first = run.first
        while self._joins(run, first - 1):
            first -= 1
        days: list[int] = []
        if run.gap_from is not None and self._unasked(run, first - 1):
            days += range(max(run.gap_from + 1, first - most), first)
        known = [day for day in sorted(self._asked) if first <= day < self.today]
        for rule in run.own:
            fired = next((day for day in known if self._fires(rule, run.row, day)), None)
            if fired is None and self._fires_today(rule, run.row):
                fired = self.today
            if fired is not None and fired > first:
                before = max((day for day in known if day < fired), default=first - 1)
                days += range(max(before + 1, fired - most), fired)
        return [day for day in days if self._unasked(run, day)]

    def _joins(self, run: _Run, day: int) -> bool:
        return (
            run.gap_from is not None and day > run.gap_from and not self._unasked(run, day) and self._is_due(run, day)
        )

    def _unasked(self, run: _Run, day: int) -> bool:
        return any(rule.id not in self._asked.get(day, _NO_DAY).fires for rule in run.any_of)

    # --- asking
    def _ask(self, asked: list[tuple[_Run, list[int]]]) -> None:
        """Ask the rules of runs on days; days for which the same models are wanted are asked together."""
        wanted: dict[int, dict[str, Rule]] = {}
        for run, days in asked:
            for day in days:
                if self._unasked(run, day):
                    wanted.setdefault(day, {}).update((rule.id, rule) for rule in run.any_of)
        kept = self.past.told(self.ruleset)
        together: dict[frozenset[str], dict[int, dict[str, Rule]]] = {}
        for day, rules in wanted.items():
            told = kept.get(day, _NO_DAY).fires
            new = {name: rule for name, rule in rules.items() if name not in told}
            if new:
                together.setdefault(self._models(new.values()), {})[day] = new
        for group in together.values():
            rules = {name: rule for new in group.values() for name, rule in new.items()}
            self._ask_rules(sorted(group), rules)
            for day in group:
                wanted[day].update(rules)
        for day, rules in wanted.items():
            here = self._asked.setdefault(day, _Day())
            here.fires.update((name, kept[day].fires[name]) for name in rules)
            here.dates.update(kept[day].dates)

    def _models(self, rules: Iterable[Rule]) -> frozenset[str]:
        found: set[str] = set()
        for rule in rules:
            if rule.id not in self._models_of:
                self._models_of[rule.id] = models_for(self._facts(rule), self.words)
            found |= self._models_of[rule.id]
        return frozenset(found)

    def _facts(self, rule: Rule) -> frozenset[str]:
        return needs_of(self.ruleset, [rule]).facts | {d.name for d in self.deadlines.of(rule) if d.base == "fact"}

    def _ask_rules(self, todo: list[int], rules: dict[str, Rule]) -> None:
        needs = needs_of(self.ruleset, rules.values())
        dates = {d.name for rule in rules.values() for d in self.deadlines.of(rule) if d.base == "fact"}
        table = self.past.tables(todo, needs.facts | dates | _ALWAYS)
        n, groups = len(self.past), len(todo)
        asked = infer(part_of(self.ruleset, rules.values(), needs.findings), table, groups)
        held = {rule.id for rule in rules.values() if needs_of(self.ruleset, [rule]).findings & self.guards}
        free: Inference | None = None
        if held:
            waiting = {name: rules[name] for name in held}
            findings = needs_of(self.ruleset, waiting.values()).findings
            free = infer(part_of(self.ruleset, waiting.values(), findings, without=self.guards), table, groups)
        alive = table.column("colony.alive").value != 0
        kept = self.past.told(self.ruleset)
        for name, rule in rules.items():
            fires = asked.rules[name].point == TRUE
            if free is not None and name in held:
                fires = fires | (free.rules[name].point == TRUE)
            if not self.words.actions[str(rule.advise)].dead_ok:
                fires = fires & alive
            for place, day in enumerate(todo):
                rows = slice(place * n, (place + 1) * n)
                kept.setdefault(day, _Day()).fires[name] = fires[rows]
        for place, day in enumerate(todo):
            for name in dates:
                kept[day].dates[name] = table.column(name).value[place * n : (place + 1) * n]

    def _is_due(self, run: _Run, day: int) -> bool:
        return any(self._fires(rule, run.row, day) for rule in run.any_of)

    def _fires(self, rule: Rule, row: int, day: int) -> bool:
        found = self._asked[day].fires.get(rule.id) if day in self._asked else None
        return found is not None and bool(found[row])

    def _fires_today(self, rule: Rule, row: int) -> bool:
        return self.inference.rules[rule.id].holds(row)

    # --- what follows
    def _due(self, run: _Run) -> Due:
        days = [day for day in sorted(self._asked) if run.first <= day < self.today and self._is_due(run, day)]
        reached = run.gap_from is None and run.first == self.farthest
        first = dt.date.fromordinal(run.first)
        noted = sorted(day for day in self.past.noted[run.row] if run.first <= day <= self.today)
        given: dict[str, dt.date] = {}
        deadlines: list[dt.date] = []
        lost = False
        for rule in run.own:
            fired = [day for day in days if self._fires(rule, run.row, day)]
            today = self._fires_today(rule, run.row)
            # What a later note has ended no longer counts; what only the days ended does.
            if not today and not (fired and fired[-1] >= (noted or [0])[-1]):
                continue
            by, gone = self._given(run, rule, [*fired, *([self.today] if today else [])], noted, reached)
            if gone and (by is None or by >= self.deadlines.today):
                lost = True
                continue
            if by is not None:
                deadlines.append(by)
                if today:
                    given[rule.id] = by
        by = None if lost else min(deadlines, default=None)
        return Due(None if reached else first, first if reached else None, by, given)

    def _given(
        self, run: _Run, rule: Rule, fired: list[int], noted: list[int], reached: bool
    ) -> tuple[dt.date | None, bool]:
        """The earliest deadline of one rule: a plain one counts from its first day, one on a date from the last note of what it uses.

        What would count from the farthest day asked (``reached``), and so move with the day of asking, was given before it: it
        is left out, and whether one that has passed was is told.
        """
        found, gone = [], False
        for deadline in self.deadlines.of(rule):
            uses = self.deadlines.uses(deadline)
            anew = max((day for day in noted if self.past.noted[run.row][day] & uses), default=0) if uses else 0
            day = next((day for day in fired if day >= anew), None)
            if day is None:
                continue
            known = self._asked[day].dates.get(deadline.name) if day < self.today else None
            number = None if known is None else float(known[run.row])
            by = self.deadlines.on(deadline, dt.date.fromordinal(day), run.row, number, harm=deadline is not rule.by)
            if by is None:
                continue
            counts = deadline.base == "today" or (deadline.days and by.toordinal() == day)
            if reached and day == run.first and counts and by < self.deadlines.today:
                gone = True
            else:
                found.append(by)
        return min(found, default=None), gone


@dataclass
class _Day:
    """What was asked of a day: whether each rule fires at each hive, and the dates that deadlines rest on."""

    fires: dict[str, np.ndarray] = field(default_factory=dict)
    dates: dict[str, np.ndarray] = field(default_factory=dict)


_NO_DAY = _Day()
_ALWAYS = frozenset({"colony.alive"})

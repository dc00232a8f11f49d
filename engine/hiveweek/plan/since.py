"""Since when an act is due, and by when: today's rules asked for the days back.

An act is due on a day where a rule for it fires, or would but for a guard that only puts it off. The days asked are the Mondays of
twelve weeks and the days on which something was noted of the hive; then, one by one, the days in the first gap. What was noted
later counts on its own day, and nothing is kept: the same record gives the same answer.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from hiveweek.facts.past import Past
from hiveweek.inference.columnar import Inference
from hiveweek.plan.days_back import DaysBack
from hiveweek.plan.deadlines import Deadlines
from hiveweek.record.answered import Given
from hiveweek.rules.model import Rule

CHUNK = 4  # days asked at once, the last first, then twice as many, and so on: some acts are not due for long


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
    fires: dict[int, frozenset[str]] = field(default_factory=dict)  # the rules that fire on each day that was asked
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
    waits_by : str
        The action that only waits: what an earlier wait said is over once another reason to wait has taken its place.
    follow : callable, optional
        Takes a row and an action, gives the actions that follow it in the same visit, where both are due; none by default.
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
        waits_by: str = "",
        follow: Callable[[int, str], Iterable[str]] = lambda row, action: (),
    ):
        self.inference, self.past, self.deadlines = inference, past, deadlines
        self.told = DaysBack(inference.ruleset, past, deadlines, frozenset(guards))
        self.answered, self.instead, self.follow = answered, instead, follow
        self.waits_by = waits_by
        self.ruleset = inference.ruleset
        self.words = inference.table.vocabulary
        self.today = deadlines.today.toordinal()
        back = self.today - 7 * weeks
        self.farthest = back - dt.date.fromordinal(back).weekday()  # a Monday

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
        self._with_what_follows(runs, by_action, found)
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
            last = next((day for day in wanted if any(rule.id in run.fires.get(day, ()) for rule in run.own)), None)
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
        """The first day that can belong to the run, maybe one to come: nothing is known of a hive before its first note, what was done was not due."""
        noted = self.past.noted[row]
        bound = max(self.farthest, min(noted, default=self.today))
        given = self.answered[row].get(action) if self.answered else None
        if given is not None and given.done is not None:
            done = (given.done.until_date or given.done.date).toordinal()
            quiet = done + max(1, self.words.effects[action].quiet_for)
            bound = max(bound, min((quiet, *(day for day in noted if day > done))))
        return bound

    def _walk_back(self, runs: list[_Run]) -> None:
        chunk = CHUNK
        while asking := [run for run in runs if run.open and run.samples]:
            asked = [(run, run.samples[:chunk]) for run in asking]
            self._ask(asked)
            for run, days in asked:
                run.samples = run.samples[chunk:]
                for day in days:
                    if not run.fires[day]:
                        run.open, run.gap_from = False, day
                        break
                    run.first = day
            chunk *= 2

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
        if run.gap_from is not None and first - 1 not in run.fires:
            days += range(max(run.gap_from + 1, first - most), first)
        known = [day for day in sorted(run.fires) if first <= day < self.today]
        for rule in run.own:
            fired = next((day for day in known if rule.id in run.fires[day]), None)
            if fired is None and self._fires_today(rule, run.row):
                fired = self.today
            if fired is not None and fired > first:
                before = max((day for day in known if day < fired), default=first - 1)
                days += range(max(before + 1, fired - most), fired)
        return [day for day in days if day not in run.fires]

    def _joins(self, run: _Run, day: int) -> bool:
        return run.gap_from is not None and day > run.gap_from and bool(run.fires.get(day))

    def _ask(self, asked: list[tuple[_Run, list[int]]]) -> None:
        """Ask the rules of runs on days."""
        wanted: dict[int, dict[int, list[Rule]]] = {}
        for run, days in asked:
            for day in days:
                wanted.setdefault(day, {}).setdefault(run.row, []).extend(run.any_of)
        self.told.ask(wanted)
        for run, days in asked:
            for day in days:
                run.fires[day] = self.told.fires(day, run.row, run.any_of)

    def _fires_today(self, rule: Rule, row: int) -> bool:
        return self.inference.rules[rule.id].holds(row)

    # --- the deadlines
    def _with_what_follows(
        self, runs: list[_Run], by_action: dict[str, list[Rule]], found: list[dict[str, Due]]
    ) -> None:
        """Let acts be due no later than what follows them in the same visit was while they were due, or is.

        What was due on any single day since the last note counts though the days have ended it, or something forbids it by now or
        only puts it off, today as on any day before: else the act's own day would move with it.
        """
        pairs: list[tuple[_Run, _Run, list[int]]] = []
        for run in runs:
            own = found[run.row][run.action]
            if own.by is None or (own.since is not None and own.by <= own.since):
                continue  # nothing can bring it forward
            noted = max((day for day in self.past.noted[run.row] if day <= self.today), default=self.today)
            for action in self.follow(run.row, run.action):
                later = self._run(run.row, action, by_action)
                begun = max(run.first, noted, self._bound(run.row, action))
                pairs.append((run, later, list(range(begun, self.today + 1))))
        self._ask([(later, days) for _, later, days in pairs])
        for _, later, days in pairs:
            later.first = min((day for day in days if later.fires[day]), default=self.today)
            later.samples = [day for day in later.samples if day < later.first]
        gone = [later for _, later, _ in pairs if later.fires.get(later.first)]
        self._walk_back(gone)
        self._fill_gaps(gone)
        before = [self._due(later).by if later.fires.get(later.first) else None for _, later, _ in pairs]
        changed = True
        while changed:  # what follows may have something that follows it
            changed = False
            for (run, later, _), by in zip(pairs, before, strict=True):
                due, now = found[run.row][run.action], found[run.row].get(later.action)
                given = [one for one in (by, now.by if now is not None else None) if one is not None]
                if given and due.by is not None and due.by > (first := max(min(given), due.since or dt.date.min)):
                    found[run.row][run.action], changed = replace(due, by=first), True

    def _due(self, run: _Run) -> Due:
        days = [day for day in sorted(run.fires) if run.first <= day < self.today and run.fires[day]]
        reached = run.gap_from is None and run.first == self.farthest
        first = dt.date.fromordinal(run.first)
        noted = sorted(day for day in self.past.noted[run.row] if run.first <= day <= self.today)
        given: dict[str, dt.date] = {}
        deadlines: list[dt.date] = []
        lost = False
        for rule in run.own:
            fired = [day for day in days if rule.id in run.fires[day]]
            today = self._fires_today(rule, run.row) or rule.id in run.fires.get(self.today, ())
            # What a later note has ended no longer counts; what only the days ended does, but for an earlier reason to wait.
            if not today and (run.action == self.waits_by or not (fired and fired[-1] >= (noted or [0])[-1])):
                continue
            by, gone = self._given(run, rule, [*fired, *([self.today] if today else [])], noted, reached)
            if gone:  # whatever else has passed, that one was earlier or may have been
                lost = True
                continue
            if by is not None:
                deadlines.append(by)
                if today:
                    given[rule.id] = by
        if deadlines and not reached:
            deadlines += self._harms(run, noted)
        by = None if lost else min(deadlines, default=None)
        return Due(None if reached else first, first if reached else None, by, given)

    def _harms(self, run: _Run, noted: list[int]) -> list[dt.date]:
        """The events at which the harm begins that an act prevents, as they lay ahead when it came up, whichever of its rules fired then."""
        late = self.deadlines.late.get(run.action)
        found = []
        for deadline in late.harm if late is not None else ():
            if deadline.base == "event":
                uses = self.deadlines.uses(deadline)
                anew = [day for day in noted if self.past.noted[run.row][day] & uses]
                # A note moves an event that lies ahead; one that was over by then stays where it was.
                days = (dt.date.fromordinal(day) for day in (*anew[-1:], run.first))
                given = (self.deadlines.on(deadline, day, run.row, harm=True) for day in days)
                found += [day for day in given if day is not None][:1]
        return found

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
            number = self.told.date(day, run.row, deadline.name) if day < self.today else None
            by = self.deadlines.on(deadline, dt.date.fromordinal(day), run.row, number, harm=deadline is not rule.by)
            if by is None:
                continue
            counts = deadline.base == "today" or (deadline.days and by.toordinal() == day)
            if reached and day == run.first and counts and by < self.deadlines.today:
                gone = True
            else:
                found.append(by)
        return min(found, default=None), gone

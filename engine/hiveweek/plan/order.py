"""The order in which the jobs of one hive are done, where one must come before another."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from typing import TypeVar

from hiveweek.facts.courses import count_after
from hiveweek.language.truth import Truth
from hiveweek.plan.model import Advice, Follows
from hiveweek.record.courses import running
from hiveweek.rules.model import Way
from hiveweek.texts.reading import plain

Item = TypeVar("Item")


class Order:
    """Puts the jobs of a hive in the order of the chains.

    Parameters
    ----------
    inference : Inference
        Its ruleset has the chains; conditions are asked of it.
    today : date
        Waits count from it: the first job may be done today.
    """

    def __init__(self, inference, today: dt.date):
        self.inference, self.today = inference, today
        self.table, self.chains = inference.table, inference.ruleset.order

    def of_hive(self, row: int, advice: list[Advice]) -> list[Advice]:
        """Return the jobs of a hive with what must come first lifted to just before what follows it.

        Parameters
        ----------
        advice : list of Advice
            In rank order. Of those that follow another ``follows`` is set; what comes first in one visit is due no later than
            what follows it.

        Notes
        -----
        Law and people (band 0) keep their place: nothing is lifted above them, and nothing of theirs waits for other work.
        """
        by_action = {one.action: one for one in advice}
        first: dict[str, list[tuple[Advice, Way]]] = {}
        for chain in self.chains:
            way = next((way for way in chain.ways if self._counts(way, row, by_action)), None)
            for action in way.after if way else ():
                later = by_action.get(action)
                for name in way.before if way and later is not None else ():
                    earlier = by_action.get(name)
                    if earlier is not None and later is not None and earlier.band <= later.band:
                        first.setdefault(action, []).append((earlier, way))  # type: ignore[arg-type]
        ordered = lifted(advice, lambda one: [earlier for earlier, _ in first.get(one.action, ())], self._opens)
        place = {one.action: n for n, one in enumerate(ordered)}
        for action, found in first.items():
            later = by_action[action]
            waits = [(self._until(way, row, by_action), place[earlier.action], earlier, way) for earlier, way in found]
            until, _, earlier, way = max(waits, key=lambda wait: (wait[0] or dt.date.min, wait[1]))
            later.follows = Follows(earlier.action, until, plain(way.why))
        for one in reversed(ordered):
            for earlier, way in first.get(one.action, ()):
                # Where its rules give it no day, what follows it gives it none.
                if self._until(way, row, by_action) is None and earlier.due_by is not None:
                    earlier.due_with(one, self.today)
        return ordered

    def follow(self, row: int, action: str) -> list[str]:
        """Return the actions that follow an action in the same visit, where both are due, whatever may be used for them this week.

        What may be used changes with the days, and a day that was given stays; so the day is given by every way that may count.
        """
        found: dict[str, None] = {}
        for chain in self.chains:
            decided: set[str] = set()  # of several ways for the same two jobs the first that is sure to count
            for way in chain.ways:
                if action not in (*way.before, *way.after):
                    continue
                if way.when is not None and self.inference.holds(way.when, row)[0] is not Truth.TRUE:
                    continue
                if action in way.before and not (way.wait_days or way.wait_until):
                    found.update(dict.fromkeys(job for job in way.after if job not in decided))
                if not way.fits:
                    decided |= set(way.after if action in way.before else way.before)
        return list(found)

    def _opens(self, one: Advice) -> bool:
        """Whether a job is more than a look from outside, which may yet show that what follows is needless."""
        action = self.table.vocabulary.actions[one.action]
        return not action.observes or action.opens != "nothing"

    def _counts(self, way: Way, row: int, by_action: dict[str, Advice]) -> bool:
        if not any(name in by_action for name in way.before) or not any(name in by_action for name in way.after):
            return False
        if way.when is not None and self.inference.holds(way.when, row)[0] is not Truth.TRUE:
            return False
        return not way.fits or self._fitting(way, by_action) is not None

    @staticmethod
    def _fitting(way: Way, by_action: dict[str, Advice]) -> tuple[str, str] | None:
        """The first active of a way that may be used here this week, with its form."""
        usable = {
            option["active"]: str(form["form"])
            for advice in by_action.values()
            for option in advice.options
            for form in option["forms"]
            if form["allowed"] is True
        }
        return next(((active, usable[active]) for active in way.fits if active in usable), None)

    def _until(self, way: Way, row: int, by_action: dict[str, Advice]) -> dt.date | None:
        """The first day for the second job, if the first is done today; None where both belong to one visit."""
        if way.wait_days:
            return self.today + dt.timedelta(days=way.wait_days)
        words = self.table.vocabulary
        if way.wait_until == "out":
            active, form = self._fitting(way, by_action) or (None, None)
            course = running(words, active, form, self.today)
            return course.out.first if course is not None and course.out is not None else None
        if way.wait_until == "count":
            window = count_after(self.table, row, self.today)
            return window.first if window is not None else None
        return None


def lifted(
    items: Sequence[Item], earlier: Callable[[Item], Iterable[Item]], late: Callable[[Item], bool] = lambda _: False
) -> list[Item]:
    """Return items in their order, each after those that must come before it, which are lifted to stand just before it.

    Parameters
    ----------
    earlier : callable
        The items that must come before one; without circles.
    late : callable
        Of several that must come before the same one, those that come after the rest; otherwise they keep their order.
    """
    done: list[Item] = []
    place = {id(item): n for n, item in enumerate(items)}

    def put(item: Item) -> None:
        if any(item is other for other in done):
            return
        for other in sorted(earlier(item), key=lambda one: (late(one), place[id(one)])):
            put(other)
        done.append(item)

    for item in items:
        put(item)
    return done

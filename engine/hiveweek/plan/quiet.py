"""What is said of a hive at which nothing, or nothing that opens it, is advised."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from functools import cached_property

import numpy as np

from hiveweek.language.leaves import number_of
from hiveweek.language.meaning import evaluate
from hiveweek.language.terms import All, Any, Compare, Ref
from hiveweek.language.truth import TRUE, Truth
from hiveweek.plan.model import NOTHING, Advice, HivePlan
from hiveweek.texts.parts import Phrase, Quantity, message
from hiveweek.texts.reading import plain

SEEN = ("seen", "carried forward", "set")


class Quiet:
    """Leaves a hive closed, or says that nothing is due, without calling in order what is not.

    Parameters
    ----------
    inference : Inference
    ranking : Ranking
    adviser : Adviser
    calendar : object or None
        With ``event_date(id, near)``; None gives no next date.
    """

    def __init__(self, inference, ranking, adviser, calendar):
        self.inference, self.ranking, self.adviser, self.calendar = inference, ranking, adviser, calendar
        self.table = inference.table
        self.actions = self.table.vocabulary.actions
        self.today = adviser.today

    def close(self, row: int, hive: HivePlan, waiting: list, lent: Mapping[int, tuple[str, str]]) -> None:
        """Add 'leave it closed' in the cold where nothing opens the hive, also for another one, and no needed job waits for help or quiet."""
        closed = next((action for action in self.actions.values() if action.leaves_closed), None)
        if closed is None or hive.alive is False or row in lent:
            return
        if any(self.actions[a.action].opens != "nothing" or a.action == closed.id for a in hive.advice):
            return
        if any(self.actions[one.action].opens != "nothing" and not one.done for one in hive.put_away):
            return  # the keeper put off what opens it: that it need not be opened would be untrue
        if any(
            self.actions[w.advice.action].opens != "nothing" and set(w.guards) & set(self.ranking.holds_open)
            for w in waiting
        ):
            return
        high = self._number(row, "weather.open_high_c")
        cold_week = high is not None and high < self.ranking.weights.leave_closed_below_c
        season = self.ranking.leave_closed_in
        if not (cold_week or (season is not None and self.inference.holds(season, row)[0] is Truth.TRUE)):
            return
        because = message("quiet.nothing-worth")
        if hive.withheld:
            because = message("quiet.waits", label=self._label(hive.withheld[0].action))
        elif trouble := self._troubled(row):
            because = message("quiet.nothing-else-worth", trouble=trouble)
        room = self.ranking.out_of_weather
        outside = room is None or self.inference.holds(room, row)[0] is not Truth.TRUE
        weather = message("quiet.best-day", high=Quantity(high, "degC")) if high is not None and outside else NOTHING
        hive.advice.append(
            Advice(
                closed.id,
                "plan.leave-closed",
                urgency=self.ranking.urgency(self.today, None),
                safety=plain(closed.safety),
                origin="closed",
                because=message("quiet.closed", because=because, weather=weather),
                sources=["S1"] if "S1" in self.table.vocabulary.sources else [],
                evidence=[
                    self.adviser.evidence(row, f)
                    for f in ("weather.open_high_c", "season.phase")
                    if self._number(row, f) is not None and (outside or f != "weather.open_high_c")
                ],
            )
        )

    def lent(self, hives: Sequence[HivePlan]) -> dict[int, tuple[str, str]]:
        """Return, for each hive that is opened for another one, the action and the hive at which it is advised."""
        return {
            advice.partner_row: (advice.action, hive.id)
            for hive in hives
            for advice in hive.advice
            if advice.partner_row is not None and self.actions[advice.action].opens != "nothing"
        }

    def nothing_due(self, row: int, hive: HivePlan, lent: Mapping[int, tuple[str, str]]) -> dict:
        """Return ``{because, next}`` for a hive whose list is empty."""
        if row in lent:
            action, other = lent[row]
            return {"because": message("quiet.lent", label=self._label(action), hive=other), "next": self._next(row)}
        return {"because": self._because(row, hive), "next": self._next(row)}

    def _label(self, action: str) -> Phrase:
        return plain(self.actions[action].label)

    def _because(self, row: int, hive: HivePlan) -> Phrase:
        if hive.alive is False:
            return message("quiet.dead")
        waits = [w for w in hive.withheld if w.waits]
        if waits:
            return message("quiet.due-waits", label=self._label(waits[0].action))
        if hive.withheld:
            return message("quiet.held", label=self._label(hive.withheld[0].action))
        if hive.put_away:
            return message("quiet.put-away", label=self._label(hive.put_away[0].action))
        trouble = self._troubled(row)
        if trouble:
            return message("quiet.beyond", trouble=trouble)
        if not self._anything_seen(row):
            return message("quiet.unknown")
        if hive.look_first or hive.noted:
            return message("quiet.asks-nothing")
        return message("quiet.in-order")

    def _troubled(self, row: int) -> Phrase:
        """Words on the gravest trouble that stands here or in the yard; empty where none does."""
        return plain(
            next((said for finding, said in self.ranking.troubles.items() if self.inference.finds(finding, row)), "")
        )

    def _anything_seen(self, row: int) -> bool:
        """Whether anything about this colony or hive was noted; what only follows from the season and the place does not count."""
        for fact in self.table.vocabulary.facts.values():
            if fact.comes_from not in ("observed", "equipment"):
                continue
            column = self.table.column(fact.id)
            origin = column.origin[row] if column.origin else None
            if not math.isnan(column.value[row]) and (origin is None or origin.startswith(SEEN)):
                return True
        return False

    def _number(self, row: int, fact: str) -> float | None:
        if fact not in self.table.vocabulary.facts:
            return None
        number = self.table.column(fact).value[row]
        return None if math.isnan(number) else float(number)

    def _next(self, row: int) -> dict | None:
        """Return the next date: an event of the season, or a look that comes round before it."""
        coming = [
            (self.today + dt.timedelta(days=int(days[row])), action, self._label(action))
            for action, days in self._coming_round
            if not math.isnan(days[row])
        ]
        for event, words in self.ranking.next_due.items() if self.calendar is not None else ():
            for months in (0, 180, 360):
                day = self.calendar.event_date(event, self.today + dt.timedelta(days=months))
                if day is not None and day > self.today:
                    coming.append((day, event, plain(words)))
                    break
        if not coming:
            return None
        day, _, words = min(coming, key=lambda one: one[:2])
        return {"date": day, "what": words}

    @cached_property
    def _coming_round(self) -> list[tuple[str, np.ndarray]]:
        """Looks that time alone will make due: (action, whole days until then, a row a hive; NaN where it is none).

        Every other part of the look's rule holds already; what is missing are days since something was last seen.
        """
        n, view, limits = len(self.table), self.inference.view(), self.inference.ruleset.limits
        found = []
        for rule in self.inference.ruleset.advising():
            if rule.roles or rule.advise not in self.ranking.looks or not isinstance(rule.when, All):
                continue
            counted = [self._counted(part) for part in rule.when.parts]
            if not any(counted):
                continue
            days, so = np.zeros(n), np.ones(n, dtype=bool)
            for part, leaf in zip(rule.when.parts, counted, strict=True):
                holds = evaluate(part, view).over(n).point == TRUE
                if leaf is not None:
                    missing = number_of(leaf.right, limits) - self.table.column(leaf.left.name).value
                    left = np.floor(missing) + 1 if leaf.op == ">" else np.ceil(missing)
                    days = np.where(holds, days, np.fmax(days, left))
                    holds = holds | (left > 0)
                so &= holds
            found.append((str(rule.advise), np.where(so & (days > 0), days, math.nan)))
        return found

    def _counted(self, part) -> Compare | None:
        """The comparison in a part of a rule that waits for days to pass; None where the part is of another kind."""
        leaves_of = part.parts if isinstance(part, Any) else (part,)
        for leaf in leaves_of:
            if isinstance(leaf, Compare) and leaf.op in (">", ">=") and not isinstance(leaf.right, Ref):
                fact = self.table.vocabulary.facts.get(leaf.left.name)
                if fact is not None and fact.days_since:
                    return leaf
        return None

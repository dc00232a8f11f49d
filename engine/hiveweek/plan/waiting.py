"""Jobs that are due and wait: a guard alone stands against them.

A rule names guards under ``unless``. Where everything else about it holds, the job is due, and silence would read as
"nothing to do". Guards that say the job is not needed (enough food is there) end the matter; guards that only put it off
(robbers, nobody at hand, cold) are named in the ranking file together with what has to happen first.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from hiveweek.language.bits import failing
from hiveweek.language.terms import All, Any, Flag, Not, NotTrue, refs
from hiveweek.language.truth import TRUE, Truth
from hiveweek.plan.model import NOTHING, Advice
from hiveweek.rules.model import Rule
from hiveweek.texts.parts import Day, Phrase, Quantity, listed, message
from hiveweek.texts.reading import plain

TAKEN = "partner-taken"  # stands where a guard would: the one hive that fits goes with another first


@dataclass(frozen=True)
class Waiting:
    """One job that waits.

    Attributes
    ----------
    advice : Advice
        As the rule would give it.
    guards : tuple of str
        Findings that put it off; ``partner-taken`` where the hive it needs goes with another first.
    because : Phrase
        Why it waits and what comes first.
    """

    advice: Advice
    guards: tuple
    because: Phrase


class Waits:
    """Finds the jobs that wait.

    Parameters
    ----------
    inference : Inference
    ranking : Ranking
        Names the guards that put off (``waits_for``), and the floor of points.
    deciding : Deciding
    adviser : Adviser
    filler : Filler
    usual_from : callable, optional
        Takes a high in degC; the first day from now on which it is usual here, None where it never is.
    """

    def __init__(
        self,
        inference,
        ranking,
        deciding,
        adviser,
        filler,
        usual_from: Callable[[float], dt.date | None] = lambda high: None,
    ):
        self.usual_from = usual_from
        self.inference, self.ranking, self.deciding = inference, ranking, deciding
        self.adviser, self.filler = adviser, filler
        self.actions = inference.table.vocabulary.actions
        rules = [rule for rule in inference.ruleset.advising() if isinstance(rule.when, All)]
        self._open = [(rule, open_) for rule in rules if (open_ := self._where_open(rule))]

    def _where_open(self, rule: Rule) -> int:
        """At which hives (a bit each) a rule does not hold, and nothing but what it is stopped by is in its way there."""
        open_ = failing(self.inference.rules[rule.id])
        for part in rule.needed:
            if not open_:
                break
            open_ &= self.inference.where(part)
        return open_

    def of_hive(self, hive: int, alive: bool | None) -> list[Waiting]:
        """Return the jobs that wait at a hive, best first, one an action.

        Parameters
        ----------
        hive : int
            Row.
        alive : bool or None
            Whether the colony lives.
        """
        found: dict[str, Waiting] = {}
        for rule, open_ in self._open:
            if not open_ >> hive & 1:
                continue
            if alive is False and not self.actions[rule.advise].dead_ok:
                continue
            partner = None
            if rule.roles:
                guards, partner = self._pair_guards(rule, hive)
            else:
                guards = self._guards(rule.when.parts, {None: hive}, ())
            if not guards:
                continue
            advice = self.adviser.make(rule, hive, partner)
            if advice.band and self._small(advice):
                continue
            # of several guards the first of the ranking file is said: a suspicion here before one next door
            name = next((name for name in self.ranking.waits_for if name in guards), TAKEN)
            first = plain(self.ranking.waits_for[name]) if name != TAKEN else message("plan.partner-taken")
            waiting = Waiting(advice, tuple(guards), listed([guards[name], first, *self._day(name)], "space"))
            best = found.get(rule.advise)
            if best is None or advice.key("") < best.advice.key(""):
                found[rule.advise] = waiting
        return sorted(found.values(), key=lambda w: w.advice.key(""))

    def _small(self, advice: Advice) -> bool:
        """Whether a job or a look is not worth being named while it waits."""
        if advice.action in self.ranking.looks and advice.gain_pts < self.ranking.weights.wait_look_floor_pts:
            return True
        return advice.points < self.ranking.weights.wait_floor_pts

    def _pair_guards(self, rule, hive: int) -> tuple[dict[str, Phrase] | None, int | None]:
        """Return what alone keeps a rule of two hives from a pair, and the partner: the one with the fewest guards.

        Ties go as pairs are chosen: by what the rule prefers, then by hive id, never by the order of the hives. Where nothing
        stands against a pair, its partner was given to another hive.
        """
        roles = (rule.at, rule.partner)
        own = [part for part in rule.when.parts if {ref.role for ref in refs(part)} <= {rule.at}]
        here = self._guards(own, {rule.at: hive, rule.partner: hive}, roles)
        if here is None:
            return None, None
        others = [part for part in rule.when.parts if part not in own]
        found = [
            (there, row)
            for row in range(len(self.inference.table))
            if row != hive and (there := self._guards(others, {rule.at: hive, rule.partner: row}, roles)) is not None
        ]
        if not found:
            return None, None
        there, partner = min(found, key=lambda pair: (len(pair[0]), *self._place(rule, hive, pair[1])))
        return here | there or {TAKEN: NOTHING}, partner

    def _place(self, rule, hive: int, partner: int) -> tuple[float, str]:
        """Where a partner stands among those that fit alike: what the rule prefers first, then the hive's id."""
        wanted = 0.0
        if rule.prefer is not None:
            ref, direction = rule.prefer
            row = hive if ref.role == rule.at else partner
            wanted = float(self.inference.table.column(ref.name).value[row]) * (-1 if direction == "desc" else 1)
        return (math.inf if math.isnan(wanted) else wanted), self.inference.table.hives[partner]

    def _day(self, guard: str) -> list[Phrase]:
        """From when the days that a guard waits for are usual here; empty where it waits for something else."""
        limit = self.inference.ruleset.limits.get(self.ranking.waits_day.get(guard, ""))
        first = None if limit is None else self.usual_from(limit.value)
        if limit is None or first is None:
            return []
        high = Quantity(float(limit.value), "degC")
        if first <= self.adviser.today:
            return [message("plan.milder-now", high=high)]
        return [message("plan.milder-from", high=high, day=Day(first, self.adviser.today))]

    def _guards(self, parts, where: Mapping, roles: tuple) -> dict[str, Phrase] | None:
        """Return {finding: because} of the guards that alone keep parts of a rule from holding; None where something else does."""
        guards: dict[str, Phrase] = {}
        for part in parts:
            if self.deciding.cell(part, where, roles)[0] == Truth.TRUE:
                continue
            found = self._names(part.part, where, roles) if isinstance(part, (Not, NotTrue)) else None
            if found is None:
                return None
            guards |= found
        return guards

    def _names(self, condition, where: Mapping, roles: tuple = ()) -> dict[str, Phrase] | None:
        """Return the guards that make a condition true; None where it holds for another reason, or is not known to hold."""
        if self.deciding.cell(condition, where, roles)[0] != Truth.TRUE:
            return None
        if isinstance(condition, (All, Any)):
            parts = [
                self._names(p, where, roles)
                for p in condition.parts
                if self.deciding.cell(p, where, roles)[0] == Truth.TRUE
            ]
            named = [p for p in parts if p is not None]
            if not named or (isinstance(condition, Any) and len(named) < len(parts)):
                return None
            return {name: text for part in named for name, text in part.items()}
        if not isinstance(condition, Flag) or not condition.left.is_finding:
            return None
        name, hive = condition.left.finding, where[condition.left.role if roles else None]
        giving = [(rule, row) for rule in self.deciding.giving(name) for row in self._rows(rule, hive)]
        if name in self.ranking.waits_for:
            rule, row = giving[0] if giving else (None, hive)
            return {name: self.filler.fill(rule.because, {None: row})[0] if rule is not None else NOTHING}
        # a finding that only gathers others: what it gathers decides
        gathers = [rule for rule, row in giving if row == hive]
        if not gathers:
            return None
        parts = [self._names(rule.when, {None: hive}) for rule in gathers]
        named = [part for part in parts if part is not None]
        return {key: text for part in named for key, text in part.items()} if len(named) == len(parts) else None

    def _rows(self, rule, hive: int) -> list[int]:
        """The hive where a rule for a finding fires, this one before others of the yard."""
        outcome = self.inference.rules[rule.id]
        if outcome.holds(hive):
            return [hive]
        rows = np.flatnonzero(outcome.point == TRUE).tolist() if rule.reach == "apiary" else []
        return sorted(rows, key=lambda row: self.inference.table.hives[row])[:1]

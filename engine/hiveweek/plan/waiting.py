"""Jobs that are due and wait: a guard alone stands against them.

A rule names guards under ``unless``. Where everything else about it holds, the job is due, and silence would read as
"nothing to do". Guards that say the job is not needed (enough food is there) end the matter; guards that only put it off
(robbers, nobody at hand, cold) are named in the ranking file together with what has to happen first.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hiveweek.language.terms import All, Any, Flag, Not, NotTrue
from hiveweek.language.truth import FALSE, TRUE, Truth
from hiveweek.plan.model import NOTHING, Advice
from hiveweek.texts.parts import Phrase, listed
from hiveweek.texts.reading import plain


@dataclass(frozen=True)
class Waiting:
    """One job that waits.

    Attributes
    ----------
    advice : Advice
        As the rule would give it.
    guards : tuple of str
        Findings that put it off.
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
    """

    def __init__(self, inference, ranking, deciding, adviser, filler):
        self.inference, self.ranking, self.deciding = inference, ranking, deciding
        self.adviser, self.filler = adviser, filler
        self.actions = inference.table.vocabulary.actions

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
        for rule in self.inference.ruleset.advising():
            if rule.roles or rule.advise in self.ranking.looks or not isinstance(rule.when, All):
                continue
            if self.inference.rules[rule.id].point[hive] != FALSE or (
                alive is False and not self.actions[rule.advise].dead_ok
            ):
                continue
            guards = self._guards(rule.when, hive)
            if not guards:
                continue
            advice = self.adviser.make(rule, hive)
            if advice.band and advice.points < self.ranking.weights.wait_floor_pts:
                continue
            # of several guards the first of the ranking file is said: a suspicion here before one next door
            name = next(name for name in self.ranking.waits_for if name in guards)
            waiting = Waiting(
                advice, tuple(guards), listed([guards[name], plain(self.ranking.waits_for[name])], "space")
            )
            best = found.get(rule.advise)
            if best is None or advice.key("") < best.advice.key(""):
                found[rule.advise] = waiting
        return sorted(found.values(), key=lambda w: w.advice.key(""))

    def _guards(self, when: All, hive: int) -> dict[str, Phrase]:
        """Return {finding: because} of the guards that alone keep a rule from firing; empty where something else does too."""
        guards: dict[str, Phrase] = {}
        for part in when.parts:
            if self.deciding.cell(part, {None: hive}, ())[0] == Truth.TRUE:
                continue
            found = self._names(part.part, hive) if isinstance(part, (Not, NotTrue)) else None
            if found is None:
                return {}
            guards |= found
        return guards

    def _names(self, condition, hive: int) -> dict[str, Phrase] | None:
        """Return the guards that make a condition true; None where it holds for another reason, or is not known to hold."""
        if self.deciding.cell(condition, {None: hive}, ())[0] != Truth.TRUE:
            return None
        if isinstance(condition, (All, Any)):
            parts = [
                self._names(p, hive)
                for p in condition.parts
                if self.deciding.cell(p, {None: hive}, ())[0] == Truth.TRUE
            ]
            named = [p for p in parts if p is not None]
            if not named or (isinstance(condition, Any) and len(named) < len(parts)):
                return None
            return {name: text for part in named for name, text in part.items()}
        if not isinstance(condition, Flag) or not condition.left.is_finding:
            return None
        name = condition.left.finding
        giving = [(rule, row) for rule in self.deciding.giving(name) for row in self._rows(rule, hive)]
        if name in self.ranking.waits_for:
            rule, row = giving[0] if giving else (None, hive)
            return {name: self.filler.fill(rule.because, {None: row})[0] if rule is not None else NOTHING}
        # a finding that only gathers others: what it gathers decides
        gathers = [rule for rule, row in giving if row == hive]
        if not gathers:
            return None
        parts = [self._names(rule.when, hive) for rule in gathers]
        named = [part for part in parts if part is not None]
        return {key: text for part in named for key, text in part.items()} if len(named) == len(parts) else None

    def _rows(self, rule, hive: int) -> list[int]:
        """The hive where a rule for a finding fires, this one before others of the yard."""
        outcome = self.inference.rules[rule.id]
        if outcome.holds(hive):
            return [hive]
        return np.flatnonzero(outcome.point == TRUE)[:1].tolist() if rule.reach == "apiary" else []

"""Jobs missed: once its last sensible time is over, a job gives way to what is done instead, is spoken of a while, and is quiet."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

from hiveweek.inference.columnar import Inference
from hiveweek.language.truth import Truth
from hiveweek.plan.advise import Adviser
from hiveweek.plan.model import Advice, HivePlan, Withheld
from hiveweek.plan.ranking import Ranking
from hiveweek.rules.model import Late, Rule
from hiveweek.texts.parts import Sentence, listed
from hiveweek.texts.reading import plain


class Missed:
    """Ends the jobs of a yard whose last sensible time is over.

    Parameters
    ----------
    inference : Inference
    ranking : Ranking
    adviser : Adviser
    alive : sequence of (bool or None)
        Whether the colony of each hive lives.
    """

    def __init__(self, inference: Inference, ranking: Ranking, adviser: Adviser, alive: Sequence[bool | None]):
        self.inference, self.ranking, self.adviser, self.alive = inference, ranking, adviser, alive
        self.late = inference.ruleset.late
        self.actions = inference.table.vocabulary.actions

    def over(self, row: int) -> set[str]:
        """Return the actions whose last sensible time is known to be over at a hive."""
        return {
            action
            for action, late in self.late.items()
            if late.until is not None
            and (self.alive[row] is not False or self.actions[action].dead_ok)
            and self.inference.holds(late.until, row)[0] is Truth.TRUE
        }

    def of_hive(
        self, row: int, hive: HivePlan, advised: list[Advice], over: set[str], ended: Mapping[str, dt.date]
    ) -> list[Advice]:
        """Take the missed jobs out of a list, and put in what is done instead.

        Parameters
        ----------
        over : set of str
            What ``over`` gives.
        ended : mapping of str to date
            Those that were due and are no longer advised, as far as they are still spoken of.
        """
        today = self.adviser.today
        gone = {a.action: a for a in advised if a.action in over and a.overdue(today)}
        kept = [a for a in advised if a.action not in gone]
        for action in sorted([*gone, *ended]):
            self._end(row, hive, self.late[action], gone.get(action), kept)
        return sorted(kept, key=lambda a: a.key(hive.id))

    def _end(self, row: int, hive: HivePlan, late: Late, missed: Advice | None, kept: list[Advice]) -> None:
        rule = self._rule(late.action, row)
        there = next((a for a in kept if a.action == late.instead), None)
        if there is not None:
            there.because = listed([there.because, Sentence(plain(late.say))], "space")
        elif late.instead and late.because:
            body = self.actions[late.instead]
            advice = Advice(
                late.instead,
                rule.id,
                because=listed([Sentence(plain(late.because)), Sentence(plain(late.say))], "space"),
                safety=plain(late.safety or body.safety),
                sources=list(late.source),
                facts=list(body.observes),
                origin="instead",
            )
            gain = missed.gain_pts if missed is not None else self.adviser.gain(rule, row)[0]
            advice.worth(gain, self.ranking.urgency(self.adviser.today, None), 1.0)
            kept.append(advice)
        else:
            hive.withheld.append(Withheld(late.action, rule.id, "late", plain(late.say)))

    def _rule(self, action: str, row: int) -> Rule:
        """The rule whose advice was missed: of several the one that gains most."""
        rules = [rule for rule in self.inference.ruleset.advising() if rule.advise == action]
        return max(rules, key=lambda rule: (self.adviser.gain(rule, row)[0], rule.id))

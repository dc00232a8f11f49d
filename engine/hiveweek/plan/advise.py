"""An advice made from a rule that fires: points, deadline, words, evidence."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Set

from hiveweek.language.terms import All, Any, LimitRef, Not, NotTrue, Ref
from hiveweek.language.truth import Truth
from hiveweek.numbers.store import Number
from hiveweek.plan.deadlines import Deadlines
from hiveweek.plan.deciding import Deciding
from hiveweek.plan.model import Advice, Evidence
from hiveweek.plan.ranking import Ranking
from hiveweek.plan.safety import Safety, ordered
from hiveweek.plan.words import Filler
from hiveweek.rules.model import Rule
from hiveweek.texts.parts import Day, Phrase, listed, message
from hiveweek.texts.reading import plain

STORES = "food.stores_kg"
JUDGED = "log.days_since_weighed"


def tidy(fact, number: float):
    """Return a fact's value as plain data: rounded to three decimals, dates as ISO text, NaN as None."""
    if number is None or math.isnan(number):
        return None
    plain = fact.decode(number)
    if isinstance(plain, dt.date):
        return plain.isoformat()
    if isinstance(plain, float):
        rounded = round(plain, 3)
        return int(rounded) if rounded == int(rounded) and abs(rounded) < 1e15 else rounded
    return plain


def lifted_first(because: Phrase, advice: Advice, today: dt.date) -> Phrase:
    """Return a reason for what a feed asks for; where the food was not looked at for long, that the hive is lifted before."""
    if advice.reckoned_since is None:
        return because
    return listed([because, message("plan.lift-first", day=Day(advice.reckoned_since, today))], "space")


class Adviser:
    """Makes advice from rules.

    Parameters
    ----------
    inference : Inference
    ranking : Ranking
    deciding : Deciding
    safety : Safety
    filler : Filler
    today : date
    calendar : object or None
        With ``event_date(id, near)``; None where no season calendar is at hand (deadlines on events are then unknown).
    unverified : set of (rule id, hive id)
        What the second channel sees otherwise.
    """

    def __init__(
        self,
        inference,
        ranking: Ranking,
        deciding: Deciding,
        safety: Safety,
        filler: Filler,
        today: dt.date,
        calendar=None,
        unverified=frozenset(),
    ):
        self.inference, self.ranking, self.deciding, self.safety = inference, ranking, deciding, safety
        self.filler, self.today, self.unverified = filler, today, unverified
        self.table = inference.table
        self.deadlines = Deadlines(self.table, today, calendar, inference.ruleset.late)

    # --- worth --------------------------------------------------------------------------------------------------
    def gain(self, rule: Rule, hive: int) -> tuple[float, bool]:
        """Return (points a rule is worth at a hive, whether they came from a fact of this hive)."""
        stakes = rule.stakes
        if stakes.gain_fact:
            number = self.table.column(stakes.gain_fact).value[hive]
            if not math.isnan(number):
                return self.ranking.gain(stakes.loses, float(number)), True
        return self.ranking.gain(stakes.loses, stakes.gain_pts), False

    # --- advice -------------------------------------------------------------------------------------------------
    def make(self, rule: Rule, hive: int, partner: int | None = None) -> Advice:
        """Return the advice of a rule that fires at a hive, or would (with a partner that the rules did not give it)."""
        where, roles = self.deciding.place(rule, hive) or ({None: hive}, ())
        if partner is not None:
            where, roles = {rule.at: hive, rule.partner: partner}, (rule.at, rule.partner)
        outcome = self.inference.rules[rule.id]
        action = str(rule.advise)  # every rule that is asked for its advice gives one
        body = self.table.vocabulary.actions[action]
        amount, rests = None, []
        if rule.amount:
            text, told, complete = self.filler.fill(rule.amount, where)
            amount = text if complete else None
            rests = [rest for row, fact in told if (rest := self._rest(row, fact))]
        because, read, _ = self.filler.fill(" ".join([str(rule.because), *rests]), where)
        due = self.deadlines.first(rule, hive)
        gain, of_fact = self.gain(rule, hive)
        # A gain read from this hive's own figures already weighs how likely they are.
        certainty = 1.0 if of_fact or not outcome.doubtful(hive) else float(outcome.chance[hive])
        safety: Phrase = self.filler.fill(rule.safety, where)[0] if rule.safety else plain(body.safety)
        if body.tells and (whom := (self.inference.ruleset.jurisdiction or {}).get("tell")):
            safety = listed([message("plan.whom-to-tell", whom=plain(whom)), safety], "space")
        advice = Advice(
            action,
            rule.id,
            rule.band,
            amount=amount,
            by=due and max(due, self.today),
            due_by=due,
            because=because,
            safety=safety,
            sources=list(rule.source),
            grade=rule.evidence,
            loses=rule.stakes.loses,
        )
        advice.worth(gain, self.ranking.urgency(self.today, due), certainty)
        if rule.partner and rule.partner in where:
            advice.partner_row = where[rule.partner]
            advice.partner = self.table.hives[advice.partner_row]
        names = {row: role for role, row in where.items() if role is not None}
        facts: dict[tuple, None] = dict.fromkeys(read)  # what the reason quotes comes first: a card shows a few
        limits: dict[str, Number] = {}
        self._read(rule.when, where, roles, facts, limits, set())
        advice.evidence = [self.evidence(row, fact, names.get(row) if row != hive else None) for row, fact in facts]
        advice.evidence = [e for e in advice.evidence if e.value is not None]
        if (action in self.ranking.feeds or action == self.ranking.helps_by) and outcome.doubtful(hive):
            advice.reckoned_since = self._reckoned_since(hive, {fact for row, fact in facts if row == hive})
            advice.because = lifted_first(because, advice, self.today)
        advice.limits = [{"limit": name, "value": limits[name].value, "from": limits[name].origin} for name in limits]
        advice.only_on = ordered(self.safety.rule_bounds(rule, hive))
        advice.unverified = (rule.id, self.table.hives[hive]) in self.unverified
        advice.facts = list(body.observes)
        advice.lasts = body.lasts
        return advice

    def _rest(self, hive: int, fact_id: str) -> str:
        """Return what is said beside an amount that is only a part of what is wanted; empty where it is all of it."""
        whole, rest = self.table.vocabulary.facts[fact_id].part_of
        return rest if whole and self.table.column(fact_id).value[hive] < self.table.column(whole).value[hive] else ""

    def _reckoned_since(self, hive: int, read: Set[str]) -> dt.date | None:
        """Return the day of the last look at the food that some facts rest on, where it is too long ago to go by; None where it is not."""
        facts = self.table.vocabulary.facts
        by_stores = any(name == STORES or any(STORES in way for way in facts[name].observed_by) for name in read)
        days = self.table.column(JUDGED).value[hive]
        if not by_stores or not days >= self.ranking.weights.reckoned_days:  # never judged: it is not reckoned
            return None
        return self.today - dt.timedelta(days=float(days))

    def evidence(self, hive: int, fact_id: str, role: str | None = None) -> Evidence:
        """Return a fact as evidence; the role of another hive stands before its name."""
        fact = self.table.vocabulary.facts[fact_id]
        column = self.table.column(fact_id)
        number = fact.kind in ("number", "integer", "date")
        origin = column.origin[hive] if column.origin else None
        return Evidence(
            f"{role}.{fact_id}" if role else fact_id,
            tidy(fact, column.value[hive]),
            tidy(fact, column.low[hive]) if number else None,
            tidy(fact, column.high[hive]) if number else None,
            origin,
        )

    def _read(self, condition, where, roles, facts: dict, limits: dict, seen: set, wanted: bool = True) -> None:
        """Gather the facts and limits that a condition's truth rests on, in the order they stand."""
        if isinstance(condition, NotTrue):
            return
        if isinstance(condition, Not):
            self._read(condition.part, where, roles, facts, limits, seen, not wanted)
            return
        if isinstance(condition, (All, Any)):
            for part in condition.parts:
                point = self.deciding.cell(part, where, roles)[0]
                if isinstance(condition, All) == wanted or point == Truth.of(wanted):
                    self._read(part, where, roles, facts, limits, seen, wanted)
            return
        left = condition.left
        hive = where[left.role if roles else None]
        if left.is_finding:
            if (left.name, hive) in seen:
                return
            seen.add((left.name, hive))
            for rule in self.deciding.giving(left.finding):
                fired = self.inference.rules[rule.id].holds(hive)
                placed = self.deciding.place(rule, hive)
                if fired and wanted and placed is not None:
                    self._read(rule.when, *placed, facts, limits, seen)
                    break
            return
        facts.setdefault((hive, left.name), None)
        right = getattr(condition, "right", None)
        if isinstance(right, LimitRef):
            limits.setdefault(right.name, self.inference.ruleset.limits[right.name])
        elif isinstance(right, Ref):
            facts.setdefault((where[right.role if roles else None], right.name), None)

"""A trouble that shows more, or is worse, is answered no less: two hives that differ in that alone, over every input.

Beside the hive stands its twin: the same day, the same yard, the same facts, but for one further sign of the trouble, or one
number of it that is worse. What is proven is said of rules by themselves: that one of them answers the trouble, in that band or
before. A job that only waits for its guard, or for the look at something that nobody knows, answers it too. How many points it
brings and when it is due is not part of that.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import z3

from hiveweek.authoring.logic import Findings, Logic, Proposition, as_term
from hiveweek.rules.model import Rule, RuleSet, Trouble
from hiveweek.rules.resting import needed, needs_of, part_of, spoken_of

if TYPE_CHECKING:
    from hiveweek.authoring.prove import Prover

TWIN = "twin"


class TwinLogic(Logic):
    """Rules over a hive and its twin, which has every fact for itself, also those that a yard has in common."""

    ROLES = ("", "partner", TWIN)
    APART = frozenset({TWIN})

    def same(self, but: tuple[str, ...]) -> list[z3.BoolRef]:
        """Return that hive and twin agree in all facts but some."""
        twins = [(name, pair) for (name, role), pair in self._facts.items() if role == TWIN and name not in but]
        found = []
        for name, (known, value) in twins:
            own_known, own_value = self.fact(name, "")
            found += [known == own_known, value == own_value]
        return found


@dataclass(frozen=True)
class Change:
    """What the twin shows beyond the hive: one further sign, or one number that is worse."""

    kind: str
    said: str
    facts: tuple[str, ...]
    terms: tuple


@dataclass(frozen=True)
class Question:
    """Whether the answer of a trouble can be lost by a change."""

    key: str
    said: str
    trouble: Trouble
    change: Change
    terms: tuple


def find(prover: Prover) -> None:
    """Put to the solver, for each trouble and change, whether its answer can be lost by it, and take what can into the report."""
    for profile, ruleset in prover.rulesets.items():
        if any(
            (trouble.more or trouble.worse) and _asked(prover, ruleset, trouble)
            for trouble in ruleset.troubles.values()
        ):
            _Twins(prover, profile, ruleset).find()


def _asked(prover: Prover, ruleset: RuleSet, trouble: Trouble) -> bool:
    """Whether some rule that answers a trouble is asked about."""
    return prover.asked(*(rule.id for rule in ruleset.advising() if rule.advise in (*trouble.acts, *trouble.looks)))


class _Twins:
    """What each further sign, and each worse number, of a trouble does to the rules that answer it in one climate.

    A solver for each climate is many times faster than one for all.
    """

    def __init__(self, prover: Prover, profile: str, ruleset: RuleSet):
        self.prover, self.profile, self.ruleset = prover, profile, ruleset
        self.facts = prover.words.facts
        self.logic = TwinLogic(prover.words, [day for day in prover.logic.days if day.profile == profile])
        self.findings = self.logic.effective(profile, ruleset).findings
        # Where no guard ever stands: a job that a guard puts off waits, and is an answer.
        guards = frozenset(prover.runner.ranking.waits_for)
        advising = ruleset.advising()
        needs = needs_of(ruleset, advising, guards).findings | guards
        self.free = self.logic.effective(profile, part_of(ruleset, advising, needs, guards)).findings

    def find(self) -> None:
        """Put the questions to the solver."""
        prover = self.prover
        questions = list(self._questions())
        # A yard of the hive and its partner: what other hives would have could be met by other pairs.
        known, hives = self.logic.fact("apiary.hives", "")
        alone = [z3.Not(other) for other in self.logic.elsewhere.values()]
        alone += [known, hives >= 1, z3.Implies(self.logic.paired, hives >= 2)]
        self.logic.close()
        for question in questions:
            kind, trouble = question.change.kind, question.trouble
            same = self.logic.same(question.change.facts)
            answer = prover.ask(kind, [*question.terms, *same, *alone], [self.profile], logic=self.logic)
            if answer is None:
                prover.unsettled(kind, question.key, [self.profile], str(trouble.place))
            elif answer:
                witness = self._witness(trouble)
                prover.add(kind, question.key, question.said, [self.profile], str(trouble.place), witness)

    def _questions(self) -> Iterator[Question]:
        ruleset, findings, free = self.ruleset, self.findings, self.free
        for trouble in ruleset.troubles.values():
            if not _asked(self.prover, ruleset, trouble):
                continue
            acts, looks = (_rules(ruleset, actions) for actions in (trouble.acts, trouble.looks))
            mine = {ref.name for ref in needed(trouble.when) if self.facts[ref.name].scope == "hive"}
            own = [rule for rule in acts if mine & spoken_of(ruleset, rule)]
            answers = [(rule.band, self._at(rule, "", findings).holds) for rule in own]
            left = [(rule.band, self._at(rule, TWIN, findings).holds) for rule in acts + looks]
            left += [(rule.band, z3.Not(self._at(rule, TWIN, free).fails)) for rule in own + looks]
            here, there = (
                self.logic.condition(trouble.when, ruleset.limits, findings, role).holds for role in ("", TWIN)
            )
            for change in (*self._signs(trouble), *self._worse(trouble)):
                key = f"{change.kind}:{trouble.id}:{change.said}"
                said = f"{trouble.id}: no longer known with {change.said}"
                yield Question(key, said, trouble, change, (here, *change.terms, z3.Not(there)))
                for band in sorted({band for band, _ in answers}):
                    answered = z3.Or([holds for number, holds in answers if number <= band])
                    still = z3.Or([holds for number, holds in left if number <= band])
                    said = f"{trouble.id}: what answers it in band {band} does so no more with {change.said}"
                    terms = (here, there, *change.terms, answered, z3.Not(still))
                    yield Question(f"{key}:band {band}", said, trouble, change, terms)

    def _at(self, rule: Rule, role: str, findings: Findings) -> Proposition:
        """Return what a rule says of the hive, or of its twin."""
        roles = {rule.at: role, rule.partner: "partner"} if rule.roles else None
        truth = self.logic.condition(rule.when, self.ruleset.limits, findings, role, roles)
        if not rule.roles:
            return truth
        paired = self.logic.paired
        return Proposition(z3.And(truth.holds, paired), z3.Or(truth.fails, z3.Not(paired)))

    def _signs(self, trouble: Trouble) -> Iterator[Change]:
        for sign in trouble.more:
            terms = []
            for name, value in sign.items():
                known, twin = self.logic.fact(name, TWIN)
                terms += [known, twin == as_term(self.facts[name].kind, self.facts[name].encode(value))]
            yield Change("weaker", ", ".join(map(_said, sign.items())), tuple(sign), tuple(terms))

    def _worse(self, trouble: Trouble) -> Iterator[Change]:
        for name, way in trouble.worse.items():
            (known, value), (twin_known, twin) = self.logic.fact(name, ""), self.logic.fact(name, TWIN)
            further = twin < value if way == "down" else twin > value
            yield Change("milder", f"{name} {way}", (name,), (known, twin_known, further))

    def _witness(self, trouble: Trouble) -> dict:
        """The hive behind the last answer, as it was before it showed more."""
        rules = _rules(self.ruleset, (*trouble.acts, *trouble.looks))
        return self.logic.witness(self.prover.interest(self.ruleset, trouble.when, *(rule.when for rule in rules)))


def _rules(ruleset: RuleSet, actions: tuple[str, ...]) -> list[Rule]:
    return [rule for rule in ruleset.advising() if rule.advise in actions]


def _said(sign: tuple[str, object]) -> str:
    """Return a fact with its value as a file has it."""
    name, value = sign
    return f"{name} {str(value).lower() if isinstance(value, bool) else value}"

"""The rule language in an SMT solver (Z3): the same three-valued meaning, over every input at once.

Each fact is a pair: whether it is known, and a value within its declared range. A condition becomes two propositions,
*holds* and *fails*; neither is undecided. What the season and the climate can say together is taken from the calendar
of the shipped profiles, day by day: every season condition is a proposition, and a day of a profile fixes them all.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import z3

from hiveweek.facts.table import FactTable
from hiveweek.language.leaves import met, number_of, wanted_by
from hiveweek.language.meaning import View, evaluate
from hiveweek.language.terms import All, Any, Compare, Flag, Known, LimitRef, Not, NotTrue, Ref
from hiveweek.language.truth import FALSE, TRUE
from hiveweek.rules.forbidden import spared_where
from hiveweek.rules.model import Prohibition, RuleSet
from hiveweek.vocabulary.model import Fact, Vocabulary

STOPPED = "interrupted from keyboard"  # as the solver calls it
YEAR = 2027  # any year without a 29 February: the calendar repeats


@dataclass(frozen=True)
class Proposition:
    """Holds and fails, as Z3 propositions."""

    holds: z3.BoolRef
    fails: z3.BoolRef


Findings = Mapping["str | tuple[str, str]", Proposition]  # by finding, and by finding and role


@dataclass
class Day:
    """A day of a profile: the season and climate facts it gives."""

    profile: str
    date: dt.date
    facts: dict[str, float]


@dataclass
class Effective:
    """One profile's rules in the solver: a proposition for each rule, finding and prohibition."""

    profile: str
    ruleset: RuleSet
    rules: dict[str, Proposition] = field(default_factory=dict)
    findings: dict[str | tuple[str, str], Proposition] = field(default_factory=dict)  # also by (finding, role)
    prohibitions: dict[str, Proposition] = field(default_factory=dict)
    spared: dict[str, Proposition] = field(default_factory=dict)

    def forbids(self, prohibition: Prohibition, action: str) -> list[z3.BoolRef]:
        """Return what must hold together for a prohibition to forbid an action that it aims at."""
        terms = [self.prohibitions[prohibition.id].holds]
        if spared_where(prohibition, action) is not None:
            terms.append(z3.Not(self.spared[prohibition.id].holds))
        return terms


class Logic:
    """All profiles' rules over shared facts.

    Parameters
    ----------
    vocabulary : Vocabulary
    days : list of Day
        Every day of every profile.
    """

    ROLES: tuple[str, ...] = ("", "partner")  # the hives that all that holds of a hive is said of
    APART: frozenset[str] = frozenset()  # of these, those that have what a yard has in common for themselves

    def __init__(self, vocabulary: Vocabulary, days: list[Day]):
        self.vocabulary = vocabulary
        self.days = days
        self.solver = z3.Solver()
        self.solver.set("timeout", 20_000)
        self._facts: dict[tuple[str, str], tuple] = {}
        self._memo: dict = {}
        self._names: dict[str, z3.BoolRef] = {}
        self._season: dict[tuple, tuple[z3.BoolRef, z3.BoolRef]] = {}
        self._season_leaves: dict[tuple, object] = {}
        self.elsewhere: dict[str, z3.BoolRef] = {}
        self.paired = z3.Bool("a partner stands in the yard")
        self.profiles = {name: z3.Bool(f"profile {name}") for name in sorted({day.profile for day in days})}
        self.day_bits: list[z3.BoolRef] = []

    # --- facts ---
    def fact(self, name: str, role: str) -> tuple:
        """Return (known, value) of a fact; what the apiary has in common is the same for both hives."""
        if self.vocabulary.facts[name].shared and role not in self.APART:
            role = ""
        key = (name, role)
        if key not in self._facts:
            body: Fact = self.vocabulary.facts[name]
            label = f"{role}:{name}" if role else name
            known = z3.Bool(f"known {label}")
            if body.kind == "yes_no":
                value = z3.Bool(label)
            elif body.kind in ("integer", "one_of", "text"):
                value = z3.Int(label)
            else:
                value = z3.Real(label)
            if body.kind == "one_of":
                self.solver.add(value >= 0, value < len(body.values))
            elif body.kind in ("number", "integer"):
                if body.low is not None:
                    self.solver.add(value >= _number(body.low))
                if body.high is not None:
                    self.solver.add(value <= _number(body.high))
            self._facts[key] = (known, value)
        return self._facts[key]

    # --- conditions ---
    def condition(
        self,
        node,
        limits: dict,
        findings: Findings,
        role: str = "",
        roles: Mapping[str | None, str] | None = None,
        forced: dict[str, bool] | None = None,
    ) -> Proposition:
        """Return the truth of a condition at one hive (or, with ``roles``, at two).

        Parameters
        ----------
        forced : dict of str to bool, optional
            Limits whose comparisons are taken to hold, or to fail, whatever the facts are.
        """

        def inner(part) -> Proposition:
            return self.condition(part, limits, findings, role, roles, forced)

        if isinstance(node, Not):
            part = inner(node.part)
            return Proposition(part.fails, part.holds)
        if isinstance(node, NotTrue):
            part = inner(node.part)
            return Proposition(z3.Not(part.holds), part.holds)
        if isinstance(node, (All, Any)):
            every = isinstance(node, All)
            return self._joined([inner(part) for part in node.parts], every, named=not forced)
        right = getattr(node, "right", None)
        if forced and isinstance(right, LimitRef) and right.name in forced:
            return Proposition(z3.BoolVal(forced[right.name]), z3.BoolVal(not forced[right.name]))
        return self._leaf(node, limits, findings, role, roles)

    def _joined(self, parts: list[Proposition], every: bool, named: bool = True) -> Proposition:
        """Return what holds where every part does (or any), and fails where any part does (or every)."""

        def make():
            holds, fails = [p.holds for p in parts], [p.fails for p in parts]
            return (z3.And(holds), z3.Or(fails)) if every else (z3.Or(holds), z3.And(fails))

        if not named:
            return Proposition(*make())
        key = ("all" if every else "any", tuple((p.holds.get_id(), p.fails.get_id()) for p in parts))
        return self._named(key, make)

    def _named(self, key, make) -> Proposition:
        """Define a pair of propositions once for the same parts."""
        found = self._memo.get(key)
        if found is None:
            holds, fails = make()
            number = len(self._memo)
            h, f = z3.Bool(f"h{number}"), z3.Bool(f"f{number}")
            self.solver.add(h == holds, f == fails)
            found = self._memo[key] = Proposition(h, f)
        return found

    def _of_calendar(self, fact: str) -> bool:
        return self.vocabulary.facts[fact].scope == "calendar"

    def _leaf(self, node, limits, findings, role, roles) -> Proposition:
        where = role
        if roles is not None:
            where = roles[node.left.role] if node.left.role else role
        if isinstance(node, Flag) and node.left.is_finding:
            name = node.left.finding
            return findings[(name, where)] if (name, where) in findings else findings[name]
        if self._of_calendar(node.left.name):
            right = getattr(node, "right", None)
            if not isinstance(right, Ref) or self._of_calendar(right.name):
                return self._season_leaf(node, limits)
        known, value = self.fact(node.left.name, where)
        if isinstance(node, Known):
            return Proposition(known, z3.Not(known)) if node.known else Proposition(z3.Not(known), known)
        right = getattr(node, "right", None)
        if isinstance(right, Ref):
            other = roles[right.role] if roles is not None and right.role else role
            r_known, r_value = self.fact(right.name, other)
            known, wanted = z3.And(known, r_known), [r_value]
        else:
            kind = self.vocabulary.facts[node.left.name].kind
            wanted = [as_term(kind, number) for number in wanted_by(node, limits)]
        hit = met(node, value, wanted)
        return Proposition(z3.And(known, hit), z3.And(known, z3.Not(hit)))

    def _season_leaf(self, node, limits) -> Proposition:
        """A condition on the calendar: a proposition fixed by the day."""
        right = getattr(node, "right", None)
        number = str(right) if isinstance(right, Ref) else number_of(right, limits)
        key = (
            type(node).__name__,
            node.left.name,
            getattr(node, "op", None),
            number,
            getattr(node, "values", None),
            getattr(node, "negated", None),
            getattr(node, "known", None),
        )
        if key not in self._season:
            name = " ".join(str(part) for part in key if part is not None)
            self._season[key] = (z3.Bool(f"season {name}"), z3.Bool(f"not season {name}"))
            # The leaf with its limit filled in, so that other profiles' values of the limit stay apart.
            if isinstance(right, LimitRef):
                node = Compare(node.left, node.op, float(number), node.text)
            self._season_leaves[key] = node
        holds, fails = self._season[key]
        return Proposition(holds, fails)

    # --- rulesets ---
    def effective(self, profile: str, ruleset: RuleSet) -> Effective:
        """Put a profile's rules into the solver."""
        result = Effective(profile, ruleset)
        giving: dict[str, list] = {}
        for rule in ruleset.rules.values():
            if rule.finding:
                giving.setdefault(rule.finding, []).append(rule)
        findings: dict[str | tuple[str, str], Proposition] = {}
        for layer in ruleset.layers:
            for name in layer:
                truths: dict[str, list[Proposition]] = {role: [] for role in self.ROLES}
                for rule in giving.get(name, ()):
                    own = {role: self.condition(rule.when, ruleset.limits, findings, role, None) for role in truths}
                    if rule.reach == "apiary":
                        here = {
                            role: self._reaches(name, own[role], own["partner"]) for role in truths if role != "partner"
                        }
                        own = {**here, "partner": here[""]}
                    for role in truths:
                        truths[role].append(own[role])
                    result.rules[rule.id] = own[""]
                for role in truths:
                    findings[(name, role)] = self._either(truths[role])
                findings[name] = findings[(name, "")]
        result.findings = findings
        for rule in ruleset.rules.values():
            if rule.finding:
                continue
            roles = {rule.at: "", rule.partner: "partner"} if rule.roles else None
            truth = self.condition(rule.when, ruleset.limits, findings, "", roles)
            result.rules[rule.id] = Proposition(z3.And(truth.holds, self.paired), truth.fails) if roles else truth
        for prohibition in ruleset.prohibitions.values():
            roles = {prohibition.roles[0]: "", prohibition.roles[1]: "partner"} if prohibition.roles else None
            result.prohibitions[prohibition.id] = self.condition(prohibition.when, ruleset.limits, findings, "", roles)
            if prohibition.spares_where is not None:
                result.spared[prohibition.id] = self.condition(prohibition.spares_where, ruleset.limits, findings)
        return result

    def _reaches(self, name: str, own: Proposition, partner: Proposition) -> Proposition:
        """True at the partner, or at another hive of the yard, makes it true here; a free proposition says so of the others."""
        other = self.elsewhere.setdefault(name, z3.Bool(f"elsewhere {name}"))
        return self._named(
            ("reach", name, own.holds.get_id(), own.fails.get_id(), partner.holds.get_id()),
            lambda: (
                z3.Or(own.holds, z3.And(self.paired, partner.holds), other),
                z3.And(own.fails, z3.Or(z3.Not(self.paired), partner.fails), z3.Not(other)),
            ),
        )

    def _either(self, truths: list[Proposition]) -> Proposition:
        if not truths:
            return Proposition(z3.BoolVal(False), z3.BoolVal(True))
        return truths[0] if len(truths) == 1 else self._joined(truths, False)

    # --- what can be together ---
    def close(self) -> None:
        """Add what holds of every input: constraints, implications, and the calendar's days. Call after all rulesets are in."""
        for role in self.ROLES:
            for constraint in self.vocabulary.constraints:
                truth = self.condition(constraint["holds"], {}, {}, role, None)
                self.solver.add(z3.Not(truth.fails))
            for implication in self.vocabulary.implies:
                truth = self.condition(implication["when"], {}, {}, role, None)
                for name, wanted in implication["then"].items():
                    known, value = self.fact(name, role)
                    body = self.vocabulary.facts[name]
                    code = body.encode(wanted) if not isinstance(wanted, float) else wanted
                    self.solver.add(z3.Implies(truth.holds, z3.And(known, value == as_term(body.kind, code))))
        self._calendar()

    def _calendar(self) -> None:
        table = FactTable(self.vocabulary, [str(k) for k in range(len(self.days))])
        for name in sorted({name for day in self.days for name in day.facts}):
            table.set(name, np.array([day.facts.get(name, np.nan) for day in self.days]))
        table.settle()
        view = View(table, {}, {})
        keys = list(self._season_leaves)
        truths = [np.broadcast_to(evaluate(self._season_leaves[key], view).point, len(self.days)) for key in keys]
        matrix = np.array(truths, dtype=np.int8).T if truths else np.zeros((len(self.days), 0), dtype=np.int8)
        rows: dict[bytes, list[int]] = {}
        for index, day in enumerate(self.days):
            rows.setdefault(day.profile.encode() + b"|" + matrix[index].tobytes(), []).append(index)
        self.classes = list(rows.values())
        for number, members in enumerate(self.classes):
            bit = z3.Bool(f"day {number}")
            self.day_bits.append(bit)
            facts = [self.profiles[self.days[members[0]].profile]]
            for column, key in enumerate(keys):
                holds, fails = self._season[key]
                truth = matrix[members[0], column]
                facts.append(holds if truth == TRUE else z3.Not(holds))
                facts.append(fails if truth == FALSE else z3.Not(fails))
            self.solver.add(z3.Implies(bit, z3.And(facts)))
        self.solver.add(z3.Or(self.day_bits))
        self.solver.add(z3.AtMost(*self.profiles.values(), 1) if len(self.profiles) > 1 else z3.BoolVal(True))

    # --- asking ---
    def satisfiable(self, *assumptions) -> bool | None:
        """Return whether some input meets the assumptions; None where the solver gave up in its time."""
        answer = self.solver.check(*assumptions)
        if answer == z3.unknown and self.solver.reason_unknown() == STOPPED:
            raise KeyboardInterrupt  # the solver takes the signal for itself and would go on with the next question
        return None if answer == z3.unknown else answer == z3.sat

    def witness(self, facts_of_interest: set[str]) -> dict:
        """Return the input behind the last satisfiable question: profile, date, facts of this hive and of its partner, elsewhere.

        Parameters
        ----------
        facts_of_interest : set of str
            Facts the rules in question read; others are left out.
        """
        model = self.solver.model()
        found = next(k for k, bit in enumerate(self.day_bits) if z3.is_true(model.eval(bit, model_completion=True)))
        day = self.days[self.classes[found][len(self.classes[found]) // 2]]
        result: dict = {"profile": day.profile, "date": day.date, "facts": {}, "partner": {}, "elsewhere": []}
        for (name, role), (known, value) in sorted(self._facts.items()):
            if name not in facts_of_interest or not z3.is_true(model.eval(known, model_completion=True)):
                continue
            plain = self._plain(name, model.eval(value, model_completion=True), day.date)
            if role in ("", "partner"):
                result[role or "facts"][name] = plain
        result["elsewhere"] = sorted(
            n for n, bit in self.elsewhere.items() if z3.is_true(model.eval(bit, model_completion=False))
        )
        return result

    def _plain(self, name: str, value, today: dt.date):
        body = self.vocabulary.facts[name]
        if body.kind == "yes_no":
            return z3.is_true(value)
        if body.kind in ("one_of", "integer", "text"):
            return body.decode(float(value.as_long()))
        number = round(float(value.as_fraction()), 4)
        if body.kind == "date":  # one that only has to be known may lie before the calendar
            return body.decode(number) if number >= 1 else today
        return number


def _number(value: float):
    return z3.RealVal(repr(round(float(value), 4)))


def as_term(kind: str, number: float):
    """A number of the fact table as a constant of its fact's sort."""
    if kind == "yes_no":
        return z3.BoolVal(bool(number))
    if kind in ("integer", "one_of", "text") and float(number).is_integer():
        return z3.IntVal(int(number))
    return _number(number)


def days_of(vocabulary: Vocabulary, profiles) -> list[Day]:
    """Return every day of the year of each profile, with its season and climate facts as numbers.

    Parameters
    ----------
    profiles : iterable of Profile
    """
    days = []
    for profile in profiles:
        fixed = {name: value for name, value in profile.traits().items() if name in vocabulary.facts}
        fixed["climate.profile"] = profile.id
        for number in range(365):
            date = dt.date(YEAR, 1, 1) + dt.timedelta(days=number)
            facts = {}
            for name, told in {**fixed, **profile.calendar.facts(date)}.items():
                value = told[0] if isinstance(told, tuple) else told
                if value is not None and name in vocabulary.facts:
                    facts[name] = vocabulary.facts[name].encode(value)
            days.append(Day(profile.id, date, facts))
    return days

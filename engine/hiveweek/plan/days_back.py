"""What rules say of days gone by: asked together, of the hives that somebody asks about, and kept for who asks again."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from hiveweek.facts.build import YARD
from hiveweek.facts.build_noted import only_noted
from hiveweek.facts.estimates import models_for
from hiveweek.facts.past import Past
from hiveweek.inference.columnar import Inference, infer
from hiveweek.language.truth import TRUE, Outcome
from hiveweek.plan.deadlines import Deadlines
from hiveweek.rules.model import Rule, RuleSet
from hiveweek.rules.resting import Needs, needs_of, only_kept_away, part_of

UNTOLD = 2  # of what a rule says of a hive on a day: 0 silent, 1 fires
MOST_SHARE = 0.6  # of the hives of all days: where more are asked about, all of them are
_ALWAYS = frozenset({"colony.alive"})

Asked = Mapping[int, Mapping[int, Iterable[Rule]]]  # rules by day and hive


@dataclass
class _Day:
    """What was told of a day: whether each rule fires at each hive, and the dates that deadlines rest on."""

    fires: dict[str, bytearray] = field(default_factory=dict)
    dates: dict[str, np.ndarray] = field(default_factory=dict)


class DaysBack:
    """Asks rules of days gone by; a rule fires there too where only a guard that puts a job off keeps it away.

    Parameters
    ----------
    ruleset : RuleSet
    past : Past
    deadlines : Deadlines
    guards : frozenset of str
        Findings that only put a job off.
    """

    def __init__(self, ruleset: RuleSet, past: Past, deadlines: Deadlines, guards: frozenset[str]):
        self.ruleset, self.past, self.deadlines, self.guards = ruleset, past, deadlines, guards
        self.words = past.words
        self._days: dict[int, _Day] = past.told(ruleset)
        self._models_of: dict[str, frozenset[str]] = {}

    def fires(self, day: int, hive: int, rules: Iterable[Rule]) -> frozenset[str]:
        """Return the ids of those rules that fire at a hive on a day that was asked."""
        told = self._days[day].fires
        return frozenset(rule.id for rule in rules if told[rule.id][hive] == 1)

    def date(self, day: int, hive: int, fact: str) -> float | None:
        """Return a date that deadlines rest on as it was on a day that was asked; None where no rule that was asked rests on it."""
        found = self._days[day].dates.get(fact)
        return None if found is None else float(found[hive])

    def ask(self, asked: Asked) -> None:
        """Ask rules of hives on days: together where few hives are wanted, else those days for which the same models are."""
        wanted: dict[int, dict[str, Rule]] = {}
        hives: dict[int, list[int]] = {}
        for day, by_hive in asked.items():
            for hive, rules in by_hive.items():
                new = self._untold(day, hive, rules)
                if new:
                    wanted.setdefault(day, {}).update((rule.id, rule) for rule in new)
                    hives.setdefault(day, []).append(hive)
        if sum(map(len, hives.values())) <= MOST_SHARE * len(hives) * len(self.past):
            days = sorted(hives)
            self._ask_few({day: sorted(hives[day]) for day in days}, {day: wanted[day] for day in days})
            return
        together: dict[frozenset[str], list[int]] = {}
        for day in sorted(hives):
            together.setdefault(self._models(wanted[day].values()), []).append(day)
        for days in together.values():
            self._ask_all(days, {name: rule for day in days for name, rule in wanted[day].items()})

    def _untold(self, day: int, hive: int, rules: Iterable[Rule]) -> list[Rule]:
        told = self._days[day].fires if day in self._days else {}
        return [rule for rule in rules if rule.id not in told or told[rule.id][hive] == UNTOLD]

    def _ask_few(self, hives: dict[int, list[int]], wanted: dict[int, dict[str, Rule]]) -> None:
        """Ask rules of some hives; those that need more of their neighbours than what was noted are asked of all."""
        rules = {name: rule for of_day in wanted.values() for name, rule in of_day.items()}
        apart = {name: rule for name, rule in rules.items() if self._yard_of(rule) is None}
        if apart:
            self._ask_all([day for day in hives if apart.keys() & wanted[day].keys()], apart)
        rules = {name: rule for name, rule in rules.items() if name not in apart}
        if rules:
            self._ask_some(hives, rules)

    def _models(self, rules: Iterable[Rule]) -> frozenset[str]:
        found: set[str] = set()
        for rule in rules:
            if rule.id not in self._models_of:
                self._models_of[rule.id] = models_for(self._facts([rule]), self.words)
            found |= self._models_of[rule.id]
        return frozenset(found)

    def _facts(self, rules: Iterable[Rule]) -> frozenset[str]:
        return frozenset().union(self._dates(rules), *(self._needs(rule).facts for rule in rules))

    def _needs(self, rule: Rule) -> Needs:
        """What a rule rests on; nothing of the guards where they can only keep it away, for it fires there without them too."""
        return needs_of(self.ruleset, [rule], self.guards if self._is_free(rule) else frozenset())

    def _is_free(self, rule: Rule) -> bool:
        return only_kept_away(self.ruleset, rule, self.guards)

    def _dates(self, rules: Iterable[Rule]) -> frozenset[str]:
        """Facts on which the deadlines of rules rest."""
        return frozenset(d.name for rule in rules for d in self.deadlines.of(rule) if d.base == "fact")

    # --- what other hives say
    def _yard_of(self, rule: Rule) -> frozenset[str] | None:
        """Return the findings of a rule that other hives give it; None where they rest on more than what was noted."""
        if rule.roles or rule.reach == "apiary":
            return None
        found = {name for name in self._needs(rule).findings if self._spreads(name)}
        if any(not self._is_noted(name) for name in found):
            return None
        return frozenset(found)

    def _spreads(self, finding: str) -> bool:
        return any(rule.reach == "apiary" or rule.roles for rule in self.ruleset.given.get(finding, ()))

    def _is_noted(self, finding: str) -> bool:
        giving = self.ruleset.given.get(finding, ())
        below = {rule for name in needs_of(self.ruleset, giving).findings for rule in self.ruleset.given.get(name, ())}
        facts = needs_of(self.ruleset, giving).facts
        return not any(rule.roles for rule in (*giving, *below)) and all(only_noted(self.words.facts[f]) for f in facts)

    # --- asking
    def _ask_all(self, days: list[int], rules: dict[str, Rule]) -> None:
        """Ask rules of all hives on days."""
        table = self.past.tables(days, self._facts(list(rules.values())) | _ALWAYS)
        every = list(range(len(self.past)))
        inferences = self._inferences(rules, table, len(days), {})
        self._keep(table, rules, inferences, dict.fromkeys(days, every))

    def _ask_some(self, hives: dict[int, list[int]], rules: dict[str, Rule]) -> None:
        """Ask rules of some hives on days; what the whole yard tells them is worked out from what was noted of it."""
        days, every = list(hives), list(rules.values())
        facts = self._facts(every) | _ALWAYS
        spread = {name for rule in every for name in self._yard_of(rule) or ()}
        giving = [rule for name in spread for rule in self.ruleset.given.get(name, ())]
        below = needs_of(self.ruleset, giving)
        noted = self.past.noted_only(days, below.facts | (facts & YARD.keys()))
        found = infer(part_of(self.ruleset, [], below.findings | spread), noted, len(days))
        rows = np.concatenate([place * len(self.past) + np.array(hives[day]) for place, day in enumerate(days)])
        given = {name: Outcome.exactly(found.findings[name].point[rows]) for name in spread}
        table = self.past.tables_of(hives, facts, noted)
        self._keep(table, rules, self._inferences(rules, table, 1, given), hives)

    def _inferences(
        self, rules: dict[str, Rule], table, groups: int, given: Mapping[str, Outcome]
    ) -> tuple[Inference, Inference]:
        """Return what those rules say that guards may bring to fire, and what all rules say without guards."""
        bound = [rule for rule in rules.values() if not self._is_free(rule)]
        findings = needs_of(self.ruleset, bound).findings
        asked = infer(part_of(self.ruleset, bound, findings), table, groups, given)
        findings = needs_of(self.ruleset, rules.values(), self.guards).findings | self.guards
        rest = {name: outcome for name, outcome in given.items() if name not in self.guards}
        return asked, infer(
            part_of(self.ruleset, rules.values(), findings, self.guards), table, groups, rest, before=asked
        )

    def _keep(self, table, rules: dict[str, Rule], inferences, hives: Mapping[int, list[int]]) -> None:
        asked, free = inferences
        alive = table.column("colony.alive").value != 0
        starts = np.cumsum([0, *(len(some) for some in hives.values())]).tolist()
        spans = [
            (self._days.setdefault(day, _Day()), some, slice(first, first + len(some)))
            for (day, some), first in zip(hives.items(), starts[:-1], strict=True)
        ]
        blank = bytes([UNTOLD]) * len(self.past)
        for name, rule in rules.items():
            fires = free.rules[name].point == TRUE
            if name in asked.rules:
                fires = fires | (asked.rules[name].point == TRUE)
            if not self.words.actions[str(rule.advise)].dead_ok:
                fires = fires & alive
            fires = np.broadcast_to(fires, len(table)).astype(np.uint8)
            for day, some, rows in spans:
                np.frombuffer(day.fires.setdefault(name, bytearray(blank)), np.uint8)[some] = fires[rows]
        for name in self._dates(rules.values()):
            value = table.column(name).value
            for day, some, rows in spans:
                day.dates.setdefault(name, np.full(len(self.past), np.nan))[some] = value[rows]

"""Limits that have no effect: does what a comparison with one says ever matter to a rule?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import z3

from hiveweek.language.terms import limit_names
from hiveweek.rules.model import Prohibition, Rule

if TYPE_CHECKING:
    from hiveweek.authoring.prove import Prover


class IdleLimits:
    """What each limit of a prover's rules can change."""

    def __init__(self, prover: Prover):
        self.prover = prover
        self.influence: dict[str, dict[int, tuple]] = {}

    def prepare(self) -> None:
        """Copy each rule that reads a limit with its comparisons left open, before the solver is closed."""
        prover = self.prover
        built: dict = {}
        for profile, ruleset in prover.rulesets.items():
            findings = dict(prover.effective[profile].findings)
            items: list[Rule | Prohibition] = [*ruleset.rules.values(), *ruleset.prohibitions.values()]
            for item in items:
                for name in sorted(set(limit_names(item.when))):
                    key = (name, id(item) if item.roles else self._shape(item.when, ruleset, findings))
                    if key not in built:
                        built[key] = (
                            z3.BoolVal(True)
                            if item.roles
                            else z3.Xor(
                                *(
                                    prover.logic.condition(
                                        item.when, ruleset.limits, findings, forced={name: holds}
                                    ).holds
                                    for holds in (True, False)
                                )
                            )
                        )
                    term = built[key]
                    self.influence.setdefault(name, {}).setdefault(term.get_id(), (term, []))[1].append(profile)
            for option in ruleset.options.values():
                for bar in option.bars:
                    for name in limit_names(bar[0]):
                        self.influence.setdefault(name, {}).setdefault(0, (z3.BoolVal(True), []))[1].append(profile)

    def _shape(self, condition, ruleset, findings) -> tuple:
        """What a condition says in the solver: the same for profiles that share it."""
        truth = self.prover.logic.condition(condition, ruleset.limits, findings)
        return truth.holds.get_id(), truth.fails.get_id()

    def find(self) -> None:
        """Put to the solver, for each limit, whether what it says ever changes a rule."""
        prover = self.prover
        for name, influences in sorted(self.influence.items()):
            if not prover.asked(name):
                continue
            limit = next((r.limits[name] for r in prover.rulesets.values() if name in r.limits), None)
            answers = []
            for term, profiles in influences.values():
                answers.append(prover.ask("idle-limit", [term], profiles))
                if answers[-1]:
                    break
            place = str(limit.place) if limit else ""
            if all(answer is False for answer in answers):
                if prover.elsewhere.limit_out_of_place(name, limit.origin if limit else "base"):
                    continue
                prover.add(
                    "idle-limit",
                    f"idle-limit:{name}",
                    f"{name} has no effect: whatever it is, no rule changes",
                    list(prover.profiles),
                    place,
                )
            elif not any(answers):
                prover.unsettled("idle-limit", name, list(prover.profiles), place)

    def matters(self, limit: str) -> bool:
        """Whether a limit is not proven to change no rule in these profiles; False where none reads it."""
        logic = self.prover.logic
        return any(
            logic.satisfiable(term, z3.Or([logic.profiles[name] for name in profiles])) is not False
            for term, profiles in self.influence.get(limit, {}).values()
        )

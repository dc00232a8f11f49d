"""Whether an answer holds what a case expects of it."""

from __future__ import annotations

from dataclasses import dataclass, field

from hiveweek.facts.scenario import Scenario
from hiveweek.language.truth import Truth
from hiveweek.plan.model import HivePlan

WORDS = {Truth.TRUE: "fires", Truth.FALSE: "does not fire", Truth.UNDECIDED: "is undecided"}


@dataclass
class Failure:
    """One expectation that does not hold.

    Attributes
    ----------
    hive : str
        Hive id; empty for what is expected of the whole apiary.
    text : str
        What was expected and what came.
    actions, rules : list of str
        Actions and rules the trace should explain.
    """

    hive: str
    text: str
    actions: list[str] = field(default_factory=list)
    rules: list[str] = field(default_factory=list)


def judge(scenario: Scenario, plan, inference) -> list[Failure]:
    """Return every expectation of a scenario that its answer does not meet.

    Parameters
    ----------
    plan : WeekPlan
    inference : Inference
        For what is expected of single rules.
    """
    failures: list[Failure] = []
    plans = {hive.id: hive for hive in plan.hives}
    treating = [action.id for action in inference.table.vocabulary.actions.values() if action.treats]
    for row, hive in enumerate(scenario.hives):
        expect = hive.expect
        if expect:
            failures += _hive(hive.id, plans[hive.id], expect, plan.phase, treating)
            failures += _rules(hive.id, row, expect, inference)
    yard = {advice.action for hive in plan.hives for advice in hive.advice} | {advice.action for advice, _ in plan.yard}
    failures += _sets("", scenario.expect, yard)
    return failures


def _sets(hive: str, expect: dict, actions: set[str]) -> list[Failure]:
    failures = []
    for action in expect.get("includes", ()):
        if action not in actions:
            failures.append(Failure(hive, f"expected {action} among {_said(actions)}", [action]))
    for group in expect.get("includes_any", ()):
        if not actions & set(group):
            failures.append(Failure(hive, f"expected one of {', '.join(group)} among {_said(actions)}", list(group)))
    for action in expect.get("excludes", ()):
        if action in actions:
            failures.append(Failure(hive, f"{action} must not be advised", [action]))
    return failures


def _said(actions) -> str:
    return ", ".join(sorted(actions)) or "nothing"


def _hive(name: str, hive: HivePlan, expect: dict, phase: str | None, treating: list[str]) -> list[Failure]:
    order = [advice.action for advice in hive.advice]
    failures = _sets(name, expect, set(order))
    top = expect.get("top")
    if top and (not order or order[0] not in top):
        failures.insert(
            0,
            Failure(
                name,
                f"expected first one of {', '.join(top)}; came {', '.join(order) or 'nothing'}",
                [*top, *order[:1]],
            ),
        )
    looked = {fact for advice in hive.advice for fact in advice.facts} | {
        fact for look in hive.look_first for fact in look.facts
    }
    for fact in expect.get("looks_first", ()):
        if fact not in looked:
            failures.append(
                Failure(name, f"expected a look at {fact}; looks are at {', '.join(sorted(looked)) or 'nothing'}")
            )
    phases = expect.get("phase")
    if phases:
        phases = phases if isinstance(phases, list) else [phases]
        if phase not in phases:
            failures.append(Failure(name, f"expected the phase {' or '.join(phases)}; it is {phase}"))
    treatments = expect.get("treatments")
    if treatments:
        found = {option["active"]: option["allowed"] for advice in hive.advice for option in advice.options}
        for active in treatments.get("allowed", ()):
            if found.get(active) is not True:
                failures.append(
                    Failure(name, f"expected {active} to be allowed; it is {_option(found, active)}", treating)
                )
        for active in treatments.get("barred", ()):
            if found.get(active) is True:
                failures.append(Failure(name, f"expected {active} to be barred; it is allowed", treating))
    return failures


def _option(found: dict, active: str) -> str:
    if active not in found:
        return "not offered"
    return {True: "allowed", False: "barred", None: "open"}[found[active]]


def _rules(name: str, row: int, expect: dict, inference) -> list[Failure]:
    failures = []
    for key, wanted in (("fires", Truth.TRUE), ("not_fires", Truth.FALSE), ("undecided", Truth.UNDECIDED)):
        for rule in expect.get(key, ()):
            outcome = inference.rules.get(rule)
            if outcome is None:
                failures.append(Failure(name, f"{rule} takes no part in this climate"))
                continue
            came = outcome.at(row)[0]
            if came != wanted and not (key == "not_fires" and came == Truth.UNDECIDED):
                failures.append(Failure(name, f"expected that {rule} {WORDS[wanted]}; it {WORDS[came]}", [], [rule]))
    return failures

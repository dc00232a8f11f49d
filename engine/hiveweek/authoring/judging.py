"""Whether an answer holds what a case expects of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, field

from hiveweek.facts.scenario import Scenario
from hiveweek.language.truth import Truth
from hiveweek.plan.model import Advice, HivePlan
from hiveweek.texts.parts import quantities

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
            failures += _hive(hive.id, plans[hive.id], expect, plan.phase, treating, plan.date)
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


def _hive(
    name: str, hive: HivePlan, expect: dict, phase: str | None, treating: list[str], today: dt.date
) -> list[Failure]:
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
    failures += _details(name, hive, expect, today)
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
        for active in treatments.get("open", ()):
            if found.get(active, True) is not None:
                failures.append(
                    Failure(name, f"expected {active} to be left open; it is {_option(found, active)}", treating)
                )
    return failures


def _details(name: str, hive: HivePlan, expect: dict, today: dt.date) -> list[Failure]:
    """Deadlines, amounts, bands, order, what is withheld, and words that must not be said."""
    failures = []
    advised = {advice.action: advice for advice in hive.advice}
    for key, judged in (("by", _by), ("amount", _amount), ("band", _band)):
        for action, wanted in expect.get(key, {}).items():
            advice = advised.get(action)
            said = f"it is not among {_said(advised)}" if advice is None else judged(advice, wanted, today)
            if said:
                failures.append(Failure(name, f"expected the {key} of {action} {_wanted(wanted)}; {said}", [action]))
    wanted = expect.get("order", [])
    places = [list(advised).index(action) for action in wanted if action in advised]
    if len(places) < len(wanted) or places != sorted(places):
        said = ", ".join(advised) or "nothing"
        failures.append(Failure(name, f"expected {', '.join(wanted)} in this order; came {said}", list(wanted)))
    held = {item.action for item in hive.withheld}
    for action in expect.get("withheld", ()):
        if action not in held or action in advised:
            said = "it is advised" if action in advised else f"withheld are {_said(held)}"
            failures.append(Failure(name, f"expected {action} to be withheld; {said}", [action]))
    spoken = {one.fact for one in hive.noted}
    for fact in expect.get("noted", ()):
        if fact not in spoken:
            failures.append(Failure(name, f"expected a sentence on {fact}; spoken of are {_said(spoken)}"))
    for words in expect.get("text_lacks", ()):
        for action, text in _told(hive):
            if words.casefold() in text.casefold():
                failures.append(
                    Failure(name, f"'{words}' must not be said; {action or 'the answer'} says: {text}", [action])
                )
    return failures


def _wanted(wanted) -> str:
    return f"within {wanted[0]} to {wanted[1]}" if isinstance(wanted, tuple) else f"to be {wanted}"


def _by(advice: Advice, wanted: tuple, today: dt.date) -> str:
    """What is wrong with a deadline; the day of the answer stands for one that has passed."""
    if advice.by is None:
        return "it has none"
    by = max(advice.by, today)
    return "" if wanted[0] <= by <= wanted[1] else f"it is {by}"


def _amount(advice: Advice, wanted: tuple, today: dt.date) -> str:
    ends = next(amounts(advice.amount), None)
    if ends is None:
        return "it has none"
    return "" if wanted[0] <= min(ends) and max(ends) <= wanted[1] else f"it is {advice.amount!s}"


def _band(advice: Advice, wanted: int, today: dt.date) -> str:
    return "" if advice.band == wanted else f"it is {advice.band}"


def amounts(phrase: object) -> Iterator[tuple[float, ...]]:
    """Yield the quantities of a phrase in the order they are said: one value, or both ends of a range."""
    for values, _ in quantities(phrase):
        yield values


def _told(hive: HivePlan) -> Iterator[tuple[str, str]]:
    """Everything that is said of a hive in words, with the action it is said of."""
    for advice in hive.advice:
        for words in (advice.because, advice.amount, advice.warning(), *(other["because"] for other in advice.also)):
            yield advice.action, str(words or "")
        for option in advice.options:
            yield advice.action, str(option["because"] or "")
    for held in hive.withheld:
        yield held.action, str(held.because)
    for look in hive.look_first:
        yield look.action, str(look.how)
    for one in hive.noted:
        yield "", str(one.says)
    if hive.nothing_due is not None:
        yield "", str(hive.nothing_due["because"])
        if hive.nothing_due["next"]:
            yield "", str(hive.nothing_due["next"]["what"])


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

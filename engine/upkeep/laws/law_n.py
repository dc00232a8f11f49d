"""N. What was noted is answered: a value that is not as it should be gets an act, a look, a waiting job or one sentence."""

from __future__ import annotations

from collections.abc import Iterator

from hiveweek.inference.columnar import Inference
from hiveweek.language.terms import refs
from hiveweek.language.truth import Truth
from hiveweek.plan.model import HivePlan
from hiveweek.vocabulary.model import Vocabulary
from upkeep.laws.bench import Bench, Break
from upkeep.laws.hives import Yard

LAW = "N"


def breaks(bench: Bench, yard: Yard, only: list | None = None) -> Iterator[Break]:
    """Yield the values noted on the day of the answer, and at no look before, that nothing of it speaks of."""
    answered = bench.answer(yard)
    for row, (hive, told) in enumerate(zip(yard.scenario.hives, answered.told, strict=True)):
        plan = answered.plan.hives[row]
        if plan.alive is False or hive.facts_on not in (None, answered.date):
            continue
        before = {name for _, seen in hive.observed for name in seen}
        for name, value in hive.facts.items():
            fact = bench.words.facts[name]
            if name in before or name not in bench.words.noted or fact.scope != "hive" or told.fact(name) != value:
                continue
            if not is_answered(name, row, plan, answered.inference, bench.words):
                word = value if isinstance(value, str) else str(value).lower() if isinstance(value, bool) else "number"
                said = ", ".join(told.actions) or "nothing due"
                yield Break(LAW, f"{name} {word}", f"{name} {value}: the list is {said}", yard, row)


def is_answered(name: str, row: int, plan: HivePlan, inference: Inference, words: Vocabulary) -> bool:
    """Whether the answer to a hive speaks of a noted fact, or the vocabulary says that its value is not worth a word there."""
    noted = words.noted[name]
    jobs = (
        {one.action for one in plan.advice}
        | {one.action for one in plan.withheld}
        | {one.action for one in plan.put_away}
    )
    if jobs & set(noted.answered_by) or any(one.fact == name for one in plan.noted):
        return True
    if name in rests_on(plan, inference) and not noted.by_job_alone:
        return True
    return declared_silent(name, row, inference, words)


def rests_on(plan: HivePlan, inference: Inference) -> set[str]:
    """Return the facts that jobs, looks, what waits and what was put away rest on."""
    rules = inference.ruleset.rules
    facts = {item.fact for advice in plan.advice for item in advice.evidence}
    facts |= {name for advice in plan.advice if advice.origin == "look" for name in advice.facts}
    held = {one.rule for one in plan.withheld} | {one.rule for one in plan.put_away}
    return facts | {ref.name for rule in held & rules.keys() for ref in refs(rules[rule].when)}


def declared_silent(name: str, row: int, inference: Inference, words: Vocabulary) -> bool:
    """Whether the vocabulary says that the value of a fact is not worth a word at a hive."""
    noted, value = words.noted[name], words.facts[name].decode(inference.table.column(name).value[row])
    if value in noted.silent:
        return True
    first = next(
        one
        for one in noted.rows
        if (not one.values or value in one.values)
        and (one.when is None or inference.holds(one.when, row)[0] is Truth.TRUE)
    )
    return not first.say

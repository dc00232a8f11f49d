"""C. Worse is never milder: a number that makes a trouble worse lowers no points and no amount and moves no day later."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

from hiveweek.authoring.judging import amounts
from upkeep.laws.bench import Answered, Bench, Break, Told
from upkeep.laws.changed import agrees, declared, turns, with_facts, worse
from upkeep.laws.hives import Yard

LAW = "C"
SLACK = 0.5  # points or units of an amount: what rounding may take


@cache
def numbers() -> dict[str, dict[str, str]]:
    """Return the numbers that make each trouble worse, with their direction."""
    return declared("worse")


def breaks(bench: Bench, yard: Yard, only: list | None = None) -> Iterator[Break]:
    """Yield what breaks the law: at every hive with a trouble one number of it is made worse, another one on each turn."""
    before = bench.answer(yard)
    options = [_options(bench, yard, row, told) for row, told in enumerate(before.told)]
    if only is not None:
        options = [
            [one for one in own if wanted and one[:2] == wanted[:2]] for own, wanted in zip(options, only, strict=True)
        ]
    for chosen in turns(yard, options):
        hives = [
            hive if option is None else with_facts(hive, {option[1]: option[2]})
            for hive, option in zip(yard.scenario.hives, chosen, strict=True)
        ]
        after = bench.answer(yard.with_hives(hives))
        for row, option in enumerate(chosen):
            if option is None:
                continue
            for kind, text in milder(before, after, row, option[0]):
                said = f"{text}; {option[1]} from {yard.scenario.hives[row].facts[option[1]]} to {option[2]}"
                yield Break(LAW, f"{kind} {option[0]} by {option[1]}", said, yard, row, option)


def _options(bench: Bench, yard: Yard, row: int, told: Told) -> list[tuple[str, str, float]]:
    """The numbers of a hive's troubles that can be made worse: trouble, fact and number."""
    facts, found = yard.scenario.hives[row].facts, []
    for trouble in told.troubles:
        for fact, direction in numbers().get(trouble.id, {}).items():
            if facts.get(fact):
                number = worse(float(facts[fact]), direction, bench.words.facts[fact].kind == "integer")
                if number != facts[fact] and agrees(bench.words, {**facts, fact: number}):
                    found.append((trouble.id, fact, number))
    return found


def milder(before: Answered, after: Answered, row: int, trouble: str) -> Iterator[tuple[str, str]]:
    """Yield how the answer to a trouble has become milder; a trouble that kills sooner and stands now only takes its place."""
    body = before.ruleset.troubles[trouble]
    told = (before.told[row], after.told[row])
    if {t.id for t in told[1].troubles if t.kills_days < body.kills_days} - {t.id for t in told[0].troubles}:
        return
    mine = [[advice for advice in one.hive["advice"] if advice["action"] in body.acts] for one in told]
    said = f"before {', '.join(told[0].actions)}; after {', '.join(told[1].actions) or 'nothing'}"
    if not mine[0]:
        return
    if not mine[1]:
        yield "gone", said
        return
    points = [max(a["points"] for a in one) for one in mine]
    if points[1] < points[0] - SLACK:
        yield "points", f"{points[0]} points, then {points[1]}; {said}"
    days = [min(a["due_by"] or "9999" for a in one) for one in mine]
    if days[1] > days[0]:
        yield "day", f"due {days[0]}, then {days[1]}; {said}"
    for advice in mine[0]:
        ends = [
            next(amounts(a.amount), (0.0,))
            for answered in (before, after)
            for a in answered.plan.hives[row].advice
            if a.action == advice["action"]
        ]
        if len(ends) == 2 and max(ends[1]) < max(ends[0]) - SLACK:
            yield f"amount {advice['action']}", f"{max(ends[0]):g}, then {max(ends[1]):g}"

"""B. More evidence never weakens: one more sign of a trouble takes away no act, band, rank or day of its answer."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache

from hiveweek.plan.ranking import Ranking
from hiveweek.rules.model import Trouble
from upkeep.laws.bench import Answered, Bench, Break, Told
from upkeep.laws.changed import agrees, catching, declared, small, turns, with_facts
from upkeep.laws.hives import Yard
from upkeep.laws.law_a import acts_at

LAW = "B"
NEIGHBOUR: dict = {}  # no other sign here: a second hive shows the same
# What was seen of the queen is one find: after a word of trouble another takes its place, and is no further sign.
QUEEN, QUIET = "colony.queen", (None, "seen", "not_seen")
SPREADS = ("poisoning", "robbed", "suspicion", "hunger", "dead")


@cache
def signs() -> dict[str, list[dict]]:
    """Return the further signs of each trouble."""
    return declared("more")


def breaks(bench: Bench, yard: Yard, only: list | None = None) -> Iterator[Break]:
    """Yield what breaks the law: every hive with a trouble gets one more sign of it, another one on each turn."""
    before = bench.answer(yard)
    options = [_options(bench, yard, row, told) for row, told in enumerate(before.told)]
    if only is not None:
        options = [[one for one in own if one == wanted] for own, wanted in zip(options, only, strict=True)]
    for chosen in turns(yard, options):
        hives = [
            hive if option is None or option[1] == NEIGHBOUR else with_facts(hive, option[1])
            for hive, option in zip(yard.scenario.hives, chosen, strict=True)
        ]
        if len(hives) == 1 and chosen[0] is not None and chosen[0][1] == NEIGHBOUR:
            hives.append(replace(hives[0], id="another"))
        after = bench.answer(yard.with_hives(hives))
        for row, option in enumerate(chosen):
            if option is None:
                continue
            trouble = before.ruleset.troubles[option[0]]
            sign = ", ".join(f"{name} {value}" for name, value in option[1].items()) or "another hive hit"
            for kind, text in weaker(trouble, (before, after), row, bench.ranking):
                yield Break(LAW, f"{kind} {trouble.id} by {sign}", f"{text}; more: {sign}", yard, row, option)


def _options(bench: Bench, yard: Yard, row: int, told: Told) -> list[tuple[str, dict]]:
    """The further signs that a hive may show: not noted yet, and together with the rest."""
    facts = yard.scenario.hives[row].facts
    found = [
        (trouble.id, more)
        for trouble in told.troubles
        for more in signs().get(trouble.id, ())
        if any(told.fact(name) != value for name, value in more.items())
        and (QUEEN not in more or told.fact(QUEEN) in QUIET)
        and (small(yard) or not catching(more))
        and agrees(bench.words, {**facts, **more})
    ]
    return found + [(t.id, NEIGHBOUR) for t in told.troubles if small(yard) and t.id in SPREADS]


def weaker(
    trouble: Trouble, answers: tuple[Answered, Answered], row: int, ranking: Ranking
) -> Iterator[tuple[str, str]]:
    """Yield how an answer has become weaker: gone, a report gone, a band softer, a rank lower and behind what stood below it, a later day."""
    before, after = (answered.told[row] for answered in answers)
    acts, now = (
        [
            action
            for action in answered.told[row].actions
            if action in acts_at(trouble, answered.told[row], answered, ranking.waits_by)
        ]
        for answered in answers
    )
    said = f"before {', '.join(before.actions)}; after {', '.join(after.actions) or 'nothing'}"
    if not acts:
        return
    if not now:
        yield "gone", said
        return
    for action in acts:
        if before.advice[action]["band"] == 0 and action not in now:
            yield f"report gone {action}", said
    if min(after.advice[a]["band"] for a in now) > min(before.advice[a]["band"] for a in acts):
        yield "band", said
    first = min(before.actions.index(a) for a in acts)
    below = set(before.actions[first + 1 :]) - set(trouble.acts)
    place = after.actions.index(now[0])
    overtaken = (set(after.actions[:place]) & below) - _before(after, now[0])
    # What left the list above it has room for what came before it: in its old place it is read as soon as it was.
    if overtaken and place > first and ranking.helps_by not in after.actions:
        yield "rank", f"{said}; {', '.join(sorted(overtaken))} came before"
    days = [min(told.advice[a]["due_by"] or "9999" for a in of) for told, of in ((before, acts), (after, now))]
    if days[1] > days[0]:
        yield "day", f"due {days[0]}, after {days[1]}"


def _before(told: Told, action: str) -> set[str]:
    """Return what must come before a job of the list, one after the other: it is the first part of the same work."""
    found: set[str] = set()
    while (follows := told.advice[action].get("follows")) and follows["action"] not in found:
        action = follows["action"]
        found.add(action)
    return found

"""K. Unknown: take away one known fact, and the act against a trouble stands, or the look for that fact does."""

from __future__ import annotations

from collections.abc import Iterator

from hiveweek.language.terms import refs
from upkeep.laws.bench import Bench, Break, Told
from upkeep.laws.changed import turns, without
from upkeep.laws.hives import Yard
from upkeep.laws.law_i import alone

LAW = "K"


def breaks(bench: Bench, yard: Yard, only: list | None = None) -> Iterator[Break]:
    """Yield what breaks the law: at every hive with a trouble one fact is taken away, another one on each turn.

    Where the trouble itself is not known any more, a number that decided it is looked for, or the look waits and its day is said; a
    sign that was seen by chance is not looked for.
    """
    before = bench.answer(yard)
    options = [_options(bench, yard, row, told) for row, told in enumerate(before.told)]
    if only is not None:
        options = [[one for one in own if one == wanted] for own, wanted in zip(options, only, strict=True)]
    for chosen in turns(yard, options):
        hives = [
            hive if fact is None else without(hive, fact)
            for hive, fact in zip(yard.scenario.hives, chosen, strict=True)
        ]
        after = bench.answer(yard.with_hives(hives))
        for row, fact in enumerate(chosen):
            if fact is not None:
                for kind, text in lost(bench, before.told[row], after.told[row], fact):
                    yield Break(LAW, kind, text, yard, row, fact)


def _options(bench: Bench, yard: Yard, row: int, told: Told) -> list[str]:
    """The facts that can be taken away: those that the acts rest on come first."""
    if not told.troubles:
        return []
    acts = {action for trouble in told.troubles for action in trouble.acts}
    read = {e["fact"] for a in told.hive["advice"] if a["action"] in acts for e in a["evidence"]}
    read |= {ref.name for trouble in told.troubles for ref in refs(trouble.when)}
    read |= {fact for name in read for way in getattr(bench.words.facts.get(name), "observed_by", ()) for fact in way}
    names = [n for n in yard.scenario.hives[row].facts if bench.words.facts[n].comes_from in ("observed", "equipment")]
    return [n for n in names if n in read] or names


def lost(bench: Bench, before: Told, after: Told, fact: str) -> Iterator[tuple[str, str]]:
    """Yield the troubles whose act went with a fact, without a look for it."""
    for trouble in before.troubles:
        acts = set(trouble.acts)
        if not acts & set(before.actions) or acts & {*after.actions, *after.withheld}:
            continue
        stands = any(t.id == trouble.id for t in after.troubles)
        if not stands and bench.words.facts[fact].kind not in ("number", "integer"):
            continue
        if alone(after) and bench.ranking.helps_by in after.actions:
            continue
        # the looks of the trouble are data: each decides it, as hefting does where a weight is not known
        looks = {*after.actions, *(look["action"] for look in after.hive["look_first"])}
        if not _looked(bench, after, fact) and not set(trouble.looks) & looks:
            said = f"before {', '.join(before.actions)}; after {', '.join(after.actions) or 'nothing'}"
            yield f"{trouble.id} without {fact}", said


def _looked(bench: Bench, told: Told, fact: str) -> bool:
    ways = [way for body in bench.words.facts.values() for way in body.observed_by if fact in way]
    if any(one["fact"] in way for one in told.hive["noted"] for way in ways):
        return True  # what it is noted with is spoken of: the sentence says what is missing
    # a look that waits is said with its day
    looks = [*told.actions, *told.withheld, *(look["action"] for look in told.hive["look_first"])]
    return any(fact in bench.words.actions[action].observes for action in looks)

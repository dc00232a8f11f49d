"""A. No silence: a serious trouble is answered in the top three, by an act, a look that decides it, or what to do in its place."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from hiveweek.rules.forbidden import aims_at
from hiveweek.rules.model import Trouble
from upkeep.laws.bench import TOP, Answered, Bench, Break, Told
from upkeep.laws.hives import Yard

LAW = "A"
NO_WORK = {"leave-closed", "update-records"}  # nothing is done at the hive
HELP = {"get-help", "ask-authority"}  # the way to help, where a keeper may not act alone
SPEED = (0.0, 3.0, 21.0, 60.0)  # days: troubles that kill within one of these steps may stand in either order


def breaks(bench: Bench, yard: Yard, only: list | None = None) -> Iterator[Break]:
    """Yield what breaks the law in a yard's answer."""
    answered = bench.answer(yard)
    for row, told in enumerate(answered.told):
        for kind, text in _of_hive(answered, told, bench):
            yield Break(LAW, kind, text, yard, row)


def _of_hive(answered: Answered, told: Told, bench: Bench) -> Iterator[tuple[str, str]]:
    put_away = {item["action"] for item in told.hive["put_away"]}
    places: list[tuple[Trouble, int]] = []
    for number, trouble in enumerate(told.troubles):
        good = answers(trouble, told, answered, bench)
        if put_away & set(trouble.acts):
            continue
        at = next((k for k, action in enumerate(told.actions) if action in good), None)
        if at is not None and (at < TOP or number >= TOP):
            places.append((trouble, at))
            continue
        if at is None and number >= TOP and set(trouble.acts) & set(told.withheld):
            continue
        worst = "silent" if set(told.actions) <= NO_WORK else "below" if at is not None else "missing"
        said = ", ".join(told.actions) or "nothing due"
        yield (
            f"{worst} {trouble.id}",
            f"{trouble.label}: the list is {said}; withheld {', '.join(told.withheld) or 'nothing'}",
        )
    for one, other in pairwise(places):
        if step(one[0]) < step(other[0]) and one[1] > other[1]:
            text = f"{one[0].label} is answered after {other[0].label}: {', '.join(told.actions)}"
            yield f"order {one[0].id} after {other[0].id}", text


def step(trouble: Trouble) -> int:
    """Return how soon a trouble kills, in steps."""
    return sum(trouble.kills_days > days for days in SPEED)


def answers(trouble: Trouble, told: Told, answered: Answered, bench: Bench) -> set[str]:
    """Return the actions that answer a trouble at a hive: acts, looks, and what stands in for an act that is withheld."""
    good = {*trouble.acts, *trouble.looks}
    held = set(trouble.acts) & set(told.withheld)
    if held:
        good |= HELP
        for prohibition in answered.ruleset.prohibitions.values():
            if any(aims_at(prohibition, bench.words.actions[action]) for action in held):
                good |= set(prohibition.instead) | set(prohibition.first)
        for actions in bench.ranking.holds_open.values():
            good |= actions
    return good

"""A. No silence: a serious trouble is answered in the top three, by an act, a look that decides it, or what to do in its place."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from hiveweek.rules.forbidden import aims_at
from hiveweek.rules.model import Trouble
from hiveweek.rules.resting import needed, spoken_of
from upkeep.laws.bench import TOP, Answered, Bench, Break, Told
from upkeep.laws.hives import Yard
from upkeep.laws.law_i import AUTHORITY, alone, counted

LAW = "A"
NO_WORK = {"leave-closed", "update-records"}  # nothing is done at the hive
SPEED = (0.0, 3.0, 21.0, 60.0)  # days: troubles that kill within one of these steps may stand in either order


def breaks(bench: Bench, yard: Yard, only: list | None = None) -> Iterator[Break]:
    """Yield what breaks the law in a yard's answer."""
    answered = bench.answer(yard)
    for row, told in enumerate(answered.told):
        for kind, text in _of_hive(answered, row, told, bench):
            yield Break(LAW, kind, text, yard, row)


def _of_hive(answered: Answered, row: int, told: Told, bench: Bench) -> Iterator[tuple[str, str]]:
    counts = counted(answered, row, told)
    waits = bench.ranking.waits_by
    put_away = {item["action"] for item in told.hive["put_away"]}
    places: list[tuple[Trouble, int]] = []
    for number, trouble in enumerate(told.troubles):
        good = answers(trouble, told, answered, bench)
        if put_away & set(trouble.acts):
            continue
        if waits in good & set(trouble.acts) and not _waits_for(trouble, told, answered, waits):
            good -= {waits}
        at = next((k for k, action in enumerate(told.actions) if action in good), None)
        if at is not None and (sum(counts[:at]) < TOP or number >= TOP):
            own = {*trouble.acts, *trouble.looks} | ({bench.ranking.helps_by} if alone(told) else set())
            places += [(trouble, k) for k, action in enumerate(told.actions) if action in own][:1]
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
        if step(one[0]) < step(other[0]) and one[1] > other[1] and not _excused(told, one, other, places, waits):
            text = f"{one[0].label} is answered after {other[0].label}: {', '.join(told.actions)}"
            yield f"order {one[0].id} after {other[0].id}", text


def _excused(told: Told, one, other, places, waits: str) -> bool:
    """Whether an answer stands before that of a trouble that kills sooner: it must come first, answers such a one too, or the other can only be waited for."""
    action, then = told.actions[other[1]], told.actions[one[1]]
    if then == waits:
        return True  # to wait is no job that another could delay
    if (told.advice[then].get("follows") or {}).get("action") == action or told.advice[action]["band"] == 0:
        return True
    found = told.advice[action]
    ids = {found["rule"], *(also["rule"] for also in found["also"])}
    # A look answers too where it is there for the trouble itself.
    return any(
        step(trouble) <= step(one[0]) and (action in trouble.acts or f"plan.trouble-{trouble.id}" in ids)
        for trouble in told.troubles
    )


def _waits_for(trouble: Trouble, told: Told, answered: Answered, waits: str) -> bool:
    """Whether a hive is told to wait, and for what the trouble is known by: other reasons to wait answer nothing."""
    found = told.advice.get(waits)
    if found is None:
        return False
    ids = {found["rule"], *(also["rule"] for also in found["also"])}
    known_by = {ref.name for ref in needed(trouble.when)}
    known_by = {name for name in known_by if name.partition(".")[0] not in ("season", "climate", "weather")}
    rules = answered.ruleset.rules
    return f"plan.trouble-{trouble.id}" in ids or any(
        known_by & spoken_of(answered.ruleset, rules[rule]) for rule in ids if rule in rules
    )


def acts_at(trouble: Trouble, told: Told, answered: Answered, waits: str) -> set[str]:
    """Return the acts of a trouble at a hive: to wait is one only where it is said for what the trouble is known by."""
    return set(trouble.acts) - (set() if _waits_for(trouble, told, answered, waits) else {waits})


def step(trouble: Trouble) -> int:
    """Return how soon a trouble kills, in steps."""
    return sum(trouble.kills_days > days for days in SPEED)


def answers(trouble: Trouble, told: Told, answered: Answered, bench: Bench) -> set[str]:
    """Return the actions that answer a trouble at a hive: acts, looks, and what stands in for an act that is withheld."""
    good = {*trouble.acts, *trouble.looks} | ({bench.ranking.helps_by} if alone(told) else set())
    held = set(trouble.acts) & set(told.withheld)
    if held:
        # The way to help, or to the first day that allows it.
        good |= {AUTHORITY, bench.ranking.helps_by, bench.ranking.waits_by}
        for prohibition in answered.ruleset.prohibitions.values():
            if any(aims_at(prohibition, bench.words.actions[action]) for action in held):
                good |= set(prohibition.instead) | set(prohibition.first)
        for actions in bench.ranking.holds_open.values():
            good |= actions
    return good

"""I. People: a keeper who may not open hives alone gets the way to help, and what law and people ask stands first."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from upkeep.laws.bench import TOP, Answered, Bench, Break, Told
from upkeep.laws.hives import Yard

LAW = "I"
AUTHORITY = "ask-authority"


def breaks(bench: Bench, yard: Yard, only: list | None = None) -> Iterator[Break]:
    """Yield what breaks the law in a yard's answer."""
    answered = bench.answer(yard)
    for row, told in enumerate(answered.told):
        for kind, text in _of_hive(bench, answered, row, told):
            yield Break(LAW, kind, text, yard, row)


def _of_hive(bench: Bench, answered: Answered, row: int, told: Told) -> Iterator[tuple[str, str]]:
    said = ", ".join(told.actions) or "nothing due"
    bands = [advice["band"] for advice in told.hive["advice"]]
    if bands != sorted(bands):
        yield "band 0 not first", said
    if not alone(told) or told.fact("colony.alive") is False:
        return
    opens = {action: bench.words.actions[action].opens for action in bench.words.actions}
    lifted = [action for action in told.actions if opens[action] == "frames"]
    if lifted:
        yield f"opens alone {lifted[0]}", said
    for number, trouble in enumerate(told.troubles):
        if any(opens[a] == "nothing" for a in trouble.acts) or set(trouble.acts) & set(told.actions):
            continue
        # as in law A: the troubles that kill soonest have the head of the list, help with a later one is in it
        first = list(itertools.accumulate(counted(answered, row, told), initial=0))[
            :-1
        ]  # jobs before each that take a place
        read = [action for action, before in zip(told.actions, first, strict=True) if number >= TOP or before < TOP]
        if not {AUTHORITY, bench.ranking.helps_by} & set(read):
            yield f"no help for {trouble.id}", said
            return


def alone(told: Told) -> bool:
    """Whether a keeper may not open a hive without a second person."""
    attacks = told.fact("colony.temper") == "attacks"
    if attacks and told.fact("site.neighbours_near") is True:
        return True
    return (attacks or told.fact("keeper.sting_allergy") is True) and told.fact("keeper.helper") is not True


def counted(answered: Answered, row: int, told: Told) -> list[bool]:
    """Return which jobs take a place of the first three: not law and people, what is owed to neighbours, and what must come before another."""
    before = {(advice.get("follows") or {}).get("action") for advice in told.hive["advice"]}
    owed = {one.action for one in answered.plan.hives[row].advice if one.loses == "neighbours"}
    return [a["band"] != 0 and a["action"] not in before | owed for a in told.hive["advice"]]

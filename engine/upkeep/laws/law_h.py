"""H. Neighbours: nothing moves from or to a hive that is suspect or not seen clean, and a standstill binds the yard."""

from __future__ import annotations

from collections.abc import Iterator

from upkeep.laws.bench import Bench, Break, Told
from upkeep.laws.hives import Yard

LAW = "H"
CLEAN = ("health.ropy_larvae", "health.sunken_caps")  # both noted as not there: the brood was seen clean
SUSPECT = ("health.off_colour_larvae", "health.foul_smell")
GIVES = {"give-honey-frames"}  # what takes food away from the giver; a comb of eggs does not
TOLD = {"isolate-apiary", "ask-authority", "report-notifiable", "wait-and-recheck"}
DONOR_DAYS = 14.0  # food that the giver keeps at least


def breaks(bench: Bench, yard: Yard, only: list | None = None) -> Iterator[Break]:
    """Yield what breaks the law in a yard's answer."""
    answered = bench.answer(yard)
    byname = {told.id: told for told in answered.told}
    shut = any(trouble.id == "suspicion" for told in answered.told for trouble in told.troubles)
    for row, told in enumerate(answered.told):
        for advice in told.hive["advice"]:
            moves = bench.words.actions[advice["action"]].moves
            between = {"frames", "bees", "queen", "honey", "hive"} & set(moves)
            if advice["with"]:
                yield from (Break(LAW, k, t, yard, row) for k, t in _pair(told, byname[advice["with"]], advice))
            if (told.fact("site.movement_ban") or shut) and between and advice["with"]:
                yield Break(LAW, f"moved in a standstill {advice['action']}", advice["because"], yard, row)
        if told.fact("site.movement_ban") and not TOLD & set(told.actions):
            yield Break(LAW, "standstill not said", ", ".join(told.actions) or "nothing due", yard, row)


def _pair(told: Told, other: Told, advice: dict) -> Iterator[tuple[str, str]]:
    action = advice["action"]
    for one in (other, told) if action == "unite-colonies" else (other,):
        if any(one.fact(name) is not False for name in CLEAN):
            yield f"not seen clean {action}", f"{one.id}: {[one.fact(name) for name in CLEAN]}"
        if any(one.fact(name) for name in SUSPECT):
            yield f"suspect {action}", one.id
    left = other.fact("food.days_left")
    if action in GIVES and left is not None and left < DONOR_DAYS:
        yield f"hungry giver {action}", f"{other.id} has food for {left:g} days"

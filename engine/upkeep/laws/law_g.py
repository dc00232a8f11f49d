"""G. It fits: a feed fits the combs that are there, and the kit of the visits is that of their jobs."""

from __future__ import annotations

from collections.abc import Iterator

from hiveweek.authoring.judging import amounts
from hiveweek.numbers import shipped
from upkeep.laws.bench import Answered, Bench, Break
from upkeep.laws.hives import Yard

LAW = "G"
FEEDS = ("feed-candy", "feed-thin-syrup", "feed-thick-syrup", "feed-dry-sugar")
COMB_KG = 2.6  # a deep comb full of food on both sides, the fuller end of published figures
BARE_KG = 2.0  # a first block or feeder: given whatever the combs hold


def breaks(bench: Bench, yard: Yard, only: list | None = None) -> Iterator[Break]:
    """Yield what breaks the law in a yard's answer."""
    answered = bench.answer(yard)
    for row in range(len(answered.told)):
        for kind, text in _too_much(answered, row):
            yield Break(LAW, kind, text, yard, row)
    needed = {item for told in answered.told for a in told.actions for item in bench.words.actions[a].kit}
    kit = set(answered.data["apiary"]["kit"])
    for visit in answered.data["apiary"]["visits"]:
        if not set(visit["kit"]) <= kit:
            yield Break(LAW, "kit of a visit", f"{set(visit['kit']) - kit} is not in the kit", yard, 0)
    strange = kit - needed
    if strange:
        yield Break(LAW, "kit without a job", f"{', '.join(sorted(strange))}", yard, 0)


def _too_much(answered: Answered, row: int) -> Iterator[tuple[str, str]]:
    told = answered.told[row]
    frames, bees = told.fact("hive.frames"), told.fact("colony.frames_of_bees")
    stores = told.fact("food.stores_kg") or 0.0
    food = shipped().model.food
    for advice in answered.plan.hives[row].advice:
        if advice.action not in FEEDS:
            continue
        most = max((max(ends) for ends in list(amounts(advice.amount))[:1]), default=0.0)
        per = {"feed-thick-syrup": food.sugar_per_litre_thick, "feed-thin-syrup": food.sugar_per_litre_thin}.get(
            advice.action, 1.0
        )
        kg = most * per
        room = None if frames is None else max(BARE_KG, frames * COMB_KG - stores)
        if room is not None and kg > room:
            yield f"{advice.action} over the combs", f"{advice.amount!s} into {frames:g} frames with {stores:g} kg"
        elif bees is not None and kg > max(BARE_KG, (bees + 2) * COMB_KG - stores):
            yield f"{advice.action} over the bees", f"{advice.amount!s} for {bees:g} frames of bees with {stores:g} kg"

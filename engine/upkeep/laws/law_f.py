"""F. One list, no quarrel: no two acts of a hive undo, forbid or make each other needless."""

from __future__ import annotations

from collections.abc import Iterator

from upkeep.laws.bench import Bench, Break
from upkeep.laws.hives import Yard

LAW = "F"
SYRUP, SOLID = ("feed-thin-syrup", "feed-thick-syrup"), ("feed-candy", "feed-dry-sugar")
# Written here a second time, apart from what the plan reads: pairs of groups of which no act of one stands beside an act of the other.
QUARRELS = (
    (("remove-supers", "take-honey"), ("leave-honey-on", "let-honey-ripen")),
    (("remove-supers",), ("add-super",)),
    (("reduce-entrance",), ("open-entrance",)),
    (("open-floor-tray",), ("close-floor-tray",)),
    (("fit-mouse-guard",), ("remove-mouse-guard",)),
    (("add-insulation", "bring-indoors"), ("remove-wrap",)),
    (("add-excluder",), ("remove-excluder",)),
    (SYRUP, (*SOLID, "stop-liquid-feed")),
    (("feed-thin-syrup",), ("feed-thick-syrup",)),
    (("stop-liquid-feed",), SYRUP),
    (("add-super",), ("add-brood-box", "move-to-larger-box", "condense-to-one-box", "move-to-nuc")),
    (("add-brood-box",), ("condense-to-one-box", "move-to-nuc", "move-to-larger-box")),
    (("condense-to-one-box",), ("move-to-nuc", "move-to-larger-box")),
    (
        ("unite-colonies", "shake-out-colony"),
        (*SYRUP, "requeen", "order-queen", "split-colony", "give-brood-frame", "give-test-frame"),
    ),
    (("unite-colonies", "shake-out-colony"), ("add-super", "add-brood-box", "move-to-nuc", "condense-to-one-box")),
    (("unite-colonies",), ("shake-out-colony",)),
    (("requeen",), ("order-queen", "give-test-frame", "split-colony")),
    (("treat-mites", "treat-oxalic-broodless"), ("count-mites", "plan-mite-treatment", "add-super")),
    (("treat-mites",), ("treat-oxalic-broodless",)),
    (("count-mites",), ("count-mite-drop", "check-treatment-worked")),
    (("full-inspection",), ("first-spring-inspection", "swarm-inspection")),
    (("heft-hive",), ("weigh-hive",)),
    (("leave-closed",), ("full-inspection", "first-spring-inspection", "lid-check", "count-mites", "swarm-inspection")),
    (("isolate-apiary",), ("move-hive", "move-to-better-site", "unite-colonies", "split-colony", "give-honey-frames")),
    (("split-colony",), ("make-room", "add-brood-box", "condense-to-one-box")),
    (("set-honey-frames-aside",), ("leave-honey-on",)),
    (("remove-treatment",), ("give-next-dose",)),
)


def breaks(bench: Bench, yard: Yard, only: list | None = None) -> Iterator[Break]:
    """Yield what breaks the law: pairs that stand in one list, also of the acts that the vocabulary says clash."""
    for row, told in enumerate(bench.answer(yard).told):
        there = told.actions
        for k, one in enumerate(there):
            for other in there[k + 1 :]:
                if quarrel(bench, one, other):
                    yield Break(LAW, " and ".join(sorted((one, other))), f"in one list: {', '.join(there)}", yard, row)


def quarrel(bench: Bench, one: str, other: str) -> bool:
    """Whether two acts must not stand in one list."""
    actions = bench.words.actions
    if other in actions[one].clashes or one in actions[other].clashes:
        return True
    return any((one in a and other in b) or (one in b and other in a) for a, b in QUARRELS)

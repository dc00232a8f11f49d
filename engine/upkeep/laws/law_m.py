"""M. The text is true: a number stands on its true side of the limit it is set against, and nothing unknown is said as known."""

from __future__ import annotations

import re
from collections.abc import Iterator

from hiveweek.language.terms import Compare, LimitRef, leaves
from hiveweek.plan.words import value
from hiveweek.rules.parsing import PLACEHOLDER
from hiveweek.texts.parts import Quantity
from upkeep.laws.bench import Answered, Bench, Break
from upkeep.laws.hives import Yard

LAW = "M"
CLAIMED = re.compile(
    r"\b(?:about|only|least|over|under|of|for|in|to|from) not known|not known (?:of|ago|away|\w+ of)\b"
)
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def breaks(bench: Bench, yard: Yard, only: list | None = None) -> Iterator[Break]:
    """Yield what breaks the law in a yard's answer."""
    answered = bench.answer(yard)
    for row, told in enumerate(answered.told):
        for advice in told.hive["advice"]:
            for text in (advice["because"], advice["amount"] or "", advice["safety"]):
                if CLAIMED.search(text):
                    yield Break(LAW, f"said of what is not known {advice['rule']}", text, yard, row)
            yield from (Break(LAW, k, t, yard, row) for k, t in _sides(bench, answered, row, advice))
        for item in told.hive["withheld"]:
            if CLAIMED.search(item["because"]):
                yield Break(LAW, f"said of what is not known {item['rule']}", item["because"], yard, row)


def _sides(bench: Bench, answered: Answered, row: int, advice: dict) -> Iterator[tuple[str, str]]:
    """Yield numbers that read as if they stood on the other side of their limit: both are said, and as other than they compare."""
    rule = answered.ruleset.rules.get(advice["rule"])
    if rule is None or rule.roles:
        return
    named = set(PLACEHOLDER.findall(rule.because))
    for leaf in leaves(rule.when):
        if not isinstance(leaf, Compare) or not isinstance(leaf.right, LimitRef):
            continue
        if leaf.left.name not in named or leaf.right.name not in named:
            continue
        fact = bench.words.facts[leaf.left.name]
        number = answered.inference.table.column(fact.id).value[row]
        limit = answered.ruleset.limits[leaf.right.name]
        words = value(fact, number)
        if str(words) not in advice["because"]:
            continue  # the text gives it with more digits, so that it stands on its side
        said, against = _read(words), _read(Quantity(limit.value, limit.unit))
        if said is None or against is None or number == limit.value:
            continue
        if (said < against) != (number < limit.value) or said == against:
            yield f"{rule.id} {fact.id}", f"{number:g} beside {limit.value:g}: {advice['because']}"


def _read(phrase) -> float | None:
    found = NUMBER.search(str(phrase))
    return float(found[0]) if found else None

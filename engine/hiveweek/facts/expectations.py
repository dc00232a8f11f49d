"""Reads what a scenario expects of the answer."""

from __future__ import annotations

from collections.abc import Iterator

from hiveweek.facts.scenario import EXPECT_LISTS, EXPECT_RULES
from hiveweek.shapes.structure import listed, texts

PAIRS = ("by", "amount")  # of an action: its lowest and its highest


def read_expect(block: dict | None) -> dict:
    """Read an ``expect`` block whose shape has been checked.

    Returns
    -------
    dict
        Lists of names by key, a lone name as a list of one; ``by``, ``amount`` and ``band`` by action; empty where there is no
        block.
    """
    block = block or {}
    lists = (*EXPECT_LISTS, "looks_first", "phase", "order", "withheld", "noted", "text_lacks")
    found: dict = {key: _names(block[key]) for key in lists if key in block}
    found.update({key: {name: tuple(ends) for name, ends in block[key].items()} for key in PAIRS if key in block})
    if "band" in block:
        found["band"] = dict(block["band"])
    if "includes_any" in block:
        found["includes_any"] = [_names(group) for group in listed(block["includes_any"])]
    if "treatments" in block:
        found["treatments"] = {key: _names(names) for key, names in block["treatments"].items()}
    found.update({key: list(texts(block[key])) for key in EXPECT_RULES if key in block})
    return found


def _names(value) -> list[str]:
    return [value] if isinstance(value, str) else list(texts(value))


def backwards(block: dict | None) -> Iterator[tuple[str, str, object, object]]:
    """Yield the pairs that run backwards: key, action, and both ends as written."""
    for key in PAIRS:
        for action, ends in ((block or {}).get(key) or {}).items():
            if len(ends) == 2 and None not in ends and ends[0] > ends[1]:
                yield key, action, *ends

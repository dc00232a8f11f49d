"""Reads what a scenario expects of the answer."""

from __future__ import annotations

from hiveweek.facts.scenario import EXPECT_LISTS, EXPECT_RULES
from hiveweek.shapes.structure import listed, texts


def read_expect(block: dict | None) -> dict:
    """Read an ``expect`` block whose shape has been checked.

    Returns
    -------
    dict
        Lists of names by key, a lone name as a list of one; empty where there is no block.
    """
    block = block or {}
    found: dict = {key: _names(block[key]) for key in (*EXPECT_LISTS, "looks_first", "phase") if key in block}
    if "includes_any" in block:
        found["includes_any"] = [_names(group) for group in listed(block["includes_any"])]
    if "treatments" in block:
        found["treatments"] = {key: _names(names) for key, names in block["treatments"].items()}
    found.update({key: list(texts(block[key])) for key in EXPECT_RULES if key in block})
    return found


def _names(value) -> list[str]:
    return [value] if isinstance(value, str) else list(texts(value))

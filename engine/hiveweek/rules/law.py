"""What a jurisdiction file says, as facts of the group ``law``."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from hiveweek.shapes.structure import listed

LISTS = "law.lists_"


def law_facts(place: Mapping[str, Any] | None, known: Mapping[str, Any]) -> dict[str, bool]:
    """Return the ``law`` facts of a place.

    Parameters
    ----------
    place : mapping or None
        A jurisdiction file as read; None where none is named.
    known : mapping
        The facts of the vocabulary, by id: a list may name what no rule asks for.

    Returns
    -------
    dict of str to bool
        True for what must be reported; false for what is not listed, only where the list was read whole. What is listed without a
        duty to report each find that was read, and what nobody has read, is left out: it stays unknown.
    """
    if not place:
        return {}
    found: dict[str, bool] = {}
    if place.get("list_read") == "whole":
        found = {name: False for name in known if name.startswith(LISTS)}
    for row in listed(place.get("notifiable")):
        name = LISTS + str((row or {}).get("key"))
        if name not in known:
            continue
        if row.get("duty", "report") == "report":
            found[name] = True
        elif found.get(name) is False:
            del found[name]
    if place.get("sample") == "call_first":
        found["law.call_before_sample"] = True
    if place.get("moves") == "ask_first":
        found["law.moves_need_leave"] = True
    if place.get("mites_treated") == "duty":
        found["law.mites_are_treated"] = True
    if place.get("frames") == "movable":
        found["law.wants_movable_frames"] = True
    return {name: said for name, said in found.items() if name in known}

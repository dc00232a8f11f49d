"""Tables that a spreadsheet saved otherwise than with commas between cells and a point in numbers: what to say of them."""

from __future__ import annotations

SIGNS = {";": "semicolons", "\t": "tabs"}


def other_sign(heading: str) -> str:
    """Return what to say of a heading whose cells something else than commas parts; empty where commas do."""
    signs = [word for sign, word in SIGNS.items() if sign in heading]
    if "," in heading or not signs:
        return ""
    return f"the cells are parted by {signs[0]}; commas are needed, and a point in numbers: 1.5, not 1,5"


def comma_hint(cells: int, wanted: int) -> str:
    """Return a word on decimal commas, which part one number into two cells; empty where cells are missing."""
    return "; a comma parts cells: write 1.5, not 1,5" if cells > wanted else ""

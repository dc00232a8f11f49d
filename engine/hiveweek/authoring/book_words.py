"""What the rulebook says of a topic and of a rule's worth, in words."""

from __future__ import annotations

import re

from hiveweek import content
from hiveweek.rules.model import Rule

LOSES = {
    "colony": "points of colony loss",
    "crop": "points of crop",
    "neighbours": "points, for neighbours and their bees",
}
ROW_OF_A_TABLE = re.compile(
    r"\b[Rr]ows? [A-Z]\d"
)  # notes that point into working tables say nothing to a reader of the page


def about(file: str) -> str:
    """Return the comment line at the head of a rule file that says what it is about."""
    for line in (
        (content.root() / file).read_text(encoding="utf-8").splitlines() if (content.root() / file).exists() else ()
    ):
        if line.startswith("#") and "yaml-language-server" not in line:
            return line.lstrip("# ").rstrip()
        if not line.startswith("#"):
            break
    return ""


def worth(rule: Rule) -> str:
    """Return what an advice can save; nothing for a finding."""
    if rule.finding:
        return ""
    if rule.band == 0:
        return "law and people: above all points"
    stakes = rule.stakes
    said = f"{stakes.gain_pts:g} {LOSES.get(stakes.loses, '')}"
    if stakes.gain_fact:
        said += ", or what the model works out for this hive"
    note = stakes.note.rstrip(".")
    return said + (f" ({note})" if note and not ROW_OF_A_TABLE.search(note) else "")

"""A witness of the solver as a scenario that can be answered, written and read."""

from __future__ import annotations

import datetime as dt

from hiveweek.facts.scenario import Apiary, Scenario, ScenarioHive
from hiveweek.vocabulary.model import Vocabulary

YARD = ("site.", "stock.", "keeper.", "weather.")
WORKED_OUT = ("season.", "climate.", "apiary.")


def scenario_of_witness(witness: dict, words: Vocabulary, title: str = "a hive found by proof") -> Scenario:
    """Return a scenario with the witness's facts; what the calendar gives is left to it.

    Parameters
    ----------
    witness : dict
        From ``Logic.witness``.
    """
    hives = [ScenarioHive("H1", _own(witness["facts"]))]
    if witness.get("partner"):
        hives.append(ScenarioHive("H2", _own(witness["partner"])))
    return Scenario(title, witness["profile"], witness["date"], hives, Apiary("proof"))


def _own(facts: dict) -> dict:
    return {
        name: value
        for name, value in facts.items()
        if not (name.startswith(WORKED_OUT) and name != "season.local_sign")
    }


def as_yaml(witness: dict, title: str) -> str:
    """Return the witness as the text of a scenario file."""
    lines = [f"scenario: {title}", f"climate: {witness['profile']}", f"date: {witness['date'].isoformat()}", "hives:"]
    for number, facts in enumerate([witness["facts"], witness.get("partner") or {}], 1):
        if number == 2 and not facts:
            continue
        lines.append(f"  - id: H{number}")
        own = _own(facts)
        lines.append("    facts:" if own else "    facts: {}")
        for name, value in own.items():
            lines.append(f"      {name}: {_said(value)}")
    return "\n".join(lines) + "\n"


def _said(value) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, float):
        return f"{value:.4f}".rstrip("0").rstrip(".") or "0"
    return str(value)

"""A witness of the solver as a scenario that can be answered, written and read."""

from __future__ import annotations

import datetime as dt

from hiveweek.facts.scenario import Apiary, Scenario, ScenarioHive
from hiveweek.vocabulary.model import Vocabulary


def scenario_of_witness(witness: dict, words: Vocabulary, title: str = "a hive found by proof") -> Scenario:
    """Return a scenario with the witness's facts; what the calendar gives is left to it.

    Parameters
    ----------
    witness : dict
        From ``Logic.witness``.
    """
    hives = [ScenarioHive("H1", _own(witness["facts"], words))]
    if witness.get("partner"):
        hives.append(ScenarioHive("H2", _own(witness["partner"], words)))
    return Scenario(title, witness["profile"], witness["date"], hives, Apiary("proof"))


def _own(facts: dict, words: Vocabulary) -> dict:
    """What a file would state: not what the calendar gives or the hives count."""
    return {name: value for name, value in facts.items() if words.facts[name].scope in ("hive", "apiary")}


def as_yaml(witness: dict, title: str, words: Vocabulary) -> str:
    """Return the witness as the text of a scenario file."""
    lines = [f"scenario: {title}", f"climate: {witness['profile']}", f"date: {witness['date'].isoformat()}", "hives:"]
    for number, facts in enumerate([witness["facts"], witness.get("partner") or {}], 1):
        if number == 2 and not facts:
            continue
        lines.append(f"  - id: H{number}")
        own = _own(facts, words)
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

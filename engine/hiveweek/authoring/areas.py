"""Declared decision areas and known exceptions of the proofs, read from the vocabulary folder."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

from hiveweek import shapes
from hiveweek.language.conditions import Scope, parse_node
from hiveweek.problems import InputProblems, nearest
from hiveweek.rules.model import RuleSet
from hiveweek.shapes.structure import texts


@dataclass
class Area:
    """A declared decision area: where its condition holds, exactly one of its rules' conditions must."""

    id: str
    when: object
    one_of: list[str]
    at_most: bool
    place: str


def read_areas(path: Path, words, rulesets: dict[str, RuleSet]) -> list[Area]:
    """Read declared decision areas.

    Raises
    ------
    InputProblems
        Unknown rules, conditions that cannot be read.
    """
    if not path.exists():
        return []
    document = shapes.read(path, "areas")
    problems = document.problems
    limits: dict = {}
    findings: set = set()
    known: set = set()
    for ruleset in rulesets.values():
        limits.update(ruleset.limits)
        findings |= {rule.finding for rule in ruleset.rules.values() if rule.finding}
        known |= set(ruleset.rules)
    scope = Scope(words, limits, findings)
    areas = []
    for index, body in enumerate((document.data or {}).get("areas", [])):
        at = ("areas", index)
        if not body or "when" not in body:
            continue
        when = parse_node(document, (*at, "when"), scope, problems, body["when"])
        at_most = "at_most_one_of" in body
        one_of = list(texts(body.get("at_most_one_of" if at_most else "exactly_one_of")))
        for rule in one_of:
            if rule not in known:
                said = f"'{rule}' is no rule of the profiles at hand{nearest(rule, known)}"
                problems.append(document.problem(at, "unknown-target", said))
        if when is not None:
            place = f"{document.name}:{document.place(at)[0]}:{document.place(at)[1]}"
            areas.append(Area(body.get("id", ""), when, one_of, at_most, place))
    if problems:
        raise InputProblems(problems)
    return areas


def read_exceptions(path: Path) -> dict[str, tuple[str, dt.date]]:
    """Read known exceptions: ``{key: (reason, until)}``.

    Raises
    ------
    InputProblems
        An exception without a reason or an end.
    """
    if not path.exists():
        return {}
    document = shapes.read(path, "proof_exceptions")
    if document.problems:
        raise InputProblems(document.problems)
    return {row["finding"]: (row["reason"], _day(row["until"])) for row in document.data["exceptions"]}


def _day(until: dt.date | str) -> dt.date:
    return dt.date.fromisoformat(until) if isinstance(until, str) else until

"""Declared decision areas and known exceptions of the proofs, read from the vocabulary folder."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

from hiveweek import content
from hiveweek.language.conditions import Scope, parse_node
from hiveweek.problems import InputProblems
from hiveweek.rules.model import RuleSet
from hiveweek.shapes import marked_yaml


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
    document = marked_yaml.read(path, content.shown(path))
    problems = list(document.problems)
    limits: dict = {}
    findings: set = set()
    known: set = set()
    for ruleset in rulesets.values():
        limits.update(ruleset.limits)
        findings |= {rule.finding for rule in ruleset.rules.values() if rule.finding}
        known |= set(ruleset.rules)
    areas = []
    for index, body in enumerate((document.data or {}).get("areas") or []):
        at = ("areas", index)
        when = parse_node(document, at + ("when",), Scope(words, limits, findings), problems, body.get("when"))
        one_of = list(body.get("exactly_one_of") or body.get("at_most_one_of") or [])
        for rule in one_of:
            if rule not in known:
                problems.append(document.problem(at, "unknown-target", f"'{rule}' is no rule of the profiles at hand"))
        if when is not None:
            areas.append(
                Area(
                    str(body.get("id")),
                    when,
                    one_of,
                    "at_most_one_of" in body,
                    ":".join(map(str, (document.name, *document.place(at)))),
                )
            )
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
    document = marked_yaml.read(path, content.shown(path))
    problems = list(document.problems)
    found = {}
    for index, body in enumerate((document.data or {}).get("exceptions") or []):
        at = ("exceptions", index)
        key, reason, until = (body.get(k) for k in ("finding", "reason", "until"))
        if not key or not reason or not isinstance(until, dt.date):
            problems.append(
                document.problem(
                    at, "missing-key", "an exception names its finding, a reason, and a date it ends ('until')"
                )
            )
            continue
        found[str(key)] = (str(reason), until)
    if problems:
        raise InputProblems(problems)
    return found

"""What rules rest on, and rulesets of some rules only."""

from __future__ import annotations

from collections.abc import Iterable, Set
from dataclasses import dataclass, replace

from hiveweek.language.terms import refs
from hiveweek.rules.model import Rule, RuleSet


@dataclass(frozen=True)
class Needs:
    """The findings and facts that some rules read, through the rules that give those findings too."""

    findings: frozenset[str]
    facts: frozenset[str]


def needs_of(ruleset: RuleSet, rules: Iterable[Rule]) -> Needs:
    """Return what some rules of a ruleset rest on."""
    findings: set[str] = set()
    facts: set[str] = set()
    todo = list(rules)
    while todo:
        own_findings, own_facts = _own(ruleset, todo.pop())
        facts |= own_facts
        for name in own_findings - findings:
            findings.add(name)
            todo += ruleset.given.get(name, ())
    return Needs(frozenset(findings), frozenset(facts))


def _own(ruleset: RuleSet, rule: Rule) -> tuple[frozenset[str], frozenset[str]]:
    found = ruleset.reads.get(rule.id)
    if found is None:
        named = list(refs(rule.when))
        prefer = [rule.prefer[0]] if rule.prefer else []
        found = ruleset.reads[rule.id] = (
            frozenset(ref.finding for ref in named if ref.is_finding),
            frozenset(ref.name for ref in [*named, *prefer] if not ref.is_finding),
        )
    return found


def part_of(ruleset: RuleSet, rules: Iterable[Rule], findings: Set[str], without: Set[str] = frozenset()) -> RuleSet:
    """Return a ruleset of some rules and the findings they rest on alone.

    Parameters
    ----------
    rules : iterable of Rule
        Those that are asked.
    findings : set of str
        What they rest on (`needs_of`).
    without : set of str
        Findings that hold nowhere.
    """
    giving = [rule for name in findings - without for rule in ruleset.given.get(name, ())]
    part = replace(
        ruleset,
        rules={rule.id: rule for rule in [*giving, *rules]},
        prohibitions={},
        options={},
        layers=[[name for name in layer if name in findings] for layer in ruleset.layers],
    )
    part.__dict__["limits"] = ruleset.limits
    return part

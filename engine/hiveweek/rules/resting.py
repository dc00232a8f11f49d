"""What rules rest on, and rulesets of some rules only."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Set
from dataclasses import dataclass, replace

from hiveweek.language.terms import All, Any, Condition, Not, NotTrue, Ref, refs, sides
from hiveweek.rules.model import Rule, RuleSet


@dataclass(frozen=True)
class Needs:
    """The findings and facts that some rules read, through the rules that give those findings too."""

    findings: frozenset[str]
    facts: frozenset[str]


def needs_of(ruleset: RuleSet, rules: Iterable[Rule], without: frozenset[str] = frozenset()) -> Needs:
    """Return what some rules of a ruleset rest on; findings that hold nowhere (``without``), and what they rest on, are left out."""
    found = [_rests(ruleset, rule, without) for rule in rules]
    return Needs(frozenset().union(*(x[0] for x in found)), frozenset().union(*(x[1] for x in found)))


def _rests(ruleset: RuleSet, rule: Rule, without: frozenset[str]) -> tuple[frozenset[str], frozenset[str]]:
    found = ruleset.rests.get((rule.id, without))
    if found is None:
        findings: set[str] = set()
        facts: set[str] = set()
        todo = [rule]
        while todo:
            own_findings, own_facts = _own(ruleset, todo.pop())
            facts |= own_facts
            for name in own_findings - findings - without:
                findings.add(name)
                todo += ruleset.given.get(name, ())
        found = ruleset.rests[rule.id, without] = frozenset(findings), frozenset(facts)
    return found


def only_kept_away(ruleset: RuleSet, rule: Rule, findings: frozenset[str]) -> bool:
    """Return whether findings can only keep a rule from firing, so that wherever it fires it would fire without them too.

    They can where each stands under a negation, or under an odd number of them, also on the way through other findings. Rules of
    two hives choose among them, so none is allowed on that way.
    """
    found = ruleset.kept_away.get((rule.id, findings))
    if found is None:
        idle = needs_of(ruleset, [rule]).findings.isdisjoint(findings)
        found = ruleset.kept_away[rule.id, findings] = idle or _only_against(ruleset, rule, findings)
    return found


def _only_against(ruleset: RuleSet, rule: Rule, findings: frozenset[str]) -> bool:
    todo: list[tuple[Rule, bool]] = [(rule, True)]
    seen: set[tuple[str, bool]] = set()
    while todo:
        asked, wanted = todo.pop()
        if asked.roles:
            return False
        read = ((leaf.left.finding, side) for leaf, side in sides(asked.when, wanted) if leaf.left.is_finding)
        for name, side in read:
            if name in findings:
                if side:
                    return False
            elif (name, side) not in seen:
                seen.add((name, side))
                todo += [(giving, side) for giving in ruleset.given.get(name, ())]
    return True


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


def spoken_of(ruleset: RuleSet, rule: Rule) -> frozenset[str]:
    """Return the facts that a rule speaks of: what it needs to hold, through findings too; what only keeps it away is left out."""
    facts: set[str] = set()
    findings: set[str] = set()
    todo = [rule.when]
    while todo:
        for ref in needed(todo.pop()):
            if not ref.is_finding:
                facts.add(ref.name)
            elif ref.finding not in findings:
                findings.add(ref.finding)
                todo += [giving.when for giving in ruleset.given.get(ref.finding, ())]
    return frozenset(facts)


def needed(condition: Condition) -> Iterator[Ref]:
    """Yield what a condition reads, without what is only kept away (``unless``)."""
    if isinstance(condition, (All, Any)):
        for part in condition.parts:
            yield from needed(part)
    elif isinstance(condition, Not):
        yield from needed(condition.part)
    elif not isinstance(condition, NotTrue):
        yield from refs(condition)


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

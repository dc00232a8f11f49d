"""L. Company: a hive's own acts are the same alone and in any order of hives, but for what two do together and what binds the yard."""

from __future__ import annotations

from collections.abc import Iterator

from hiveweek.language.terms import refs
from hiveweek.rules.model import RuleSet
from upkeep.laws.bench import Answered, Bench, Break
from upkeep.laws.hives import Yard

LAW = "L"
MOST = 3  # hives: what binds the whole yard is told apart in small yards alone


def breaks(bench: Bench, yard: Yard, only: list | None = None) -> Iterator[Break]:
    """Yield what breaks the law: the yard turned round, and in small yards each hive by itself."""
    hives = yard.scenario.hives
    if len(hives) < 2:
        return
    here = bench.answer(yard)
    turned = bench.answer(yard.with_hives(hives[::-1]))
    for row, told in enumerate(here.told):
        other = turned.told[len(hives) - 1 - row]
        if other.hive["advice"] != told.hive["advice"] or other.hive["withheld"] != told.hive["withheld"]:
            yield Break(LAW, "order of hives", f"{told.actions} against {other.actions}", yard, row)
    if len(hives) > MOST:
        return
    shared = of_company(here.ruleset)
    for row, told in enumerate(here.told):
        alone = bench.answer(yard.with_hives([hives[row]])).told[0]
        ours, theirs = (own(one.hive, shared, bench) for one in (told, alone))
        for action in sorted(ours ^ theirs):
            if _explained(action, here, row, alone, shared, bench):
                continue
            yield Break(
                LAW, action, f"alone {', '.join(alone.actions)}; in company {', '.join(told.actions)}", yard, row
            )


def of_company(ruleset: RuleSet) -> set[str]:
    """Return the ids of rules that rest on other hives: of two hives, or reading what reaches the whole yard."""
    findings: set[str] = set()
    while True:
        rules = {
            rule.id
            for rule in ruleset.rules.values()
            if rule.roles
            or rule.reach == "apiary"
            or any(
                ref.name.startswith("apiary.") or (ref.is_finding and ref.finding in findings)
                for ref in refs(rule.when)
            )
        }
        more = {str(rule.finding) for rule in ruleset.rules.values() if rule.finding and rule.id in rules}
        if more <= findings:
            return rules
        findings |= more


def own(hive: dict, shared: set[str], bench: Bench) -> set[str]:
    """Return the acts of a hive that are its own: not of two hives, of the yard, nor resting on other hives."""
    return {
        a["action"]
        for a in hive["advice"]
        if not a["with"]
        and bench.words.actions[a["action"]].scope != "apiary"
        and a["rule"] not in shared
        and a["action"] not in bench.ranking.looks
    }


def _explained(action: str, here: Answered, row: int, alone, shared: set[str], bench: Bench) -> bool:
    """Whether company accounts for a difference: the act is held up, clashes with one of two hives, or is advised by such a rule."""
    told = here.told[row]
    if action in told.withheld or action in alone.withheld or (action in told.advice and action in alone.advice):
        return True
    actions = bench.words.actions
    joint = {a["action"] for one in (told, alone) for a in one.hive["advice"] if a["with"] or a["rule"] in shared}
    if any(action in actions[other].clashes or other in actions[action].clashes for other in joint):
        return True
    standing = here.inference.rules
    rules = [rule.id for rule in here.ruleset.advising() if rule.advise == action]
    return any(rule in shared and standing[rule].holds(row) for rule in rules) or all(rule in shared for rule in rules)

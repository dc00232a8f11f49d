"""What differs between two effective rulesets, and which rules could answer otherwise because of it."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass, field

import numpy as np

from hiveweek.authoring.wording import shown
from hiveweek.facts.estimate_mites import LIMITS as READ_BY_MODELS
from hiveweek.inference.columnar import Inference, infer
from hiveweek.language.terms import limit_names, refs
from hiveweek.language.truth import FALSE
from hiveweek.rules.model import RuleSet
from hiveweek.rules.parsing import PLACEHOLDER

FINDING = "finding."


@dataclass
class Difference:
    """Two rulesets of one climate, held against each other.

    Attributes
    ----------
    changes : list of str
        One line each: a limit moved, a rule added, gone or edited.
    concerned : set of str
        Rules whose outcome or words could differ.
    prohibitions, options : set of str
        Those whose outcome could differ.
    facts : bool
        Whether a number moved that facts or the ranking are worked out with.
    """

    before: RuleSet
    after: RuleSet
    changes: list[str] = field(default_factory=list)
    concerned: set[str] = field(default_factory=set)
    prohibitions: set[str] = field(default_factory=set)
    options: set[str] = field(default_factory=set)
    edited: set[str] = field(default_factory=set)
    facts: bool = False

    @property
    def any(self) -> bool:
        """Whether anything could be answered otherwise."""
        return bool(self.facts or self.concerned or self.prohibitions or self.options)


def compare(before: RuleSet, after: RuleSet) -> Difference:
    """Return what differs between two effective rulesets of one climate."""
    found = Difference(before, after)
    limits = _numbers(found)
    found.edited = _items(found, "rules", "rule", limits)
    found.prohibitions = _items(found, "prohibitions", "prohibition", limits)
    found.options = _items(found, "options", "treatment option", limits)
    if before.jurisdiction != after.jurisdiction:
        found.changes.append("the place's law differs")
        found.options |= set(before.options) | set(after.options)
    _spread(found)
    return found


def _numbers(found: Difference) -> set[str]:
    """Names of the numbers that are new, gone or moved."""
    before, after = found.before.numbers, found.after.numbers
    moved = set()
    for name in sorted({*before, *after}):
        old, new = before.get(name), after.get(name)
        if old is None or new is None:
            found.changes.append(f"{name} is {'new' if old is None else 'gone'}")
        elif (old.value, old.curve, old.unit) != (new.value, new.curve, new.unit):
            found.changes.append(f"{name}: {shown(old)} -> {shown(new)}")
        else:
            continue
        moved.add(name)
        found.facts |= name in READ_BY_MODELS or not name.startswith("limit.")
    return moved


def _items(found: Difference, kind: str, word: str, limits: set[str]) -> set[str]:
    """Names that are new, gone, edited, or that read a limit that moved."""
    before, after = getattr(found.before, kind), getattr(found.after, kind)
    names = set()
    for name in sorted(set(before) | set(after)):
        old, new = before.get(name), after.get(name)
        if old is None or new is None:
            found.changes.append(f"{word} {name} is {'new' if old is None else 'gone'}")
            names.add(name)
        elif _plain(old) != _plain(new):
            fields = [
                f.name
                for f in dataclasses.fields(old)
                if f.compare and f.name != "layer" and getattr(old, f.name) != getattr(new, f.name)
            ]
            found.changes.append(f"{word} {name}: other {', '.join(fields)}")
            names.add(name)
        elif limits & _limits_read(new):
            names.add(name)
    return names


def _plain(item):
    """An item without the layer it comes from: who says it changes no answer."""
    return dataclasses.replace(item, layer="") if hasattr(item, "layer") else item


def _limits_read(item) -> set[str]:
    names: set[str] = set()
    texts = [getattr(item, key, None) or "" for key in ("because", "safety", "amount", "check")]
    for condition in [item.when] if hasattr(item, "when") else [bar[0] for bar in item.bars]:
        names.update(limit_names(condition))
    texts += [bar[1] for bar in getattr(item, "bars", ())]
    for text in texts:
        names.update(name for name in PLACEHOLDER.findall(text) if name.startswith("limit."))
    return names


def _spread(found: Difference) -> None:
    """Follow findings: what reads a finding of a concerned rule is concerned too."""
    found.concerned = set(found.edited)
    while True:
        findings = {
            FINDING + given
            for rules in (found.before.rules, found.after.rules)
            for name in found.concerned
            if name in rules and (given := rules[name].finding)
        }
        more = {
            name
            for rules in (found.before.rules, found.after.rules)
            for name, rule in rules.items()
            if name not in found.concerned and any(ref.name in findings for ref in refs(rule.when))
        }
        if not more:
            break
        found.concerned |= more
    for rulesets in (found.before, found.after):
        for name, body in rulesets.prohibitions.items():
            if any(ref.name in findings for ref in refs(body.when)):
                found.prohibitions.add(name)
        for name, option in rulesets.options.items():
            if any(ref.name in findings for bar in option.bars for ref in refs(bar[0])):
                found.options.add(name)


def reduced(ruleset: RuleSet, difference: Difference) -> RuleSet:
    """Return a ruleset of only what a difference concerns, and the findings that it reads."""
    rules = {name: ruleset.rules[name] for name in difference.concerned if name in ruleset.rules}
    prohibitions = {
        name: ruleset.prohibitions[name] for name in difference.prohibitions if name in ruleset.prohibitions
    }
    options = {name: ruleset.options[name] for name in difference.options if name in ruleset.options}
    conditions = [rule.when for rule in rules.values()]
    conditions += [prohibition.when for prohibition in prohibitions.values()]
    conditions += [bar[0] for option in options.values() for bar in option.bars]
    waiting = {ref.name[len(FINDING) :] for condition in conditions for ref in refs(condition) if ref.is_finding}
    waiting |= {rule.finding for rule in rules.values() if rule.finding}
    seen: set[str] = set()
    while waiting:
        finding = waiting.pop()
        seen.add(finding)
        for rule in ruleset.giving(finding):
            rules[rule.id] = rule
            waiting |= {ref.name[len(FINDING) :] for ref in refs(rule.when) if ref.is_finding} - seen
    layers = [[name for name in layer if name in seen] for layer in ruleset.layers]
    return dataclasses.replace(
        ruleset, rules=dict(sorted(rules.items())), prohibitions=prohibitions, options=options, layers=layers
    )


class Screen:
    """Tells quickly whether two rulesets could answer a table otherwise.

    Parameters
    ----------
    difference : Difference
    """

    def __init__(self, difference: Difference):
        self.difference = difference
        self.pair = (reduced(difference.before, difference), reduced(difference.after, difference))

    def differs(self, table) -> bool:
        """Return whether any outcome concerned differs at any hive, or a rule with other words or worth is in play."""
        before, after = (infer(ruleset, table) for ruleset in self.pair)
        for name in self.difference.concerned:
            old, new = before.rules.get(name), after.rules.get(name)
            if old is None or new is None:
                only = old or new
                if only is not None and (np.any(only.point != FALSE) or self._doubtful(only)):
                    return True
            elif not _same(old, new) or (name in self.difference.edited and np.any(new.point != FALSE)):
                return True
        return any(
            self._of_others(before, after, kind, name)
            for kind in ("prohibitions", "options")
            for name in getattr(self.difference, kind)
        )

    @staticmethod
    def _doubtful(outcome) -> bool:
        return bool(np.any(outcome.firm != outcome.point))

    def _of_others(self, before: Inference, after: Inference, kind: str, name: str) -> bool:
        """Prohibitions and options: where only one side has them, or where two hives are concerned, the whole answer is asked."""
        old, new = getattr(before, kind).get(name), getattr(after, kind).get(name)
        if old is None or new is None:
            return True
        pairs = zip(old, new, strict=False) if isinstance(old, list) else [(old, new)]
        return (isinstance(old, list) and len(old) != len(new)) or any(not _same(a, b) for a, b in pairs)


def _same(old, new) -> bool:
    return bool(
        np.array_equal(old.point, new.point)
        and np.array_equal(old.firm, new.firm)
        and np.array_equal(old.chance, new.chance)
    )

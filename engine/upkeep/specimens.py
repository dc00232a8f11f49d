"""Random small rulesets and fact tables, for holding the inference channels against each other and against a reference.

Values, intervals and limits are drawn from one coarse grid, so that equal values, touching intervals and intervals that
just reach a limit are common rather than rare.
"""

from __future__ import annotations

import random

from hiveweek.facts.table import FactTable
from hiveweek.language.terms import All, Any, Compare, Flag, Known, LimitRef, Member, Not, NotTrue, Ref
from hiveweek.numbers import Number, Numbers
from hiveweek.rules.layering import finding_layers
from hiveweek.rules.model import Option, Prohibition, Rule, RuleSet, Target
from hiveweek.vocabulary.model import Action, Fact, Vocabulary

OPS = ("<", "<=", ">", ">=", "==", "!=")
GRID = tuple(sorted({k / 2 for k in range(-4, 9)} | {0.1, 0.3, 0.0001, 1234.5678, -0.25}))
WORDS = ("ash", "birch", "cedar", "dogwood")
ROLES = ("weak", "strong")
NUMBERS = tuple(f"a.n{k}" for k in range(5))
WHOLE = ("a.i0", "a.i1")
YES_NO = tuple(f"b.y{k}" for k in range(4))
ONE_OF = ("c.w0", "c.w1")
DATES = ("d.d0", "d.d1")
IDS = ("H1", "H2", "H10", "NO", "012", "b-9", "A", "z")


def words() -> Vocabulary:
    """Return the small vocabulary that random rules speak."""
    facts = {name: Fact(name, "number", "observed", "kg", low=-2000.0, high=2000.0) for name in NUMBERS}
    facts |= {name: Fact(name, "integer", "observed", "frames", low=0, high=40) for name in WHOLE}
    facts |= {name: Fact(name, "yes_no", "observed") for name in YES_NO}
    facts |= {name: Fact(name, "one_of", "observed", values=WORDS) for name in ONE_OF}
    facts |= {name: Fact(name, "date", "observed") for name in DATES}
    return Vocabulary(
        facts=facts, actions={"look": Action("look", "look"), "feed": Action("feed", "feed", moves=("frames",))}
    )


class Specimens:
    """Draws conditions, rules and tables from one random source.

    Parameters
    ----------
    source : random.Random
        Decides everything; the same state gives the same specimens.
    hives : int
        Most hives of a table.
    rules : int
        Most rules of a ruleset.
    """

    def __init__(self, source: random.Random, hives: int = 5, rules: int = 14):
        self.source = source
        self.hives, self.rules = hives, rules
        self.limits = {f"limit.t.l{k}": Number(f"limit.t.l{k}", self._pick(GRID), "kg") for k in range(4)}

    def _pick(self, options):
        return options[self.source.randrange(len(options))]

    def _often(self, share: float) -> bool:
        return self.source.randrange(100) < share * 100

    # --- conditions ---
    def leaf(self, findings=(), role: str | None = None):
        """Return one comparison, membership, known test or flag; its facts belong to ``role``."""
        kind = self.source.randrange(10)
        if findings and kind <= 2:
            return Flag(Ref("finding." + self._pick(findings), role))
        if kind <= 4:
            return self._number_leaf(role)
        if kind == 5:
            return Flag(Ref(self._pick(YES_NO), role))
        if kind == 6:
            name = self._pick(ONE_OF + WHOLE)
            size = self.source.randrange(1, 4)
            values = tuple(sorted({float(self.source.randrange(len(WORDS))) for _ in range(size)}))
            return Member(Ref(name, role), values, self._often(0.4))
        if kind == 7:
            return Known(Ref(self._pick(NUMBERS + YES_NO + ONE_OF + DATES), role), self._often(0.5))
        if kind == 8:
            name = self._pick(ONE_OF + YES_NO)
            return Compare(Ref(name, role), self._pick(("==", "!=")), float(self.source.randrange(2)))
        left, right = self._pick(((NUMBERS, NUMBERS), (WHOLE, WHOLE), (DATES, DATES), (ONE_OF, ONE_OF)))
        op = self._pick(("==", "!=")) if left is ONE_OF else self._pick(OPS)
        first = self._pick(left)
        second = self._pick([name for name in right if name != first])
        return Compare(Ref(first, role), op, Ref(second, role))

    def _number_leaf(self, role):
        left = Ref(self._pick(NUMBERS), role)
        if self._often(0.4):
            return Compare(left, self._pick(OPS), LimitRef(self._pick(sorted(self.limits))))
        return Compare(left, self._pick(OPS), self._pick(GRID))

    def condition(self, depth: int = 3, findings=(), role: str | None = None):
        """Return a condition at most ``depth`` levels deep."""
        kind = self.source.randrange(6)
        if depth <= 0 or kind <= 1:
            return self.leaf(findings, role)
        if kind == 2:
            return Not(self.condition(depth - 1, findings, role))
        size = self.source.randrange(8, 30) if self._often(0.04) else self.source.randrange(1, 4)
        parts = tuple(self.condition(depth - 1, findings, role) for _ in range(size))
        return All(parts) if kind <= 4 else Any(parts)

    def _when(self, findings, role=None):
        condition = self.condition(3, findings, role)
        if self._often(0.4):
            blocks = tuple(NotTrue(self.condition(2, findings, role)) for _ in range(self.source.randrange(1, 3)))
            parts = condition.parts if isinstance(condition, All) else (condition,)
            return All(parts + blocks)
        return condition

    def between(self, roles):
        """Return a comparison of the two hives."""
        first, second = roles if self._often(0.5) else roles[::-1]
        left, right = self._pick(((NUMBERS, NUMBERS), (WHOLE, WHOLE), (DATES, DATES)))
        return Compare(Ref(self._pick(left), first), self._pick(OPS), Ref(self._pick(right), second))

    def _pair_when(self, findings):
        parts = []
        for role in ROLES:
            for _ in range(self.source.randrange(3)):
                parts.append(self.condition(1, findings, role))
        parts += [self.between(ROLES) for _ in range(self.source.randrange(3))]
        if self._often(0.2):
            parts.append(Any((self.leaf(findings, ROLES[0]), self.leaf(findings, ROLES[1]))))
        if self._often(0.3):
            parts.append(NotTrue(self.condition(1, findings, self._pick(ROLES))))
        if not parts:
            parts.append(self.between(ROLES))
        self.source.shuffle(parts)
        return All(tuple(parts))

    # --- rules ---
    def ruleset(self) -> RuleSet:
        """Return rules with findings in layers, two-hive rules, prohibitions and options."""
        rules: dict[str, Rule] = {}
        findings = [f"f{k}" for k in range(self.source.randrange(5))]
        for k in range(self.source.randrange(1, self.rules + 1)):
            rule_id = f"t.r{k:02d}"
            kind = self.source.randrange(10)
            if findings and kind <= 4:
                place = self.source.randrange(len(findings))
                rules[rule_id] = Rule(
                    rule_id,
                    "t",
                    self._when(findings[:place]),
                    finding=findings[place],
                    reach=self._pick(("hive", "hive", "apiary")),
                )
            elif kind <= 6:
                prefer = (
                    (Ref(self._pick(NUMBERS), self._pick(ROLES)), self._pick(("asc", "desc")))
                    if self._often(0.6)
                    else None
                )
                gives = {"finding": self._pick(findings)} if findings and self._often(0.1) else {"advise": "feed"}
                readable = findings[: findings.index(gives["finding"])] if "finding" in gives else findings
                rules[rule_id] = Rule(
                    rule_id, "t", self._pair_when(readable), roles=ROLES, at=self._pick(ROLES), prefer=prefer, **gives
                )
            else:
                rules[rule_id] = Rule(rule_id, "t", self._when(findings), advise=self._pick(("look", "feed")))
        prohibitions = {}
        for k in range(self.source.randrange(3)):
            roles = ROLES if self._often(0.3) else ()
            when = self._pair_when(findings) if roles else self.condition(2, findings)
            prohibitions[f"p{k}"] = Prohibition(f"p{k}", (Target("action", "feed"),), when, "stop", roles=roles)
        options = {}
        for k in range(self.source.randrange(2)):
            bars = tuple((self.condition(2, findings), "", ()) for _ in range(self.source.randrange(1, 3)))
            options[f"o{k}"] = Option(f"o{k}", f"o{k}", "strip", bars)
        ruleset = RuleSet(rules, Numbers(self.limits), prohibitions, options)
        ruleset.layers = finding_layers(rules.values(), [])
        given = {rule.finding for rule in rules.values()}
        missing = [name for name in findings if name not in given]
        if missing:
            ruleset.layers.insert(0, missing)
        return ruleset

    # --- facts ---
    def table(self, vocabulary: Vocabulary | None = None) -> FactTable:
        """Return a table of one to ``hives`` hives, some facts unknown and some known only within an interval."""
        vocabulary = vocabulary or words()
        names = list(IDS[: self.hives])
        self.source.shuffle(names)
        names = names[: self.source.randrange(1, len(names) + 1)]
        table = FactTable(vocabulary, names)
        for fact in vocabulary.facts.values():
            if self._often(0.1):
                continue
            for row in range(len(names)):
                if not self._often(0.25):
                    self._set(table, row, fact)
        table.settle()
        return table

    def _set(self, table, row: int, fact: Fact) -> None:
        if fact.kind == "number":
            value = self._pick(GRID)
            low = min(value, self._pick(GRID)) if self._often(0.3) else value
            high = max(value, self._pick(GRID)) if self._often(0.3) else value
        elif fact.kind == "integer":
            value = float(self.source.randrange(5))
            low, high = value - self.source.randrange(2), value + self.source.randrange(2)
        else:
            top = {"yes_no": 2, "one_of": len(WORDS), "date": 4}[fact.kind]
            value = float(self.source.randrange(top)) + (739_900.0 if fact.kind == "date" else 0.0)
            low = high = value
        table.set_one(row, fact.id, value, low, high)


def specimen(seed: int) -> tuple[RuleSet, FactTable]:
    """Return the ruleset and the table of a seed."""
    found = Specimens(random.Random(seed))
    return found.ruleset(), found.table()

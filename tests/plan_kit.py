"""Small rulesets and fact tables by hand, for tests of the plan."""

from __future__ import annotations

import datetime as dt
from functools import lru_cache

from hiveweek import vocabulary
from hiveweek.facts.reading import scenario_of
from hiveweek.facts.table import FactTable
from hiveweek.inference.columnar import infer
from hiveweek.language.conditions import Scope, parse_text
from hiveweek.language.terms import All, Any, Not, NotTrue
from hiveweek.numbers import Number, Numbers
from hiveweek.plan import Setting, make
from hiveweek.plan import ranking as ranking_file
from hiveweek.rules.layering import finding_layers
from hiveweek.rules.model import Deadline, Option, Prohibition, Rule, RuleSet, Stakes, Target, Trouble
from hiveweek.shapes import marked_yaml

TODAY = dt.date(2026, 3, 10)


@lru_cache(maxsize=1)
def words():
    return vocabulary.load()


@lru_cache(maxsize=1)
def weights():
    return ranking_file.load(words())


class Book:
    """Gathers rules, limits, prohibitions and options, then answers."""

    def __init__(self):
        self.rules, self.limits, self.prohibitions, self.options = {}, {}, {}, {}
        self.troubles = {}
        self.findings = set()

    def limit(self, name, value, unit=None):
        self.limits[name] = Number(name, float(value), unit, ("judgement",), origin="base")

    def condition(self, body, roles=()):
        if isinstance(body, str):
            return parse_text(body, Scope(words(), self.limits, self.findings, roles))
        if isinstance(body, list):
            return All(tuple(self.condition(b, roles) for b in body))
        word, inner = next(iter(body.items()))
        if word == "not":
            return Not(self.condition(inner, roles))
        if word == "unless":
            return NotTrue(self.condition(inner, roles))
        parts = tuple(self.condition(b, roles) for b in inner)
        return All(parts) if word == "all" else Any(parts)

    def unite(self, *when, **more):
        """A rule that joins a weak hive to a strong one."""
        self.rule("u.unite", list(when), "unite-colonies", roles=("weak", "strong"), at="weak", **more)

    def rule(
        self,
        id,
        when,
        advise=None,
        *,
        finding=None,
        gain=10.0,
        loses="colony",
        by=None,
        band=1,
        chance=0.5,
        because="So it is.",
        amount=None,
        safety="",
        roles=(),
        at=None,
        prefer=None,
        gain_fact=None,
        reach="hive",
        source=("judgement",),
    ):
        if finding:
            self.findings.add(finding)
        if isinstance(by, int):
            by = Deadline("today", "", by, str(by))
        self.rules[id] = Rule(
            id,
            id.split(".")[0],
            self.condition(when, roles),
            advise,
            finding,
            reach,
            amount,
            by,
            Stakes(loses, gain, gain_fact),
            band,
            chance,
            because,
            safety,
            source,
            "guide",
            roles,
            at,
            prefer,
        )

    def never(
        self,
        id,
        targets,
        when,
        effect="stop",
        *,
        first=(),
        unknown="pass",
        instead=(),
        because="It must not be.",
        check="",
        excepted=(),
        roles=(),
        spares=(),
        where=None,
        say="",
    ):
        self.prohibitions[id] = Prohibition(
            id,
            tuple(targets),
            self.condition(when, roles),
            effect,
            tuple(first),
            unknown,
            tuple(instead),
            tuple(excepted),
            because,
            check,
            ("judgement",),
            roles,
            tuple(spares),
            self.condition(where, ()) if where else None,
            say,
        )

    def option(self, id, active, form, bars=()):
        self.options[id] = Option(id, active, form, tuple((self.condition(w), b, ()) for w, b in bars), "Fits.")

    def trouble(self, id, when, acts, looks=()):
        self.troubles[id] = Trouble(id, id, self.condition(when), tuple(acts), tuple(looks), 30.0)

    def ruleset(self):
        problems = []
        ruleset = RuleSet(
            dict(sorted(self.rules.items())),
            Numbers(dict(self.limits)),
            dict(sorted(self.prohibitions.items())),
            dict(self.options),
            troubles=dict(self.troubles),
        )
        ruleset.layers = finding_layers(ruleset.rules.values(), problems)
        assert not problems
        return ruleset

    def infer(self, hives):
        return infer(self.ruleset(), table(hives))

    def plan(self, hives, today=TODAY, **setting):
        return make(self.infer(hives), Setting(today, **setting), weights())


def act(name):
    return Target("action", name)


def table(hives: dict) -> FactTable:
    """Return a table from {hive: {fact: value or (value, low, high)}}."""
    built = FactTable(words(), list(hives))
    for row, facts in enumerate(hives.values()):
        for fact_id, value in facts.items():
            fact = words().facts[fact_id]
            if isinstance(value, tuple):
                built.set_one(row, fact_id, fact.encode(value[0]), float(value[1]), float(value[2]), "computed")
            else:
                built.set_one(row, fact_id, fact.encode(value), origin=f"seen {TODAY.isoformat()}")
    return built


def scenario(text, climate="cool_continental"):
    """Read the hives of a question as a keeper writes them."""
    return scenario_of(marked_yaml.parse(f"climate: {climate}\n{text}", "yard.yaml"), words=words())


def actions(plan, hive=0):
    return [a.action for a in plan.hives[hive].advice]


class Calendar:
    """A season calendar of a few fixed days."""

    def __init__(self, **days):
        self.days = days

    def event_date(self, event, near):
        month, day = self.days.get(event, (None, None))
        if month is None:
            return None
        years = [dt.date(near.year + k, month, day) for k in (-1, 0, 1)]
        return min(years, key=lambda d: abs((d - near).days))


def treating(*bars):
    """A yard of rules that treats against mites, with options: active, form and what bars each."""
    book = Book()
    book.rule("m.treat", "colony.alive", "treat-mites", gain=35, by=0, because="Mites.")
    for i, (active, form, condition) in enumerate(bars):
        book.option(f"o{i}", active, form, [(condition, f"{active} bars")] if condition else [])
    return book

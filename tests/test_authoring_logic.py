"""The solver and the evaluator mean the same: by conditions, by the shipped rules, and by what is forbidden."""

import random

import pytest

pytest.importorskip("z3", reason="proofs need the package z3-solver")

import numpy as np
import z3
from plan_kit import TODAY, Book, act, words

from hiveweek import climate
from hiveweek.authoring import prove
from hiveweek.authoring.cases import Runner
from hiveweek.authoring.logic import Logic
from hiveweek.facts.table import FactTable
from hiveweek.inference.columnar import infer
from hiveweek.language.meaning import View, evaluate
from hiveweek.language.terms import leaves
from hiveweek.language.truth import Truth
from hiveweek.plan.deciding import Deciding
from hiveweek.plan.safety import Safety
from hiveweek.plan.words import Filler
from hiveweek.rules.forbidden import concerns, withholds
from hiveweek.rules.model import Target
from upkeep import specimens

CLIMATE = "cool_maritime"


def is_true(model, term) -> bool:
    return z3.is_true(model.eval(term, model_completion=True))


def said(model, proposition) -> Truth:
    holds, fails = is_true(model, proposition.holds), is_true(model, proposition.fails)
    assert not (holds and fails)
    return Truth(holds - fails)


def number_of(value) -> float:
    """A value of the solver as the fact table holds it."""
    if z3.is_bool(value):
        return float(z3.is_true(value))
    return float(value.as_long()) if z3.is_int_value(value) else float(value.as_fraction())


def put(logic: Logic, table: FactTable, hive: int):
    """Give the solver one hive's values and return its model; every fact is fixed, so there is only one."""
    given = []
    for (name, _), (known, term) in logic._facts.items():
        value = table.column(name).value[hive]
        if np.isnan(value):
            given.append(z3.Not(known))
        else:
            kind = table.vocabulary.facts[name].kind
            given += [known, term == (bool(value) if kind == "yes_no" else z3.RealVal(repr(float(value))))]
    assert logic.satisfiable(*given) is True
    return logic.solver.model()


@pytest.mark.parametrize("seed", range(0, 120, 4))
def test_random_conditions(seed):
    """All kinds of comparison, nested, over facts that are known and unknown."""
    drawn = specimens.Specimens(random.Random(seed))
    conditions = [drawn.condition() for _ in range(12)]
    table = drawn.table()
    logic = Logic(specimens.words(), [])
    propositions = [logic.condition(condition, drawn.limits, {}) for condition in conditions]
    view = View(table, {}, drawn.limits)
    for hive in range(len(table)):
        model = put(logic, table, hive)
        for condition, proposition in zip(conditions, propositions, strict=True):
            assert said(model, proposition) == evaluate(condition, view).at(hive)[0], condition


def test_random_conditions_hold_every_kind_of_comparison():
    kinds = set()
    for seed in range(0, 120, 4):
        drawn = specimens.Specimens(random.Random(seed))
        kinds |= {type(leaf).__name__ for _ in range(12) for leaf in leaves(drawn.condition())}
    assert kinds == {"Compare", "Flag", "Known", "Member"}


def test_shipped_rules():
    """Inputs that the solver finds, each with every fact it chose, put through the evaluator: all rules of one hive agree."""
    runner = Runner()
    prover = prove.Prover(runner, [CLIMATE])
    logic = prover.logic
    logic.close()
    ruleset = runner.ruleset(climate.load_profile(CLIMATE))
    effective = prover.effective[CLIMATE]
    rules = [rule for rule in ruleset.rules.values() if not rule.roles]
    alone = [z3.Not(bit) for bit in [*logic.elsewhere.values(), logic.paired]]
    fired = 0
    for wanted in rules[::9]:
        if not logic.satisfiable(effective.rules[wanted.id].holds, *alone):
            continue
        model = logic.solver.model()
        day = logic.days[next(logic.classes[k][0] for k, bit in enumerate(logic.day_bits) if is_true(model, bit))]
        table = FactTable(runner.words, ["A"])
        for (name, role), (known, value) in logic._facts.items():
            if role == "" and is_true(model, known):
                table.set(name, np.array([number_of(model.eval(value, model_completion=True))]))
        for name, number in day.facts.items():
            table.set(name, np.array([number]))
        found = infer(ruleset, table)
        for rule in rules:
            point = found.rules[rule.id].at(0)[0]
            assert said(model, effective.rules[rule.id]) == point, (wanted.id, rule.id)
            fired += point == Truth.TRUE
    assert fired > 60


HIVES = {
    "nothing": {},
    "cold": {"weather.open_high_c": 4.0},
    "cold and starving": {"weather.open_high_c": 4.0, "food.days_left": 2.0},
    "cold and fed": {"weather.open_high_c": 4.0, "food.days_left": 90.0},
    "warm and robbed": {"weather.open_high_c": 18.0, "colony.robbed": True},
    "warm": {"weather.open_high_c": 18.0, "colony.robbed": False},
    "cold and robbed": {"weather.open_high_c": 4.0, "colony.robbed": True, "food.days_left": 2.0},
}


def test_what_is_forbidden():
    """What the filter of the weekly answer stops is what the proofs call forbidden, for every action at every hive."""
    book = Book()
    spared = {"spares": ("feed-candy", "full-inspection"), "where": "food.days_left < 7", "say": "It starves."}
    book.never("cold", [Target("opens", "any")], "weather.open_high_c < 10", unknown="ask", **spared)
    book.never("robbed", [Target("opens", "frames"), act("feed-thin-syrup")], "colony.robbed", unknown="check")
    book.never("smoke", [Target("uses", "smoke")], {"not": "colony.robbed"}, excepted=("full-inspection",))
    book.never("moved", [Target("moves", "frames")], "colony.robbed", "first", first=("stop-robbing",))
    book.never("partner", [act("unite-colonies")], "one.colony.robbed", roles=("one", "other"))
    inference = book.infer(HIVES)
    logic = Logic(words(), [])
    effective = logic.effective("any", inference.ruleset)
    safety = Safety(inference, Deciding(inference), Filler(inference.table, inference.ruleset.limits, TODAY))
    stopped = 0
    for hive, name in enumerate(inference.table.hives):
        model = put(logic, inference.table, hive)
        for action in words().actions.values():
            stops = {prohibition.id for prohibition, _ in safety.verdict(action.id, hive).stops}
            proven = {
                p.id
                for p in inference.ruleset.prohibitions.values()
                if withholds(p)
                and concerns(p, action, paired=False)
                and all(is_true(model, term) for term in effective.forbids(p, action.id))
            }
            assert stops == proven, (name, action.id)
            stopped += len(stops)
    assert stopped > 20
    assert safety.verdict("feed-candy", inference.table.hives.index("cold and starving")).spared == "It starves."

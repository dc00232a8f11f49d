"""Whatever number a file or a rule holds: both channels read the same one, or the second says what it does not carry."""

from __future__ import annotations

import datetime as dt
import math
import multiprocessing
from functools import lru_cache

import numpy as np
import pytest
from channels_kit import second
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hiveweek import facts, rules, vocabulary
from hiveweek.climate import load_profile
from hiveweek.facts.table import DECIMALS, LARGEST, FactTable
from hiveweek.inference import channel, rete
from hiveweek.inference.columnar import infer
from hiveweek.inference.network import compile_network, writable
from hiveweek.language.terms import Compare, LimitRef, Member, Ref, leaves, limit_names
from hiveweek.numbers import Number, Numbers
from hiveweek.plan.answer import answer
from hiveweek.problems import InputProblems
from hiveweek.rules import traits_of
from hiveweek.rules.model import Rule, RuleSet
from upkeep.specimens import OPS, words

ODD = (0.0, -0.0, 5e-324, 1e-300, 1e-16, 0.00001, 0.00005, 0.000099999, 0.0001, 0.1 + 0.2, 1 / 3, 0.30000000000000004)
ODD += (2.5, 4.00005, 1e15, 1e16, 1.7e308, math.inf)


# --- settling ---
@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(*[st.floats(allow_nan=True, allow_infinity=True)] * 3), min_size=1, max_size=4))
def test_a_settled_table_can_be_written_and_stays_as_it_is(cells):
    table = FactTable(words(), [f"H{k}" for k in range(len(cells))])
    given_ = np.array(cells).T
    table.set("a.n0", *given_)
    before = table.column("a.n0")
    table.settle()
    column = table.column("a.n0")
    assert np.array_equal(np.isnan(column.value), np.isnan(before.value))
    for array, was in ((column.value, before.value), (column.low, before.low), (column.high, before.high)):
        known = array[~np.isnan(array)]
        assert all(writable(float(x)) and abs(x) <= LARGEST for x in known)
        assert not np.signbit(known[known == 0]).any()
        near = np.abs(was) < 1e9
        assert np.all(np.abs(array[near] - was[near]) <= 0.5001 * 10.0**-DECIMALS)
    known = column.known
    assert np.all(column.low[known] <= column.value[known]) and np.all(column.value[known] <= column.high[known])
    again = FactTable(words(), table.hives)
    again.set("a.n0", column.value, column.low, column.high)
    again.settle()
    for name in ("value", "low", "high"):
        assert np.array_equal(getattr(again.column("a.n0"), name), getattr(column, name), equal_nan=True)


def test_sums_that_binary_arithmetic_misses_are_the_number_meant():
    table = FactTable(words(), ["A"])
    table.set("a.n0", 0.1 + 0.2, -1e-9, math.inf)
    table.settle()
    column = table.column("a.n0")
    assert (column.value[0], str(column.low[0]), column.high[0]) == (0.3, "0.0", LARGEST)


def test_the_facts_of_an_answer_are_settled():
    """As both channels read them, not by one of them."""
    profile = load_profile("boreal")
    day = dt.date(2026, 8, 10)
    hive = facts.scenario.ScenarioHive("A", {"colony.frames_of_bees": 7, "food.stores_kg": 1 / 3})
    scenario = facts.scenario.Scenario("x", "boreal", day, [hive])
    built = facts.build(scenario, day, profile)
    assert built.table.plain(0, "food.stores_kg") == 0.3333
    for column in built.table.columns.values():
        for array in (column.value, column.low, column.high):
            assert np.array_equal(array, np.round(array, DECIMALS), equal_nan=True) and not np.isinf(array).any()


# --- scenario files ---
@lru_cache(maxsize=1)
def shipped():
    vocabulary_ = vocabulary.load()
    profile = load_profile("boreal")
    ruleset = rules.load(profile.id, traits_of(profile), vocabulary=vocabulary_)
    return vocabulary_, ruleset, _near(ruleset)


def _near(ruleset):
    """Return the numbers that rules compare each fact with."""
    near: dict[str, set] = {}
    for rule in ruleset.rules.values():
        for leaf in leaves(rule.when):
            right = getattr(leaf, "right", None)
            if isinstance(right, LimitRef):
                right = ruleset.limits[right.name].value
            if isinstance(right, float):
                near.setdefault(leaf.left.name, set()).add(right)
    return near


@st.composite
def number_for(draw, fact, near):
    """A number that a file may hold for a fact: tiny, odd, huge within the fact's range, or hard by what rules ask."""
    limits = sorted(near.get(fact.id, ())) or [fact.low]
    limit = draw(st.sampled_from(limits))
    number = draw(
        st.one_of(
            st.sampled_from(ODD),
            st.sampled_from([fact.low, fact.high, math.nextafter(fact.high, fact.low)]),
            st.sampled_from([limit, limit + 1e-9, limit - 1e-9, limit + 0.00005, math.nextafter(limit, fact.high)]),
            st.floats(fact.low, fact.high),
        )
    )
    return number if fact.low <= number <= fact.high else fact.low


@st.composite
def scenario_file(draw):
    vocabulary_, _, near = shipped()
    numbers = [fact for fact in vocabulary_.facts.values() if fact.kind == "number"]
    day = draw(st.sampled_from(["2026-02-10", "2026-05-20", "2026-08-15", "2026-11-01"]))
    lines = ["scenario: odd numbers", "climate: boreal", f"date: {day}", "hives:"]
    for hive in range(draw(st.integers(1, 6))):
        said = []
        for fact in draw(st.lists(st.sampled_from(numbers), unique=True, max_size=12)):
            # The exponent form with a dot is a number to every reader of YAML.
            said.append(f"{fact.id}: {draw(number_for(fact, near)):.17e}")
        lines += [f"  - id: H{hive}", f"    facts: {{{', '.join(['colony.alive: true', *said])}}}"]
    return "\n".join(lines) + "\n"


@second
def test_any_numbers_in_a_file_pass_through_both_channels(tmp_path):
    vocabulary_, ruleset, _ = shipped()
    path = tmp_path / "odd.yaml"
    answered = 0

    @settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
    @given(scenario_file())
    def agree(text):
        nonlocal answered
        path.write_text(text, encoding="utf-8")
        try:
            scenario = facts.read_scenario(path, words=vocabulary_)
        except InputProblems:
            return  # numbers that cannot be together: no answer, and the reader says why
        found = answer(scenario, offline=True, words=vocabulary_, ruleset=ruleset)
        assert (found.plan.channels["rete"], found.notes, found.differences) == ("agrees", [], [])
        answered += 1

    agree()
    assert answered >= 10


# --- numbers of rules ---
def _apart(ruleset, table):
    inference, network = infer(ruleset, table), compile_network(ruleset)
    return [str(d) for d in channel.compare(inference, rete.run(network, table))], network.cannot


@pytest.fixture(scope="module")
def apart():
    """Runs the second channel in a process that is replaced after some rulesets, because the library keeps their memory."""
    with multiprocessing.get_context("fork").Pool(1, maxtasksperchild=40) as pool:
        yield lambda ruleset, table: pool.apply_async(_apart, (ruleset, table)).get(60)


@second
def test_any_numbers_in_rules_are_carried_or_named(apart):
    numbers = st.one_of(st.sampled_from(ODD), st.sampled_from([-x for x in ODD]), st.floats(allow_nan=False))
    left_out = carried = 0

    @settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
    @given(st.lists(st.tuples(st.sampled_from(OPS), numbers), min_size=1, max_size=6), st.lists(numbers, min_size=1))
    def agree(tests, values):
        nonlocal left_out, carried
        limit = Number("limit.t.l", tests[0][1], "kg")
        made = [Rule("t.r00", "t", Compare(Ref("a.n0"), tests[0][0], LimitRef(limit.name)), advise="look")]
        made += [
            Rule(f"t.r{k:02d}", "t", Compare(Ref("a.n0"), op, number), advise="look")
            for k, (op, number) in enumerate(tests[1:], 1)
        ]
        made.append(Rule("t.member", "t", Member(Ref("a.n0"), (tests[0][1], 1.0)), advise="feed"))
        ruleset = RuleSet({rule.id: rule for rule in made}, Numbers({limit.name: limit}))
        table = FactTable(words(), [f"H{k}" for k in range(len(values))])
        values = np.array(values)
        table.set("a.n0", values, values - 0.1, values + 0.00005)
        table.settle()
        differences, cannot = apart(ruleset, table)
        assert differences == []
        unwritten = {f"rule:{rule.id}" for rule in made if not all(map(writable, _numbers_of(rule, ruleset)))}
        assert set(cannot) == unwritten
        left_out += len(cannot)
        carried += len(made) - len(cannot)

    agree()
    assert left_out > 50 and carried > 50


def _numbers_of(rule, ruleset):
    if isinstance(rule.when, Member):
        return rule.when.values
    named = list(limit_names(rule.when))
    return [ruleset.limits[name].value for name in named] or [rule.when.right]


@second
def test_a_number_of_a_rule_that_needs_an_exponent_is_named_and_the_others_compared():
    small = Rule("t.small", "t", Compare(Ref("a.n0"), "<", 1e-7), advise="look")
    other = Rule("t.other", "t", Compare(Ref("a.n0"), "<", 2.0), advise="look")
    table = FactTable(words(), ["A"])
    table.set("a.n0", 1.0)
    ruleset = RuleSet({rule.id: rule for rule in (small, other)})
    result = channel.Started.on(ruleset, table).finish(infer(ruleset, table))
    assert (result.state, result.differences) == ("agrees", []) and "t.small" in result.note
    assert "t.other" not in result.note


def test_every_shipped_rule_is_carried():
    assert compile_network(shipped()[1]).cannot == {}

"""The two inference channels are alike on any rules and any facts.

The columnar channel is held against ``reference_meaning`` (plain Python, one hive at a time, from Kleene's tables); the
second channel, which runs in processes that are thrown away, against the columnar one.
"""

from __future__ import annotations

import multiprocessing
import random
import subprocess
import sys

import numpy as np
import pytest
import reference_meaning
from channels_kit import second
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hiveweek.facts.table import FactTable
from hiveweek.inference import channel, rete
from hiveweek.inference.columnar import infer
from hiveweek.inference.network import compile_network
from hiveweek.language.terms import All, Any, Compare, Flag, Known, Not, NotTrue, Ref
from hiveweek.language.truth import FALSE, TRUE, UNDECIDED
from hiveweek.rules.model import Rule, RuleSet
from hiveweek.vocabulary.model import Fact, Vocabulary
from upkeep import hunt
from upkeep.specimens import ROLES, Specimens, specimen, words


# --- columnar against the reference ---
def assert_like_the_reference(ruleset, table):
    said = infer(ruleset, table)
    reference = reference_meaning.Reference(ruleset, table)
    code = reference_meaning.CODE
    for hive in range(len(table)):
        for firm, key in ((False, "point"), (True, "firm")):
            for rule_id, outcome in said.rules.items():
                assert getattr(outcome, key)[hive] == code[reference.rules[(rule_id, hive, firm)]], (rule_id, hive, key)
            for name, outcome in said.findings.items():
                assert getattr(outcome, key)[hive] == code[reference.findings[("finding." + name, hive, firm)]], (
                    name,
                    hive,
                    key,
                )
            for prohibition in ruleset.prohibitions.values():
                if not prohibition.roles:
                    want = reference.truth(prohibition.when, {None: hive}, firm)
                    assert getattr(said.prohibitions[prohibition.id], key)[hive] == code[want]
            for option in ruleset.options.values():
                for bar, outcome in zip(option.bars, said.options[option.id], strict=True):
                    assert getattr(outcome, key)[hive] == code[reference.truth(bar[0], {None: hive}, firm)]
        for prohibition in ruleset.prohibitions.values():
            for partner in range(len(table)) if prohibition.roles else ():
                point, firm, _ = said.prohibits(prohibition.id, hive, partner)
                where = dict(zip(prohibition.roles, (hive, partner), strict=True))
                assert point == code[reference.truth(prohibition.when, where, False)]
                assert firm == code[reference.truth(prohibition.when, where, True)]
    assert said.partners == reference.partners
    for rule_id, pairs in said.pairs.items():
        assert pairs == {"point": reference.pairs[(rule_id, False)], "firm": reference.pairs[(rule_id, True)]}
    for outcome in said.rules.values():
        # A chance is 1 or 0 where the intervals leave nothing open, and strictly speaking between where they do.
        assert np.all((outcome.chance >= 0) & (outcome.chance <= 1))
        assert np.all(outcome.chance[outcome.firm == TRUE] == 1) and np.all(outcome.chance[outcome.firm == FALSE] == 0)
        assert np.all(outcome.chance[outcome.point == UNDECIDED] == 0)
        # Intervals never turn a decided answer round.
        assert np.all((outcome.firm == UNDECIDED) | (outcome.firm == outcome.point))


@settings(max_examples=120, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
@given(st.randoms(use_true_random=False))
def test_columnar_is_the_reference_on_small_rulesets(source):
    found = Specimens(source, hives=3, rules=4)
    assert_like_the_reference(found.ruleset(), found.table())


@pytest.mark.parametrize("block", range(6))
def test_columnar_is_the_reference_on_larger_rulesets(block):
    for seed in range(block * 40, block * 40 + 40):
        assert_like_the_reference(*specimen(seed))


def test_specimens_hold_everything_the_language_has():
    """Otherwise agreement would say little."""
    met = {
        "unless": 0,
        "not": 0,
        "any": 0,
        "reach": 0,
        "pair": 0,
        "pair in doubt": 0,
        "pair finding": 0,
        "layers": 0,
        "wide": 0,
        "facts": 0,
        "fires": 0,
        "does not": 0,
        "undecided": 0,
        "in doubt": 0,
        "prohibition": 0,
        "pair prohibition": 0,
        "bar": 0,
    }

    def walk(condition):
        met["unless"] += isinstance(condition, NotTrue)
        met["not"] += isinstance(condition, Not)
        met["any"] += isinstance(condition, Any)
        met["facts"] += isinstance(condition, Compare) and isinstance(condition.right, Ref)
        if isinstance(condition, (All, Any)):
            met["wide"] += len(condition.parts) > rete.MOST_TESTS
            for part in condition.parts:
                walk(part)
        elif isinstance(condition, (Not, NotTrue)):
            walk(condition.part)

    for seed in range(150):
        ruleset, table = specimen(seed)
        said = infer(ruleset, table)
        for rule in ruleset.rules.values():
            walk(rule.when)
            met["reach"] += rule.reach == "apiary"
            met["pair"] += bool(rule.roles)
            met["pair finding"] += bool(rule.roles and rule.finding)
            met["pair in doubt"] += bool(rule.roles) and any(said.rules[rule.id].doubtful(h) for h in range(len(table)))
        met["layers"] += len(ruleset.layers) > 2
        met["prohibition"] += len(said.prohibitions)
        met["pair prohibition"] += len(ruleset.prohibitions) - len(said.prohibitions)
        met["bar"] += len(ruleset.options)
        for outcome in said.rules.values():
            met["fires"] += int((outcome.point == TRUE).sum())
            met["does not"] += int((outcome.point == FALSE).sum())
            met["undecided"] += int((outcome.point == UNDECIDED).sum())
            met["in doubt"] += sum(outcome.doubtful(h) for h in range(len(table)))
    assert min(met.values()) >= 5, met


# --- the second channel against the columnar one ---
def _compare_apart(ruleset, table):
    inference = infer(ruleset, table)
    network = compile_network(ruleset)
    return [str(d) for d in channel.compare(inference, rete.run(network, table))], len(network.tops) + len(
        network.pairs
    )


@pytest.fixture(scope="module")
def apart():
    """Runs the second channel in a process that is replaced after some rulesets, because the library keeps their memory."""
    with multiprocessing.get_context("fork").Pool(1, maxtasksperchild=40) as pool:
        yield lambda ruleset, table: pool.apply_async(_compare_apart, (ruleset, table)).get(60)


@second
def test_the_second_channel_agrees_on_small_rulesets(apart):
    compared = 0

    @settings(max_examples=100, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
    @given(st.randoms(use_true_random=False))
    def agree(source):
        nonlocal compared
        found = Specimens(source, hives=3, rules=4)
        differences, tops = apart(found.ruleset(), found.table())
        compared += tops
        assert differences == []

    agree()
    assert compared > 200


@second
def test_the_second_channel_agrees_on_larger_rulesets():
    catch = hunt.hunt(150, seed=20_000)
    assert catch.findings == []
    assert catch.tried == 150 and catch.compared > 2_000
    assert catch.left_out < catch.compared / 10


@second
def test_the_hunt_is_a_command():
    done = subprocess.run(
        [sys.executable, "-m", "upkeep.hunt", "--rulesets", "8", "--seed", "77"],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("8 rulesets") and " 0 findings" in done.stdout


@second
def test_the_library_s_own_channel_is_not_loaded_here():
    """Its memory and its faults stay in the other process."""
    code = (
        "import sys; from hiveweek.inference import channel; from upkeep.specimens import specimen; "
        "from hiveweek.inference.columnar import infer; ruleset, table = specimen(3); started = channel.Started.on(ruleset, table); "
        "print(started.finish(infer(ruleset, table)).state, 'durable_rules_engine' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120, check=False)
    assert done.stdout.split() == ["agrees", "False"], done.stderr


# --- what the second channel does not carry ---
def _pair_rule(rule_id, *parts, **gives):
    return Rule(rule_id, "t", All(parts), roles=ROLES, at="weak", **(gives or {"advise": "feed"}))


def _ruleset(*rules, layers=()):
    return RuleSet({rule.id: rule for rule in rules}, layers=[list(layer) for layer in layers])


def test_what_reads_an_uncarried_finding_is_left_out_and_named():
    between = Compare(Ref("a.n0", "weak"), "<", Ref("a.n0", "strong"))
    ruleset = _ruleset(
        _pair_rule("t.pair", between, finding="f0"),
        Rule("t.next", "t", Not(Flag(Ref("finding.f0"))), finding="f1"),
        Rule("t.last", "t", Any((Flag(Ref("finding.f1")), Flag(Ref("b.y0")))), advise="look"),
        Rule("t.other", "t", Flag(Ref("b.y0")), advise="look"),
        layers=[["f0"], ["f1"]],
    )
    network = compile_network(ruleset)
    assert sorted(network.cannot) == ["finding:f0", "finding:f1", "rule:t.last", "rule:t.next"]
    assert "rule:t.other" in network.tops and [pair.id for pair in network.pairs] == ["t.pair"]
    table = FactTable(words(), ["A", "B"])
    answer = {"point": {}, "firm": {}, "pairs": {}, "cannot": network.cannot}
    started = channel.Started.__new__(channel.Started)
    started.process, started.too_many, started.raw = object(), False, lambda: answer
    result = started.finish(infer(ruleset, table))
    assert result.state == "agrees" and "t.next" in result.note and "f1" in result.note


def test_a_condition_over_both_hives_inside_any_is_left_out():
    both = Any((Flag(Ref("b.y0", "weak")), Flag(Ref("b.y0", "strong"))))
    network = compile_network(_ruleset(_pair_rule("t.pair", both)))
    assert network.pairs == [] and "any" in network.cannot["rule:t.pair"]


@second
def test_an_apiary_of_a_few_hundred_hives_is_carried():
    numbers = {name: Fact(name, "number", "observed", "kg") for name in ("a.n0", "a.n1")}
    table = FactTable(Vocabulary(facts=numbers), [f"H{k:03d}" for k in range(300)])
    numbers = np.random.default_rng(5).integers(0, 9, (2, 300)).astype(float)
    table.set("a.n0", numbers[0])
    table.set("a.n1", numbers[1], numbers[1] - 1, numbers[1] + 1)
    pair = _pair_rule(
        "t.pair",
        Compare(Ref("a.n0", "weak"), "==", 1.0),
        Compare(Ref("a.n0", "strong"), ">", 7.0),
        Compare(Ref("a.n1", "weak"), "<", Ref("a.n1", "strong")),
    )
    one = Rule("t.one", "t", All((Compare(Ref("a.n0"), "<", Ref("a.n1")), Known(Ref("a.n1")))), advise="look")
    ruleset = _ruleset(pair, one)
    result = channel.Started.on(ruleset, table).finish(infer(ruleset, table))
    assert (result.state, result.note, result.differences) == ("agrees", "", [])


def test_specimens_are_the_same_for_the_same_seed():
    first, second_ = specimen(42), specimen(42)
    assert first[0].rules == second_[0].rules and first[1].hives == second_[1].hives
    assert Specimens(random.Random(1)).ruleset().rules != Specimens(random.Random(2)).ruleset().rules

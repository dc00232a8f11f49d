"""The two inference channels: alike on any rules and any facts, and neither can take the answer down with it.

The columnar channel is held against ``reference_meaning`` (plain Python, one hive at a time, from Kleene's tables); the
second channel, which runs in processes that are thrown away, against the columnar one.
"""

from __future__ import annotations

import faulthandler
import json
import multiprocessing
import os
import random
import signal
import subprocess
import sys
import time

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import reference_meaning
from hiveweek import facts
from hiveweek.cli.main import main
from hiveweek.facts.table import FactTable
from hiveweek.inference import channel, hunt, library, rete, rete_joins
from hiveweek.inference.columnar import infer
from hiveweek.inference.network import compile_network
from hiveweek.inference.specimens import ROLES, Specimens, specimen, words
from hiveweek.plan.answer import answer, mark
from hiveweek.rules.model import All, Any, Compare, Flag, Known, Not, NotTrue, Ref, Rule, RuleSet, leaves
from hiveweek.vocabulary.model import Fact, Vocabulary
from plan_kit import Book, act

second = pytest.mark.skipif(not rete.available(), reason="the second channel's library does not load on Python 3.13 and later")
SCENARIO = """
scenario: light hive before the willows
climate: long_snow_cover
date: 2026-02-10
hives:
  - id: NO
    facts: {food.stores_kg: 2, colony.frames_of_bees: 5, hive.size: single, hive.frames: 10, hive.frame: deep, food.heft: light,
            weather.high_c: -4, weather.open_high_c: -4, weather.low_c: -20}
  - id: B
    facts: {colony.alive: false}
"""


@pytest.fixture
def scenario(tmp_path):
    path = tmp_path / "light.yaml"
    path.write_text(SCENARIO, encoding="utf-8")
    return str(path)


# --- columnar against the reference ---
def _against_the_reference(ruleset, table):
    said = infer(ruleset, table)
    reference = reference_meaning.Reference(ruleset, table)
    code = reference_meaning.CODE
    for hive in range(len(table)):
        for firm, key in ((False, "point"), (True, "firm")):
            for rule_id, outcome in said.rules.items():
                assert getattr(outcome, key)[hive] == code[reference.rules[(rule_id, hive, firm)]], (rule_id, hive, key)
            for name, outcome in said.findings.items():
                assert getattr(outcome, key)[hive] == code[reference.findings[("finding." + name, hive, firm)]], (name, hive, key)
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
        assert np.all(outcome.chance[outcome.firm == 1] == 1) and np.all(outcome.chance[outcome.firm == 0] == 0)
        assert np.all(outcome.chance[outcome.point == -1] == 0)
        # Intervals never turn a decided answer round.
        assert np.all((outcome.firm == -1) | (outcome.firm == outcome.point))


@settings(max_examples=120, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
@given(st.randoms(use_true_random=False))
def test_columnar_is_the_reference_on_small_rulesets(source):
    found = Specimens(source, hives=3, rules=4)
    _against_the_reference(found.ruleset(), found.table())


@pytest.mark.parametrize("block", range(6))
def test_columnar_is_the_reference_on_larger_rulesets(block):
    for seed in range(block * 40, block * 40 + 40):
        _against_the_reference(*specimen(seed))


def test_specimens_hold_everything_the_language_has():
    """Otherwise agreement would say little."""
    met = {"unless": 0, "not": 0, "any": 0, "reach": 0, "pair": 0, "pair in doubt": 0, "pair finding": 0, "layers": 0, "wide": 0,
           "facts": 0, "fires": 0, "does not": 0, "undecided": 0, "in doubt": 0, "prohibition": 0, "pair prohibition": 0, "bar": 0}

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
            met["fires"] += int((outcome.point == 1).sum())
            met["does not"] += int((outcome.point == 0).sum())
            met["undecided"] += int((outcome.point == -1).sum())
            met["in doubt"] += sum(outcome.doubtful(h) for h in range(len(table)))
    assert min(met.values()) >= 5, met


# --- the second channel against the columnar one ---
def _compare_apart(ruleset, table):
    inference = infer(ruleset, table)
    network = compile_network(ruleset)
    return [str(d) for d in channel.compare(inference, rete.run(network, table))], len(network.tops) + len(network.pairs)


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
    done = subprocess.run([sys.executable, "-m", "hiveweek.inference.hunt", "--rulesets", "8", "--seed", "77"],
                          capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("8 rulesets") and " 0 findings" in done.stdout


@second
def test_the_library_s_own_channel_is_not_loaded_here():
    """Its memory and its faults stay in the other process."""
    code = ("import sys; from hiveweek.inference import channel; from hiveweek.inference.specimens import specimen; "
            "from hiveweek.inference.columnar import infer; ruleset, table = specimen(3); started = channel.Started.on(ruleset, table); "
            "print(started.finish(infer(ruleset, table)).state, 'durable_rules_engine' in sys.modules)")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120)
    assert done.stdout.split() == ["agrees", "False"], done.stderr


# --- what the second channel does not carry ---
def _pair_rule(rule_id, *parts, **gives):
    return Rule(rule_id, "t", All(parts), roles=ROLES, at="weak", **(gives or {"advise": "feed"}))


def _ruleset(*rules, layers=()):
    return RuleSet({rule.id: rule for rule in rules}, layers=[list(layer) for layer in layers])


def test_what_reads_an_uncarried_finding_is_left_out_and_named():
    between = Compare(Ref("a.n0", "weak"), "<", Ref("a.n0", "strong"))
    ruleset = _ruleset(_pair_rule("t.pair", between, finding="f0"),
                       Rule("t.next", "t", Not(Flag(Ref("finding.f0"))), finding="f1"),
                       Rule("t.last", "t", Any((Flag(Ref("finding.f1")), Flag(Ref("b.y0")))), advise="look"),
                       Rule("t.other", "t", Flag(Ref("b.y0")), advise="look"), layers=[["f0"], ["f1"]])
    network = compile_network(ruleset)
    assert sorted(network.cannot) == ["finding:f0", "finding:f1", "rule:t.last", "rule:t.next"]
    assert "rule:t.other" in network.tops and [pair.id for pair in network.pairs] == ["t.pair"]
    table = FactTable(words(), ["A", "B"])
    answer = {"point": {}, "firm": {}, "pairs": {}, "cannot": network.cannot}
    started = channel.Started.__new__(channel.Started)
    started.process, started.raw = object(), lambda: answer
    result = started.finish(infer(ruleset, table))
    assert result.state == "agrees" and "t.next" in result.note and "f1" in result.note


def test_a_condition_over_both_hives_inside_any_is_left_out():
    both = Any((Flag(Ref("b.y0", "weak")), Flag(Ref("b.y0", "strong"))))
    network = compile_network(_ruleset(_pair_rule("t.pair", both)))
    assert network.pairs == [] and "any" in network.cannot["rule:t.pair"]


@second
def test_a_number_that_needs_an_exponent_is_an_error_that_is_told():
    ruleset = _ruleset(Rule("t.small", "t", Compare(Ref("a.n0"), "<", 1e-7), advise="look"))
    table = FactTable(words(), ["A"])
    table.set("a.n0", 1.0)
    result = channel.Started.on(ruleset, table).finish(infer(ruleset, table))
    assert result.state == "failed" and "204" in result.note


# --- a fault in one channel is seen ---
def _break_name(monkeypatch, op):
    names = dict(rete._NAMES)
    names[op] = {"<": "$lte", "<=": "$lt", ">": "$gte", ">=": "$gt", "==": "$neq", "!=": ""}[op]
    monkeypatch.setattr(rete, "_NAMES", names)


def _break_join(monkeypatch, op):
    tests = dict(rete_joins.TESTS)
    tests[op] = {"<": tests["<="], "<=": tests["<"], ">": tests[">="], ">=": tests[">"], "==": tests["<="], "!=": tests["<"]}[op]
    monkeypatch.setattr(rete_joins, "TESTS", tests)


def _forget_open(monkeypatch, _):
    monkeypatch.setattr(rete, "_code", lambda truths, child: int(truths.get(child[0], 0) == (1 if child[1] > 0 else 0)))


def _forget_intervals(monkeypatch, _):
    monkeypatch.setattr(rete, "settled_nodes", lambda network, table: frozenset(range(len(network.nodes))))


@second
@pytest.mark.parametrize("damage, op", [(_break_name, op) for op in rete._NAMES] + [(_break_join, op) for op in rete_joins.TESTS]
                         + [(_forget_open, None), (_forget_intervals, None)])
def test_any_broken_comparison_is_caught(monkeypatch, damage, op):
    """The channel is broken on purpose in the process that runs it; some of the random rulesets must show it."""
    damage(monkeypatch, op)
    found = hunt.hunt(60, seed=300).findings
    assert found and all("differ" in text or "both true and false" in text for _, text in found)


def _turn(monkeypatch, name):
    """Turn round what the second channel says of one rule or finding at the first hive."""
    true = rete.Prepared.run

    def run(self, table):
        answer = true(self, table)
        for kind in ("point", "firm"):
            answer[kind][name][0] = 0 if answer[kind][name][0] == 1 else 1
        return answer

    monkeypatch.setattr(rete.Prepared, "run", run)


@pytest.fixture
def sound(capsys, scenario):
    """The answer with both channels sound."""
    assert main(["week", scenario, "--offline", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["channels"] == {"columnar": "answered", "rete": "agrees"}
    assert not any(a["unverified"] for hive in answer["hives"] for a in hive["advice"])
    return answer


@second
def test_a_difference_is_told_and_marked_and_the_columnar_answer_stands(monkeypatch, capsys, scenario, sound):
    top = sound["hives"][0]["advice"][0]
    _turn(monkeypatch, "rule:" + top["rule"])
    assert main(["week", scenario, "--offline", "--json"]) == 3
    out, err = capsys.readouterr()
    assert err.splitlines() == [f"channels differ: rule {top['rule']} at hive NO"]
    answer = json.loads(out)
    assert answer["channels"] == {"columnar": "answered", "rete": "differs"}
    marked = [(hive["id"], a["action"]) for hive in answer["hives"] for a in hive["advice"] if a["unverified"]]
    assert marked == [("NO", top["action"])]
    answer["hives"][0]["advice"][0]["unverified"] = False
    assert answer["hives"] == sound["hives"]


@second
def test_a_difference_is_on_the_screen_and_page_too(monkeypatch, capsys, scenario, sound, tmp_path):
    words_ = "The two ways of working this out differ here"
    page = tmp_path / "week.html"
    assert main(["week", scenario, "--offline", "--page", str(page)]) == 0
    assert words_ not in page.read_text(encoding="utf-8")
    rule = sound["hives"][0]["advice"][0]["rule"]
    _turn(monkeypatch, "rule:" + rule)
    capsys.readouterr()
    assert main(["week", scenario, "--offline"]) == 3
    out, err = capsys.readouterr()
    assert rule in err and "NO" in err
    assert words_ in " ".join(out.split())
    assert main(["week", scenario, "--offline", "--page", str(page)]) == 3
    assert words_ in page.read_text(encoding="utf-8")


@second
def test_strict_gives_no_answer_where_they_differ(monkeypatch, capsys, scenario, sound, tmp_path):
    _turn(monkeypatch, "rule:" + sound["hives"][0]["advice"][0]["rule"])
    page = tmp_path / "week.html"
    for more in ([], ["--json"], ["--page", str(page)]):
        assert main(["week", scenario, "--offline", "--strict", *more]) == 3
        out, err = capsys.readouterr()
        assert out == "" and "no answer" in err
    assert not page.exists()


@second
def test_a_difference_in_a_finding_marks_what_rests_on_it(monkeypatch, scenario):
    read = facts.read_scenario(scenario)
    before = answer(read, offline=True)
    top = before.plan.hives[0].advice[0]
    name = next(leaf.left.name for leaf in leaves(before.inference.ruleset.rules[top.rule].when) if leaf.left.is_finding)
    _turn(monkeypatch, name.replace("finding.", "finding:"))
    found = answer(read, offline=True)
    assert [str(d) for d in found.differences] == [f"channels differ: finding {name[len('finding.'):]} at hive NO"]
    assert found.plan.hives[0].advice[0].unverified
    assert not any(advice.unverified for hive in found.plan.hives[1:] for advice in hive.advice)


@pytest.mark.parametrize("what, name, marked", [
    ("rule", "b.a", {"b.a"}), ("rule", "f.far", {"b.b", "b.c"}), ("finding", "far", {"b.b", "b.c"}), ("finding", "near", {"b.c"}),
    ("prohibition", "no-frames", {"b.c"}), ("option", "thymol", {"b.t"}),
])
def test_which_advice_rests_on_a_difference(what, name, marked):
    book = Book()
    book.rule("f.far", "colony.eggs", finding="far")
    book.rule("f.near", "finding.far", finding="near")
    book.rule("b.a", "colony.alive", "feed-candy")
    book.rule("b.b", "finding.far", "provide-water")
    book.rule("b.c", {"all": ["colony.alive", "finding.near"]}, "fit-mouse-guard")
    book.rule("b.t", "colony.alive", "treat-mites")
    book.never("no-frames", [act("fit-mouse-guard")], {"not": "colony.alive"})
    facts = {"colony.alive": True, "colony.eggs": True}
    plan = book.plan({"H": facts, "K": facts})
    inference = book.infer({"H": facts, "K": facts})
    given = {a.rule for a in plan.hives[0].advice}
    mark(plan, inference, [channel.Difference(what, name, "H")])
    assert {a.rule for a in plan.hives[0].advice if a.unverified} == marked & given and marked & given
    assert not any(a.unverified for a in plan.hives[1].advice)


# --- a fault in the library's process costs the comparison, never the answer ---
def _die(self, table):
    faulthandler.disable()  # its traceback would only fill the report
    os.kill(os.getpid(), signal.SIGSEGV)


def _leave(self, table):
    os._exit(7)


def _hang(self, table):
    time.sleep(120)


def _raise(self, table):
    raise library.ChannelError("pl0x0: Could not assert fact, error code: 311")


@second
@pytest.mark.parametrize("fault, said", [(_die, "ended without an answer"), (_leave, "ended without an answer"),
                                         (_hang, "no answer within 0.5 s"), (_raise, "error code: 311")])
def test_a_fault_of_the_second_channel_loses_nothing(monkeypatch, capsys, scenario, sound, fault, said):
    monkeypatch.setattr(rete.Prepared, "run", fault)
    # A child that ends by itself is waited for; only the one that hangs meets a short deadline.
    monkeypatch.setattr(channel, "DEADLINE_S", 0.5 if fault is _hang else 30.0)
    begun = time.monotonic()
    assert main(["week", scenario, "--offline", "--json"]) == 0
    assert time.monotonic() - begun < 60
    out, err = capsys.readouterr()
    assert err.startswith("note: ") and said in err and len(err.splitlines()) == 1
    answer = json.loads(out)
    assert answer["channels"] == {"columnar": "answered", "rete": "failed"}
    assert answer["hives"] == sound["hives"]
    # Nobody loses the answer with --strict either: there is no difference, only no comparison.
    assert main(["week", scenario, "--offline", "--strict"]) == 0
    assert "Hive NO" in capsys.readouterr().out
    assert not [child for child in multiprocessing.active_children() if "Pool" not in child.name]


@second
def test_a_process_that_cannot_start_loses_nothing(monkeypatch):
    def refuse(self):
        raise OSError(11, "Resource temporarily unavailable")

    monkeypatch.setattr(multiprocessing.get_context("fork").Process, "start", refuse)
    ruleset, table = specimen(3)
    result = channel.Started.on(ruleset, table).finish(infer(ruleset, table))
    assert result.state == "failed" and "Resource temporarily unavailable" in result.note


def test_without_the_library_the_columnar_channel_answers_alone(monkeypatch, capsys, scenario):
    monkeypatch.setattr(rete, "available", lambda: False)
    assert main(["week", scenario, "--offline", "--json"]) == 0
    out, err = capsys.readouterr()
    assert err == "" and json.loads(out)["channels"] == {"columnar": "answered", "rete": "absent"}
    assert hunt.main(["--rulesets", "1"]) == 2
    with pytest.raises(library.ChannelError):
        rete.run(compile_network(RuleSet()), FactTable(words(), ["A"]))


@pytest.mark.parametrize("version, there", [((3, 12, 9), True), ((3, 13, 0), False), ((3, 14, 1), False)])
def test_which_pythons_carry_the_library(monkeypatch, version, there):
    monkeypatch.setattr(sys, "version_info", version)
    monkeypatch.setattr("importlib.util.find_spec", lambda name: object())
    assert rete.available() is there


def test_more_hives_than_it_carries_are_said(monkeypatch):
    monkeypatch.setattr(rete, "available", lambda: True)
    table = FactTable(words(), [f"H{k}" for k in range(channel.MOST_HIVES + 1)])
    result = channel.Started.on(RuleSet(), table).finish(infer(RuleSet(), table))
    assert result.state == "not run" and str(channel.MOST_HIVES) in result.note


@second
def test_an_apiary_of_a_few_hundred_hives_is_carried():
    numbers = {name: Fact(name, "number", "observed", "kg") for name in ("a.n0", "a.n1")}
    table = FactTable(Vocabulary(facts=numbers), [f"H{k:03d}" for k in range(300)])
    numbers = np.random.default_rng(5).integers(0, 9, (2, 300)).astype(float)
    table.set("a.n0", numbers[0])
    table.set("a.n1", numbers[1], numbers[1] - 1, numbers[1] + 1)
    pair = _pair_rule("t.pair", Compare(Ref("a.n0", "weak"), "==", 1.0), Compare(Ref("a.n0", "strong"), ">", 7.0),
                      Compare(Ref("a.n1", "weak"), "<", Ref("a.n1", "strong")))
    one = Rule("t.one", "t", All((Compare(Ref("a.n0"), "<", Ref("a.n1")), Known(Ref("a.n1")))), advise="look")
    ruleset = _ruleset(pair, one)
    result = channel.Started.on(ruleset, table).finish(infer(ruleset, table))
    assert (result.state, result.note, result.differences) == ("agrees", "", [])


def test_the_hunt_names_the_seed_of_a_dead_or_hanging_process(monkeypatch):
    def one(seed):
        if seed == 5:
            os._exit(9)
        if seed == 6:
            time.sleep(60)
        return 10, 0, ["channels differ: rule t.r00 at hive A"] if seed == 7 else []

    monkeypatch.setattr(hunt, "compare_one", one)
    catch = hunt.hunt(8, seed=1, deadline=1.0)
    assert catch.tried == 8
    assert [(seed, text.split(" ")[0]) for seed, text in catch.findings] == [(5, "its"), (6, "no"), (7, "channels")]


def test_specimens_are_the_same_for_the_same_seed():
    first, second_ = specimen(42), specimen(42)
    assert first[0].rules == second_[0].rules and first[1].hives == second_[1].hives
    assert Specimens(random.Random(1)).ruleset().rules != Specimens(random.Random(2)).ruleset().rules

"""A fault in either inference channel is seen, told and marked, and none can take the answer down with it."""

from __future__ import annotations

import faulthandler
import json
import multiprocessing
import os
import signal
import sys
import time

import pytest
from channels_kit import second
from plan_kit import Book, act

from hiveweek import facts
from hiveweek.cli.main import main
from hiveweek.facts.table import FactTable
from hiveweek.inference import channel, library, rete, rete_joins
from hiveweek.inference.columnar import infer
from hiveweek.inference.network import compile_network
from hiveweek.language.terms import leaves
from hiveweek.language.truth import FALSE, TRUE
from hiveweek.plan.answer import answer, mark
from hiveweek.rules.model import RuleSet
from upkeep import hunt
from upkeep.specimens import specimen, words

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


# --- a fault in one channel is seen ---
def _break_name(monkeypatch, op):
    names = dict(rete._NAMES)
    names[op] = {"<": "$lte", "<=": "$lt", ">": "$gte", ">=": "$gt", "==": "$neq", "!=": ""}[op]
    monkeypatch.setattr(rete, "_NAMES", names)


def _break_join(monkeypatch, op):
    tests = dict(rete_joins.TESTS)
    tests[op] = {
        "<": tests["<="],
        "<=": tests["<"],
        ">": tests[">="],
        ">=": tests[">"],
        "==": tests["<="],
        "!=": tests["<"],
    }[op]
    monkeypatch.setattr(rete_joins, "TESTS", tests)


def _forget_open(monkeypatch, _):
    true = rete.Prepared.run

    def run(self, table):
        answer = true(self, table)
        for kind in ("point", "firm"):
            answer[kind] = {name: [truth or FALSE for truth in truths] for name, truths in answer[kind].items()}
        return answer

    monkeypatch.setattr(rete.Prepared, "run", run)


def _forget_intervals(monkeypatch, _):
    monkeypatch.setattr(rete, "settled_nodes", lambda network, table: frozenset(range(len(network.nodes))))


@second
@pytest.mark.parametrize(
    ("damage", "op"),
    [(_break_name, op) for op in rete._NAMES]
    + [(_break_join, op) for op in rete_joins.TESTS]
    + [(_forget_open, None), (_forget_intervals, None)],
)
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
            answer[kind][name][0] = FALSE if answer[kind][name][0] == TRUE else TRUE
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
    name = next(
        leaf.left.name for leaf in leaves(before.inference.ruleset.rules[top.rule].when) if leaf.left.is_finding
    )
    _turn(monkeypatch, name.replace("finding.", "finding:"))
    found = answer(read, offline=True)
    assert [str(d) for d in found.differences] == [f"channels differ: finding {name[len('finding.') :]} at hive NO"]
    assert found.plan.hives[0].advice[0].unverified
    assert not any(advice.unverified for hive in found.plan.hives[1:] for advice in hive.advice)


@pytest.mark.parametrize(
    ("what", "name", "marked"),
    [
        ("rule", "b.a", {"b.a"}),
        ("rule", "f.far", {"b.b", "b.c"}),
        ("finding", "far", {"b.b", "b.c"}),
        ("finding", "near", {"b.c"}),
        ("prohibition", "no-frames", {"b.c"}),
        ("option", "thymol", {"b.t"}),
    ],
)
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
@pytest.mark.parametrize(
    ("fault", "said"),
    [
        (_die, "ended without an answer"),
        (_leave, "ended without an answer"),
        (_hang, "no answer within 0.5 s"),
        (_raise, "error code: 311"),
    ],
)
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
    # Who asks for two channels that agree is told that one is missing, and gets nothing.
    assert main(["week", scenario, "--offline", "--strict"]) == 3
    out, err = capsys.readouterr()
    assert out == "" and said in err and len(err.splitlines()) == 1
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


@pytest.mark.parametrize(("version", "there"), [((3, 12, 9), True), ((3, 13, 0), False), ((3, 14, 1), False)])
def test_which_pythons_carry_the_library(monkeypatch, version, there):
    monkeypatch.setattr(sys, "version_info", version)
    monkeypatch.setattr("importlib.util.find_spec", lambda name: object())
    assert rete.available() is there


def test_more_hives_than_it_carries_are_said(monkeypatch):
    monkeypatch.setattr(rete, "available", lambda: True)
    table = FactTable(words(), [f"H{k}" for k in range(channel.MOST_HIVES + 1)])
    result = channel.Started.on(RuleSet(), table).finish(infer(RuleSet(), table))
    assert result.state == "not run" and str(channel.MOST_HIVES) in result.note


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

"""The rule language: grammar, order, layers, climates, and that no text whatever ends in a traceback."""

from __future__ import annotations

import datetime as dt
import random
import shutil
from pathlib import Path

import numpy as np
import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from hiveweek import content, marked_yaml, rules, vocabulary
from hiveweek.authoring.sample import random_table
from hiveweek.inference.columnar import infer
from hiveweek.problems import InputProblems, Problem
from hiveweek.rules.layering import effective
from hiveweek.rules.model import All, Any, Compare, Flag, Known, Limit, LimitRef, Member, Not, Ref
from hiveweek.rules.reader import read_library
from hiveweek.vocabulary.conditions import Mistake, Scope, parse_node, parse_text

WORDS = vocabulary.load()
FACTS = sorted(WORDS.facts)
SHIPPED = content.root() / "rulesets"
LIMITS = {f"limit.t.{unit or 'bare'}".replace(" ", "_").replace("/", "_"): unit for unit in sorted({f.unit or "" for f in WORDS.facts.values()})}
SCOPE = Scope(WORDS, {name: Limit(name, 1.0, unit or None) for name, unit in LIMITS.items()}, {"short-of-food", "dead"})


# --- grammar: what is printed is read back ---
def _literal(draw, fact):
    """A written value and its encoded number."""
    if fact.kind == "yes_no":
        value = draw(st.booleans())
        return str(value).lower(), float(value)
    if fact.kind == "one_of":
        word = draw(st.sampled_from(fact.values))
        return draw(st.sampled_from([word, f'"{word}"', f"'{word}'"])), float(fact.values.index(word))
    if fact.kind == "date":
        day = draw(st.dates(dt.date(2000, 1, 1), dt.date(2060, 1, 1)))
        return day.isoformat(), float(day.toordinal())
    if fact.kind == "text":
        word = draw(st.sampled_from(["Cfb", "cold_steppe"]))
        return f'"{word}"', fact.encode(word)
    low = fact.low if fact.low is not None else -1000
    high = fact.high if fact.high is not None else 1000
    if fact.kind == "integer":
        value = draw(st.integers(int(np.ceil(low)), int(high)))
        return str(value), float(value)
    value = round(draw(st.floats(low, high)), 3)
    value = min(max(value, low), high)
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return text, float(text)


@st.composite
def leaves_(draw):
    """(text, what it must be read as)."""
    if draw(st.integers(0, 9)) == 0:
        name = draw(st.sampled_from(sorted(SCOPE.findings)))
        return f"finding.{name}", Flag(Ref(f"finding.{name}"), f"finding.{name}")
    fact = WORDS.facts[draw(st.sampled_from(FACTS))]
    ref = Ref(fact.id)
    gap = draw(st.sampled_from([" ", "  "]))
    kind = draw(st.sampled_from(["is", "compare", "in", "limit", "fact", "flag"]))
    if kind == "is":
        known = draw(st.booleans())
        text = f"{fact.id}{gap}is {'known' if known else 'unknown'}"
        return text, Known(ref, known, text)
    if kind == "flag" and fact.kind == "yes_no":
        return fact.id, Flag(ref, fact.id)
    if kind == "in" and fact.kind in ("one_of", "integer", "text"):
        pairs = [_literal(draw, fact) for _ in range(draw(st.integers(1, 4)))]
        negated = draw(st.booleans())
        text = f"{fact.id} {'not in' if negated else 'in'}{gap}[{(',' + gap).join(p[0] for p in pairs)}]"
        return text, Member(ref, tuple(sorted({p[1] for p in pairs})), negated, text)
    op = draw(st.sampled_from(["<", "<=", ">", ">=", "==", "!="] if fact.ordered else ["==", "!="]))
    if kind == "limit" and fact.kind in ("number", "integer"):
        name = next(n for n, unit in LIMITS.items() if unit == (fact.unit or ""))
        text = f"{fact.id} {op} {name}"
        return text, Compare(ref, op, LimitRef(name), text)
    if kind == "fact" and fact.kind not in ("text", "one_of"):
        same = [f for f in FACTS if WORDS.facts[f].kind == fact.kind and WORDS.facts[f].unit == fact.unit]
        other = draw(st.sampled_from(same))
        if other == fact.id:
            return fact.id + " is known", Known(ref, True, fact.id + " is known")
        text = f"{fact.id} {op} {other}"
        return text, Compare(ref, op, Ref(other), text)
    written, value = _literal(draw, fact)
    text = f"{fact.id}{gap}{op}{gap}{written}"
    return text, Compare(ref, op, value, text)


@settings(max_examples=300, deadline=None)
@given(leaves_())
def test_a_printed_comparison_is_read_back(pair):
    text, want = pair
    assert parse_text(text, SCOPE) == want


nodes = st.recursive(leaves_(), lambda inner: st.one_of(
    st.lists(inner, min_size=1, max_size=3).map(lambda p: ({"all": [x[0] for x in p]}, All(tuple(x[1] for x in p)))),
    st.lists(inner, min_size=1, max_size=3).map(lambda p: ([x[0] for x in p], All(tuple(x[1] for x in p)))),
    st.lists(inner, min_size=1, max_size=3).map(lambda p: ({"any": [x[0] for x in p]}, Any(tuple(x[1] for x in p)))),
    inner.map(lambda x: ({"not": x[0]}, Not(x[1])))), max_leaves=8)


@settings(max_examples=150, deadline=None)
@given(nodes, st.sampled_from([False, True]))
def test_a_printed_condition_is_read_back_from_yaml(pair, flow):
    body, want = pair
    text = yaml.safe_dump({"when": body}, default_flow_style=flow, width=10_000)
    document = marked_yaml.parse(text)
    problems: list[Problem] = []
    assert parse_node(document, ("when",), SCOPE, problems) == want, text
    assert problems == document.problems == []


ROLES = Scope(WORDS, {}, {"dead"}, ("weak", "strong"))


def test_roles_stand_before_the_fact_and_shared_facts_need_none():
    assert parse_text("weak.food.stores_kg < strong.food.stores_kg", ROLES).right == Ref("food.stores_kg", "strong")
    assert parse_text("season.flow", ROLES).left == Ref("season.flow", "weak")
    assert parse_text("strong.finding.dead", ROLES).left == Ref("finding.dead", "strong")


@pytest.mark.parametrize("text, code, at, said", [
    ("", "empty-condition", 0, "empty"),
    ("food.stores_kgs < 3", "unknown-fact", 0, "nearest: food.stores_kg"),
    ("food.stores_kg <", "cannot-read", 15, "takes one value"),
    ("food.stores_kg < 3 4", "cannot-read", 19, "takes one value"),
    ("food.stores_kg < many", "wrong-type", 17, "is a number (kg)"),
    ("food.stores_kg < -3", "out-of-range", 17, "outside"),
    ("food.stores_kg", "not-a-yes-no", 0, "say what it must be"),
    ("food.stores_kg < weather.high_c", "wrong-unit", 17, "kg"),
    ("food.stores_kg < food.stores_kg", "wrong-type", 17, "with itself"),
    ("food.heft == lihgt", "unknown-value", 13, "nearest: light"),
    ("food.heft < light", "no-order", 10, "has no order"),
    ("food.heft in light", "cannot-read", 13, "needs a list"),
    ("food.heft in [light heavy]", "cannot-read", 20, "expected ','"),
    ("food.heft in [light, ]", "cannot-read", 21, "missing before ']'"),
    ("food.stores_kg in [3, 4]", "wrong-type", 18, "is a number"),
    ("colony.alive == maybe", "wrong-type", 16, "true or false"),
    ("finding.shortt", "unknown-finding", 0, "no rule gives"),
    ("finding.dead == true", "not-for-findings", 13, "nothing may follow"),
    ("finding.dead is known", "not-for-findings", 13, "for facts"),
    ("food.stores_kg < limit.t.nope", "unknown-limit", 17, "no limit"),
    ("food.heft == limit.t.kg", "wrong-type", 13, "a limit is a number"),
    ("food.stores_kg < limit.t.days", "wrong-unit", 17, "days"),
    ("3 < food.stores_kg", "cannot-read", 0, "starts with a fact"),
    ("food.stores_kg ~ 3", "cannot-read", 15, "cannot read"),
    ("food.stores_kg about 3", "cannot-read", 15, "expected one of"),
])
def test_a_mistake_is_placed_and_said(text, code, at, said):
    with pytest.raises(Mistake) as caught:
        parse_text(text, SCOPE)
    assert (caught.value.code, caught.value.at) == (code, at) and said in caught.value.message


def test_a_fact_without_a_role_is_asked_which_hive():
    with pytest.raises(Mistake) as caught:
        parse_text("food.stores_kg < 3", ROLES)
    assert caught.value.code == "no-role" and "weak or strong" in caught.value.message


def test_a_problem_carries_line_and_column_of_the_word():
    document = marked_yaml.parse("rules:\n  - when:\n      - colony.alive\n      - food.stores_kgs < 3\n", "a.yaml")
    problems: list[Problem] = []
    parse_node(document, ("rules", 0, "when"), SCOPE, problems)
    assert [(p.file, p.line, p.col, p.code) for p in problems] == [("a.yaml", 4, 9, "unknown-fact")]


@pytest.mark.parametrize("body, code", [
    ("when: {some: [colony.alive]}", "cannot-read"), ("when: {all: []}", "cannot-read"), ("when: []", "empty-condition"),
    ("when: {all: colony.alive}", "cannot-read"), ("when: {all: [colony.alive], any: [colony.alive]}", "cannot-read"),
    ("when: true", "cannot-read"), ("when: 3", "cannot-read"), ("when: {not: {}}", "cannot-read"),
])
def test_other_shapes_are_refused(body, code):
    document = marked_yaml.parse(body)
    problems: list[Problem] = []
    parse_node(document, ("when",), SCOPE, problems)
    assert [p.code for p in problems] == [code]


@settings(max_examples=400, deadline=None)
@given(st.one_of(st.text(max_size=60), st.lists(st.sampled_from(
    ["food.stores_kg", "food.heft", "finding.dead", "limit.t.kg", "<", "<=", "==", "in", "not", "is", "known", "[", "]", ",", "3", "-1.5",
     "2026-02-30", "2026-02-10", "'light'", '"', "weak.", ".", "%", "light", "true", "\n", "\t", "é"]), max_size=9).map(" ".join)))
def test_any_text_is_read_or_refused_with_a_place(text):
    for scope in (SCOPE, ROLES):
        try:
            parse_text(text, scope)
        except Mistake as mistake:
            assert mistake.code and mistake.message and 0 <= mistake.at <= max(len(text), 1)


# --- order does not matter ---
def _traits(**more):
    return {"climate.snow_weeks": 10.0, "climate.winter_weeks": 20.0, **more}


def _shuffled(data, source, depth=0):
    """The same content in another order: keys anywhere, and the items of the lists of rules, prohibitions and options."""
    if isinstance(data, dict):
        items = list(data.items())
        source.shuffle(items)
        return {k: _shuffled_list(v, source) if k in ("rules", "options", "prohibitions", "bars") and isinstance(v, list)
                else _shuffled(v, source, depth + 1) for k, v in items if k != "for" or not isinstance(v, dict)} | (
                    {"for": data["for"]} if isinstance(data.get("for"), dict) else {})
    if isinstance(data, list):
        return [_shuffled(item, source, depth + 1) for item in data]
    return data


def _shuffled_list(items, source):
    items = [_shuffled(item, source) for item in items]
    source.shuffle(items)
    return items


@pytest.fixture(scope="module")
def shipped():
    return rules.load("long_snow_cover", _traits(), vocabulary=WORDS)


@pytest.mark.parametrize("seed", [1, 2])
def test_the_order_of_rules_keys_and_files_changes_nothing(tmp_path, shipped, seed, monkeypatch):
    source = random.Random(seed)
    folder = tmp_path / "rulesets"
    shutil.copytree(SHIPPED, folder)
    for path in sorted(folder.rglob("*.yaml")):
        if path.name.endswith(".cases.yaml") or "vocabulary" in path.parts:
            continue
        data = marked_yaml.read(path).data
        path.write_text(yaml.safe_dump(_shuffled(data, source), sort_keys=False, allow_unicode=True, width=200), encoding="utf-8")
    names = Path.glob
    monkeypatch.setattr(Path, "glob", lambda self, pattern: reversed(list(names(self, pattern))))
    again = rules.load("long_snow_cover", _traits(), vocabulary=WORDS, folder=folder)
    assert again.rules == shipped.rules and list(again.rules) == list(shipped.rules)
    assert again.limits == shipped.limits and again.layers == shipped.layers
    assert again.prohibitions == shipped.prohibitions and list(again.prohibitions) == list(shipped.prohibitions)
    assert list(again.options) == list(shipped.options)
    for option_id, option in shipped.options.items():
        assert set(again.options[option_id].bars) == set(option.bars)
    table = random_table(WORDS, 40, np.random.default_rng(seed), one_yard=True)
    before, after = infer(shipped, table), infer(again, table)
    for rule_id, outcome in before.rules.items():
        same = after.rules[rule_id]
        assert np.array_equal(outcome.point, same.point) and np.array_equal(outcome.firm, same.firm)
        assert np.array_equal(outcome.chance, same.chance)
    assert before.partners == after.partners


def test_the_order_of_parts_changes_no_truth(shipped):
    """All and any take their parts in any order."""
    source = random.Random(3)

    def turned(condition):
        if isinstance(condition, (All, Any)):
            parts = [turned(part) for part in condition.parts]
            source.shuffle(parts)
            return type(condition)(tuple(parts))
        return condition

    import dataclasses

    other = dataclasses.replace(shipped, rules={k: dataclasses.replace(r, when=turned(r.when)) for k, r in shipped.rules.items()})
    table = random_table(WORDS, 60, np.random.default_rng(4), one_yard=True)
    before, after = infer(shipped, table), infer(other, table)
    for rule_id, outcome in before.rules.items():
        assert np.array_equal(outcome.point, after.rules[rule_id].point) and np.array_equal(outcome.firm, after.rules[rule_id].firm)
        assert np.allclose(outcome.chance, after.rules[rule_id].chance, atol=1e-12)


# --- layers ---
BASE = """
ruleset: food
version: 1
limits:
  low_kg: {value: 5, unit: kg, source: common-practice, status: practice}
rules:
  - id: food.short
    when: food.stores_kg < limit.food.low_kg
    finding: short-of-food
  - id: food.feed
    when: [finding.short-of-food]
    advise: feed-candy
    stakes: {loses: colony, gain_pts: 30, source: judgement}
    because: "Stores are {food.stores_kg}."
    safety: "Lay it on quickly."
    source: common-practice
    evidence: practice
"""
SAFETY = """
version: 1
limits:
  cold_c: {value: 10, unit: degC, source: common-practice, status: practice, tighter: up, band: [8, 12]}
prohibitions:
  - id: no-syrup-in-cold
    never: [feed-thin-syrup]
    when: weather.high_c < limit.safety.cold_c
    effect: stop
    if_unknown: ask
    because: "Syrup is not taken in the cold."
    source: common-practice
"""


@pytest.fixture
def small(tmp_path):
    """A small rulesets folder; ``write`` adds files to it and ``load`` reads it."""
    class Small:
        folder = tmp_path / "rulesets"

        def write(self, path, text):
            target = self.folder / path
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_text(text, encoding="utf-8")
            return target

        def load(self, profile="long_snow_cover", **more):
            return rules.load(profile, _traits(), vocabulary=WORDS, folder=self.folder, **more)

        def problems(self, profile="long_snow_cover", **more):
            with pytest.raises(InputProblems) as caught:
                self.load(profile, **more)
            return caught.value.problems

    made = Small()
    made.write("base/food.yaml", BASE)
    made.write("safety.yaml", SAFETY)
    return made


def _overlay(name, body, layer="profile", wanted="[long_snow_cover]"):
    return f"overlay: {name}\nlayer: {layer}\n" + (f"for: {wanted}\n" if wanted else "") + f"version: 1\n{body}\n"


LOWER = 'override:\n  - {limit: limit.food.low_kg, value: 8, was: 5, reason: "long winters here", source: common-practice}'


def test_an_overlay_moves_a_limit_where_it_holds_and_says_so(small):
    small.write("overlays/north.yaml", _overlay("north", LOWER))
    limit = small.load().limits["limit.food.low_kg"]
    assert (limit.value, limit.origin, limit.note) == (8.0, "profile overlay north", "long winters here")
    assert small.load("mild_maritime").limits["limit.food.low_kg"].value == 5.0
    assert [o["name"] for o in small.load().overlays] == ["north"] and small.load("mild_maritime").overlays == []


def test_an_overlay_changes_a_field_disables_and_adds(small):
    small.write("overlays/north.yaml", _overlay("north", """
override:
  - {rule: food.short, field: when, value: "food.stores_kg < 7", was: "food.stores_kg < limit.food.low_kg", reason: "as here"}
disable:
  - {rule: food.feed, reason: "another way here"}
add:
  reason: another way here
  limits:
    far: {value: 3, unit: kg, source: common-practice}
  rules:
    - id: north.feed
      when: food.stores_kg < limit.north.far
      advise: feed-candy
      stakes: {loses: colony, gain_pts: 10, source: judgement}
      because: "Stores are {food.stores_kg}."
      safety: "Lay it on quickly."
      source: common-practice
      evidence: practice"""))
    merged = small.load()
    assert sorted(merged.rules) == ["food.short", "north.feed"]
    assert merged.rules["food.short"].when.right == 7.0 and merged.rules["food.short"].layer == "profile overlay north"
    assert merged.disabled == [{"rule": "food.feed", "layer": "profile overlay north", "reason": "another way here"}]
    assert merged.limits["limit.north.far"].value == 3.0
    edit = dict(merged.rules["food.short"].edits[0])
    assert edit["field"] == "when" and edit["reason"] == "as here" and edit["place"].endswith("north.yaml:7:44")
    assert sorted(small.load("mild_maritime").rules) == ["food.feed", "food.short"]


def test_layers_come_in_their_order_and_each_names_the_value_before(small, tmp_path):
    small.write("overlays/north.yaml", _overlay("north", LOWER))
    mine = tmp_path / "mine.yaml"
    mine.write_text(_overlay("mine", LOWER.replace("value: 8, was: 5", "value: 9, was: 8"), "author", ""), encoding="utf-8")
    yard = tmp_path / "yard.yaml"
    yard.write_text(_overlay("yard", LOWER.replace("value: 8, was: 5", "value: 10, was: 9"), "apiary", ""), encoding="utf-8")
    for order in ([mine, yard], [yard, mine]):
        limit = small.load(extra=order).limits["limit.food.low_kg"]
        assert (limit.value, limit.origin) == (10.0, "apiary overlay yard")
    assert [o["name"] for o in small.load(extra=[yard, mine]).overlays] == ["north", "mine", "yard"]
    assert {p.code for p in small.problems(extra=[yard])} == {"stale-was"}


@pytest.mark.parametrize("body, code, said", [
    (LOWER.replace("was: 5", "was: 6"), "stale-was", "is now 5"),
    (LOWER.replace("low_kg", "low_kgs"), "unknown-target", "nearest: limit.food.low_kg"),
    (LOWER.replace("value: 8", "value: yes"), "wrong-type", "needs a number"),
    ('override:\n  - {rule: food.shrt, field: when, value: x, was: y, reason: "as here"}', "unknown-target", "nearest: food.short"),
    ('override:\n  - {rule: food.feed, field: because, value: "New.", was: "Other.", reason: "as here"}', "stale-was", "because"),
    ('override:\n  - {value: 3, was: 4, reason: "as here"}', "missing-key", "names a 'limit'"),
    ('disable:\n  - {rule: food.fed, reason: "as here"}', "unknown-target", "nearest: food.feed"),
    ('disable:\n  - {rule: no-syrup-in-cold, reason: "as here"}', "unknown-target", "is no rule"),
    ('override:\n  - {rule: food.short, field: when, value: "food.stors_kg < 3", was: "food.stores_kg < limit.food.low_kg", reason: "as here"}',
     "unknown-fact", "nearest: food.stores_kg"),
])
def test_a_wrong_overlay_is_an_error_with_its_place(small, body, code, said):
    small.write("overlays/north.yaml", _overlay("north", body))
    found = small.problems()
    assert code in {p.code for p in found}
    problem = next(p for p in found if p.code == code)
    assert said in problem.message and problem.file.endswith("north.yaml") and problem.line > 4


@pytest.mark.parametrize("body", [LOWER, 'disable:\n  - {rule: food.feed, reason: "not here"}',
                                  'override:\n  - {rule: food.feed, field: evidence, value: guide, was: practice, reason: "as here"}'])
def test_two_peers_on_one_thing_are_an_error_that_shows_both_places(small, body):
    small.write("overlays/north.yaml", _overlay("north", body))
    small.write("overlays/east.yaml", _overlay("east", body, wanted="[long_snow_cover, cold_steppe]"))
    found = [p for p in small.problems() if p.code == "two-peers"]
    assert len(found) == 1
    shown = str(found[0])
    assert "north.yaml" in shown and "east.yaml" in shown
    assert small.load("mild_maritime").rules and small.load("cold_steppe").rules


@pytest.mark.parametrize("value, allowed", [(11, True), (14, True), (9, True), (8, True), (7.5, False), (-5, False)])
def test_a_safety_limit_may_tighten_or_stay_in_its_published_band(small, value, allowed):
    small.write("overlays/north.yaml", _overlay(
        "north", f'override:\n  - {{limit: limit.safety.cold_c, value: {value}, was: 10, reason: "as here", source: common-practice}}'))
    if allowed:
        assert small.load().limits["limit.safety.cold_c"].value == value
    else:
        assert [p.code for p in small.problems()] == ["loosens-safety"]


def test_a_rule_is_not_changed_and_switched_off_in_one_layer(small, tmp_path):
    change = 'override:\n  - {rule: food.feed, field: evidence, value: guide, was: practice, reason: "as here"}'
    off = 'disable:\n  - {rule: food.feed, reason: "not here"}'
    for first, second in ((change, off), (off, change)):
        small.write("overlays/east.yaml", _overlay("east", first))
        small.write("overlays/north.yaml", _overlay("north", second))
        assert [p.code for p in small.problems()] == ["two-peers"]
    small.write("overlays/east.yaml", _overlay("east", off))
    small.write("overlays/north.yaml", _overlay("north", ""))
    mine = tmp_path / "mine.yaml"
    mine.write_text(_overlay("mine", change, "author", ""), encoding="utf-8")
    problem, = small.problems(extra=[mine])
    assert problem.code == "unknown-target" and "switched off by profile overlay east" in problem.message


def test_a_safety_limit_without_a_direction_does_not_move(small):
    small.write("safety.yaml", SAFETY.replace(", tighter: up, band: [8, 12]", ""))
    for value in (9, 11):
        small.write("overlays/north.yaml", _overlay(
            "north", f'override:\n  - {{limit: limit.safety.cold_c, value: {value}, was: 10, reason: "as here", source: common-practice}}'))
        assert [p.code for p in small.problems()] == ["loosens-safety"]


def test_tightening_twice_never_ends_looser_than_the_base(small, tmp_path):
    """Each layer is held against the value it replaces."""
    small.write("safety.yaml", SAFETY.replace(", band: [8, 12]", ""))
    small.write("overlays/north.yaml", _overlay(
        "north", 'override:\n  - {limit: limit.safety.cold_c, value: 14, was: 10, reason: "as here", source: common-practice}'))
    mine = tmp_path / "mine.yaml"
    mine.write_text(_overlay("mine", 'override:\n  - {limit: limit.safety.cold_c, value: 12, was: 14, reason: "as here"}', "author", ""),
                    encoding="utf-8")
    assert [p.code for p in small.problems(extra=[mine])] == ["loosens-safety"]


def test_an_overlay_named_by_a_user_is_theirs(small, tmp_path):
    mine = tmp_path / "mine.yaml"
    mine.write_text(_overlay("mine", LOWER), encoding="utf-8")
    assert "unknown-value" in {p.code for p in small.problems(extra=[mine])}
    assert {p.code for p in small.problems(extra=[tmp_path / "none.yaml"])} == {"no-file"}


def test_a_jurisdiction_holds_only_where_it_is_named(small):
    small.write("jurisdictions/erewhon.yaml", 'jurisdiction: erewhon\nname: Erewhon\nchecked: 2026-01-01\nnote: none\n'
                + LOWER.replace("value: 8", "value: 6"))
    assert small.load().limits["limit.food.low_kg"].value == 5.0
    here = small.load(jurisdiction="erewhon")
    assert here.limits["limit.food.low_kg"].value == 6.0 and here.limits["limit.food.low_kg"].origin == "jurisdiction erewhon"
    assert here.jurisdiction["name"] == "Erewhon"
    problem = small.problems(jurisdiction="erewhn")[0]
    assert problem.code == "unknown-jurisdiction" and "nearest: erewhon" in problem.message


@pytest.mark.parametrize("climates, holds", [
    ("all", True), ("[long_snow_cover, boreal]", True), ("[mild_maritime]", False),
    ('{where: ["climate.snow_weeks >= 8"]}', True), ('{where: ["climate.snow_weeks >= 12"]}', False),
    ('{where: ["climate.snow_weeks >= 8", "climate.winter_weeks < 10"]}', False),
    ('{where: ["climate.koppen is known"]}', False), ('{where: ["climate.koppen is unknown"]}', True),
])
def test_a_topic_stands_only_in_its_climates(small, climates, holds):
    small.write("base/food.yaml", BASE.replace("version: 1\n", f"version: 1\nclimates: {climates}\n"))
    merged = small.load()
    assert bool(merged.rules) is holds
    assert "limit.food.low_kg" in merged.limits  # other topics may name it wherever they stand


def test_a_climate_condition_may_name_climate_facts_only(small):
    small.write("base/food.yaml", BASE.replace("version: 1\n", 'version: 1\nclimates: {where: ["food.stores_kg < 3"]}\n'))
    assert any("only climate facts" in p.message for p in small.problems())


def test_a_cycle_of_findings_is_printed_whole(small):
    ring = "".join(f"  - id: food.r{k}\n    when: finding.f{(k + 1) % 3}\n    finding: f{k}\n" for k in range(3))
    small.write("base/food.yaml", f"ruleset: food\nversion: 1\nrules:\n{ring}")
    assert [p.message for p in small.problems() if p.code == "cycle"] == ["findings that wait for each other: f0 -> f1 -> f2 -> f0"]


def test_all_problems_of_all_files_come_in_one_run(small):
    small.write("base/food.yaml", BASE.replace("food.stores_kg < limit", "food.stores_kgs < limit").replace("advise: feed-candy", "advise: feed-candi"))
    small.write("safety.yaml", SAFETY.replace("weather.high_c", "weather.hi_c"))
    small.write("overlays/north.yaml", _overlay("north", LOWER.replace("was: 5", "was: 1")))
    found = small.problems()
    assert {"unknown-fact", "unknown-action", "stale-was"} <= {p.code for p in found}
    assert {Path(p.file).name for p in found} == {"food.yaml", "safety.yaml", "north.yaml"}
    assert found == sorted(found)


# --- nothing written ends in a traceback ---
ALPHABET = "{}[]:,#&*!|>'\"%@`-? \n\t" + "abwhenr.0_<=é\0\x85" + "🐝"


def _damaged(text: str, source: random.Random) -> str:
    """A file after a slip or two of the hand."""
    lines = text.split("\n")
    for _ in range(source.randrange(1, 4)):
        kind, at = source.randrange(8), source.randrange(len(lines))
        if kind == 0:
            del lines[at:at + source.randrange(1, 4)]
        elif kind == 1:
            lines[at] = " " * source.randrange(5) + lines[at]
        elif kind == 2:
            lines[at] = lines[at].lstrip()
        elif kind == 3:
            lines.insert(at, lines[source.randrange(len(lines))])
        elif kind == 4:
            lines[at] = lines[at].replace(":", source.choice(["", "::", ": [", ": {", ": &a ", ": *a", ": ~"]), 1)
        elif kind == 5:
            cut = source.randrange(len(lines[at]) + 1)
            lines[at] = lines[at][:cut] + source.choice(ALPHABET) + lines[at][cut:]
        elif kind == 6:
            lines[at] = lines[at][:source.randrange(len(lines[at]) + 1)]
        else:
            words = lines[at].split(" ")
            words[source.randrange(len(words))] = source.choice(["~", "3", "1e999", ".nan", "2026-02-30", "yes", "[]", "{}", "x" * 40, "'"])
            lines[at] = " ".join(words)
        lines = lines or [""]
    return "\n".join(lines)


def _only_problems(folder):
    library = read_library(WORDS, folder)
    problems = list(library.problems)
    effective(library, "long_snow_cover", _traits(), next(iter(library.jurisdictions), None), problems)
    for problem in problems:
        assert isinstance(problem, Problem) and problem.code and problem.message and "\n" not in str(problem)
        assert problem.line >= 1 and problem.col >= 1, problem
    return problems


FILES = sorted(p for p in SHIPPED.rglob("*.yaml") if not p.name.endswith(".cases.yaml") and "vocabulary" not in p.parts
               and p.name != "ranking.yaml")


def test_damaged_rule_files_give_problems_and_no_traceback(tmp_path):
    source = random.Random(11)
    found = 0
    for turn in range(160):
        path = FILES[turn % len(FILES)]
        folder = tmp_path / str(turn)
        target = folder / path.relative_to(SHIPPED)
        target.parent.mkdir(parents=True)
        target.write_text(_damaged(path.read_text(encoding="utf-8"), source), encoding="utf-8")
        found += bool(_only_problems(folder))
    assert found > 100


@settings(max_examples=80, deadline=None)
@given(st.one_of(st.text(max_size=200), st.text(st.sampled_from(ALPHABET), max_size=120), st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=8), st.dates()),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(st.sampled_from(
        ["ruleset", "version", "rules", "limits", "id", "when", "unless", "finding", "advise", "by", "stakes", "source", "climates", "where",
         "all", "any", "not", "for", "at", "overlay", "layer", "override", "limit", "value", "was", "prohibitions", "never", "options",
         "bars", "jurisdiction", "add", "disable", "rule", "field"]), inner, max_size=5)), max_leaves=20).map(
             lambda data: yaml.safe_dump(data, allow_unicode=True))))
def test_any_file_whatever_gives_problems_and_no_traceback(tmp_path_factory, text):
    folder = tmp_path_factory.mktemp("any")
    for place in ("base/food.yaml", "base/treatments.yaml", "safety.yaml", "overlays/north.yaml", "jurisdictions/erewhon.yaml",
                  "vocabulary/retired.yaml"):
        target = folder / place
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(text.encode("utf-8", "surrogatepass"))
    _only_problems(folder)
    assert marked_yaml.read(folder / "base/food.yaml").problems or marked_yaml.read(folder / "base/food.yaml").data is not None


@pytest.mark.parametrize("raw", [b"\xff\xfe\x00", b"\x00", b"a: \x80", "a: \ud800".encode("utf-8", "surrogatepass"), b"%YAML 9.9\n---\na",
                                 b"a: !!python/object:os.system x", b"? [1]\n: 2", b"a: 1\n---\nb: 2", b"&a [*a]", b"{a: 1, a: 2}",
                                 b"[" * 5000, b"- " * 3000 + b"a", b"a: 999999999999999999999999999999", b"a: 1e400", b"a: 0001-01-00"])
def test_odd_bytes_give_problems(tmp_path, raw):
    path = tmp_path / "odd.yaml"
    path.write_bytes(raw)
    document = marked_yaml.read(path)
    assert document.problems or document.data is not None
    for problem in document.problems:
        assert "\n" not in str(problem)

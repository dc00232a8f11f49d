"""The rule language: its grammar, and that the order of what is written does not matter."""

from __future__ import annotations

import dataclasses
import datetime as dt
import random
import shutil
from pathlib import Path

import numpy as np
import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from hiveweek import content, rules, vocabulary
from hiveweek.inference.columnar import infer
from hiveweek.language.conditions import Mistake, Scope, parse_node, parse_text
from hiveweek.language.terms import All, Any, Compare, Flag, Known, LimitRef, Member, Not, Ref
from hiveweek.numbers import Number
from hiveweek.problems import Problem
from hiveweek.shapes import marked_yaml
from upkeep.sample import random_table

WORDS = vocabulary.load()
FACTS = sorted(WORDS.facts)
SHIPPED = content.root() / "rulesets"
LIMITS = {
    f"limit.t.{unit or 'bare'}".replace(" ", "_").replace("/", "_"): unit
    for unit in sorted({f.unit or "" for f in WORDS.facts.values()})
}
SCOPE = Scope(
    WORDS, {name: Number(name, 1.0, unit or None) for name, unit in LIMITS.items()}, {"short-of-food", "dead"}
)


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


nodes = st.recursive(
    leaves_(),
    lambda inner: st.one_of(
        st.lists(inner, min_size=1, max_size=3).map(
            lambda p: ({"all": [x[0] for x in p]}, All(tuple(x[1] for x in p)))
        ),
        st.lists(inner, min_size=1, max_size=3).map(lambda p: ([x[0] for x in p], All(tuple(x[1] for x in p)))),
        st.lists(inner, min_size=1, max_size=3).map(
            lambda p: ({"any": [x[0] for x in p]}, Any(tuple(x[1] for x in p)))
        ),
        inner.map(lambda x: ({"not": x[0]}, Not(x[1]))),
    ),
    max_leaves=8,
)


@settings(max_examples=150, deadline=None)
@given(nodes, st.sampled_from([False, True]))
def test_a_printed_condition_is_read_back_from_yaml(pair, flow):
    body, want = pair
    text = yaml.safe_dump({"when": body}, default_flow_style=flow, width=10_000)
    document = marked_yaml.parse(text)
    problems: list[Problem] = []
    assert parse_node(document, ("when",), SCOPE, problems) == want, text
    assert problems == document.problems == []


def test_a_group_of_words_is_the_list_of_them():
    words = ", ".join(WORDS.facts["season.phase"].groups["year_begins"])
    for way in ("in", "not in"):
        group, listed = (parse_text(f"season.phase {way} {right}", SCOPE) for right in ("year_begins", f"[{words}]"))
        assert (group.values, group.negated) == (listed.values, listed.negated)


ROLES = Scope(WORDS, {}, {"dead"}, ("weak", "strong"))


def test_roles_stand_before_the_fact_and_shared_facts_need_none():
    assert parse_text("weak.food.stores_kg < strong.food.stores_kg", ROLES).right == Ref("food.stores_kg", "strong")
    assert parse_text("season.flow", ROLES).left == Ref("season.flow", "weak")
    assert parse_text("strong.finding.dead", ROLES).left == Ref("finding.dead", "strong")


@pytest.mark.parametrize(
    ("text", "code", "at", "said"),
    [
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
        ("season.phase in spring", "cannot-read", 16, "or one of its groups: after_winter_bees, year_begins"),
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
    ],
)
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


@pytest.mark.parametrize(
    ("body", "code"),
    [
        ("when: {some: [colony.alive]}", "cannot-read"),
        ("when: {all: []}", "cannot-read"),
        ("when: []", "empty-condition"),
        ("when: {all: colony.alive}", "cannot-read"),
        ("when: {all: [colony.alive], any: [colony.alive]}", "cannot-read"),
        ("when: true", "cannot-read"),
        ("when: 3", "cannot-read"),
        ("when: {not: {}}", "cannot-read"),
    ],
)
def test_other_shapes_are_refused(body, code):
    document = marked_yaml.parse(body)
    problems: list[Problem] = []
    parse_node(document, ("when",), SCOPE, problems)
    assert [p.code for p in problems] == [code]


@settings(max_examples=400, deadline=None)
@given(
    st.one_of(
        st.text(max_size=60),
        st.lists(
            st.sampled_from(
                [
                    "food.stores_kg",
                    "food.heft",
                    "finding.dead",
                    "limit.t.kg",
                    "<",
                    "<=",
                    "==",
                    "in",
                    "not",
                    "is",
                    "known",
                    "[",
                    "]",
                    ",",
                    "3",
                    "-1.5",
                    "2026-02-30",
                    "2026-02-10",
                    "'light'",
                    '"',
                    "weak.",
                    ".",
                    "%",
                    "light",
                    "true",
                    "\n",
                    "\t",
                    "é",
                ]
            ),
            max_size=9,
        ).map(" ".join),
    )
)
def test_any_text_is_read_or_refused_with_a_place(text):
    for scope in (SCOPE, ROLES):
        try:
            parse_text(text, scope)
        except Mistake as caught:
            mistake = caught
        else:
            continue
        assert mistake.code and mistake.message and 0 <= mistake.at <= max(len(text), 1)


# --- order does not matter ---
def _traits(**more):
    return {"climate.snow_weeks": 10.0, "climate.winter_weeks": 20.0, **more}


def _shuffled(data, source, depth=0):
    """The same content in another order: keys anywhere, and the items of the lists of rules, prohibitions and options."""
    if isinstance(data, dict):
        items = list(data.items())
        source.shuffle(items)
        return {
            k: _shuffled_list(v, source)
            if k in ("rules", "options", "prohibitions", "bars") and isinstance(v, list)
            else _shuffled(v, source, depth + 1)
            for k, v in items
            if k != "for" or not isinstance(v, dict)
        } | ({"for": data["for"]} if isinstance(data.get("for"), dict) else {})
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
        path.write_text(
            yaml.safe_dump(_shuffled(data, source), sort_keys=False, allow_unicode=True, width=200), encoding="utf-8"
        )
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

    other = dataclasses.replace(
        shipped, rules={k: dataclasses.replace(r, when=turned(r.when)) for k, r in shipped.rules.items()}
    )
    table = random_table(WORDS, 60, np.random.default_rng(4), one_yard=True)
    before, after = infer(shipped, table), infer(other, table)
    for rule_id, outcome in before.rules.items():
        assert np.array_equal(outcome.point, after.rules[rule_id].point) and np.array_equal(
            outcome.firm, after.rules[rule_id].firm
        )
        assert np.allclose(outcome.chance, after.rules[rule_id].chance, atol=1e-12)

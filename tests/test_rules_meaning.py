"""What a condition means: three-valued logic on values and on intervals, chances, findings and pairs."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from meaning_kit import F, T, U, table_of, truth_of
from plan_kit import Book
from scipy.stats import norm

from hiveweek.inference.columnar import infer
from hiveweek.language.bits import Told
from hiveweek.language.comparing import chance_of
from hiveweek.language.meaning import View, evaluate
from hiveweek.language.terms import All, Any, Compare, Flag, Known, Member, Not, NotTrue, Ref
from hiveweek.language.truth import Outcome
from hiveweek.rules.model import Rule, RuleSet

# --- strong Kleene ---
KLEENE_AND = {(T, T): T, (T, F): F, (T, U): U, (F, T): F, (F, F): F, (F, U): F, (U, T): U, (U, F): F, (U, U): U}
KLEENE_OR = {(T, T): T, (T, F): T, (T, U): T, (F, T): T, (F, F): F, (F, U): U, (U, T): T, (U, F): U, (U, U): U}
KLEENE_NOT = {T: F, F: T, U: U}
CELL = {T: 1.0, F: 0.0, U: None}


@pytest.mark.parametrize(("a", "b"), list(itertools.product((T, F, U), repeat=2)))
def test_all_any_and_not_are_the_strong_tables(a, b):
    """S. C. Kleene, Introduction to Metamathematics (1952), section 64: the strong connectives."""
    table = table_of(b_y0=CELL[a], b_y1=CELL[b])
    parts = (Flag(Ref("b.y0")), Flag(Ref("b.y1")))
    assert truth_of(All(parts), table)[:2] == (KLEENE_AND[(a, b)],) * 2
    assert truth_of(Any(parts), table)[:2] == (KLEENE_OR[(a, b)],) * 2
    assert truth_of(Not(parts[0]), table)[:2] == (KLEENE_NOT[a],) * 2


@pytest.mark.parametrize(("a", "blocks"), [(T, F), (F, T), (U, T)])
def test_unless_blocks_only_where_it_is_known_to_hold(a, blocks):
    assert truth_of(NotTrue(Flag(Ref("b.y0"))), table_of(b_y0=CELL[a]))[0] == blocks


def test_known_and_unknown_are_two_valued():
    for cell, known in ((3.0, True), (None, False)):
        table = table_of(a_n00=cell)
        assert truth_of(Known(Ref("a.n00"), True), table)[0] == (T if known else F)
        assert truth_of(Known(Ref("a.n00"), False), table)[0] == (F if known else T)


@pytest.mark.parametrize(
    "condition",
    [Compare(Ref("a.n00"), op, 3.0) for op in ("<", "<=", ">", ">=", "==", "!=")]
    + [
        Compare(Ref("a.n01"), "<", Ref("a.n00")),
        Member(Ref("c.w"), (0.0,)),
        Member(Ref("c.w"), (0.0,), True),
        Flag(Ref("b.y0")),
    ],
)
def test_what_is_missing_is_undecided_not_false(condition):
    assert truth_of(condition, table_of(a_n01=2.0))[:2] == (U, U)
    assert truth_of(Not(condition), table_of(a_n01=2.0))[:2] == (U, U)


# --- intervals ---
@pytest.mark.parametrize(
    ("op", "surely", "not_"),
    [
        ("<", (2, 1, 2.9), (3, 3, 4)),
        ("<=", (2, 1, 3), (4, 3.1, 5)),
        (">", (4, 3.1, 5), (3, 2, 3)),
        (">=", (4, 3, 5), (2, 1, 2.9)),
        ("==", (3, 3, 3), (4, 3.5, 5)),
        ("!=", (4, 3.5, 5), (3, 3, 3)),
    ],
)
def test_an_interval_decides_where_it_lies_on_one_side(op, surely, not_):
    condition = Compare(Ref("a.n00"), op, 3.0)
    assert truth_of(condition, table_of(a_n00=surely)) == (T, T, 1.0)
    assert truth_of(condition, table_of(a_n00=not_)) == (F, F, 0.0)
    straddling = truth_of(condition, table_of(a_n00=(3.5, 2, 5)))
    assert straddling[1] == U and straddling[0] in (T, F)


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(["<", "<=", ">", ">=", "==", "!="]), st.lists(st.integers(0, 6), min_size=6, max_size=6))
def test_two_intervals_decide_where_every_pair_of_values_does(op, numbers):
    """Brute force over all half steps inside the two intervals."""
    (a, va, b), (c, vc, d) = sorted(numbers[:3]), sorted(numbers[3:])
    condition = Compare(Ref("a.n00"), op, Ref("a.n01"))
    point, firm, chance = truth_of(condition, table_of(a_n00=(va, a, b), a_n01=(vc, c, d)))
    holds = {
        "<": float.__lt__,
        "<=": float.__le__,
        ">": float.__gt__,
        ">=": float.__ge__,
        "==": float.__eq__,
        "!=": float.__ne__,
    }[op]
    outcomes = {holds(x / 2, y / 2) for x in range(2 * a, 2 * b + 1) for y in range(2 * c, 2 * d + 1)}
    assert point == (T if holds(float(va), float(vc)) else F)
    assert firm == (U if len(outcomes) == 2 else T if outcomes == {True} else F)
    assert chance == {T: 1.0, F: 0.0}.get(firm, chance) and 0 <= chance <= 1


def test_an_interval_is_widened_to_hold_its_value():
    assert truth_of(Compare(Ref("a.n00"), "<", 3.0), table_of(a_n00=(2.0, 2.5, 4.0))) == pytest.approx(
        (T, U, norm.cdf(1.0 / (2.0 / norm.ppf(0.975))))
    )


# --- chances ---
@settings(max_examples=150, deadline=None)
@given(value=st.floats(-5, 5), down=st.floats(0.01, 6), up=st.floats(0.01, 6), limit=st.floats(-8, 8))
def test_a_chance_is_that_of_two_half_normal_curves(value, down, up, limit):
    """scipy.stats.norm: half the weight each side of the value, each side's 95 % bound at 1.96 of its own spread."""
    sides = norm.ppf(0.975)
    point, firm, chance = truth_of(Compare(Ref("a.n00"), "<", limit), table_of(a_n00=(value, value - down, value + up)))
    spread = (up if limit > value else down) / sides
    want = norm.cdf(limit, loc=value, scale=spread)
    if value - down >= limit:
        assert (point, firm, chance) == (F, F, 0.0)
    elif value + up < limit:
        assert (point, firm, chance) == (T, T, 1.0)
    else:
        assert firm == U and chance == pytest.approx(want, abs=1e-12)
        assert truth_of(Compare(Ref("a.n00"), ">=", limit), table_of(a_n00=(value, value - down, value + up)))[
            2
        ] == pytest.approx(1 - want)


@settings(max_examples=100, deadline=None)
@given(a=st.floats(-5, 5), b=st.floats(-5, 5), sa=st.floats(0.1, 4), sb=st.floats(0.1, 4))
def test_two_symmetric_intervals_are_two_normal_values(a, b, sa, sb):
    """The difference of two normal values is normal with the spreads added in quadrature."""
    table = table_of(a_n00=(a, a - sa, a + sa), a_n01=(b, b - sb, b + sb))
    _, firm, chance = truth_of(Compare(Ref("a.n00"), "<", Ref("a.n01")), table)
    if firm == U:
        assert chance == pytest.approx(norm.cdf((b - a) / (math.hypot(sa, sb) / norm.ppf(0.975))), abs=1e-12)


def test_chances_join_as_if_independent():
    low = Compare(Ref("a.n00"), "<", 3.0)
    high = Compare(Ref("a.n01"), "<", 4.0)
    table = table_of(a_n00=(2.0, 0.0, 5.0), a_n01=(5.0, 2.0, 6.0))
    p, q = truth_of(low, table)[2], truth_of(high, table)[2]
    assert 0.5 < p < 1 and 0 < q < 0.5
    assert truth_of(All((low, high)), table)[2] == pytest.approx(p * q)
    assert truth_of(Any((low, high)), table)[2] == pytest.approx(1 - (1 - p) * (1 - q))
    assert truth_of(Not(low), table)[2] == pytest.approx(1 - p)
    assert truth_of(NotTrue(low), table)[2] == pytest.approx(1 - p)
    sure = Compare(Ref("a.n00"), "<", 9.0)
    assert truth_of(All((sure, high)), table)[2] == pytest.approx(q)
    assert truth_of(Any((sure, high)), table)[2] == 1.0


def test_the_undecided_has_no_chance():
    table = table_of(a_n00=(2.0, 0.0, 5.0))
    for condition in (
        All((Compare(Ref("a.n00"), "<", 3.0), Flag(Ref("b.y0")))),
        Not(Flag(Ref("b.y0"))),
        Flag(Ref("b.y0")),
    ):
        assert truth_of(condition, table) == (U, U, 0.0)


# --- rules, findings, reach ---
def _fires(book, hives, rule):
    outcome = book.infer(hives).rules[rule]
    return outcome.point.tolist(), outcome.firm.tolist()


def test_unless_in_a_rule():
    book = Book()
    book.rule("t.feed", ["food.stores_kg < 5", {"unless": "colony.alive"}], "feed-candy")
    hives = {
        "yes": {"food.stores_kg": 3, "colony.alive": True},
        "no": {"food.stores_kg": 3, "colony.alive": False},
        "unknown": {"food.stores_kg": 3},
        "also unknown": {"colony.alive": False},
    }
    assert _fires(book, hives, "t.feed") == ([F, T, T, U],) * 2


def test_unless_in_doubt_blocks_in_doubt():
    book = Book()
    book.rule("t.lid", ["colony.alive", {"unless": "weather.high_c < 10"}], "lid-check")
    hives = {
        "cold": {"colony.alive": True, "weather.high_c": 5.0},
        "perhaps cold": {"colony.alive": True, "weather.high_c": (9.0, 7, 11)},
        "perhaps warm": {"colony.alive": True, "weather.high_c": (11.0, 9, 13)},
        "unknown": {"colony.alive": True},
    }
    assert _fires(book, hives, "t.lid") == ([F, F, T, T], [F, U, U, T])


def test_a_finding_fails_only_where_every_rule_is_decided_false():
    book = Book()
    book.rule("f.one", "food.stores_kg < 5", finding="short")
    book.rule("f.two", "food.heft == light", finding="short")
    book.rule("t.not", {"not": "finding.short"}, "lid-check")
    hives = {
        "one says yes": {"food.stores_kg": 3},
        "both say no": {"food.stores_kg": 9, "food.heft": "heavy"},
        "one is open": {"food.stores_kg": 9},
        "nothing": {},
    }
    inference = book.infer(hives)
    assert inference.findings["short"].point.tolist() == [T, F, U, U]
    assert inference.rules["t.not"].point.tolist() == [F, T, U, U]


def test_a_finding_that_no_rule_gives_here_is_false():
    ruleset = RuleSet({"t.a": Rule("t.a", "t", Not(Flag(Ref("finding.none"))), advise="look")}, layers=[["none"]])
    inference = infer(ruleset, table_of())
    assert inference.findings["none"].point.tolist() == [F] and inference.rules["t.a"].point.tolist() == [T]


def test_a_chance_of_a_finding_joins_its_rules():
    book = Book()
    book.rule("f.one", "food.stores_kg < 5", finding="short")
    book.rule("f.two", "weather.high_c < 3", finding="short")
    inference = book.infer({"H": {"food.stores_kg": (4.0, 2, 7), "weather.high_c": (4.0, 1, 6)}})
    one, two = (inference.rules[r].chance[0] for r in ("f.one", "f.two"))
    assert inference.findings["short"].chance[0] == pytest.approx(1 - (1 - one) * (1 - two))


def test_reach_spreads_what_is_true_and_leaves_the_rest():
    book = Book()
    book.rule("f.sick", "food.stores_kg < 5", finding="sick", reach="apiary")
    book.rule("f.own", "food.stores_kg < 5", finding="own")
    cells = {"true": 3.0, "false": 9.0, "open": None}

    def said(*hives):
        inference = book.infer(
            {f"{k}": {} if cells[h] is None else {"food.stores_kg": cells[h]} for k, h in enumerate(hives)}
        )
        assert inference.findings["own"].point.tolist() == [{"true": T, "false": F, "open": U}[h] for h in hives]
        return inference.findings["sick"].point.tolist()

    assert said("true", "false", "open") == [T, T, T]
    assert said("false", "open", "false") == [F, U, F]
    assert said("false", "false") == [F, F]


def test_reach_from_a_hive_in_doubt_is_doubt_at_the_others():
    book = Book()
    book.rule("f.sick", "food.stores_kg < 5", finding="sick", reach="apiary")
    inference = book.infer({"perhaps": {"food.stores_kg": (4.0, 3, 7)}, "no": {"food.stores_kg": 9.0}})
    sick = inference.findings["sick"]
    assert sick.point.tolist() == [T, T] and sick.firm.tolist() == [U, U]
    assert sick.chance[1] == pytest.approx(sick.chance[0]) and 0.5 < sick.chance[0] < 1
    inference = book.infer({"perhaps not": {"food.stores_kg": (6.0, 3, 7)}, "no": {"food.stores_kg": 9.0}})
    assert inference.findings["sick"].firm.tolist() == [U, F]


# --- two hives ---
def _pairs(weights, **more):
    """Weak below 4, strong above 8; the strongest goes first."""
    book = Book()
    roles = ("weak", "strong")
    book.rule(
        "t.unite",
        ["weak.colony.frames_of_bees < 4", "strong.colony.frames_of_bees > 8"],
        "unite-colonies",
        roles=roles,
        at="weak",
        prefer=(Ref("colony.frames_of_bees", "strong"), "desc"),
        **more,
    )
    inference = book.infer({name: {} if w is None else {"colony.frames_of_bees": w} for name, w in weights.items()})
    names = list(weights)
    return {
        names[k]: None if p is None else names[p] for k, p in enumerate(inference.partners["t.unite"])
    }, inference.rules["t.unite"]


def test_pairs_are_greedy_and_a_partner_is_used_once():
    partners, outcome = _pairs({"a": 2, "b": 3, "c": 9, "d": 12, "e": 6})
    assert partners == {"a": "d", "b": "c", "c": None, "d": None, "e": None}
    assert outcome.point.tolist() == [T, T, F, F, F]


def test_ties_go_by_hive_id_whatever_the_order_of_rows():
    for names in itertools.permutations(("a", "b", "m", "n")):
        weights = {name: 2 if name in "ab" else 10 for name in names}
        assert {k: v for k, v in _pairs(weights)[0].items() if v} == {"a": "m", "b": "n"}


def test_one_donor_for_two_serves_the_first_only():
    partners, outcome = _pairs({"b": 2, "a": 3, "z": 10})
    assert partners == {"b": None, "a": "z", "z": None} and outcome.point.tolist() == [F, T, F]


def test_a_hive_is_not_its_own_partner():
    book = Book()
    book.rule(
        "t.pair", ["weak.colony.alive", "strong.colony.alive"], "unite-colonies", roles=("weak", "strong"), at="weak"
    )
    alone = book.infer({"H": {"colony.alive": True}})
    assert alone.rules["t.pair"].point.tolist() == [F] and alone.partners["t.pair"] == [None]
    both = book.infer({"H": {"colony.alive": True}, "K": {"colony.alive": True}})
    assert both.partners["t.pair"] == [1, 0]


def test_an_undecided_pair_names_the_partner_that_could_decide():
    partners, outcome = _pairs({"a": 2, "b": None, "c": 5})
    assert outcome.point.tolist() == [U, F, F] and partners["a"] == "b"
    partners, outcome = _pairs({"a": 2, "b": 7, "c": 5})
    assert outcome.point.tolist() == [F, F, F] and partners["a"] is None


def test_a_comparison_between_the_two():
    book = Book()
    book.rule(
        "t.give",
        ["weak.food.stores_kg < strong.food.stores_kg", "weak.food.stores_kg < 5"],
        "give-honey-frames",
        roles=("weak", "strong"),
        at="weak",
        prefer=(Ref("food.stores_kg", "strong"), "asc"),
    )
    inference = book.infer({"a": {"food.stores_kg": 3.0}, "b": {"food.stores_kg": 4.0}, "c": {"food.stores_kg": 20.0}})
    # a-b goes first (least that is more); then b finds c.
    assert inference.partners["t.give"] == [1, 2, None]
    inference = book.infer({"a": {"food.stores_kg": (3.0, 2, 4.5)}, "b": {"food.stores_kg": (6.0, 4, 9)}})
    assert inference.rules["t.give"].firm.tolist() == [U, U]  # b may be under 4.5 and then the weaker of the two
    inference = book.infer({"a": {"food.stores_kg": (3.0, 2, 4.5)}, "b": {"food.stores_kg": (6.0, 5, 9)}})
    assert inference.rules["t.give"].point.tolist() == [T, F] and inference.rules["t.give"].firm.tolist() == [T, F]


def test_large_tables_take_the_same_truths_as_single_hives():
    """A hive's answer does not depend on how many others are asked at once."""
    book = Book()
    book.rule("f.short", "food.stores_kg < 5", finding="short")
    book.rule("t.feed", ["finding.short", {"unless": "weather.high_c < 3"}], "feed-candy")
    rng = np.random.default_rng(3)
    hives = {
        f"H{k}": {"food.stores_kg": (float(v), float(v) - 1, float(v) + 2), "weather.high_c": float(t)}
        for k, (v, t) in enumerate(zip(rng.uniform(2, 8, 40), rng.uniform(0, 6, 40), strict=True))
    }
    together = book.infer(hives).rules["t.feed"]
    for row, (name, facts) in enumerate(hives.items()):
        alone = book.infer({name: facts}).rules["t.feed"]
        assert (alone.point[0], alone.firm[0], alone.chance[0]) == (
            together.point[row],
            together.firm[row],
            together.chance[row],
        )


@pytest.mark.parametrize("hives", [0, 1, 3, 8, 16, 17, 40])
@pytest.mark.parametrize("spread", [0.0, 1.5])
def test_bits_say_of_any_number_of_hives_what_columns_say(hives, spread):
    rng = np.random.default_rng(hives)

    def cells(*values):
        found = [None if rng.random() < 0.3 else float(rng.choice(values)) for _ in range(hives)]
        return [None if v is None else (v, v - spread * rng.random(), v + spread * rng.random()) for v in found]

    table = table_of([f"H{k}" for k in range(hives)], a_n00=cells(2, 3, 4), a_n01=cells(1, 3, 5))
    for name, values in (("b.y0", (0, 1)), ("c.w", (0, 1, 2))):
        table.set(name, [np.nan if rng.random() < 0.3 else float(rng.choice(values)) for _ in range(hives)])
    asked = [Compare(Ref("a.n00"), op, 3.0) for op in ("<", "<=", ">", ">=", "==", "!=")]
    asked += [
        Compare(Ref("a.n01"), "<", Ref("a.n00")),
        Compare(Ref("a.n01"), ">=", 9.0),
        Compare(Ref("a.n01"), "<", 9.0),
    ]
    asked += [Member(Ref("c.w"), (0.0, 2.0)), Member(Ref("c.w"), (0.0,), True), Flag(Ref("b.y0")), Flag(Ref("b.y1"))]
    asked += [Known(Ref("a.n00")), Known(Ref("a.n00"), False)]
    asked += [join((one, other)) for join in (All, Any) for one, other in itertools.pairwise(asked)]
    asked += [turn(one) for turn in (Not, NotTrue) for one in asked]
    asked += [join((one, other, asked[0])) for join in (All, Any) for one, other in itertools.pairwise(asked)]
    told = Told(hives)
    columns, bits = View(table, {}, {}), View(table, {}, {}, told=told)
    for condition in asked:
        said, again = evaluate(condition, columns).over(hives), evaluate(condition, bits).over(hives)
        for name in ("point", "firm", "chance"):
            assert getattr(said, name).tolist() == getattr(again, name).tolist(), (condition, name)
        assert [said.at(hive) for hive in range(hives)] == [again.at(hive) for hive in range(hives)]
        assert [said.holds(hive) for hive in range(hives)] == [again.holds(hive) for hive in range(hives)]
    if not spread:
        assert all(found is not None for found, _ in told.known.values())


def test_a_chance_counts_the_spread_that_faces_the_other_side():
    # 5 sure against 7 within 4 to 8: what faces the 5 reaches down by 3; the gap of 2 stands against 3 / 1.96.
    sure = (np.float64(5.0),) * 3
    wide = tuple(np.float64(x) for x in (7.0, 4.0, 8.0))
    below = norm.cdf(2 * 1.959964 / 3)
    assert chance_of("<", sure, wide) == pytest.approx(below) and chance_of(">", sure, wide) == pytest.approx(1 - below)
    assert chance_of("<", wide, sure) == pytest.approx(1 - below)


def test_an_outcome_of_the_yard_is_that_of_every_hive():
    one = Outcome(np.array([T], dtype=np.int8), np.array([U], dtype=np.int8), np.array([0.7]))
    every = one.over(3)
    assert every.point.tolist() == [T] * 3 and every.firm.tolist() == [U] * 3 and every.chance.tolist() == [0.7] * 3
    sure = Outcome.exactly(np.array([F], dtype=np.int8)).over(2)
    assert sure.exact and sure.point.tolist() == [F] * 2

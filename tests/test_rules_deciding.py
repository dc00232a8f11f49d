"""What would decide a rule: the plan's sets of open facts against trying every way to settle them."""

from __future__ import annotations

import itertools
import random

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from meaning_kit import NAMES, U, table_of, truth_of
from plan_kit import Book

from hiveweek.inference.columnar import infer
from hiveweek.language.terms import All, Any, Compare, Flag, Not, NotTrue, Ref, refs
from hiveweek.plan.deciding import FAILS, HOLDS, KNOWN, MOST, Deciding
from hiveweek.rules.layering import finding_layers
from hiveweek.rules.model import Rule, RuleSet


@settings(max_examples=200, deadline=None)
@given(st.randoms(use_true_random=False))
def test_learning_more_never_turns_a_decided_answer(source):
    """Kleene's tables are regular: an unknown that becomes known can only decide what was open (without 'is known' and 'unless')."""
    condition = _condition(source, 4, NAMES[:5])
    cells = {name: source.choice([None, 3.0, 7.0]) for name in NAMES[:5]}
    before = truth_of(condition, table_of(**{n.replace(".", "_"): c for n, c in cells.items()}))[0]
    more = {n: source.choice([3.0, 7.0]) if c is None and source.random() < 0.5 else c for n, c in cells.items()}
    after = truth_of(condition, table_of(**{n.replace(".", "_"): c for n, c in more.items()}))[0]
    assert before == U or after == before


def _condition(source: random.Random, depth: int, names, flags=()):
    """A condition in which every fact of ``names`` stands at most once per leaf drawn (facts may repeat)."""
    kind = source.randrange(5) if depth else 0
    if kind <= 1:
        return (
            Compare(Ref(source.choice(names)), "<", 5.0)
            if not flags or source.random() < 0.7
            else Flag(Ref(source.choice(flags)))
        )
    if kind == 2:
        return Not(_condition(source, depth - 1, names, flags))
    parts = tuple(_condition(source, depth - 1, names, flags) for _ in range(source.randrange(1, 4)))
    return All(parts) if kind == 3 else Any(parts)


def _distinct(condition, names, taken=None):
    """The same shape with each comparison on a fact of its own (None when there are too few facts)."""
    taken = iter(names) if taken is None else taken
    if isinstance(condition, (All, Any)):
        return type(condition)(tuple(_distinct(part, names, taken) for part in condition.parts))
    if isinstance(condition, (Not, NotTrue)):
        return type(condition)(_distinct(condition.part, names, taken))
    return Compare(Ref(next(taken)), condition.op, condition.right) if isinstance(condition, Compare) else condition


KINDS = {
    "true": 3.0,
    "false": 7.0,
    "unknown": None,
    "true in doubt": (4.0, 3.0, 6.0),
    "false in doubt": (6.0, 4.0, 7.0),
}


def _reading(kind, wanted, reading):
    """How a comparison counts: True, False or None (open), as the three readings are defined."""
    if kind == "unknown":
        return None
    true = kind.startswith("true")
    if kind in ("true", "false") or reading == KNOWN:
        return true
    if reading == FAILS and true == wanted:
        return true
    return None


def _kleene(condition, truths, findings):
    if isinstance(condition, All):
        values = [_kleene(p, truths, findings) for p in condition.parts]
        return False if False in values else None if None in values else True
    if isinstance(condition, Any):
        values = [_kleene(p, truths, findings) for p in condition.parts]
        return True if True in values else None if None in values else False
    if isinstance(condition, Not):
        value = _kleene(condition.part, truths, findings)
        return None if value is None else not value
    if isinstance(condition, NotTrue):
        return _kleene(condition.part, truths, findings) is not True
    if isinstance(condition, Flag):
        return _kleene(findings[condition.left.name], truths, findings)
    return truths[condition.left.name]


def _polarity(condition, wanted, findings, found):
    """Which way each fact must come out for the condition to come out as wanted."""
    if isinstance(condition, (All, Any)):
        for part in condition.parts:
            _polarity(part, wanted, findings, found)
    elif isinstance(condition, (Not, NotTrue)):
        _polarity(condition.part, not wanted, findings, found)
    elif isinstance(condition, Flag):
        _polarity(findings[condition.left.name], wanted, findings, found)
    else:
        found.setdefault(condition.left.name, set()).add(wanted)


def _brute(condition, truths, wanted, findings):
    """All smallest ways to settle open facts after which the condition is as wanted, whatever the other open ones are."""
    open_ = sorted(name for name, truth in truths.items() if truth is None)
    good = []
    for size in range(len(open_) + 1):
        for names in itertools.combinations(open_, size):
            for values in itertools.product((True, False), repeat=size):
                chosen = frozenset(zip(names, values, strict=True))
                if any(other <= chosen for other in good):
                    continue
                if _kleene(condition, truths | dict(chosen), findings) is wanted:
                    good.append(chosen)
    return set(good)


@pytest.mark.parametrize("reading", [KNOWN, HOLDS, FAILS])
@settings(max_examples=120, deadline=None, suppress_health_check=list(HealthCheck))
@given(source=st.randoms(use_true_random=False))
def test_deciding_sets_are_sufficient_minimal_and_all_there(reading, source):
    """Against trying every way to settle the open facts. Each fact stands in one comparison, so none can contradict another."""
    taken = iter(NAMES)
    try:
        condition = _distinct(_condition(source, 3, NAMES, ("finding.f",)), NAMES, taken)
        giving = _distinct(_condition(source, 2, NAMES), NAMES, taken)
    except (StopIteration, RuntimeError):  # a generator turns the one into the other
        assume(False)
    kinds = {name: source.choice(sorted(KINDS)) for name in NAMES}
    # Brute force tries every way to settle the open facts, and a finding read twice would tie two places together.
    assume(
        sum(1 for _ in _flags(condition)) <= 1
        and sum(kinds[n] not in ("true", "false") for n in _facts(condition, giving)) <= 6
    )
    ruleset = RuleSet({"f.f": Rule("f.f", "f", giving, finding="f"), "t.t": Rule("t.t", "t", condition, advise="look")})
    ruleset.layers = finding_layers(ruleset.rules.values(), [])
    inference = infer(ruleset, table_of(**{n.replace(".", "_"): KINDS[k] for n, k in kinds.items()}))
    findings = {"finding.f": giving}
    ways: dict = {}
    _polarity(condition, True, findings, ways)
    assert all(len(way) == 1 for way in ways.values())
    truths = {name: _reading(kinds[name], next(iter(way)), reading) for name, way in ways.items()}
    sets = Deciding(inference).rule(ruleset.rules["t.t"], 0, reading)
    got = {frozenset((o.facts[0][1], o.wanted) for o in openings) for openings in sets}
    want = _brute(condition, truths, True, findings)
    assert len(got) == len(sets)
    if len(want) < MOST:
        assert got == want
    else:
        assert all(_kleene(condition, truths | dict(s), findings) is True for s in got)


def _facts(*conditions):
    return {ref.name for condition in conditions for ref in refs(condition) if not ref.is_finding}


def _flags(condition):
    if isinstance(condition, (All, Any)):
        for part in condition.parts:
            yield from _flags(part)
    elif isinstance(condition, (Not, NotTrue)):
        yield from _flags(condition.part)
    elif isinstance(condition, Flag):
        yield condition


def _sets(book, hives, rule, hive=0, reading=KNOWN):
    inference = book.infer(hives)
    return [
        sorted(fact for opening in openings for _, fact in opening.facts)
        for openings in Deciding(inference).rule(inference.ruleset.rules[rule], hive, reading)
    ]


def test_a_guard_that_is_unknown_needs_no_look_and_one_that_holds_cannot_be_helped():
    book = Book()
    book.rule("t.feed", ["food.stores_kg < 5", {"unless": "colony.eggs"}], "feed-candy")
    assert _sets(book, {"H": {}}, "t.feed") == [["food.stores_kg"]]
    assert _sets(book, {"H": {"colony.eggs": True}}, "t.feed") == []
    assert _sets(book, {"H": {"food.stores_kg": 3.0}}, "t.feed") == [[]]
    assert _sets(book, {"H": {"food.stores_kg": 9.0}}, "t.feed") == []


def test_a_pair_asks_of_both_hives():
    book = Book()
    book.rule(
        "t.unite",
        ["weak.colony.frames_of_bees < 4", "strong.colony.frames_of_bees > 8", "strong.colony.eggs"],
        "unite-colonies",
        roles=("weak", "strong"),
        at="weak",
    )
    inference = book.infer({"a": {"colony.frames_of_bees": 2.0}, "b": {}})
    sets = Deciding(inference).rule(inference.ruleset.rules["t.unite"], 0, KNOWN)
    assert [sorted(f for o in s for f in o.facts) for s in sets] == [[(1, "colony.eggs"), (1, "colony.frames_of_bees")]]
    assert Deciding(inference).rule(inference.ruleset.rules["t.unite"], 1, KNOWN) == []  # a is too weak to receive b
    alone = book.infer({"a": {"colony.frames_of_bees": 2.0}})
    assert Deciding(alone).rule(alone.ruleset.rules["t.unite"], 0, KNOWN) == []


# --- guards that hold in doubt ------------------------------------------------------------------------------------------
def _flips(condition, truths, doubtful):
    """All smallest sets of comparisons in doubt that, coming out the other way, leave a condition without its truth."""
    good = []
    for size in range(len(doubtful) + 1):
        for names in itertools.combinations(doubtful, size):
            chosen = frozenset(names)
            if any(other <= chosen for other in good):
                continue
            flipped = truths | {name: not truths[name] for name in names}
            if _kleene(condition, flipped, {}) is not True:
                good.append(chosen)
    return set(good)


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(source=st.randoms(use_true_random=False), nested=st.booleans())
def test_a_guard_that_holds_in_doubt_is_lifted_by_what_would_untell_it(source, nested):
    try:
        guard = _distinct(_condition(source, 3, NAMES), NAMES, iter(NAMES))
    except (StopIteration, RuntimeError):
        assume(False)
    kinds = {name: source.choice(sorted(KINDS)) for name in NAMES}
    truths = {n: None if k == "unknown" else k.startswith("true") for n, k in kinds.items()}
    doubtful = sorted(n for n in _facts(guard) if kinds[n].endswith("in doubt"))
    assume(_kleene(guard, truths, {}) is True and len(doubtful) <= 6)
    giving = {"f.f": Rule("f.f", "f", guard, finding="f")} if nested else {}
    when = All((NotTrue(Flag(Ref("finding.f")) if nested else guard),))
    ruleset = RuleSet({**giving, "t.t": Rule("t.t", "t", when, advise="look")})
    ruleset.layers = finding_layers(ruleset.rules.values(), [])
    inference = infer(ruleset, table_of(**{n.replace(".", "_"): KINDS[k] for n, k in kinds.items()}))
    sets = Deciding(inference).rule(ruleset.rules["t.t"], 0, FAILS)
    got = {frozenset((o.facts[0][1], o.wanted) for o in s) for s in sets}
    want = {frozenset((name, not truths[name]) for name in s) for s in _flips(guard, truths, doubtful)}
    if len(want) < MOST:
        assert got == want

"""The shipped rules on random hives: both channels alike, order and thresholds as they should be, safe by themselves."""

from __future__ import annotations

import copy
import dataclasses
import datetime as dt
import functools
import json
import random

import numpy as np
import pytest
import yaml
from aimed_hives import aimed_table, days_for
from channels_kit import second

from hiveweek import climate, content, facts, vocabulary
from hiveweek.authoring.logic import days_of
from hiveweek.facts.table import FactTable
from hiveweek.inference import channel
from hiveweek.inference.columnar import infer
from hiveweek.language.meaning import View, evaluate
from hiveweek.language.terms import All, Any, Compare, Flag, LimitRef, Member, Not, NotTrue, Ref, leaves, refs
from hiveweek.language.truth import TRUE, Truth
from hiveweek.plan import Setting, make
from hiveweek.plan import ranking as ranking_file
from hiveweek.plan.answer import answer
from hiveweek.rules import traits_of
from hiveweek.rules.forbidden import aims_at
from hiveweek.rules.store import effective_rules
from hiveweek.show import json as as_json
from upkeep.sample import random_table

WORDS = vocabulary.load()
DEMO = content.root() / "scenarios" / "demo.yaml"
PROFILES = ("long_snow_cover", "mild_maritime", "southern_subtropical", "hot_desert")


@functools.cache
def ruleset_of(profile):
    place = climate.load_profile(profile)
    return effective_rules(profile, traits_of(place), vocabulary=WORDS)


@functools.cache
def days_in(profile):
    return days_of(WORDS, [climate.load_profile(profile)])


# --- both channels ---
@second
@pytest.mark.parametrize(
    ("profile", "known"), [("long_snow_cover", 0.6), ("mild_maritime", 0.9), ("southern_subtropical", 0.3)]
)
def test_both_channels_say_the_same(profile, known):
    ruleset = ruleset_of(profile)
    table = random_table(
        WORDS, 60, np.random.default_rng(7), known=known, doubtful=0.4, days=days_in(profile), one_yard=True
    )
    inference = infer(ruleset, table)
    result = channel.Started.on(ruleset, table).finish(inference)
    assert (result.state, [str(d) for d in result.differences], result.note) == ("agrees", [], "")
    # The comparison covers every rule and says something: all three answers occur, and doubt.
    said = np.concatenate([outcome.point for outcome in inference.rules.values()])
    assert set(Truth) <= set(said.tolist())
    assert any(outcome.doubtful(hive) for outcome in inference.rules.values() for hive in range(len(table)))


@second
def test_both_channels_say_the_same_where_nothing_or_everything_is_known():
    ruleset = ruleset_of("long_snow_cover")
    for known in (0.0, 1.0):
        table = random_table(WORDS, 12, np.random.default_rng(8), known=known, doubtful=0.0, one_yard=True)
        result = channel.Started.on(ruleset, table).finish(infer(ruleset, table))
        assert (result.state, result.differences) == ("agrees", [])


# --- order ---
def test_the_order_of_the_rules_never_matters():
    ruleset = ruleset_of("long_snow_cover")
    table = random_table(WORDS, 60, np.random.default_rng(9), days=days_in("long_snow_cover"), one_yard=True)
    before = infer(ruleset, table)
    for seed in range(3):
        source = random.Random(seed)
        names = list(ruleset.rules)
        source.shuffle(names)
        layers = [source.sample(layer, len(layer)) for layer in ruleset.layers]
        after = infer(dataclasses.replace(ruleset, rules={n: ruleset.rules[n] for n in names}, layers=layers), table)
        for name, outcome in before.rules.items():
            same = after.rules[name]
            assert np.array_equal(outcome.point, same.point) and np.array_equal(outcome.firm, same.firm), name
            assert np.allclose(outcome.chance, same.chance, atol=1e-12), name
        assert before.partners == after.partners


# --- thresholds ---
def _directions(ruleset, condition, sign, found):
    """For each number a condition rests on: whether less of it (-1), more of it (+1) or neither helps it hold."""
    if isinstance(condition, (All, Any)):
        for part in condition.parts:
            _directions(ruleset, part, sign, found)
    elif isinstance(condition, (Not, NotTrue)):
        _directions(ruleset, condition.part, -sign, found)
    elif isinstance(condition, Flag) and condition.left.is_finding:
        for rule in ruleset.giving(condition.left.name[len("finding.") :]):
            if rule.roles:
                _spoil(rule.when, found)
            else:
                _directions(ruleset, rule.when, sign, found)
    elif isinstance(condition, Compare) and condition.op not in ("==", "!="):
        way = sign * (-1 if condition.op in ("<", "<=") else 1)
        found.setdefault(condition.left.name, set()).add(way)
        if isinstance(condition.right, Ref):
            found.setdefault(condition.right.name, set()).add(-way)
    elif isinstance(condition, (Compare, Member)):
        found.setdefault(condition.left.name, set()).add(0)
        if isinstance(getattr(condition, "right", None), Ref):
            found.setdefault(condition.right.name, set()).add(0)


def _spoil(condition, found):
    for ref in refs(condition):
        found.setdefault(ref.name, set()).add(0)


def test_more_of_the_same_never_turns_a_rule_off():
    """Where a rule (with the findings under it) compares a number one way only, moving it further that way keeps it firing."""
    ruleset = ruleset_of("long_snow_cover")
    table = random_table(WORDS, 50, np.random.default_rng(10), known=0.8, days=days_in("long_snow_cover"))
    table = aimed_table(ruleset, table, [r for r in ruleset.rules.values() if not r.roles], np.random.default_rng(11))
    before = infer(ruleset, table)
    by_fact: dict[tuple, list] = {}
    for rule in ruleset.rules.values():
        if not rule.roles:
            found: dict = {}
            _directions(ruleset, rule.when, 1, found)
            for name, ways in found.items():
                if len(ways) == 1 and 0 not in ways and WORDS.facts[name].kind in ("number", "integer"):
                    by_fact.setdefault((name, next(iter(ways))), []).append(rule.id)
    assert len(by_fact) > 40
    kept = moved = 0
    for (name, way), ids in sorted(by_fact.items()):
        column = table.column(name)
        spread = float(np.nanmax(column.high) - np.nanmin(column.low)) if column.known.any() else 0.0
        other = FactTable(WORDS, table.hives)
        other.columns = dict(table.columns)
        shift = way * (0.2 + 0.3 * np.random.default_rng(len(name)).random(len(table))) * spread
        other.set(name, column.value + shift, column.low + shift, column.high + shift)
        after = infer(ruleset, other)
        for rule_id in ids:
            old, new = before.rules[rule_id], after.rules[rule_id]
            assert not np.any((old.point == TRUE) & (new.point != TRUE)), (rule_id, name)
            assert not np.any((old.firm == TRUE) & (new.firm != TRUE)), (rule_id, name)
            kept += int((old.point == TRUE).sum())
            moved += int(((old.point != TRUE) & (new.point == TRUE)).sum())
    assert kept > 200 and moved > 20


def test_a_limit_stands_where_it_is_written():
    """Just on either side of every number limit a comparison turns over, and nowhere between."""
    ruleset = ruleset_of("long_snow_cover")
    seen = set()
    for rule in ruleset.rules.values():
        for leaf in leaves(rule.when):
            if not isinstance(leaf, Compare) or not isinstance(leaf.right, LimitRef) or leaf.op in ("==", "!="):
                continue
            fact, limit = WORDS.facts[leaf.left.name], ruleset.limits[leaf.right.name]
            step = 1.0 if fact.kind == "integer" else 0.01
            key = (leaf.left.name, leaf.op, leaf.right.name)
            if key in seen:
                continue
            seen.add(key)
            table = FactTable(WORDS, ["below", "at", "above"])
            table.set(fact.id, np.array([limit.value - step, limit.value, limit.value + step]))
            one = dataclasses.replace(leaf, left=Ref(fact.id))
            got = [infer_one(one, table, ruleset.limits, row) for row in range(3)]
            assert got == {"<": [1, 0, 0], "<=": [1, 1, 0], ">": [0, 0, 1], ">=": [0, 1, 1]}[leaf.op], key
    assert len(seen) > 60


def infer_one(condition, table, limits, row):
    return max(evaluate(condition, View(table, {}, limits)).at(row)[0], 0)


# --- safe by themselves ---
def _forbidden(ruleset, inference, rule, at, partner):
    """Names of the stops that are known to hold for a rule's action at a hive."""
    action = rule.advise
    return [
        p.id
        for p in ruleset.prohibitions.values()
        if p.effect == "stop"
        and aims_at(p, WORDS.actions[action])
        and inference.prohibits(p.id, at, partner)[0] == Truth.TRUE
    ]


def _clashes(ruleset, table, fired):
    """Where a rule fires for a living colony (or one that may be dead) and a one-hive stop for its action holds."""
    inference = infer(ruleset, table)
    alive = table.column("colony.alive").value
    for rule in ruleset.advising():
        fires = inference.rules[rule.id].point == TRUE
        if not WORDS.actions[rule.advise].dead_ok:
            fires = fires & (alive != 0)
        if fires.any():
            fired[rule.id] = fired.get(rule.id, 0) + int(fires.sum())
            for prohibition in ruleset.prohibitions.values():
                if (
                    prohibition.effect == "stop"
                    and not prohibition.roles
                    and aims_at(prohibition, WORDS.actions[rule.advise])
                ):
                    both = np.flatnonzero(fires & (inference.prohibitions[prohibition.id].point == TRUE))
                    if len(both):
                        yield rule.id, prohibition.id, _what(table, both[0], rule, prohibition)


@pytest.mark.parametrize("profile", PROFILES)
def test_no_rule_advises_what_a_stop_forbids_on_many_random_hives(profile):
    """25,000 hives a climate, each of another day, before any filter of the plan; 5,000 are bent towards a rule, so that it fires."""
    whole = ruleset_of(profile)
    ruleset = dataclasses.replace(whole, rules={name: rule for name, rule in whole.rules.items() if not rule.roles})
    fired: dict[str, int] = {}
    for block in range(5):
        rng = np.random.default_rng(100 + block)
        table = random_table(
            WORDS, 5_000, rng, known=(0.95, 0.8, 0.6, 0.4, 0.85)[block], doubtful=0.1, days=days_in(profile)
        )
        if block == 4:
            table = aimed_table(ruleset, table, ruleset.advising(), rng)
        assert list(_clashes(ruleset, table, fired)) == []
    assert sum(fired.values()) > 5_000 and len(fired) > 0.3 * len(ruleset.advising()), (sum(fired.values()), len(fired))


def test_without_their_guards_the_same_hives_would_show_it():
    """The search above can find something: it does once what stands under 'unless' is taken out."""
    whole = ruleset_of("long_snow_cover")

    def bare(rule):
        parts = rule.when.parts if isinstance(rule.when, All) else (rule.when,)
        return dataclasses.replace(rule, when=All(tuple(part for part in parts if not isinstance(part, NotTrue))))

    kept = {name: bare(rule) if rule.advise else rule for name, rule in whole.rules.items() if not rule.roles}
    ruleset = dataclasses.replace(whole, rules=kept)
    rng = np.random.default_rng(100)
    table = random_table(WORDS, 2_000, rng, known=0.85, days=days_in("long_snow_cover"))
    found = {
        prohibition for _, prohibition, _ in _clashes(ruleset, aimed_table(ruleset, table, ruleset.advising(), rng), {})
    }
    assert len(found) > 5


def _what(table, row, *things):
    names = sorted({ref.name for thing in things for ref in refs(thing.when) if not ref.is_finding})
    return {name: table.plain(row, name) for name in names}


@pytest.mark.parametrize("profile", PROFILES[:2])
def test_no_pair_is_advised_that_a_stop_forbids(profile):
    ruleset = ruleset_of(profile)
    pairs = [rule for rule in ruleset.advising() if rule.roles]
    fired: dict[str, int] = {}
    for seed in range(48):
        rng = np.random.default_rng(seed)
        aim = pairs[seed % len(pairs)]
        days = days_for(ruleset, aim, WORDS, days_in(profile))
        if not days:
            continue
        table = random_table(
            WORDS,
            16,
            rng,
            known=(0.3, 0.7)[seed // len(pairs) % 2],
            doubtful=0.0,
            days=[days[rng.integers(len(days))]],
            one_yard=True,
        )
        table = aimed_table(ruleset, table, [aim], rng)
        inference = infer(ruleset, table)
        alive = table.column("colony.alive").value
        for rule in pairs:
            for at in np.flatnonzero(inference.rules[rule.id].point == TRUE):
                if alive[at] == 0 and not WORDS.actions[rule.advise].dead_ok:
                    continue
                fired[rule.id] = fired.get(rule.id, 0) + 1
                partner = inference.partners[rule.id][at]
                assert not _forbidden(ruleset, inference, rule, int(at), partner), (rule.id, seed, at)
    assert len(fired) >= 2 and sum(fired.values()) > 5, fired


# --- through the whole plan ---
@functools.lru_cache(maxsize=1)
def _ranking():
    return ranking_file.load(WORDS)


@pytest.mark.parametrize(("profile", "seed"), [(p, s) for p in PROFILES for s in (1, 2, 3)])
def test_nothing_kept_in_a_plan_is_forbidden(profile, seed):
    """Twelve yards of 25 random hives: every kept advice and look against every prohibition that is known to hold."""
    ruleset = ruleset_of(profile)
    day = days_in(profile)[(seed * 17) % len(days_in(profile))]
    table = random_table(WORDS, 25, np.random.default_rng(seed), known=0.85, doubtful=0.2, days=[day], one_yard=True)
    inference = infer(ruleset, table)
    plan = make(inference, Setting(dt.date(2026, 3, 10), profile, climate.load_profile(profile).calendar), _ranking())
    rows = {hive: row for row, hive in enumerate(table.hives)}
    kept = 0
    for row, hive in enumerate(plan.hives):
        for advice in hive.advice:
            partner = rows[advice.partner] if advice.partner else None
            kept += 1
            _held_against(inference, advice.action, row, partner)
            if hive.alive is False:
                assert WORDS.actions[advice.action].dead_ok, advice.action
            for option in advice.options:
                if option["allowed"]:
                    for prohibition in ruleset.prohibitions.values():
                        if any(t.kind == "option" and t.option == option["active"] for t in prohibition.never):
                            assert (
                                inference.prohibits(prohibition.id, row, partner)[0] != Truth.TRUE
                                or prohibition.effect != "stop"
                            )
        for look in hive.look_first:
            _held_against(inference, look.action, row, None)
    assert kept >= 25


def _held_against(inference, action, row, partner):
    for prohibition in inference.ruleset.prohibitions.values():
        if prohibition.effect == "stop" and aims_at(prohibition, WORDS.actions[action]):
            point, firm, _ = inference.prohibits(prohibition.id, row, partner)
            assert not (point == firm == Truth.TRUE), (action, prohibition.id, row)


def test_the_same_input_gives_the_same_bytes():
    scenario = facts.read_scenario(DEMO)
    texts = {
        as_json.text(answer(scenario, offline=True, second_channel=False, with_facts=True).plan, with_facts=True)
        for _ in range(2)
    }
    texts.add(
        as_json.text(
            answer(facts.read_scenario(DEMO), offline=True, second_channel=False, with_facts=True).plan, with_facts=True
        )
    )
    assert len(texts) == 1


@pytest.mark.parametrize("seed", [1, 2])
def test_the_order_of_hives_in_a_file_changes_nothing_for_any_hive(tmp_path, seed):
    written = yaml.load(DEMO.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
    other = copy.deepcopy(written)
    random.Random(seed).shuffle(other["hives"])
    assert [h["id"] for h in other["hives"]] != [h["id"] for h in written["hives"]]
    path = tmp_path / "demo.yaml"
    path.write_text(_plain(other), encoding="utf-8")
    before = as_json.week(answer(facts.read_scenario(DEMO), offline=True, second_channel=False).plan)
    after = as_json.week(answer(facts.read_scenario(path), offline=True, second_channel=False).plan)
    mine = {hive["id"]: hive for hive in after["hives"]}
    assert [hive["id"] for hive in after["hives"]] == [h["id"] for h in other["hives"]]
    for hive in before["hives"]:
        assert json.dumps(mine[hive["id"]], sort_keys=True) == json.dumps(hive, sort_keys=True)
    assert before["apiary"]["first"] == after["apiary"]["first"] and before["apiary"]["kit"] == after["apiary"]["kit"]


def _plain(data, depth=0):
    """YAML with every scalar as it was written in the file (nothing quoted that was not a text there)."""
    pad = "  " * depth
    if isinstance(data, dict):
        return "".join(f"{pad}{key}:{_value(value, depth)}" for key, value in data.items())
    return "".join(f"{pad}-{_value(item, depth)}" for item in data)


def _value(value, depth):
    if isinstance(value, (dict, list)) and value:
        return "\n" + _plain(value, depth + 1)
    text = str(value)
    if isinstance(value, str) and (text != text.strip() or any(mark in text for mark in ":#'\"[]{},&*!|>%@`\n")):
        text = json.dumps(text, ensure_ascii=False)
    return f" {text}\n"


def test_other_hives_of_the_yard_change_nothing_where_no_rule_looks_at_them():
    """A hive alone gets what it gets in a yard of hives that are well, pairs and yard-wide findings apart."""
    ruleset = ruleset_of("long_snow_cover")
    reach = {rule.finding for rule in ruleset.rules.values() if rule.reach == "apiary"}
    table = random_table(WORDS, 30, np.random.default_rng(12), known=0.8, one_yard=True)
    together = infer(ruleset, table)
    clean = [
        name
        for name in ruleset.rules
        if not ruleset.rules[name].roles and not _rests_on(ruleset, ruleset.rules[name].when, reach)
    ]
    assert len(clean) > 60
    for row in (0, 7, 29):
        alone = FactTable(WORDS, [table.hives[row]])
        for name, column in table.columns.items():
            alone.set(name, column.value[row : row + 1], column.low[row : row + 1], column.high[row : row + 1])
        said = infer(ruleset, alone)
        for name in clean:
            assert said.rules[name].point[0] == together.rules[name].point[row], name
            assert said.rules[name].firm[0] == together.rules[name].firm[row], name


def _rests_on(ruleset, condition, names):
    for ref in refs(condition):
        if ref.is_finding:
            name = ref.name[len("finding.") :]
            if name in names or any(
                rule.roles or _rests_on(ruleset, rule.when, names) for rule in ruleset.giving(name)
            ):
                return True
    return False

"""What rules say of days gone by is the same whether some hives are asked about or all."""

import datetime as dt

import numpy as np
import pytest
from plan_kit import words

from hiveweek import facts
from hiveweek.climate import load_profile
from hiveweek.facts.build import YARD, build, history_of
from hiveweek.facts.build_noted import only_noted
from hiveweek.facts.past import Past
from hiveweek.inference.columnar import infer
from hiveweek.language.truth import TRUE
from hiveweek.plan import ranking
from hiveweek.plan.days_back import UNTOLD, DaysBack
from hiveweek.plan.deadlines import Deadlines
from hiveweek.rules.resting import needs_of, only_kept_away, part_of
from hiveweek.rules.store import effective_rules
from hiveweek.shapes import marked_yaml

YARD_OF_FOUR = """
climate: cool_continental
date: 2026-08-20
apiary: {site: {site.bears: true}}
hives:
  - id: Ash
    facts: {hive.frames: 10, hive.supers: 1, weather.high_c: 14}
    record:
      - {date: 2026-06-03, seen: {colony.frames_of_bees: 9, colony.frames_of_brood: 7, food.stores_kg: 3}}
      - {date: 2026-07-01, seen: {mites.sample_mites: 14, mites.sample_bees: 300, colony.queen_cells: charged}}
      - {date: 2026-08-12, seen: {food.heft: light, colony.eggs: false}}
  - id: Elm
    record:
      - {date: 2026-07-03, seen: {colony.robbed: true, health.sunken_caps: true}}
      - {date: 2026-08-05, seen: {health.chalk_mummies: few, season.local_sign: main_bloom}}
  - id: Fir
    record:
      - {date: 2026-06-20, seen: {colony.alive: false}}
  - id: Oak
    record:
      - {date: 2026-05-02, set: {mites.in_hive: formic, hive.supers: 2}}
      - {date: 2026-05-16, set: {mites.in_hive: none}}
      - {date: 2026-07-20, seen: {colony.queen: queenless, colony.frames_of_bees: 8, food.frames_of_stores: 6}}
"""


@pytest.fixture(scope="module")
def asked():
    """The past of a yard and its rules; and days on most of which something stands at a hive that its neighbours have to know."""
    yard = facts.scenario_of(marked_yaml.parse(YARD_OF_FOUR, "yard.yaml"), words=words())
    profile = load_profile(yard.climate)
    ruleset = effective_rules(profile, vocabulary=words())
    profile = profile.with_numbers(ruleset.numbers)
    built = build(yard, yard.date, profile, None, words(), ruleset.numbers, ruleset.law)
    deadlines = Deadlines(built.table, yard.date, profile.calendar, ruleset.late)
    days = [(yard.date - dt.timedelta(days=back)).toordinal() for back in (0, 13, 45, 46, 60)]

    def past():
        return Past(yard, profile, words(), history_of(yard, yard.date, words(), ruleset.numbers), ruleset.law)

    return past, ruleset, deadlines, days


def test_rules_say_the_same_of_a_hive_that_is_asked_about_alone(asked):
    past, ruleset, deadlines, days = asked
    rules = list(ruleset.advising())
    guards = frozenset(name for name in ruleset.given if name in ("under-suspicion", "robbing"))
    every = DaysBack(ruleset, past(), deadlines, guards)
    every.ask({day: dict.fromkeys(range(4), rules) for day in days})
    some = DaysBack(ruleset, past(), deadlines, guards)
    hives = {day: [place % 4, 2] if place % 2 else [place % 4] for place, day in enumerate(days)}
    some.ask({day: dict.fromkeys(found, rules) for day, found in hives.items()})
    fired = set()
    for day, found in hives.items():
        for hive in found:
            fires = some.fires(day, hive, rules)
            assert fires == every.fires(day, hive, rules)
            fired |= fires
            for rule in rules:
                for deadline in deadlines.of(rule):
                    if deadline.base == "fact":
                        np.testing.assert_equal(*(told.date(day, hive, deadline.name) for told in (some, every)))
    assert len(fired) > 10
    alone = [rule.id for rule in rules if some._yard_of(rule) is not None]
    assert any(some._days[days[0]].fires[name][1] == UNTOLD for name in alone)  # nobody asked about that hive


def test_what_guards_can_only_keep_away_fires_without_them_wherever_it_fires_with_them(asked):
    past, ruleset, _, days = asked
    guards = frozenset(name for name in ruleset.given if name in ranking.load(words()).waits_for)
    freed = [rule for rule in ruleset.advising() if only_kept_away(ruleset, rule, guards)][::3]
    findings = needs_of(ruleset, freed).findings
    table = past().tables(days[:2], needs_of(ruleset, freed).facts)
    guarded = infer(part_of(ruleset, freed, findings), table, groups=2)
    free = infer(part_of(ruleset, freed, findings, guards), table, groups=2)
    kept = 0
    for rule in freed:
        with_them, without = (found.rules[rule.id].point == TRUE for found in (guarded, free))
        assert not (with_them & ~without).any(), rule.id
        kept += int((without & ~with_them).sum())
    assert kept > 0


def test_what_waits_for_a_guard_is_not_only_kept_away_by_it(asked):
    """Whatever says what to do while a guard stands reads that guard, and falls silent without it."""
    _, ruleset, _, _ = asked
    in_a_raid = ruleset.rules["careful.starving-in-a-raid"]
    assert not only_kept_away(ruleset, in_a_raid, frozenset({"raid-on"}))
    assert only_kept_away(ruleset, in_a_raid, frozenset({"no-such-guard"}))


def test_what_was_noted_is_told_without_season_and_models(asked):
    """All facts for which neither is asked, and what concerns the whole yard."""
    past, _, _, days = asked
    names = frozenset(name for name, fact in words().facts.items() if only_noted(fact))
    assert len(names) > 100
    assert names >= YARD.keys()
    told = past()
    whole, noted = told.tables(days, names), told.noted_only(days, names)
    for name in names:
        np.testing.assert_array_equal(whole.column(name).value, noted.column(name).value, name)

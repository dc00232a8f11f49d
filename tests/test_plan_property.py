"""What holds of every plan, whatever is known: random hives under the shipped rules."""

import datetime as dt
import json
import random

import pytest
from plan_kit import Calendar, weights, words

from hiveweek import climate, rules
from hiveweek.facts.table import FactTable
from hiveweek.inference.columnar import infer
from hiveweek.plan import Setting, make
from hiveweek.plan.deciding import Deciding
from hiveweek.plan.safety import Safety
from hiveweek.plan.troubled import Troubled
from hiveweek.plan.words import Filler
from hiveweek.rules import traits_of
from hiveweek.show import json as as_json

TODAY = dt.date(2026, 4, 2)
HIVES = 24


@pytest.fixture(scope="module")
def ruleset():
    profile = climate.load_profile("cool_continental")
    return rules.load(profile.id, traits_of(profile), vocabulary=words())


def _random_table(seed: int) -> FactTable:
    """Hives of which each fact is known with its own luck, exactly or within an interval."""
    luck = random.Random(seed)
    built = FactTable(words(), [f"H{k:02}" for k in range(HIVES)])
    for fact in words().facts.values():
        share = luck.choice((0.0, 0.3, 0.7, 1.0))
        for row in range(HIVES):
            if luck.random() > share:
                continue
            if fact.kind == "yes_no":
                built.set_one(row, fact.id, float(luck.random() < 0.3), origin="seen 2026-04-02")
            elif fact.kind == "one_of":
                built.set_one(row, fact.id, float(luck.randrange(len(fact.values))), origin="seen 2026-04-02")
            elif fact.kind == "date":
                built.set_one(row, fact.id, float(TODAY.toordinal() + luck.randint(-200, 200)), origin="computed")
            elif fact.kind in ("number", "integer"):
                low = fact.low if fact.low is not None else 0
                high = min(fact.high if fact.high is not None else 100, low + luck.choice((5, 40, 400)))
                value = luck.uniform(low, high)
                value = float(round(value)) if fact.kind == "integer" else value
                spread = luck.choice((0, 0, (high - low) / 8))
                built.set_one(row, fact.id, value, value - spread, value + spread, "computed")
    return built


def before_another(ruleset, advice):
    """The jobs that some chain may lift above their points."""
    names = {a.action for a in advice}
    ways = [way for chain in ruleset.order for way in chain.ways if names & set(way.after)]
    return [a for a in advice if any(a.action in way.before for way in ways)]


def _answers(ruleset, troubles, hive) -> set[str]:
    """The actions that answer the troubles of a hive: acts and looks, and what stands in for an act that is withheld."""
    good = {action for trouble in troubles for action in (*trouble.acts, *trouble.looks)}
    instead = {action for p in ruleset.prohibitions.values() for action in (*p.instead, *p.first)}
    instead |= {action for actions in weights().holds_open.values() for action in actions}
    held = good & {w.action for w in hive.withheld}
    return good | ({*instead, weights().waits_by} if held else set()) | {weights().helps_by}


@pytest.mark.parametrize("seed", range(8))
def test_every_plan_keeps_its_promises(ruleset, seed):
    table = _random_table(seed)
    inference = infer(ruleset, table)
    plan = make(inference, Setting(TODAY, calendar=Calendar(first_pollen=(4, 10))), weights())
    actions = words().actions
    safety = Safety(inference, Deciding(inference), Filler(table, ruleset.limits, TODAY))
    feeds = weights().feeds
    for row, hive in enumerate(plan.hives):
        names = [a.action for a in hive.advice]
        assert len(names) == len(set(names)), "one advice an action"
        for one in hive.advice:
            assert one.because and one.points == pytest.approx(one.gain_pts * one.urgency * one.certainty, abs=0.006)
            assert 0.25 <= one.urgency <= 1 and 0 <= one.certainty <= 1
            if one.action != "leave-closed":
                assert safety.verdict(one.action, row, one.partner_row).open, (hive.id, one.action)
            for other in names:
                assert other not in actions[one.action].clashes, (hive.id, one.action, other)
        assert all(a.follows is None or names.index(a.follows.action) < names.index(a.action) for a in hive.advice)
        lifted = {a.action for a in before_another(ruleset, hive.advice)}
        troubles = Troubled(inference, weights(), safety, None, safety.deciding, TODAY).standing(row, hive.alive)
        free = {"leave-closed", *lifted, *_answers(ruleset, troubles, hive)}
        keys = [(a.band, -a.points) for a in hive.advice if a.action not in free]
        assert troubles or keys == sorted(keys), hive.id
        assert [band for band, _ in keys] == sorted(band for band, _ in keys), hive.id
        for trouble in troubles[:1]:
            law = sum(a.band == 0 for a in hive.advice)
            assert set(names[: law + 3]) & _answers(ruleset, [trouble], hive), (hive.id, trouble.id, names)
        assert hive.advice or hive.nothing_due
        for look in hive.look_first:
            assert safety.verdict(look.action, row).open and look.unlocks and look.points > 0
        if plan.hives[row].alive is False:
            assert all(actions[name].dead_ok for name in names)
        held = {w.action for w in hive.withheld if w.kind == "prohibition"}
        starving = table.column("food.days_left").high[row] < 3
        if held & feeds and starving and hive.alive is not False:
            assert hive.advice and names != ["leave-closed"], (hive.id, held)
    assert json.loads(as_json.text(plan))["hives"][0]["id"] == "H00"


def test_the_same_table_gives_the_same_bytes_however_often(ruleset):
    def once():
        table = _random_table(99)
        return as_json.text(make(infer(ruleset, table), Setting(TODAY), weights()))

    assert once() == once()

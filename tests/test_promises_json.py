"""What programs may rely on in ``hiveweek week --json``."""

import datetime as dt
import json
from functools import lru_cache

import pytest
from promises_kit import (
    ADVICE,
    APIARY,
    FACT,
    HIVE,
    LOOK,
    NESTED,
    SINGLE,
    UNLOCK,
    WEEK,
    WITHHELD,
    actions,
    answer,
    facts,
    hive_of,
    quick,
    scenario,
    two_light,
    week,
    words,
)

from hiveweek import content, rules
from hiveweek.climate import load_profile

DEMO = content.root() / "scenarios" / "demo.yaml"
DEMO_DAYS = ("2026-02-10", "2026-05-14", "2026-08-10", "2026-10-20")


@pytest.fixture(autouse=True)
def _quick(monkeypatch):
    quick(monkeypatch)


@pytest.fixture(scope="module")
def demo():
    """Answers to the demo apiary on four days of the year, as text, with everything that is known."""
    import contextlib
    import io

    from hiveweek.cli.main import main

    texts = {}
    with pytest.MonkeyPatch.context() as patch:
        quick(patch)
        for day in DEMO_DAYS:
            out = io.StringIO()
            with contextlib.redirect_stdout(out):
                assert main(["week", str(DEMO), "--offline", "--json", "--facts", "--date", day]) == 0
            texts[day] = out.getvalue()
    return texts


@pytest.fixture
def light(tmp_path):
    return two_light(tmp_path)


def _each(texts):
    for day, text in texts.items():
        data = json.loads(text)
        for hive in data["hives"]:
            yield day, data, hive


def test_keys_stand_in_their_order_at_every_level(demo):
    seen = set()
    for _, data, hive in _each(demo):
        assert list(data) == WEEK and list(hive) == [*HIVE, "facts", "unknown"]
        assert [list(v) for v in data["rulesets"]] == [["name", "version", "hash"]] * len(data["rulesets"])
        assert list(data["channels"]) == ["columnar", "rete"] and list(data["apiary"]) == APIARY
        for advice in hive["advice"]:
            assert list(advice) == ADVICE
            for name, keys in NESTED.items():
                items = advice[name] if isinstance(advice[name], list) else [advice[name]]
                assert all(list(item) == keys for item in items), (name, items)
                seen |= {name} if items else set()
        for look in hive["look_first"]:
            assert list(look) == LOOK and all(list(u) == UNLOCK for u in look["unlocks"])
            seen.add("look")
        for held in hive["withheld"]:
            assert list(held) == WITHHELD
        for known in hive["facts"].values():
            assert list(known) == FACT
        for item in data["apiary"]["first"]:
            assert list(item) == ["hive", "action", "points"]
        for advice in data["apiary"]["advice"]:
            assert list(advice) == [*ADVICE, "hives"]
            seen.add("yard")
        for visit in data["apiary"]["visits"]:
            assert list(visit) == ["what", "day", "hives", "minutes", "kit"]
            seen.add("visit")
    assert seen >= {"points_from", "evidence", "limits", "options", "look", "yard", "visit"}, (
        "the days of the demo must show every part"
    )


@lru_cache(maxsize=1)
def ruleset():
    return rules.load(load_profile("cool_continental"), vocabulary=words())


def ways():
    """What may be lifted above its points, and by what, as order.yaml has it."""
    return [way for chain in ruleset().order for way in chain.ways]


def answers_to_troubles():
    """Jobs that stand by how soon their trouble kills, and not by their points, as troubles.yaml has it."""
    return {name for trouble in ruleset().troubles.values() for name in (*trouble.acts, *trouble.looks)}


def names_in(names, placed) -> bool:
    return any(name in placed for name in names)


def test_ranks_points_and_bands(demo):
    for day, _, hive in _each(demo):
        assert [a["rank"] for a in hive["advice"]] == list(range(1, len(hive["advice"]) + 1)), day
        names = actions(hive)
        assert len(names) == len(set(names)), (day, names)
        # by points, but for what must come before another job: that stands just before it, or before what stands between
        placed = {a["action"]: a["rank"] for a in hive["advice"]}
        first = {name for way in ways() if names_in(way.after, placed) for name in way.before}
        assert all(placed[a["follows"]["action"]] < a["rank"] for a in hive["advice"] if a["follows"]), (
            day,
            hive["id"],
        )
        free = {"leave-closed", *first, *answers_to_troubles()}
        own = [a for a in hive["advice"] if a["action"] not in free]
        order = [(a["band"], -a["points"]) for a in own]
        assert order == sorted(order), (day, hive["id"])
        led = {
            a["follows"]["action"] for a in hive["advice"] if a["follows"]
        }  # due with what follows: by its own day less urgent
        for advice in hive["advice"]:
            parts = advice["points_from"]
            assert advice["points"] == pytest.approx(
                parts["gain_pts"] * parts["urgency"] * parts["certainty"], abs=0.006
            )
            assert advice["points"] == round(advice["points"], 2)
            assert 0.25 <= parts["urgency"] <= 1 and 0 <= parts["certainty"] <= 1 and advice["band"] in (0, 1)
            if advice["by"] is not None:
                left = (dt.date.fromisoformat(advice["by"]) - dt.date.fromisoformat(day)).days
                # max(0.25, 0.5 ^ ((days - 7) / 14)), at most 1: the weight of a deadline as documented
                weight = max(0.25, min(1.0, 0.5 ** ((left - 7) / 14)))
                if advice["action"] in led:
                    assert parts["urgency"] <= weight + 0.0006
                else:
                    assert parts["urgency"] == pytest.approx(weight, abs=0.0006)
            elif advice["points"]:
                assert parts["urgency"] == 0.25, advice["rule"]


def test_every_advice_says_why_and_from_where(demo):
    for _, data, hive in _each(demo):
        for advice in hive["advice"]:
            assert advice["because"] and "{" not in advice["because"] and advice["safety"], advice["rule"]
            assert advice["sources"] or advice["rule"].startswith("plan.") or advice["facts"], advice["rule"]
            assert isinstance(advice["unverified"], bool)
            for item in advice["evidence"]:
                assert item["value"] is not None and item["origin"], (advice["rule"], item)
                name = item["fact"]
                _, _, rest = name.partition(".")
                assert name in words().facts or rest in words().facts, name
                if name in hive["facts"]:
                    known = hive["facts"][name]
                    assert [item[k] for k in ("value", "low", "high", "origin")] == [
                        known[k] for k in ("value", "low", "high", "origin")
                    ]
            if advice["with"] is not None:
                assert advice["with"] in [h["id"] for h in data["hives"]] and advice["with"] != hive["id"]


def test_looks_say_what_they_unlock(demo):
    count = 0
    for _, _, hive in _each(demo):
        for look in hive["look_first"]:
            count += 1
            assert look["facts"] and look["how"] and look["points"] > 0 and look["unlocks"]
            assert set(look["facts"]) <= set(words().actions[look["action"]].observes), look["action"]
            assert set(look["facts"]) <= set(words().facts)
    assert count


def test_facts_and_unknown_share_out_the_vocabulary(demo):
    for _, _, hive in _each(demo):
        assert set(hive["facts"]) | set(hive["unknown"]) == set(words().facts) and not set(hive["facts"]) & set(
            hive["unknown"]
        )
        for name, known in hive["facts"].items():
            assert known["unit"] == words().facts[name].unit
            if isinstance(known["value"], (int, float)) and not isinstance(known["value"], bool):
                assert known["low"] <= known["value"] <= known["high"], name


def test_facts_and_unknown_come_with_their_option_only(capsys, light):
    plain = answer(capsys, light)
    assert all(list(hive) == HIVE for hive in plain["hives"])
    with_facts = answer(capsys, light, "--facts")
    assert all(list(hive) == [*HIVE, "facts", "unknown"] for hive in with_facts["hives"])
    for hive in with_facts["hives"]:
        del hive["facts"], hive["unknown"]
    assert with_facts == plain


def test_ids_are_text_as_written(capsys, light):
    data = answer(capsys, light)
    assert [hive["id"] for hive in data["hives"]] == ["NO", "012"]
    assert [hive["id"] for hive in answer(capsys, light, "--hive", "012")["hives"]] == ["012"]
    assert [hive["id"] for hive in answer(capsys, light, "--hive", "NO")["hives"]] == ["NO"]


def test_one_hive_alone_gets_the_answer_it_gets_among_the_others(capsys, light):
    both = answer(capsys, light)
    assert answer(capsys, light, "--hive", "NO")["hives"][0] == hive_of(both, "NO")


def test_the_same_question_gives_the_same_bytes(capsys, light, demo):
    texts = {week(capsys, light, "--json", "--facts")[1] for _ in range(2)}
    assert len(texts) == 1
    code, out, _ = week(capsys, DEMO, "--json", "--facts", "--date", DEMO_DAYS[0])
    assert code == 0 and out == demo[DEMO_DAYS[0]]
    assert out.endswith("}\n") and "NaN" not in out and "Infinity" not in out


def test_json_is_always_metric(capsys, light):
    assert week(capsys, light, "--json")[1] == week(capsys, light, "--json", "--imperial")[1]
    metric, both = week(capsys, light)[1], week(capsys, light, "--imperial")[1]
    assert " lb" in both and "°F" in both and " lb" not in metric and "°F" not in metric


OWN = """\
overlay: my-yard
layer: author
for: [long_snow_cover]
version: 1
add:
  reason: what a hasty adviser might write
  rules:
    - {id: mine.syrup-in-frost, when: food.days_left < 60, advise: feed-thin-syrup, stakes: {loses: colony, gain_pts: 40, source: judgement},
       because: "They are hungry.", safety: "Spill nothing.", source: common-practice, evidence: practice}
    - {id: mine.wide-open, when: hive.entrance == reduced, advise: open-entrance, stakes: {loses: colony, gain_pts: 9, source: judgement},
       because: "Air for the bees.", safety: "From the side.", source: common-practice, evidence: practice}
    - {id: mine.narrow, when: hive.entrance == reduced, advise: reduce-entrance, stakes: {loses: colony, gain_pts: 8, source: judgement},
       because: "Mice come in.", safety: "From the side.", source: common-practice, evidence: practice}
"""


def test_withheld_says_by_which_kind_and_why(capsys, tmp_path):
    known = facts(
        f"{SINGLE}, colony.frames_of_bees: 5, food.stores_kg: 2, food.feed_on: none, hive.entrance: reduced, weather.high_c: 2, "
        "weather.open_high_c: 2, weather.low_c: -14"
    )
    (tmp_path / "mine.yaml").write_text(OWN)
    hive = answer(
        capsys, scenario(tmp_path, "long_snow_cover", "2026-03-10", {"A": known}), "--rules", tmp_path / "mine.yaml"
    )["hives"][0]
    held = {w["action"]: w for w in hive["withheld"]}
    assert held["feed-thin-syrup"]["kind"] == "prohibition" and held["feed-thin-syrup"]["rule"] == "mine.syrup-in-frost"
    assert held["reduce-entrance"]["kind"] == "clash" and "open the entrance" in held["reduce-entrance"]["because"]
    assert "feed-candy" in actions(hive) and not set(held) & set(actions(hive))
    assert all(list(w) == WITHHELD and w["because"] for w in hive["withheld"])


def test_nothing_due_has_its_shape(capsys, tmp_path):
    known = facts(
        f"{SINGLE}, colony.alive: false, colony.death_cause: starved, food.stores_kg: 0, hive.supers: 0, hive.entrance: reduced"
    )
    for date in ("2026-06-20", "2026-12-10"):
        for hive in answer(capsys, scenario(tmp_path, "cool_continental", date, {"A": known}))["hives"]:
            if hive["advice"]:
                assert hive["nothing_due"] is None
                continue
            assert list(hive["nothing_due"]) == ["because", "next"] and hive["nothing_due"]["because"]
            assert list(hive["nothing_due"]["next"]) == ["date", "what"]
            assert dt.date.fromisoformat(hive["nothing_due"]["next"]["date"]) > dt.date.fromisoformat(date)


def test_an_empty_list_always_says_so_and_a_full_one_never(demo):
    empty = 0
    for _, _, hive in _each(demo):
        assert (hive["nothing_due"] is None) == bool(hive["advice"])
        empty += not hive["advice"]
    assert empty


def test_treatment_options_name_the_active_and_the_answer(demo):
    options = [
        o
        for _, _, hive in _each(demo)
        for a in hive["advice"]
        if a["action"] in ("treat-mites", "plan-mite-treatment")
        for o in a["options"]
    ]
    assert {o["allowed"] for o in options} >= {True, False}
    assert {o["allowed"] for o in options} <= {True, False, None} and all(o["because"] for o in options)
    actives = words().facts["mites.last_active"].values
    assert {o["active"] for o in options} <= set(actives), sorted({o["active"] for o in options} - set(actives))


def test_what_concerns_the_yard_stands_in_each_hive_and_once_above(capsys, tmp_path):
    known = facts(f"{SINGLE}, colony.frames_of_bees: 9, hive.supers: 0, weather.high_c: 40, weather.open_high_c: 36")
    data = answer(
        capsys,
        scenario(
            tmp_path, "southern_mediterranean", "2026-01-20", {"A": known, "B": known}, site={"site.water_near": False}
        ),
    )
    assert all("provide-water" in actions(hive) for hive in data["hives"])
    above = [a for a in data["apiary"]["advice"] if a["action"] == "provide-water"]
    assert len(above) == 1 and above[0]["hives"] == ["A", "B"]
    assert data["apiary"]["name"] == "Test yard"
    wide = {name for name, body in words().actions.items() if body.scope == "apiary"}
    assert {a["action"] for a in data["apiary"]["advice"]} == wide & {
        name for hive in data["hives"] for name in actions(hive)
    }

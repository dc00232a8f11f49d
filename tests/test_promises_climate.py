"""The same hives on the same day under two climates, and the same look growing old."""

import datetime as dt
import math
from itertools import pairwise

import pytest
import yaml
from promises_kit import actions, answer, facts, hive_of, looked_at, quick, scenario, week, words

from hiveweek import content

MILD, SNOW = "mild_maritime", "long_snow_cover"
LOOKS = {
    "heft-hive",
    "weigh-hive",
    "check-entrance",
    "lid-check",
    "first-spring-inspection",
    "full-inspection",
    "swarm-inspection",
    "brood-disease-check",
    "count-mites",
    "count-mite-drop",
}
AUTUMN = facts(
    "hive.size: single, hive.frames: 10, hive.frame: deep, hive.walls: wood, hive.insulation: none, hive.supers: 0, "
    "hive.excluder: false, hive.entrance: reduced, hive.mouse_guard: true, colony.frames_of_bees: 8, colony.frames_of_brood: 3, "
    "colony.queen: seen, colony.eggs: true, food.stores_kg: 12, food.feed_on: none, mites.sample_mites: 1, "
    "mites.sample_bees: 300, mites.method: wash, mites.in_hive: none"
)


@pytest.fixture(autouse=True)
def _quick(monkeypatch):
    quick(monkeypatch)


def _demo(folder, climate, date):
    """The shipped demo apiary in another climate and on another day, every hive of bare wood."""
    demo = yaml.safe_load((content.root() / "scenarios" / "demo.yaml").read_text(encoding="utf-8"))
    hives = {str(hive["id"]): {**hive["facts"], "hive.insulation": "none"} for hive in demo["hives"]}
    return scenario(folder, climate, date, hives, site=demo["apiary"]["site"], name=f"{climate}.yaml")


def _limits(data):
    """(limit, value, from) of every advice of an answer."""
    return {
        (found["limit"], found["value"], found["from"])
        for hive in data["hives"]
        for advice in hive["advice"]
        for found in advice["limits"]
    }


def _advice(hive, action):
    return next((advice for advice in hive["advice"] if advice["action"] == action), None)


def test_the_demo_apiary_is_told_other_things_in_snow_than_by_the_sea(capsys, tmp_path):
    date = "2026-10-05"
    mild, snow = (answer(capsys, _demo(tmp_path, climate, date), "--facts") for climate in (MILD, SNOW))
    assert (mild["date"], mild["climate"]) == (date, MILD) and (snow["date"], snow["climate"]) == (date, SNOW)
    assert [h["id"] for h in mild["hives"]] == [h["id"] for h in snow["hives"]] and len(mild["hives"]) == 8
    wrapped = {
        climate: {h["id"] for h in data["hives"] if "add-insulation" in actions(h)}
        for climate, data in ((MILD, mild), (SNOW, snow))
    }
    assert not wrapped[MILD], "a coast without lasting snow asks for no wraps"
    living = {h["id"] for h in snow["hives"] if h["facts"].get("colony.alive", {}).get("value") is not False}
    ended = {h["id"] for h in snow["hives"] if {"unite-colonies", "shake-out-colony"} & set(actions(h))}
    assert len(ended) < len(living) / 2 and wrapped[SNOW] == living - ended, (
        "bees that are joined get no cover of their own"
    )
    for name in living - {h["id"] for h in snow["hives"] if "food.need_kg" not in h["facts"]}:
        need = [hive_of(data, name)["facts"]["food.need_kg"]["value"] for data in (mild, snow)]
        assert need[1] > need[0] * 1.2, (name, need)
    named = {limit: origin for limit, _, origin in _limits(snow)}
    assert named["limit.shelter.wrap_ahead_days"] == f"profile overlay {SNOW}"
    assert named["limit.shelter.snow_weeks"] == "base"
    assert any(origin == f"profile overlay {MILD}" for _, _, origin in _limits(mild)) and not any(
        SNOW in origin for _, _, origin in _limits(mild)
    )


def test_syrup_and_wrap_of_one_hive_differ_by_named_limits(capsys, tmp_path):
    date = "2026-09-10"
    mild, snow = (
        answer(capsys, scenario(tmp_path, climate, date, {"A": AUTUMN}))["hives"][0] for climate in (MILD, SNOW)
    )
    here, there = _advice(mild, "feed-thick-syrup"), _advice(snow, "feed-thick-syrup")
    litres = [float(advice["amount"].split()[0]) for advice in (here, there)]
    assert litres[1] > litres[0] * 1.2, litres
    of_syrup = [
        {found["limit"]: (found["value"], found["from"]) for found in advice["limits"]} for advice in (here, there)
    ]
    assert of_syrup[0]["limit.food.syrup_high_c"] == (12.0, "base")
    assert of_syrup[1]["limit.food.syrup_high_c"] == (13.0, f"profile overlay {SNOW}")
    assert "add-insulation" not in actions(mild)
    wrap = _advice(snow, "add-insulation")
    assert {found["limit"] for found in wrap["limits"]} >= {"limit.shelter.snow_weeks", "limit.shelter.wrap_ahead_days"}
    snow_weeks = next(e for e in wrap["evidence"] if e["fact"] == "climate.snow_weeks")
    least = next(found["value"] for found in wrap["limits"] if found["limit"] == "limit.shelter.snow_weeks")
    assert snow_weeks["value"] >= least, "the limit that is named explains the advice"


def test_why_says_which_layer_moved_the_limit(capsys, tmp_path):
    said = {}
    for climate in (MILD, SNOW):
        path = scenario(tmp_path, climate, "2026-09-10", {"A": AUTUMN})
        code, out, err = week(capsys, path, "--why", "shelter.insulate-deep-winter")
        assert code == 0 and err == ""
        said[climate] = " ".join(out.split())
    assert f"limit 56 days (profile overlay {SNOW}" in said[SNOW] and "at hive A: holds" in said[SNOW]
    assert "limit 42 days (base" in said[MILD] and "at hive A: does not hold" in said[MILD]


def test_every_limit_named_in_an_answer_has_the_value_its_layer_gives(capsys, tmp_path):
    """The overlay file of the climate, read as plain YAML, is the outside truth."""
    overlay = yaml.safe_load((content.root() / "rulesets" / "overlays" / f"{SNOW}.yaml").read_text(encoding="utf-8"))
    moved = {entry["limit"]: entry["value"] for entry in overlay["override"] if "limit" in entry}
    data = answer(capsys, _demo(tmp_path, SNOW, "2026-09-10"))
    named = _limits(data)
    assert {limit for limit, _, _ in named} & set(moved)
    for limit, value, origin in named:
        if limit in moved:
            assert (value, origin) == (moved[limit], f"profile overlay {SNOW}"), limit
        else:
            assert origin == "base", limit


# --- the same look, growing old -------------------------------------------------------------------------------------------------
AGES = (0, 10, 30, 60)
EQUIPMENT = "hive.size: single, hive.frames: 10, hive.frame: deep, hive.supers: 0, hive.insulation: roof, hive.entrance: reduced, hive.mouse_guard: true"
SEEN = "colony.frames_of_bees: 7, colony.frames_of_brood: 0, colony.queen: seen, food.stores_kg: 14, food.feed_on: none, moisture.lid: dry"
ESTIMATES = ("food.stores_kg", "colony.frames_of_bees", "colony.bees", "food.days_left", "food.shortfall_kg")


def _aged(capsys, folder, climate, today, seen):
    """One hive an age, all with the same look, only older; they stand in one yard and do not meet."""
    today = dt.date.fromisoformat(today)
    hives = {f"{age} days": facts(EQUIPMENT) for age in AGES}
    looks = {f"{age} days": [{"date": today - dt.timedelta(days=age), **facts(seen)}] for age in AGES}
    data = answer(capsys, scenario(folder, climate, today.isoformat(), hives, observed=looks), "--facts")
    return [hive_of(data, f"{age} days") for age in AGES]


def _width(hive, fact):
    """Width of the interval; endless where the fact is no longer known."""
    known = hive["facts"].get(fact)
    return math.inf if known is None else known["high"] - known["low"]


@pytest.mark.parametrize(
    ("climate", "today", "seen"),
    [
        ("cool_continental", "2026-02-25", SEEN),
        ("long_snow_cover", "2026-03-15", SEEN),
        ("southern_maritime", "2026-08-01", SEEN),
        ("mild_maritime", "2026-08-01", SEEN.replace("brood: 0", "brood: 4")),
    ],
    ids=lambda value: value if value[:1].isalpha() and "." not in value else "",
)
def test_what_was_seen_widens_as_it_grows_old(capsys, tmp_path, climate, today, seen):
    hives = _aged(capsys, tmp_path, climate, today, seen)
    for fact in ESTIMATES:
        widths = [_width(hive, fact) for hive in hives]
        assert all(a <= b for a, b in pairwise(widths)), (fact, widths)
        assert widths[-1] > widths[0], (fact, widths)
    stores = [_width(hive, "food.stores_kg") for hive in hives]
    assert stores[0] == 0 < stores[1] < stores[2]
    for age, hive in zip(AGES[1:], hives[1:], strict=False):
        known = hive["facts"].get("food.stores_kg")
        day = dt.date.fromisoformat(today) - dt.timedelta(days=age)
        assert known is None or known["origin"] == f"carried forward from {day.isoformat()}"
    assert hives[0]["facts"]["food.stores_kg"]["origin"] == f"seen {today}"


@pytest.mark.parametrize(
    ("climate", "today"),
    [
        ("cool_continental", "2026-02-25"),
        ("long_snow_cover", "2026-03-15"),
        ("southern_maritime", "2026-08-01"),
        ("mild_maritime", "2026-05-10"),
    ],
)
def test_a_hive_seen_two_months_ago_is_looked_at_this_week(capsys, tmp_path, climate, today):
    fresh, *_, old = _aged(capsys, tmp_path, climate, today, SEEN)
    assert LOOKS & set(actions(old)), actions(old)
    assert looked_at(old) - looked_at(fresh)
    assert set(old["unknown"]) > set(fresh["unknown"])


def test_no_observation_outlives_the_days_it_keeps(capsys, tmp_path):
    hives = _aged(capsys, tmp_path, "cool_continental", "2026-02-25", SEEN)
    for age, hive in zip(AGES, hives, strict=False):
        for name, known in hive["facts"].items():
            fact = words().facts[name]
            if fact.keeps is not None and known["origin"].startswith("seen "):
                day = dt.date.fromisoformat(known["origin"].split()[1])
                assert (dt.date(2026, 2, 25) - day).days <= fact.keeps, (age, name)

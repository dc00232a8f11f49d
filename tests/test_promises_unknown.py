"""What is not known turns an advice into a look at it, never into silence."""

import datetime as dt

import pytest
from plan_kit import Book, act
from promises_kit import actions, answer, facts, hive_of, looked_at, quick, scenario, words

SINGLE = "hive.size: single, hive.frames: 10, hive.frame: deep"
DOUBLE = "hive.size: double, hive.frames: 20, hive.frame: deep"
CLEAN = "mites.sample_mites: 1, mites.sample_bees: 300, mites.method: wash"
HEALTHY = "health.ropy_larvae: false, health.sunken_caps: false, health.off_colour_larvae: false"

# title, climate, date, what is known, the advice it brings, the fact taken away, facts any of which tells it
TAKEN_AWAY = [
    (
        "candy in the snow",
        "long_snow_cover",
        "2026-03-10",
        (
            f"{SINGLE}, hive.insulation: roof_and_wrap, colony.frames_of_bees: 5, food.stores_kg: 1, food.feed_on: none, food.reaches_cluster: true, "
            "weather.high_c: 2, weather.open_high_c: 2, weather.low_c: -14"
        ),
        "feed-candy",
        "food.stores_kg",
        {"food.stores_kg", "food.heft", "food.hive_weight_kg", "food.frames_of_stores"},
    ),
    (
        "candy, and the heft alone is known",
        "southern_cold_maritime",
        "2026-08-15",
        (
            f"{SINGLE}, colony.frames_of_bees: 5, food.stores_kg: 1.5, food.heft: light, food.reaches_cluster: true, food.feed_on: none, "
            "weather.high_c: 9, weather.open_high_c: 8, weather.low_c: 0"
        ),
        "feed-candy",
        "food.stores_kg",
        {"food.stores_kg", "food.hive_weight_kg", "food.frames_of_stores"},
    ),
    (
        "syrup without a winter, and the heft alone is known",
        "warm_winter",
        "2026-01-12",
        (
            f"{SINGLE}, colony.frames_of_bees: 8, colony.frames_of_brood: 5, colony.eggs: true, colony.queen: seen, food.stores_kg: 1.5, "
            "food.heft: light, food.nectar: none, food.feed_on: none, hive.supers: 0, weather.high_c: 23, weather.open_high_c: 22, weather.low_c: 10"
        ),
        "feed-thin-syrup",
        "food.stores_kg",
        {"food.stores_kg", "food.hive_weight_kg", "food.frames_of_stores"},
    ),
    (
        "syrup before winter",
        "alpine_valley",
        "2026-08-25",
        (
            f"{DOUBLE}, colony.frames_of_bees: 12, colony.frames_of_brood: 6, colony.queen: seen, colony.eggs: true, food.stores_kg: 8, food.feed_on: none, "
            f"food.nectar: none, hive.supers: 0, {CLEAN}, weather.high_c: 20, weather.open_high_c: 19"
        ),
        "feed-thick-syrup",
        "food.stores_kg",
        {"food.stores_kg", "food.heft", "food.hive_weight_kg", "food.frames_of_stores"},
    ),
    (
        "syrup left on in the frost",
        "cool_continental",
        "2026-11-16",
        (
            f"{SINGLE}, colony.frames_of_bees: 7, colony.frames_of_brood: 0, food.stores_kg: 19, food.feed_on: thick_syrup, hive.supers: 0, "
            "weather.high_c: 5, weather.open_high_c: 4, weather.low_c: -3"
        ),
        "stop-liquid-feed",
        "food.feed_on",
        {"food.feed_on"},
    ),
    (
        "a hive without a strap on a windy island",
        "windy_islands",
        "2026-10-01",
        (
            f"{SINGLE}, colony.frames_of_bees: 8, colony.frames_of_brood: 2, colony.queen: seen, food.stores_kg: 22, hive.supers: 0, site.wind: exposed, "
            f"hive.excluder: false, hive.entrance: reduced, hive.mouse_guard: true, hive.strapped: false, {CLEAN}, weather.high_c: 11, "
            "weather.open_high_c: 11"
        ),
        "strap-down",
        "hive.strapped",
        {"hive.strapped"},
    ),
    (
        "bare wood before winter",
        "humid_continental",
        "2026-11-06",
        (
            f"{DOUBLE}, hive.walls: wood, hive.insulation: none, colony.frames_of_bees: 10, colony.frames_of_brood: 0, food.stores_kg: 32, "
            f"hive.supers: 0, hive.entrance: reduced, hive.mouse_guard: true, hive.top_vent: small, {CLEAN}, weather.high_c: 12, "
            "weather.open_high_c: 11, weather.low_c: 0"
        ),
        "add-insulation",
        "hive.insulation",
        {"hive.insulation"},
    ),
    (
        "mice look for quarters",
        "mild_maritime",
        "2026-10-14",
        (
            f"{SINGLE}, colony.frames_of_bees: 8, colony.frames_of_brood: 2, food.stores_kg: 20, hive.supers: 0, hive.excluder: false, "
            f"hive.entrance: full, hive.mouse_guard: false, {CLEAN}, weather.high_c: 13, weather.open_high_c: 13"
        ),
        "fit-mouse-guard",
        "hive.mouse_guard",
        {"hive.mouse_guard"},
    ),
    (
        "an excluder left in",
        "mild_maritime",
        "2026-10-04",
        (
            f"{SINGLE}, colony.frames_of_bees: 8, colony.frames_of_brood: 2, food.stores_kg: 22, hive.supers: 1, hive.excluder: true, "
            f"hive.entrance: reduced, hive.mouse_guard: true, {CLEAN}, weather.high_c: 15, weather.open_high_c: 14"
        ),
        "remove-excluder",
        "hive.excluder",
        {"hive.excluder"},
    ),
    (
        "few bees in two boxes",
        "southern_mediterranean",
        "2026-05-08",
        (
            f"{DOUBLE}, colony.frames_of_bees: 5, colony.frames_of_brood: 2, colony.queen: seen, colony.eggs: true, food.stores_kg: 16, "
            f"hive.supers: 0, hive.entrance: reduced, {CLEAN}, weather.high_c: 23, weather.open_high_c: 21"
        ),
        "condense-to-one-box",
        "colony.frames_of_bees",
        {"colony.frames_of_bees"},
    ),
    (
        "a dripping lid",
        "snowy_continental",
        "2026-01-20",
        (
            f"{DOUBLE}, hive.insulation: wrap, hive.top_vent: none, colony.frames_of_bees: 8, food.stores_kg: 25, food.reaches_cluster: true, "
            "moisture.lid: dripping, moisture.mould: none, hive.mouse_guard: true, weather.high_c: 3, weather.open_high_c: 3, weather.low_c: -10"
        ),
        "dry-the-lid",
        "moisture.lid",
        {"moisture.lid"},
    ),
    (
        "a full nucleus",
        "cool_continental",
        "2026-05-12",
        (
            "hive.size: nuc, hive.frames: 5, hive.frame: deep, colony.frames_of_bees: 5, colony.frames_of_brood: 4, colony.queen: seen, "
            f"colony.eggs: true, colony.queen_cells: none, food.stores_kg: 2.5, food.nectar: some, hive.supers: 0, {CLEAN}, weather.high_c: 20, "
            "weather.open_high_c: 19"
        ),
        "move-to-larger-box",
        "hive.size",
        {"hive.size"},
    ),
    (
        "larvae that draw out in a thread",
        "humid_continental",
        "2026-06-15",
        (
            f"{DOUBLE}, colony.frames_of_bees: 14, colony.frames_of_brood: 8, colony.queen: seen, colony.eggs: true, colony.brood_pattern: patchy, "
            "health.ropy_larvae: true, health.sunken_caps: true, food.stores_kg: 14, hive.supers: 0, weather.high_c: 26, weather.open_high_c: 25"
        ),
        "report-notifiable",
        "health.ropy_larvae",
        {"health.ropy_larvae"},
    ),
    (
        "a failing queen",
        "snowy_continental",
        "2026-07-06",
        (
            f"{DOUBLE}, colony.frames_of_bees: 10, colony.frames_of_brood: 4, colony.queen: failing, colony.queen_age_years: 3, colony.eggs: true, "
            "colony.brood_pattern: patchy, colony.drone_brood_in_worker_cells: false, food.stores_kg: 14, hive.supers: 1, health.ropy_larvae: false, "
            f"health.sunken_caps: false, {CLEAN}, weather.high_c: 28, weather.open_high_c: 27, stock.queens: 1"
        ),
        "requeen",
        "health.sunken_caps",
        {"health.sunken_caps"},
    ),
    (
        "the supers are full of bees",
        "long_snow_cover",
        "2026-07-06",
        (
            f"{DOUBLE}, colony.frames_of_bees: 19, colony.frames_of_brood: 11, colony.queen: seen, colony.queen_cells: none, food.stores_kg: 18, "
            f"hive.supers: 1, colony.super_frames_of_bees: 9, harvest.super_frames_full: 6, harvest.capped_pct: 10, food.nectar: strong, {CLEAN}, "
            "weather.high_c: 26, weather.open_high_c: 25"
        ),
        "add-super",
        "food.nectar",
        {"food.nectar"},
    ),
    (
        "queen cells with larvae",
        "cool_continental",
        "2026-05-22",
        (
            f"{DOUBLE}, colony.frames_of_bees: 18, colony.frames_of_brood: 11, colony.queen: seen, colony.eggs: true, colony.queen_cells: charged, "
            f"colony.drones: true, food.stores_kg: 14, hive.supers: 1, food.nectar: some, {CLEAN}, {HEALTHY}, weather.high_c: 21, "
            "weather.open_high_c: 20"
        ),
        "split-colony",
        "colony.queen_cells",
        {"colony.queen_cells"},
    ),
    (
        "mites fall while there is no brood",
        "cool_continental",
        "2026-11-28",
        (
            f"{SINGLE}, colony.frames_of_bees: 8, colony.frames_of_brood: 0, colony.brood_pattern: none, food.stores_kg: 18, hive.supers: 0, "
            "mites.drop_per_day: 7, mites.in_hive: none, hive.floor: mesh, hive.mouse_guard: true, weather.high_c: 6, weather.open_high_c: 5, weather.low_c: -2"
        ),
        "treat-oxalic-broodless",
        "mites.drop_per_day",
        {"mites.drop_per_day", "mites.sample_mites"},
    ),
    (
        "four in a hundred before winter bees",
        "cool_continental",
        "2026-08-05",
        (
            f"{DOUBLE}, colony.frames_of_bees: 15, colony.frames_of_brood: 8, colony.queen: seen, colony.eggs: true, colony.queen_cells: none, "
            "food.stores_kg: 18, hive.supers: 0, mites.sample_mites: 12, mites.sample_bees: 300, mites.method: wash, mites.in_hive: none, "
            "weather.high_c: 25, weather.open_high_c: 24, weather.low_c: 13"
        ),
        "treat-mites",
        "mites.sample_mites",
        {"mites.sample_mites", "mites.drop_per_day"},
    ),
    (
        "thin honey",
        "cool_maritime",
        "2026-07-28",
        (
            f"{DOUBLE}, colony.frames_of_bees: 18, colony.frames_of_brood: 9, colony.queen: seen, food.stores_kg: 14, hive.supers: 2, "
            f"colony.super_frames_of_bees: 14, harvest.super_frames_full: 15, harvest.capped_pct: 85, harvest.moisture_pct: 22.5, food.nectar: some, {CLEAN}, "
            "weather.high_c: 20, weather.open_high_c: 19"
        ),
        "let-honey-ripen",
        "harvest.moisture_pct",
        {"harvest.moisture_pct"},
    ),
    (
        "heat and no water",
        "southern_mediterranean",
        "2026-01-20",
        (
            f"{DOUBLE}, site.water_near: false, colony.frames_of_bees: 17, colony.frames_of_brood: 9, colony.queen: seen, colony.eggs: true, "
            "colony.queen_cells: none, food.stores_kg: 15, hive.supers: 1, colony.bearding: true, hive.entrance: full, food.nectar: none, "
            f"{CLEAN}, weather.high_c: 40, weather.open_high_c: 36, weather.low_c: 21"
        ),
        "provide-water",
        "site.water_near",
        {"site.water_near"},
    ),
    (
        "a dead hive in spring",
        "southern_maritime",
        "2026-09-20",
        (
            f"{DOUBLE}, colony.alive: false, colony.death_cause: starved, food.stores_kg: 4, hive.entrance: full, weather.high_c: 16, "
            "weather.open_high_c: 15"
        ),
        "clear-dead-colony",
        "colony.alive",
        {"colony.alive"},
    ),
]
# what the colony itself would tell at once, so that the fact taken away stays away
GIVEN_ANYWAY = {"colony.alive": {"colony.death_cause"}, "mites.sample_mites": {"mites.sample_bees", "mites.method"}}


@pytest.fixture(autouse=True)
def _quick(monkeypatch):
    quick(monkeypatch)


@pytest.mark.parametrize(
    ("title", "climate", "date", "known", "action", "taken", "tellers"), TAKEN_AWAY, ids=[row[0] for row in TAKEN_AWAY]
)
def test_a_fact_taken_away_brings_a_look_at_it(capsys, tmp_path, title, climate, date, known, action, taken, tellers):
    seen = facts(known)
    gone = {taken, *GIVEN_ANYWAY.get(taken, ())}
    whole = answer(capsys, scenario(tmp_path, climate, date, {"A": seen}))["hives"][0]
    assert action in actions(whole), actions(whole)
    less = {fact: value for fact, value in seen.items() if fact not in gone}
    without = answer(capsys, scenario(tmp_path, climate, date, {"A": less}), "--facts")["hives"][0]
    known_now = without["facts"].get(taken)
    assert known_now is None or known_now["low"] < known_now["high"], "taken away, the fact must be unknown or a range"
    if action in actions(without):
        assert known_now is not None, "what is not known at all decides nothing"
    else:
        assert looked_at(without) & tellers, (actions(without), looked_at(without))
    assert without["advice"] or without["look_first"]


def test_the_table_goes_across_the_topics():
    topics = {row[5].partition(".")[0] for row in TAKEN_AWAY}
    assert len(TAKEN_AWAY) >= 12 and len({row[4] for row in TAKEN_AWAY}) >= 12
    assert topics >= {"food", "hive", "moisture", "colony", "health", "mites", "harvest", "site"}


@pytest.mark.parametrize(
    ("climate", "date", "seen_on", "then", "weather"),
    [
        (
            "cool_continental",
            "2026-03-01",
            "2026-01-20",
            "food.stores_kg: 6, colony.frames_of_bees: 6",
            "weather.high_c: 6, weather.open_high_c: 6, weather.low_c: -3",
        ),
        (
            "long_snow_cover",
            "2026-03-10",
            "2026-01-29",
            "food.stores_kg: 5, colony.frames_of_bees: 5",
            "weather.high_c: 0, weather.open_high_c: 0, weather.low_c: -14",
        ),
        (
            "southern_maritime",
            "2026-08-20",
            "2026-07-11",
            "food.stores_kg: 6.5, colony.frames_of_bees: 7",
            "weather.high_c: 12, weather.open_high_c: 12, weather.low_c: 2",
        ),
    ],
)
def test_food_seen_forty_days_ago_that_straddles_the_limit_is_looked_at(
    capsys, tmp_path, climate, date, seen_on, then, weather
):
    assert (dt.date.fromisoformat(date) - dt.date.fromisoformat(seen_on)).days == 40
    path = scenario(
        tmp_path,
        climate,
        date,
        {"A": facts(f"{SINGLE}, food.feed_on: none, hive.supers: 0, {weather}")},
        observed={"A": [{"date": dt.date.fromisoformat(seen_on), **facts(then)}]},
    )
    hive = answer(capsys, path, "--facts")["hives"][0]
    days = hive["facts"]["food.days_left"]
    assert days["low"] < 21 < days["high"], days
    fed = {"feed-candy", "feed-thin-syrup", "feed-thick-syrup", "feed-dry-sugar"} & set(actions(hive))
    stores = {"food.stores_kg", "food.heft", "food.hive_weight_kg", "food.frames_of_stores"}
    assert looked_at(hive) & stores or fed, (actions(hive), looked_at(hive), days)
    if fed:
        said = next(advice for advice in hive["advice"] if advice["action"] in fed)
        shown = {e["fact"]: e for e in said["evidence"]}["food.days_left"]
        assert (shown["low"], shown["high"]) == (days["low"], days["high"]), "the doubt stands beside the advice"


def test_a_guard_on_the_same_doubt_does_not_hide_the_look():
    """'It has enough' is known only within its range, as is 'it is hungry': the figure that decides both is looked for."""
    book = Book()
    book.rule("g.enough", "food.shortfall_kg <= 0", finding="enough")
    book.rule("f.candy", ["food.days_left < 14", {"unless": "finding.enough"}], "feed-candy", gain=50, by=0)
    book.never("n.enough", [act("feed-candy")], "food.shortfall_kg <= 0")
    hefted = {"colony.alive": True, "colony.frames_of_bees": 8.0, "food.heft": "light", "weather.open_high_c": 18.0}
    hives = {
        "doubt": {**hefted, "food.days_left": (8.0, 2, 33), "food.shortfall_kg": (-0.4, -5, 3)},
        "sure": {**hefted, "food.days_left": (8.0, 2, 33), "food.shortfall_kg": (-9.0, -12, -6)},
    }
    doubt, sure = book.plan(hives).hives
    looks = [*doubt.advice, *doubt.look_first]
    assert {fact for look in looks for fact in look.facts} & {
        "food.hive_weight_kg",
        "food.stores_kg",
        "food.frames_of_stores",
    }
    assert not any(look.facts for look in [*sure.advice, *sure.look_first])


def test_a_count_that_straddles_the_limit_is_counted_again(capsys, tmp_path):
    base = facts(
        f"{DOUBLE}, colony.frames_of_bees: 15, colony.frames_of_brood: 8, colony.queen: seen, colony.eggs: true, "
        f"colony.queen_cells: none, food.stores_kg: 18, hive.supers: 0, mites.in_hive: none, mites.method: wash, {HEALTHY}, "
        "weather.high_c: 25, weather.open_high_c: 24, weather.low_c: 13"
    )
    hives = {
        "few": {**base, "mites.sample_mites": 1, "mites.sample_bees": 100},
        "at": {**base, "mites.sample_mites": 2, "mites.sample_bees": 100},
        "many": {**base, "mites.sample_mites": 0, "mites.sample_bees": 600},
    }
    data = answer(capsys, scenario(tmp_path, "cool_continental", "2026-08-05", hives), "--facts")
    few, many = hive_of(data, "few"), hive_of(data, "many")
    assert few["facts"]["mites.per_100"]["low"] < 2 < few["facts"]["mites.per_100"]["high"]
    assert "count-mites" in actions(few) or "mites.sample_mites" in looked_at(few)
    at = hive_of(data, "at")
    held = {item["action"]: item["kind"] for item in at["withheld"]}
    assert "treat-mites" in actions(at) and held["count-mites"] == "clash", (
        "of two that quarrel one stands, the other says why"
    )
    assert many["facts"]["mites.per_100"]["high"] < 2
    assert not {"treat-mites", "count-mites"} & set(actions(many))
    assert not {"mites.sample_mites", "mites.drop_per_day"} & looked_at(many)


def test_a_hive_of_which_nothing_is_known_is_looked_at_in_every_season(capsys, tmp_path):
    for month in range(1, 13):
        hive = answer(capsys, scenario(tmp_path, "cool_continental", f"2026-{month:02}-10", {"A": {}}))["hives"][0]
        assert looked_at(hive), month
        assert hive["nothing_due"] is None or hive["look_first"], month


def test_taking_facts_away_never_adds_certainty(capsys, tmp_path):
    """A fact that is missing is never taken as 'no': with less known, no new rule may fire that names the missing fact."""
    known = facts(TAKEN_AWAY[15][3])
    full = answer(capsys, scenario(tmp_path, TAKEN_AWAY[15][1], TAKEN_AWAY[15][2], {"A": known}))["hives"][0]
    for gone in ("colony.queen_cells", "colony.eggs", "food.nectar", "health.ropy_larvae"):
        less = {fact: value for fact, value in known.items() if fact != gone}
        hive = answer(capsys, scenario(tmp_path, TAKEN_AWAY[15][1], TAKEN_AWAY[15][2], {"A": less}), "--facts")[
            "hives"
        ][0]
        assert gone in hive["unknown"] or hive["facts"][gone]["origin"].startswith("implied"), gone
        for advice in hive["advice"]:
            if advice["rule"] not in {a["rule"] for a in full["advice"]} and gone in hive["unknown"]:
                assert gone not in {e["fact"] for e in advice["evidence"] if e["value"] is not None}, (
                    gone,
                    advice["rule"],
                )


def test_every_observed_fact_of_the_table_has_words_for_how_to_see_it():
    for row in TAKEN_AWAY:
        assert words().facts[row[5]].how, row[5]

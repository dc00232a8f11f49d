"""What is known from day to day: what one entry makes unknown in others, what is counted on, and that nothing known vanishes."""

from __future__ import annotations

import numpy as np
import pytest
from test_record_doing import done, seen
from test_record_known import DAY, YARD, entry, later, record

from hiveweek import climate, vocabulary
from hiveweek.facts import build
from hiveweek.facts.scenario import scenario_of_record
from hiveweek.record import Kind

WORDS = vocabulary.load()
PLACE = climate.load_profile("cool_continental")
HIVE = {"hive.size": "single", "hive.frames": 10, "hive.frame": "deep", "hive.supers": 0}


def known(kept, fact: str, days: int, hive: int = 0):
    """Return what is known of a fact on a day, and where it comes from."""
    table = build(scenario_of_record(kept, YARD, later(days)), profile=PLACE).table
    origin = table.column(fact).origin
    return table.plain(hive, fact), origin and origin[hive]


def box(number: int, days: int = -30, hive: str = "ash", **more):
    return entry(number, Kind.SET, hive, days, facts={**HIVE, **{k.replace("__", "."): v for k, v in more.items()}})


COUNTED = seen(2, 0, colony__frames_of_bees=8.0, food__stores_kg=12.0, colony__queen="seen")


# --- what one entry makes unknown in others -----------------------------------------------------------------------------
def test_robbers_leave_stores_and_queen_unknown():
    """What is left after a raid is often nothing, and queens are lost in the fight (S61a)."""
    kept = record(box(1), COUNTED, seen(3, 3, colony__robbed=True))
    assert known(kept, "food.stores_kg", 2)[0] > 10
    for fact in ("food.stores_kg", "food.days_left", "colony.queen"):
        assert known(kept, fact, 4)[0] is None, fact
    assert known(kept, "colony.frames_of_bees", 4)[0] is not None
    assert known(kept, "colony.days_since_robbed", 9)[0] == 6
    again = record(box(1), COUNTED, seen(3, 3, colony__robbed=True), seen(4, 5, food__stores_kg=4.0))
    assert known(again, "food.stores_kg", 5)[0] == 4
    same_look = record(box(1), seen(2, 0, colony__frames_of_bees=8.0, food__stores_kg=12.0, colony__robbed=True))
    assert known(same_look, "food.stores_kg", 0)[0] == 12, "weighed beside the robbers"
    verdict = record(box(1), seen(2, 0, colony__queen="queenless"), seen(3, 3, colony__robbed=True))
    assert known(verdict, "colony.queen", 9)[0] == "queenless", "robbers bring no queen"


def test_a_heap_of_dead_takes_the_count_of_bees():
    """Dead in front are a tenth or two of the loss (D10)."""
    kept = record(box(1), COUNTED, seen(3, 3, colony__dead_in_front="heap"))
    assert known(kept, "colony.frames_of_bees", 4)[0] is None and known(kept, "colony.queen", 4)[0] is None
    some = record(box(1), COUNTED, seen(3, 3, colony__dead_in_front="some"))
    assert known(some, "colony.frames_of_bees", 4)[0] is not None


def test_a_swarm_carries_honey_off():
    gone = entry(3, Kind.SET, "ash", 3, facts={"colony.queen_event": "swarmed", "colony.queen_event_on": later(3)})
    bees = seen(4, 3, colony__frames_of_bees=8.0)
    left, all_there = (known(record(box(1), COUNTED, bees, *more), "food.stores_kg", 4)[0] for more in ((gone,), ()))
    assert left == pytest.approx(all_there - 2, abs=0.2)


def test_a_box_more_ends_a_weight():
    weighed = seen(2, 0, colony__frames_of_bees=8.0, food__hive_weight_kg=32.0)
    super_on = entry(3, Kind.SET, "ash", 2, facts={"hive.supers": 1})
    assert known(record(box(1), weighed), "food.hive_weight_kg", 3)[0] == 32
    assert known(record(box(1), weighed, super_on), "food.hive_weight_kg", 3)[0] is None


def test_a_restocked_box_keeps_what_its_combs_carry():
    """A cause that was not found, and a suspicion, stay on box and combs (P29)."""
    died = entry(2, Kind.SET, "ash", 0, facts={"colony.death_cause": "not_found"})
    kept = record(
        box(1), died, seen(3, 0, colony__alive=False, health__lab_result="afb"), done(4, "install-package", 20)
    )
    assert known(kept, "colony.death_cause", 21)[0] == "not_found"
    assert known(kept, "health.lab_result", 21)[0] == "afb"
    assert known(kept, "colony.alive", 21)[0] is None


def test_uniting_brings_a_suspicion_and_an_open_course_to_both():
    sign = seen(2, 0, health__sunken_caps=True)
    strips = done(3, "treat-mites", 1, active="amitraz")
    joined = entry(4, Kind.DONE, "ash", 5, action="unite-colonies", details={"partner": "elm"})
    kept = record(box(1), box(5, hive="elm"), sign, strips, joined, hives=("ash", "elm"))
    for hive in (0, 1):
        assert known(kept, "health.sunken_caps", 6, hive)[0] is True
        assert known(kept, "mites.in_hive", 6, hive)[0] == "amitraz"
    cleared = seen(6, 3, health__cleared_on=later(3))
    kept = record(box(1), box(5, hive="elm"), sign, cleared, joined, hives=("ash", "elm"))
    assert known(kept, "health.sunken_caps", 6, 1)[0] is None


# --- days of a trouble --------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("fact", "value", "days"),
    [
        ("colony.queen", "queenless", "colony.days_queenless"),
        ("colony.many_eggs_per_cell", True, "colony.days_laying_workers"),
        ("hive.entrance_blocked", True, "hive.days_blocked"),
        ("health.small_hive_beetle", "many", "health.days_beetles"),
    ],
)
def test_days_of_a_trouble_count_from_its_first_note(fact, value, days):
    name = fact.replace(".", "__")
    kept = record(box(1), seen(2, 0, **{name: value}), seen(3, 6, **{name: value}))
    assert [known(kept, days, day)[0] for day in (0, 6, 40)] == [0, 6, 40]
    other = next(v for v in WORDS.facts[fact].allowed if v != value)
    assert known(record(box(1), seen(2, 0, **{name: value}), seen(3, 6, **{name: other})), days, 8)[0] is None


def test_days_of_feed_count_from_the_day_it_went_on():
    kept = record(box(1), done(2, "feed-candy", 3, kg=2.0))
    assert known(kept, "food.days_candy_on", 17)[0] == 14 and known(kept, "food.days_syrup_on", 17)[0] is None


# --- carried on ---------------------------------------------------------------------------------------------------------
def test_a_heft_cuts_what_was_carried_on_and_counts_alone_where_it_does_not_fit():
    base = [box(1), seen(2, -40, colony__frames_of_bees=8.0, food__stores_kg=20.0)]
    fits = record(*base, seen(3, 0, food__heft="heavy"))
    assert known(fits, "food.stores_kg", 1)[1] == f"carried forward from {later(-40)}; cut by the heft of {DAY}"
    apart = record(*base, seen(3, -38, food__heft="light"))
    value, origin = known(apart, "food.stores_kg", -37)
    assert value < 6 and origin.startswith(f"carried forward from {later(-38)}; it does not fit what was carried")


def test_nothing_is_laid_where_there_is_no_queen_or_no_brood_was_found():
    lost = record(
        box(1), seen(2, 0, colony__frames_of_bees=8.0, colony__frames_of_brood=6.0, colony__queen="queenless")
    )
    there = record(box(1), seen(2, 0, colony__frames_of_bees=8.0, colony__frames_of_brood=6.0, colony__queen="seen"))
    queenless, laying = (known(kept, "colony.frames_of_brood", 20)[0] for kept in (lost, there))
    assert queenless == pytest.approx(6 * (20 / 21) ** 20, abs=1e-3) and laying > 2 * queenless
    none = record(box(1), seen(2, 0, colony__frames_of_bees=8.0, colony__frames_of_brood=0.0))
    assert [known(none, "colony.frames_of_brood", day)[0] for day in (1, 14)] == [0, 0]
    assert known(none, "colony.frames_of_brood", 20)[0] > 0


def test_bees_of_the_supers_stay_when_the_supers_come_off():
    """Nobody loses bees by taking honey."""
    counted = seen(2, 0, colony__frames_of_bees=9.0, colony__super_frames_of_bees=8.0, colony__frames_of_brood=8.0)
    kept = record(box(1, hive__supers=1), counted, entry(3, Kind.SET, "ash", 8, facts={"hive.supers": 0}))
    before, after = (known(kept, "colony.bees", day)[0] for day in (7, 8))
    assert after == pytest.approx(before, rel=0.05)
    assert known(kept, "colony.frames_of_bees", 8)[0] == 9, "the box is full"


NUMBERS = ("food.stores_kg", "food.need_kg", "food.use_kg_week", "food.sugar_kg", "food.days_left", "colony.bees")
WALKS = [
    ("cool_continental", 0),
    ("mediterranean", 60),
    ("boreal", 120),
    ("humid_continental", 250),
    ("southern_maritime", 120),
    ("warm_winter", 250),
]


@pytest.mark.parametrize(("profile", "shift"), WALKS)
def test_numbers_of_a_hive_never_jump_and_are_lost_once_at_most(profile, shift):
    """Law E over sixty days without an entry, from several days of the year: a nucleus, a hive and a double with a super."""
    place = climate.load_profile(profile)
    hives = ("nuc", "one", "two")
    boxes = [
        box(1, -200, "nuc", hive__size="nuc", hive__frames=5),
        box(2, -200, "one"),
        box(3, -200, "two", hive__size="double", hive__frames=20, hive__supers=1),
    ]
    looks = [
        entry(4, Kind.SEEN, "nuc", 0, facts={"colony.frames_of_bees": 3.0, "food.stores_kg": 4.0, "colony.frames_of_brood": 2.0}),
        entry(5, Kind.SEEN, "one", 0, facts={"colony.frames_of_bees": 8.0, "food.frames_of_stores": 5.0}),
        entry(6, Kind.SEEN, "two", 0, facts={"colony.frames_of_bees": 15.0, "food.stores_kg": 25.0, "colony.super_frames_of_bees": 6.0, "colony.frames_of_brood": 9.0}),
    ]  # fmt: skip
    moved = [e.__class__(**{**{f: getattr(e, f) for f in e.__slots__}, "date": later(shift)}) for e in looks]
    kept = record(*boxes, *moved, hives=hives)
    walk: dict[str, list[np.ndarray]] = {name: [] for name in NUMBERS}
    for day in range(61):
        table = build(scenario_of_record(kept, YARD, later(shift + day)), profile=place).table
        for name in NUMBERS:
            walk[name].append(table.column(name).value.copy())
    for name, values in walk.items():
        found = np.array(values)
        gone = np.isnan(found)
        assert (np.diff(gone.astype(int), axis=0) >= 0).all(), (name, "comes back by itself")
        least = np.minimum(found[1:], found[:-1])
        passes = 1.0 if name == "food.days_left" else 0.0  # a day is gone each day
        jump = np.nan_to_num(np.abs(np.diff(found, axis=0)) - np.maximum(least / 5, 0.5) - passes, nan=-1.0)
        day, hive = np.unravel_index(np.argmax(jump), jump.shape)
        near = found[max(day - 1, 0) : day + 3, hive].round(2).tolist()
        assert jump[day, hive] <= 1e-3, (name, shift, int(day), hives[hive], near)

"""What is known at each hive, from the entries of a record."""

from __future__ import annotations

import datetime as dt
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hiveweek import climate, vocabulary
from hiveweek.facts import build
from hiveweek.facts.scenario import scenario_of_record
from hiveweek.record import Apiary, Entry, Hive, Kind, Placement, Record
from hiveweek.record.known import history_of

WORDS = vocabulary.load()
DAY = dt.date(2026, 6, 1)
YARD, OTHER = "yard", "other"


def later(days: int) -> dt.date:
    return DAY + dt.timedelta(days=days)


def entry(number: int, kind: Kind, hive: str | None, days: int, apiary: str = YARD, **more) -> Entry:
    return Entry(str(number), kind, apiary, hive, later(days), sequence=number, **more)


def record(*entries: Entry, hives=("ash",), moved: dict | None = None) -> Record:
    places = {h: (Placement(YARD, later(-400)), *(moved or {}).get(h, ())) for h in hives}
    return Record(
        {name: Apiary(name, name, climate="boreal") for name in (YARD, OTHER)},
        {h: Hive(h, h.title(), places[h]) for h in hives},
        list(entries),
    )


def latest(kept: Record, fact: str, days: int = 0, apiary: str = YARD):
    found = history_of(kept, apiary, list(kept.hives), later(days), WORDS)
    values, seen = found.latest(fact)
    return [
        None if value != value else (WORDS.facts[fact].decode(value), int(day) - DAY.toordinal())
        for value, day in zip(values, seen, strict=True)
    ]


def test_what_is_set_holds_from_the_day_it_names():
    kept = record(entry(1, Kind.SET, "ash", 0, facts={"hive.size": "double"}, since=later(-20)))
    assert latest(kept, "hive.size") == [("double", -20)]


def test_a_hives_own_value_counts_before_its_apiarys_of_that_day():
    own = entry(1, Kind.SEEN, "ash", 0, facts={"colony.wasps": "none"})
    whole = entry(2, Kind.SEEN, None, 0, facts={"colony.wasps": "many"})
    kept = record(own, whole, hives=("ash", "elm"))
    assert latest(kept, "colony.wasps") == [("none", 0), ("many", 0)]


def test_a_moved_hive_leaves_its_place_behind_and_finds_that_of_the_new_one():
    kept = record(
        entry(1, Kind.SET, None, -30, facts={"site.wind": "exposed"}),
        entry(2, Kind.SET, None, -300, OTHER, facts={"site.wind": "sheltered"}),
        entry(3, Kind.SEEN, None, -30, facts={"colony.wasps": "few"}),
        entry(4, Kind.SEEN, None, -29, OTHER, facts={"colony.wasps": "many"}),
        moved={"ash": (Placement(OTHER, later(-10)),)},
    )
    assert latest(kept, "site.wind", apiary=OTHER) == [("sheltered", -300)]
    assert latest(kept, "colony.wasps", apiary=OTHER) == [("few", -30)], "seen at the hives that stood there then"
    assert latest(kept, "site.wind", apiary=YARD) == [("exposed", -30)]


def test_corrected_and_withdrawn_entries_do_not_count():
    first = entry(1, Kind.SEEN, "ash", -3, facts={"food.stores_kg": 8})
    corrected = entry(2, Kind.SEEN, "ash", -3, facts={"food.stores_kg": 6}, replaces="1")
    kept = record(first, corrected)
    assert latest(kept, "food.stores_kg") == [(6.0, -3)]
    kept.withdrawn = {"2"}
    assert latest(kept, "food.stores_kg") == [(8.0, -3)]


@given(st.lists(st.tuples(st.integers(-60, 0), st.integers(0, 30)), max_size=12), st.randoms(use_true_random=False))
def test_knowledge_does_not_depend_on_the_order_of_writing(rows: list[tuple[int, int]], luck: random.Random):
    """Entries of different days may be written in any order; only within a day the order of writing counts."""
    by_day = dict(rows)
    entries = [
        entry(i, Kind.SEEN, "ash", day, facts={"food.stores_kg": kg}) for i, (day, kg) in enumerate(by_day.items())
    ]
    straight = latest(record(*entries), "food.stores_kg")
    numbers = [e.sequence for e in entries]
    luck.shuffle(numbers)
    mixed = [
        entry(n, Kind.SEEN, "ash", (e.date - DAY).days, facts=dict(e.facts))
        for n, e in zip(numbers, entries, strict=True)
    ]
    luck.shuffle(mixed)
    assert latest(record(*mixed), "food.stores_kg") == straight
    assert straight == ([(float(by_day[max(by_day)]), max(by_day))] if by_day else [None])


@given(st.integers(1, 400), st.floats(0, 40))
def test_an_old_entry_below_a_newer_one_changes_nothing(age: int, kg: float):
    newer = entry(1, Kind.SEEN, "ash", 0, facts={"food.stores_kg": 8})
    older = entry(2, Kind.SEEN, "ash", -age, facts={"food.stores_kg": kg})
    assert latest(record(newer, older), "food.stores_kg") == latest(record(newer), "food.stores_kg")


def test_a_record_asks_its_question_for_the_hives_that_stand_there():
    kept = record(
        entry(1, Kind.SET, "ash", -5, facts={"hive.size": "double"}),
        entry(2, Kind.SEEN, "ash", 3, facts={"colony.alive": False}),
        hives=("ash", "elm"),
        moved={"elm": (Placement(OTHER, later(-2)),)},
    )
    asked = scenario_of_record(kept, YARD, DAY)
    assert [hive.id for hive in asked.hives] == ["Ash"] and asked.climate == "boreal"
    built = build(asked, profile=climate.load_profile("boreal"))
    assert built.table.plain(0, "hive.size") == "double"
    assert built.alive.all(), "what is written of a later day does not count yet"
    assert not build(asked, later(3), profile=climate.load_profile("boreal")).alive.any()
    with pytest.raises(KeyError):
        scenario_of_record(kept, "no such place", DAY)

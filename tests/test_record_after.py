"""What becomes of what was seen as it grows old: it stands until it is ended, turns into another, or fades."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from test_record_doing import done, seen
from test_record_known import DAY, YARD, later, record

from hiveweek import climate, vocabulary
from hiveweek.facts import build
from hiveweek.facts.scenario import scenario_of_record

WORDS = vocabulary.load()
OBSERVED = [fact for fact in WORDS.facts.values() if fact.comes_from == "observed"]
STANDING = [(fact, value) for fact in OBSERVED for value in fact.stands]
BOREAL = climate.load_profile("boreal")


def known(kept, fact: str, days: int):
    """Return what is known of a fact and where it comes from, on a day."""
    table = build(scenario_of_record(kept, YARD, later(days)), profile=BOREAL).table
    origin = table.column(fact).origin
    return table.plain(0, fact), origin and origin[0]


def test_every_observed_fact_says_what_becomes_of_it():
    assert all(fact.after for fact in OBSERVED)
    assert not [fact.id for fact in WORDS.facts.values() if fact.after and fact.comes_from != "observed"]


def test_a_dead_hive_stays_dead():
    kept = record(seen(1, 0, colony__alive=False))
    assert known(kept, "colony.alive", 28) == (False, f"seen {DAY}")
    for days in (29, 60, 400):
        assert known(kept, "colony.alive", days) == (False, f"not looked at since {DAY}")
    again = record(seen(1, 0, colony__alive=False), done(2, "install-package", 40))
    assert known(again, "colony.alive", 39)[0] is False and known(again, "colony.alive", 41)[0] is None


@pytest.mark.parametrize(("fact", "value"), STANDING, ids=lambda x: getattr(x, "id", str(x)))
def test_what_stands_never_vanishes_because_a_note_grew_old(fact, value):
    """Law E: trouble stands until it is ended."""
    kept = record(seen(1, 0, **{fact.id.replace(".", "__"): value}))
    for days in (0, fact.keeps, fact.keeps + 1, 200):
        assert known(kept, fact.id, days)[0] == value, days


def test_an_empty_feeder_is_empty_until_it_is_filled_taken_off_or_looked_at():
    empty = seen(1, 0, food__feed_on="thick_syrup", food__feed_taken="empty")
    assert known(record(empty), "food.feed_taken", 30)[0] == "empty"
    for job, said in (("feed-thick-syrup", {"litres": 2}), ("stop-liquid-feed", {})):
        assert known(record(empty, done(2, job, 10, **said)), "food.feed_taken", 11)[0] is None
    assert known(record(empty, seen(2, 10, food__feed_taken="taking")), "food.feed_taken", 11)[0] == "taking"


def test_what_ends_a_trouble():
    """Queenless ends with eggs seen (single ones, later), a queen given, or uniting; laying workers never by themselves."""
    verdict = seen(1, 0, colony__queen="queenless", colony__many_eggs_per_cell=True)
    assert known(record(verdict, seen(2, 12, colony__eggs=True)), "colony.queen", 13)[0] is None
    assert known(record(verdict, seen(2, 12, colony__eggs=False)), "colony.queen", 13)[0] == "queenless"
    assert known(record(verdict, seen(2, 12, colony__queen="seen")), "colony.queen", 13)[0] == "seen"
    for job, said in (("requeen", {}), ("unite-colonies", {"partner": "elm"})):
        ended = record(verdict, done(2, job, 12, **said), hives=("ash", "elm"))
        assert known(ended, "colony.queen", 13)[0] is None
        assert known(ended, "colony.many_eggs_per_cell", 13)[0] is None


def test_signs_of_disease_end_by_the_authority_or_a_laboratory_only():
    sign = seen(1, 0, health__ropy_larvae=True)
    clean = seen(2, 30, health__ropy_larvae=False)
    assert known(record(sign, clean), "health.ropy_larvae", 31) == (True, f"seen {DAY}")
    assert known(record(sign, seen(2, 30, health__lab_result="clear")), "health.ropy_larvae", 31)[0] is None
    assert known(record(sign, seen(2, 30, health__lab_result="nosema")), "health.ropy_larvae", 31)[0] is True
    assert known(record(sign, seen(2, 30, health__cleared_on=later(30))), "health.ropy_larvae", 31)[0] is None
    assert known(record(sign, done(2, "install-package", 30)), "health.ropy_larvae", 31)[0] is True, (
        "it sits in the combs"
    )


def test_cells_turn_by_the_clock():
    """A larva of a queen is capped on day 8 or 9 after the egg, and a queen emerges 7 to 8 days after (S51, T2, T3)."""
    kept = record(seen(1, 0, colony__queen_cells="charged", colony__queen="seen"))
    assert known(kept, "colony.queen_cells", 4) == ("charged", f"seen {DAY}")
    for days in (5, 12):
        assert known(kept, "colony.queen_cells", days) == ("capped", f"by the clock from {DAY}")
    assert known(kept, "colony.queen", 12)[0] == "seen"
    assert known(kept, "colony.queen_cells", 13)[0] is None
    for days in (13, 34):
        assert known(kept, "colony.queen", days) == ("virgin", f"by the clock from {DAY}")
    assert known(kept, "colony.queen", 35)[0] is None, "a virgin that old is a queen or lost: look"


def test_a_later_look_counts_before_the_clock():
    cells = seen(1, 0, colony__queen_cells="capped")
    cut = record(cells, seen(2, 3, colony__queen_cells="none"))
    assert known(cut, "colony.queen", 9)[0] is None and known(cut, "colony.queen_cells", 9)[0] == "none"
    assert known(record(cells, done(2, "split-colony", 3)), "colony.queen", 9)[0] is None
    assert known(record(cells, seen(2, 9, colony__queen="seen")), "colony.queen", 10)[0] == "seen"


@given(st.sampled_from(OBSERVED), st.integers(0, 60), st.data())
def test_nothing_known_vanishes_but_by_what_its_fact_says(fact, days: int, data):
    """A day walk of one note: it is there, has turned, or its days are over."""
    values = fact.allowed or (data.draw(st.integers(int(fact.low or 0), int(min(fact.high or 9, 60)))),)
    if fact.kind in ("date", "text"):
        values = (DAY + dt.timedelta(days=90),) if fact.kind == "date" else ("x",)
    value = data.draw(st.sampled_from(values))
    kept = record(seen(1, 0, **{fact.id.replace(".", "__"): value}))
    found, origin = known(kept, fact.id, days)
    if fact.id in ("colony.frames_of_bees", "colony.frames_of_brood"):
        assert found is not None or days > fact.keeps, (fact.id, origin)
    elif value in fact.stands or (days <= fact.keeps and fact.after != "becomes" and fact.id != "food.stores_kg"):
        assert found == value, (fact.id, origin)
    elif fact.after == "fades" and days > fact.keeps:
        assert found is None or not str(origin).startswith("seen"), (fact.id, origin)

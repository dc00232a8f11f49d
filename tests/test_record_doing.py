"""What jobs noted as done make of what is known, and the entries of a record in a scenario file."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest
from test_record_known import DAY, YARD, entry, later, latest, record

from hiveweek import climate, vocabulary
from hiveweek.facts import build, scenario_of
from hiveweek.facts.scenario import scenario_of_record
from hiveweek.facts.treatments import treatment_facts
from hiveweek.problems import InputProblems
from hiveweek.record import Kind
from hiveweek.record.entries import in_order
from hiveweek.record.known import history_of
from hiveweek.shapes import marked_yaml

WORDS = vocabulary.load()


def done(number: int, action: str, days: int, hive: str | None = "ash", **details):
    return entry(number, Kind.DONE, hive, days, action=action, details=details)


def seen(number: int, days: int, hive="ash", **facts):
    return entry(number, Kind.SEEN, hive, days, facts={k.replace("__", "."): v for k, v in facts.items()})


def facts_of(kept, days=0):
    return build(scenario_of_record(kept, YARD, later(days)), profile=climate.load_profile("boreal")).table


def test_syrup_by_the_litre_is_sugar_by_the_recipe():
    """2:1 by weight at 1.33 kg a litre: two thirds of 4 L x 1.33 kg are sugar."""
    kept = record(done(1, "feed-thick-syrup", 0, litres=4))
    (given, day) = latest(kept, "food.fed_kg")[0]
    assert given == pytest.approx(4 * 1.33 * 2 / 3, rel=0.01) and day == 0
    assert latest(kept, "food.feed_on") == [("thick_syrup", 0)]


def test_what_was_seen_and_fed_on_one_day_adds_up():
    """8 kg seen and feed of 4 kg of stores given after it make 12: sugar gives 0.93 to 1.25 times its weight of stores."""
    hive = {"colony__frames_of_bees": 8, "hive__frame": "deep"}
    look = seen(1, 0, food__stores_kg=8, **hive)
    plain = facts_of(record(look)).column("food.stores_kg").value[0]
    fed = facts_of(record(look, done(2, "feed-dry-sugar", 0, kg=4))).column("food.stores_kg")
    assert plain == 8
    assert fed.low[0] <= 8 + 0.93 * 4 + 0.1 and fed.high[0] >= 8 + 1.25 * 4 - 0.1
    assert fed.value[0] == pytest.approx(8 + 1.2 * 4, abs=0.3)


def test_stores_noted_after_the_feed_of_a_day_have_it_in_them_unless_one_note_says_both():
    hive = {"colony__frames_of_bees": 8, "hive__frame": "deep"}
    before, fed = seen(1, 0, food__stores_kg=8, **hive), done(2, "feed-dry-sugar", 0, kg=4)
    look = seen(3, 0, food__stores_kg=12)
    assert facts_of(record(before, fed, look)).column("food.stores_kg").value[0] == 12
    one_note = [dataclasses.replace(item, note="n") for item in (fed, look)]
    after = facts_of(record(before, *one_note)).column("food.stores_kg").value[0]
    assert after == pytest.approx(12 + 1.2 * 4, abs=0.3), "what was seen in a note was seen before what was done in it"


def test_stores_noted_after_the_harvest_of_a_day_are_not_lost():
    harvest = done(2, "take-honey", 0, supers_left=0)
    hive = seen(1, -1, food__stores_kg=20, colony__frames_of_bees=8, hive__frame="deep", hive__size="single")
    assert facts_of(record(hive, harvest, seen(3, 0, food__stores_kg=6))).column("food.stores_kg").value[0] == 6
    first = facts_of(record(hive, seen(2, 0, food__stores_kg=6), done(3, "take-honey", 0, supers_left=0)))
    assert first.column("food.stores_kg").value[0] != 6, "what was there before the harvest says little of what is left"


def test_a_correction_takes_the_place_of_what_it_corrects():
    hive = {"colony__frames_of_bees": 8, "hive__frame": "deep"}
    before, fed = seen(1, 0, food__stores_kg=8, **hive), done(2, "feed-dry-sugar", 0, kg=4)
    mended = dataclasses.replace(seen(3, 0, food__stores_kg=6, **hive), replaces="1")
    fed_after = facts_of(record(before, fed, mended)).column("food.stores_kg").value[0]
    assert fed_after == pytest.approx(6 + 1.2 * 4, abs=0.3)
    assert [one.id for one in in_order([fed, mended])] == ["3", "2"], "what it corrects is not at hand"


def test_entries_with_a_time_stand_by_it_and_those_without_where_they_were_entered():
    at = [seen(n, 0, colony__temper="calm") for n in range(1, 6)]
    timed = {2: dt.time(14, 0), 4: dt.time(9, 0)}
    mixed = [dataclasses.replace(one, time=timed.get(one.sequence)) for one in at]
    assert [one.sequence for one in in_order(reversed(mixed))] == [1, 4, 2, 3, 5]


def test_a_job_counts_once_a_day_and_two_feeds_of_a_day_add_up():
    twice = record(done(1, "add-super", 0), done(2, "add-super", 0), seen(3, -9, hive__supers=1))
    assert latest(twice, "hive.supers") == [(2, 0)]
    both = record(done(1, "feed-candy", 0, kg=2), done(2, "feed-dry-sugar", 0, kg=1), seen(3, 0, food__fed_kg=9))
    assert latest(both, "food.fed_kg")[0][0] == pytest.approx(2 * 0.85 + 1)


def test_a_detail_that_was_not_said_leaves_unknown_what_depends_on_it():
    boxed = record(seen(1, -9, hive__size="nuc", hive__frames=5), done(2, "move-to-larger-box", 0, size="single"))
    assert latest(boxed, "hive.size") == [("single", 0)] and latest(boxed, "hive.frames") == [None]
    uncounted = record(done(1, "add-super", 0))
    assert latest(uncounted, "hive.supers") == [None], "one more than nobody knows how many is not known"


@pytest.mark.parametrize(("before", "after"), [(None, 1), (0, 1), (3, 4)])
def test_what_comes_into_stock_is_there_though_nobody_counted_before(before, after):
    counted = [] if before is None else [entry(1, Kind.SET, "ash", -1, facts={"stock.queens": before})]
    assert latest(record(*counted, done(2, "order-queen", 0)), "stock.queens")[0] == (after, 0)


def test_not_known_again():
    kept = record(seen(1, -9, hive__supers=2), entry(2, Kind.SET, "ash", -1, facts={"hive.supers": None}))
    assert latest(kept, "hive.supers") == [None] and latest(kept, "hive.supers", -2) == [(2, -9)]


def test_a_treatment_runs_from_the_day_it_was_noted_as_done():
    kept = record(done(1, "treat-mites", 0, active="amitraz", form="strip"), done(2, "remove-treatment", 45))
    for days in (1, 36, 44):
        history = history_of(kept, YARD, ["ash"], later(days), WORDS)
        assert treatment_facts(history)["mites.days_in_hive"][0][0] == days
    history = history_of(kept, YARD, ["ash"], later(50), WORDS)
    assert treatment_facts(history)["mites.treated_days_ago"][0][0] == 5


def test_a_treatment_whose_active_nobody_knows_is_one_all_the_same():
    counted = seen(1, -1, mites__sample_mites=9, mites__sample_bees=300)
    kept = record(counted, done(2, "treat-mites", 0, active="unknown"))
    history = history_of(kept, YARD, ["ash"], DAY, WORDS)
    assert history.acts("treatment") == [[DAY.toordinal()]]
    assert facts_of(record(counted)).plain(0, "mites.sample_mites") == 9
    assert facts_of(kept).plain(0, "mites.sample_mites") is None
    oxalic = record(done(1, "treat-oxalic-broodless", 0, form="dribble"))
    assert facts_of(oxalic).plain(0, "mites.last_active") == "oxalic"


def test_uniting_concerns_both_hives_and_one_of_the_yard_all():
    kept = record(
        done(1, "unite-colonies", 0, partner="elm"),
        entry(2, Kind.DONE, "ash", 0, action="fence-apiary"),
        entry(3, Kind.DONE, None, 0, action="reduce-entrance"),
        hives=("ash", "elm", "fir"),
    )
    assert latest(kept, "colony.united_on") == [(DAY, 0), (DAY, 0), None]
    assert latest(kept, "site.fence") == [(True, 0)] * 3
    assert latest(kept, "hive.entrance") == [("reduced", 0)] * 3


def test_a_look_before_the_job_of_the_day_counts_no_longer():
    light = seen(1, 0, food__heft="light")
    assert facts_of(record(light)).plain(0, "food.heft") == "light"
    assert facts_of(record(light, done(2, "feed-candy", 0, kg=2))).plain(0, "food.heft") is None


# --- scenario files
FILE = """\
climate: boreal
date: 2026-06-01
hives:
  - id: Ash
    facts: {hive.size: nuc}
    facts_on: 2026-05-01
    record:
      - {date: 2026-05-17, set: {hive.size: single}}
      - {date: 2026-05-18, seen: {food.stores_kg: 3}, who: Ann}
      - {date: 2026-05-19, done: feed-thin-syrup, litres: 2}
      - {date: 2026-05-20, answered: add-super, later: 2026-06-08}
      - {date: 2026-05-20, remark: bring a lid next time}
      - {date: 2026-05-21, done: unite-colonies, partner: Elm}
  - id: Elm
    facts: {hive.size: double}
"""


def read(text):
    return scenario_of(marked_yaml.parse(text, "case.yaml"))


def problems(text):
    with pytest.raises(InputProblems) as caught:
        read(text)
    return caught.value.problems


def test_a_file_with_a_record():
    scenario = read(FILE)
    assert [e.kind for e in scenario.hives[0].entries] == ["set", "seen", "done", "answered", "remark", "done"]
    table = build(scenario, profile=climate.load_profile("boreal")).table
    assert table.plain(0, "hive.size") == "single", "the facts are of the first of May"
    assert table.plain(0, "colony.united_on") == table.plain(1, "colony.united_on") == dt.date(2026, 5, 21)


@pytest.mark.parametrize(
    ("old", "new", "code", "said"),
    [
        ("    facts_on: 2026-05-01\n", "", "overruled", "single on 2026-05-17 at line 7"),
        ("facts_on: 2026-05-01", "facts_on: 2026-06-02", "date-ahead", "2026-06-02"),
        (", litres: 2}", "}", "missing-detail", "litres"),
        (", litres: 2}", ", litres: 2, frames: 1}", "not-here", "frames"),
        (", litres: 2}", ", litres: 2000}", "out-of-range", "200"),
        ("done: feed-thin-syrup", "done: feed-thin-sirup", "unknown-action", "feed-thin-syrup"),
        ("litres: 2}", "liters: 2}", "unknown-key", "litres"),
        ("partner: Elm", "partner: Elf", "unknown-hive", "Elm"),
        (", later: 2026-06-08", "", "missing-key", "later"),
        ("who: Ann", "since: 2026-05-01", "not-here", "set"),
        ("2026-05-19", "2026-06-19", "date-ahead", "2026-06-19"),
        ("seen: {food.stores_kg: 3}", "seen: {food.stores: 3}", "unknown-fact", "food.stores_kg"),
        ("remark: bring a lid next time", "time: '08:30'", "", "seen"),
    ],
)
def test_what_is_wrong_with_an_entry_is_told(old, new, code, said):
    assert old in FILE
    found = problems(FILE.replace(old, new))
    assert any((not code or p.code == code) and said in p.message for p in found), found

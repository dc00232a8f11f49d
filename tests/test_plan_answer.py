"""From a scenario to the answer, under a small ruleset."""

import copy
import dataclasses
import datetime as dt

import pytest
from plan_kit import Book, words

from hiveweek import facts
from hiveweek.numbers import shipped
from hiveweek.plan.answer import answer, profile_of
from hiveweek.record import Answer, Entry, Kind
from hiveweek.texts.parts import message

TEXT = """
scenario: small
climate: cool_continental
date: 2026-03-10
apiary: {name: Alder Bank, OVERRIDE}
hives:
  - id: H1
    facts: {food.stores_kg: 4, colony.frames_of_bees: 5, colony.alive: true}
"""


def scenario(tmp_path, override=""):
    path = tmp_path / "s.yaml"
    path.write_text(TEXT.replace(", OVERRIDE", override), encoding="utf-8")
    return facts.read_scenario(path, words=words())


def ruleset():
    book = Book()
    book.rule("f.candy", "food.stores_kg < 5", "feed-candy", gain=40, by=0)
    return dataclasses.replace(book.ruleset(), numbers=shipped())


def test_an_answer_carries_its_day_place_and_facts(tmp_path):
    read = scenario(tmp_path)
    found = answer(read, offline=True, second_channel=False, words=words(), ruleset=ruleset())
    assert [(a.action, a.points) for a in found.plan.hives[0].advice] == [("feed-candy", 40)]
    assert found.date == found.plan.date == dt.date(2026, 3, 10)
    assert (found.plan.climate, found.plan.name) == ("cool_continental", "Alder Bank")
    assert found.plan.channels == {"columnar": "answered", "rete": "not asked"}
    assert (found.differences, found.notes, found.plan.hives[0].facts) == ([], [], {})
    assert found.plan.phase == found.profile.calendar.phase(found.date)
    assert found.plan.weather["basis"] == found.weather.basis and found.plan.best_day == found.weather.best_day
    assert found.inference.table.plain(0, "food.stores_kg") == 4
    later = answer(
        read,
        date=dt.date(2026, 5, 10),
        offline=True,
        second_channel=False,
        words=words(),
        ruleset=ruleset(),
        with_facts=True,
    )
    assert later.date == later.plan.date == dt.date(2026, 5, 10)
    assert later.plan.hives[0].facts["season.phase"]["value"] == later.plan.phase
    assert later.plan.hives[0].facts["food.stores_kg"]["origin"] != "seen 2026-05-10"


def test_a_forecast_is_read(tmp_path):
    csv = tmp_path / "f.csv"
    rows = "".join(f"2026-03-{day},1,{day}\n" for day in range(10, 17))
    csv.write_text("date,tmin_c,tmax_c\n" + rows, encoding="utf-8")
    found = answer(scenario(tmp_path), forecast=csv, second_channel=False, words=words(), ruleset=ruleset())
    assert found.plan.weather["basis"] == "forecast" and found.plan.weather["high_c"] is not None
    assert found.plan.weather["low_c"] == 1


def test_an_apiary_with_dates_of_its_own(tmp_path):
    own = ", overrides: {first_pollen: {from: 03-01, to: 03-05, note: hazel}}"
    profile = profile_of(scenario(tmp_path, own))
    assert profile.calendar.events["first_pollen"] == ("03-01", "03-05")
    plain = profile_of(scenario(tmp_path))
    assert plain.id == "cool_continental" and plain.calendar.events["first_pollen"] != ("03-01", "03-05")


def test_shipped_rules_and_weights_where_none_are_given(tmp_path):
    found = answer(scenario(tmp_path), offline=True, second_channel=False)
    assert len(found.inference.ruleset.rules) > 50 and found.plan.hives[0].advice
    assert found.plan.rulesets == list(found.inference.ruleset.versions)
    assert "cool_continental" in {part["name"] for part in found.plan.rulesets}


def test_the_words_that_are_given_are_those_of_the_facts(tmp_path):
    mine = copy.copy(words())
    found = answer(scenario(tmp_path), offline=True, second_channel=False, words=mine, ruleset=ruleset())
    assert found.inference.table.vocabulary is mine


def test_the_second_channel_is_stopped_when_the_answer_fails(tmp_path, monkeypatch):
    from hiveweek.plan import answer as room

    stopped = []

    class Started:
        def __init__(self, *given):
            self.given = given

        def give(self, table):
            raise RuntimeError("no table")

        def stop(self):
            stopped.append(self.given[2])

    monkeypatch.setattr(room.channel, "Started", Started)
    with pytest.raises(RuntimeError, match="no table"):
        answer(scenario(tmp_path), offline=True, words=words(), ruleset=ruleset())
    assert stopped == [1]


def test_what_the_second_channel_says_is_carried(tmp_path, monkeypatch):
    from hiveweek.plan import answer as room

    class Started:
        def __init__(self, rules, vocabulary, hives):
            assert (vocabulary, hives) == (words(), 1) and "f.candy" in rules.rules

        def give(self, table):
            self.table = table

        def finish(self, inference):
            assert inference.table is self.table
            made = dataclasses.make_dataclass("Difference", ["what", "name", "hive"])("rule", "f.candy", "H1")
            return room.channel.ChannelResult("differs", [made], "they differ")

        def stop(self):
            self.table = None

    monkeypatch.setattr(room.channel, "Started", Started)
    found = answer(scenario(tmp_path), offline=True, words=words(), ruleset=ruleset())
    assert found.plan.channels == {"columnar": "answered", "rete": "differs"}
    assert found.plan.hives[0].advice[0].unverified
    assert [d.name for d in found.differences] == ["f.candy"] and found.notes == ["they differ"]


def test_what_the_record_of_a_file_answers_by_the_day_is_put_away(tmp_path):
    book = Book()
    book.rule("f.candy", "food.stores_kg < 5", "feed-candy", gain=5)
    small = dataclasses.replace(book.ruleset(), numbers=shipped())
    read = scenario(tmp_path)
    noted = dt.date(2026, 3, 11)
    read.hives[0].entries.append(Entry("", Kind.ANSWERED, "", None, noted, action="feed-candy", answer=Answer.NOT_HERE))

    def candy(day):
        found = answer(read, date=day, offline=True, second_channel=False, words=words(), ruleset=small)
        hive = found.plan.hives[0]
        return [a.action for a in hive.advice if a.action == "feed-candy"], [one.action for one in hive.put_away]

    assert candy(noted - dt.timedelta(days=1)) == (["feed-candy"], [])
    assert candy(noted) == ([], ["feed-candy"])


def test_what_a_file_sets_for_another_day_is_left_out_and_said(tmp_path):
    read = scenario(tmp_path)
    read.hives[0].facts["food.days_left"] = 3.0
    later = read.date + dt.timedelta(days=60)
    found = answer(read, date=later, offline=True, second_channel=False, words=words(), ruleset=ruleset())
    assert [str(note) for note in found.plan.notes] == [str(message("note.file-sets-other-day", date="2026-03-10"))]

"""Many apiaries at once: the same answers by one process and by several, whatever becomes of them."""

import dataclasses
import datetime as dt
import multiprocessing
import os
from contextlib import nullcontext

import pytest
from channels_kit import second

from hiveweek.facts.scenario import Apiary, Scenario, ScenarioHive
from hiveweek.inference import channel, rete
from hiveweek.plan.answer import answer
from hiveweek.plan.answers import Asking, answers
from hiveweek.problems import InputProblems, Problem
from hiveweek.show import json as as_json
from hiveweek.vocabulary import load

several = pytest.mark.skipif("fork" not in multiprocessing.get_all_start_methods(), reason="this system does not fork")


def yard(number):
    facts = {"food.stores_kg": 3.0 + number, "colony.frames_of_bees": 6, "colony.alive": True}
    climate = ("boreal", "cool_continental")[number % 2]
    return Scenario(
        f"yard {number}", climate, dt.date(2026, 2, 10), [ScenarioHive("A", facts)], Apiary(f"Yard {number}")
    )


YARDS = sorted(map(yard, range(8)), key=lambda one: one.climate)


def asking(processes, reading=lambda: nullcontext(lambda one: one)):
    return Asking(reading, lambda found: as_json.text(found.plan), load(), offline=True, processes=processes)


@pytest.fixture(scope="module")
def alone():
    return [as_json.text(answer(one, offline=True, second_channel=False).plan) for one in YARDS]


@several
@pytest.mark.parametrize("processes", [1, 2])
def test_many_are_answered_as_each_alone(alone, processes):
    found = answers(YARDS, asking(processes))
    assert [text.split('"rete"')[0] for text in found] == [text.split('"rete"')[0] for text in alone]
    assert [text.split('"hives"')[1] for text in found] == [text.split('"hives"')[1] for text in alone]
    if rete.available():
        assert all('"rete": "agrees"' in text for text in found)
    assert not [child for child in multiprocessing.active_children() if "Pool" not in child.name]


@several
def test_what_a_process_that_ends_had_in_hand_is_answered_here(alone):
    home = os.getpid()

    def reading():
        def read(one):
            if os.getpid() != home and one.title in ("yard 2", "yard 5"):
                os._exit(3)
            return one

        return nullcontext(read)

    found = answers(YARDS, asking(2, reading))
    assert [text.split('"hives"')[1] for text in found] == [text.split('"hives"')[1] for text in alone]


@several
@pytest.mark.parametrize("processes", [1, 2])
def test_what_is_wrong_with_one_is_told_and_the_others_are_answered(processes):
    fault = Problem("", 0, 0, "no-climate", "none")

    def read(one):
        if one.title == "yard 3":
            raise InputProblems([fault])
        return one

    found = answers(YARDS, asking(processes, lambda: nullcontext(read)))
    place = [one.title for one in YARDS].index("yard 3")
    assert found[place] == [fault]
    assert all(isinstance(text, str) for number, text in enumerate(found) if number != place)


@second
def test_a_second_channel_that_ends_is_started_again_a_few_times_only(monkeypatch):
    starts = []
    true = channel.Started.__init__

    def begun(self, *words, **more):
        starts.append(1)
        true(self, *words, **more)

    monkeypatch.setattr(channel.Started, "__init__", begun)
    monkeypatch.setattr(rete.Prepared, "run", lambda self, table: os._exit(7))
    boreal = [one for one in YARDS if one.climate == "boreal"]
    found = answers([*boreal, *boreal], asking(1))
    assert len(starts) == 3 and all('"rete": "failed"' in text for text in found)


@second
def test_a_lasting_channel_carries_tables_of_other_known_facts():
    """The intervals that matter differ from yard to yard: what was left out of one table must not be left out of the next."""
    yards = [
        yard(0),
        dataclasses.replace(yard(2), hives=[ScenarioHive("A", {"mites.drop_per_day": 4.0}), ScenarioHive("B")]),
    ]
    yards += [yards[0], yards[1]]
    found = answers(yards, asking(1))
    assert all('"rete": "agrees"' in text for text in found) and found[:2] == found[2:]

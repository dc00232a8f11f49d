"""Moved numbers reach what is computed: a store handed over is the only one read."""

import datetime as dt
import sys

import pytest

from hiveweek import climate, content, facts, numbers, vocabulary
from hiveweek.climate import weather

WORDS = vocabulary.load()


@pytest.fixture
def no_shipped(monkeypatch):
    """The shipped store cannot be had: whoever was given another and asks for it all the same fails."""

    def refuse():
        raise AssertionError("the shipped numbers were asked for although others were given")

    for name, module in list(sys.modules.items()):
        if name.startswith("hiveweek.") and getattr(module, "shipped", None) is numbers.shipped:
            monkeypatch.setattr(module, "shipped", refuse)


def demo():
    return facts.read_scenario(content.root() / "scenarios" / "demo.yaml", words=WORDS)


@pytest.mark.parametrize("month", [1, 4, 8, 11])
def test_facts_read_only_the_store_they_are_given(no_shipped_store, month):
    scenario, profile, store = no_shipped_store
    date = dt.date(scenario.date.year, month, 10)
    week = weather.week(profile, date, offline=True, numbers=store)
    assert facts.build(scenario, date, profile, week, WORDS, numbers=store).table is not None


@pytest.fixture
def no_shipped_store(request):
    scenario = demo()
    store = numbers.Numbers(dict(numbers.shipped().rows))
    profile = climate.load_profile(scenario.climate).with_numbers(store)
    request.getfixturevalue("no_shipped")
    return scenario, profile, store

"""A fact table with estimates, built without a file: what tests of the colony facts share."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from hiveweek import climate, rules, vocabulary
from hiveweek.colony.estimate import Estimate
from hiveweek.colony.year import plain
from hiveweek.facts import estimate_mites
from hiveweek.facts.estimates import EstimateContext, add_estimates
from hiveweek.facts.table import FactTable
from hiveweek.numbers import shipped
from hiveweek.record.history import History

WORDS = vocabulary.load()
HIVE = {"hive.frame": "deep", "hive.size": "single", "hive.frames": 10}


def table_of(profile, date, *hives, noted=(), numbers=None, fixed=None):
    """Return a table of hives (mappings of facts as seen on the date) with what was noted before: (day, fact, value)."""
    place = climate.load_profile(profile)
    names = [f"H{i}" for i in range(len(hives))]
    table, history = FactTable(WORDS, names), History(WORDS, names, date.toordinal())
    season = {**place.calendar.facts(date), **place.traits()}
    for row, facts in enumerate(hives):
        for fact, value in season.items():
            if fact in WORDS.facts:
                table.set_one(row, fact, WORDS.facts[fact].encode(plain(value)), origin="computed")
        for fact, value in facts.items():
            code = WORDS.facts[fact].encode(value)
            table.set_one(row, fact, code, origin=f"seen {date}")
            history.add(row, fact, date.toordinal(), code, snapshot=True)
        for day, fact, value in noted:
            history.add(row, fact, day.toordinal(), WORDS.facts[fact].encode(value))
    add_estimates(
        table,
        EstimateContext(
            [date], [0, len(names)], place.daily, [place.calendar], history, fixed or {}, numbers or shipped()
        ),
    )
    return table


def limits(**moved):
    """Return the shipped numbers with the limits of mite treatment that the models read, some of them moved."""
    found = rules.library(WORDS).limits
    rows = [found[name] for name in estimate_mites.LIMITS]
    return shipped().moved(replace(row, value=moved.get(row.name.rpartition(".")[2], row.value)) for row in rows)


def day(text):
    """Return a date from its ISO form."""
    return dt.date.fromisoformat(text)


def est(value, low, high):
    return Estimate(*(np.array([float(x)]) for x in (value, low, high)))


def parts(estimate):
    return [float(np.ravel(part)[0]) for part in estimate]


def assert_same(mine, theirs, rel=1e-9):
    assert mine == pytest.approx(theirs, rel=rel, abs=1e-9, nan_ok=True)

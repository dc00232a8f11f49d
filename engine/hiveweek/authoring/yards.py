"""Random yards of hives about the normal one: to see what a change of rules does where hives differ from it."""

from __future__ import annotations

import datetime as dt

import numpy as np

from hiveweek.authoring.normal import Colony
from hiveweek.facts.constraints import broken, facts_of
from hiveweek.facts.scenario import Apiary, Scenario, ScenarioHive
from hiveweek.vocabulary.model import Fact, Vocabulary
from hiveweek.vocabulary.normal import Normal


def random_yard(
    normal: Normal, words: Vocabulary, profile, date: dt.date, hives: int, rng: np.random.Generator
) -> Scenario:
    """Return a yard on a day: each hive like the normal colony there, with some facts otherwise and some not known.

    Parameters
    ----------
    profile : Profile
        Climate of the yard.
    date : date
    hives : int
        At least 1.
    rng : Generator
        The same generator state gives the same yard.
    """
    colony = Colony(normal, words, profile, date)
    usual = {**colony.now, **colony.seen()}
    usual["food.heft"] = None
    shares = normal.parts["random_yard"]
    earliest, latest = shares["counted_days_ago"]
    rows = []
    for number in range(hives):
        facts = {**usual, "food.stores_kg": round(float(rng.uniform(*shares["stores_kg"])), 1)}
        facts.update(_others(usual, shares, words, rng, observed=True))
        facts = {name: value for name, value in facts.items() if value is not None}
        _mend(facts, usual, words)
        rows.append(
            ScenarioHive(
                f"R{number + 1}",
                facts,
                [(date - dt.timedelta(days=int(rng.integers(earliest, latest))), _counted(normal, rng))],
            )
        )
    site = {**colony.yard, **_others(colony.yard, shares, words, rng, observed=False)}
    return Scenario(
        f"a random yard on {date}",
        profile.id,
        date,
        rows,
        Apiary("random", {k: v for k, v in site.items() if v is not None}),
    )


def _counted(normal: Normal, rng: np.random.Generator) -> dict:
    body = normal.parts["mites"]
    return {
        "mites.sample_mites": int(rng.poisson(float(rng.choice(normal.parts["random_yard"]["counted_mites"])))),
        "mites.sample_bees": body["sample_bees"],
        "mites.method": body["method"],
    }


def _others(usual: dict, shares: dict, words: Vocabulary, rng: np.random.Generator, observed: bool) -> dict:
    """Facts that differ, as ``{fact: value or None}``."""
    found = {}
    for name, value in usual.items():
        fact = words.facts[name]
        rare = fact.group in shares["rare_groups"] or name in shares["rare_facts"]
        draw = rng.random()
        if draw < shares["rarely" if rare else "otherwise"]:
            found[name] = _random(fact, value, rng)
        elif draw > 1 - (0.0 if rare else shares["not_seen"]) and (fact.comes_from == "observed" or not observed):
            found[name] = None
    return found


def _random(fact: Fact, value, rng: np.random.Generator):
    if fact.kind == "yes_no":
        return not value
    if fact.kind == "one_of":
        return fact.values[int(rng.integers(len(fact.values)))]
    if fact.kind in ("number", "integer") and fact.low is not None and fact.high is not None:
        middle = float(value) if value else fact.low + 0.05 * (fact.high - fact.low)
        drawn = min(max(middle * float(np.exp(rng.normal(0.0, 0.6))), fact.low), fact.high)
        return round(drawn) if fact.kind == "integer" else round(drawn, 1)
    return value


def _mend(facts: dict, usual: dict, words: Vocabulary) -> None:
    """Put facts that cannot stand together back to what is usual, or leave them out where that does not help."""

    def column(name: str) -> np.ndarray:
        return np.array([words.facts[name].encode(facts.get(name))])

    for attempt in range(6):
        wrong = [name for constraint, _ in broken(words, column) for name in facts_of(constraint["holds"])]
        if not wrong:
            return
        for name in wrong:
            if attempt < 3 and usual.get(name) is not None:
                facts[name] = usual[name]
            else:
                facts.pop(name, None)

"""From a scenario to the week's answer: facts, both inference channels, plan."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from hiveweek import climate, facts, rules, vocabulary
from hiveweek.climate import weather as weather_room
from hiveweek.facts.scenario import Scenario
from hiveweek.inference import channel
from hiveweek.inference.columnar import Inference, infer
from hiveweek.plan import ranking as ranking_file
from hiveweek.plan.model import WeekPlan
from hiveweek.plan.week import Setting, make
from hiveweek.rules.model import refs


@dataclass
class Answer:
    """Everything one answer was made of.

    Attributes
    ----------
    differences : list of Difference
        Where the two channels disagree; empty where they agree or only one ran.
    notes : list of str
        One line each, for people (a channel that could not run).
    """

    plan: WeekPlan
    inference: Inference
    profile: object
    weather: object
    date: dt.date
    differences: list
    notes: list[str]


def profile_of(scenario: Scenario):
    """Return the climate profile a scenario names, with the apiary's own dates where it gives some."""
    if isinstance(scenario.climate, dict):
        base = Path(scenario.file).parent if scenario.file else None
        profile = climate.Profile.from_normals(scenario.climate, base)
    else:
        profile = climate.load_profile(scenario.climate)
    overrides = scenario.apiary.overrides
    return profile.with_overrides(overrides) if overrides else profile


def traits_of(profile) -> dict:
    """Return the climate facts of a profile as plain values, without their intervals."""
    return {fact: value[0] if isinstance(value, tuple) else value for fact, value in profile.traits().items()}


def answer(scenario: Scenario, *, date: dt.date | None = None, forecast: Path | str | None = None, offline: bool = False,
           extra: Iterable[Path | str] = (), second_channel: bool = True, with_facts: bool = False, words=None,
           ruleset=None, ranking=None) -> Answer:
    """Return the week's answer for a scenario.

    Parameters
    ----------
    scenario : Scenario
        As read from a file or a journal.
    date : date, optional
        The day of the answer; the scenario's own by default. What was seen keeps its dates.
    forecast : path, optional
        Forecast CSV.
    offline : bool
        Never touch the network (it is asked only where the apiary gives coordinates).
    extra : iterable of path
        Overlays besides those the scenario names.
    second_channel : bool
        Also ask the second inference channel and mark where it differs.
    with_facts : bool
        Carry all facts in the plan.
    words, ruleset, ranking : optional
        Already loaded ones, where many scenarios are answered.

    Raises
    ------
    InputProblems
        With everything wrong with the rule files, the forecast or the scenario's climate.
    """
    words = words or vocabulary.load()
    day = date or scenario.date
    profile = profile_of(scenario)
    weather = weather_room.week(profile, day, forecast=forecast, coords=scenario.apiary.coords, offline=offline)
    if ruleset is None:
        ruleset = rules.load(profile.id, traits_of(profile), jurisdiction=scenario.jurisdiction,
                             extra=[*scenario.rulesets, *extra], vocabulary=words)
    built = facts.build(scenario, day, profile, weather, words)
    started = channel.Started(ruleset, built.table) if second_channel else None
    inference = infer(ruleset, built.table)
    channels, differences, notes = {"columnar": "answered", "rete": "not asked"}, [], []
    if started is not None:
        result = started.finish(inference)
        channels["rete"] = result.state
        differences = list(result.differences)
        if result.note:
            notes.append(result.note)
    setting = Setting(day, profile.id, profile.calendar, weather, scenario.apiary.name, _unverified(ruleset, differences),
                      channels, with_facts)
    plan = make(inference, setting, ranking or ranking_file.load(words))
    return Answer(plan, inference, profile, weather, day, differences, notes)


def _unverified(ruleset, differences) -> frozenset:
    """The (rule, hive) pairs that a difference touches: the rule itself, or every rule that names the finding."""
    pairs = set()
    for difference in differences:
        if difference.name in ruleset.rules:
            pairs.add((difference.name, difference.hive))
            continue
        named = "finding." + difference.name
        for rule in ruleset.rules.values():
            if any(ref.name == named for ref in refs(rule.when)):
                pairs.add((rule.id, difference.hive))
    return frozenset(pairs)

"""From a scenario to the week's answer: facts, both inference channels, plan."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from hiveweek import facts, vocabulary
from hiveweek.climate import Profile, load_profile
from hiveweek.climate import weather as weather_room
from hiveweek.facts.past import Past
from hiveweek.facts.scenario import Scenario, record_of
from hiveweek.inference import channel
from hiveweek.inference.columnar import Inference, infer
from hiveweek.language.terms import refs
from hiveweek.plan import ranking as ranking_file
from hiveweek.plan.model import WeekPlan
from hiveweek.plan.setting import Setting
from hiveweek.plan.week import make
from hiveweek.record.answered import Given, given_at
from hiveweek.record.bring import Brought, to_bring
from hiveweek.record.history import History
from hiveweek.rules.forbidden import aims_at
from hiveweek.rules.model import RuleSet
from hiveweek.rules.store import effective_rules
from hiveweek.vocabulary.model import Vocabulary


@dataclass
class Answer:
    """Everything one answer was made of.

    Attributes
    ----------
    differences : list of Difference
        Where the two channels disagree; empty where they agree or only one ran.
    notes : list of str
        One line each, for people (a channel that could not run).
    history : History or None
        What was noted at each hive, by day.
    """

    plan: WeekPlan
    inference: Inference
    profile: Profile
    weather: object
    date: dt.date
    differences: list
    notes: list[str]
    history: History | None = None


def profile_of(scenario: Scenario):
    """Return the climate profile a scenario names, with the apiary's own dates where it gives some.

    Raises
    ------
    InputProblems
        For an unknown or broken profile, dates that are none, and a climate of the other half of the Earth.
    """
    if isinstance(scenario.climate, dict):
        base = Path(scenario.file).parent if scenario.file else None
        profile = Profile.from_normals(scenario.climate, base)
    else:
        profile = load_profile(scenario.climate)
    profile = profile.at_latitude(scenario.apiary.lat)
    overrides = scenario.apiary.overrides
    return profile.with_overrides(overrides) if overrides else profile


def rules_of(scenario: Scenario, profile: Profile, extra: Iterable[Path | str], words: Vocabulary) -> RuleSet:
    """Return the rules of a scenario: those of its climate and law, its own overlays and some more."""
    return effective_rules(
        profile, jurisdiction=scenario.jurisdiction, extra=[*scenario.rulesets, *extra], vocabulary=words
    )


def answer(
    scenario: Scenario,
    *,
    date: dt.date | None = None,
    forecast: Path | str | None = None,
    offline: bool = False,
    extra: Iterable[Path | str] = (),
    second_channel: bool = True,
    with_facts: bool = False,
    words=None,
    ruleset=None,
    ranking=None,
    profile=None,
    second: channel.Started | None = None,
    past: Past | None = None,
    since: bool = True,
    given: Sequence[Mapping[str, Given]] | None = None,
) -> Answer:
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
    words, ruleset, ranking, profile : optional
        Already loaded ones, where many scenarios are answered; the profile with the numbers of the ruleset.
    second : Started, optional
        A second channel of the ruleset that is at work already and goes on afterwards; it is ended here only where the answer fails.
    past : Past, optional
        The days gone by, where one record is asked about several days; it must know all that was noted up to the day.
    since : bool
        Ask the days gone by since when an act is due.
    given : sequence of mapping, optional
        What was answered to the advice, a mapping of actions a hive; by default what the scenario's record says.

    Raises
    ------
    InputProblems
        With everything wrong with the rule files, the forecast or the scenario's climate.
    """
    words = words or vocabulary.load()
    day = date or scenario.date
    if profile is None:
        profile = profile_of(scenario)
    if ruleset is None:
        ruleset = rules_of(scenario, profile, extra, words)
    profile = profile.with_numbers(ruleset.numbers)
    # The second channel works in its own process while this one goes on; it is heard when the plan stands.
    started = second
    if second is None and second_channel:
        started = channel.Started(ruleset, words, len(scenario.hives))
    result: channel.ChannelResult | None = None
    try:
        weather = weather_room.week(
            profile, day, forecast=forecast, coords=scenario.apiary.coords, offline=offline, numbers=ruleset.numbers
        )
        built = facts.build(scenario, day, profile, weather, words, numbers=ruleset.numbers, law=ruleset.law)
        if started is not None:
            started.give(built.table)
        inference = infer(ruleset, built.table)
        setting = Setting(
            day,
            profile.id,
            profile.calendar,
            weather,
            scenario.apiary.name,
            coords[:2] if (coords := scenario.apiary.coords) is not None else None,
            with_facts=with_facts,
            notes=(*scenario.notes, *built.notes),
            bring=_bring(scenario, day),
            answered=_answered(scenario, day, words) if given is None else given,
            history=built.history,
            daily=profile.daily,
            past=(past or Past(scenario, profile, words, built.history, ruleset.law)) if since else None,
        )
        plan = make(inference, setting, (ranking or ranking_file.load(words)).under(ruleset.numbers))
        result = started.finish(inference) if started is not None else channel.ChannelResult("not asked", [])
    finally:
        # One that goes on with other scenarios must not keep an answer that nobody took.
        if started is not None and (result is None or started is not second):
            started.stop()
    plan.channels["rete"] = result.state
    mark(plan, inference, result.differences)
    notes = [result.note] if result.note else []
    return Answer(plan, inference, profile, weather, day, list(result.differences), notes, built.history)


def _answered(scenario: Scenario, day: dt.date, words: Vocabulary) -> list[dict[str, Given]]:
    """What the scenario's record answers to advice; empty for a file without entries."""
    if scenario.record is None and not scenario.apiary.entries and not any(hive.entries for hive in scenario.hives):
        return []
    record, _, hives = record_of(scenario, words)
    return given_at(record, hives, day, words)


def _bring(scenario: Scenario, day: dt.date) -> tuple[Brought, ...]:
    """What the scenario's record says is to be brought; nothing for a file."""
    if scenario.record is None:
        return ()
    return tuple(to_bring(scenario.record, [hive.key for hive in scenario.hives], day))


def mark(plan: WeekPlan, inference: Inference, differences: Iterable) -> None:
    """Mark the advice as unverified that rests on something the two channels see differently.

    That is the advice of the rule itself; of every rule that reads the finding, through other findings too; of every action
    that the prohibition forbids; and of treating, for an option.
    """
    ruleset, actions = inference.ruleset, inference.table.vocabulary.actions
    doubted: set[tuple[str, str]] = set()
    for difference in differences:
        if difference.what in ("rule", "finding"):
            doubted |= {(rule, difference.hive) for rule in _resting(ruleset, difference.what, difference.name)}
        elif difference.what == "prohibition":
            prohibition = ruleset.prohibitions[difference.name]
            doubted |= {(action, difference.hive) for action, body in actions.items() if aims_at(prohibition, body)}
        else:
            doubted |= {(action, difference.hive) for action, body in actions.items() if body.treats}
    for hive in plan.hives:
        for advice in hive.advice:
            names = {advice.rule, advice.action, *(other["rule"] for other in advice.also)}
            advice.unverified = advice.unverified or any((name, hive.id) in doubted for name in names)
    for advice, hives in plan.yard:
        advice.unverified = advice.unverified or any(
            other.unverified
            for hive in plan.hives
            if hive.id in hives
            for other in hive.advice
            if other.action == advice.action
        )


def _resting(ruleset: RuleSet, what: str, name: str) -> set[str]:
    """Ids of the rules that rest on a rule or a finding, itself among them."""
    rules = {name} if what == "rule" else set()
    findings = {ruleset.rules[name].finding} if what == "rule" else {name}
    while True:
        more = {
            rule.id
            for rule in ruleset.rules.values()
            if rule.id not in rules and any(ref.is_finding and ref.finding in findings for ref in refs(rule.when))
        }
        if not more:
            return rules
        rules |= more
        findings |= {ruleset.rules[rule].finding for rule in more} - {None}

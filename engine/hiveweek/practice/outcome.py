"""What a job would have changed some weeks on, as far as the models tell."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from dataclasses import dataclass

from hiveweek import facts
from hiveweek.climate import weather as weather_room
from hiveweek.facts.scenario import Scenario
from hiveweek.plan.model import Advice
from hiveweek.practice.sitting import Sitting
from hiveweek.record import Entry, Kind
from hiveweek.record.entries import Plain
from hiveweek.texts.parts import quantities
from hiveweek.vocabulary.model import Vocabulary

MOST = 2  # facts that are told of one job


@dataclass(frozen=True)
class Changed:
    """A fact of the hive on a later day, without the job and with it."""

    fact: str
    without: float
    done: float


def ahead(sitting: Sitting, advice: Advice) -> tuple[dt.date, list[Changed]]:
    """Return the day that is looked ahead to, and what the job would have changed by then; nothing where no model tells.

    The job is noted as done as the answer says it: its amount, the first active that is allowed, its partner. A job that has to be
    said with more than that changes nothing here. The facts are those that the sheet gives as reasons, weightiest first, of the groups
    whose facts the advice rests on: room is not given for the food's sake. Less than nothing is never missing. A course that is ended
    changes nothing: it has done what it does.
    """
    day = sitting.answer.date + dt.timedelta(days=int(sitting.numbers.ahead_days))
    said = said_of(sitting.words, advice)
    if said is None or sitting.words.effects[advice.action].act == "treatment_end":
        return day, []
    entry = Entry("", Kind.DONE, "", None, sitting.answer.date, action=advice.action, details=said)
    hives = [
        dataclasses.replace(hive, entries=[*hive.entries, entry]) if hive.id == sitting.lesson.hive else hive
        for hive in sitting.scenario.hives
    ]
    without = _table(sitting, sitting.scenario, day)
    done = _table(sitting, dataclasses.replace(sitting.scenario, hives=hives), day)
    same = sitting.rules.numbers.branch("plan.noted").same_share
    # What it rests on at another hive, that of a partner, is told of that hive.
    own = (one.fact for one in advice.evidence if one.fact in sitting.words.facts)
    rests_on = {sitting.words.facts[fact].group for fact in own}
    found: dict[str, Changed] = {}
    for reason in sitting.words.reasons:
        fact = sitting.words.facts[reason.fact]
        if fact.kind != "number" or fact.scope == "calendar" or fact.days_since or reason.fact in found:
            continue
        if fact.group not in rests_on:
            continue
        before, after = (float(table.column(fact.id).value[sitting.row]) for table in (without, done))
        if math.isnan(before) or math.isnan(after):
            continue
        before, after = max(before, 0.0), max(after, 0.0)
        if abs(after - before) > same * max(before, after):
            found[fact.id] = Changed(fact.id, before, after)
    return day, list(found.values())[:MOST]


def _table(sitting: Sitting, scenario: Scenario, day: dt.date):
    numbers = sitting.rules.numbers
    weather = weather_room.week(sitting.profile, day, offline=True, numbers=numbers)
    return facts.build(
        scenario, day, sitting.profile, weather, sitting.words, numbers=numbers, law=sitting.rules.law
    ).table


def said_of(words: Vocabulary, advice: Advice) -> dict[str, Plain] | None:
    """Return what has to be said of a job that is noted as the answer says it; None where the answer does not tell all of it."""
    found: dict[str, Plain] = {}
    effect = words.effects[advice.action]
    allowed = [option["active"] for option in advice.options if option["allowed"]]
    if advice.partner is not None and "partner" in effect.takes:
        found["partner"] = advice.partner
    for name in effect.asks:
        detail = words.details[name]
        amount = next((values[0] for values, unit in quantities(advice.amount) if unit == detail.unit), None)
        if detail.of and allowed and allowed[0] in words.facts[detail.of].values:
            told: Plain | None = allowed[0]
        else:
            told = amount if detail.unit else None
        if told is None:
            return None
        found[name] = told
    return found

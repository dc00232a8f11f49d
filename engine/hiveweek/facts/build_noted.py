"""What was noted by days gone by, without season, weather and models: of all hives of a yard, where the models are asked of some."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

from hiveweek.climate import Profile
from hiveweek.facts.build import YARD, Builder
from hiveweek.facts.constraints import facts_of
from hiveweek.facts.estimates import CARRIED_ON
from hiveweek.facts.scenario import Scenario
from hiveweek.facts.table import FactTable
from hiveweek.facts.treatments import STORY
from hiveweek.record.history import History
from hiveweek.vocabulary.model import Fact, Vocabulary


def build_noted(
    scenario: Scenario,
    dates: Sequence[dt.date],
    profile: Profile,
    words: Vocabulary,
    history: History,
    wanted: frozenset[str],
    *,
    law: Mapping[str, bool] | None = None,
) -> FactTable:
    """Build what was noted by several days, and what concerns the whole yard of it, all hives of the first day first.

    Parameters
    ----------
    wanted : frozenset of str
        Facts for which neither season, weather nor a model is asked (`only_noted`); others stay unknown, or are as the file sets them.

    Returns
    -------
    FactTable
        The wanted facts and those of the yard (`YARD`) as in `build_days`.
    """
    over = history.over([date.toordinal() for date in dates])
    table = FactTable(words, over.hives, origins=False)
    weather: list = [None] * len(dates)
    builder = Builder(scenario, dates, profile, weather, words, over, table, profile.numbers, law or {})
    builder.noted(_told_by(wanted, words))
    return table


def only_noted(fact: Fact) -> bool:
    """Whether what a fact is on a day follows from what was noted and from the law of the place alone."""
    if fact.comes_from == "computed":
        return fact.id.startswith("law.") or bool(fact.days_since) or bool(fact.days_of[0]) or fact.id in YARD
    return fact.id not in CARRIED_ON and fact.id not in STORY


def _told_by(wanted: frozenset[str], words: Vocabulary) -> frozenset[str]:
    """Return some facts and all from whose notes they are told."""
    found = wanted | {YARD[name] for name in wanted if name in YARD}
    while True:
        more = {name for row in words.implies if found & row["then"].keys() for name in facts_of(row["when"])}
        more |= {fact.id for fact in words.facts.values() if any(found & turn.then.keys() for turn in fact.becomes)}
        for left in words.left.values():
            if left.tells is not None and found & left.tells.facts.keys():
                more |= {left.fact, left.ended_on, left.tells.unless_seen, *left.tells.facts} - {""}
        more |= {words.facts[name].until for name in found} - {""}
        if more <= found:
            return found
        found |= more

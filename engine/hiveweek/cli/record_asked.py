"""What the week asks at hives of the record, for the commands that answer it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from hiveweek.cli.record_place import apiary_of
from hiveweek.facts.scenario import scenario_of_record
from hiveweek.numbers import Branch
from hiveweek.plan.answer import answer
from hiveweek.plan.model import HivePlan
from hiveweek.plan.put_away import is_serious
from hiveweek.record import Hive
from hiveweek.record.store import Store
from hiveweek.vocabulary.model import Vocabulary


@dataclass(frozen=True)
class Asked:
    """One advice of the week at one hive.

    Attributes
    ----------
    rule, rules_hash : str
        The rule that gives it, and the fingerprints of the rulesets that took part.
    band : int
        0 for law and people.
    due_by : date or None
        Its earliest deadline.
    serious, look : bool
        The colony may be lost otherwise; it is advised only for what it would tell.
    """

    rule: str
    rules_hash: str
    band: int
    due_by: dt.date | None
    serious: bool
    look: bool


def asked_at(
    store: Store,
    hives: Iterable[Hive],
    day: dt.date,
    words: Vocabulary,
    *,
    offline: bool = True,
    forecast: Path | str | None = None,
) -> dict[str, dict[str, Asked]]:
    """Return what the week of a day asks, by hive id and action, also where it is put away.

    An apiary without a climate asks nothing. What comes only before another job, and leaving a hive closed, is not asked.

    Raises
    ------
    InputProblems
        For rule files or a forecast that cannot be read.
    """
    found: dict[str, dict[str, Asked]] = {hive.id: {} for hive in hives}
    yards = {apiary.id: apiary for apiary in (apiary_of(store, hive, day) for hive in hives)}
    for key, apiary in yards.items():
        if not apiary.climate:
            continue
        scenario = scenario_of_record(store.record([key], day), key, day)
        told = answer(scenario, offline=offline, forecast=forecast, second_channel=False, words=words)
        fingerprint = "+".join(version["hash"] for version in told.plan.rulesets)
        for hive, plan in zip(scenario.hives, told.plan.hives, strict=True):
            if hive.key in found:
                found[hive.key] = _asked(plan, fingerprint, told.inference.ruleset.numbers.branch("plan"))
    return found


def _asked(plan: HivePlan, fingerprint: str, numbers: Branch) -> dict[str, Asked]:
    asked = {
        one.action: Asked(one.rule, fingerprint, one.band, one.due_by, one.serious, one.look)
        for one in plan.put_away
        if not one.done
    }
    for one in reversed(plan.advice):
        if one.origin not in ("first", "closed"):
            due = one.due_by or one.by
            asked[one.action] = Asked(
                one.rule, fingerprint, one.band, due, is_serious(one, numbers), one.origin == "look"
            )
    return asked

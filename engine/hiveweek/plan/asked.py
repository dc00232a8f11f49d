"""What the week asks at hives of the record, for those that answer it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from hiveweek.facts.scenario import scenario_of_record
from hiveweek.plan.answer import Answer, answer
from hiveweek.plan.model import HivePlan
from hiveweek.record import Hive
from hiveweek.record.entries import Plain
from hiveweek.record.places import apiary_of
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
        It answers a serious trouble; it is advised only for what it would tell.
    """

    rule: str
    rules_hash: str
    band: int
    due_by: dt.date | None
    serious: bool
    look: bool

    def as_answered(self) -> dict[str, Plain]:
        """Return how the advice stands when it is answered: by this its change is known later."""
        found: dict[str, Plain] = {"band": self.band}
        if self.due_by is not None:
            found["due_by"] = self.due_by
        return found


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
        told = asked_by(answer(scenario, offline=offline, forecast=forecast, second_channel=False, words=words))
        for hive, asked in zip(scenario.hives, told, strict=True):
            if hive.key in found:
                found[hive.key] = asked
    return found


def asked_by(told: Answer) -> list[dict[str, Asked]]:
    """Return what an answer asks at each of its hives, by action."""
    fingerprint = "+".join(version["hash"] for version in told.plan.rulesets)
    return [_asked(plan, fingerprint) for plan in told.plan.hives]


def _asked(plan: HivePlan, fingerprint: str) -> dict[str, Asked]:
    asked = {
        one.action: Asked(one.rule, fingerprint, one.band, one.due_by, one.serious, one.look)
        for one in plan.put_away
        if not one.done
    }
    for one in reversed(plan.advice):
        if one.origin not in ("first", "closed"):
            due = one.due_by or one.by
            look = one.origin == "look"
            serious = not look and one.action in plan.serious
            asked[one.action] = Asked(one.rule, fingerprint, one.band, due, serious, look)
    return asked

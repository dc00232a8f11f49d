"""What the week asks at hives of the record, for those that answer it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from hiveweek.facts.scenario import scenario_of_record
from hiveweek.numbers import Branch
from hiveweek.plan.answer import Answer, answer
from hiveweek.plan.model import HivePlan
from hiveweek.plan.put_away import ends_on
from hiveweek.record import Answer as Given
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
    numbers : Branch
        The branch ``plan`` of the numbers by which the week was worked out.
    """

    rule: str
    rules_hash: str
    band: int
    due_by: dt.date | None
    serious: bool
    look: bool
    numbers: Branch = field(repr=False)

    def comes_back(self, given: Given, day: dt.date, until: dt.date | None = None) -> dt.date | None:
        """Return the day on which it is asked again, where it is put away on a day; see `put_away.ends_on`."""
        return ends_on(given, day, until, self.due_by, self.numbers, serious=self.serious, look=self.look)

    def may_put_off(self, given: Given, day: dt.date, until: dt.date | None = None) -> bool:
        """Whether it may be put away: law and people do not ask for it, and it comes back later than that day."""
        back = self.comes_back(given, day, until)
        return self.band != 0 and (back is None or back > day)

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
    numbers = told.profile.numbers.branch("plan")
    return [_asked(plan, fingerprint, numbers) for plan in told.plan.hives]


def _asked(plan: HivePlan, fingerprint: str, numbers: Branch) -> dict[str, Asked]:
    asked = {
        one.action: Asked(one.rule, fingerprint, one.band, one.due_by, one.serious, one.look, numbers)
        for one in plan.put_away
        if not one.done
    }
    for one in reversed(plan.advice):
        if one.origin not in ("first", "closed"):
            due = one.last_day
            look = one.origin == "look"
            serious = not look and one.action in plan.serious
            asked[one.action] = Asked(one.rule, fingerprint, one.band, due, serious, look, numbers)
    return asked

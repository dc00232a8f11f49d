"""What a job noted as done makes of what is known of a hive: the effects of ``effects.yaml``."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from hiveweek.numbers import Numbers
from hiveweek.record.entries import Entry, Plain
from hiveweek.record.history import History
from hiveweek.vocabulary.model import Effect

FED = "food.fed_kg"


class Doing:
    """Puts the effects of jobs done into a history.

    Parameters
    ----------
    history : History
        What was known before, entry by entry.
    rows : dict of str to int
        Hive id to its row.
    numbers : Numbers
        Recipes of feed (``model.food``).
    """

    def __init__(self, history: History, rows: Mapping[str, int], numbers: Numbers):
        self.history, self.rows, self.numbers = history, rows, numbers
        self.words = history.vocabulary
        self.done: set[tuple[int, str, int]] = set()
        self.fed: dict[tuple[int, int], dict[str, float]] = {}

    def take(self, row: int, entry: Entry, day: int, *, here: bool = True) -> None:
        """Put one job into the history of a hive, and of the other hive it concerns.

        A job counts once a hive and day. Facts of the yard change at every hive; those of a yard where the hive stands no
        longer change nothing. A detail that was not said leaves unknown what depends on it.
        """
        effect = self.words.effects.get(entry.action or "")
        if effect is None or entry.action is None or (row, entry.action, day) in self.done:
            return
        self.done.add((row, entry.action, day))
        self._apply(row, effect, entry.details, day, here)
        self._feed(row, entry.action, effect, entry.details, day)
        if effect.treats:
            self._treat(row, effect, entry.details, day)
        other = self.rows.get(str(entry.details.get("partner")))
        if effect.partner and other is not None and other != row:
            self._apply(other, effect.partner, entry.details, day, here)
        if effect.shares and other is not None and other != row:
            for name in effect.shares:
                found = [self._trouble(each, name, day) for each in (row, other)]
                for each, theirs in ((row, found[1]), (other, found[0])):
                    if theirs is not None:
                        self.history.add(each, name, day, theirs)

    def _trouble(self, row: int, name: str, day: int) -> float | None:
        """Return the value of a fact that the other hive gets too: the last one that stands, or what is in the hive."""
        fact = self.words.facts[name]
        if not fact.stands:
            value = self.history.on_day(row, name, day)
            return None if math.isnan(value) or fact.decode(value) == "none" else value
        standing = {fact.encode(word) for word in fact.stands}
        last = next((seen for seen in reversed(self.history.entries(row, name)) if seen[1] in standing), None)
        dates = [end for end in fact.ended_by if end in self.words.facts and self.words.facts[end].kind == "date"]
        ended = [value for end in dates for _, value in self.history.entries(row, end)]
        return None if last is None or last[0] > day or any(on > last[0] for on in ended) else last[1]

    def _said(self, name: str, details: Mapping[str, Plain]) -> Plain:
        said = details.get(name)
        return self.words.details[name].otherwise if said is None else said

    def _apply(self, row: int, effect: Effect, details: Mapping[str, Plain], day: int, here: bool) -> None:
        if effect.act:
            self.history.add_act(row, effect.act, day)
        for name in effect.voids:
            self.history.forget(row, name, day)
        for name, value in effect.set.items():
            self._put(row, name, self.words.facts[name].encode(value), day, here)
        for name in effect.today:
            self._put(row, name, float(day), day, here)
        for name, detail in effect.told.items():
            said = self._said(detail, details)
            self._put(row, name, self.words.facts[name].encode(said), day, here)
        for name, step in effect.add.items():
            amount = self._said(step, details) if isinstance(step, str) else step
            before = self.history.on_day(row, name, day)
            fact = self.words.facts[name]
            known = isinstance(amount, (int, float)) and not math.isnan(before)
            after = max(fact.low or 0.0, before + float(amount)) if known else math.nan  # type: ignore[arg-type]
            self._put(row, name, after if fact.high is None else min(after, fact.high), day, here)
        for name, least in effect.at_least.items():
            self._put(row, name, float(np.fmax(least, self.history.on_day(row, name, day))), day, here)

    def _put(self, row: int, name: str, value: float, day: int, here: bool) -> None:
        """Set a fact, or forget it where the value is NaN; one of the yard at every hive."""
        shared = self.words.facts[name].shared
        for each in (self.rows.values() if here else ()) if shared else (row,):
            if math.isnan(value):
                self.history.forget(each, name, day)
            else:
                self.history.add(each, name, day, value)

    def _feed(self, row: int, action: str, effect: Effect, details: Mapping[str, Plain], day: int) -> None:
        """Add up the sugar of a day; where it was noted as an amount besides, the jobs count."""
        kilos = 0.0
        for detail, number in effect.sugar.items():
            said = self._said(detail, details)
            if isinstance(said, (int, float)):
                kilos += float(said) * float(getattr(self.numbers.model.food, number))
        if kilos:
            given = self.fed.setdefault((row, day), {})
            given[action] = kilos
            self.history.add(row, FED, day, sum(given.values()))
            self.history.add_act(row, FED, day)

    def _treat(self, row: int, effect: Effect, details: Mapping[str, Plain], day: int) -> None:
        """Note a mite treatment: one that stays in the hive, or one of a day."""
        facts = self.words.facts
        active = self._said("active", details)
        if active is None and isinstance(effect.treats, str):
            active = effect.treats
        form = details.get("form")
        self._put(row, "mites.form", facts["mites.form"].encode(form), day, True)
        last = facts["mites.last_active"]
        if active not in last.values or active == "none":
            self.history.forget(row, "mites.in_hive", day)
            self.history.forget(row, "mites.last_active", day)
        elif last.encode(active) in last.codes("one_day"):
            self.history.add(row, "mites.last_active", day, last.encode(active))
            self.history.add(row, "mites.treated_on", day, float(day))
        else:
            self.history.add(row, "mites.in_hive", day, facts["mites.in_hive"].encode(active))

"""What is said of values that were noted at a hive and that no job, look or waiting job answers: once a season, in one line."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from hiveweek.language.terms import refs
from hiveweek.language.truth import Truth
from hiveweek.numbers import Branch
from hiveweek.plan.model import HivePlan, Said
from hiveweek.plan.words import Filler
from hiveweek.record.history import History
from hiveweek.texts.parts import Sentence
from hiveweek.vocabulary.noted import Noted, Row


class NotedValues:
    """Finds the sentences of a hive.

    Parameters
    ----------
    inference : Inference
    filler : Filler
    history : History or None
        When each value was seen; None says nothing.
    today : date
    numbers : Branch
        The branch ``plan``; its group ``noted``.
    """

    def __init__(self, inference, filler: Filler, history: History | None, today: dt.date, numbers: Branch):
        self.inference, self.filler, self.history, self.today = inference, filler, history, today
        self.numbers = numbers.noted
        self.table = inference.table
        self.words = self.table.vocabulary

    def of_hive(self, row: int, hive: HivePlan) -> list[Said]:
        """Return what is said of a hive's noted values, in the order of the vocabulary; nothing of a dead hive.

        Parameters
        ----------
        hive : HivePlan
            Its whole list, what is withheld and what was put away stand.
        """
        if self.history is None or hive.alive is False:
            return []
        found = []
        rests: set[str] | None = None
        for name, noted in self.words.noted.items():
            fact = self.words.facts[name]
            if fact.scope != "hive" and row:
                continue  # said of the yard once, at its first hive
            seen = self._new(row, name)
            number = self.table.column(name).value[row]
            if seen is None or number != number:
                continue
            value = fact.decode(number)
            if value in noted.silent:
                continue
            answer = self._answer(noted, value, row)
            if answer is None or not answer.say:
                continue
            rests = self._rests_on(hive) if rests is None else rests
            if self._answered(noted, hive, rests):
                continue
            text = self.filler.fill(answer.say, {None: row})[0]
            found.append(Said(name, value, seen, Sentence(text)))
        return found

    def _new(self, row: int, name: str) -> dt.date | None:
        """The day a find was last noted; None where it was never noted, or was spoken of long enough."""
        entries = self.history.entries(row, name) if self.history is not None else []
        if not entries:
            return None
        day, value = entries[-1]
        first = day
        for before, then in reversed(entries[:-1]):
            near = self.numbers.same_share * max(abs(then), abs(value))
            if first - before > self.numbers.season_days or abs(then - value) > near:
                break
            first = before
        if self.today.toordinal() - first >= self.numbers.say_days:
            return None
        return dt.date.fromordinal(day)

    def _answer(self, noted: Noted, value: object, row: int) -> Row | None:
        for one in noted.rows:
            if one.values and value not in one.values:
                continue
            if one.when is None or self.inference.holds(one.when, row)[0] is Truth.TRUE:
                return one
        return None

    def _rests_on(self, hive: HivePlan) -> set[str]:
        """Facts that the hive's jobs and looks rest on, those that wait or were put away among them."""
        rests = {item.fact for advice in hive.advice for item in advice.evidence}
        rests |= {fact for advice in hive.advice if advice.origin == "look" for fact in advice.facts}
        rests |= self._read([*(one.rule for one in hive.withheld), *(one.rule for one in hive.put_away)])
        return rests

    def _read(self, rules: Iterable[str]) -> set[str]:
        known = self.inference.ruleset.rules
        return {ref.name for rule in rules if rule in known for ref in refs(known[rule].when) if not ref.is_finding}

    def _answered(self, noted: Noted, hive: HivePlan, rests: set[str]) -> bool:
        if noted.fact in rests and not noted.by_job_alone:
            return True
        jobs = {one.action for one in hive.advice} | {one.action for one in hive.withheld}
        return bool((jobs | {one.action for one in hive.put_away}) & set(noted.answered_by))

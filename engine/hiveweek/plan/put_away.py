"""Advice that the keeper answered: put off, not fitting here, or done a short while ago."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence

from hiveweek.numbers import Branch
from hiveweek.plan.model import Advice, PutAway
from hiveweek.record import Answer, Entry
from hiveweek.record.answered import Given
from hiveweek.texts.parts import Day, Phrase, message
from hiveweek.vocabulary.model import Vocabulary


def ends_on(
    answer: Answer,
    given: dt.date,
    until: dt.date | None,
    due_by: dt.date | None,
    numbers: Branch,
    *,
    serious: bool,
    look: bool,
) -> dt.date | None:
    """Return the day on which an advice that was put away is asked again.

    Parameters
    ----------
    answer : Answer
    given, until : date, date or None
        The day of the answer; the day until which the advice is put off, ``plan.answers.later_days`` on where none was said.
    due_by : date or None
        Its earliest deadline.
    numbers : Branch
        The branch ``plan``.
    serious, look : bool
        Whether it answers a serious trouble; whether it is advised only for what it would tell.

    Returns
    -------
    date or None
        None where only the end of the trouble ends it. What answers a serious trouble is asked again when it is due, and after
        ``plan.answers.again_days`` at the latest, as a look is.
    """
    days = []
    if answer is Answer.LATER:
        days.append(until or given + dt.timedelta(days=numbers.answers.later_days))
    if serious or look:
        days.append(given + dt.timedelta(days=numbers.answers.again_days))
    if due_by is not None and (serious or answer is Answer.LATER):
        days.append(due_by)
    return min(days, default=None)


class Answers:
    """Tells which advice is put away.

    Parameters
    ----------
    given : sequence of mapping
        What was answered, a mapping of actions a row; empty where nothing was.
    words : Vocabulary
    numbers : Branch
        The branch ``plan``.
    today : date
    acts : callable, optional
        Gives the actions that answer the serious troubles of a row; none by default.
    """

    def __init__(
        self,
        given: Sequence[Mapping[str, Given]],
        words: Vocabulary,
        numbers: Branch,
        today: dt.date,
        acts: Callable[[int], Collection[str]] = lambda _: (),
    ):
        self.given, self.words, self.numbers, self.today = given, words, numbers, today
        self.acts = acts

    def has(self, row: int, action: str) -> bool:
        """Whether anything was answered to an action at a hive."""
        return bool(self.given) and action in self.given[row]

    def to(self, row: int, advice: Advice) -> PutAway | None:
        """Return how an advice is put away; None for one that stands.

        What was done is not asked again for the days of ``quiet_for`` (a look for ``again_days`` at most), unless something that
        the advice rests on was seen since. What law or people ask (band 0) is never put away, and no answer outlives an earlier deadline or a lower band.
        What answers a serious trouble and was said not to fit here is asked again once something that it rests on was seen since.
        """
        if not self.has(row, advice.action):
            return None
        given = self.given[row][advice.action]
        if given.done is not None:
            quiet = self._quiet(given.done, given.seen, advice)
            if quiet is not None:
                return quiet
        if given.answer is None or advice.band == 0:
            return None
        serious = advice.origin != "look" and advice.action in self.acts(row)
        if serious and given.answer.answer is Answer.NOT_HERE and given.news & self._rests_on(advice):
            return None
        return self._answered(given.answer, advice, serious)

    def looks(self, row: int, looks: Iterable[str]) -> list[PutAway]:
        """Return the looks that are put away whatever they would tell, by name; seen anew, they are not."""
        found = []
        for action in sorted(set(looks) & set(self.given[row] if self.given else ())):
            look = Advice(action, "", facts=list(self.words.actions[action].observes), origin="look")
            away = self.to(row, look)
            if away is not None:
                found.append(away)
        return found

    def _quiet(self, done: Entry, seen: Iterable[str], advice: Advice) -> PutAway | None:
        day = done.until_date or done.date
        quiet = self.words.effects[advice.action].quiet_for
        if advice.origin == "look":
            quiet = min(quiet, int(self.numbers.answers.again_days))
        until = day + dt.timedelta(days=quiet)
        if self.today >= until or set(seen) & self._rests_on(advice):
            return None
        return PutAway(advice.action, advice.rule, until, self._says("put-away.was-done", day), done=True)

    def _answered(self, entry: Entry, advice: Advice, serious: bool) -> PutAway | None:
        # A day that went by before the farthest that was asked is no new one.
        then, due = entry.details, advice.due_by or (None if advice.due_before is not None else advice.by)
        band, told = then.get("band"), then.get("due_by")
        if isinstance(band, (int, float)) and advice.band < band:
            return None
        if isinstance(told, dt.date):
            if due is not None and due < told:
                return None
            due = told
        elif "band" in then and due is not None:  # it had no deadline when it was answered, and has one now
            return None
        until = ends_on(
            entry.answer or Answer.LATER,
            entry.date,
            entry.until,
            due,
            self.numbers,
            serious=serious,
            look=advice.origin == "look",
        )
        if until is not None and self.today >= until:
            return None
        reason = entry.reason or self._says("put-away.was-put-off", entry.date)
        return PutAway(advice.action, advice.rule, until, reason, advice.band, due, serious, advice.origin == "look")

    def _says(self, id: str, day: dt.date) -> Phrase:
        return message(id, day=Day(day, self.today))

    def _rests_on(self, advice: Advice) -> set[str]:
        """The facts that an advice rests on, and those that a keeper sees in their place."""
        facts = self.words.facts
        named = {item.fact if item.fact in facts else item.fact.partition(".")[2] for item in advice.evidence}
        named |= set(advice.facts) if advice.origin == "look" else set()
        return named | {fact for name in named if name in facts for way in facts[name].observed_by for fact in way}

"""What was seen and still counts on the day of the answer, by what its fact says becomes of it as it grows old."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from hiveweek.record.history import History
from hiveweek.vocabulary.model import Fact

LOOK = "look"


@dataclass(frozen=True)
class Turned:
    """What another fact is by the clock: at a hive, from a day on, because of something seen earlier."""

    hive: int
    fact: str
    value: float
    day: int
    seen_on: int


def current(history: History, fact: Fact) -> tuple[np.ndarray, np.ndarray, list]:
    """Return what is known of one fact at each hive.

    An observation counts for ``keeps`` days and until an act voids it (one noted as done voids what was seen before it that
    day); equipment and site facts count until changed. A mite count of the day a treatment went in was taken before it; one
    beside a treatment already found there, under it. A value that stands counts until something in ``ended_by`` ends it;
    one that becomes another counts until it has turned, when its days are over.

    Parameters
    ----------
    history : History
        With the day of the answer as its end.
    fact : Fact
        An observed, equipment or site fact.

    Returns
    -------
    value, seen_on : ndarray of float, shape (hives,)
        NaN where unknown. What has turned into another value counts as seen on the day on which it turned.
    origins : list of (str or None)
        ``seen DATE``, ``not looked at since DATE`` where it stands and is older than such a look keeps, ``by the clock from DATE`` where it turned.
    """
    seen, seen_on = history.latest(fact.id)
    value, day = seen.copy(), seen_on.copy()
    known = ~np.isnan(value) & ~_voided(history, fact, day)
    by_clock = np.zeros(len(history), dtype=bool)
    for hive in np.flatnonzero(known) if fact.becomes else ():
        value[hive], day[hive], by_clock[hive] = _turn(history, fact, int(hive), seen[hive], seen_on[hive])
    if fact.keeps is not None:
        with np.errstate(invalid="ignore"):
            known &= history.days - day <= _keeps(fact, value)
    known &= ~np.isnan(value)
    value, day = np.where(known, value, np.nan), np.where(known, day, np.nan)
    words = [None if d != d else f"seen {_iso(d)}" for d in day.tolist()]
    for hive in np.flatnonzero(by_clock & known):
        words[hive] = f"by the clock from {_iso(seen_on[hive])}"
    if fact.stands:
        _stand(history, fact, value, day, words)
    return value, day, words


def noted_first(history: History, fact: Fact, values: tuple) -> np.ndarray:
    """Return the day on which a fact was first noted to have one of some values, of those it has had since; NaN where it has none.

    However old the last look is: a shut entrance that nobody looked at again for ten days has been so for ten days, or is free.
    """
    wanted = {fact.encode(value) for value in values}
    value, day = history.latest(fact.id)
    first = np.full(len(history), np.nan)
    for hive in np.flatnonzero(np.isin(value, list(wanted)) & ~_voided(history, fact, day)).tolist():
        for on, was in reversed(history.entries(hive, fact.id)):
            if was not in wanted:
                break
            first[hive] = on
    return first


def grown_old(history: History, fact: Fact, days: int) -> np.ndarray:
    """Return the last value of a fact at each hive where it is no longer known only because its note grew old.

    Parameters
    ----------
    days : int
        How much older than ``keeps`` it may be.

    Returns
    -------
    ndarray of float, shape (hives,)
        NaN where it is still known or something voided it, where it is older, for what has turned into another value by the clock,
        and for a fact that holds until changed.
    """
    value, day = history.latest(fact.id)
    if fact.keeps is None:
        return np.full(len(history), np.nan)
    with np.errstate(invalid="ignore"):
        age = history.days - day
        old = ~np.isnan(value) & (age > fact.keeps) & (age <= fact.keeps + days)
        for turn in fact.becomes:
            of_turn = value == fact.encode(turn.value)
            ends = turn.to is None and not turn.then  # it counts for so many days, and then is only old
            old &= ~of_turn | ends
            old = np.where(of_turn & ends, (age >= turn.after_days) & (age <= turn.after_days + days), old)
        old &= ~_voided(history, fact, day)
    return np.where(old, value, np.nan)


def _keeps(fact: Fact, value: np.ndarray) -> np.ndarray:
    """Return for how many days each value counts: as a look keeps, and to the day on which the value turns into another."""
    keeps = np.full(value.shape, float(fact.keeps or 0))
    for turn in fact.becomes:
        keeps = np.where(value == fact.encode(turn.value), np.maximum(keeps, turn.after_days), keeps)
    return keeps


@lru_cache(maxsize=4096)
def _iso(day: float) -> str:
    return dt.date.fromordinal(int(day)).isoformat()


def _voided(history: History, fact: Fact, day: np.ndarray) -> np.ndarray:
    """Tell where an act has made worthless what was seen on these days."""
    out = np.zeros(len(history), dtype=bool)
    for name in fact.voided_by:
        act = history.last_act(name)
        for hive in np.flatnonzero(act >= day):
            out[hive] |= _ends(history, name, int(hive), int(act[hive]), fact, int(day[hive]))
    return out


def _ends(history: History, name: str, hive: int, act: int, fact: Fact, day: int) -> bool:
    """Whether an act of one day ends what was seen on another: it came later, or later on that day."""
    if act != day:
        return act > day
    if history.done_after_look(name, hive, fact.id, day):
        return True
    same_day = history.vocabulary.acts[name]["same_day"]
    if same_day == "goes_on":
        return bool(history.days[hive] > day)
    return bool(same_day == "voids" and not history.found_later(name, hive, act))


def _stand(history: History, fact: Fact, value: np.ndarray, day: np.ndarray, words: list) -> None:
    """Put back the last value that stands and that nothing has ended, in place; take away one that was ended."""
    standing = {fact.encode(word) for word in fact.stands}
    for hive in range(len(history)):
        rows = history.entries(hive, fact.id)
        last = next((row for row in reversed(rows) if row[1] in standing), None)
        if last is None:
            continue
        looked = LOOK in fact.ended_by and rows[-1] != last
        if not looked and not any(_ended(history, fact, end, hive, last[0]) for end in fact.ended_by if end != LOOK):
            old = rows[-1] == last and np.isnan(day[hive])
            words[hive] = f"not looked at since {_iso(last[0])}" if old else f"seen {_iso(last[0])}"
            day[hive], value[hive] = last
        elif value[hive] in standing:
            day[hive] = value[hive] = np.nan
            words[hive] = None


def _ended(history: History, fact: Fact, end: str, hive: int, day: int) -> bool:
    """Whether one thing of ``ended_by`` has ended what was seen at a hive on a day."""
    vocabulary = history.vocabulary
    if end in vocabulary.acts:
        done = history.acts(end)[hive]
        return bool(done) and _ends(history, end, hive, done[-1], fact, day)
    name, _, word = end.partition(" = ")
    other = vocabulary.facts[name]
    if not word:
        return any(value > day for _, value in history.entries(hive, name))
    wanted = {other.encode(value) for value in other.allowed if str(value).lower() == word}
    return any(on > day and value in wanted for on, value in history.entries(hive, name))


def _turn(history: History, fact: Fact, hive: int, value: float, day: float) -> tuple[float, float, bool]:
    """Return what a value seen on a day has become, the day on which it became so, and whether it has turned at all."""
    turned = False
    while True:
        turn = next((t for t in fact.becomes if fact.encode(t.value) == value), None)
        if turn is None or history.days[hive] - day < turn.after_days:
            return value, day, turned
        value, day, turned = fact.encode(turn.to), day + turn.after_days, True


def turned(history: History, fact: Fact) -> list[Turned]:
    """Return what other facts are by now because of what was seen of this one, the latest of each hive and fact last."""
    out = []
    seen, seen_on = history.latest(fact.id)
    for hive in np.flatnonzero(~np.isnan(seen) & ~_voided(history, fact, seen_on)).tolist():
        value, day = seen[hive], seen_on[hive]
        while turn := next((t for t in fact.becomes if fact.encode(t.value) == value), None):
            day += turn.after_days
            if day > history.days[hive]:
                break
            for name, then in turn.then.items():
                code = history.vocabulary.facts[name].encode(then)
                out.append(Turned(hive, name, code, int(day), int(seen_on[hive])))
            value = fact.encode(turn.to)
    return out

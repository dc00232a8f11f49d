"""Latest observations that still count on the day of the answer."""

from __future__ import annotations

import datetime as dt

import numpy as np

from hiveweek.record.history import History
from hiveweek.vocabulary.model import Fact


def current(history: History, fact: Fact) -> tuple[np.ndarray, np.ndarray, list]:
    """Return what is known of one fact at each hive.

    An observation counts for ``keeps`` days and until an act voids it (one noted as done voids what was seen before it that day); equipment and site facts count until changed. A
    mite count of the day a treatment went in was taken before it; one beside a treatment already found there, under it. A
    sign that ``stands`` counts until the hive is cleared after it, whatever a later look says.

    Parameters
    ----------
    history : History
        With the day of the answer as its end.
    fact : Fact
        An observed, equipment or site fact.

    Returns
    -------
    value, seen_on : ndarray of float, shape (hives,)
        NaN where unknown.
    origins : list of (str or None)
        ``seen DATE``.
    """
    value, day = history.latest(fact.id)
    known = ~np.isnan(value)
    if fact.keeps is not None:
        with np.errstate(invalid="ignore"):
            known &= history.until - day <= fact.keeps
    for name in fact.voided_by:
        act = history.last_act(name)
        with np.errstate(invalid="ignore"):
            voided = act > day
            if history.vocabulary.acts[name]["same_day"] == "voids":
                for hive in np.flatnonzero(act == day):
                    voided[hive] = not history.found_later(name, int(hive), int(act[hive]))
            for hive in np.flatnonzero(act == day):
                voided[hive] |= history.done_after_look(name, int(hive), fact.id, int(day[hive]))
        known &= ~voided
    value = np.where(known, value, np.nan)
    day = np.where(known, day, np.nan)
    if fact.stands:
        _stand(history, fact, value, day)
    origins = [None if np.isnan(d) else f"seen {dt.date.fromordinal(int(d)).isoformat()}" for d in day]
    return value, day, origins


def _stand(history: History, fact: Fact, value: np.ndarray, day: np.ndarray) -> None:
    """Put back the last sign that stands and was not cleared after it, in place."""
    standing = {fact.encode(word) for word in fact.stands}
    for hive in range(len(history)):
        rows = [(d, v) for d, v in history.entries(hive, fact.id) if v in standing]
        if not rows:
            continue
        cleared = max((int(v) for _, v in history.entries(hive, "health.cleared_on")), default=0)
        if rows[-1][0] >= cleared:
            day[hive], value[hive] = rows[-1]
        elif value[hive] in standing:
            day[hive] = value[hive] = np.nan

"""Random hives within the declared ranges: for properties that must hold of any input, and to see what a change of rules does."""

from __future__ import annotations

import numpy as np

from hiveweek.facts.constraints import broken
from hiveweek.facts.table import FactTable
from hiveweek.vocabulary.model import Vocabulary


def random_table(
    words: Vocabulary,
    n: int,
    rng: np.random.Generator,
    *,
    known: float = 0.6,
    doubtful: float = 0.2,
    days: list | None = None,
    one_yard: bool = False,
) -> FactTable:
    """Return a table of random hives, each perhaps of another climate and day.

    Parameters
    ----------
    n : int
        Hives.
    known : float
        Share of facts that are known, 0 to 1.
    doubtful : float
        Share of known numbers that carry an interval.
    days : list of hiveweek.authoring.logic.Day, optional
        Days of profiles to draw season and climate facts from, so that they belong together; without it they are as free
        as the rest.
    one_yard : bool
        All hives share the facts of the yard and the week.

    Returns
    -------
    FactTable
        Settled. Rows that break a constraint of the vocabulary lose the facts concerned (they become unknown).
    """
    table = FactTable(words, [f"H{k:05d}" for k in range(n)])
    columns: dict[str, tuple] = {}
    for body in words.facts.values():
        if days is not None and body.scope == "calendar":
            continue
        size = 1 if one_yard and body.shared else n
        value, low, high = _random(body, size, rng, doubtful)
        gone = rng.random(size) > known
        value = np.where(gone, np.nan, value)
        columns[body.id] = tuple(np.broadcast_to(a, n).copy() for a in (value, low, high))
    if days is not None:
        picks = np.full(n, rng.integers(len(days))) if one_yard else rng.integers(len(days), size=n)
        names = sorted({name for k in set(picks.tolist()) for name in days[k].facts})
        for name in names:
            value = np.array([days[k].facts.get(name, np.nan) for k in picks])
            columns[name] = (value, value, value)
    for _ in range(3):
        found = broken(words, lambda fact: columns[fact][0] if fact in columns else np.full(n, np.nan))
        for constraint, rows in found:
            from hiveweek.facts.constraints import facts_of

            for name in facts_of(constraint["holds"]):
                if name in columns and not (days is not None and words.facts[name].scope == "calendar"):
                    columns[name][0][rows] = np.nan
    for name, (value, low, high) in columns.items():
        table.set(name, value, low, high, origin="set")
    table.settle()
    return table


def _random(body, n: int, rng: np.random.Generator, doubtful: float):
    if body.kind in ("number", "integer"):
        low = body.low if body.low is not None else 0.0
        high = body.high if body.high is not None else low + 100.0
        # Half over the whole range, half near its lower end, where most limits stand.
        top = np.where(rng.random(n) < 0.5, high, low + (high - low) * 0.1)
        value = low + (top - low) * rng.random(n)
        if body.kind == "integer":
            value = np.round(value)
        spread = np.where(rng.random(n) < doubtful, rng.random(n) * (top - low) * 0.4, 0.0)
        return np.round(value, 2), value - spread, value + spread
    if body.kind == "yes_no":
        value = (rng.random(n) < 0.5).astype(float)
    elif body.kind == "one_of":
        value = rng.integers(len(body.values), size=n).astype(float)
    elif body.kind == "date":
        value = 739_900.0 + rng.integers(-300, 300, size=n)
    else:
        value = np.full(n, body.encode("mild_maritime"))
    return value, value, value

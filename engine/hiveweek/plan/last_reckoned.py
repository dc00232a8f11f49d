"""What the food of a hive was last reckoned at, where by now so much may have come in or gone that it is not known any more."""

from __future__ import annotations

import numpy as np

from hiveweek.facts.build import YARD
from hiveweek.facts.past import Past
from hiveweek.facts.table import FactTable

STORES = "food.stores_kg"
SEEN = (STORES, "food.frames_of_stores", "food.hive_weight_kg", "food.heft")


def last_reckoned(table: FactTable, past: Past, today: int, most_days: int) -> list[dict[str, float]]:
    """Return the last known stores of each hive, and what was worked out of them, where they are not known only because time went by.

    Parameters
    ----------
    table : FactTable
        Of today.
    past : Past
    today : int
        Its day number.
    most_days : int
        So many days back at most the stores must have been known.

    Returns
    -------
    list of dict of str to float
        Facts that are not known today, with their values on the last day on which the stores were; empty for a hive whose
        stores are known, were never judged, or were made unknown by something that was noted.
    """
    found: list[dict[str, float]] = [{} for _ in range(len(table))]
    unknown = np.flatnonzero(np.isnan(table.column(STORES).value)).tolist()
    known: dict[int, int] = {}  # a day on which they were, by hive
    for row in unknown:
        judged = [day for day, names in past.noted[row].items() if day <= today and not names.isdisjoint(SEEN)]
        if judged:
            known[row] = max(judged)
    lost = dict.fromkeys(known, today)
    while asking := {row: (known[row] + lost[row]) // 2 for row in known if lost[row] - known[row] > 1}:
        stores = _asked(past, asking, frozenset({STORES})).get(STORES, {})
        for row, day in asking.items():
            (known if stores.get(row, np.nan) >= 0 else lost)[row] = day
    by_clock = {row: day for row, day in known.items() if today - day <= most_days and day + 1 not in past.noted[row]}
    facts = table.vocabulary.facts
    wanted = {fact.id for fact in facts.values() if any(STORES in way for way in fact.observed_by)} | {STORES}
    for name, values in _asked(past, by_clock, frozenset(wanted)).items() if by_clock else ():
        now = table.column(name).value
        for row, value in values.items():
            if np.isnan(now[row]) and not np.isnan(value):
                found[row][name] = value
    return [facts_then if STORES in facts_then else {} for facts_then in found]


def _asked(past: Past, on: dict[int, int], wanted: frozenset[str]) -> dict[str, dict[int, float]]:
    """Return facts of hives, each on a day of its own."""
    hives: dict[int, list[int]] = {}
    for row in sorted(on):
        hives.setdefault(on[row], []).append(row)
    days = sorted(hives)
    noted = past.noted_only(days, frozenset(YARD))
    then = past.tables_of({day: hives[day] for day in days}, wanted, noted)
    rows = [row for day in days for row in hives[day]]
    return {name: dict(zip(rows, then.column(name).value.tolist(), strict=True)) for name in then.columns}

"""What would have to be looked at so that a fact is known."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Collection, Container

from hiveweek.facts.table import FactTable

SEEN = "seen "  # how the origin of a value begins that was noted on a day


class Observing:
    """The observations behind the facts of a table.

    Parameters
    ----------
    table : FactTable
    samples : container of str
        Observations that tell more each time they are made, also twice on one day.
    today : date
    """

    def __init__(self, table: FactTable, samples: Container[str], today: dt.date):
        self.table, self.samples, self.today = table, samples, today
        self.vocabulary = table.vocabulary

    def ways(self, fact_id: str, row: int) -> list[frozenset]:
        """Return the sets of observable facts that would give a fact at a hive.

        A fact that is looked at gives itself. A computed fact gives the sets its definition names, less what is known
        there already; none where no look can tell (weather, season), or where it is in doubt though all it needs was
        seen today: the doubt then lies in the model. A word such as ``light`` is no figure, so a figure may still tell more.
        """
        fact = self.vocabulary.facts[fact_id]
        if fact.comes_from != "computed":
            return [frozenset([fact_id])]
        unknown = math.isnan(self.table.column(fact_id).value[row])
        ways = []
        for way in fact.observed_by:
            facts = frozenset(f for f in way if self.vocabulary.facts[f].comes_from != "computed")
            missing = frozenset(f for f in facts if math.isnan(self.table.column(f).value[row]))
            if missing:
                ways.append(missing)
            elif facts and not unknown:
                stale = frozenset(f for f in facts if f in self.samples or not self._seen_today(f, row))
                if stale:
                    ways.append(stale)
                elif not any(self._coarse(f) for f in facts):
                    return []
        return sorted(set(ways), key=lambda w: (len(w), sorted(w)))

    def _coarse(self, fact: str) -> bool:
        body = self.vocabulary.facts[fact]
        return body.kind == "one_of" and body.comes_from == "observed"

    def sampled_on(self, facts: Collection[str], row: int) -> dt.date | None:
        """Return the day of the last sample where all of some facts are of samples that were taken; None where one is not."""
        days = []
        for fact in facts:
            origins = self.table.column(fact).origin
            origin = origins[row] if origins else None
            if fact not in self.samples or origin is None or not origin.startswith(SEEN):
                return None
            days.append(dt.date.fromisoformat(origin.removeprefix(SEEN)))
        return max(days, default=None)

    def _seen_today(self, fact: str, row: int) -> bool:
        column = self.table.column(fact)
        origin = column.origin[row] if column.origin else None
        return column.low[row] == column.high[row] and origin in (None, "set", SEEN + self.today.isoformat())


def choices(needs: list[list[frozenset]], most: int = 24) -> list[frozenset]:
    """Every way to meet all needs, as sets of facts; at most ``most`` kept, smallest first."""
    result: list[frozenset] = [frozenset()]
    for ways in needs:
        joined = {a | b for a in result for b in ways}
        result = sorted(joined, key=lambda s: (len(s), sorted(s)))[:most]
    return result

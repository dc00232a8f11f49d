"""The last day to start a job: what its rules say, counted from the day on which they say it."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping

from hiveweek.facts.table import FactTable
from hiveweek.rules.model import Deadline, Late, Rule


class Deadlines:
    """Works out deadlines.

    Parameters
    ----------
    table : FactTable
        Of today.
    today : date
    calendar : object or None
        With ``event_date(id, near)``; None where no season calendar is at hand (deadlines on events are then unknown).
    late : mapping of str to Late, optional
        By action: the days on which the harm begins that it prevents.
    """

    def __init__(self, table: FactTable, today: dt.date, calendar=None, late: Mapping[str, Late] | None = None):
        self.table, self.today, self.calendar, self.late = table, today, calendar, late or {}
        self.facts = table.vocabulary.facts
        self._events: dict[tuple[str, dt.date], dt.date | None] = {}

    def of(self, rule: Rule) -> list[Deadline]:
        """Return the deadline that a rule gives, and the days after which its job no longer prevents the harm."""
        if rule.by is None:
            return []
        late = self.late.get(str(rule.advise))
        return [rule.by, *(late.harm if late is not None else ())]

    def first(self, rule: Rule, hive: int) -> dt.date | None:
        """Return the deadline that a rule gives today; None where it gives none, or where its date is not known."""
        found = [self.on(deadline, self.today, hive, harm=deadline is not rule.by) for deadline in self.of(rule)]
        return min((day for day in found if day is not None), default=None)

    def uses(self, deadline: Deadline) -> frozenset[str]:
        """Return the facts at whose note a deadline starts anew; none where it counts from the day it is given."""
        if deadline.base == "event":
            return frozenset({"season.local_sign"})
        if deadline.base != "fact":
            return frozenset()
        group = deadline.name.partition(".")[0]
        seen = {name for way in self.facts[deadline.name].observed_by for name in way}
        return frozenset(seen | {name for name in self.facts if name.partition(".")[0] == group})

    def on(
        self, deadline: Deadline, day: dt.date, hive: int, number: float | None = None, *, harm: bool = False
    ) -> dt.date | None:
        """Return the date of a deadline given on a day.

        Parameters
        ----------
        hive : int
            Row of the table.
        number : float, optional
            What the deadline's date fact was on that day; the table of today by default.
        harm : bool
            The day on which harm begins: an event that is over by then gives none.

        Returns
        -------
        date or None
            None where it is not known. A lead time that would have begun before, and an event that is over, give the day
            itself; a day that a fact names stays what it is.
        """
        try:
            if deadline.base == "today":
                return day + dt.timedelta(days=deadline.days)
            if deadline.base == "event":
                base = self.event(deadline.name, day)
                if base is None:
                    return None
                date = base + dt.timedelta(days=deadline.days)
                return None if harm and date < day else max(day, date)
            known = self.table.column(deadline.name).value[hive] if number is None else number
            if math.isnan(known):
                return None
            date = dt.date.fromordinal(int(known)) + dt.timedelta(days=deadline.days)
            return max(day, date) if deadline.days else date
        except OverflowError:
            return None

    def event(self, name: str, near: dt.date) -> dt.date | None:
        """Return the date of a season event that is nearest to a day; None where the climate lacks it."""
        key = (name, near)
        if key not in self._events:
            self._events[key] = self.calendar.event_date(name, near) if self.calendar is not None else None
        return self._events[key]

"""What the plan of a week needs besides what the rules say."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from hiveweek.climate.daily import DailyClimate
from hiveweek.climate.weather import WeekWeather
from hiveweek.facts.past import Past
from hiveweek.record.answered import Given
from hiveweek.record.bring import Brought
from hiveweek.record.history import History


@dataclass
class Setting:
    """What the plan needs besides the inference.

    Attributes
    ----------
    today : date
        The day of the answer.
    climate : str or None
        Profile id, as shown.
    calendar : object or None
        ``event_date(id, near) -> date or None``.
    weather : object or None
        The week's weather: ``basis``, ``best_day``, ``facts``, ``notes``, ``attribution``.
    name : str
        The apiary's name.
    at : (float, float) or None
        Its degrees north and east; None where they are not given.
    unverified : set of (rule id, hive id)
        Where the second channel differs.
    channels : dict
        What each channel did.
    with_facts : bool
        Carry every fact of every hive.
    notes : tuple of Phrase
        What was left out of the input, and why; shown as it is.
    bring : tuple of Brought
        What the keeper noted to bring.
    answered : sequence of mapping
        What the keeper answered to advice, by action, a mapping a hive; empty where nothing was.
    history : History or None
        When each value was noted; None says nothing of noted values.
    past : Past or None
        The days gone by, for what is due since when; None where nothing is asked of them.
    daily : DailyClimate or None
        The usual days of the place.
    """

    today: dt.date
    climate: str | None = None
    calendar: object = None
    weather: WeekWeather | None = None
    name: str = ""
    at: tuple[float, float] | None = None
    unverified: frozenset = frozenset()
    channels: dict = field(default_factory=lambda: {"columnar": "answered", "rete": "not asked"})
    with_facts: bool = False
    notes: tuple = ()
    bring: tuple[Brought, ...] = ()
    answered: Sequence[Mapping[str, Given]] = ()
    history: History | None = None
    past: Past | None = None
    daily: DailyClimate | None = None

    def usual_from(self, high_c: float) -> dt.date | None:
        """Return the first day from today on whose usual high reaches a temperature; None where none of a year does."""
        if self.daily is None:
            return None
        reached = np.flatnonzero(self.daily.days(self.today, 365)["tmax"] >= high_c)
        return self.today + dt.timedelta(days=int(reached[0])) if len(reached) else None

"""How the page is served: which record, on which day, for whom."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from pathlib import Path

from hiveweek.record import Apiary
from hiveweek.record.places import now


@dataclass(frozen=True)
class Settings:
    """What a served page is told when it starts.

    Attributes
    ----------
    place : str
        File or URL of the record.
    folder : Path
        Where photos, pass phrases and the certificate lie.
    hosts : tuple of str
        ``name:port`` by which it may be called; anything else is refused.
    secure : bool
        Whether it is served over TLS.
    login : bool
        Whether a pass phrase is asked for; without it whoever reaches it is the keeper.
    day : date or None
        The day of the answer, for looking back or ahead; None = today at each apiary.
    forecast : str or None
    offline : bool
        See `plan.answer.answer`.
    """

    place: str
    folder: Path
    hosts: tuple[str, ...]
    secure: bool = False
    login: bool = False
    day: dt.date | None = None
    forecast: str | None = None
    offline: bool = False
    origins: tuple[str, ...] = field(init=False)

    def __post_init__(self) -> None:
        scheme = "https" if self.secure else "http"
        object.__setattr__(self, "origins", tuple(f"{scheme}://{host}" for host in self.hosts))

    def now(self, apiary: Apiary | None = None) -> dt.datetime:
        """Return the local time of an apiary on the day of the answer."""
        found = now(apiary)
        return found if self.day is None else dt.datetime.combine(self.day, found.time())

    def today(self, apiary: Apiary | None = None) -> dt.date:
        """Return the local day of an apiary, or the day that was given."""
        return self.now(apiary).date()

"""A record in memory: apiaries, hives, where each hive stood when, and the entries that count."""

from __future__ import annotations

import datetime as dt
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from hiveweek.record.entries import Entry, Kind, Plain, in_order
from hiveweek.record.practised import Practised


@dataclass(frozen=True, slots=True)
class Apiary:
    """A place where hives stand.

    Attributes
    ----------
    climate : str or None
        Profile id; None where only coordinates are given.
    lat, lon, elev_m : float or None
    jurisdiction : str or None
    rulesets : tuple of str
        Overlays of the author or the apiary.
    timezone : str or None
        IANA name; None = the machine's.
    overrides : mapping
        Season events moved for this place: event to ``{from, to, note}``.
    """

    id: str
    name: str
    climate: str | None = None
    lat: float | None = None
    lon: float | None = None
    elev_m: float | None = None
    jurisdiction: str | None = None
    rulesets: tuple[str, ...] = ()
    timezone: str | None = None
    overrides: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    note: str = ""


@dataclass(frozen=True, slots=True)
class Placement:
    """Where a hive stands from a day on."""

    apiary: str
    since: dt.date


@dataclass(frozen=True, slots=True)
class Hive:
    """A hive: its own id, its name within the apiary, where it stood, and when it ended.

    Attributes
    ----------
    placements : tuple of Placement
        Oldest first; never empty.
    ended : date or None
        Day from which it no longer is a hive of the record.
    """

    id: str
    name: str
    placements: tuple[Placement, ...]
    ended: dt.date | None = None
    ended_because: str = ""

    def apiary_on(self, day: dt.date) -> str | None:
        """Return the id of the apiary where it stands on a day; None before its first day or once it has ended."""
        if self.ended is not None and day >= self.ended:
            return None
        found = [p.apiary for p in self.placements if p.since <= day]
        return found[-1] if found else None


@dataclass
class Record:
    """Apiaries, hives and entries.

    Attributes
    ----------
    apiaries, hives : dict by id
    entries : list of Entry
        Everything ever written, in the order of writing.
    withdrawn : set of str
        Ids of entries that were taken back.
    practised : list of Practised
        What was practised; it says nothing of any hive.
    corrected : list of Entry
        What entries correct, where it is not among them: it counts no longer, and its correction takes its place.
    """

    apiaries: dict[str, Apiary] = field(default_factory=dict)
    hives: dict[str, Hive] = field(default_factory=dict)
    entries: list[Entry] = field(default_factory=list)
    withdrawn: set[str] = field(default_factory=set)
    practised: list[Practised] = field(default_factory=list)
    corrected: list[Entry] = field(default_factory=list)

    def live(self, *, until: dt.date | None = None) -> list[Entry]:
        """Return the entries that count, in their order: neither taken back nor corrected by one that counts.

        Parameters
        ----------
        until : date, optional
            Last day; later entries are left out.
        """
        standing = [entry for entry in self.entries if entry.id not in self.withdrawn]
        # A correction counts as long as it stands itself; a correction of a correction frees nothing.
        corrected = {entry.replaces for entry in standing if entry.replaces}
        found = [e for e in standing if e.id not in corrected and (until is None or e.date <= until)]
        return in_order(found, (*self.corrected, *self.entries))

    def hives_at(self, apiary: str, day: dt.date) -> list[Hive]:
        """Return the hives that stand in an apiary on a day, in the order in which they were added."""
        return [hive for hive in self.hives.values() if hive.apiary_on(day) == apiary]

    def of_hive(self, hive: str, *, until: dt.date | None = None) -> list[Entry]:
        """Return the live entries of one hive, its own only."""
        return [entry for entry in self.live(until=until) if entry.hive == hive]

    def named(self, apiary: str, name: str, day: dt.date) -> Hive | None:
        """Return the living hive of that name in an apiary; None where there is none."""
        wanted = folded(name)
        return next((hive for hive in self.hives_at(apiary, day) if folded(hive.name) == wanted), None)


def folded(name: str) -> str:
    """Return a name as it is compared: composed, without case, blanks made one."""
    return " ".join(unicodedata.normalize("NFC", name).casefold().split())


def last_values(entries: Iterable[Entry]) -> dict[str, tuple[Plain, dt.date]]:
    """Return the last value of every fact in ``seen`` and ``set`` entries, with its day."""
    found: dict[str, tuple[Plain, dt.date]] = {}
    for entry in in_order(entries):
        if entry.kind in (Kind.SEEN, Kind.SET):
            for fact, value in entry.facts.items():
                found[fact] = (value, entry.since or entry.date)
    return found

"""One apiary at one date, as written in a scenario file or a journal."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from pathlib import Path

EXPECT_LISTS = ("top", "includes", "excludes")
EXPECT_RULES = ("fires", "not_fires", "undecided")


@dataclass
class ScenarioHive:
    """One hive.

    Attributes
    ----------
    id : str
        As written in the file.
    facts : dict of str to plain value
        As seen on the scenario's date; computed facts given here are fixed.
    observed : list of (date, dict)
        Dated looks and changes, oldest first.
    expect : dict
        What the answer should hold; judged by the check of cases only.
    """

    id: str
    facts: dict = field(default_factory=dict)
    observed: list = field(default_factory=list)
    expect: dict = field(default_factory=dict)
    path: tuple = ()


@dataclass
class Apiary:
    """The yard: its name, place and what holds for all hives.

    Attributes
    ----------
    site : dict of str to plain value
        Facts of the yard on the scenario's date.
    observed : list of (date, dict)
        Dated facts of the yard.
    lat, lon, elev_m : float or None
        Where it stands; only this is ever used to look up weather.
    overrides : dict
        Season events moved for this place: ``{event: {from: MM-DD, to: MM-DD, note: why}}``.
    """

    name: str = ""
    site: dict = field(default_factory=dict)
    observed: list = field(default_factory=list)
    lat: float | None = None
    lon: float | None = None
    elev_m: float | None = None
    overrides: dict = field(default_factory=dict)

    @property
    def coords(self) -> tuple[float, float, float | None] | None:
        """Latitude, longitude and height, or None where the place is not given."""
        if self.lat is None or self.lon is None:
            return None
        return self.lat, self.lon, self.elev_m


@dataclass
class Scenario:
    """A question: these hives, in this climate, on this date.

    Attributes
    ----------
    file : str
        The file as shown to people; empty for a journal.
    climate : str or dict
        A profile id, or ``{normals: Path, lat, lon, elev_m}``.
    rulesets : list of Path
        Overlays of the author or the apiary.
    rule : str or None
        In files of cases: the rule that the case tries.
    """

    title: str
    climate: str | dict
    date: dt.date
    hives: list[ScenarioHive]
    apiary: Apiary = field(default_factory=Apiary)
    file: str = ""
    source: list[str] = field(default_factory=list)
    reason: str = ""
    jurisdiction: str | None = None
    rulesets: list[Path] = field(default_factory=list)
    expect: dict = field(default_factory=dict)
    rule: str | None = None
    place: tuple[int, int] = (0, 0)

"""Climate profiles: one YAML a place, built from public normals, loaded with its daily weather and season calendar."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from hiveweek import content, shapes
from hiveweek.climate import daily as daily_module
from hiveweek.climate import normals, traits
from hiveweek.climate.daily import DailyClimate, day_index
from hiveweek.climate.season import PAIRS, Override, SeasonCalendar
from hiveweek.numbers import Numbers, shipped
from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.shapes import shape
from hiveweek.shapes.marked_yaml import Document
from hiveweek.texts.parts import Month, Phrase, listed, message

TROPIC_DEG = 23.44  # the sun stands overhead up to here: the tilt of the Earth's axis
MOST_KEPT = 7  # of the profiles with other numbers, besides the last one


@dataclass(frozen=True, eq=False)
class Profile:
    """A place's usual year.

    Attributes
    ----------
    id : str
    stands_for : str
        A few words on the kind of climate.
    source : dict
        Station, country, lat, lon, elev_m, period, publisher, kind, licence, attribution, note, also; what is
        not known is absent.
    monthly : dict of arrays of 12
        The normals as published; unknown months NaN, unknown columns absent.
    overrides : tuple of Override
    remarks : tuple of str
        Oddities of the normals found when the profile was built.
    numbers : Numbers
        What the calendar and the traits are worked out with; the shipped ones by default.
    """

    id: str
    source: dict
    monthly: dict[str, np.ndarray]
    stands_for: str = ""
    overrides: tuple[Override, ...] = ()
    remarks: tuple[str, ...] = field(default=())
    numbers: Numbers = field(default_factory=shipped, repr=False)

    @property
    def lat(self) -> float:
        """Latitude of the station, degrees, north positive."""
        return float(self.source["lat"])

    @property
    def lon(self) -> float:
        """Longitude of the station, degrees, east positive."""
        return float(self.source["lon"])

    @property
    def elev_m(self) -> float:
        """Height of the station above the sea, m."""
        return float(self.source["elev_m"])

    @cached_property
    def daily(self) -> DailyClimate:
        """Usual weather of each day."""
        return daily_module.from_monthly(self.monthly, self.lat, self.numbers.season)

    @cached_property
    def calendar(self) -> SeasonCalendar:
        """When things happen in a usual year."""
        return SeasonCalendar(self.daily, self.overrides, numbers=self.numbers.season)

    def traits(self) -> dict[str, Any]:
        """Return the ``climate.*`` facts; None where the normals do not tell."""
        return traits.traits(self.daily, self.monthly, self.id, self.numbers.season)

    @cached_property
    def koppen(self) -> str:
        """Koeppen-Geiger class."""
        return traits.koppen(self.monthly)

    @cached_property
    def notes(self) -> list[Phrase | str]:
        """What a keeper should know about these normals and this calendar."""
        found: list[Phrase | str] = []
        if self.daily.sd_is_default:
            found.append(message("note.usual-spread"))
        if traits.snow_share(self.daily, self.numbers.season)[1] and self.traits()["climate.snow_weeks"] >= 0.5:
            found.append(message("note.snow-estimated"))
        if traits.dampness_unknown(self.monthly):
            found.append(message("note.dampness-unknown"))
        too_damp = normals.too_damp(self.monthly)
        found += [remark for remark in self.remarks if remark not in too_damp.values()]
        found += self.calendar.notes
        if too_damp:
            found.append(message("note.vapour-months", months=listed(map(Month, too_damp), "comma")))
        return found

    def at_latitude(self, lat: float | None) -> Profile:
        """Return this profile where its seasons are those of a place.

        Parameters
        ----------
        lat : float or None
            Degrees north of the apiary; None where it is not known: nothing is asked.

        Raises
        ------
        InputProblems
            Where one of the two lies outside the tropics and they lie on different sides of the equator: every date would be half a year
            off. Between the tropics seasons do not turn with the side.
        """
        if lat is None or (lat >= 0) == (self.lat >= 0) or max(abs(lat), abs(self.lat)) <= TROPIC_DEG:
            return self
        same = ", ".join(name for name in profile_ids() if (load_profile(name).lat >= 0) == (lat >= 0))
        text = (
            f"the apiary lies {_side(lat)} and the climate {self.id} {_side(self.lat)}: its seasons are half a year off; "
            f"on the apiary's side there are {same}; 'hiveweek climate build' makes one of your own place"
        )
        raise InputProblems([Problem("", 0, 0, "other-hemisphere", text)])

    def with_overrides(self, overrides: dict | None) -> Profile:
        """Return this profile with an apiary's own dates.

        Parameters
        ----------
        overrides : dict or None
            ``{event: {from: MM-DD, to: MM-DD, note: why}}``.

        Raises
        ------
        InputProblems
            For unknown events, dates that are none, or a missing note.
        """
        if not overrides:
            return self
        document = Document("", {"overrides": overrides})
        misfits = shape("profile").part("overrides").check(document)
        items, out_of_order = read_overrides(document.data.get("overrides") or {})
        if misfits or out_of_order:
            raise InputProblems([*misfits, *(Problem("", 0, 0, code, message) for _, code, message in out_of_order)])
        named = {item.event for item in items}
        kept = tuple(item for item in self.overrides if item.event not in named)
        return replace(self, overrides=kept + tuple(items))

    def with_numbers(self, numbers: Numbers) -> Profile:
        """Return this profile worked out with other numbers; what they leave as it was is not worked out anew."""
        if numbers is self.numbers:
            return self
        kept: list[Profile] = self.__dict__.setdefault("_others", [])
        other = next((one for one in kept if one.numbers is numbers), None)
        if other is None:
            other = replace(self, numbers=numbers)
            if numbers.same(self.numbers, "season"):
                other.__dict__.update(daily=self.daily, calendar=self.calendar)
            kept[:] = [*kept[-MOST_KEPT:], other]
        return other

    @classmethod
    def from_normals(cls, wanted: dict, base: Path | str | None = None) -> Profile:
        """Make a profile from a scenario's ``climate: {normals: file, lat, lon, elev_m}``.

        Parameters
        ----------
        wanted : dict
            ``normals`` (path of a normals CSV), ``lat``, ``lon``, ``elev_m``; optionally ``id``.
        base : Path
            Folder that a relative path starts from; the current one if None.

        Raises
        ------
        InputProblems
            With every problem of the file and of the coordinates.
        """
        named = {key: wanted[key] for key in ("normals", "lat", "lon", "elev_m") if wanted.get(key) is not None}
        if isinstance(named.get("normals"), Path):
            named["normals"] = str(named["normals"])
        problems = shape("scenario").part("climate").check(Document("", {"climate": named}))
        if not isinstance(named.get("normals"), str):
            raise InputProblems(problems)
        path = Path(wanted["normals"])
        if base is not None and not path.is_absolute():
            path = Path(base) / path
        monthly, more, warnings = normals.read_csv(path)
        if problems or more:
            raise InputProblems(problems + more)
        source = {key: wanted[key] for key in ("lat", "lon", "elev_m")}
        return cls(str(wanted.get("id") or path.stem), source, monthly, remarks=tuple(warnings))


def _side(lat: float) -> str:
    return f"at {abs(lat):g} degrees {'north' if lat >= 0 else 'south'}"


def profile_ids() -> list[str]:
    """Return the ids of the shipped profiles, sorted."""
    return sorted(path.stem for path in (content.root() / "climate_profiles").glob("*.yaml"))


def load_profile(wanted: str | Path) -> Profile:
    """Load a profile by its id or from a YAML file.

    Raises
    ------
    InputProblems
        For an unknown id (with the nearest one) or a broken file (every problem with its place).
    """
    text = str(wanted)
    shipped = content.root() / "climate_profiles" / f"{text}.yaml"
    if text in profile_ids():
        return _load(shipped)
    if text.endswith((".yaml", ".yml")):
        return read_profile(Path(text))
    raise InputProblems(
        [Problem("", 0, 0, "unknown-profile", f"no climate profile '{text}'{nearest(text, profile_ids())}")]
    )


@lru_cache(maxsize=64)
def _load(path: Path) -> Profile:
    return read_profile(path)


def read_profile(path: Path) -> Profile:
    """Read one profile YAML.

    Raises
    ------
    InputProblems
        With every problem of the file.
    """
    document = shapes.read(path, "profile")
    data = document.data or {}
    overrides, found = read_overrides(data.get("overrides") or {})
    problems = document.problems + [
        document.problem(("overrides", *where), code, message) for where, code, message in found
    ]
    if problems:
        raise InputProblems(problems)
    monthly = {
        name: np.array([np.nan if value is None else float(value) for value in values])
        for name, values in data["monthly"].items()
    }
    return Profile(
        data.get("profile", Path(path).stem),
        data["built_from"],
        monthly,
        data.get("stands_for", ""),
        tuple(overrides),
        tuple(data.get("remarks", ())),
    )


def read_overrides(overrides: dict) -> tuple[list[Override], list[tuple[tuple, str, str]]]:
    """Read local dates ``{event: {from, to, note}}`` of checked shape; return them and what is out of order.

    Entries that lack something are passed over.
    """
    items = [
        Override(event, _day(entry["from"]), _day(entry["to"]), entry["note"])
        for event, entry in overrides.items()
        if {"from", "to", "note"} <= entry.keys()
    ]
    problems: list[tuple[tuple, str, str]] = []
    given = {item.event: item for item in items}
    for first, last, _ in PAIRS:
        if first in given and last in given:
            between = (given[last].start + given[last].end - given[first].start - given[first].end) / 2 % 365
            if not 0 < between < 182:
                problems.append(((last,), "order", f"'{last}' must come after '{first}', within half a year"))
    return items, problems


def _day(text: str) -> int:
    """Return the index of a day like ``04-15``."""
    return day_index(dt.date(2024, int(text[:2]), int(text[3:])))


def profile_json(profile: Profile) -> dict:
    """Return what ``climate show --json`` prints, its keys in a fixed order."""
    calendar = profile.calendar
    facts = profile.traits()
    return {
        "profile": profile.id,
        "source": dict(profile.source),
        "phases": [{"phase": phase, "from": start, "to": end} for phase, start, end in calendar.phases],
        "events": {
            name: None if span is None else {"from": span[0], "to": span[1]} for name, span in calendar.events.items()
        },
        "monthly": {
            name: [None if not np.isfinite(v) else float(v) for v in values] for name, values in profile.monthly.items()
        },
        "winter_weeks": facts["climate.winter_weeks"],
        "snow_weeks": facts["climate.snow_weeks"],
        "koppen": profile.koppen,
    }

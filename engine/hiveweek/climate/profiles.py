"""Climate profiles: one YAML a place, built from public normals, loaded with its daily weather and season calendar."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from hiveweek import content
from hiveweek.climate import daily as daily_module
from hiveweek.climate import normals, traits
from hiveweek.climate.daily import DailyClimate, day_index
from hiveweek.climate.events import EVENT_IDS
from hiveweek.climate.season import PAIRS, Override, SeasonCalendar
from hiveweek.numbers import Numbers, shipped
from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.shapes import marked_yaml
from hiveweek.texts.parts import Phrase, listed, message

PROFILE_KEYS = ("profile", "stands_for", "built_from", "monthly", "overrides", "remarks")


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
        found += [remark for remark in self.remarks if remark not in too_damp.values()] + self.calendar.notes
        if too_damp:
            found.append(message("note.vapour-months", months=listed(too_damp, "comma")))
        return found

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
        items, problems = read_overrides(overrides)
        if problems:
            raise InputProblems(Problem("", 0, 0, code, message) for _, code, message in problems)
        named = {item.event for item in items}
        kept = tuple(item for item in self.overrides if item.event not in named)
        return replace(self, overrides=kept + tuple(items))

    def with_numbers(self, numbers: Numbers) -> Profile:
        """Return this profile worked out with other numbers; what they leave as it was is not worked out anew."""
        if numbers is self.numbers:
            return self
        other = replace(self, numbers=numbers)
        if numbers.same(self.numbers, "season"):
            worked_out: dict[str, Any] = {
                name: self.__dict__[name] for name in ("daily", "calendar") if name in self.__dict__
            }
            other.__dict__.update(worked_out)
        return other

    @classmethod
    def from_normals(cls, wanted: dict, base: Path | str | None = None) -> Profile:
        """Make a profile from a scenario's ``climate: {normals: file, lat, lon, elev_m}``.

        Parameters
        ----------
        wanted : dict
            ``normals`` (path of a normals CSV), ``lat``, ``lon``, ``elev_m``; optionally ``id`` and the other
            keys of an ``about`` file.
        base : Path
            Folder that a relative path starts from; the current one if None.

        Raises
        ------
        InputProblems
            With every problem of the file and of the coordinates.
        """
        problems = []
        for key, low, high in (("lat", -90, 90), ("lon", -180, 180), ("elev_m", -430, 6000)):
            value = wanted.get(key)
            if isinstance(value, bool) or not isinstance(value, (int, float)) or not low <= value <= high:
                problems.append(
                    Problem(
                        "",
                        0,
                        0,
                        "out-of-range",
                        f"climate: {key} must be a number from {low} to {high}, not {value!r}",
                    )
                )
        if not isinstance(wanted.get("normals"), (str, Path)):
            problems.append(Problem("", 0, 0, "key-missing", "climate: 'normals' must name a CSV file"))
            raise InputProblems(problems)
        path = Path(wanted["normals"])
        if base is not None and not path.is_absolute():
            path = Path(base) / path
        monthly, more, warnings = normals.read_csv(path)
        if problems or more:
            raise InputProblems(problems + more)
        source = {key: wanted[key] for key in normals.ABOUT_NEEDED[1:] if wanted.get(key) is not None}
        return cls(str(wanted.get("id") or path.stem), source, monthly, remarks=tuple(warnings))


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
    document = marked_yaml.read(path, content.shown(path))
    problems = list(document.problems)
    data = document.data
    if not isinstance(data, dict):
        raise InputProblems(problems or [document.problem((), "profile", "must be a mapping")])
    for key in data:
        if key not in PROFILE_KEYS:
            problems.append(
                document.problem((key,), "unknown-key", f"'{key}' is not known{nearest(key, PROFILE_KEYS)}", key=True)
            )
    source = data.get("built_from")
    if not isinstance(source, dict):
        problems.append(document.problem((), "key-missing", "'built_from' with station, lat, lon is missing"))
        source = {}
    for key, low, high in (("lat", -90, 90), ("lon", -180, 180), ("elev_m", -430, 6000)):
        value = source.get(key)
        if isinstance(value, bool) or not isinstance(value, (int, float)) or not low <= value <= high:
            problems.append(
                document.problem(("built_from", key), "out-of-range", f"{key} must be a number from {low} to {high}")
            )
    monthly = _read_monthly(data.get("monthly"), document, problems)
    overrides, found = read_overrides(data.get("overrides") or {})
    problems += [document.problem(("overrides", *where), code, message) for where, code, message in found]
    if problems:
        raise InputProblems(problems)
    return Profile(
        str(data.get("profile") or Path(path).stem),
        source,
        monthly,
        str(data.get("stands_for") or ""),
        tuple(overrides),
        tuple(data.get("remarks") or ()),
    )


def _read_monthly(table, document, problems) -> dict[str, np.ndarray]:
    monthly: dict[str, np.ndarray] = {}
    if not isinstance(table, dict):
        problems.append(document.problem((), "key-missing", "'monthly' is missing"))
        return monthly
    for name, values in table.items():
        place = ("monthly", name)
        if name not in normals.COLUMNS:
            problems.append(
                document.problem(
                    place,
                    "unknown-column",
                    f"'{name}' is not known{nearest(name, normals.COLUMNS)}",
                    key=True,
                )
            )
        elif not isinstance(values, list) or len(values) != 12:
            problems.append(document.problem(place, "twelve", f"'{name}' must be a list of twelve months"))
        elif any(isinstance(v, bool) or not isinstance(v, (int, float, type(None))) for v in values):
            problems.append(document.problem(place, "not-a-number", f"'{name}' holds something that is not a number"))
        else:
            monthly[name] = np.array([np.nan if v is None else float(v) for v in values])
    for name in normals.NEEDED[1:]:
        if name not in monthly:
            if name not in table:
                problems.append(document.problem(("monthly",), "column-missing", f"'{name}' is missing"))
        elif not np.isfinite(monthly[name]).all():
            problems.append(
                document.problem(("monthly", name), "value-missing", f"'{name}' has a month without a value")
            )
    return monthly


def read_overrides(overrides: object) -> tuple[list[Override], list[tuple[tuple, str, str]]]:
    """Check local dates ``{event: {from, to, note}}``; return them and what is wrong as (path, code, message)."""
    items: list[Override] = []
    problems: list[tuple[tuple, str, str]] = []
    if not isinstance(overrides, dict):
        return items, [((), "overrides", "must be a mapping of events")]
    for event, entry in overrides.items():
        if event not in EVENT_IDS:
            problems.append(
                (
                    (event,),
                    "unknown-event",
                    f"'{event}' is no event of the calendar{nearest(event, EVENT_IDS)}",
                )
            )
            continue
        if not isinstance(entry, dict) or not entry.get("note"):
            problems.append(
                ((event,), "note-missing", f"'{event}' needs from, to and a note that says how it is known")
            )
            continue
        first_day, last_day = (_override_day(entry.get(key)) for key in ("from", "to"))
        if first_day is None or last_day is None:
            problems.append(((event,), "bad-date", f"'{event}': from and to are days like 04-15"))
            continue
        items.append(Override(event, first_day, last_day, str(entry["note"])))
    given = {item.event: item for item in items}
    for first, last, _ in PAIRS:
        if first in given and last in given:
            between = (given[last].start + given[last].end - given[first].start - given[first].end) / 2 % 365
            if not 0 < between < 182:
                problems.append(((last,), "order", f"'{last}' must come after '{first}', within half a year"))
    return items, problems


def _override_day(text) -> int | None:
    try:
        month, day = (int(part) for part in str(text).split("-")[-2:])
        return day_index(dt.date(2024, month, day))
    except (ValueError, TypeError):
        return None


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

"""Reads scenario files and files of cases; every problem of a file is found in one run."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable
from pathlib import Path

from hiveweek import content, vocabulary
from hiveweek.facts.consistency import check_sets
from hiveweek.facts.errors import as_date, plain_value
from hiveweek.facts.expectations import read_expect
from hiveweek.facts.scenario import Apiary, Scenario, ScenarioHive
from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.shapes import marked_yaml
from hiveweek.shapes.marked_yaml import Document
from hiveweek.vocabulary.events import EVENTS
from hiveweek.vocabulary.model import Vocabulary

TOP_KEYS = (
    "scenario",
    "source",
    "reason",
    "climate",
    "date",
    "jurisdiction",
    "rulesets",
    "apiary",
    "hives",
    "expect",
    "note",
)
CASE_KEYS = TOP_KEYS + ("rule", "like", "facts")
HIVE_KEYS = ("id", "facts", "observed", "expect", "note")
APIARY_KEYS = ("name", "site", "observed", "lat", "lon", "elev_m", "overrides", "note")
CLIMATE_KEYS = ("normals", "about", "lat", "lon", "elev_m")
FIRST_DAY, LAST_DAY = dt.date(1950, 1, 1), dt.date(2150, 1, 1)
_MONTH_DAY = re.compile(r"(\d{2})-(\d{2})$")


def read_scenario(
    path: Path | str,
    *,
    words: Vocabulary | None = None,
    profile_ids: Iterable[str] | None = None,
    jurisdictions: Iterable[str] | None = None,
) -> Scenario:
    """Read one scenario file.

    Parameters
    ----------
    path : path
        YAML file.
    words : Vocabulary, optional
        The shipped vocabulary by default.
    profile_ids, jurisdictions : iterable of str, optional
        What the file may name; by default what is shipped.

    Raises
    ------
    InputProblems
        Everything wrong with the file: syntax, unknown keys and facts, values out of range, dates that do not exist or
        lie after the scenario's, duplicate hives, facts that cannot be together, expectations of unknown names.
    """
    document = marked_yaml.read(path, content.shown(Path(path)))
    return scenario_of(document, Path(path).parent, words=words, profile_ids=profile_ids, jurisdictions=jurisdictions)


def scenario_of(
    document: Document,
    folder: Path | str = ".",
    *,
    words: Vocabulary | None = None,
    profile_ids: Iterable[str] | None = None,
    jurisdictions: Iterable[str] | None = None,
) -> Scenario:
    """Read a scenario from a parsed document; other files it names are looked for from ``folder``.

    Raises
    ------
    InputProblems
        As `read_scenario`.
    """
    reader = _Reader(document, Path(folder), words, profile_ids, jurisdictions)
    scenario = None if reader.problems and document.data is None else reader.scenario((), TOP_KEYS)
    if reader.problems:
        raise InputProblems(reader.problems)
    return scenario


def read_cases(
    path: Path | str,
    *,
    words: Vocabulary | None = None,
    profile_ids: Iterable[str] | None = None,
    jurisdictions: Iterable[str] | None = None,
) -> list[Scenario]:
    """Read a file of cases: ``cases`` (scenarios, each with the ``rule`` it tries) and ``hives`` (presets they share).

    A case or one of its hives may say ``like: PRESET`` and give only what differs; a value of ``~`` takes a fact away.

    Raises
    ------
    InputProblems
        As `read_scenario`, over all cases.
    """
    document = marked_yaml.read(path, content.shown(Path(path)))
    reader = _Reader(document, Path(path).parent, words, profile_ids, jurisdictions)
    cases = reader.cases() if document.data is not None else []
    if reader.problems:
        raise InputProblems(reader.problems)
    return cases


def shipped(folder: str) -> list[str]:
    """Return the ids of the shipped files of one folder (``climate_profiles``, ``rulesets/jurisdictions``)."""
    return sorted(p.stem for p in (content.root() / folder).glob("*.yaml"))


class _Reader:
    """One document on its way to scenarios."""

    def __init__(self, document, folder, words, profile_ids, jurisdictions):
        self.document: Document = document
        self.folder: Path = folder
        self.words = words or vocabulary.load()
        self.profiles = list(profile_ids) if profile_ids is not None else shipped("climate_profiles")
        self.jurisdictions = list(jurisdictions) if jurisdictions is not None else shipped("rulesets/jurisdictions")
        self.problems: list[Problem] = list(document.problems)
        self.presets: dict[str, tuple[dict, dict]] = {}

    def complain(self, path, code, message, key=False):
        self.problems.append(self.document.problem(path, code, message, key=key))

    def mapping(self, path, value, keys, what):
        """Return a mapping after looking at its keys, or None."""
        if not isinstance(value, dict):
            self.complain(path, "wrong-type", f"{what} must be a mapping")
            return None
        for key in value:
            if key not in keys:
                self.complain(
                    path + (key,), "unknown-key", f"'{key}' is no key of {what}{nearest(key, keys)}", key=True
                )
        return value

    def text(self, path, value, what):
        """Return a text as it was written."""
        if value is None and self.document.raw(path) in (None, "", "~", "null"):
            return ""
        raw = self.document.raw(path)
        if raw is None:
            self.complain(path, "wrong-type", f"{what} must be a text")
            return ""
        return raw

    # --- whole files
    def cases(self) -> list[Scenario]:
        """Read presets and cases."""
        data = self.mapping((), self.document.data, ("cases", "hives", "about"), "a file of cases")
        if data is None:
            return []
        presets = data.get("hives") or {}
        if not isinstance(presets, dict):
            self.complain(("hives",), "wrong-type", "'hives' must be a mapping of presets")
            presets = {}
        for name, body in presets.items():
            path = ("hives", name)
            value = self.mapping(path, body, ("facts", "note"), f"the preset '{name}'")
            if value is not None:
                self.presets[name] = self.facts(path + ("facts",), value.get("facts"), None)
        rows = data.get("cases")
        if not isinstance(rows, list) or not rows:
            self.complain(("cases",), "wrong-type", "'cases' must be a list of scenarios")
            return []
        return [self.scenario(("cases", i), CASE_KEYS, row) for i, row in enumerate(rows)]

    def scenario(self, path, keys, data=None) -> Scenario | None:
        """Read one scenario mapping."""
        data = self.mapping(path, self.document.data if data is None else data, keys, "a scenario")
        if data is None:
            return None
        date = self.scenario_date(path, data)
        scenario = Scenario(
            title=self.text(path + ("scenario",), data.get("scenario"), "'scenario'"),
            climate=self.climate(path, data),
            date=date,
            hives=[],
            file=self.document.name,
            source=self.sources(path + ("source",), data.get("source")),
            reason=self.text(path + ("reason",), data.get("reason"), "'reason'"),
            jurisdiction=self.jurisdiction(path, data),
            rulesets=self.rulesets(path + ("rulesets",), data.get("rulesets")),
            place=self.document.place(path),
            rule=self.text(path + ("rule",), data.get("rule"), "'rule'") or None,
        )
        sets: list[tuple[dict, dict, str]] = []
        yard_places: dict = {}
        if data.get("apiary") is not None:
            scenario.apiary, yard_places = self.apiary(path + ("apiary",), data["apiary"], date)
        self.hives(path, data, scenario, yard_places, sets)
        scenario.expect = read_expect(self, path + ("expect",), data.get("expect"), hive=False)
        self.problems += check_sets(self.words, self.document, sets)
        return scenario

    def scenario_date(self, path, data) -> dt.date | None:
        where = path + ("date",)
        if data.get("date") is None:
            if (
                not (self.document.raw(where) or "").strip("~")[:1].isdigit()
            ):  # a date that is none was told by the parser
                self.complain(path, "no-date", "the scenario needs a date, as in 'date: 2026-02-10'")
            return None
        found = as_date(data["date"])
        if found is None:
            self.complain(where, "no-such-date", f"'{self.document.raw(where)}' is no date; write it like 2026-02-10")
        elif not FIRST_DAY <= found <= LAST_DAY:
            self.complain(where, "no-such-date", f"{found} is outside {FIRST_DAY.year} to {LAST_DAY.year}")
            return None
        return found

    def climate(self, path, data):
        where = path + ("climate",)
        value = data.get("climate")
        if isinstance(value, dict):
            self.mapping(where, value, CLIMATE_KEYS, "climate")
            found = {}
            name = value.get("normals")
            if not isinstance(name, str):
                self.complain(
                    where,
                    "missing-key",
                    "climate needs a profile id, or 'normals:' with a CSV file, and lat, lon, elev_m",
                )
            else:
                found["normals"] = self.file(where + ("normals",), name)
            if isinstance(value.get("about"), str):
                found["about"] = self.file(where + ("about",), value["about"])
            for key, low, high in (("lat", -90, 90), ("lon", -180, 180), ("elev_m", -500, 9000)):
                number = self.number(where + (key,), value.get(key), key, low, high)
                if number is None and value.get(key) is None:
                    self.complain(where, "missing-key", f"climate from normals needs '{key}'")
                found[key] = number
            return found
        text = self.text(where, value, "'climate'")
        if not text:
            self.complain(path, "no-climate", f"the scenario needs a climate: one of {', '.join(self.profiles)}")
        elif text not in self.profiles:
            self.complain(where, "unknown-profile", f"'{text}' is no climate profile{nearest(text, self.profiles)}")
        return text

    def file(self, path, name: str) -> Path:
        """Return another file, looked for beside this one."""
        found = self.folder / name
        try:
            there = found.is_file()
        except (OSError, ValueError):
            there = False
        if not there:
            self.complain(path, "no-file", f"'{name}' is not there")
        return found

    def number(self, path, value, what, low, high):
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            self.complain(path, "wrong-type", f"'{what}' must be a number")
            return None
        if not low <= value <= high:
            self.complain(path, "out-of-range", f"'{what}' lies between {low} and {high}; {value:g} is outside")
            return None
        return float(value)

    def jurisdiction(self, path, data):
        where = path + ("jurisdiction",)
        text = self.text(where, data.get("jurisdiction"), "'jurisdiction'")
        if text and text not in self.jurisdictions:
            self.complain(
                where, "unknown-jurisdiction", f"'{text}' is no jurisdiction{nearest(text, self.jurisdictions)}"
            )
        return text or None

    def sources(self, path, value) -> list[str]:
        if isinstance(value, list):
            return [self.text(path + (i,), item, "a source") for i, item in enumerate(value)]
        text = self.text(path, value, "'source'")
        return [text] if text else []

    def rulesets(self, path, value) -> list[Path]:
        if value is None:
            return []
        if not isinstance(value, list):
            self.complain(path, "wrong-type", "'rulesets' must be a list of files")
            return []
        names = [(i, self.text(path + (i,), item, "a ruleset")) for i, item in enumerate(value)]
        return [self.file(path + (i,), name) for i, name in names if name]

    # --- the yard
    def apiary(self, path, value, date) -> tuple[Apiary, dict]:
        value = self.mapping(path, value, APIARY_KEYS, "apiary")
        if value is None:
            return Apiary(), {}
        site, places = self.facts(path + ("site",), value.get("site"), date, yard=True)
        apiary = Apiary(
            name=self.text(path + ("name",), value.get("name"), "'name'"),
            site=site,
            observed=[
                (day, facts)
                for day, facts, _ in self.observed(path + ("observed",), value.get("observed"), date, yard=True)
            ],
            lat=self.number(path + ("lat",), value.get("lat"), "lat", -90, 90),
            lon=self.number(path + ("lon",), value.get("lon"), "lon", -180, 180),
            elev_m=self.number(path + ("elev_m",), value.get("elev_m"), "elev_m", -500, 9000),
            overrides=self.overrides(path + ("overrides",), value.get("overrides")),
        )
        if (apiary.lat is None) != (apiary.lon is None) and value.get("lat", 0) is not None:
            self.complain(path, "missing-key", "lat and lon go together")
        return apiary, places

    def overrides(self, path, value) -> dict:
        if value is None:
            return {}
        found = {}
        for event, body in (self.mapping(path, value, EVENTS, "overrides") or {}).items():
            where = path + (event,)
            row = self.mapping(where, body, ("from", "to", "note"), f"'{event}'")
            if row is None or event not in EVENTS:
                continue
            days = {}
            for key in ("from", "to"):
                text = self.text(where + (key,), row.get(key), f"'{key}'")
                match = _MONTH_DAY.match(text)
                if not match or not _is_month_day(match):
                    self.complain(
                        where + (key,), "no-such-date", f"'{key}' of {event} needs a month and day like 04-15"
                    )
                days[key] = text
            note = self.text(where + ("note",), row.get("note"), "'note'")
            if not note:
                self.complain(where, "missing-key", f"moving {event} needs a 'note' that says why")
            found[event] = {**days, "note": note}
        return found

    # --- the hives
    def hives(self, path, data, scenario, yard_places, sets) -> None:
        rows = data.get("hives")
        where = path + ("hives",)
        if rows is None and ("facts" in data or "like" in data):
            rows, one = [{k: data[k] for k in ("facts", "like", "expect", "observed") if k in data}], True
        else:
            one = False
        if not isinstance(rows, list):
            self.complain(
                where if "hives" in data else path, "wrong-type", "'hives' must be a list of hives, each with its id"
            )
            return
        if not rows:
            self.complain(where, "no-hives", "there are no hives in this file")
        seen: dict[str, tuple] = {}
        for index, body in enumerate(rows):
            at = path if one else where + (index,)
            keys = HIVE_KEYS + ("like",) if self.presets or one else HIVE_KEYS
            row = self.mapping(at, body, keys, "a hive")
            if row is None:
                continue
            name = "H1" if one else self.hive_id(at, row, seen)
            facts, places = self.facts(at + ("facts",), row.get("facts"), scenario.date)
            preset = row.get("like")
            if preset is None and not one:
                preset = data.get("like")
            if preset is not None:
                facts, places = self.from_preset(at, str(preset), facts, places)
            hive = ScenarioHive(name, {f: v for f, v in facts.items() if v is not None}, path=at)
            dated = self.observed(at + ("observed",), row.get("observed"), scenario.date)
            hive.observed = [(day, found) for day, found, _ in dated]
            if not one:
                hive.expect = read_expect(self, at + ("expect",), row.get("expect"), hive=True)
            scenario.hives.append(hive)
            yard = scenario.apiary.site
            sets.append(({**yard, **hive.facts}, {**yard_places, **places}, name))
            sets += [(found, found_places, name) for _, found, found_places in dated]
            self.two_values(hive, scenario.date, dated)

    def two_values(self, hive, date, dated) -> None:
        """Complain where the same day is given two values for one fact."""
        for day, found, places in dated:
            if day != date:
                continue
            for fact, value in found.items():
                if fact in hive.facts and hive.facts[fact] != value:
                    self.complain(
                        places[fact],
                        "two-values",
                        f"{fact} of {hive.id} is {value} here and {hive.facts[fact]} under facts, both on the same day",
                    )

    def from_preset(self, path, preset, facts, places):
        found = self.presets.get(preset)
        if found is None:
            self.complain(
                path + ("like",),
                "unknown-preset",
                f"'{preset}' is no preset of this file{nearest(preset, self.presets)}",
            )
            return facts, places
        return {**found[0], **facts}, {**found[1], **places}

    def hive_id(self, path, row, seen) -> str:
        where = path + ("id",)
        raw = self.document.raw(where)
        if raw is None:
            self.complain(path, "no-id", "a hive needs an 'id'" if "id" not in row else "'id' must be a text")
            return ""
        name = raw.strip()
        if not name or len(name) > 60 or not name.isprintable():
            self.complain(where, "wrong-id", "a hive's id is a short text on one line")
        elif name in seen:
            first = self.document.place(seen[name])
            self.complain(where, "duplicate-hive", f"'{name}' stands twice; first at line {first[0]}")
        seen.setdefault(name, where)
        return name

    def observed(self, path, value, date, yard=False):
        """Return (date, facts, places) of each dated entry, oldest first."""
        if value is None:
            return []
        if not isinstance(value, list):
            self.complain(path, "wrong-type", "'observed' must be a list, each with its date")
            return []
        found = []
        for index, row in enumerate(value):
            at = path + (index,)
            if not isinstance(row, dict):
                self.complain(at, "wrong-type", "an observation must be a mapping with its date")
                continue
            day = as_date(row.get("date"))
            if day is None:
                raw = self.document.raw(at + ("date",))
                said = (
                    f"'{raw}' is no date; write it like 2026-02-10"
                    if raw
                    else "an observation needs its date, like 2026-02-10"
                )
                self.complain(at + ("date",) if raw else at, "no-such-date", said)
            elif date is not None and day > date:
                self.complain(at + ("date",), "date-ahead", f"{day} is after the scenario's date {date}")
            elif day < FIRST_DAY:
                self.complain(at + ("date",), "no-such-date", f"{day} is before {FIRST_DAY.year}")
            facts, places = self.facts(
                at, {k: v for k, v in row.items() if k not in ("date", "note")}, day or date, dated=True, yard=yard
            )
            if day is not None:
                found.append((day, {f: v for f, v in facts.items() if v is not None}, places))
        return sorted(found, key=lambda item: item[0])

    def facts(self, path, value, date, dated=False, yard=False) -> tuple[dict, dict]:
        """Return (plain values, place of each) of a mapping of facts."""
        if value is None:
            return {}, {}
        if not isinstance(value, dict):
            self.complain(path, "wrong-type", f"'{path[-1]}' must be a mapping of facts")
            return {}, {}
        found, places = {}, {}
        for name, written in value.items():
            at = path + (name,)
            fact = self.words.facts.get(name)
            if fact is None:
                self.complain(at, "unknown-fact", f"'{name}' is no fact{nearest(name, self.words.facts)}", key=True)
                continue
            if yard and fact.scope != "apiary":
                groups = dict.fromkeys(f.group for f in self.words.facts.values() if f.scope == "apiary")
                self.complain(
                    at,
                    "not-for-the-yard",
                    f"{name} belongs to a hive; the yard takes {', '.join(groups)} facts",
                    key=True,
                )
                continue
            if dated and fact.comes_from == "computed":
                self.complain(
                    at,
                    "not-observable",
                    f"{name} is worked out, nobody sees it; it may stand under facts only",
                    key=True,
                )
                continue
            plain, problem = plain_value(fact, written, self.document.raw(at))
            if problem:
                self.complain(at, *problem)
                continue
            if isinstance(plain, dt.date) and not fact.ahead and date is not None and plain > date:
                self.complain(at, "date-ahead", f"{name} is {plain}, after {date}")
                continue
            found[name], places[name] = plain, at
        return found, places


def _is_month_day(match) -> bool:
    try:
        dt.date(2000, int(match[1]), int(match[2]))
    except ValueError:
        return False
    return True

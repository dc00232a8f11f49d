"""Reads scenario files and files of cases; every problem of a file is found in one run."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path
from typing import cast

from hiveweek import content, vocabulary
from hiveweek.climate.profiles import load_profile
from hiveweek.facts.consistency import check_sets
from hiveweek.facts.entries import EntryReader, overruled
from hiveweek.facts.expectations import backwards, read_expect
from hiveweek.facts.lessons import read_lesson
from hiveweek.facts.scenario import Apiary, Scenario, ScenarioHive
from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.record import Entry, Kind
from hiveweek.shapes import Shape, marked_yaml
from hiveweek.shapes.marked_yaml import Document
from hiveweek.shapes.structure import listed, texts
from hiveweek.vocabulary.definitions import choice, definitions, entry_definitions
from hiveweek.vocabulary.model import Vocabulary

NO_FACTS = ("date", "note")  # what may stand among the facts of a dated entry
FIRST_DAY, LAST_DAY = dt.date(1950, 1, 1), dt.date(2150, 1, 1)


@lru_cache(maxsize=8)
def shape_of(kind: str, words: Vocabulary, profiles: tuple[str, ...], jurisdictions: tuple[str, ...]) -> Shape:
    """Return the shape of a scenario file or a file of cases, with the names it may use."""
    named = {"profile": choice("profile", profiles), "jurisdiction": choice("jurisdiction", jurisdictions)}
    return Shape(kind, {**definitions(words), **entry_definitions(words), **named})


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
    reader = _Reader("scenario", document, Path(folder), words, profile_ids, jurisdictions)
    scenario = reader.scenario()
    problems = reader.found()
    if problems:
        raise InputProblems(problems)
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
    reader = _Reader("cases", document, Path(path).parent, words, profile_ids, jurisdictions)
    cases = reader.cases()
    problems = reader.found()
    if problems:
        raise InputProblems(problems)
    return cases


def shipped(folder: str) -> list[str]:
    """Return the ids of the shipped files of one folder (``climate_profiles``, ``rulesets/jurisdictions``)."""
    return sorted(p.stem for p in (content.root() / folder).glob("*.yaml") if "." not in p.stem)  # no file of cases


class _Reader:
    """One document on its way to scenarios; what is of another shape than its schema has been told and taken out."""

    def __init__(self, kind, document, folder, words, profile_ids, jurisdictions):
        self.document: Document = document
        self.folder: Path = folder
        self.words = words or vocabulary.load()
        shape = shape_of(
            kind,
            self.words,
            tuple(shipped("climate_profiles") if profile_ids is None else profile_ids),
            tuple(shipped("rulesets/jurisdictions") if jurisdictions is None else jurisdictions),
        )
        self.problems: list[Problem] = [*document.problems, *shape.check(document)]
        self.presets: dict[str, tuple[dict, dict]] = {}
        self.sets: list[
            tuple[dict, dict, str]
        ] = []  # what is said of one hive on one day, of all scenarios of the file

        self.entry = EntryReader(self.words, self.facts, self.date, self.complain)

    def found(self) -> list[Problem]:
        """Return everything wrong with the file, after it has been read."""
        return [*self.problems, *check_sets(self.words, self.document, self.sets)]

    def complain(self, path, code, message):
        self.problems.append(self.document.problem(path, code, message))

    # --- whole files
    def cases(self) -> list[Scenario]:
        """Read presets and cases."""
        data = self.document.data or {}
        for name, preset in (data.get("hives") or {}).items():
            self.presets[name] = self.facts(("hives", name, "facts"), preset.get("facts"), None)
        return [self.scenario(("cases", i), row) for i, row in enumerate(listed(data.get("cases"))) if row is not None]

    def scenario(self, path=(), data=None) -> Scenario:
        """Read one scenario mapping."""
        data = (self.document.data or {}) if data is None else data
        date = self.scenario_date((*path, "date"), data.get("date"))
        source = data.get("source") or ()
        scenario = Scenario(
            title=data.get("scenario") or "",
            climate=self.climate((*path, "climate"), data.get("climate")),
            date=cast(dt.date, date),  # where there is none, that is a problem and nothing is returned
            hives=[],
            file=self.document.name,
            source=[source] if isinstance(source, str) else list(texts(source)),
            reason=data.get("reason") or "",
            jurisdiction=data.get("jurisdiction") or None,
            rulesets=[
                self.file((*path, "rulesets", i), name)
                for i, name in enumerate(listed(data.get("rulesets")))
                if name is not None
            ],
            place=self.document.place(path),
            rule=data.get("rule") or None,
            facts_on=self.facts_on((*path, "facts_on"), data.get("facts_on"), date),
        )
        yard_places: dict = {}
        if data.get("apiary") is not None:
            scenario.apiary, yard_places = self.apiary((*path, "apiary"), data["apiary"], date, scenario.facts_on)
            self.seasons((*path, "apiary", "lat"), scenario.climate, scenario.apiary.lat)
        self.hives(path, data, scenario, yard_places)
        scenario.expect = read_expect(data.get("expect"))
        if data.get("lesson") is not None:
            scenario.lesson = read_lesson(self, (*path, "lesson"), data["lesson"], scenario)
        return scenario

    def scenario_date(self, path, value) -> dt.date | None:
        found = self.date(path, value)
        if found is not None and not FIRST_DAY <= found <= LAST_DAY:
            self.complain(path, "no-such-date", f"{found} is outside {FIRST_DAY.year} to {LAST_DAY.year}")
            return None
        return found

    def facts_on(self, path, value, date) -> dt.date | None:
        """Return the day of the facts; not after the scenario's."""
        found = self.scenario_date(path, value)
        if found is not None and date is not None and found > date:
            self.complain(path, "date-ahead", f"{found} is after the scenario's date {date}")
        return found

    def date(self, path, value) -> dt.date | None:
        """Return a date; one in quotes may be none."""
        if value is None or isinstance(value, dt.date):
            return value
        try:
            return dt.date.fromisoformat(value)
        except ValueError:
            self.complain(path, "no-such-date", f"'{value}' is no date in the calendar")
            return None

    def climate(self, path, value):
        if not isinstance(value, dict):
            return value
        files = {key: self.file((*path, key), value[key]) for key in ("normals", "about") if value.get(key) is not None}
        return {**files, **{key: _float(value.get(key)) for key in ("lat", "lon", "elev_m")}}

    def seasons(self, path, climate, lat: float | None) -> None:
        """Complain of a shipped climate of the other half of the Earth."""
        if lat is not None and climate in shipped("climate_profiles"):
            try:
                load_profile(climate).at_latitude(lat)
            except InputProblems as error:
                for problem in error.problems:
                    self.complain(path, problem.code, problem.message)

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

    # --- the yard
    def apiary(self, path, value, date, facts_on) -> tuple[Apiary, dict]:
        site, places = self.facts((*path, "site"), value.get("site"), date)
        looks = self.observed((*path, "observed"), value.get("observed"), date)
        entries, noted = self.entries((*path, "record"), value.get("record"), date)
        if facts_on is None:
            self.overruled(site, places, [*looks, *noted])
        return Apiary(
            name=value.get("name") or "",
            site=site,
            observed=[(day, facts) for day, facts, _ in looks],
            lat=_float(value.get("lat")),
            lon=_float(value.get("lon")),
            elev_m=_float(value.get("elev_m")),
            overrides=value.get("overrides") or {},
            entries=entries,
        ), places

    # --- the hives
    def hives(self, path, data, scenario, yard_places) -> None:
        one = "hives" not in data
        rows = [{key: data[key] for key in ("facts", "like") if key in data}] if one else listed(data["hives"])
        seen: dict[str, tuple] = {}
        for index, row in enumerate(rows):
            if row is None:
                continue
            at = path if one else (*path, "hives", index)
            name = "H1" if one else self.hive_id((*at, "id"), seen)
            facts, places = self.facts((*at, "facts"), row.get("facts"), scenario.date)
            preset = row.get("like") or data.get("like")
            if preset is not None:
                facts, places = self.from_preset((*at, "like"), preset, facts, places)
            hive = ScenarioHive(name, {f: v for f, v in facts.items() if v is not None}, path=at)
            dated = self.observed((*at, "observed"), row.get("observed"), scenario.date)
            hive.observed = [(day, found) for day, found, _ in dated]
            hive.facts_on = self.facts_on((*at, "facts_on"), row.get("facts_on"), scenario.date)
            hive.entries, noted = self.entries((*at, "record"), row.get("record"), scenario.date)
            hive.expect = self.expect((*at, "expect"), row.get("expect"))
            scenario.hives.append(hive)
            yard = scenario.apiary.site
            self.sets.append(({**yard, **hive.facts}, {**yard_places, **places}, name))
            self.sets += [(found, found_places, name) for _, found, found_places in dated]
            self.sets += [({f: v for f, v in found.items() if v is not None}, where, name) for _, found, where in noted]
            self.two_values(hive, hive.facts_on or scenario.facts_on or scenario.date, dated)
            if hive.facts_on is None and scenario.facts_on is None:
                self.overruled(hive.facts, places, [*dated, *noted])
        self.partners(scenario)

    def expect(self, path, value) -> dict:
        """Return what is expected of a hive; a pair runs from the lower to the higher."""
        if value and "by" in value:
            days = {
                action: [self.date((*path, "by", action, k), day) for k, day in enumerate(ends)]
                for action, ends in value["by"].items()
            }
            value = {**value, "by": days}
        for key, action, first, last in backwards(value):
            self.complain(
                (*path, key, action), "out-of-range", f"'{key}' of {action} runs backwards, from {first} to {last}"
            )
        return read_expect(value)

    def entries(self, path, value, date) -> tuple[list[Entry], list[tuple[dt.date, dict, dict]]]:
        """Return the entries of a record, and (date, facts, places) of those that say what was seen or set."""
        found, noted = [], []
        for index, row in enumerate(listed(value)):
            read = None if row is None else self.entry.read((*path, index), row, date)
            if read is not None:
                entry, places = read
                found.append(entry)
                noted.append((entry.since or entry.date, dict(entry.facts), places))
                noted += self.changed(entry, (*path, index, "done"))
        return found, noted

    def changed(self, entry: Entry, path) -> list[tuple[dt.date, dict, dict]]:
        """Return what a job done set, as far as its effect names the value or the entry says it."""
        effect = self.words.effects.get(entry.action or "") if entry.kind is Kind.DONE else None
        if effect is None:
            return []
        said = {fact: entry.details[detail] for fact, detail in effect.told.items() if detail in entry.details}
        return [(entry.date, {**effect.set, **said}, dict.fromkeys([*effect.set, *said], path))]

    def overruled(self, facts, places, dated) -> None:
        """Complain of equipment that stands otherwise under facts than in the last dated entry."""
        rows = sorted(dated, key=lambda row: row[0])
        for path, code, said in overruled(self.words, self.document, facts, places, rows):
            self.complain(path, code, said)

    def partners(self, scenario) -> None:
        """Complain of a partner that is no other hive of the file."""
        names = [hive.id for hive in scenario.hives]
        for hive in scenario.hives:
            for index, entry in enumerate(hive.entries):
                other = entry.details.get("partner")
                if other is not None and (other == hive.id or other not in names):
                    said = f"'{other}' is no other hive of this file{nearest(str(other), names)}"
                    self.complain((*hive.path, "record", index, "partner"), "unknown-hive", said)

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
            said = f"'{preset}' is no preset of this file{nearest(preset, self.presets)}"
            self.complain(path, "unknown-preset", said)
            return facts, places
        return {**found[0], **facts}, {**found[1], **places}

    def hive_id(self, path, seen) -> str:
        """Return the id as it was written."""
        written = self.document.raw(path)
        if written is None:
            return ""
        name = written.strip()
        if not name or len(name) > 60 or not name.isprintable():
            self.complain(path, "wrong-id", "a hive's id is a short text on one line")
        elif name in seen:
            first = self.document.place(seen[name])
            self.complain(path, "duplicate-hive", f"'{name}' stands twice; first at line {first[0]}")
        seen.setdefault(name, path)
        return name

    def observed(self, path, value, date):
        """Return (date, facts, places) of each dated entry, oldest first."""
        found = []
        for index, row in enumerate(listed(value)):
            if row is None:
                continue
            at = (*path, index)
            day = self.date((*at, "date"), row.get("date"))
            if day is not None and date is not None and day > date:
                self.complain((*at, "date"), "date-ahead", f"{day} is after the scenario's date {date}")
            elif day is not None and day < FIRST_DAY:
                self.complain((*at, "date"), "no-such-date", f"{day} is before {FIRST_DAY.year}")
            facts, places = self.facts(at, row, day or date)
            if day is not None:
                found.append((day, {f: v for f, v in facts.items() if v is not None}, places))
        return sorted(found, key=lambda item: item[0])

    def facts(self, path, value, date) -> tuple[dict, dict]:
        """Return (plain values, place of each) of a mapping of facts."""
        found, places = {}, {}
        for name, written in (value or {}).items():
            if name in NO_FACTS:
                continue
            at = (*path, name)
            fact = self.words.facts[name]
            plain = written
            if fact.kind == "date":
                plain = self.date(at, written)
                if plain is not None and not fact.ahead and date is not None and plain > date:
                    self.complain(at, "date-ahead", f"{name} is {plain}, after {date}")
                    continue
            elif fact.kind == "integer" and plain is not None:
                plain = int(plain)
            found[name], places[name] = plain, at
        return found, places


def _float(value) -> float | None:
    return None if value is None else float(value)

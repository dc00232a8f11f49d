"""One apiary at one date, as written in a scenario file or kept in a record."""

from __future__ import annotations

import dataclasses
import datetime as dt
from dataclasses import dataclass, field
from pathlib import Path

from hiveweek import record as record_room
from hiveweek.problems import InputProblems, Problem
from hiveweek.record import Entry, Hive, Kind, Placement, Record
from hiveweek.texts.parts import Day, Phrase, listed, message
from hiveweek.vocabulary.model import Vocabulary

EXPECT_LISTS = ("top", "includes", "excludes")
EXPECT_RULES = ("fires", "not_fires", "undecided")


@dataclass
class ScenarioHive:
    """One hive.

    Attributes
    ----------
    id : str
        As written in the file.
    key : str
        Id of the hive in the scenario's record; empty where the scenario has none of its own.
    facts : dict of str to plain value
        As seen on the scenario's date; computed facts given here are fixed.
    observed : list of (date, dict)
        Dated looks and changes, oldest first.
    entries : list of Entry
        Entries of its record; their apiary and hive are filled in by ``record_of``, a partner is named by its id here.
    facts_on : date or None
        The day on which ``facts`` were seen, where that is another than the scenario's.
    expect : dict
        What the answer should hold; judged by the check of cases only.
    """

    id: str
    facts: dict = field(default_factory=dict)
    observed: list = field(default_factory=list)
    expect: dict = field(default_factory=dict)
    path: tuple = ()
    key: str = ""
    entries: list[Entry] = field(default_factory=list)
    facts_on: dt.date | None = None


@dataclass
class Apiary:
    """The yard: its name, place and what holds for all hives.

    Attributes
    ----------
    site : dict of str to plain value
        Facts of the yard on the scenario's date.
    observed : list of (date, dict)
        Dated facts of the yard.
    entries : list of Entry
        Entries of its record, as those of a hive.
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
    entries: list[Entry] = field(default_factory=list)

    @property
    def coords(self) -> tuple[float, float, float | None] | None:
        """Latitude, longitude and height, or None where the place is not given."""
        if self.lat is None or self.lon is None:
            return None
        return self.lat, self.lon, self.elev_m


@dataclass
class Lesson:
    """What makes a scenario one to practise on.

    Attributes
    ----------
    id : str
        Its permanent name, once in all files.
    topic : str
        What it trains; scenarios of one topic count together.
    story : str
        What happened, in a keeper's words.
    hive : str
        The hive that is asked about.
    found : dict of str to dict
        By hive, the facts that are not known at first: a look that observes one of them finds its value.
    then : dict of str to dict
        By hive, what the answer should hold once all of that is found, as ``ScenarioHive.expect``.
    debrief : str
        What to learn from it.
    read : tuple of str
        Keys of sources that say so.
    against : dict of str to str
        By action, why it must not be done here.
    aside : dict of str to str
        By action, why it is not this week's job, where the story tempts to it; it does no harm.
    """

    id: str
    topic: str
    story: str
    hive: str
    found: dict = field(default_factory=dict)
    then: dict = field(default_factory=dict)
    debrief: str = ""
    read: tuple[str, ...] = ()
    against: dict[str, str] = field(default_factory=dict)
    aside: dict[str, str] = field(default_factory=dict)


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
    facts_on : date or None
        The day on which facts and site were seen; the scenario's date where None.
    rule : str or None
        In files of cases: the rule that the case tries.
    record, yard : Record and str, or None and empty
        The record that the scenario is taken from, and the id of the apiary in it. Then it alone says what was seen and done.
    notes : list of Phrase
        What is to be said of it with the answer.
    lesson : Lesson or None
        In files of cases: what makes it one to practise on.
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
    facts_on: dt.date | None = None
    record: Record | None = None
    yard: str = ""
    notes: list[Phrase] = field(default_factory=list)
    lesson: Lesson | None = None


def scenario_of_record(record: Record, apiary: str, day: dt.date) -> Scenario:
    """Return the question that a record asks on a day: the hives that stand in an apiary then, with all that is recorded.

    Parameters
    ----------
    record : Record
        With the entries of these hives and of the apiaries where they stood.
    apiary : str
        Its id.
    day : date
        The day of the answer. Later entries do not count; hives that have ended by then are left out.

    Raises
    ------
    KeyError
        For an apiary that the record does not have.
    InputProblems
        For one whose climate is not set: nothing can be said of its seasons.
    """
    place = record.apiaries[apiary]
    if not place.climate:
        said = f"{place.name}: no climate yet; 'hiveweek apiary set NAME climate=PROFILE'"
        raise InputProblems([Problem("", 0, 0, "no-climate", said)])
    hives = record.hives_at(apiary, day)
    return Scenario(
        title=place.name,
        climate=place.climate,
        date=day,
        hives=[ScenarioHive(hive.name, key=hive.id) for hive in hives],
        apiary=Apiary(
            name=place.name, lat=place.lat, lon=place.lon, elev_m=place.elev_m, overrides=dict(place.overrides)
        ),
        jurisdiction=place.jurisdiction,
        rulesets=[Path(path) for path in place.rulesets],
        record=record,
        yard=apiary,
        notes=_absent(record, apiary, day, bool(hives)),
    )


def _absent(record: Record, apiary: str, day: dt.date, any_here: bool) -> list[Phrase]:
    """Return what is to be said of hives that are not there on a day: those that come later, or that there are none."""
    firsts = sorted(
        (place.since, hive.name)
        for hive in record.hives.values()
        for place in hive.placements[:1]
        if place.apiary == apiary and place.since > day
    )
    if firsts:
        return [
            message(
                "note.not-yet-here",
                day=Day(day),
                hives=listed([message("note.came", hive=name, day=Day(since, day)) for since, name in firsts], "comma"),
            )
        ]
    return [] if any_here else [message("note.no-hives", day=Day(day))]


def record_of(scenario: Scenario, words: Vocabulary) -> tuple[Record, str, list[str]]:
    """Return the record of a scenario, the id of its apiary and the ids of its hives, in their order.

    Parameters
    ----------
    scenario : Scenario
        One taken from a record gives that record.
    words : Vocabulary
        Tells what was seen from what stands there.

    Notes
    -----
    What a file says under ``facts`` and ``site`` is a state found on its date; what stands under ``observed`` was noted on
    its own day. Computed facts are no part of a record.
    """
    if scenario.record is not None:
        return scenario.record, scenario.yard, [hive.key for hive in scenario.hives]
    made = Record(apiaries={_YARD: record_room.Apiary(_YARD, scenario.apiary.name)})
    yard, found_on = scenario.apiary, scenario.facts_on or scenario.date
    writer = _Writer(made, words)
    for day, facts in yard.observed:
        writer.say(None, day, facts)
    writer.say(None, found_on, yard.site, found=True)
    for entry in yard.entries:
        writer.add(dataclasses.replace(entry, apiary=_YARD))
    keys = {hive.id: str(row) for row, hive in enumerate(scenario.hives)}
    for row, hive in enumerate(scenario.hives):
        key = str(row)
        made.hives[key] = Hive(key, hive.id, (Placement(_YARD, dt.date.min),))
        for day, facts in hive.observed:
            writer.say(key, day, facts)
        writer.say(key, hive.facts_on or found_on, hive.facts, found=True)
        for entry in hive.entries:
            details = dict(entry.details)
            if "partner" in details:
                details["partner"] = keys.get(str(details["partner"]), str(details["partner"]))
            writer.add(dataclasses.replace(entry, apiary=_YARD, hive=key, details=details))
    return made, _YARD, list(made.hives)


class _Writer:
    """Writes entries into a record, one after the other."""

    def __init__(self, record: Record, words: Vocabulary):
        self.record, self.words = record, words

    def add(self, entry: Entry) -> None:
        """Add one entry, numbered."""
        number = len(self.record.entries) + 1
        self.record.entries.append(dataclasses.replace(entry, id=str(number), sequence=number, source="file"))

    def say(self, hive: str | None, day: dt.date, facts: dict, found: bool = False) -> None:
        """Add what was seen and what stands there on a day, as far as it is no computed fact."""
        for kind, origins in _ORIGINS.items():
            told = {name: value for name, value in facts.items() if self.words.facts[name].comes_from in origins}
            if told:
                self.add(Entry("", kind, _YARD, hive, day, facts=told, found=found))


_YARD = "yard"
_ORIGINS = {Kind.SEEN: ("observed",), Kind.SET: ("equipment", "site")}

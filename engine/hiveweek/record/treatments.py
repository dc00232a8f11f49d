"""The treatment record: what was given to which hive, from when to when, with what keepers have to write down about it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

from hiveweek.record.entries import Entry, Kind, Plain
from hiveweek.record.record import Record
from hiveweek.vocabulary.model import Vocabulary

COLUMNS = [
    "apiary",
    "hive",
    "in",
    "out",
    "active",
    "form",
    "product",
    "batch",
    "supplier",
    "prescription",
    "amount",
    "withdrawal",
    "disposal",
    "counted_before",
    "before",
    "counted_after",
    "after",
    "who",
]
TREATMENT, END, ACTIVE, ONE_DAY, OTHER = "treatment", "treatment_end", "active", "one_day", "unknown"


@dataclass
class Course:
    """One treatment of one hive.

    Attributes
    ----------
    out : date or None
        None while it is in.
    details : dict
        As they were said when it was given and taken out.
    before, after : (date, str) or None
        The last count before it went in and the first after it was out.
    """

    hive: str
    into: dt.date
    out: dt.date | None = None
    details: dict[str, Plain] = field(default_factory=dict)
    who: str = ""
    before: tuple[dt.date, str] | None = None
    after: tuple[dt.date, str] | None = None


class Reader:
    """Reads the courses of each hive from live entries.

    Parameters
    ----------
    record : Record
        With all entries.
    words : Vocabulary
        Its effects and acts say which entries begin and end a course, its details what is asked of one.
    """

    def __init__(self, record: Record, words: Vocabulary):
        self.record, self.words = record, words
        one_day = words.facts[words.details[ACTIVE].of].groups.get(ONE_DAY, ())
        self.one_day = set(one_day)
        self.turns = {
            act: [(sign["turns"], set(sign["to"])) for sign in words.acts[act]["signs"] if "turns" in sign]
            for act in (TREATMENT, END)
        }

    def courses(self) -> list[Course]:
        """Return all courses, by apiary, hive and day."""
        of_hive: dict[str, list[Entry]] = {hive: [] for hive in self.record.hives}
        for entry in self.record.live():
            if entry.hive is not None:
                of_hive[entry.hive].append(entry)
            else:  # what was done to a whole apiary was done to each hive that stood there
                for hive in self.record.hives_at(entry.apiary, entry.date):
                    of_hive[hive.id].append(entry)
        found = [course for hive, entries in of_hive.items() for course in self._of_hive(hive, entries)]
        return sorted(found, key=lambda c: (*self.where(c), c.into))

    def where(self, course: Course) -> tuple[str, str]:
        """Return the names of apiary and hive of a course, on its first day."""
        hive = self.record.hives[course.hive]
        first = next((p.apiary for p in reversed(hive.placements) if p.since <= course.into), hive.placements[0].apiary)
        return self.record.apiaries[first].name, hive.name

    def _of_hive(self, hive: str, entries: list[Entry]) -> list[Course]:
        courses: list[Course] = []
        counts = [count for count in map(self._count, entries) if count is not None]
        for entry in entries:
            running = courses[-1] if courses and courses[-1].out is None else None
            given, ended = self._given(entry), self._ended(entry)
            if given is not None:
                same = next(
                    (c for c in courses if c.into == entry.date and c.details.get(ACTIVE) == given[ACTIVE]), None
                )
                if same is not None:  # the same course, noted in two ways on one day
                    same.details = {**same.details, **given}
                    continue
                if running is not None:
                    running.out = entry.date
                courses.append(Course(hive, entry.date, details=given, who=entry.who))
                if given[ACTIVE] in self.one_day:
                    courses[-1].out = entry.date
            elif ended and running is not None:
                running.out = entry.date
                running.details.update(entry.details)
                running.who = running.who or entry.who
        for course in courses:
            earlier = [count for count in counts if count[0] <= course.into]
            out = course.out
            later = [count for count in counts if out is not None and count[0] > out]
            course.before, course.after = (earlier[-1] if earlier else None), (later[0] if later else None)
        return courses

    def _given(self, entry: Entry) -> dict[str, Plain] | None:
        """Details of the treatment that an entry tells of; None where it tells of none."""
        if entry.kind is Kind.DONE and entry.action in self.words.effects:
            effect = self.words.effects[entry.action]
            if not effect.treats:
                return None
            usual = effect.treats if isinstance(effect.treats, str) else OTHER
            return {ACTIVE: usual, **entry.details}
        for fact, words in self.turns[TREATMENT]:
            if entry.kind in (Kind.SET, Kind.SEEN) and entry.facts.get(fact) in words:
                return {ACTIVE: entry.facts[fact]}
        return None

    def _ended(self, entry: Entry) -> bool:
        if entry.kind is Kind.DONE and entry.action in self.words.effects:
            return self.words.effects[entry.action].act == END
        return entry.kind in (Kind.SET, Kind.SEEN) and any(
            entry.facts.get(fact) in words for fact, words in self.turns[END]
        )

    def _count(self, entry: Entry) -> tuple[dt.date, str] | None:
        said = self._said(entry)
        mites, bees, drop = said.get("mites"), said.get("bees"), said.get("drop_per_day")
        if mites is not None:
            method = f" {said['method']}" if said.get("method") else ""
            return entry.date, f"{mites:g}/{bees:g}{method}" if bees is not None else f"{mites:g}{method}"
        return None if drop is None else (entry.date, f"{drop:g}/d")

    def _said(self, entry: Entry) -> Mapping[str, Plain]:
        if entry.kind is Kind.DONE:
            return entry.details
        return {
            name: entry.facts[self.words.details[name].of]
            for name in ("mites", "bees", "method", "drop_per_day")
            if entry.facts.get(self.words.details[name].of) is not None
        }

    def row(self, course: Course) -> dict[str, str]:
        """Return a course as texts by column; empty where nothing was said."""
        apiary, hive = self.where(course)
        said = {name: "" if value is None else str(value) for name, value in course.details.items()}
        pieces = said.get("pieces", "")
        row = dict.fromkeys(COLUMNS, "")
        row.update({name: said[name] for name in COLUMNS if name in said})
        row.update(apiary=apiary, hive=hive, who=course.who)
        row["in"], row["out"] = course.into.isoformat(), course.out.isoformat() if course.out else ""
        row["amount"] = "; ".join(word for word in (said.get("amount", ""), pieces and f"x {pieces}") if word)
        for name in ("before", "after"):
            count = getattr(course, name)
            if count is not None:
                row[f"counted_{name}"], row[name] = count[0].isoformat(), count[1]
        return row

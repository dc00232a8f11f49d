"""Rows of a keeper's own sheet as entries, each row with its fate."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
import uuid
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from hiveweek.problems import InputProblems, Problem, nearest
from hiveweek.record import cells
from hiveweek.record.details import details_of
from hiveweek.record.entries import Entry, Kind, Plain, new_id
from hiveweek.record.record import Apiary, Hive, folded
from hiveweek.record.sheet_map import SheetMap, day_in, text_of
from hiveweek.record.sheets import Sheet
from hiveweek.record.store import Store
from hiveweek.record.values import day_of, problems_of, value_of
from hiveweek.vocabulary.model import Vocabulary

NAMESPACE = uuid.UUID("6f0f4f0e-4d5c-5c5b-9c0e-0b6d2f6d5a11")
NEW, THERE, BAD, BLANK = "new", "there", "bad", "blank"


@dataclass
class Fate:
    """What becomes of a row.

    Attributes
    ----------
    state : str
        new, there (all of it is in the record), bad, or blank (nothing said).
    """

    line: int
    state: str
    entries: list[Entry] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)


class RowReader:
    """Reads the rows of one sheet.

    Parameters
    ----------
    store : Store
        The record: its apiaries and hives, and what is there already.
    sheet : Sheet
    sheet_map : SheetMap
    words : Vocabulary
    name : str
        The file as the user named it.
    today : date
    apiary : Apiary, optional
        Where a row names none.
    sure : bool
        Days before a hive's first or after its end are meant.

    Raises
    ------
    InputProblems
        For columns that the map names and the sheet does not have.
    """

    def __init__(
        self,
        store: Store,
        sheet: Sheet,
        sheet_map: SheetMap,
        words: Vocabulary,
        name: str,
        today: dt.date,
        apiary: Apiary | None = None,
        sure: bool = False,
    ):
        self.store, self.sheet, self.map, self.words = store, sheet, sheet_map, words
        self.name, self.today, self.apiary, self.sure = name, today, apiary, sure
        self.apiaries = {folded(one.name): one for one in store.apiaries()}
        self.hives: dict[tuple[str, str], list[Hive]] = {}
        self.by_id: dict[str, Hive] = {}
        for hive in store.hives():
            self.by_id[hive.id] = hive
            for place in {place.apiary for place in hive.placements}:
                self.hives.setdefault((place, folded(hive.name)), []).append(hive)
        self.place = {column: number for number, column in enumerate(sheet.head)}
        needed = [*sheet_map.roles.values(), *sheet_map.columns]
        missing = [column for column in dict.fromkeys(needed) if column not in self.place]
        if missing:
            raise InputProblems(
                Problem(name, 1, 1, "missing-column", f"no column '{one}'{nearest(one, sheet.head)}") for one in missing
            )
        double = {column for column in needed if sheet.head.count(column) > 1}
        if double:
            raise InputProblems(
                Problem(name, 1, 1, "two-columns", f"two columns are called '{one}'") for one in sorted(double)
            )
        self.unread = [column for column in sheet.head if column and column not in needed]
        self.note, self.now = new_id(), dt.datetime.now(dt.UTC)
        self.seen_before: dict[str, int] = {}
        self.withdrawn = store.withdrawn()

    def fates(self) -> Iterator[Fate]:
        """Yield what becomes of each row, in order."""
        for line, row in self.sheet.body:
            fate = Fate(line, BLANK)
            held = {column: row[at] for column, at in self.place.items() if at < len(row) and self._said(row[at])}
            if held:
                self._read(fate, held)
            yield fate

    def _said(self, cell: Any) -> bool:
        return cell is not None and not (isinstance(cell, str) and cell.strip() in self.map.empty)

    def _complain(self, fate: Fate, column: str | None, code: str, message: str) -> None:
        at = self.place[column] + 1 if column is not None else 1
        said = f"{column}: {message}" if column is not None else message
        fate.problems.append(Problem(self.name, fate.line, at, code, said))

    def _role(self, role: str, held: dict[str, Any]) -> tuple[str | None, Any]:
        """Return the column of a role and what it says."""
        column = self.map.roles.get(role)
        return (column, held.get(column)) if column is not None else (None, self.map.fixed.get(role))

    def _read(self, fate: Fate, held: dict[str, Any]) -> None:
        if not any(column in held for column in (*self.map.columns, self.map.roles.get("text", ""))):
            return  # a hive and a day alone say nothing
        day = self._day(fate, held)
        hive, apiary = self._hive(fate, held, day)
        facts = self._facts(fate, held)
        jobs = self._jobs(fate, held, apiary)
        if fate.problems or day is None or hive is None or apiary is None:
            fate.state = BAD
            return
        text = str(self._role("text", held)[1] or "")
        who = str(self._role("who", held)[1] or "")
        fate.entries = list(self._entries(apiary, hive, day, facts, jobs, text, who))
        for _, problem in problems_of(fate.entries, self.by_id, self.words, self.today, sure=self.sure):
            self._complain(fate, None, problem.code, problem.message)
        if fate.problems:
            fate.state, fate.entries = BAD, []
            return
        fate.entries = [entry for entry in map(self._own_id, fate.entries) if entry is not None]
        fate.state = NEW if fate.entries else THERE

    def _day(self, fate: Fate, held: dict[str, Any]) -> dt.date | None:
        column, cell = self._role("date", held)
        if isinstance(cell, dt.datetime):
            return cell.date()
        if isinstance(cell, dt.date):
            return cell
        try:
            text = str(cell or "").strip()
            return day_in(text, self.map.forms) if self.map.forms else day_of(text)
        except ValueError as error:
            self._complain(fate, column, "bad-date", str(error))
            return None

    def _hive(self, fate: Fate, held: dict[str, Any], day: dt.date | None) -> tuple[Hive | None, Apiary | None]:
        column, cell = self._role("apiary", held)
        apiary = self.apiary
        if cell is not None:
            apiary = self.apiaries.get(folded(str(cell)))
            if apiary is None:
                names = [one.name for one in self.apiaries.values()]
                self._complain(fate, column, "unknown-apiary", f"no apiary '{cell}'{nearest(cell, names)}")
                return None, None
        if apiary is None and len(self.apiaries) == 1:
            apiary = next(iter(self.apiaries.values()))
        if apiary is None:
            self._complain(fate, column, "which-apiary", "say which apiary: in a column, in the map, or by --apiary")
            return None, None
        column, cell = self._role("hive", held)
        name = _name(cell)
        found = self.hives.get((apiary.id, folded(name)), [])
        standing = [hive for hive in found if day is not None and hive.apiary_on(day) == apiary.id]
        if not found or not name:
            names = [hives[-1].name for (place, _), hives in self.hives.items() if place == apiary.id]
            self._complain(fate, column, "unknown-hive", f"no hive '{name}' at {apiary.name}{nearest(name, names)}")
            return None, apiary
        return (standing or found)[-1], apiary

    def _facts(self, fate: Fate, held: dict[str, Any]) -> dict[str, Plain]:
        facts: dict[str, Plain] = {}
        for name, column in self.map.columns.items():
            if column.fact and name in held:
                try:
                    facts[column.fact] = value_of(
                        self.words.facts[column.fact], text_of(self.map, column, held[name], self.words)
                    )
                except ValueError as error:
                    self._complain(fate, name, "bad-value", str(error))
        return facts

    def _jobs(self, fate: Fate, held: dict[str, Any], apiary: Apiary | None) -> dict[str, dict[str, Plain]]:
        said: dict[str, list[tuple[str, str]]] = {}
        first: dict[str, str] = {}
        for name, column in self.map.columns.items():
            if column.action and name in held:
                try:
                    text = text_of(self.map, column, held[name], self.words)
                except ValueError as error:
                    self._complain(fate, name, "bad-value", str(error))
                    continue
                if not column.detail:
                    try:
                        if not _yes(text):
                            continue
                    except ValueError as error:
                        self._complain(fate, name, "bad-value", str(error))
                        continue
                told = said.setdefault(column.action, [])
                first.setdefault(column.action, name)
                if column.detail:
                    told.append((column.detail, text))
        jobs: dict[str, dict[str, Plain]] = {}

        def named(name: str) -> str:
            found = self.hives.get((apiary.id, folded(name)), []) if apiary else []
            if not found:
                raise InputProblems([Problem("", 0, 0, "unknown-hive", f"no hive '{name}'")])
            return found[-1].id

        for action, told in said.items():
            try:
                jobs[action] = details_of(self.words, action, told, named)
            except InputProblems as error:
                for problem in error.problems:
                    self._complain(fate, first[action], problem.code, problem.message)
        return jobs

    def _entries(
        self,
        apiary: Apiary,
        hive: Hive,
        day: dt.date,
        facts: dict[str, Plain],
        jobs: dict[str, dict[str, Plain]],
        text: str,
        who: str,
    ) -> Iterator[Entry]:
        seen = {fact: value for fact, value in facts.items() if self.words.facts[fact].comes_from == "observed"}
        kit = {fact: value for fact, value in facts.items() if fact not in seen}
        common: dict[str, Any] = {"who": who, "source": "sheet", "note": self.note, "recorded_at": self.now}
        told = text
        for kind, some in ((Kind.SEEN, seen), (Kind.SET, kit)):
            if some:
                yield Entry(new_id(), kind, apiary.id, hive.id, day, facts=some, text=told, **common)
                told = ""
        for action, details in jobs.items():
            yield Entry(
                new_id(), Kind.DONE, apiary.id, hive.id, day, action=action, details=details, text=told, **common
            )
            told = ""
        if told:
            yield Entry(new_id(), Kind.REMARK, apiary.id, hive.id, day, text=told, **common)

    def _own_id(self, entry: Entry) -> Entry | None:
        """Return the entry under the id that what it says gives; None where it is in the record already.

        The second of two rows that say the same has an id of its own, and so has what was taken back and comes again.
        """
        said: list[Any] = [entry.apiary, entry.hive, entry.date.isoformat(), str(entry.kind), entry.action, entry.text]
        for values in (entry.facts, entry.details):
            said.append(sorted((name, cells.text_cell(_even(value))) for name, value in values.items()))
        text = json.dumps([*said, entry.who], ensure_ascii=False)
        before = self.seen_before.get(text, 0)
        self.seen_before[text] = before + 1
        number, left = 0, before
        while True:
            key = str(uuid.uuid5(NAMESPACE, f"{number} {text}"))
            if key in self.withdrawn:
                number += 1
            elif left:
                left, number = left - 1, number + 1
            else:
                break
        return None if self.store.has(key) else dataclasses.replace(entry, id=key)


def _even(value: Plain) -> Plain:
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _name(cell: Any) -> str:
    """Return a hive's name; a spreadsheet holds hive 7 as the number 7."""
    if isinstance(cell, float) and cell.is_integer():
        cell = int(cell)
    return "" if cell is None else str(cell).strip()


def _yes(text: str) -> bool:
    """Whether a cell says that a job was done.

    Raises
    ------
    ValueError
        For anything but yes, no, x and their like.
    """
    word = text.casefold()
    if word in ("yes", "y", "true", "1", "1.0", "x", "done", "\N{CHECK MARK}"):
        return True
    if word in ("no", "n", "false", "0", "0.0"):
        return False
    raise ValueError(f"needs yes or no, not '{text}'")


def fates_shown(fates: Sequence[Fate], hives: dict[str, str], file: str) -> Iterator[str]:
    """Yield a line a row: what becomes of it."""
    for fate in fates:
        if fate.state == BAD:
            yield from map(str, fate.problems)
        elif fate.state == NEW:
            for entry in fate.entries:
                said = entry.action or ", ".join(f"{name}={value}" for name, value in entry.facts.items()) or entry.text
                yield f"{file}:{fate.line}: {NEW} {hives[entry.hive or '']} {entry.date} {entry.kind} {said}"
        else:
            yield f"{file}:{fate.line}: {fate.state}"

"""Reads the entries of a record as a scenario file writes them, and finds what a file says twice and differently."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping

from hiveweek.problems import nearest
from hiveweek.record import Answer, Entry, Kind
from hiveweek.record.entries import Plain
from hiveweek.shapes.marked_yaml import Document
from hiveweek.vocabulary.model import Vocabulary

BELONGS = {"since": Kind.SET, "later": Kind.ANSWERED, "because": Kind.ANSWERED}  # keys of one kind of entry only
Facts = Callable[[tuple, dict, dt.date | None], tuple[dict, dict]]
Dates = Callable[[tuple, object], dt.date | None]


class EntryReader:
    """Reads entries; what is wrong with them is told to ``complain``.

    Parameters
    ----------
    words : Vocabulary
        Whose facts, actions and details an entry may name.
    facts, date : callable
        Read a mapping of facts, and a date, at a place of the file.
    complain : callable
        Takes path, code and message of a problem.
    """

    def __init__(self, words: Vocabulary, facts: Facts, date: Dates, complain: Callable[[tuple, str, str], None]):
        self.words, self.facts, self.date, self.complain = words, facts, date, complain

    def read(self, path: tuple, row: dict, latest: dt.date | None) -> tuple[Entry, dict] | None:
        """Return an entry and the places of its facts; None where it has no kind or no date."""
        kind = next((kind for kind in Kind if kind.value in row), None)
        day = self.date((*path, "date"), row.get("date"))
        if kind is None or day is None:
            return None
        for name in ("date", "until_date"):
            told = self.date((*path, name), row.get(name)) if name in row else None
            if told is not None and latest is not None and told > latest:
                self.complain((*path, name), "date-ahead", f"{told} is after the scenario's date {latest}")
        for name, only in BELONGS.items():
            if name in row and only is not kind:
                self.complain((*path, name), "not-here", f"'{name}' belongs to an entry with '{only}'")
        details = self.details(path, row, kind)
        facts: dict = {}
        places: dict = {}
        if kind in (Kind.SEEN, Kind.SET):
            facts, places = self.facts((*path, kind.value), row[kind.value] or {}, day)
        since = None if row.get("since") in (None, "unknown") else self.date((*path, "since"), row["since"])
        if since is not None and since > day:
            self.complain((*path, "since"), "date-ahead", f"{since} is after the day of the entry, {day}")
        later, because = self.date((*path, "later"), row.get("later")), row.get("because") or ""
        if kind is Kind.ANSWERED and later is None and not because:
            said = "an answer says 'later: DAY', or 'because' it does not fit here"
            self.complain((*path, "answered"), "missing-key", said)
        return Entry(
            "",
            kind,
            "",
            None,
            day,
            time=dt.time.fromisoformat(row["time"]) if row.get("time") else None,
            until_date=self.date((*path, "until_date"), row.get("until_date")),
            facts=facts,
            since=since,
            found=row.get("since") == "unknown",
            action=row.get("done") or row.get("answered"),
            details=details,
            answer=(Answer.LATER if later else Answer.NOT_HERE) if kind is Kind.ANSWERED else None,
            until=later,
            reason=because,
            text=row.get("remark") or "",
            who=row.get("who") or "",
        ), places

    def details(self, path: tuple, row: dict, kind: Kind) -> Mapping[str, Plain]:
        """Return what is said of a job done; complain of details of other jobs, and of those that are missing."""
        said = {name: value for name, value in row.items() if name in self.words.details and value is not None}
        effect = self.words.effects.get(row.get("done", ""))
        allowed = () if effect is None else (*effect.asks, *effect.takes)
        for name in said:
            if kind is not Kind.DONE or name not in allowed:
                job = f"'{row['done']}'" if kind is Kind.DONE else f"an entry with '{kind}'"
                more = f"; it takes {', '.join(allowed)}" if allowed else ""
                self.complain((*path, name), "not-here", f"{job} takes no '{name}'{more}{nearest(name, allowed)}")
        for name in () if effect is None else effect.asks:
            if name not in said:
                label = self.words.details[name].label
                self.complain((*path, "done"), "missing-detail", f"'{row['done']}' needs '{name}' ({label})")
        return {
            name: self.date((*path, name), value) if self.words.details[name].kind == "date" else value
            for name, value in said.items()
        }


def overruled(
    words: Vocabulary, document: Document, facts: dict, places: dict, dated: list[tuple[dt.date, dict, dict]]
) -> list[tuple[tuple, str, str]]:
    """Return the equipment that ``facts`` gives otherwise than the last dated entry does, as path, code and message.

    Parameters
    ----------
    facts, places : dict
        What stands under ``facts``, and where.
    dated : list of (day, facts, places)
        What was noted on days, oldest first.

    Notes
    -----
    What happens again and again (a day something was done, sugar given, the last thing that happened to the queen) is no
    equipment that stays.
    """
    events = {
        sign[key]
        for act in words.acts.values()
        for sign in act["signs"]
        for key in ("recorded", "event")
        if key in sign
    }
    last = {name: (day, value, where[name]) for day, found, where in dated for name, value in found.items()}
    wrong = []
    for name, value in facts.items():
        fact = words.facts[name]
        if fact.comes_from != "equipment" or fact.kind == "date" or name in events or name not in last:
            continue
        day, noted, where = last[name]
        if value is None or noted is None or value == noted:
            continue
        line = document.place(where)[0]
        said = (
            f"{name} is {_shown(value)} under facts, but {_shown(noted)} on {day} at line {line}; say by 'facts_on' from "
            "which day the facts are, or mend one of the two"
        )
        wrong.append((places[name], "overruled", said))
    return wrong


def _shown(value: Plain) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)

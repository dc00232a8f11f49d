"""What is found in a note: its pieces while it is read, and the entries, questions and remarks that it gives."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from hiveweek.record.entries import Kind, Plain
from hiveweek.record.notes.days import Day
from hiveweek.record.notes.grammar import Match, Reading
from hiveweek.record.notes.tokens import Token

UNDERSTOOD, ASK, REMARK, UNKNOWN, BRING, DAY = "understood", "ask", "remark", "unknown", "bring", "day"


@dataclass
class Piece:
    """One phrase of a note, or a part that is not understood.

    Attributes
    ----------
    start, end : int
        Where it stands in the note.
    part, sentence : int
    status : str
        understood, ask, remark, unknown, bring, or day where it names nothing but a day.
    readings : list of Reading
        One where it is understood.
    why : str
        Key of the sentence that says what would tell more, or why it is asked.
    match : Match or None
    day : Day or None
        Its own day.
    """

    start: int
    end: int
    part: int
    sentence: int
    tokens: tuple[Token, ...]
    status: str = UNKNOWN
    readings: list[Reading] = field(default_factory=list)
    why: str = ""
    match: Match | None = None
    day: Day | None = None
    led: bool = False

    @property
    def facts(self) -> set[str]:
        """The facts that any of its readings tells."""
        return {fact for reading in self.readings for fact in reading.facts}

    @property
    def acts(self) -> set[str]:
        """The actions that any of its readings tells."""
        return {action for reading in self.readings for action, _ in reading.acts}

    def doubt(self, why: str, more: Iterable[Reading] = ()) -> None:
        """Ask it instead of understanding it."""
        if self.status == UNDERSTOOD:
            self.status, self.why = ASK, why
            self.readings = [*self.readings, *more]


@dataclass(frozen=True)
class Said:
    """One entry that a note gives, not yet of any hive.

    Attributes
    ----------
    kind : Kind
    date, until_date : date, date or None
    facts, details : mapping
    action : str or None
    text : str
        As it was typed.
    shared : bool
        Whether it is of the whole apiary.
    """

    kind: Kind
    date: dt.date
    text: str
    until_date: dt.date | None = None
    facts: Mapping[str, Plain] = field(default_factory=dict)
    action: str | None = None
    details: Mapping[str, Plain] = field(default_factory=dict)
    shared: bool = False


@dataclass(frozen=True)
class Asked:
    """What may mean several things, or nothing without more words.

    Attributes
    ----------
    text : str
    readings : tuple of Reading
    why : str
        Key of the sentence that says why it is asked or what would tell more.
    day : Day
    """

    text: str
    readings: tuple[Reading, ...]
    why: str
    day: Day


@dataclass(frozen=True)
class Left:
    """What is kept as a remark.

    Attributes
    ----------
    text : str
    why : str
        Key of a sentence; empty where there is nothing more to say.
    known : bool
        Whether it is a phrase of the table; False says that it was not understood.
    """

    text: str
    why: str = ""
    known: bool = False


@dataclass(frozen=True)
class Bring:
    """What to bring next time, as it was typed and the thing alone."""

    text: str
    thing: str


@dataclass(frozen=True)
class Read:
    """A note read.

    Attributes
    ----------
    entries : tuple of Said
        What has one reading.
    asked : tuple of Asked
    left : tuple of Left
        Kept as a remark.
    bring : tuple of Bring
        What to bring next time.
    days : tuple of str
        Days named by themselves, as they were typed.
    """

    entries: tuple[Said, ...] = ()
    asked: tuple[Asked, ...] = ()
    left: tuple[Left, ...] = ()
    bring: tuple[Bring, ...] = ()
    days: tuple[str, ...] = ()

    @property
    def remark(self) -> str:
        """What is kept as a remark, as it was typed."""
        return "; ".join(left.text for left in self.left)

"""What can go wrong with a record, in one line each."""

from __future__ import annotations

from collections.abc import Iterable

from hiveweek.problems import InputProblems, Problem


class StoreFault(InputProblems):
    """The record could not be read or written; nothing was changed."""

    def __init__(self, where: str, code: str, message: str):
        self.code = code
        super().__init__([Problem("", 0, 0, code, f"{where}: {message}")])


# part of the library's words -> (code, what to tell)
_SAID = (
    ("locked", "record-busy", "another program is writing to the record; try again"),
    ("busy", "record-busy", "another program is writing to the record; try again"),
    ("full", "record-full", "the disk is full; nothing was written"),
    ("readonly", "record-read-only", "the record may only be read here; nothing was written"),
    ("read-only", "record-read-only", "the record may only be read here; nothing was written"),
    ("not a database", "record-damaged", "this file is no record; it was left as it is"),
    ("malformed", "record-damaged", "the record is damaged; it was left as it is. A copy may stand beside it"),
    ("corrupt", "record-damaged", "the record is damaged; it was left as it is. A copy may stand beside it"),
    ("disk i/o", "record-unreadable", "the disk does not answer as it should; nothing was written"),
    ("unable to open", "record-unreadable", "the record cannot be opened"),
    ("no such table", "record-damaged", "this database holds no record of this program; it was left as it is"),
)


def told(where: str, error: Exception) -> StoreFault:
    """Return the fault behind an error of a database library."""
    words = str(error).strip() or type(error).__name__
    for part, code, message in _SAID:
        if part in words.lower():
            return StoreFault(where, code, message)
    return StoreFault(where, "record-unreadable", "the database says: " + " ".join(words.split("\n")[0].split()))


def problem(code: str, message: str) -> InputProblems:
    """Return one complaint about what is asked of the record."""
    return InputProblems([Problem("", 0, 0, code, message)])


def writable(texts: Iterable[str]) -> None:
    """Refuse what one of the databases cannot keep, so that every record can go into each."""
    for text in texts:
        if "\0" in text or (not text.isascii() and any("\ud800" <= letter <= "\udfff" for letter in text)):
            raise problem("bad-text", f"{text[:40]!r} holds a letter that no record can keep")

"""Days as keepers write them, told from the day of the note."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from hiveweek.record.notes.grammar import number_at
from hiveweek.record.notes.table import Table
from hiveweek.record.notes.tokens import MONTHS, Token

MOST_BACK = 300  # days: a date without a year that lies farther back is not taken for one of the past
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_LONG = (
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
)
_SHORT = {
    "mon": 0,
    "tue": 1,
    "tues": 1,
    "wed": 2,
    "thu": 3,
    "thur": 3,
    "thurs": 3,
    "fri": 4,
}  # "sat" and "sun" are words of their own
_ABOUT = ("about", "around", "circa", "roughly")
_ENDINGS = ("st", "nd", "rd", "th")


@dataclass(frozen=True, slots=True)
class Day:
    """A day, or the days between which it was.

    Attributes
    ----------
    said : date
        The day named.
    first, last : date
    """

    said: dt.date
    first: dt.date
    last: dt.date


def day_at(table: Table, tokens: tuple[Token, ...], at: int, day: dt.date, relative: bool) -> list[tuple[Day, int]]:
    """Return the days that are written from a token on, each with the place after it.

    Parameters
    ----------
    day : date
        The day of the note.
    relative : bool
        Whether "yesterday" and "3 days ago" are counted from ``day``; where the note is of another day than the one on which it is
        typed, nobody knows from which of them.
    """
    words = [token.text for token in tokens]
    about = bool(words[at : at + 1]) and words[at] in _ABOUT
    start = at + 1 if about else at
    if words[start : start + 1] == ["on"]:
        start += 1
    found = [
        (one, after)
        for one, after in [
            *_dated(tokens, words, start, day),
            *(_told(table, tokens, words, start, day) if relative else []),
        ]
        if one <= day
    ]
    wide = dt.timedelta(days=table.about_days)
    return [
        (Day(one, one - wide, min(one + wide, day)) if about else Day(one, one, one), after) for one, after in found
    ]


def _told(
    table: Table, tokens: tuple[Token, ...], words: list[str], at: int, day: dt.date
) -> list[tuple[dt.date, int]]:
    """Days told from the day of the note: yesterday, 3 days ago, on Tuesday."""
    if at >= len(words):
        return []
    if words[at] == "today":
        return [(day, at + 1)]
    if words[at] == "yesterday":
        return [(day - dt.timedelta(days=1), at + 1)]
    if words[at : at + 3] == ["day", "before", "yesterday"]:  # "the" is left out before
        return [(day - dt.timedelta(days=2), at + 3)]
    number = WEEKDAYS.index(words[at]) if words[at] in WEEKDAYS else _SHORT.get(words[at])
    if number is not None:
        back = (day.weekday() - number) % 7
        return [(day - dt.timedelta(days=back), at + 1)] if back else []  # of today's own name: which week is open
    for values, after in number_at(table, tokens, at):
        if len(values) == 1 and values[0].is_integer() and words[after + 1 : after + 2] == ["ago"]:
            each = {"day": 1, "days": 1, "d": 1, "week": 7, "weeks": 7}.get(words[after])
            if each and 0 < values[0] * each <= MOST_BACK:
                return [(day - dt.timedelta(days=int(values[0]) * each), after + 2)]
    return []


def _dated(tokens: tuple[Token, ...], words: list[str], at: int, day: dt.date) -> list[tuple[dt.date, int]]:
    """Days of the calendar: 5 August, Aug 5th, 5 August 2026, 2026-08-05."""
    iso = _iso(tokens, words, at)
    if iso:
        return [iso]
    for number_place, month_place in ((0, 1), (1, 0)):
        number, after = _number(tokens, at + number_place)
        if number_place == 0 and number is not None:
            month_at = after
            end = month_at + 1
        else:
            month_at, end = at + month_place, after
        month = _month(words[month_at]) if month_at < len(words) else None
        if number is None or month is None:
            continue
        if end < len(tokens) and tokens[end].kind == "number" and len(tokens[end].text) == 4:
            made = _made(int(tokens[end].text), month, number)
            return [(made, end + 1)] if made else []
        near = [made for year in (day.year, day.year - 1) if (made := _made(year, month, number)) and made <= day]
        if near and (day - near[0]).days <= MOST_BACK:
            return [(near[0], end)]
    return []


def _number(tokens: tuple[Token, ...], at: int) -> tuple[int | None, int]:
    if at >= len(tokens) or tokens[at].kind != "number" or not tokens[at].text.isdigit() or len(tokens[at].text) > 2:
        return None, at
    after = at + 1
    if after < len(tokens) and tokens[after].text in _ENDINGS and tokens[after].start == tokens[at].end:
        after += 1
    if after < len(tokens) and tokens[after].text == "of":
        after += 1
    return int(tokens[at].text), after


def _iso(tokens: tuple[Token, ...], words: list[str], at: int) -> tuple[dt.date, int] | None:
    """2026-08-05 is read by the tokens as a range and a number with a dash before it."""
    if at >= len(tokens) or tokens[at].kind != "range" or at + 2 >= len(tokens) or words[at + 1] != "-":
        return None
    if tokens[at].end != tokens[at + 1].start or tokens[at + 1].end != tokens[at + 2].start:
        return None
    try:
        return dt.date.fromisoformat(f"{words[at]}-{words[at + 2]}"), at + 3
    except ValueError:
        return None


def _month(word: str) -> int | None:
    return MONTHS.index(word[:3]) + 1 if word in (*_LONG, *MONTHS, "sept") else None


def _made(year: int, month: int, number: int) -> dt.date | None:
    try:
        return dt.date(year, month, number)
    except ValueError:
        return None

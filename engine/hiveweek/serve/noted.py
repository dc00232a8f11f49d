"""What entries and readings of a note tell, in people's words; the record and the terminal name the ids."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

from hiveweek.record import Answer, Entry, Kind
from hiveweek.record.entries import Plain
from hiveweek.record.notes.grammar import Reading
from hiveweek.show import cards
from hiveweek.texts.parts import Capital, Day, Phrase, Quantity, listed, message
from hiveweek.texts.reading import plain
from hiveweek.vocabulary.model import Vocabulary


def told(entry: Entry, names: Mapping[str, str], words: Vocabulary) -> list[Phrase]:
    """Return what an entry tells besides its text; a fact or job that the vocabulary does not know any more is left out.

    Parameters
    ----------
    entry : Entry
    names : mapping
        Ids of hives to their names.
    words : Vocabulary
    """
    found = [] if entry.kind is Kind.ANSWERED else facts(entry.facts, words)
    if entry.action is None or entry.action not in words.actions:
        return found
    if entry.kind is not Kind.ANSWERED:
        return [*found, *job(entry.action, entry.details, names, words)]
    asked = Capital(cards.name(words, entry.action))
    if entry.answer is Answer.NOT_HERE:
        return [message("page.noted-not-here", job=asked)]
    if entry.until is None:
        return [message("page.noted-later", job=asked)]
    return [message("page.noted-until", job=asked, day=Day(entry.until, entry.date))]


def facts(seen: Mapping[str, Plain], words: Vocabulary) -> list[Phrase]:
    """Return facts with their values."""
    return [
        message("labelled", label=cards.fact_name(words, name), words=_value(words.facts[name], value))
        for name, value in seen.items()
        if name in words.facts
    ]


def job(action: str, details: Mapping[str, Plain], names: Mapping[str, str], words: Vocabulary) -> list[Phrase]:
    """Return a job with its details."""
    return [
        Capital(cards.name(words, action)),
        *(
            message("labelled", label=plain(words.details[name].label), words=_detail(name, value, names, words))
            for name, value in details.items()
            if name in words.details
        ),
    ]


def reading(one: Reading, words: Vocabulary) -> Phrase | str:
    """Return what one reading of a phrase means."""
    if one.label:
        return one.label
    jobs = [part for action, details in one.acts for part in job(action, details, {}, words)]
    return listed([*facts(one.facts, words), *jobs], "comma")


def _value(fact, value: Plain) -> Phrase:
    if value is None:
        return message("page.not-known-again")
    return Day(value) if isinstance(value, dt.date) else cards.shown_value(fact, value)


def _detail(name: str, value: Plain, names: Mapping[str, str], words: Vocabulary) -> Phrase:
    detail = words.details[name]
    if str(value) in names:
        return plain(names[str(value)])
    if detail.of is not None and detail.of in words.facts and not detail.unit:
        return _value(words.facts[detail.of], value)
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return Quantity(float(value), detail.unit)
    return Day(value) if isinstance(value, dt.date) else plain(str(value))

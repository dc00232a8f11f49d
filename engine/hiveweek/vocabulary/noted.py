"""What is said of a noted value where no job, look or waiting job answers it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from hiveweek.language.conditions import Scope, parse_node
from hiveweek.language.terms import Condition
from hiveweek.problems import nearest
from hiveweek.shapes.marked_yaml import Document
from hiveweek.shapes.structure import listed, texts
from hiveweek.texts.reading import Place, faults, read

if TYPE_CHECKING:
    from hiveweek.vocabulary.model import Fact, Vocabulary


@dataclass(frozen=True)
class Row:
    """One answer to a value.

    Attributes
    ----------
    values : tuple
        Plain values of the fact; empty for any.
    when : condition or None
        Only where this holds too; None = always.
    say : str
        The sentence; empty where the value is not worth a word there.
    source, status, note
        Where it was read.
    """

    values: tuple[str | bool, ...] = ()
    when: Condition | None = None
    say: str = ""
    source: tuple[str, ...] = ()
    status: str = ""
    note: str = ""


@dataclass(frozen=True)
class Noted:
    """The answers to the values of one fact.

    Attributes
    ----------
    silent : tuple
        Plain values that are as they should be at any time of the year.
    answered_by : tuple of str
        Actions that answer it, besides those that rest on the fact.
    by_job_alone : bool
        Only they do: many jobs rest on the fact that do not answer it.
    rows : tuple of Row
        The first that holds decides.
    """

    fact: str
    silent: tuple[str | bool, ...] = ()
    answered_by: tuple[str, ...] = ()
    by_job_alone: bool = False
    rows: tuple[Row, ...] = ()


def read_noted(document: Document, words: Vocabulary) -> None:
    """Read the file of noted values into a vocabulary.

    Every observed fact has its entry, and every value of it an answer that holds at any time: what lacks one is a problem of
    the document, as are words that the fact does not have and places that name no fact.
    """
    data = document.data if isinstance(document.data, dict) else {}
    for index, body in enumerate(listed(data.get("noted"))):
        fact = words.facts.get(body.get("fact", "")) if isinstance(body, dict) else None
        if fact is None:
            continue
        path = ("noted", index)
        if fact.id in words.noted:
            document.problems.append(document.problem(path, "duplicate-id", f"'{fact.id}' is answered twice"))
        rows = [
            _row(document, (*path, "rows", i), row, fact, words)
            for i, row in enumerate(listed(body.get("rows")))
            if isinstance(row, dict)
        ]
        found = Noted(
            fact.id,
            tuple(_words(document, (*path, "silent"), body.get("silent"), fact)),
            texts(body.get("answered_by")),
            bool(body.get("by_job_alone", False)),
            tuple(rows),
        )
        words.noted[fact.id] = found
        for value in _open(found, fact):
            said = f"'{fact.id}' has no answer at any time for {value}: end with a row without 'when'"
            document.problems.append(document.problem(path, "missing-key", said))
    for name, fact in words.facts.items():
        if fact.comes_from == "observed" and name not in words.noted:
            said = f"'{name}' can be seen and has no entry: what is said of it where nothing else answers it"
            document.problems.append(document.problem(("noted",), "missing-key", said, key=True))


def _words(document: Document, path: tuple, given: object, fact: Fact) -> list[Any]:
    found = []
    for word in listed(given):
        if word in fact.allowed:
            found.append(word)
        else:
            said = f"'{word}' is no value of '{fact.id}'{nearest(str(word), fact.values)}"
            document.problems.append(document.problem(path, "unknown-value", said))
    return found


def _row(document: Document, path: tuple, body: dict, fact: Fact, words: Vocabulary) -> Row:
    say = body.get("say", "")
    for part in read(say):
        if isinstance(part, Place) and part.name not in words.facts:
            said = f"'{{{part.name}}}' is no fact{nearest(part.name, words.facts)}"
            document.problems.append(document.problem((*path, "say"), "unknown-fact", said))
    document.problems += [document.problem((*path, "say"), "unclear-quantity", fault) for fault in faults(say)]
    when = body.get("when")
    return Row(
        tuple(_words(document, (*path, "values"), body.get("values"), fact)),
        None if when is None else parse_node(document, (*path, "when"), Scope(words), document.problems, when),
        say,
        texts(body.get("source")),
        body.get("status", ""),
        body.get("note", ""),
    )


def _open(noted: Noted, fact: Fact) -> list[str]:
    """The values that no row answers whatever the season."""
    always = [row for row in noted.rows if row.when is None]
    if any(not row.values for row in always):
        return []
    if not fact.allowed:
        return ["its numbers"]
    told = {*noted.silent, *(word for row in always for word in row.values)}
    return [str(word) for word in fact.allowed if word not in told]

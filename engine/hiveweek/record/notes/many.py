"""One note for several hives: what is said of all of them, of some by name, and of the rest."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from hiveweek.record.notes.days import Day
from hiveweek.record.notes.found import Asked, Left, Read
from hiveweek.record.notes.grammar import Reading
from hiveweek.record.notes.reading import read_note
from hiveweek.record.notes.table import Table
from hiveweek.record.notes.tokens import Part, composed, parts_of, tokens_of
from hiveweek.vocabulary.model import Vocabulary

_EACH = ("each", "apiece")


@dataclass(frozen=True, slots=True)
class _Piece:
    """Some words of the note and whose they are: names, the rest (None with ``rest``), or all."""

    text: str
    sentence: int
    names: tuple[str, ...] = ()
    rest: bool = False
    unclear: bool = False


def read_notes(
    text: str,
    day: dt.date,
    words: Vocabulary,
    table: Table,
    *,
    hives: Sequence[str],
    known: Iterable[str] = (),
    typed_on: dt.date | None = None,
) -> dict[str, Read]:
    """Read one note for each of several hives.

    Parameters
    ----------
    text : str
        As it was typed: "all hefted, Ash and Elm light, rest heavy".
    hives : sequence of str
        Names of the hives it is about; of one hive alone it is read as a whole.
    known : iterable of str
        Names of all hives there.
    day, words, table, typed_on
        As for ``read_note``.

    Returns
    -------
    dict of str to Read
        What is said of a hive by its name comes before what is said of all; words after such a part that name nobody may be of either,
        so they are kept as a remark and said.
    """

    def read(said: str, own: str) -> Read:
        return read_note(said, day, words, table, own=own, hives=known, typed_on=typed_on)

    if len(hives) == 1:
        return {hives[0]: read(text, hives[0])}
    pieces = _pieces(composed(text), hives, table)
    named = {name for piece in pieces for name in piece.names}
    found = {}
    for hive in hives:
        general = [p.text for p in pieces if not p.names and not p.rest and not p.unclear]
        own = [p.text for p in pieces if hive in p.names or (p.rest and hive not in named)]
        unclear = tuple(Left(p.text, "which-hive") for p in pieces if p.unclear)
        mine, whole = read(", ".join(own), hive), read(", ".join(general), "")
        merged = _over(whole, mine)
        found[hive] = replace(merged, left=merged.left + unclear)
    return found


def _pieces(text: str, hives: Sequence[str], table: Table) -> list[_Piece]:
    """Return the parts of a note, each with the hives that it names at its head."""
    spelled = {tuple(token.text for token in tokens_of(name)): name for name in hives}
    found: list[_Piece] = []
    waiting: list[str] = []
    scoped: int | None = None  # the sentence in which a hive was named last
    for part in parts_of(text):
        names, at, rest = _head(part, spelled)
        if at == len(part.tokens) and names:
            waiting += names  # "Ash, Elm light": the name alone waits for the words after it
            scoped = part.sentence
            continue
        said = (
            text[part.tokens[at].start : _end(part)].strip() if at < len(part.tokens) else text[part.start : part.end]
        )
        if names and at + 1 == len(part.tokens) and part.tokens[at].kind in ("number", "fraction"):
            said = _instead(found, said) or said
        names = [*waiting, *names]
        waiting = []
        unclear = not names and not rest and scoped == part.sentence
        if names or rest:
            scoped = part.sentence
        elif scoped != part.sentence:
            scoped = None
        found.append(_Piece(said, part.sentence, tuple(names), rest, unclear))
    return found


def _instead(found: list[_Piece], number: str) -> str:
    """Return what was said of all with another number in it: "2 strips each, Elm 1"; empty where that is open."""
    last = next((piece.text for piece in reversed(found) if not piece.names and not piece.rest), "")
    numbers = [token for token in tokens_of(last) if token.kind in ("number", "fraction")]
    if len(numbers) != 1:
        return ""
    return last[: numbers[0].start] + number + last[numbers[0].end :]


def _head(part: Part, spelled: dict[tuple[str, ...], str]) -> tuple[list[str], int, bool]:
    """Return the names at the head of a part, the place after them, and whether it is of the rest."""
    words = part.words
    if words[0] in ("rest", "others") or words[:2] in (["the", "rest"], ["the", "others"], ["all", "others"]):
        at = 1 if words[0] in ("rest", "others") else 2
        return [], at + 1 if words[at : at + 1] == [":"] else at, True
    if (
        words[0] == "all"
        and len(words) > 1
        and words[1] not in ("ok", "but", "except", "dead", "stages", "drone", "gone")
    ):
        return [], 2 if words[1] == ":" else 1, False
    names: list[str] = []
    at = 0
    while at < len(words):
        way = next((way for way in spelled if tuple(words[at : at + len(way)]) == way), None)
        if way is None:
            break
        names.append(spelled[way])
        at += len(way)
        if words[at : at + 1] in (["and"], ["&"]) and tuple(words[at + 1 : at + 2])[:1] in {way[:1] for way in spelled}:
            at += 1
    return names, at + 1 if names and words[at : at + 1] == [":"] else at, False


def _end(part: Part) -> int:
    return part.tokens[-1].start if part.tokens[-1].text in _EACH else part.end


def _over(whole: Read, mine: Read) -> Read:
    """Return both, what is said of the hive itself in place of what is said of all."""
    if any(not left.known for left in mine.left):  # what is said of it is not understood: nothing general is sure of it
        doubted = tuple(
            Asked(
                entry.text,
                (Reading(entry.facts, ((entry.action, entry.details),) if entry.action else ()),),
                "which-hive",
                day,
            )
            for entry in whole.entries
            for day in [Day(entry.date, entry.date, entry.until_date or entry.date)]
        )
        whole = replace(whole, entries=(), asked=whole.asked + doubted)
    facts = {fact for entry in mine.entries for fact in entry.facts}
    facts |= {fact for asked in mine.asked for reading in asked.readings for fact in reading.facts}
    acts = {entry.action for entry in mine.entries if entry.action}
    acts |= {action for asked in mine.asked for reading in asked.readings for action, _ in reading.acts}
    kept = []
    for entry in whole.entries:
        left = {fact: value for fact, value in entry.facts.items() if fact not in facts}
        if left or (entry.action and entry.action not in acts):
            kept.append(replace(entry, facts=left))
    asked = tuple(
        one
        for one in whole.asked
        if not any(set(r.facts) & facts or {action for action, _ in r.acts} & acts for r in one.readings)
    )
    return Read(
        (*kept, *mine.entries),
        asked + mine.asked,
        whole.left + mine.left,
        whole.bring + mine.bring,
        whole.days + mine.days,
    )

"""The phrases of ``rulesets/vocabulary/phrases.yaml``, made ready to be looked for in a note."""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

from hiveweek import content
from hiveweek.kept import code, kept, key_of
from hiveweek.problems import InputProblems
from hiveweek.record.notes.tokens import tokens_of
from hiveweek.shapes.marked_yaml import Document
from hiveweek.vocabulary import load
from hiveweek.vocabulary.definitions import shape_of
from hiveweek.vocabulary.model import Vocabulary

NUMBERS = ("n", "m", "i", "j")
QUANTITIES = {"kg": "mass", "litres": "volume"}
HIVE = "hive"
_GROUP = re.compile(r"\[([^\]]*)\]")
_PIECE = re.compile(r"\{\w+\}|[^\s{}]+")
_SLOT = re.compile(r"\{(\w+)\}")
_NAME = re.compile(r"[a-z]+")

Value = float | int | bool | str


@dataclass(frozen=True)
class Says:
    """What a phrase says: facts, or an act with its details, or nothing that can be known.

    Attributes
    ----------
    label : str
        In words, for a question; with ``{slots}``.
    facts, details : dict
        Values as they stand in the file: plain, or ``=`` and what is worked out.
    done : str
        Id of the action; empty where it is none.
    """

    label: str = ""
    facts: dict[str, Value] = field(default_factory=dict)
    done: str = ""
    details: dict[str, Value] = field(default_factory=dict)


@dataclass(frozen=True)
class Row:
    """One phrase with all its ways of writing.

    Attributes
    ----------
    number : int
        Its place in the file.
    says : Says
    ask : tuple of Says or None
        The readings that are asked; None where it has one reading; empty where other words are asked for.
    why : str
        Key of the sentence that says what would tell more; empty where none does.
    joins, bare, event, remark : bool
        As in the file.
    form : str
        How its fact is noted; empty where another row's form is shown.
    example : float
        A usual number in the form.
    first : str
        The first way to write it, without slots; empty where all have some.
    """

    number: int
    says: Says
    ask: tuple[Says, ...] | None = None
    why: str = ""
    joins: bool = False
    bare: bool = False
    event: bool = False
    remark: bool = False
    form: str = ""
    example: float = 5
    first: str = ""


@dataclass(frozen=True)
class Pattern:
    """One way to write a phrase: words and ``{slots}``."""

    pieces: tuple[str, ...]
    row: int


@dataclass(frozen=True)
class Table:
    """All phrases and words of the grammar.

    Attributes
    ----------
    patterns : dict
        By the first word; those that begin with a slot under an empty one.
    units : dict
        mass or volume: word to its readings, each a name and what one of it is in kg or L.
    slots : dict
        Slot to word (tokens joined by a blank) to value.
    idle : frozenset of str
        Words that change nothing; no pattern has them, and they are left out of a note.
    together : list of list
        Facts with values that cannot both be so.
    """

    rows: list[Row]
    patterns: dict[str, list[Pattern]]
    units: dict[str, dict[str, list[tuple[str, float]]]]
    numbers: dict[str, float]
    slots: dict[str, dict[str, str]]
    aliases: dict[str, str]
    before: list[list[str]]
    after: list[list[str]]
    idle: frozenset[str]
    about_number: list[str]
    about_days: int
    doubt: list[str]
    elsewhere: list[str]
    ahead: list[str]
    together: list[list[dict[str, Value]]]
    youngest: dict[str, dict[str, str]]
    bring: list[list[str]]
    bring_after: list[list[str]]
    heads: list[str]
    alternatives: list[str]
    nothing: list[str]
    negated: list[str]

    def opposite(self, words: tuple[str, ...]) -> bool:
        """Whether ``no`` and these words are a phrase of their own."""
        return any(pattern.pieces == ("no", *words) for pattern in self.patterns.get("no", ()))


@lru_cache(maxsize=1)
def shipped() -> Table:
    """Return the shipped phrases, read once for the life of the process and kept between runs.

    Raises
    ------
    InputProblems
        With every mistake of the file.
    """
    path = content.root() / "rulesets" / "vocabulary" / "phrases.yaml"
    key = key_of(
        ("phrases", content.shown(path)),
        [
            path,
            *sorted((path.parent / "facts").glob("*.yaml")),
            path.parent / "actions.yaml",
            path.parent / "effects.yaml",
            *code("shapes", "vocabulary", "record"),
        ],
    )
    return kept("phrases", key, Table, lambda: read_table(path, load()))


def read_table(path: Path, words: Vocabulary) -> Table:
    """Read a file of phrases.

    Raises
    ------
    InputProblems
        What does not fit the schema; a phrase said twice; a slot that is used and not filled; a fact that is worked out, not noted.
    """
    document = shape_of("phrases", words).read(path)
    if document.problems:
        raise InputProblems(document.problems)
    rows: list[Row] = []
    patterns: dict[str, list[Pattern]] = {}
    seen: dict[tuple[str, ...], int] = {}
    idle = frozenset(document.data["idle"])
    for number, body in enumerate(document.data["phrases"]):
        rows.append(_row(number, body))
        for place, said in enumerate(body["say"]):
            where = ("phrases", number, "say", place)
            for pieces in _ways(said, idle):
                if seen.setdefault(pieces, number) != number:
                    line, _ = document.place(("phrases", seen[pieces]))
                    _complain(
                        document, where, "duplicate-id", f"'{' '.join(pieces)}' is said twice; first at line {line}"
                    )
                elif Pattern(pieces, number) not in patterns.setdefault(_first(pieces), []):
                    patterns[_first(pieces)].append(Pattern(pieces, number))
                for name in _unfilled(rows[-1], pieces):
                    _complain(document, where, "unknown-slot", f"'{' '.join(pieces)}' does not fill {{{name}}}")
    _check_facts(document, rows, words)
    if document.problems:
        raise InputProblems(document.problems)
    data = document.data
    return Table(
        rows=rows,
        patterns=patterns,
        units={kind: {name: _unit(name, one) for name, one in block.items()} for kind, block in data["units"].items()},
        numbers={name: float(value) for name, value in data["numbers"].items()},
        slots={
            slot: {" ".join(_words(way)): value for value, ways in block.items() for way in ways}
            for slot, block in data["slots"].items()
        },
        aliases=dict(data["aliases"]),
        before=_longest_first(data["before"], idle),
        after=_longest_first(data["after"], idle),
        idle=idle,
        about_number=list(data["about_number"]),
        about_days=int(data["about_days"]),
        doubt=list(data["doubt"]),
        elsewhere=list(data["elsewhere"]),
        ahead=list(data["ahead"]),
        together=[list(pair) for pair in data["together"]],
        youngest={fact: dict(said) for fact, said in data["youngest"].items()},
        bring=_longest_first(data["bring"], idle),
        bring_after=_longest_first(data["bring_after"], idle),
        heads=list(data["heads"]),
        alternatives=list(data["alternatives"]),
        nothing=list(data["nothing"]),
        negated=list(data["negated"]),
    )


def _complain(document: Document, where: tuple, code: str, message: str) -> None:
    document.problems.append(document.problem(where, code, message))


def _words(text: str) -> list[str]:
    return [token.text for token in tokens_of(text)]


def _longest_first(ways: list[str], idle: frozenset[str]) -> list[list[str]]:
    return sorted(([word for word in _words(way) if word not in idle] for way in ways), key=len, reverse=True)


def _unit(name: str, one) -> list[tuple[str, float]]:
    return [(key, float(value)) for key, value in one.items()] if isinstance(one, dict) else [(name, float(one))]


def _row(number: int, body: dict) -> Row:
    asked = body.get("ask")
    return Row(
        number,
        _says(body),
        None if asked is None else tuple(_says(one) for one in asked),
        body.get("why", ""),
        joins=body.get("joins", False),
        bare=body.get("bare", False),
        event=body.get("event", False),
        remark=body.get("remark", False),
        form=body.get("form", ""),
        example=float(body.get("example", 5)),
        first=next(
            (" ".join(way) for said in body["say"] for way in _ways(said, frozenset()) if not any(map(slot_of, way))),
            "",
        ),
    )


def _says(body: dict) -> Says:
    return Says(body.get("label", ""), dict(body.get("facts", {})), body.get("done", ""), dict(body.get("details", {})))


def _ways(said: str, idle: frozenset[str]) -> list[tuple[str, ...]]:
    """Return all ways of a line without idle words: ``[x]`` taken or left, each of ``a|b``, the marks of words as tokens."""
    found = [said]
    while any("[" in way for way in found):
        found = [
            way[: m.start()] + inner + way[m.end() :]
            for way in found
            for m in [_GROUP.search(way)]
            if m
            for inner in (m[1], "")
        ]
    ways: list[tuple[str, ...]] = []
    for way in found:
        choices = [[tuple(_tokens(one)) for one in piece.split("|")] for piece in _PIECE.findall(way)]
        for chosen in itertools.product(*choices):
            made = tuple(token for group in chosen for token in group if token not in idle)
            if made and made not in ways:
                ways.append(made)
    return ways


def _tokens(piece: str) -> list[str]:
    return [piece] if _SLOT.fullmatch(piece) else _words(piece)


def _first(pieces: tuple[str, ...]) -> str:
    return "" if _SLOT.fullmatch(pieces[0]) else pieces[0]


def slot_of(piece: str) -> str:
    """Return the name of a slot; empty where a piece is a word."""
    match = _SLOT.fullmatch(piece)
    return match[1] if match else ""


def _unfilled(row: Row, pieces: tuple[str, ...]) -> list[str]:
    filled = {slot_of(piece) for piece in pieces} | {"day"}
    wanted: set[str] = set()
    for says in (row.says, *(row.ask or ())):
        for value in (*says.facts.values(), *says.details.values()):
            if isinstance(value, str):
                wanted |= set(_NAME.findall(value[1:])) if value.startswith("=") else set(_SLOT.findall(value))
        wanted |= set(_SLOT.findall(says.label))
    return sorted(wanted - filled)


def _check_facts(document: Document, rows: list[Row], words: Vocabulary) -> None:
    for row in rows:
        for says in (row.says, *(row.ask or ())):
            effect = words.effects.get(says.done)
            asks, takes = (effect.asks, effect.takes) if effect else ((), ())
            for detail in sorted(set(says.details) - {*asks, *takes}):
                _complain(document, ("phrases", row.number), "unknown-detail", f"{says.done} takes no '{detail}'")
            for detail in sorted(set(asks) - set(says.details)):
                _complain(document, ("phrases", row.number), "missing-detail", f"{says.done} asks for '{detail}'")
            for name, value in says.facts.items():
                fact = words.facts[name]
                if fact.comes_from == "computed":
                    _complain(document, ("phrases", row.number), "not-noted", f"{name} is worked out, not noted")
                elif not (isinstance(value, str) and value.startswith("=")):
                    try:
                        fact.encode(value)
                    except ValueError as error:
                        _complain(document, ("phrases", row.number), "wrong-value", f"{name} {error}")

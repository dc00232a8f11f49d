"""Phrases looked for in the tokens of one part of a note: they cover every token, or the part is not understood."""

from __future__ import annotations

import itertools
import operator
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from hiveweek.record.entries import Plain
from hiveweek.record.notes.table import HIVE, NUMBERS, QUANTITIES, Pattern, Row, Says, Table, Value, slot_of
from hiveweek.record.notes.tokens import Token

AND = ("and", "&")
BESIDE = ("/", "+")  # between phrases that may stand side by side
MOST_WAYS = 40  # of covering one part; a part of so many ways is not understood
_HALF = ("half", "quarter")
_OF_ONE = {"half": 0.5, "quarter": 0.25}
_SUM = re.compile(r"=(\w+)((?:[-+*/]\w+)*)$")
_STEP = re.compile(r"([-+*/])(\w+)")
_STEPS: dict[str, Callable[[Any, Any], Any]] = {
    "+": operator.add,
    "-": operator.sub,
    "*": operator.mul,
    "/": operator.truediv,
}
_PLACE = re.compile(r"\{(\w+)\}")


@dataclass(frozen=True, slots=True)
class Option:
    """One value of a slot, with its words where there are several."""

    value: float | str
    words: str = ""


Slots = Mapping[str, tuple[Option, ...]]


@dataclass(frozen=True, slots=True)
class Match:
    """A phrase found.

    Attributes
    ----------
    row : Row
    start, end : int
        Its tokens.
    slots : mapping
        Slot to its values; several where it may mean several.
    negated, bare : bool
        Begins with a "no"; is a thing without a verb, which a "no" before it may reach.
    """

    row: Row
    start: int
    end: int
    slots: Slots
    negated: bool = False
    bare: bool = False


@dataclass(frozen=True)
class Reading:
    """One meaning of a part.

    Attributes
    ----------
    facts : mapping of fact to value
    acts : tuple of (action, details)
    label : str
        In words, where it is one of several; empty where it is what was typed.
    """

    facts: Mapping[str, Plain | str] = field(default_factory=dict)
    acts: tuple[tuple[str, Mapping[str, Plain]], ...] = ()
    label: str = ""

    @property
    def empty(self) -> bool:
        """Whether it tells nothing."""
        return not self.facts and not self.acts


def number_at(table: Table, tokens: tuple[Token, ...], at: int) -> list[tuple[tuple[float, ...], int]]:
    """Return the numbers that begin at a token, each with the place after it, the longest last; a range has two values."""
    token = tokens[at]
    found: list[tuple[tuple[float, ...], int]] = []

    def text(place: int) -> str:
        return tokens[place].text if 0 <= place < len(tokens) else ""

    if token.kind in ("number", "fraction", "range"):
        found.append((token.values, at + 1))
    elif token.text in _HALF or (token.text in ("a", "one") and text(at + 1) in _HALF):
        end = at + 1 if token.text in _HALF else at + 2
        value = (_OF_ONE[text(end - 1)],)
        found.append((value, end))
        if text(end) in ("a", "an"):
            found.append((value, end + 1))
        if text(end) == "of" and text(end + 1) in ("a", "an"):
            found.append((value, end + 2))
    elif token.text in table.numbers:
        found.append(((table.numbers[token.text],), at + 1))
    for values, end in list(found):
        if len(values) > 1:
            continue
        half = text(end) == "and" and text(end + 1) in ("a", "one") and text(end + 2) in _HALF
        if half and values[0].is_integer():
            found.append(((values[0] + _OF_ONE[text(end + 2)],), end + 3))
        to = token.kind == "number" and text(end) == "to" and end + 1 < len(tokens) and tokens[end + 1].kind == "number"
        if to and tokens[end + 1].values[0] > values[0]:
            found.append(((values[0], tokens[end + 1].values[0]), end + 2))
    return found


class Grammar:
    """Finds phrases in parts.

    Parameters
    ----------
    table : Table
    hives : mapping of tuple of words to name
        Other hives by the tokens of their names.
    """

    def __init__(self, table: Table, hives: Mapping[tuple[str, ...], str]):
        self.table, self.hives = table, hives

    def ways(self, tokens: tuple[Token, ...]) -> list[list[Match]]:
        """Return the ways to cover all tokens with the fewest phrases; none where nothing covers them."""
        best: list[list[Match]] = []
        for start, end in self._without_fillers(tokens):
            for way in self._covers(tokens, start, end, 0):
                if not best or len(way) < len(best[0]):
                    best = [way]
                elif len(way) == len(best[0]) and way not in best:
                    best.append(way)
                if len(best) > MOST_WAYS:
                    return []
            if best:
                break
        return best

    def _without_fillers(self, tokens: tuple[Token, ...]) -> Iterator[tuple[int, int]]:
        """Give the spans to cover: as it stands first, then without words before and after it that say nothing."""
        words = [token.text for token in tokens]
        starts, ends = [0], [len(words)]
        for start in starts:
            starts += [
                start + len(way)
                for way in self.table.before
                if words[start : start + len(way)] == way and start + len(way) not in starts
            ]
        for end in ends:
            ends += [
                end - len(way)
                for way in self.table.after
                if words[end - len(way) : end] == way and end - len(way) not in ends
            ]
        for end, start in itertools.product(ends, sorted(starts)):
            if start < end:
                yield start, end

    def _covers(self, tokens: tuple[Token, ...], at: int, end: int, depth: int) -> Iterator[list[Match]]:
        if depth > 12:
            return
        for match in self.at(tokens, at, end):
            if match.end == end:
                yield [match]
                continue
            parted = tokens[match.end].text in AND
            after = match.end + 1 if parted or tokens[match.end].text in BESIDE else match.end
            if after >= end or not (parted or match.row.joins):
                continue
            for rest in self._covers(tokens, after, end, depth + 1):
                if parted or rest[0].row.joins:
                    yield [match, *rest]

    def at(self, tokens: tuple[Token, ...], at: int, end: int) -> list[Match]:
        """Return the phrases that begin at a token, the longest first."""
        found: dict[tuple[int, int], Match] = {}
        starts = [at]
        if tokens[at].text in self.table.about_number and at + 1 < end and number_at(self.table, tokens, at + 1):
            starts.append(at + 1)
        for start in starts:
            for pattern in (*self.table.patterns.get(tokens[start].text, ()), *self.table.patterns.get("", ())):
                if start > at and not slot_of(pattern.pieces[0]):
                    continue
                for stop, slots in self._fits(pattern, 0, tokens, start, end):
                    row = self.table.rows[pattern.row]
                    words = pattern.pieces
                    bare = row.bare or (all(not slot_of(w) for w in words) and self.table.opposite(words))
                    found.setdefault(
                        (stop, pattern.row), Match(row, at, stop, slots, words[0] in self.table.negated, bare)
                    )
        return sorted(found.values(), key=lambda match: -match.end)

    def _fits(
        self, pattern: Pattern, piece: int, tokens: tuple[Token, ...], at: int, end: int
    ) -> Iterator[tuple[int, dict[str, tuple[Option, ...]]]]:
        """Give every place up to which the pieces of a pattern fit, with the values of their slots."""
        if piece == len(pattern.pieces):
            yield at, {}
            return
        if at >= end:
            return
        wanted = pattern.pieces[piece]
        if tokens[at].text == ":" and wanted != ":" and piece and not slot_of(wanted):
            return
        if wanted == ":":  # a colon may stand there or not
            yield from self._fits(pattern, piece + 1, tokens, at + 1 if tokens[at].text == ":" else at, end)
            return
        slot = slot_of(wanted)
        if not slot:
            if tokens[at].text == wanted:
                yield from self._fits(pattern, piece + 1, tokens, at + 1, end)
            return
        for options, after in self._slot(slot, tokens, at, end):
            for stop, rest in self._fits(pattern, piece + 1, tokens, after, end):
                yield stop, {slot: options, **rest}

    def _slot(
        self, slot: str, tokens: tuple[Token, ...], at: int, end: int
    ) -> Iterator[tuple[tuple[Option, ...], int]]:
        if slot in NUMBERS or slot in QUANTITIES:
            start = at
            if tokens[at].text in self.table.about_number and at + 1 < end:
                start = at + 1
            for values, after in number_at(self.table, tokens, start):
                if after > end or (slot in ("i", "j") and not all(float(v).is_integer() for v in values)):
                    continue
                options = tuple(Option(value, f"{value:g}" if len(values) > 1 else "") for value in values)
                if slot in NUMBERS:
                    yield options, after
                elif after < end and tokens[after].text in self.table.units[QUANTITIES[slot]]:
                    readings = self.table.units[QUANTITIES[slot]][tokens[after].text]
                    made = [
                        Option(
                            float(option.value) * factor,
                            f"{float(option.value):g} {name}" if len(readings) > 1 or len(options) > 1 else "",
                        )
                        for option in options
                        for name, factor in readings
                    ]
                    yield tuple(made), after + 1
            return
        known = self.hives if slot == HIVE else {tuple(k.split()): v for k, v in self.table.slots.get(slot, {}).items()}
        for words, value in known.items():
            if tuple(token.text for token in tokens[at : at + len(words)]) == words and at + len(words) <= end:
                yield (Option(value),), at + len(words)


def readings_of(match: Match, day: Plain) -> list[Reading]:
    """Return the meanings of a phrase that was found; with a label each where there are several.

    Parameters
    ----------
    match : Match
    day : date
        What ``=day`` stands for.

    Raises
    ------
    ZeroDivisionError
        Where it divides by nought.
    """
    names = sorted(match.slots)
    says = (match.row.says,) if match.row.ask is None else match.row.ask
    many = len(says) > 1 or any(len(match.slots[name]) > 1 for name in names) or match.row.ask is not None
    found = []
    for one in says:
        for options in itertools.product(*(match.slots[name] for name in names)):
            chosen = dict(zip(names, options, strict=True))
            found.append(_reading(one, chosen, day, many))
    return found


def _reading(says: Says, chosen: Mapping[str, Option], day: Plain, labelled: bool) -> Reading:
    facts = {name: _value(value, chosen, day) for name, value in says.facts.items()}
    details = {name: _value(value, chosen, day) for name, value in says.details.items()}
    label = ""
    if labelled:
        label = _PLACE.sub(lambda m: chosen[m[1]].words or _shown(chosen[m[1]].value), says.label)
        extra = [option.words for name, option in chosen.items() if option.words and "{" + name + "}" not in says.label]
        label = ", ".join(part for part in (*extra, label) if part)
    return Reading(facts, ((says.done, details),) if says.done else (), label)


def _shown(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:g}"


def _value(value: Value, chosen: Mapping[str, Option], day: Plain) -> Plain:
    if not isinstance(value, str):
        return value
    if value == "=day":
        return day
    worked = _SUM.match(value)
    if worked is None:
        return _PLACE.sub(lambda m: _shown(chosen[m[1]].value), value)
    first = _operand(worked[1], chosen)
    for sign, name in _STEP.findall(worked[2]):
        other = _operand(name, chosen)
        first = _STEPS[sign](first, other)
    return round(first, 6) if isinstance(first, float) else first  # words come alone, as =active does


def _operand(name: str, chosen: Mapping[str, Option]) -> float | str:
    if name in chosen:
        value = chosen[name].value
        return value if isinstance(value, str) else float(value)
    return float(name)

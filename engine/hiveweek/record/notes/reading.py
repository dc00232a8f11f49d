"""A note read: what is known from it, what is asked, what is kept as a remark. Nothing is guessed and nothing dropped.

A part between commas is understood only where phrases cover every word of it. What stands beside it counts too: a part that is not
understood and speaks of another day, hive or person, of something to come, or takes something back, puts the parts beside it in
doubt, and what is in doubt is asked, never stored.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import replace

from hiveweek.record.entries import Kind, Plain
from hiveweek.record.notes import assigned
from hiveweek.record.notes.beside import doubts
from hiveweek.record.notes.days import Day, day_at
from hiveweek.record.notes.found import (
    ASK,
    BRING,
    DAY,
    REMARK,
    UNDERSTOOD,
    UNKNOWN,
    Asked,
    Bring,
    Left,
    Piece,
    Read,
    Said,
)
from hiveweek.record.notes.grammar import Grammar, Match, Reading, readings_of
from hiveweek.record.notes.table import Table
from hiveweek.record.notes.tokens import Part, Token, composed, folded, parts_of, tokens_of
from hiveweek.vocabulary.model import Vocabulary


def read_note(
    text: str,
    day: dt.date,
    words: Vocabulary,
    table: Table,
    *,
    own: str = "",
    hives: Iterable[str] = (),
    typed_on: dt.date | None = None,
) -> Read:
    """Read a note about one hive.

    Parameters
    ----------
    text : str
        As it was typed.
    day : date
        Of the look.
    words : Vocabulary
    table : Table
        The phrases.
    own : str
        Name of the hive.
    hives : iterable of str
        Names of all hives of the record; another one's name in the note puts in doubt what stands beside it.
    typed_on : date, optional
        Where that is another day than ``day``, "yesterday" and the like are not understood.

    Returns
    -------
    Read
        Everything typed stands in it, as an entry, a question or a remark.
    """
    plain = composed(text)
    reader = _Reader(plain, day, words, table, own, hives, typed_on is None or typed_on == day)
    pieces = reader.pieces()
    reader.days(pieces)
    doubts(pieces, table, reader.others, reader.grammar)
    reader.fit(pieces)
    reader.clashes(pieces)
    return reader.result(pieces)


class _Reader:
    def __init__(
        self, text: str, day: dt.date, words: Vocabulary, table: Table, own: str, hives: Iterable[str], relative: bool
    ):
        self.text, self.words, self.table, self.relative = text, words, table, relative
        self.day = Day(day, day, day)
        self.own = self._name(own)
        mine = folded(own)
        self.others = {self._name(name): name for name in hives if name and folded(name) != mine}
        self.grammar = Grammar(table, self.others)

    def _name(self, text: str) -> tuple[str, ...]:
        return tuple(token.text for token in self._telling(tuple(tokens_of(text))))

    def _telling(self, tokens: tuple[Token, ...]) -> tuple[Token, ...]:
        """Leave out the words that change nothing, where others are left."""
        return tuple(token for token in tokens if token.text not in self.table.idle) or tokens

    # --- parts to pieces
    def pieces(self) -> list[Piece]:
        """Return the pieces of the note in their order."""
        found: list[Piece] = []
        brought: int | None = None
        for number, part in enumerate(self._parts()):
            if brought == part.sentence:
                found[-1].end = part.end
                found[-1].tokens += part.tokens
                continue
            brought = None
            if self._brings(part):
                found.append(self._piece(part, number, status=BRING))
                brought = part.sentence
                continue
            found += self._assigned(part, number) or self._understood(part, number) or [self._piece(part, number)]
        for piece in found:
            if piece.status == BRING and not self._thing(piece):
                piece.status = UNKNOWN
        return found

    def _brings(self, part: Part) -> bool:
        """Whether a part begins with words after which a thing to bring stands, or is all such words before a colon."""
        more = len(part.words)
        return any(part.words[: len(way)] == way and (more > len(way) or part.led) for way in self.table.bring)

    def _parts(self) -> list[Part]:
        """Return the parts; one with a colon inside is parted there where it is not understood as it stands."""
        found: list[Part] = []
        own = len(self.own)
        for whole in parts_of(self.text):
            tokens = self._telling(whole.tokens)
            if own and [t.text for t in tokens[:own]] == list(self.own) and len(tokens) > own:
                tokens = tokens[own + 1 :] if tokens[own].text == ":" else tokens[own:]
            part = replace(whole, tokens=tokens or whole.tokens)
            tokens = part.tokens
            colons = [index for index, token in enumerate(tokens) if token.text == ":"]
            if not colons or "=" in part.words or self._understood(part, 0):
                found.append(part)
                continue
            start = 0
            for colon in (*colons, len(tokens)):
                inner = tokens[start:colon]
                if inner:
                    end = tokens[colon].end if colon < len(tokens) else part.end
                    found.append(
                        Part(
                            inner, part.sentence, part.start if not start else inner[0].start, end, colon < len(tokens)
                        )
                    )
                start = colon + 1
        return found

    def _piece(self, part: Part, number: int, **more) -> Piece:
        return Piece(part.start, part.end, number, part.sentence, part.tokens, led=part.led, **more)

    def _assigned(self, part: Part, number: int) -> list[Piece]:
        found = assigned.read(self.text[part.tokens[0].start : part.end], self.words, self.table)
        if found is None:
            return []
        if found.fact is None:
            return [self._piece(part, number, why=found.why)]
        return [self._piece(part, number, status=UNDERSTOOD, readings=[Reading({found.fact: found.value})])]

    def _understood(self, part: Part, number: int) -> list[Piece]:
        """Return the pieces of a part that phrases cover, with its own day where it has one; nothing where they do not."""
        ways = self.grammar.ways(part.tokens)
        if ways:
            return self._of_ways(part, number, ways, None, part.tokens)
        for day, tokens in self._dated(part.tokens):
            if not tokens:
                return [self._piece(part, number, status=DAY, day=day)]
            ways = self.grammar.ways(tokens)
            if ways:
                return self._of_ways(part, number, ways, day, tokens)
        return []

    def _dated(self, tokens: tuple[Token, ...]) -> list[tuple[Day, tuple[Token, ...]]]:
        """Return the days at the head or the end of a part, each with the tokens beside it."""
        found = []
        for day, after in day_at(self.table, tokens, 0, self.day.said, self.relative):
            found.append((day, tokens[after:]))
        for start in range(1, len(tokens)):
            found += [
                (day, tokens[:start])
                for day, after in day_at(self.table, tokens, start, self.day.said, self.relative)
                if after == len(tokens)
            ]
        return sorted(found, key=lambda one: len(one[1]))

    def _of_ways(
        self, part: Part, number: int, ways: list[list[Match]], day: Day | None, tokens: tuple[Token, ...]
    ) -> list[Piece]:
        said = (day or self.day).said
        try:
            read = [[readings_of(match, said) for match in way] for way in ways]
        except ZeroDivisionError:
            return []
        if any(one != read[0] for one in read[1:]):
            choices = [
                Reading(
                    {fact: value for readings in one for fact, value in readings[0].facts.items()},
                    tuple(act for readings in one for act in readings[0].acts),
                )
                for one in read
                if all(len(readings) == 1 for readings in one)
            ]
            return [self._piece(part, number, status=ASK, readings=choices, why="several", day=day)]
        found = []
        for index, (match, readings) in enumerate(zip(ways[0], read[0], strict=True)):
            first, last = index == 0, index == len(ways[0]) - 1
            status = (
                REMARK if match.row.remark else ASK if match.row.ask is not None or len(readings) != 1 else UNDERSTOOD
            )
            found.append(
                Piece(
                    part.start if first else tokens[match.start].start,
                    part.end if last else tokens[ways[0][index + 1].start].start,
                    number,
                    part.sentence,
                    tokens[match.start : match.end],
                    status,
                    readings if not match.row.remark else [],
                    match.row.why or ("several" if status == ASK else ""),
                    match,
                    day,
                    part.led,
                )
            )
        return found

    # --- days
    def days(self, pieces: list[Piece]) -> None:
        """Give pieces the day that is written for them; ask where it is open for which of them it is."""
        alone = [piece for piece in pieces if piece.status == DAY]
        for piece in alone:
            day = piece.day
            others = [one for one in pieces if one is not piece and one.day is None]
            if piece is pieces[0] or piece is pieces[-1]:
                for one in others:
                    self._dated_by(one, day)
            else:
                for one in others:
                    if one.sentence == piece.sentence:
                        one.doubt("which-day")
        for piece in pieces:
            if piece.day is None or piece.match is None or piece.match.row.event or piece in alone:
                continue
            others = [one for one in pieces if one is not piece and one.day is None and one.part != piece.part]
            if piece.part == pieces[0].part:
                for one in others:
                    self._dated_by(one, piece.day)
            else:
                for one in others:
                    if one.sentence == piece.sentence:
                        one.doubt("which-day")

    def _dated_by(self, piece: Piece, day: Day | None) -> None:
        piece.day = day
        if day is not None and piece.match is not None and piece.readings:
            piece.readings = readings_of(piece.match, day.said)

    # --- what fits
    def fit(self, pieces: list[Piece]) -> None:
        """Take out readings with values that their facts cannot have."""
        for piece in pieces:
            if not piece.readings:
                continue
            wrong = {id(r): assigned.wrong_in(self.words, r.facts) for r in piece.readings}
            piece.readings = [r for r in piece.readings if not wrong[id(r)]]
            if piece.readings or piece.status not in (UNDERSTOOD, ASK):
                continue
            piece.status, piece.why = UNKNOWN, next(iter(wrong.values()))

    def clashes(self, pieces: list[Piece]) -> None:
        """Ask what a note says twice in different ways, acts named twice, and what cannot both be so."""
        told: dict[str, list[tuple[Piece, Plain]]] = {}
        acts: dict[str, list[Piece]] = {}
        for piece in pieces:
            if piece.status == UNDERSTOOD or (piece.status == ASK and piece.why == "reach-of-no"):
                for fact, value in piece.readings[0].facts.items():
                    told.setdefault(fact, []).append((piece, value))
            if piece.status == UNDERSTOOD:
                for action, _ in piece.readings[0].acts:
                    acts.setdefault(action, []).append(piece)
        for fact, all_said in told.items():
            values = {(value, piece.day) for piece, value in all_said}
            if len(values) > 1 and not (fact in self.table.youngest and len({d for _, d in values}) == 1):
                for piece, _ in all_said:
                    piece.doubt("said-twice")
        for all_done in acts.values():
            if len(all_done) > 1:
                for piece in all_done:
                    piece.doubt("done-twice")
        for pair in self.table.together:
            said = [
                [p for p, value in told.get(fact, ()) if value == wanted]
                for one in pair
                for fact, wanted in one.items()
            ]
            if all(said):
                for piece in {id(p): p for group in said for p in group}.values():
                    piece.doubt("not-both")

    # --- the result
    def result(self, pieces: list[Piece]) -> Read:
        """Return entries, questions and remarks."""
        groups: dict[tuple, list[Piece]] = {}
        entries: list[Said] = []
        for piece in pieces:
            if piece.status == UNDERSTOOD:
                for fact in piece.readings[0].facts:
                    known = self.words.facts[fact]
                    kind = Kind.SEEN if known.comes_from == "observed" else Kind.SET
                    group = groups.setdefault((kind, piece.day or self.day, known.shared), [])
                    if piece not in group:
                        group.append(piece)
        for (kind, day, shared), group in groups.items():
            facts = self._facts(group, kind, shared)
            text = ", ".join(self._text(piece) for piece in group)
            entries.append(Said(kind, day.first, text, _until(day), facts, shared=shared))
        entries.sort(key=lambda said: said.kind != Kind.SEEN)
        for piece in pieces:
            if piece.status == UNDERSTOOD:
                day = piece.day or self.day
                entries += [
                    Said(Kind.DONE, day.first, self._text(piece), _until(day), action=action, details=details)
                    for action, details in piece.readings[0].acts
                ]
        return Read(
            tuple(entries),
            tuple(Asked(self._text(p), tuple(p.readings), p.why, p.day or self.day) for p in pieces if p.status == ASK),
            tuple(Left(self._text(p), p.why, p.status == REMARK) for p in pieces if p.status in (REMARK, UNKNOWN)),
            tuple(self._brought(p) for p in pieces if p.status == BRING),
            tuple(self._text(p) for p in pieces if p.status == DAY),
        )

    def _facts(self, group: list[Piece], kind: Kind, shared: bool) -> dict[str, Plain]:
        facts: dict[str, Plain] = {}
        for piece in group:
            for fact, told in piece.readings[0].facts.items():
                known = self.words.facts[fact]
                if (known.comes_from == "observed") != (kind is Kind.SEEN) or known.shared != shared:
                    continue
                younger = (
                    fact in facts
                    and fact in self.table.youngest
                    and known.values.index(str(facts[fact])) < known.values.index(str(told))
                )
                if not younger:
                    facts[fact] = int(told) if known.kind == "integer" and isinstance(told, float) else told
        for fact, signs in self.table.youngest.items():
            for value, sign in signs.items():
                if fact in facts and facts.get(sign) is True:
                    facts[fact] = value
        return facts

    def _brought(self, piece: Piece) -> Bring:
        return Bring(self._text(piece), self._thing(piece))

    def _thing(self, piece: Piece) -> str:
        """Return the words of the thing to bring, empty where none follow."""
        words = [token.text for token in piece.tokens]
        lead = next(len(way) for way in self.table.bring if words[: len(way)] == way)
        lead += words[lead : lead + 1] == [":"]
        if lead >= len(words):
            return ""
        ends = (len(words) - len(way) for way in self.table.bring_after if words[-len(way) :] == way)
        end = next((end for end in ends if end > lead), len(words))
        last = piece.end if end == len(words) else piece.tokens[end].start
        return self.text[piece.tokens[lead].start : last].strip(" ,:")

    def _text(self, piece: Piece) -> str:
        return self.text[piece.start : piece.end].strip()


def _until(day: Day) -> dt.date | None:
    return day.last if day.last != day.first else None

"""What stands beside a phrase and may change it: doubt, another day, hive or person, something to come, a "no" that reaches on."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from hiveweek.record.notes.grammar import Grammar, Reading, readings_of
from hiveweek.record.notes.table import Table
from hiveweek.record.notes.tokens import Token

if TYPE_CHECKING:
    from hiveweek.record.notes.found import Piece

MOST_NAMED = 3  # words of a sentence that names another hive and says nothing else


def doubts(pieces: list[Piece], table: Table, others: Mapping[tuple[str, ...], str], grammar: Grammar) -> None:
    """Ask what a part that is not understood may change.

    Parameters
    ----------
    pieces : list of Piece
        Of the whole note, in their order; what is doubted becomes a question.
    table : Table
    others : mapping
        Names of other hives by their tokens.
    grammar : Grammar
    """
    for index, piece in enumerate(pieces):
        if piece.led and piece.acts:  # "honey off: 3 supers" counts what was taken, not what is there
            _doubt([one for one in pieces[index + 1 : index + 2] if one.sentence == piece.sentence], "of-what")
        if piece.status != "unknown":
            continue
        words = [token.text for token in piece.tokens]
        before = [one for one in pieces[:index] if one.sentence == piece.sentence]
        after = [one for one in pieces[index + 1 :] if one.sentence == piece.sentence]
        names = _names(words, others)
        if names:
            _doubt([*before, *pieces[index + 1 :]], "other-hive")
        if set(words) & set(table.elsewhere):
            _doubt([*before, *(pieces[index + 1 :] if piece.led else after)], "other-time")
        if not before and not after and (names or set(words) & set(table.elsewhere)):
            _whole_sentence(pieces, index, words, table, names)
        if set(words) & set(table.ahead):
            _to_come(piece, words, after, table)
        _taken_back(pieces, index, words, table, grammar)
    _reach_of_no(pieces, table, grammar)


def _doubt(pieces: list[Piece], why: str) -> None:
    for piece in pieces:
        piece.doubt(why)


def _names(words: list[str], others: Mapping[tuple[str, ...], str]) -> bool:
    return any(
        tuple(words[at : at + len(name)]) == name for name in others if name for at in range(len(words) - len(name) + 1)
    )


def _whole_sentence(pieces: list[Piece], index: int, words: list[str], table: Table, names: bool) -> None:
    """A sentence of its own: "That was last year." is about the one before, "Last year." may be about both beside it."""
    said = {*words} - {*table.elsewhere, *table.nothing, "in"}
    only = not said or (names and len(said) <= MOST_NAMED)
    earlier, later = pieces[:index], pieces[index + 1 :]
    if earlier and (only or words[0] in table.nothing):
        _doubt([p for p in earlier if p.sentence == earlier[-1].sentence], "other-time")
    if later and only:
        _doubt([p for p in later if p.sentence == later[0].sentence], "other-time")


def _to_come(piece: Piece, words: list[str], after: list[Piece], table: Table) -> None:
    """After "next time:", "if" and the like nothing has happened yet; after "needs" acts and bare things may not have."""
    whole = piece.led or words[0] in table.heads or " ".join(words[:2]) in table.heads
    for one in after:
        bare = one.match is not None and (one.match.bare or one.match.row.event)
        if whole or bare or one.acts:
            one.doubt("to-come")


def _taken_back(pieces: list[Piece], index: int, words: list[str], table: Table, grammar: Grammar) -> None:
    """ "5 seams, maybe 6", "eggs seen, I think", "heavy, well not that heavy": what is said before is open."""
    hedged = bool(set(words) & set(table.doubt))
    other = {*table.doubt, *table.elsewhere, *table.ahead, *table.alternatives}
    if hedged or all(token.kind in ("number", "range", "fraction") for token in pieces[index].tokens):
        rest = [t for t in pieces[index].tokens if t.text not in {*table.doubt, *table.nothing} and t.kind == "word"]
        if all(token.text in table.numbers for token in rest):
            earlier = pieces[:index]
            if earlier:
                _doubt([p for p in earlier if p.part == earlier[-1].part], "taken-back")
            if hedged and not any(p.sentence == pieces[index].sentence for p in earlier):
                _doubt([p for p in pieces[index + 1 :] if p.sentence == pieces[index].sentence], "taken-back")
    if set(words) & other:
        facts, acts = _mentioned(pieces[index].tokens, grammar)
        for piece in pieces:
            if piece.facts & facts or piece.acts & acts:
                piece.doubt("taken-back")


def _mentioned(tokens: tuple[Token, ...], grammar: Grammar) -> tuple[set[str], set[str]]:
    """Return the facts and actions of phrases anywhere inside some tokens."""
    facts: set[str] = set()
    acts: set[str] = set()
    for at in range(len(tokens)):
        for match in grammar.at(tokens, at, len(tokens)):
            for reading in _safe(match):
                facts |= set(reading.facts)
                acts |= {action for action, _ in reading.acts}
    return facts, acts


def _safe(match) -> list[Reading]:
    try:
        return readings_of(match, None)
    except ZeroDivisionError:
        return []


def _reach_of_no(pieces: list[Piece], table: Table, grammar: Grammar) -> None:
    """ "no eggs, larvae": whether the "no" reaches the larvae is open."""
    reaches = False
    sentence = None
    for piece in pieces:
        if piece.sentence != sentence:
            reaches, sentence = False, piece.sentence
        if piece.match is None:
            if piece.status == "unknown" and piece.tokens:
                reaches = piece.tokens[0].text in table.negated or (
                    reaches and not any(t.text not in table.nothing for t in piece.tokens)
                )
            continue
        if piece.match.negated:
            reaches = True
        elif piece.match.bare:
            if reaches:
                piece.doubt("reach-of-no", _opposite(piece, grammar))
        else:
            reaches = False


def _opposite(piece: Piece, grammar: Grammar) -> list[Reading]:
    """Return what the phrase with a "no" before it would say."""
    no = Token("no", "word", -1, -1)
    ways = grammar.ways((no, *piece.tokens))
    return [reading for way in ways[:1] if len(way) == 1 for reading in _safe(way[0]) if not reading.empty]

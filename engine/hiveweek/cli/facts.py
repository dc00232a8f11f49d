"""``hiveweek facts``: how a thing is written in a note, its unit, its words, and how to look."""

from __future__ import annotations

import argparse
from typing import Any

from hiveweek import vocabulary
from hiveweek.cli.record_place import print_json, problem
from hiveweek.problems import nearest
from hiveweek.record.notes import assigned
from hiveweek.record.notes.phrase import phrase_for
from hiveweek.record.notes.table import Table, shipped
from hiveweek.texts.speaker import says
from hiveweek.texts.units import number
from hiveweek.vocabulary.model import Fact, Vocabulary

MOST_WAYS = 8  # ways of writing that are shown besides


def register(subparsers: argparse._SubParsersAction) -> None:
    """Add the command to a parser."""
    parser = subparsers.add_parser("facts", help=says("cli.main.facts"), description=says("cli.facts.description"))
    parser.add_argument("word", metavar="WORD", nargs="*", help=says("cli.facts.word"))
    parser.add_argument("--json", action="store_true", help=says("cli.record.json"))
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print facts that a word names, with all that is needed to note them; without a word the list of all."""
    words, table = vocabulary.load(), shipped()
    word = " ".join(args.word).strip().casefold()
    found = _found(word, words, table) if word else list(words.facts.values())
    if not found:
        known = [*words.facts, *table.aliases, *(fact.id.partition(".")[2] for fact in words.facts.values())]
        raise problem("unknown-fact", f"no fact is called '{word}', or written so{nearest(word, known)}")
    if args.json:
        print_json({"facts": [_out(fact, table) for fact in found]})
    elif word:
        print("\n\n".join("\n".join(_card(fact, table)) for fact in found))
    else:
        for fact in found:
            if fact.comes_from != "computed":
                print(f"{fact.id:36} {phrase_for(fact.id):36} {fact.label}")
    return 0


def _found(word: str, words: Vocabulary, table: Table) -> list[Fact]:
    """Return the fact of a name; else those in whose name, label or phrases the word stands."""
    exact = assigned.named(word, words, table)
    if exact is not None:
        return [exact]
    told = {
        fact
        for patterns in table.patterns.values()
        for pattern in patterns
        if f" {word} " in f" {' '.join(pattern.pieces)} "
        for says_ in (table.rows[pattern.row].says, *(table.rows[pattern.row].ask or ()))
        for fact in says_.facts
    }
    return [
        fact
        for fact in words.facts.values()
        if word.replace(" ", "_") in fact.id or f" {word} " in f" {fact.label.casefold()} " or fact.id in told
    ]


def _ways(fact: Fact, table: Table) -> list[str]:
    """Return some ways in which a fact is written, the shown one first."""
    rows = [row for row in table.rows if fact.id in row.says.facts and row.ask is None]
    return list(
        dict.fromkeys(row.form.replace("{n}", f"{row.example:g}") or row.first for row in rows if row.form or row.first)
    )


def _values(fact: Fact) -> list[Any]:
    return list(fact.values) if fact.kind == "one_of" else [True, False] if fact.kind == "yes_no" else []


def _card(fact: Fact, table: Table) -> list[str]:
    lines = [f"{fact.id}  {fact.label}"]
    if fact.low is not None and fact.high is not None:
        lines.append(
            "  " + says("cli.facts.range", low=number(fact.low), high=number(fact.high), unit=fact.unit or "").rstrip()
        )
    if fact.comes_from == "computed":
        return [*lines, "  " + says("cli.facts.worked-out")]
    lines.append("  " + says("cli.facts.how", how=fact.how))
    values = _values(fact)
    if not values:
        lines.append("  " + says("cli.facts.note", phrase=phrase_for(fact.id)))
    for value in values:
        word = value if isinstance(value, str) else "yes" if value else "no"
        lines.append("  " + says("cli.facts.value", value=word, phrase=phrase_for(fact.id, value)))
    more = [way for way in _ways(fact, table) if way != phrase_for(fact.id)][:MOST_WAYS]
    if more and not values:
        lines.append("  " + says("cli.facts.words", words="; ".join(more)))
    alias = next((name for name, of in table.aliases.items() if of == fact.id), fact.id)
    lines.append("  " + says("cli.facts.outright", example=f"{alias}=~"))
    return lines


def _out(fact: Fact, table: Table) -> dict[str, Any]:
    noted = fact.comes_from != "computed"
    return {
        "id": fact.id,
        "label": fact.label,
        "kind": fact.kind,
        "unit": fact.unit,
        "low": fact.low,
        "high": fact.high,
        "values": list(fact.values),
        "how": fact.how,
        "noted": noted,
        "note_as": phrase_for(fact.id),
        "values_as": {str(value).lower(): phrase_for(fact.id, value) for value in _values(fact)} if noted else {},
        "ways": _ways(fact, table),
    }

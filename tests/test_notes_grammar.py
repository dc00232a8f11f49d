"""Notes in keepers' words: card lines and what they say, and traps of which nothing may be stored.

What a note says is judged by the contents of public record cards (a club card with instructions, 2010; a card for a husbandry
certificate) and by the keepers' English that the phrases were gathered from; conversions by NIST Special Publication 811.
"""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hiveweek.record.entries import Kind
from hiveweek.record.notes.forms import forms, note_as
from hiveweek.record.notes.phrase import phrase_for
from hiveweek.record.notes.reading import read_note
from hiveweek.record.notes.table import shipped
from hiveweek.vocabulary import load

DAY = dt.date(2026, 8, 20)  # a Thursday
HIVES = ("Ash", "Elm", "Birch", "Mill Lane")
LINES = [
    tuple(part.strip() for part in line.rsplit("|", 1))
    for line in (Path(__file__).parent / "notes.txt").read_text(encoding="utf-8").splitlines()
    if line and not line.startswith("#")
]


def read(text, **more):
    return read_note(text, DAY, load(), shipped(), own="Ash", hives=HIVES, **more)


def said(value):
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dt.date):
        return "day" if value == DAY else value.isoformat()
    return f"{value:.8g}" if isinstance(value, (int, float)) else str(value)


def told(found):
    """Return what a note gives in the words of the lines."""
    words = []
    for entry in found.entries:
        words += [f"{fact}={said(value)}" for fact, value in entry.facts.items()]
        if entry.action:
            words.append(f"{entry.action}({','.join(f'{k}={said(v)}' for k, v in entry.details.items())})")
    words += [f"asked {len(found.asked)}"] if found.asked else []
    words += [f"left {len(found.left)}"] if found.left else []
    return words + (["bring"] if found.bring else [])


def wanted(line):
    return re.findall(r"[\w.]+=(?:one_and_half|[\w.-]+)(?![^(]*\))|[\w-]+\([^)]*\)|asked \d+|left \d+|bring", line)


@pytest.mark.parametrize(("note", "line"), LINES, ids=[note for note, _ in LINES])
def test_a_note_says_what_it_says_and_nothing_else(note, line):
    assert sorted(told(read(note))) == sorted(wanted(line))


def test_there_are_enough_lines_and_traps():
    assert len(LINES) >= 250 and sum("=" not in line and "(" not in line for _, line in LINES) >= 90


@pytest.mark.parametrize(
    ("note", "day", "until"),
    [
        ("heavy yesterday", "2026-08-19", None),
        ("yesterday: 5 seams, heavy", "2026-08-19", None),
        ("on Tuesday 5 seams", "2026-08-18", None),
        ("3 days ago heavy", "2026-08-17", None),
        ("two weeks ago heavy", "2026-08-06", None),
        ("5 August: heavy, 4 seams", "2026-08-05", None),
        ("heavy on 5th of August", "2026-08-05", None),
        ("Aug 5 heavy", "2026-08-05", None),
        ("heavy, 2026-08-05", "2026-08-05", None),
        ("heavy 25 December", "2025-12-25", None),
        ("swarmed about 5 August", "2026-08-02", "2026-08-08"),
        ("swarmed about 19 August", "2026-08-16", "2026-08-20"),
    ],
)
def test_days_in_words(note, day, until):
    found = read(note)
    assert {(e.date.isoformat(), e.until_date and e.until_date.isoformat()) for e in found.entries} == {(day, until)}
    assert not found.asked and not found.left


@pytest.mark.parametrize(
    "note",
    [
        "heavy Thursday",
        "heavy 5/8",
        "heavy 30 August",
        "heavy last Tuesday",
        "heavy 20 September 2026",
        "31 June heavy",
    ],
)
def test_days_that_may_be_two_or_none_are_not_taken(note):
    assert not read(note).entries


def test_a_day_beside_an_event_is_its_own_and_beside_a_look_it_is_asked():
    found = read("swarmed yesterday, 5 seams")
    assert [(e.kind, e.date.day) for e in found.entries] == [(Kind.SEEN, 20), (Kind.SET, 19)]
    found = read("5 seams, heavy yesterday")
    assert [dict(e.facts) for e in found.entries] == [{"food.heft": "heavy"}] and [a.why for a in found.asked] == [
        "which-day"
    ]


def test_yesterday_is_not_known_where_a_note_is_of_another_day_than_it_is_typed():
    assert not read("heavy yesterday", typed_on=DAY + dt.timedelta(days=3)).entries
    assert read("heavy on 5 August", typed_on=DAY + dt.timedelta(days=3)).entries[0].date == dt.date(2026, 8, 5)


# --- every phrase of the table
FILL = {
    "n": "12",
    "m": "2",
    "i": "6",
    "j": "5",
    "kg": "4 kg",
    "litres": "2 litres",
    "hive": "elm",
    "active": "amitraz",
}


@pytest.mark.parametrize("number", range(len(shipped().rows)))
def test_every_way_of_a_phrase_is_read_to_it(number):
    """By itself and among others; what may be two phrases is asked, and never another one's meaning."""
    table = shipped()
    row = table.rows[number]
    patterns = [p for group in table.patterns.values() for p in group if p.row == number]
    assert patterns
    for pattern in patterns:
        text = " ".join(
            FILL.get(piece.strip("{}"), piece) if piece.startswith("{") else piece for piece in pattern.pieces
        )
        text = (
            text.replace(" - ", "-").replace(" -", "-").replace("- ", "-")
        )  # a dash with blanks round it parts a note
        found = read(text)
        if row.ask is not None or len(found.asked) == 1:
            assert not found.entries and len(found.asked) + len(found.left) == 1, text
        elif row.remark:
            assert not found.entries and [left.known for left in found.left] == [True], text
        else:
            assert not found.asked and not found.left, text
            facts = {fact for entry in found.entries for fact in entry.facts}
            acts = {entry.action for entry in found.entries if entry.action}
            assert facts == set(row.says.facts) and acts == ({row.says.done} if row.says.done else set()), text


def test_there_are_many_phrases_of_both_unit_systems():
    assert len(shipped().rows) >= 250
    assert {"kg", "lb", "l", "qt", "pint", "gal"} <= {*shipped().units["mass"], *shipped().units["volume"]}


# --- laws
def covered(text, found):
    held = "".join(
        letter
        for piece in (
            *(e.text for e in found.entries),
            *(a.text for a in found.asked),
            *(left.text for left in found.left),
            *(bring.text for bring in found.bring),
            *found.days,
        )
        for letter in piece
    )
    return all(held.count(letter) >= text.count(letter) for letter in set(text) if letter.isalnum())


WORDS = sorted({word for note, _ in LINES for word in note.split()})


@given(st.text(max_size=80))
def test_any_text_is_read_without_a_crash_and_no_letter_is_lost(text):
    assert covered(text.replace("\0", " "), read(text)) or any(not c.isascii() for c in text)


@given(st.lists(st.sampled_from(WORDS), min_size=1, max_size=8).map(" ".join))
def test_any_words_are_read_and_none_is_lost(text):
    assert covered(text, read(text))


@given(st.sampled_from(LINES), st.integers(1, 3), st.booleans())
def test_blanks_and_case_change_nothing(line, blanks, upper):
    note = line[0]
    changed = note.replace(" ", " " * blanks)
    changed = changed.upper() if upper else changed.lower()
    if "Elm" not in note and "Mill" not in note:
        assert told(read(f" {changed} ")) == told(read(note))


@pytest.mark.parametrize(
    "modifier", ["not {}", "maybe {}", "{} maybe", "{} last year", "{} at Elm", "hardly {}", "{}?", "was {}", "if {}"]
)
@given(line=st.sampled_from([line for line in LINES if re.fullmatch(r"[\w.]+=[\w.]+", line[1])]))
def test_a_word_that_changes_a_phrase_is_never_dropped(modifier, line):
    if "=" not in line[0] and ", " not in line[0] and not line[0].startswith(("only", "about")):
        known = read(line[0])
        found = read(modifier.format(line[0]))
        assert [e.facts for e in found.entries] != [e.facts for e in known.entries] or "day" in line[1]


# --- how a fact is written
NOTED = [fact for fact in load().facts.values() if fact.comes_from != "computed" and fact.kind != "text"]


def values(fact):
    if fact.kind == "yes_no":
        return st.booleans()
    if fact.kind == "one_of":
        return st.sampled_from(fact.values)
    if fact.kind == "date":
        return st.dates(dt.date(2020, 1, 1), DAY)
    if fact.kind == "integer":
        return st.integers(int(fact.low), int(fact.high))
    return (
        st.floats(fact.low, fact.high).map(lambda number: round(number, 2)).filter(lambda n: fact.low <= n <= fact.high)
    )


@given(st.data())
def test_the_phrase_for_a_value_is_read_back_to_it(data):
    fact = data.draw(st.sampled_from(NOTED))
    value = data.draw(values(fact))
    found = read(phrase_for(fact.id, value))
    assert not found.asked and not found.left and len(found.entries) == 1
    assert (
        found.entries[0].facts[fact.id] == pytest.approx(value)
        if fact.kind == "number"
        else found.entries[0].facts[fact.id] == value
    )


@pytest.mark.parametrize("fact", NOTED, ids=lambda fact: fact.id)
def test_the_phrase_shown_for_a_fact_notes_it(fact):
    found = read(phrase_for(fact.id))
    assert [fact.id in entry.facts for entry in found.entries] == [True] and not found.asked and not found.left


def test_what_looks_tell_is_noted_in_phrases():
    assert forms()["colony.frames_of_bees"] == "5 seams" and forms()["food.days_left"] == ""
    assert note_as(["food.days_left", "food.heft", "hive.tare_kg"]) == "heavy"
    assert note_as(["hive.tare_kg"]) == "hive.tare_kg=5" and note_as(["food.days_left"]) == ""
    every = [fact.id for fact in NOTED]
    assert note_as(every).count(",") == 2 and len(read(note_as(every)).entries) >= 1

"""``hiveweek note`` and ``hiveweek facts``: what is shown, asked and stored; one note for several hives."""

from __future__ import annotations

import datetime as dt
import json

import pytest

from hiveweek.cli import note as note_command
from hiveweek.record.notes.many import read_notes
from hiveweek.record.notes.table import shipped
from hiveweek.vocabulary import load

DAY = dt.date(2026, 8, 20)
ON = ("--date", "2026-08-20")
HIVES = ("Ash", "Elm", "Birch", "Oak")


@pytest.fixture
def run(run):
    run("apiary", "new", "Mill Lane", "--climate", "cool_continental")
    for name in HIVES:
        run("hive", "add", name, "hive.size=single", "hive.frames=10", "--date", "2026-04-01")
    return run


def entries(run, hive):
    shown = run("record", "show", hive, "--json")
    return [entry for entry in shown if entry["date"] != "2026-04-01"]


def test_a_note_is_echoed_in_its_words_and_ids_and_stored(run):
    said = run("note", "Ash", "5 seams, heavy, gave 2 litres of 2:1", *ON, "--imperial")
    assert "understood: 5 seams, heavy -> colony.frames_of_bees 5, food.heft heavy" in said
    assert "feed-thick-syrup litres 2 (2.1 US qt)" in said and "Stored" in said
    assert [(e["kind"], e.get("facts"), e.get("action")) for e in entries(run, "Ash")] == [
        ("seen", {"colony.frames_of_bees": 5, "food.heft": "heavy"}, None),
        ("done", None, "feed-thick-syrup"),
    ]
    run("undo")
    assert entries(run, "Ash") == []


def test_what_is_open_holds_a_note_back_unless_yes_is_said(run):
    said = run("note", "Ash", "heavy, CB, smells of bananas", *ON, code=1)
    assert "asked: 'CB'" in said and "not understood, kept as a remark: 'smells of bananas'" in said
    assert "Nothing was stored" in said and entries(run, "Ash") == []
    found = run("note", "Ash", "heavy, CB, smells of bananas", *ON, "--yes", "--json")
    assert [asked["text"] for asked in found["asked"]] == ["CB"] and len(found["asked"][0]["readings"]) == 3
    assert found["remark"] == "smells of bananas" and found["stored"] is True
    assert [(e["kind"], e.get("text")) for e in entries(run, "Ash")] == [
        ("seen", "heavy"),
        ("remark", "smells of bananas"),
    ]


def test_a_dry_run_stores_nothing(run):
    found = run("note", "Ash", "heavy", *ON, "--dry-run", "--json")
    assert [e["facts"] for e in found["entries"]] == [{"food.heft": "heavy"}] and not found["stored"]
    assert entries(run, "Ash") == []


def test_on_a_terminal_it_asks(run, monkeypatch):
    monkeypatch.setattr(note_command.sys.stdin, "isatty", lambda: True, raising=False)
    answers = iter(["9", "2", "0"])
    monkeypatch.setattr("builtins.input", lambda _: next(answers))
    said = run("note", "Ash", "CB, DB, strong", *ON)
    assert "capped brood" in said and "count the seams" in said
    assert [e["facts"] for e in entries(run, "Ash")] == [{"colony.sealed_brood": True}]


def test_uniting_names_the_other_hive_by_its_id(run):
    found = run("note", "Ash", "united with Elm", *ON, "--json")
    assert found["entries"][0]["details"] == {"partner": "Elm"}
    (entry,) = entries(run, "Ash")
    elm = run("hive", "show", "Elm", "--json")
    assert entry["details"]["partner"] in json.dumps(elm)


def test_what_to_bring_is_a_remark_of_its_own(run):
    found = run("note", "Ash", "heavy, next time bring nuc box, tape", *ON, "--json")
    assert found["bring"] == ["nuc box, tape"]
    assert [e.get("details") for e in entries(run, "Ash")] == [None, {"bring": "nuc box, tape"}]


def test_a_correction_and_a_note_moved_to_the_right_hive(run):
    first = run("note", "Ash", "5 seams, next time bring tape", *ON, "--json")["entries"][0]["number"]
    run("note", "Ash", "7 seams", *ON, "--replaces", str(first))
    standing = [e.get("facts") for e in entries(run, "Ash")]
    assert {"colony.frames_of_bees": 7} in standing and {"colony.frames_of_bees": 5} not in standing
    assert "Moved from Ash to Elm: 7 seams" in run("note", "Ash", "--move", "Elm")
    assert [e["facts"] for e in entries(run, "Elm")] == [{"colony.frames_of_bees": 7}]
    run("note", "Birch", "heavy, gave 2 litres of 1:1, next time bring tape", *ON)
    run("note", "Birch", "--move", "Oak")
    assert len(entries(run, "Oak")) == 3 and entries(run, "Birch") == []


def test_wrong_words_are_told_in_a_line(run):
    assert "unknown-hive" in run("note", "Ahs", "heavy", code=2)
    assert "empty-note" in run("note", "Ash", code=2)
    assert "unknown-entry" in run("note", "Ash", "heavy", "--replaces", "99", code=2)
    assert "before-first-day" in run("note", "Ash", "heavy", "--date", "2026-03-01", code=2)
    assert "no-note" in run("note", "Ash", "--move", "Elm", code=2)
    assert entries(run, "Ash") == []


def test_all_hives_with_exceptions_in_one_note(run):
    said = run("note", "all", "all hefted, Ash and Elm light, rest heavy", *ON)
    assert "Ash, Elm\n  understood: light" in said and "Birch, Oak\n  understood: heavy" in said
    run("note", "all but Oak", "calm", *ON)
    assert {"colony.temper": "calm"} not in [e.get("facts") for e in entries(run, "Oak")]


def many(text, hives=HIVES):
    found = read_notes(text, DAY, load(), shipped(), hives=hives, known=HIVES)
    return {
        name: (
            {fact: value for entry in one.entries for fact, value in entry.facts.items()},
            [(entry.action, dict(entry.details)) for entry in one.entries if entry.action],
            len(one.asked),
            len([left for left in one.left if not left.known]),
        )
        for name, one in found.items()
    }


STRIPS = {"active": "amitraz", "form": "strip"}


@pytest.mark.parametrize(
    ("text", "ash", "elm", "oak"),
    [
        (
            "heavy",
            ({"food.heft": "heavy"}, [], 0, 0),
            ({"food.heft": "heavy"}, [], 0, 0),
            ({"food.heft": "heavy"}, [], 0, 0),
        ),
        (
            "heavy, Elm light",
            ({"food.heft": "heavy"}, [], 0, 0),
            ({"food.heft": "light"}, [], 0, 0),
            ({"food.heft": "heavy"}, [], 0, 0),
        ),
        (
            "Ash, Elm light; rest heavy",
            ({"food.heft": "light"}, [], 0, 0),
            ({"food.heft": "light"}, [], 0, 0),
            ({"food.heft": "heavy"}, [], 0, 0),
        ),
        (
            "2 amitraz strips each, Elm 1",
            ({}, [("treat-mites", {**STRIPS, "pieces": 2})], 0, 0),
            ({}, [("treat-mites", {**STRIPS, "pieces": 1})], 0, 0),
            ({}, [("treat-mites", {**STRIPS, "pieces": 2})], 0, 0),
        ),
        (
            "gave 2 litres of 2:1 each, Elm nothing",
            ({}, [("feed-thick-syrup", {"litres": 2})], 0, 0),
            ({}, [], 1, 1),
            ({}, [("feed-thick-syrup", {"litres": 2})], 0, 0),
        ),
        (
            "calm, Elm light, eggs seen",
            ({"colony.temper": "calm"}, [], 0, 1),
            ({"colony.temper": "calm", "food.heft": "light"}, [], 0, 1),
            ({"colony.temper": "calm"}, [], 0, 1),
        ),
        ("all heavy, not Elm", ({}, [], 1, 1), ({}, [], 1, 1), ({}, [], 1, 1)),
        ("Elm heavy?", ({}, [], 0, 0), ({}, [], 0, 1), ({}, [], 0, 0)),
    ],
)
def test_whose_a_part_is(text, ash, elm, oak):
    found = many(text)
    assert (found["Ash"], found["Elm"], found["Oak"]) == (ash, elm, oak)


def test_a_word_names_its_fact_with_all_that_is_needed_to_note_it(run):
    said = run("facts", "seams")
    assert said.startswith("colony.frames_of_bees") and "Note it as: 5 seams" in said and "count the gaps" in said
    (fact,) = run("facts", "food.heft", "--json")["facts"]
    assert fact["values_as"] == {"light": "light", "middling": "middling", "heavy": "heavy"}
    assert "Worked out, not noted." in run("facts", "food.days_left")
    assert "nearest: seams" in run("facts", "sems", code=2)
    assert len(run("facts").splitlines()) > 100
    assert {fact["id"] for fact in run("facts", "queen", "cells", "--json")["facts"]} >= {"colony.queen_cells"}

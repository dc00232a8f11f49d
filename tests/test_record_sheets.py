"""Keepers' own sheets: columns mapped to facts and jobs, each row with its fate, the same file twice adds nothing."""

import codecs
import datetime as dt
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook

from hiveweek import vocabulary
from hiveweek.cli.main import main
from hiveweek.problems import InputProblems
from hiveweek.record import sheets
from hiveweek.record.sheet_map import day_in, number_in, read_map

MAP = """# yaml-language-server: $schema=sheet_map.schema.json
hive: {column: Hive}
date: {column: Day, form: ['%d.%m.%Y', '%d.%m.%y']}
who: {column: Who}
text: {column: Remarks}
decimal: comma
columns:
  Seams: {fact: colony.frames_of_bees}
  Stores (lb): {fact: food.stores_kg, unit: lb}
  Queen: {fact: colony.queen, words: {ja: seen, nein: not_looked}}
  Supers: {fact: hive.supers}
  Syrup: {action: feed-thick-syrup, detail: litres}
"""
HEAD = "Hive;Day;Who;Seams;Stores (lb);Queen;Supers;Syrup;Remarks;Mood\n"
GOOD = HEAD + (
    'Ash;10.08.2026;Jo;5,5;12;ja;1;;"calm; on the comb";sunny\n'
    "Birch;10.08.26;Jo;7;;;;4;;\n"
    "Birch;11.08.2026;;;;;;;a remark alone;\n"
    "Ash;12.08.2026;;-;;n/a;;;;\n"
)


@pytest.fixture
def run(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("HIVEWEEK_RECORD", str(tmp_path / "record.sqlite"))
    monkeypatch.chdir(tmp_path)
    (tmp_path / "map.yaml").write_text(MAP, encoding="utf-8")

    def command(*words, code=0):
        capsys.readouterr()
        assert main(list(words)) == code, capsys.readouterr()
        said = capsys.readouterr()
        if code == 2:
            return said.err
        return json.loads(said.out) if "--json" in words else said.out + said.err

    command("apiary", "new", "Mill Lane", "--climate", "cool_continental")
    command("hive", "add", "Ash", "--date", "2020-01-01")
    command("hive", "add", "Birch", "--date", "2020-01-01")
    return command


def entries(run):
    return [
        {k: e[k] for k in ("kind", "date", "facts", "action", "details", "text", "who") if k in e}
        for e in run("record", "show", "--json")
    ]


WANTED = [
    {
        "kind": "seen",
        "date": "2026-08-10",
        "facts": {"colony.frames_of_bees": 5.5, "food.stores_kg": 5.443, "colony.queen": "seen"},
        "text": "calm; on the comb",
        "who": "Jo",
    },
    {"kind": "seen", "date": "2026-08-10", "facts": {"colony.frames_of_bees": 7}, "who": "Jo"},
    {"kind": "set", "date": "2026-08-10", "facts": {"hive.supers": 1}, "who": "Jo"},
    {"kind": "done", "date": "2026-08-10", "action": "feed-thick-syrup", "details": {"litres": 4}, "who": "Jo"},
    {"kind": "remark", "date": "2026-08-11", "text": "a remark alone"},
]


def without_order(found):
    return sorted(found, key=lambda entry: json.dumps(entry, sort_keys=True))


@pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_rows_become_entries_whatever_program_wrote_them(run, tmp_path, coding):
    (tmp_path / "book.csv").write_text(GOOD.replace("calm", "calm, über all"), encoding=coding)
    shown = run("record", "import", "book.csv", "--map", "map.yaml")
    assert "3 new, 0 there already, 0 bad" in shown and "Mood" in shown
    wanted = [
        {**e, "text": e["text"].replace("calm", "calm, über all")} if "calm" in e.get("text", "") else e for e in WANTED
    ]
    assert without_order(entries(run)) == without_order(wanted)


def test_a_spreadsheet_with_real_days_and_numbers_says_the_same(run, tmp_path):
    book = Workbook()
    book.active.title = "Notes"
    sheet = book.create_sheet("Inspections")
    sheet.append(HEAD.strip().split(";"))
    sheet.append(["Ash", dt.datetime(2026, 8, 10), "Jo", 5.5, 12, "ja", 1, None, "calm; on the comb", None])
    sheet.append(["Birch", dt.date(2026, 8, 10), "Jo", 7, None, None, None, 4, None, None])
    sheet.append(["Birch", "11.08.2026", None, None, None, None, None, None, "a remark alone", None])
    book.save(tmp_path / "book.xlsx")
    (tmp_path / "map.yaml").write_text(MAP + "sheet: Inspections\n", encoding="utf-8")
    run("record", "import", "book.xlsx", "--map", "map.yaml")
    assert without_order(entries(run)) == without_order(WANTED)
    (tmp_path / "map.yaml").write_text(MAP + "sheet: Inspection\n", encoding="utf-8")
    assert "Inspections" in run("record", "import", "book.xlsx", "--map", "map.yaml", code=2)


def test_the_same_file_twice_adds_nothing_and_a_longer_one_only_what_is_new(run, tmp_path):
    path = tmp_path / "book.csv"
    path.write_text(GOOD)
    run("record", "import", "book.csv", "--map", "map.yaml")
    once = run("record", "show", "--all", "--json")
    assert "0 new, 3 there already" in run("record", "import", "book.csv", "--map", "map.yaml")
    assert run("record", "show", "--all", "--json") == once
    path.write_text(GOOD + "Ash;20.08.2026;;6;;;;;;\nAsh;20.08.2026;;6;;;;;;\n")
    assert "2 new, 3 there already" in run("record", "import", "book.csv", "--map", "map.yaml")
    assert "0 new, 5 there already" in run("record", "import", "book.csv", "--map", "map.yaml")


def test_an_import_is_taken_back_as_one_and_may_come_again(run, tmp_path):
    (tmp_path / "book.csv").write_text(GOOD)
    run("record", "import", "book.csv", "--map", "map.yaml")
    before = entries(run)
    run("undo")
    assert entries(run) == []
    assert "3 new" in run("record", "import", "book.csv", "--map", "map.yaml")
    assert without_order(entries(run)) == without_order(before)


def test_a_dry_run_shows_the_fate_of_each_row_and_stores_nothing(run, tmp_path):
    (tmp_path / "book.csv").write_text(GOOD + "Ahs;13.08.2026;;5;;;;;;\n")
    shown = run("record", "import", "book.csv", "--map", "map.yaml", "--dry-run", code=1)
    lines = [line for line in shown.splitlines() if line.startswith("book.csv:")]
    assert lines[0].startswith("book.csv:2: new Ash 2026-08-10 seen colony.frames_of_bees=5.5")
    assert "book.csv:5: blank" in lines
    assert lines[-1] == "book.csv:6:1: unknown-hive Hive: no hive 'Ahs' at Mill Lane; nearest: Ash"
    assert entries(run) == []
    found = run("record", "import", "book.csv", "--map", "map.yaml", "--dry-run", "--json", code=1)
    assert [fate["fate"] for fate in found["fates"]] == ["new", "new", "new", "blank", "bad"]
    assert found["rows"] == {"new": 3, "there": 0, "bad": 1, "blank": 1} and found["unread"] == ["Mood"]


BAD = [
    ("Ahs;10.08.2026;;5;;;;;;", 1, "unknown-hive", "nearest: Ash"),
    ("Ash;2026-08-10;;5;;;;;;", 2, "bad-date", "10.02.2026"),
    ("Ash;31.02.2026;;5;;;;;;", 2, "bad-date", "31.02.2026"),
    (";10.08.2026;;5;;;;;;", 1, "unknown-hive", "no hive ''"),
    ("Ash;;;5;;;;;;", 2, "bad-date", "needs a day"),
    ("Ash;10.08.2026;;five;;;;;;", 4, "bad-value", "needs a number"),
    ("Ash;10.08.2026;;500;;;;;;", 4, "bad-value", "lies between"),
    ("Ash;10.08.2026;;;;perhaps;;;;", 6, "bad-value", "needs one of"),
    ("Ash;10.08.2026;;;;;1,5;;;", 7, "bad-value", "whole number"),
    ("Ash;10.08.2026;;;;;;900;;", 8, "bad-value", "litres"),
    ("Ash;10.08.2099;;5;;;;;;", 1, "date-ahead", "2099"),
    ("Ash;10.08.2019;;5;;;;;;", 1, "before-first-day", "--sure"),
]


def test_bad_rows_are_named_all_at_once_and_nothing_is_stored(run, tmp_path):
    (tmp_path / "book.csv").write_text(GOOD + "".join(row + "\n" for row, *_ in BAD))
    error = run("record", "import", "book.csv", "--map", "map.yaml", code=2).splitlines()
    assert len(error) == len(BAD)
    for line, (row, column, code, said) in enumerate(BAD, 6):
        (found,) = [one for one in error if one.startswith(f"book.csv:{line}:")]
        assert found.startswith(f"book.csv:{line}:{column}: {code} ") and said in found, (row, found)
    assert entries(run) == []


def test_good_rows_are_kept_only_when_the_keeper_says_so(run, tmp_path):
    (tmp_path / "book.csv").write_text(GOOD + BAD[0][0] + "\n")
    shown = run("record", "import", "book.csv", "--map", "map.yaml", "--keep-good", code=1)
    assert "book.csv:6:1: unknown-hive" in shown and "3 new" in shown
    assert without_order(entries(run)) == without_order(WANTED)


def test_columns_named_by_facts_need_no_map(run, tmp_path):
    (tmp_path / "book.csv").write_text("date,hive,food.stores_kg\n2026-08-10,Ash,8.5\n2026-08-11,Ash,~\n")
    run("record", "import", "book.csv")
    assert [entry["facts"] for entry in entries(run)] == [{"food.stores_kg": 8.5}, {"food.stores_kg": None}]
    (tmp_path / "book.csv").write_text("day,hive\n1,2\n")
    assert "missing-column" in run("record", "import", "book.csv", code=2)


def test_rows_may_name_their_apiary(run, tmp_path):
    run("apiary", "new", "Hill", "--climate", "boreal")
    run("hive", "add", "Ash", "--apiary", "Hill", "--date", "2020-01-01")
    (tmp_path / "book.csv").write_text(
        "date,hive,apiary,food.stores_kg\n2026-08-10,Ash,Hill,8\n2026-08-10,Ash,mill lane,9\n"
    )
    run("record", "import", "book.csv")
    assert [e["facts"] for e in run("record", "show", "Hill/Ash", "--json")] == [{"food.stores_kg": 8}]
    (tmp_path / "book.csv").write_text("date,hive,food.stores_kg\n2026-08-10,Ash,7\n")
    assert "which-apiary" in run("record", "import", "book.csv", code=2)
    run("record", "import", "book.csv", "--apiary", "Mill Lane")


@pytest.mark.parametrize(
    ("text", "line", "code", "said"),
    [
        (MAP.replace("fact: colony.frames_of_bees", "fact: colony.frames_of_bee"), 8, "unknown-fact", "frames_of_bees"),
        (MAP.replace("unit: lb", "unit: stone"), 9, "wrong-unit", "kg, lb, g"),
        (MAP.replace("detail: litres", "detail: liters"), 12, "unknown-detail", "nearest: litres"),
        (MAP.replace("action: feed-thick-syrup", "action: feed-thick-syrop"), 12, "unknown-action", "feed-thick-syrup"),
        (MAP.replace("decimal: comma", "decimal: coma"), 6, "unknown-value", "comma"),
        (MAP.replace("hive: {column: Hive}\n", ""), 2, "missing-key", "hive"),
    ],
)
def test_a_map_that_does_not_fit_is_told_with_its_place(tmp_path, text, line, code, said):
    path = tmp_path / "map.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputProblems) as error:
        read_map(path, vocabulary.load())
    assert any((p.line, p.code) == (line, code) and said in p.message for p in error.value.problems), error.value


def test_a_column_that_is_not_there_is_told(run, tmp_path):
    (tmp_path / "book.csv").write_text(GOOD.replace("Seams", "Seems"))
    assert "no column 'Seams'; nearest: Seems" in run("record", "import", "book.csv", "--map", "map.yaml", code=2)


@pytest.mark.parametrize(
    ("text", "decimal", "number"),
    [
        ("1,5", "", 1.5),
        ("1.5", "", 1.5),
        ("1.500,5", "comma", 1500.5),
        ("1,500.5", "point", 1500.5),
        ("1 500", "comma", 1500),
    ],
)
def test_numbers_of_sheets(text, decimal, number):
    assert number_in(text, decimal) == number


@pytest.mark.parametrize("text", ["1,500", "1.500", "1 500", "about 5", "5 kg", ""])
def test_numbers_that_could_be_two_are_refused(text):
    with pytest.raises(ValueError):
        number_in(text, "")


@given(day=st.dates(dt.date(1950, 1, 1), dt.date(2068, 12, 31)))
def test_a_day_is_read_only_in_a_declared_form(day):
    assert day_in(day.strftime("%d/%m/%Y"), ["%d/%m/%Y"]) == day
    with pytest.raises(ValueError):
        day_in(day.isoformat(), ["%d/%m/%Y"])


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_delimiters_are_found(tmp_path, delimiter):
    path = tmp_path / "a.csv"
    path.write_text(
        delimiter.join(["hive", "date", "x"]) + "\n" + delimiter.join(["Ash", "2026-01-01", '"a,b;c"']) + "\n"
    )
    with sheets.opened(path, "a.csv") as sheet:
        assert sheet.head == ["hive", "date", "x"]
        assert list(sheet.body) == [(2, ["Ash", "2026-01-01", "a,b;c"])]


@pytest.mark.parametrize(
    ("name", "content", "code"),
    [
        ("a.csv", b"", "empty"),
        ("a.xlsx", b"no zip", "not-xlsx"),
        ("a.csv", b'hive,date\n"Ash,1\n', "bad-row"),
        ("a.csv", codecs.BOM_UTF8 + b"hive,date\n" + b"a" * 70_000 + b"\n\xff\xfe,1\n", "not-utf8"),
    ],
)
def test_files_that_cannot_be_read_are_told(tmp_path, name, content, code):
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(InputProblems, match=code), sheets.opened(path, name) as sheet:
        list(sheet.body)

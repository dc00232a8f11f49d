"""The treatment record: in and out, what was given and said of it, counts before and after."""

import csv
import datetime as dt
import json

import pytest

from hiveweek import vocabulary
from hiveweek.cli.main import main
from hiveweek.record import Apiary, Entry, Hive, Kind, Placement, Record
from hiveweek.record.store import open_store
from hiveweek.record.treatments import COLUMNS, Reader

WORDS = vocabulary.load()
YEAR = 2026


def day(month, number):
    return dt.date(YEAR, month, number)


def record(*said):
    made = Record(
        {"a": Apiary("a", "Mill Lane", "boreal"), "b": Apiary("b", "Hill", "boreal")},
        {
            "h": Hive("h", "Ash", (Placement("a", dt.date(2024, 1, 1)), Placement("b", day(9, 1)))),
            "g": Hive("g", "Birch", (Placement("a", dt.date(2024, 1, 1)),), day(11, 1), "died"),
        },
    )
    for number, (kind, hive, date, more) in enumerate(said, 1):
        made.entries.append(Entry(f"e{number}", kind, "a", hive, date, sequence=number, who="Jo", **more))
    return made


def rows(*said):
    reader = Reader(record(*said), WORDS)
    return [{k: v for k, v in reader.row(course).items() if v} for course in reader.courses()]


STRIPS = {
    "active": "amitraz",
    "form": "strip",
    "pieces": 2,
    "product": "=the blue ones",
    "batch": "B12",
    "supplier": "bought at the club, 1 August",
    "prescription": "none needed",
    "withdrawal": "0 days",
}


def test_a_course_has_all_that_an_inspector_asks_for():
    found = rows(
        (
            Kind.SEEN,
            "h",
            day(8, 10),
            {"facts": {"mites.sample_mites": 12, "mites.sample_bees": 300, "mites.method": "wash"}},
        ),
        (Kind.DONE, "h", day(8, 15), {"action": "treat-mites", "details": STRIPS}),
        (Kind.DONE, "h", day(10, 1), {"action": "remove-treatment", "details": {"disposal": "to the chemist's"}}),
        (Kind.SEEN, "h", day(10, 12), {"facts": {"mites.drop_per_day": 0.5}}),
    )
    assert found == [
        {
            "apiary": "Mill Lane",
            "hive": "Ash",
            "in": "2026-08-15",
            "out": "2026-10-01",
            "active": "amitraz",
            "form": "strip",
            "product": "=the blue ones",
            "batch": "B12",
            "supplier": "bought at the club, 1 August",
            "prescription": "none needed",
            "amount": "x 2",
            "withdrawal": "0 days",
            "disposal": "to the chemist's",
            "counted_before": "2026-08-10",
            "before": "12/300 wash",
            "counted_after": "2026-10-12",
            "after": "0.5/d",
            "who": "Jo",
        }
    ]


def test_what_is_still_in_has_no_last_day_and_no_count_after():
    (found,) = rows(
        (Kind.DONE, "h", day(8, 15), {"action": "treat-mites", "details": {"active": "thymol"}}),
        (Kind.SEEN, "h", day(8, 20), {"facts": {"mites.drop_per_day": 40}}),
    )
    assert "out" not in found and "after" not in found


def test_strips_that_were_set_count_as_well_and_once():
    found = rows(
        (Kind.SET, "g", day(8, 15), {"facts": {"mites.in_hive": "amitraz"}}),
        (Kind.DONE, "g", day(8, 15), {"action": "treat-mites", "details": STRIPS}),
        (Kind.SET, "g", day(9, 30), {"facts": {"mites.in_hive": "none"}}),
        (Kind.DONE, "g", day(12, 20), {"action": "treat-oxalic-broodless", "details": {}}),
    )
    assert [(row["in"], row["out"], row["active"]) for row in found] == [
        ("2026-08-15", "2026-09-30", "amitraz"),
        ("2026-12-20", "2026-12-20", "oxalic"),
    ]
    assert found[0]["batch"] == "B12"


def test_what_was_done_to_the_whole_apiary_was_done_to_each_hive_there():
    found = rows((Kind.DONE, None, day(8, 15), {"action": "treat-mites", "details": {"active": "formic"}}))
    assert [row["hive"] for row in found] == ["Ash", "Birch"]
    late = rows((Kind.DONE, None, day(9, 15), {"action": "treat-mites", "details": {"active": "formic"}}))
    assert [row["hive"] for row in late] == ["Birch"], "Ash had moved"


def test_entries_that_were_taken_back_count_not():
    made = record((Kind.DONE, "h", day(8, 15), {"action": "treat-mites", "details": STRIPS}))
    made.withdrawn.add("e1")
    assert Reader(made, WORDS).courses() == []


@pytest.mark.parametrize(
    ("span", "n"),
    [
        ((), 1),
        (("--from", "2026-10-02"), 0),
        (("--to", "2026-08-14"), 0),
        (("--from", "2026-09-01", "--to", "2026-09-02"), 1),
    ],
)
def test_the_command_writes_csv_that_no_spreadsheet_runs(tmp_path, monkeypatch, capsys, span, n):
    monkeypatch.setenv("HIVEWEEK_RECORD", str(tmp_path / "r.sqlite"))
    with open_store(tmp_path / "r.sqlite") as store:
        store.restore(
            record(
                (Kind.DONE, "h", day(8, 15), {"action": "treat-mites", "details": STRIPS}),
                (Kind.DONE, "h", day(10, 1), {"action": "remove-treatment"}),
            )
        )
    out = tmp_path / "treatments.csv"
    assert main(["record", "treatments", "--csv", str(out), *span]) == 0
    with out.open(encoding="utf-8-sig", newline="") as file:
        found = list(csv.DictReader(file))
    assert len(found) == n
    for row in found:
        assert list(row) == COLUMNS and row["product"] == "'=the blue ones" and row["batch"] == "B12"
    capsys.readouterr()
    assert main(["record", "treatments", "--json", "--apiary", "mill lane", *span]) == 0
    assert len(json.loads(capsys.readouterr().out)) == n
    assert main(["record", "treatments", *span]) == 0
    assert ("supplier: bought at the club" in capsys.readouterr().out) == bool(n)

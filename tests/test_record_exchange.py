"""Export and import of the whole record: YAML, CSV and spreadsheet give the same record again."""

import dataclasses
import datetime as dt
import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from postgres_kit import database

from hiveweek.problems import InputProblems
from hiveweek.record import Answer, Apiary, Entry, Hive, Kind, Placement, Record, cells, sheets, tables
from hiveweek.record.entries import new_id
from hiveweek.record.plain_form import record_out
from hiveweek.record.plain_yaml import lines, read_record
from hiveweek.record.store import open_store

TEXTS = st.text(st.characters(exclude_categories=("Cs",), exclude_characters="\0"), max_size=12) | st.sampled_from(
    [
        "12",
        "-1",
        "1e3",
        "true",
        "~",
        "null",
        "2024-01-01",
        "=1+1",
        "+A1",
        "@x",
        "'",
        "''a",
        "a\r\nb",
        "_x0041_",
        "",
        " a ",
        "NO",
    ]
)
DAYS = st.dates(dt.date(1950, 1, 1), dt.date(2150, 1, 1))
NUMBERS = st.floats(allow_nan=False, allow_infinity=False, width=64).map(lambda x: x if abs(x) < 1e15 else 0.5)
VALUES = st.none() | st.booleans() | st.integers(-(10**9), 10**9) | NUMBERS | DAYS | TEXTS
FACTS = st.dictionaries(
    st.sampled_from(["food.stores_kg", "hive.size", "colony.queen", "x.on", "x.1e5"]), VALUES, max_size=3
)
DETAILS = st.dictionaries(st.sampled_from(["litres", "product", "on", "batch"]), VALUES, max_size=3)
MOMENTS = st.datetimes(dt.datetime(1990, 1, 1), dt.datetime(2100, 1, 1)).map(lambda t: t.replace(tzinfo=dt.UTC))


@st.composite
def records(draw):
    apiaries = [
        Apiary(
            f"a{n}",
            f"Yard {n}",
            draw(st.sampled_from([None, "boreal"])),
            *draw(st.sampled_from([(None, None), (50.0, -1.25)])),
            rulesets=tuple(draw(st.lists(st.just("mine.yaml"), max_size=1))),
            overrides=draw(st.sampled_from([{}, {"first_frost": {"from": "10-01", "to": "10-20", "note": "valley"}}])),
            note=draw(TEXTS),
        )
        for n in range(2)
    ]
    hives = []
    for n in range(draw(st.integers(1, 3))):
        first = draw(DAYS)
        places = [Placement("a0", first)]
        if draw(st.booleans()) and first < dt.date(2149, 1, 1):
            places.append(Placement("a1", first + dt.timedelta(9)))
        ended = draw(st.none() | st.just(dt.date(2150, 1, 1)))
        hives.append(Hive(f"h{n}", f"Hive {n}", tuple(places), ended, draw(TEXTS) if ended else ""))
    entries, withdrawn = [], set()
    for n in range(draw(st.integers(0, 6))):
        kind = draw(st.sampled_from(Kind))
        told = {}
        if kind in (Kind.SEEN, Kind.SET):
            told = {"facts": draw(FACTS), "since": draw(st.none() | DAYS), "found": draw(st.booleans())}
        elif kind is not Kind.REMARK:
            told = {"action": "heft-hive", "details": draw(DETAILS)}
            if kind is Kind.ANSWERED:
                told |= {
                    "answer": draw(st.sampled_from(Answer)),
                    "until": draw(st.none() | DAYS),
                    "reason": draw(TEXTS),
                }
        earlier = [e.id for e in entries]
        entries.append(
            Entry(
                f"e{n}",
                kind,
                f"a{n % 2}",
                draw(st.sampled_from([None, *(hive.id for hive in hives)])),
                draw(DAYS),
                time=draw(st.none() | st.times()),
                until_date=draw(st.none() | DAYS),
                text=draw(TEXTS),
                files=tuple(draw(st.lists(TEXTS, max_size=2))),
                who=draw(TEXTS),
                source=draw(st.sampled_from(["typed", "file"])),
                note=draw(st.sampled_from(["", "n1"])),
                recorded_at=draw(MOMENTS),
                sequence=n + 1,
                replaces=draw(st.sampled_from([None, *earlier])),
                **told,
            )
        )
        if draw(st.booleans()):
            withdrawn.add(f"e{n}")
    return Record({a.id: a for a in apiaries}, {h.id: h for h in hives}, entries, withdrawn)


def assert_same(one, other):
    assert one.apiaries == other.apiaries and one.hives == other.hives
    assert {e.id: e for e in one.entries} == {e.id: e for e in other.entries}
    assert one.withdrawn == other.withdrawn
    assert one.live() == other.live()


@settings(max_examples=150)
@given(record=records())
def test_yaml_gives_the_same_record(record):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "record.yaml")
        path.write_text("".join(line + "\n" for line in lines(record_out(record))), encoding="utf-8")
        assert_same(read_record(path), record)


@settings(max_examples=100)
@given(record=records(), kind=st.sampled_from(["csv", "xlsx"]))
def test_sheets_give_the_same_record(record, kind):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, f"record.{kind}")
        getattr(tables, f"write_{kind}")(path, record_out(record))
        with sheets.opened(path, path.name) as sheet:
            assert_same(tables.record_of_rows(sheet.head, sheet.body, path.name), record)


def test_a_number_of_seventeen_digits_comes_back_from_a_spreadsheet():
    longest = 3.9943452203411615e-302  # 17 digits are needed to tell a double from its neighbours (IEEE 754)
    assert cells.value_of(cells.cell(longest)) == longest
    assert isinstance(cells.cell(longest), str) and cells.cell(4.25) == 4.25


@settings(max_examples=40)
@given(record=records())
def test_a_store_that_takes_a_record_in_gives_the_same_record(record):
    with tempfile.TemporaryDirectory() as folder, open_store(Path(folder, "r.sqlite")) as store:
        store.restore(record)
        assert_same(store.everything(), record)
        assert store.check() == []
        assert not any(store.restore(record).values()), "a second time nothing is new"
        assert_same(store.everything(), record)


def test_a_server_takes_a_record_in():
    record = Record(
        {"a": Apiary("a", "Mill Lane", "boreal")},
        {"h": Hive("h", "Ash", (Placement("a", dt.date(2024, 1, 1)),))},
        [
            Entry("e1", Kind.SEEN, "a", "h", dt.date(2024, 5, 1), facts={"food.stores_kg": 8}, sequence=4),
            Entry(
                "e2", Kind.SEEN, "a", "h", dt.date(2024, 5, 1), facts={"food.stores_kg": 9}, sequence=7, replaces="e1"
            ),
        ],
    )
    with open_store(database()) as store:
        store.restore(record)
        assert_same(store.everything(), record)
        assert store.check() == []


@given(value=VALUES)
def test_every_value_is_its_own_again_from_a_cell(value):
    again = cells.value_of(cells.text_cell(value))
    assert again == value and type(again) is type(value)
    assert not cells.text_cell(value).startswith(("=", "+", "@", "\t"))


@pytest.mark.parametrize("text", ["=1+1", "+1 day", "-cmd", "@SUM(A1)"])
def test_cells_for_people_are_no_formulas(text):
    assert cells.safe(text) == "'" + text


@pytest.fixture
def run(run):
    run("apiary", "new", "Mill Lane", "--climate", "boreal", "--at", "60,10")
    run("hive", "add", "Ash", "hive.size=single", "--date", "2026-03-01", "--by", "Jo Marsh")
    run("hive", "set", "Ash", "hive.supers=1", "--date", "2026-05-01")
    run("undo")
    return run


@pytest.mark.parametrize("kind", ["yaml", "csv", "xlsx"])
def test_the_command_line_exports_and_takes_in(run, tmp_path, kind):
    out, other = tmp_path / f"all.{kind}", str(tmp_path / "other.sqlite")
    assert "entries: 2" in run("record", "export", str(out))
    assert "Nothing was stored" in run("record", "import", str(out), "--dry-run", "--record", other)
    assert not Path(other).exists()
    assert run("record", "import", str(out), "--record", other, "--json")["entries"] == 2
    assert run("record", "show", "--all", "--json", "--record", other) == run("record", "show", "--all", "--json")
    assert run("record", "import", str(out), "--json")["entries"] == 0


def test_an_export_without_people_names_none(run, tmp_path):
    out = tmp_path / "all.yaml"
    run("record", "export", str(out), "--without-people")
    text = out.read_text()
    assert "Jo Marsh" not in text and "lat" not in text and "hive.size" in text
    run("record", "import", str(out), "--record", str(tmp_path / "other.sqlite"))


def test_what_is_wrong_in_a_file_is_told_with_its_place_and_nothing_is_stored(run, tmp_path):
    out, other = tmp_path / "all.yaml", tmp_path / "other.sqlite"
    run("record", "export", str(out))
    good = out.read_text()
    for bad, code in (
        (good.replace("kind: ", "kimd: ", 1), "unknown-key"),
        (good.replace('"set"', '"sett"', 1), "unknown-kind"),
        (good.replace("hive.size:", "hive.siz:", 1), "unknown-fact"),
        (good.replace('"single"', '"singel"', 1), "bad-value"),
        (good.replace('hive: "', 'hive: "x', 1), "unknown-hive"),
        (good.replace("hiveweek_record: 1", "hiveweek_record: 2"), "wrong-type"),
    ):
        out.write_text(bad)
        error = run("record", "import", str(out), "--record", str(other), code=2)
        assert code in error, (code, error)
    assert not other.exists()
    assert "unknown-kind" in run("record", "export", str(tmp_path / "all.pdf"), code=2)
    assert "no-file" in run("record", "import", str(tmp_path / "no.csv"), code=2)


def test_taking_in_is_whole_or_not_at_all(tmp_path):
    apiary, day = Apiary("a", "Mill Lane", "boreal"), dt.date(2024, 1, 1)
    hive = Hive("h", "Ash", (Placement("a", day),))
    entry = Entry("e1", Kind.REMARK, "a", "h", day, text="x", sequence=1)
    with open_store(tmp_path / "r.sqlite") as store:
        store.restore(Record({"a": apiary}, {"h": hive}, [entry]))
        other = [dataclasses.replace(entry, id=new_id()), dataclasses.replace(entry, text="y")]
        with pytest.raises(InputProblems, match="entry-differs"):
            store.restore(Record({"a": apiary}, {"h": hive}, other))
        assert [e.id for e in store.everything().entries] == ["e1"]

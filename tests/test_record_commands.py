"""The record at the command line: apiaries, hives, undo, show, check, forget, copy."""

import datetime as dt
import json

import pytest

from hiveweek import vocabulary
from hiveweek.cli.main import main
from hiveweek.record import Entry, Kind, photos
from hiveweek.record.entries import new_id
from hiveweek.record.store import open_store
from hiveweek.record.values import number_of, value_of

TODAY = dt.date.today()


@pytest.fixture
def yard(run):
    run("apiary", "new", "Mill Lane", "--climate", "cool_continental", "--at", "50,10")
    run("hive", "add", "Ash", "hive.size=single", "--date", "2026-03-01", "hive.frames=10")
    run("hive", "add", "Birch", "--date", "2026-03-01")
    return run


def test_nothing_is_made_by_reading(run, record):
    assert run("apiary", "list", code=2).startswith("no-record")
    assert not record.exists()


def test_apiaries_and_hives_are_kept(yard):
    (apiary,) = yard("apiary", "list", "--json")
    assert {k: apiary[k] for k in ("name", "climate", "lat", "lon", "hives")} == {
        "name": "Mill Lane",
        "climate": "cool_continental",
        "lat": 50,
        "lon": 10,
        "hives": 2,
    }
    ash = yard("hive", "show", "ASH", "--json")
    assert ash["set"]["hive.size"] == {"value": "single", "since": "2026-03-01"}
    assert [entry["found"] for entry in ash["entries"]] == [True]
    assert yard("hive", "list") == "Mill Lane/Ash\nMill Lane/Birch\n"
    assert "hive.frames = 10" in yard("hive", "show", "Ash")


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("apiary", "new", "Hill"), "no-climate", "--climate"),
        (("apiary", "new", "Hill", "--climate", "boreall"), "unknown-profile", "nearest: boreal"),
        (("apiary", "new", "Hill", "--climate", "boreal", "--at", "95,10"), "bad-place", "-90 and 90"),
        (
            ("apiary", "new", "Hill", "--climate", "boreal", "--jurisdiction", "engand"),
            "unknown-jurisdiction",
            "england",
        ),
        (("apiary", "new", "mill  lane", "--climate", "boreal"), "name-taken", "Mill Lane"),
        (("apiary", "set", "Mill Lane", "climat=boreal"), "unknown-setting", "nearest: climate"),
        (("apiary", "set", "Mill Lane", "hive.size=double"), "fact-of-hive", "hive.size"),
        (("apiary", "set", "Mill Lane", "timezone=Europe/Lndon"), "unknown-timezone", "Europe/London"),
        (("apiary", "set", "Mill Lane", "--event", "first_frost=10-01..10-20"), "bad-event", "--because"),
        (("apiary", "show", "Mil Lane"), "unknown-apiary", "nearest: Mill Lane"),
        (("hive", "add", "Ash"), "name-taken", "Ash"),
        (("hive", "add", "A/B"), "bad-name", "slashes"),
        (("hive", "add", "all of it"), "bad-name", "'all'"),
        (("hive", "add", "Oak", "--date", "2099-01-01"), "date-ahead", "2099"),
        (("hive", "show", "Ahs"), "unknown-hive", "nearest: Ash"),
        (("hive", "set", "Ash", "hive.siz=double"), "unknown-fact", "nearest: hive.size"),
        (("hive", "set", "Ash", "size=double"), "unknown-fact", "nearest: hive.size"),
        (("hive", "set", "Ash", "hive.size=dubble"), "bad-value", "nearest: double"),
        (("hive", "set", "Ash", "hive.supers=70"), "bad-value", "between 0 and"),
        (("hive", "set", "Ash", "hive.supers=many"), "bad-value", "needs a number"),
        (("hive", "set", "Ash", "food.stores_kg=4"), "fact-seen", "food.stores_kg"),
        (("hive", "set", "Ash", "food.days_left=4"), "bad-value", "worked out"),
        (("hive", "set", "Ash", "hive.supers=1", "--date", "2020-01-01"), "before-first-day", "--sure"),
        (("hive", "set", "Ash", "hive.supers=1", "--date", "tomorrow"), "bad-date", "2026-02-10"),
        (("hive", "move", "Ash", "--to", "Mill Lane"), "no-move", "already"),
        (("undo", "99"), "unknown-entry", "99"),
        (("record", "forget"), "what-to-forget", "--by"),
        (("record", "forget", "--everyone"), "for-good", "--yes"),
    ],
)
def test_bad_words_are_refused_with_what_is_allowed(yard, record, words, code, said):
    before = yard("record", "show", "--all", "--json"), yard("apiary", "show", "--json")
    error = yard(*words, code=2)
    assert error.startswith(code + " ") and said in error, error
    assert (yard("record", "show", "--all", "--json"), yard("apiary", "show", "--json")) == before


def test_all_wrong_values_are_told_at_once(yard):
    error = yard("hive", "set", "Ash", "hive.siz=1", "hive.supers=99", "hive.size=huge", code=2)
    assert len(error.splitlines()) == 3


def test_equipment_is_set_for_many_hives_and_taken_back_as_one(yard):
    yard("hive", "add", "Elm")
    found = yard("hive", "set", "all but Elm", "hive.supers=1", "--since", "unknown", "--by", "Jo", "--json")
    assert len({entry["note"] for entry in found["entries"]}) == 1
    assert all(entry["found"] and entry["who"] == "Jo" for entry in found["entries"])
    gone = yard("undo", "--json")["withdrawn"]
    assert {entry["id"] for entry in gone} == {entry["id"] for entry in found["entries"]}
    kept = yard("record", "show", "--all", "--json")
    assert [e["stands"] for e in kept if "hive.supers" in e["facts"]] == [False, False]


def test_undo_takes_one_entry_by_its_number_or_one_persons_last(yard):
    yard("hive", "set", "Ash", "hive.supers=1", "--by", "Jo")
    yard("hive", "set", "Ash", "hive.supers=2", "--by", "Sam")
    assert "hive.supers=1" in yard("undo", "--by", "jo")
    number = yard("hive", "show", "Ash", "--json")["entries"][-1]["sequence"]
    assert "hive.supers=2" in yard("undo", str(number))
    assert yard("undo", str(number)).strip()  # says that it was taken back before


def test_a_move_is_a_placement_and_an_entry_and_undo_takes_both_back(yard, record):
    yard("apiary", "new", "Hill", "--climate", "boreal")
    yard("hive", "add", "Ash", "--apiary", "Hill")
    assert "two-hives" in yard("hive", "show", "Ash", code=2)
    assert "name-taken" in yard("hive", "move", "Mill Lane/Ash", "--to", "Hill", code=2)
    yard("hive", "move", "Birch", "--to", "Hill", "--date", "2026-04-01")
    assert yard("hive", "list", "--apiary", "Hill") == "Hill/Ash\nHill/Birch\n"
    yard("undo")
    assert [p["since"] for p in yard("hive", "show", "Birch", "--json")["placements"]] == ["2026-03-01"]
    assert yard("record", "check").strip().endswith("sound")


def test_a_hive_ends_and_is_kept_again(yard):
    yard("hive", "end", "Birch", "--because", "united with Ash", "--date", "2026-09-01")
    assert yard("hive", "list") == "Mill Lane/Ash\n"
    assert "united with Ash" in yard("hive", "list", "--ended")
    assert "after-end" in yard("hive", "set", "Birch", "hive.supers=1", "--date", "2026-09-02", code=2)
    yard("hive", "end", "Birch", "--take-back")
    yard("hive", "rename", "Birch", "Beech")
    assert yard("hive", "list") == "Mill Lane/Ash\nMill Lane/Beech\n"


def test_a_place_has_settings_facts_and_moved_events(yard):
    yard(
        "apiary", "set", "Mill Lane", "jurisdiction=england", "site.wind=sheltered", "timezone=Europe/London", "note=x"
    )
    found = yard("apiary", "show", "--json")
    assert found["jurisdiction"] == "england" and found["set"]["site.wind"]["value"] == "sheltered"
    yard("apiary", "set", "Mill Lane", "jurisdiction=~", "note=")
    assert "jurisdiction" not in yard("apiary", "show", "--json")


def test_people_are_forgotten_and_facts_stay(yard, record):
    yard("apiary", "set", "Mill Lane", "note=by the widow's gate")
    yard("hive", "set", "Ash", "hive.supers=1", "--by", "Jo Marsh")
    yard("undo", "--by", "Jo Marsh")
    yard("hive", "set", "Ash", "hive.supers=2", "--by", "Jo Marsh")
    yard("record", "forget", "--everyone", "--yes")
    found = json.dumps([yard("record", "show", "--all", "--json"), yard("apiary", "list", "--json")])
    assert "Jo" not in found and "widow" not in found and "lat" not in found and '"hive.supers": 2' in found
    assert b"Jo Marsh" not in record.read_bytes().replace(b"\0", b"")
    assert yard("record", "check").strip().endswith("sound")


def test_a_copy_is_a_whole_record(yard, tmp_path):
    copy = tmp_path / "copy.sqlite"
    yard("record", "copy", str(copy))
    assert "file-there" in yard("record", "copy", str(copy), code=2)
    assert yard("record", "show", "--json", "--record", str(copy)) == yard("record", "show", "--json")


def test_a_copy_has_its_photos_beside_it_and_says_which_are_gone(yard, record, tmp_path):
    there, gone = photos.name_of(b"a"), photos.name_of(b"b")
    folder = photos.folder_of(str(record)) / "photos"
    folder.mkdir(parents=True)
    (folder / there).write_bytes(b"a")
    with open_store(str(record)) as store:
        (apiary, *_) = store.apiaries()
        store.add(
            [Entry(new_id(), Kind.SEEN, apiary.id, None, dt.date(2026, 5, 1), text="x", files=(there, gone, "../up"))]
        )
    copy = tmp_path / "copy.sqlite"
    said = yard("record", "copy", str(copy))
    assert "Photos copied to copy.sqlite.page: 1." in said and "no longer beside it: 2." in said
    assert [path.read_bytes() for path in (tmp_path / "copy.sqlite.page" / "photos").iterdir()] == [b"a"]
    bare = yard("record", "copy", str(tmp_path / "bare.sqlite"), "--without-photos", "--json")
    assert (bare["photos"], len(bare["photos_left"])) == (0, 3) and not (tmp_path / "bare.sqlite.page").exists()


def test_check_finds_and_mends_the_index(yard, record):
    import sqlite3

    with sqlite3.connect(record) as connection:
        connection.execute("DELETE FROM told")
    connection.close()
    assert "--mend" in yard_said(yard, "record", "check", code=1)
    assert yard("record", "check", "--mend").strip().endswith("sound")


def yard_said(run, *words, code):
    import contextlib
    import io

    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        assert main(list(words)) == code
    return out.getvalue()


def test_letters_that_no_database_keeps_are_refused(yard, record):
    with open_store(record) as store:
        (apiary,) = store.apiaries()
        entry = Entry(new_id(), Kind.REMARK, apiary.id, None, TODAY, text="a\0b")
        with pytest.raises(Exception, match="bad-text"):
            store.add([entry])
        assert store.entry(entry.id) is None


def test_changes_inside_one_block_stand_or_fall_as_one(yard, record):
    with open_store(record) as store:
        (apiary,) = store.apiaries()

        def half():
            with store.writing():
                store.add([Entry(new_id(), Kind.REMARK, apiary.id, None, TODAY, text="x")])
                raise RuntimeError

        with pytest.raises(RuntimeError):
            half()
        assert all(entry.text != "x" for entry in store.everything().entries)
        store.add([Entry(new_id(), Kind.REMARK, apiary.id, None, TODAY, text="y")])
    assert "y" in yard("record", "show")


@pytest.mark.parametrize(("text", "number"), [("7,5", 7.5), ("7.5", 7.5), ("−3", -3), (" 12 ", 12)])
def test_numbers_are_read_as_people_write_them(text, number):
    assert number_of(text) == number


@pytest.mark.parametrize("text", ["1_0", "1,500", "nan", "inf", "1,000.5", "1,2,3", "", "5 kg"])
def test_what_is_no_plain_number_is_refused(text):
    with pytest.raises(ValueError):
        number_of(text)


def test_every_value_a_fact_can_take_is_read_back():
    words = vocabulary.load()
    for fact in words.facts.values():
        if fact.comes_from == "computed":
            continue
        samples = {
            "yes_no": [True, False],
            "one_of": list(fact.values),
            "date": [dt.date(2026, 2, 10)],
        }.get(fact.kind, [v for v in (fact.low, fact.high) if v is not None])
        for value in samples:
            written = {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value)
            assert value_of(fact, written) == value
    with pytest.raises(ValueError, match="needs one of"):
        value_of(words.facts["hive.size"], "huge")

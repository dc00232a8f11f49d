"""Practice as its command asks, explains, marks and takes down."""

import datetime as dt
import io
import json

import pytest

from hiveweek import content
from hiveweek.cli.main import main
from hiveweek.numbers import shipped
from hiveweek.record.practised import Practised
from hiveweek.record.store import open_store

NUMBERS = shipped().branch("plan.practice")
NOW = dt.datetime(2026, 5, 1, 9, tzinfo=dt.UTC)
FROST, LIGHT, EMPTY = "heavy-and-dry-in-hard-frost", "weight-not-known-in-march", "half-missing-in-august"


def run(monkeypatch, capsys, *words, typed=""):
    monkeypatch.setattr("sys.stdin", io.StringIO(typed))
    code = main(["practice", *words])
    out, err = capsys.readouterr()
    return code, out, err


def test_a_sitting_typed_in_is_marked_and_taken_down(monkeypatch, capsys, tmp_path):
    record = str(tmp_path / "r.sqlite")
    words = ("--lesson", LIGHT, "--record", record)
    code, out, err = run(monkeypatch, capsys, *words, typed="heft\n\nnonsense here\ncandy\nsure\n")
    assert code == 0 and "heft: light" in out and "100 of 100" in out and "This one comes back" in out
    assert err.count("unknown-job") == 1
    with open_store(record) as store:
        (one,) = store.practised()
    assert (one.lesson, one.jobs, one.looks, one.sound) == (LIGHT, ("feed-candy",), ("heft-hive",), True)
    code, out, _ = run(monkeypatch, capsys, "--list", "--topic", "winter-checks", "--json", "--record", record)
    told = {row["lesson"]: row["practised"] for row in json.loads(out)["scenarios"]}
    assert told[LIGHT] == [one.marks] and len(told) >= 4
    code, out, _ = run(monkeypatch, capsys, "--progress", "--json", "--record", record)
    found = json.loads(out)
    assert found["topics"]["winter-checks"] == {"practised": 1, "met": 1, "mean": one.marks}
    assert found["next"]["lesson"] != LIGHT


@pytest.mark.parametrize("end", ["", "q\n", "\nQ\n", "\n1\nquit\n"])
def test_whoever_stops_keeps_what_was_finished_before(monkeypatch, capsys, tmp_path, end):
    record = str(tmp_path / "r.sqlite")
    before = Practised("p", "one", NOW, 50.0)
    with open_store(record) as store:
        store.add_practised([before])
    code, out, _ = run(monkeypatch, capsys, "--lesson", FROST, "--record", record, typed="heft\n" + end)
    assert code == 0 and "is not marked" in out and "of 100" not in out
    with open_store(record) as store:
        assert store.practised() == [before]


def test_a_question_mark_tells_what_a_look_or_job_is(monkeypatch, capsys):
    words = ("--lesson", FROST, "--unrecorded", "--quiet")
    code, out, err = run(
        monkeypatch, capsys, *words, typed="? heft the hive, give candy\n?\n? sing\n\n? 1, Supers, heft\nq\n"
    )
    assert code == 0 and "Heft the hive (2 minutes, from outside)" in out and "Give candy above the bees" in out
    assert "Heft the hive (2 minutes):" not in out  # it was not made
    assert err == "" and "'sing' is told under no name here" in out and out.count("'? 3'") == 2
    assert "super: a box for honey" in out and "heft: lift one side" in out and "compare with an empty hive" in out


def test_words_on_the_screen_are_told_and_no_names_of_the_inside(monkeypatch, capsys):
    asked = (
        "sealed jelly amitraz thymol formic varroa wash foulbrood patchy failing play-cups droppings deep thin-syrup"
    )
    words = ("--lesson", FROST, "--unrecorded", "--quiet")
    typed = "".join(f"? {one.replace('-', ' ')}\n" for one in asked.split()) + "? syrup\n? formic acid\n\nsyrup\nq\n"
    code, out, err = run(monkeypatch, capsys, *words, typed=typed)
    assert code == 0 and "told under no name" not in out
    for one in asked.split():
        assert f"  {one.replace('-', ' ')}: " in out
    assert "Feed thin syrup (" in out and "Feed thick syrup (" in out
    assert "which-job" in err and "'feed thin syrup'" in err and "feed-thin-syrup" not in out + err


def test_json_asks_and_marks(monkeypatch, capsys):
    code, out, _ = run(monkeypatch, capsys, "--lesson", EMPTY, "--json", "--unrecorded", "--look", "heft")
    asked = json.loads(out)
    assert code == 0 and len(asked["jobs"]) == NUMBERS.offered and asked["story"] and asked["looks"]
    words = ("--lesson", EMPTY, "--json", "--unrecorded", "--jobs", "feed-thick-syrup", "--sure", "100")
    code, out, _ = run(monkeypatch, capsys, *words)
    found = json.loads(out)
    assert found["marks"]["total"] == 100 and found["choices"][0]["place"] == 1 and found["comes_back"] is None
    assert found["choices"][0]["ahead"]["changes"] and found["read"][0]["cite"]


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["--topic", "foood"], "unknown-topic"),
        (["--climate", "borealis"], "unknown-climate"),
        (["--lesson", "nowhere"], "unknown-lesson"),
        (["--from", "no/such/folder"], "no-folder"),
        (["--lesson", EMPTY, "--jobs", "1,2,3,4"], "too-many-jobs"),
        (["--lesson", EMPTY, "--jobs", "1", "--sure", "very"], "bad-chance"),
    ],
)
def test_what_cannot_be_used_is_told(monkeypatch, capsys, words, code):
    found, out, err = run(monkeypatch, capsys, *words, "--unrecorded", "--json")
    assert found == 2 and out == "" and err.startswith(code)


def test_a_folder_of_ones_own_is_checked_and_practised_on(monkeypatch, capsys, tmp_path):
    shipped_file = content.root() / "scenarios" / "practice" / "robbing.cases.yaml"
    text = shipped_file.read_text(encoding="utf-8")
    own = tmp_path / "own.cases.yaml"
    own.write_text(text, encoding="utf-8")
    code, out, _ = run(monkeypatch, capsys, "--check", str(tmp_path))
    assert code == 0 and "3 of 3" in out
    own.write_text(text.replace("top: [stop-robbing, reduce-entrance]", "top: [take-honey]"), encoding="utf-8")
    code, out, _ = run(monkeypatch, capsys, "--check", str(tmp_path), "--json")
    assert code == 1 and json.loads(out)["failed"] == 1
    code, out, _ = run(monkeypatch, capsys, "--from", str(tmp_path), "--list", "--unrecorded")
    assert code == 0 and "wasps-at-every-door" in out

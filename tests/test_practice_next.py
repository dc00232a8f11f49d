"""Practice: what comes next, the averages, and the record of sittings."""

import datetime as dt

import pytest

from hiveweek import vocabulary
from hiveweek.cli.main import main
from hiveweek.numbers import shipped
from hiveweek.practice import lessons, spacing
from hiveweek.record.practised import Practised
from hiveweek.record.store import open_store
from hiveweek.show import practice as as_text

WORDS = vocabulary.load()
NUMBERS = shipped().branch("plan.practice")
NOW = dt.datetime(2026, 5, 1, 9, tzinfo=dt.UTC)


@pytest.fixture(scope="module")
def every():
    return lessons.load(WORDS)


# --- what comes next
def practised(lesson, marks, days_ago, k=0):
    return Practised(f"{lesson}-{days_ago}-{k}", lesson, NOW - dt.timedelta(days=days_ago), marks)


def test_what_was_known_comes_back_later_than_what_was_not(every):
    a, b, c = (lessons.lesson_of(one).id for one in every[:3])
    kept = spacing.cards([practised(a, 20, 1), practised(b, 80, 1), practised(c, 100, 1)], NUMBERS)
    assert NOW - dt.timedelta(days=1) < kept[a].due < kept[b].due < kept[c].due
    again = spacing.cards([practised(b, 80, 9), practised(b, 80, 1)], NUMBERS)
    assert again[b].due > kept[b].due  # known twice with days between: farther off


def test_due_ones_come_first_then_new_ones_of_the_weakest_topic(every):
    ids = [lessons.lesson_of(one).id for one in every]
    assert spacing.following(every, [practised(ids[3], 10, 30), practised(ids[9], 100, 0)], NOW, NUMBERS) is every[3]
    weak = next(one for one in every if lessons.lesson_of(one).topic == "queens")
    done = [practised(lessons.lesson_of(weak).id, 60, 0)] + [
        practised(lessons.lesson_of(one).id, 90, 0) for one in every if lessons.lesson_of(one).topic != "queens"
    ]
    upcoming = lessons.lesson_of(spacing.following(every, done, NOW, NUMBERS))
    assert upcoming.topic == "queens" and upcoming.id != lessons.lesson_of(weak).id
    seeded = {lessons.lesson_of(spacing.following(every, done, NOW, NUMBERS, seed)).id for seed in range(20)}
    assert len(seeded) > 1
    everything = [practised(id, 100, 0) for id in ids]
    assert spacing.following(every, everything, NOW, NUMBERS) in every


def test_a_topic_without_an_average_says_from_when_there_is_one():
    (line,) = as_text.progress_lines({"mites": spacing.Topic(1, 1, 40.0)}, {"mites": 4}, 8)
    assert str(line).endswith("an average is told from 8 sittings on")


# --- the record
def test_sittings_are_kept_exported_and_taken_back_in(tmp_path, capsys):
    record = tmp_path / "r.sqlite"
    one = Practised("p1", "some-lesson", NOW, 62.5, ("feed-candy",), ("heft-hive", "lid-check"), 0.7, True)
    two = Practised("p2", "some-lesson", NOW - dt.timedelta(hours=3), 100.0)
    with open_store(record) as store:
        assert store.add_practised([one, two]) == 2 and store.add_practised([one]) == 0
        assert store.practised() == [two, one] and store.check() == []
    for name in ("out.yaml", "out.csv"):
        out, other = tmp_path / name, tmp_path / f"{name}.sqlite"
        assert main(["record", "export", str(out), "--record", str(record)]) == 0
        with open_store(other):
            pass
        assert main(["record", "import", str(out), "--record", str(other)]) == 0
        with open_store(other) as store:
            assert store.practised() == [two, one]
    capsys.readouterr()


def test_a_record_of_the_first_version_is_migrated_and_a_copy_kept(tmp_path):
    import sqlite3

    from alembic import command
    from sqlalchemy import create_engine

    from hiveweek.record.store import migrate

    path = tmp_path / "old.sqlite"
    engine = create_engine(f"sqlite:///{path}")
    with engine.begin() as connection:
        command.upgrade(migrate._config(connection), "0001")
    engine.dispose()
    with open_store(path) as store:
        assert store.practised() == [] and store.check() == []
        store.add_practised([Practised("p", "one", NOW, 50.0)])
    (copy,) = tmp_path.glob("old.sqlite.before-*")
    with sqlite3.connect(copy) as kept:
        assert kept.execute("SELECT version_num FROM alembic_version").fetchall() == [("0001",)]

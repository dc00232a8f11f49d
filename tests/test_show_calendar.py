"""The calendar file, opened by a second library: one event a thing, its days, an alarm; imported again it moves and never doubles."""

import datetime as dt

import pytest
import vobject
from plan_kit import TODAY, Book, words

from hiveweek.cli.main import main
from hiveweek.plan.model import Look
from hiveweek.plan.rounds import plan_round, work
from hiveweek.record.courses import Running
from hiveweek.show import calendar

DAY = dt.timedelta(days=1)


def _plan(today=TODAY, hive="Ash"):
    book = Book()
    book.rule("f.candy", "food.days_left < 9", "feed-candy", gain=35, by=3, because='Food, "4 days"; so; act\nnow.')
    book.rule("w.wasps", "colony.wasps == many", "control-wasps", gain=3, by=4, because="Wasps.")
    known = {"colony.alive": True, "food.days_left": 4.0, "weather.open_high_c": 20.0, "colony.wasps": "many"}
    plan = book.plan({hive: known, "Elm": {"colony.alive": True, "weather.open_high_c": 20.0}}, today, name="Mill Lane")
    course = next(course for course in words().courses.values() if course.out is not None and course.doses)
    form = next(iter(course.forms))
    plan.hives[0].courses = [Running(course.active, form, course, today - 3 * DAY)]
    plan.hives[1].look_first = [Look("check-entrance", ["colony.flight"], "Stand aside.", 3.0, [], by=today + 5 * DAY)]
    return plan


def _read(plan, today=TODAY):
    found = plan_round([work(plan, words())], words())
    made = [*calendar.visits(found, words()), *calendar.entries(plan, words())]
    return list(vobject.readOne(calendar.text(made, today).decode()).vevent_list)


def test_another_library_reads_visits_deadlines_steps_and_looks():
    plan = _plan()
    events = _read(plan)
    said = {event.summary.value: event for event in events}
    assert said["Ash: give candy above the bees"].dtstart.value == TODAY + 3 * DAY
    assert said["Mill Lane: trap wasps"].dtstart.value == TODAY + 4 * DAY
    assert said["Elm: look at the entrance"].dtstart.value == TODAY + 5 * DAY
    assert 'Food, "4 days"; so; act now.' in said["Ash: give candy above the bees"].description.value
    (course,) = plan.hives[0].courses
    for step in course.steps():
        # the end of whole days is the day after (RFC 5545, 3.6.1)
        days = (step.first, step.last + DAY)
        assert days in [(e.dtstart.value, e.dtend.value) for e in events if e.categories.value == ["course"]]
    assert any(event.categories.value == ["visit"] and event.dtstart.value == TODAY for event in events)
    assert all(event.valarm.action.value == "DISPLAY" for event in events)


def test_imported_again_it_moves_and_never_doubles():
    first, again = _read(_plan()), _read(_plan(TODAY + DAY), TODAY + DAY)
    ids = {event.summary.value: event.uid.value for event in first}
    assert len(set(ids.values())) == len(first)
    later = {event.summary.value: event.uid.value for event in again}
    for title in ("Ash: give candy above the bees", "Mill Lane: trap wasps", "Elm: look at the entrance"):
        assert ids[title] == later[title]
    assert int(again[0].sequence.value) > int(first[0].sequence.value)
    assert {e.uid.value for e in first if e.categories.value == ["visit"]} == {
        e.uid.value for e in again if e.categories.value == ["visit"]
    }
    other = {event.uid.value for event in _read(_plan(hive="Oak")) if event.summary.value.startswith("Oak")}
    assert other and not other & set(ids.values())


def test_the_same_plan_gives_the_same_bytes_and_a_thing_stands_once():
    made = calendar.entries(_plan(), words())
    text = calendar.text([*made, *made], TODAY)
    assert text == calendar.text(made, TODAY)
    assert max(len(line) for line in text.split(b"\r\n")) <= 75  # RFC 5545, 3.1


@pytest.mark.parametrize("place", ["no/such/folder/week.ics"])
def test_it_is_written_whole_or_not_at_all(capsys, tmp_path, place):
    out = tmp_path / "week.ics"
    assert main(["week", "--offline", "--calendar", str(out)]) == 0
    events = list(vobject.readOne(out.read_text(encoding="utf-8")).vevent_list)
    assert len(events) > 10 and len({event.uid.value for event in events}) == len(events)
    assert main(["week", "--offline", "--calendar", str(tmp_path / place)]) == 2
    assert "cannot-write" in capsys.readouterr().err and list(tmp_path.iterdir()) == [out]

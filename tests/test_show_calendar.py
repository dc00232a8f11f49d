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


def _course_plan(today, **known):
    facts = {f"mites.{name}": value for name, value in known.items()}
    return Book().plan({"Ash": {"colony.alive": True, **facts}}, today, name="Mill Lane")


STRIPS = {"last_active": "amitraz", "form": "strip"}


def _days(plan, today):
    return {e.uid.value: (e.summary.value, e.dtstart.value, e.dtend.value - DAY) for e in _read(plan, today)}


def test_counting_again_and_the_end_of_the_waiting_time_stand_in_it_while_a_course_runs_and_when_it_has_ended():
    """Amitraz strips: out on day 42 to 56, mites counted 7 to 14 days after, supers 14 days after (US label)."""
    now = _days(_course_plan(TODAY, in_hive="amitraz", form="strip", days_in_hive=40.0), TODAY)
    went_in = TODAY - 40 * DAY
    said = {title: days for title, *days in now.values()}
    assert said["Ash: count mites again: did it work?"] == [went_in + 49 * DAY, went_in + 70 * DAY]
    assert said["Ash: supers may go on again, if the label agrees"] == [went_in + 56 * DAY] * 2
    later = TODAY + 6 * DAY  # they came out three days ago: the same events move to days that are now known
    then = _days(_course_plan(later, **STRIPS, treated_days_ago=3.0), later)
    end = TODAY + 3 * DAY
    assert set(then) < set(now)
    assert {title: days for title, *days in then.values()} == {
        "Ash: count mites again: did it work?": [end + 7 * DAY, end + 14 * DAY],
        "Ash: supers may go on again, if the label agrees": [end + 14 * DAY] * 2,
    }


@pytest.mark.parametrize(
    ("ago", "counted", "left"), [(10, 4, 1), (10, 10, 1), (10, 30, 2), (14, None, 2), (15, None, 0)]
)
def test_what_was_counted_since_or_is_over_is_left_out(ago, counted, left):
    more = {} if counted is None else {"days_since_count": float(counted)}
    plan = _course_plan(TODAY, **STRIPS, treated_days_ago=float(ago), **more)
    assert len(plan.hives[0].after) == left


def test_a_job_that_is_the_step_after_a_course_is_the_same_event():
    book = Book()
    book.rule("m.check", "course.days_to_count < 1", "check-treatment-worked", gain=5, by=9)
    known = {
        "colony.alive": True,
        "weather.open_high_c": 20.0,
        "mites.treated_days_ago": 3.0,
        "course.days_to_count": 0.0,
    }
    due = book.plan({"Ash": {**known, **{f"mites.{name}": value for name, value in STRIPS.items()}}}, name="Mill Lane")
    (event,) = [
        event for event in _read(due) if event.summary.value.startswith("Ash: ") and "treat" in event.summary.value
    ]
    ahead = _days(_course_plan(TODAY, **STRIPS, treated_days_ago=3.0), TODAY)
    assert ahead[event.uid.value][0].endswith("did it work?")


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

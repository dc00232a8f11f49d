"""A keeper's round: every job once, by its deadline, within a person's day, suspected hives last, kit counted."""

import datetime as dt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plan_kit import TODAY, Book, words

from hiveweek.plan.rounds import amount_of, kit_of, merged, plan_round, work
from hiveweek.plan.stops import Stop, Task, Work
from hiveweek.texts.parts import Quantity, Text, message

DAY_MINUTES = 240.0
KIT = frozenset(words().kit)


def task(action="heft-hive", minutes=10.0, opens="nothing", by=None, points=1.0, rank=1, **more):
    return Task(action, minutes, opens, None if by is None else TODAY + dt.timedelta(days=by), points, rank, **more)


def stop(hive, *tasks, fit=False, clean=False, place=1):
    return Stop(hive, tasks, sum(one.minutes for one in tasks), fit, clean, place)


def yard(*stops, name="Yard", fit_days=None, home=(), kit=KIT):
    return Work(name, TODAY, stops, home, fit_days, DAY_MINUTES, 0.5, kit)


def days_of(found):
    return {(visit.apiary, stop.hive): day.date for day in found.days for visit in day.visits for stop in visit.stops}


STOPS = st.lists(
    st.tuples(
        st.integers(1, 130),
        st.sampled_from(["nothing", "lid", "frames"]),
        st.none() | st.integers(-30, 20),
        st.booleans(),
        st.integers(0, 50),
    ),
    max_size=25,
)
FIT = st.none() | st.sets(st.integers(0, 6)).map(lambda days: tuple(TODAY + dt.timedelta(days=d) for d in sorted(days)))


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(STOPS, FIT), min_size=1, max_size=3))
def test_every_stop_is_on_one_day_or_left_and_a_day_holds_what_a_person_can_do(yards):
    works = []
    for number, (rows, fit_days) in enumerate(yards):
        stops = [
            stop(
                f"H{k}",
                task(minutes=m, opens=opens, by=by, points=points),
                fit=opens != "nothing",
                clean=clean,
                place=k,
            )
            for k, (m, opens, by, clean, points) in enumerate(rows)
        ]
        works.append(yard(*stops, name=f"Y{number}", fit_days=fit_days))
    found = plan_round(works, words())
    asked = sorted((one.name, stop.hive) for one in works for stop in one.stops)
    placed = [(v.apiary, s.hive) for day in found.days for v in day.visits for s in v.stops]
    assert sorted([*placed, *((name, s.hive) for name, s in found.left)]) == asked
    fit_of = {one.name: one.fit_days for one in works}
    for day in found.days:
        stops = [stop for visit in day.visits for stop in visit.stops]
        assert len(stops) == 1 or sum(stop.minutes for stop in stops) <= DAY_MINUTES + 1e-6
        for visit in day.visits:
            for one in visit.stops:
                fits = fit_of[visit.apiary] is None or day.date in fit_of[visit.apiary]
                assert not one.fit or fits or (one.by is not None and day.date <= max(one.by, TODAY))


def test_what_is_due_first_goes_first_and_what_is_late_counts_as_today():
    found = plan_round(
        [
            yard(
                stop("Late", task(minutes=200, by=-20, points=1), place=1),
                stop("Hungry", task(minutes=200, by=0, points=50), place=2),
                stop("Soon", task(minutes=200, by=3, points=90), place=3),
            )
        ],
        words(),
    )
    days = days_of(found)
    assert [days["Yard", hive] for hive in ("Hungry", "Late", "Soon")] == [
        TODAY + dt.timedelta(days=ahead) for ahead in (0, 1, 2)
    ]


def test_opening_waits_for_a_fit_day_unless_its_deadline_comes_before():
    fit_days = (TODAY + dt.timedelta(days=4),)
    stops = [
        stop("Waits", task("full-inspection", 20, "frames", by=9), fit=True, place=1),
        stop("Cannot", task("feed-thin-syrup", 10, "lid", by=1), fit=True, place=2),
        stop("Outside", task("heft-hive", 2, by=9), place=3),
    ]
    found = plan_round([yard(*stops, fit_days=fit_days)], words())
    days = days_of(found)
    assert days["Yard", "Waits"] == fit_days[0] and days["Yard", "Cannot"] == TODAY == days["Yard", "Outside"]
    assert {day.date: day.fit for day in found.days} == {TODAY: False, fit_days[0]: True}
    nowhere = plan_round([yard(stops[0], fit_days=())], words())
    assert [stop.hive for _, stop in nowhere.left] == ["Waits"] and nowhere.days == ()


def test_a_day_is_fit_only_where_each_apiary_that_is_opened_has_its_weather():
    now, later = TODAY, TODAY + dt.timedelta(days=3)
    due = task("full-inspection", 20, "frames", by=0)
    one, other = stop("Here", due, fit=True), stop("There", due, fit=True)
    for here, there, fit in (((now,), (later,), False), ((now,), (now,), True), ((now,), None, None)):
        found = plan_round([yard(one, name="A", fit_days=here), yard(other, name="B", fit_days=there)], words())
        assert [day.fit for day in found.days] == [fit], (here, there)


def test_suspected_hives_and_apiaries_come_last():
    sick = yard(stop("Sick", task(opens="frames", by=0), clean=True, place=2), stop("Well", task(by=0)), name="One")
    found = plan_round([sick, yard(stop("Far", task(by=0)), name="Two")], words())
    assert [visit.apiary for visit in found.days[0].visits] == ["Two", "One"]
    assert [stop.hive for stop in found.days[0].visits[1].stops] == ["Well", "Sick"]


def test_a_second_job_in_one_opening_takes_part_of_its_time():
    jobs = [task("count-mites", 15, "frames"), task("full-inspection", 20, "frames"), task("heft-hive", 2)]
    (one,) = merged([stop("A", *jobs[:1]), stop("A", *jobs[1:])], 0.5)
    assert one.minutes == 2 + 20 + 7.5


def test_kit_is_counted_by_hives_and_measured_by_amounts():
    stops = [
        stop("A", task("feed-candy", amount=(1.0, "kg"))),
        stop("B", task("feed-candy", amount=(1.0, "kg"))),
        stop("C", task("feed-candy"), task("fit-mouse-guard")),
    ]
    kit = {item.item: item for item in kit_of(stops, KIT - {"veil"}, words())}
    assert (kit["candy"].hives, kit["candy"].amounts, kit["candy"].unit) == (3, (1.0, 1.0), "kg")
    assert kit["mouse_guard"].hives == 1 and "veil" not in kit


def test_sugar_is_that_of_the_syrup():
    """Two to one by weight at a density of 1.33 kg a litre: 10 L hold 10 x 1.33 x 2/3 = 8.87 kg of sugar."""
    book = Book()
    book.rule("f.thick", "food.days_left < 9", "feed-thick-syrup", gain=30, by=0, amount="{food.litres_that_fit}")
    known = {"food.days_left": 3.0, "food.litres_that_fit": 10.0, "weather.open_high_c": 20.0, "colony.alive": True}
    plan = book.plan({"A": known, "B": known})
    found = plan_round([work(plan, words())], words())
    assert found.totals == (("feed-thick-syrup", 20.0, "L"),)
    assert found.sugar_kg == pytest.approx(2 * 10 * 1.33 * 2 / 3, abs=0.1)


def test_an_amount_is_the_number_that_it_begins_with():
    assert amount_of(Text((Quantity(4, "litres"), " in all"))) == (4, "L")
    assert amount_of(message("not-known")) is None and amount_of(None) is None
    assert amount_of(Text(("half a litre to ", Quantity(1, "L")))) is None


def test_every_job_of_the_week_is_in_the_round_once():
    book = Book()
    book.rule("a.count", "colony.alive", "count-mites", by=2)
    book.rule("b.heft", "colony.alive", "heft-hive", by=0)
    book.rule("c.ripen", "colony.alive", "let-honey-ripen", by=9)
    book.rule("d.order", "colony.alive", "order-queen", by=0)
    plan = book.plan({hive: {"colony.alive": True, "weather.open_high_c": 20.0} for hive in "ABC"})
    found = plan_round([work(plan, words())], words())
    placed = [(s.hive, t.action) for day in found.days for v in day.visits for s in v.stops for t in s.tasks]
    asked = [(hive.id, one.action) for hive in plan.hives for one in hive.advice]
    home = [(hive, one.action) for _, hive, one in found.home]
    assert sorted(placed + home) == sorted(pair for pair in asked if pair[1] != "let-honey-ripen")
    assert {action for _, action in home} == {"order-queen"}

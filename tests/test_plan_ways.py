"""The way of a round: distances on the sphere, the shortest order, how far a day reaches."""

import math
from itertools import pairwise, permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plan_kit import TODAY, Book, words

from hiveweek.plan.rounds import plan_round, work
from hiveweek.plan.stops import Stop, Task, Work
from hiveweek.plan.ways import EARTH_KM, Roads, Site, great_circle_km, ordered
from hiveweek.show import round_text
from hiveweek.texts.speaker import METRIC

ROADS = Roads(1.3, 45.0)
POINTS = st.tuples(st.floats(-89, 89), st.floats(-180, 180))


def test_distances_are_those_of_the_sphere():
    """A quarter of a meridian, half a great circle, a degree of the equator and one of the 60th parallel."""
    for one, other, share in (((0, 0), (90, 0), 1 / 4), ((0, 0), (0, 180), 1 / 2), ((0, 10), (0, 11), 1 / 360)):
        assert great_circle_km(one, other) == pytest.approx(2 * math.pi * EARTH_KM * share)
    assert great_circle_km((60, 0), (60, 1)) == pytest.approx(2 * math.pi * EARTH_KM / 720, rel=1e-4)


@settings(deadline=None, max_examples=60)
@given(POINTS, POINTS)
def test_distances_agree_with_the_angle_between_two_directions(one, other):
    def direction(point):
        north, east = map(math.radians, point)
        return math.cos(north) * math.cos(east), math.cos(north) * math.sin(east), math.sin(north)

    a, b = direction(one), direction(other)
    cross = math.hypot(a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])
    angle = math.atan2(cross, sum(x * y for x, y in zip(a, b, strict=True)))
    assert great_circle_km(one, other) == pytest.approx(EARTH_KM * angle, abs=1e-3)


@settings(deadline=None, max_examples=30)
@given(st.lists(st.tuples(st.floats(49, 51), st.floats(9, 11)), min_size=1, max_size=5), st.sets(st.integers(0, 4)))
def test_the_order_is_the_shortest_with_those_under_suspicion_last(points, late):
    sites = [Site(point, 10.0 + 5 * k) for k, point in enumerate(points)]

    def length(order):
        legs = sum(ROADS.minutes(sites[a], sites[b]) for a, b in pairwise(order))
        return legs + sites[order[0]].from_home + sites[order[-1]].from_home

    found = ordered(range(len(points)), lambda number: number in late, sites, ROADS)
    assert sorted(found) == list(range(len(points)))
    assert [number in late for number in found] == sorted(number in late for number in found)
    if not late & set(found):
        assert length(found) == pytest.approx(min(map(length, permutations(range(len(points))))))


def test_many_apiaries_are_driven_to_one_after_the_other_and_unknown_places_stay_as_they_are():
    line = [Site((50.0, 10 + 0.1 * k), 5.0 + k) for k in (3, 0, 5, 1, 7, 2, 4, 6)]
    assert ordered(range(8), lambda number: False, line, ROADS) == [1, 3, 5, 0, 6, 2, 7, 4]
    assert ordered([2, 0, 1], lambda number: False, [Site()] * 3, ROADS) == [2, 0, 1]


def _work(name, *, minutes=60.0, at=None, from_home=None, clean=False):
    task = Task("full-inspection", minutes, "frames", TODAY, 5.0)
    stop = Stop(f"{name}1", (task,), minutes, False, clean, 1)
    return Work(name, TODAY, (stop,), (), None, 240.0, 0.5, frozenset(words().kit), Site(at, from_home), ROADS, 480.0)


def _names(found):
    return [[visit.apiary for visit in day.visits] for day in found.days]


def test_a_day_says_the_way_and_goes_no_farther_than_a_person_is_away():
    near = [_work("A", at=(50.0, 10.0), from_home=20), _work("C", at=(50.0, 10.4)), _work("B", at=(50.0, 10.2))]
    (day,) = plan_round(near, words()).days
    assert [visit.apiary for visit in day.visits] == ["A", "B", "C"] and day.visits[0].way == 20
    leg = great_circle_km((50.0, 10.0), (50.0, 10.2)) * 1.3 / 45 * 60
    assert [visit.way for visit in day.visits[1:]] == [round(leg)] * 2 and day.way == 20 + 2 * round(leg)
    far = [_work("A", at=(50.0, 10.0)), _work("Far", at=(50.0, 14.0))]  # 286 km apart: over six hours by these roads
    assert _names(plan_round(far, words())) == [["A"], ["Far"]]
    assert _names(plan_round([_work("A"), _work("Far")], words())) == [["A", "Far"]]  # nothing is known of the way


def test_the_way_is_said_and_so_is_what_is_not_known_of_it():
    known = plan_round([_work("A", at=(50.0, 10.0), from_home=20), _work("B", at=(50.0, 10.2))], words())
    said = METRIC.say(round_text.day_title(known.days[0]))
    assert said.endswith("about 2 hours and 45 minutes on the road")
    assert (
        METRIC.say(round_text.visit_title(known.days[0].visits[1])) == "B, about 1 hour, 25 minutes on the road to it"
    )
    assert round_text.unknown_way(known) == []
    (text,) = round_text.unknown_way(plan_round([_work("A"), _work("B")], words()))
    assert METRIC.say(text).startswith("The way between A and B is not known")


def test_a_plan_knows_where_its_apiary_stands_and_what_the_keeper_says_of_the_way():
    book = Book()
    book.rule("b.heft", "colony.alive", "heft-hive", by=0)
    plan = book.plan({"A": {"colony.alive": True, "site.minutes_from_home": 35.0}})
    assert work(plan, words()).site == Site(None, 35.0)
    assert plan_round([work(plan, words())], words()).days[0].way == 70

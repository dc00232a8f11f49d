"""The way of a round: how far and how long it is from home and from one apiary to the next, and in which order to drive."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise, permutations

from hiveweek.numbers import Numbers

EARTH_KM = 6371.0088  # mean radius R1 of GRS 80 (IUGG)
MOST_TRIED = 7  # stops of which every order is tried; with more the nearest is next


@dataclass(frozen=True)
class Site:
    """Where an apiary stands.

    Attributes
    ----------
    at : (float, float) or None
        Degrees north and east.
    from_home : float or None
        Minutes on the road from the keeper's home, as he says.
    """

    at: tuple[float, float] | None = None
    from_home: float | None = None


@dataclass(frozen=True)
class Roads:
    """How a straight line becomes a drive (numbers of ``plan.visits``)."""

    share: float
    kmh: float

    @classmethod
    def of(cls, numbers: Numbers) -> Roads:
        """Return them as the place and its overlays have moved them."""
        found = numbers.branch("plan.visits")
        return cls(found.road_share, found.road_kmh)

    def minutes(self, one: Site, other: Site) -> float | None:
        """Return the minutes between two apiaries; None where the place of one is not known."""
        if one.at is None or other.at is None:
            return None
        return great_circle_km(one.at, other.at) * self.share / self.kmh * 60


def great_circle_km(one: tuple[float, float], other: tuple[float, float]) -> float:
    """Return the distance of two points on a sphere of the earth's mean radius, by the haversine formula.

    Parameters
    ----------
    one, other : (float, float)
        Degrees north and east.
    """
    (north, east), (to_north, to_east) = (tuple(map(math.radians, point)) for point in (one, other))
    half = math.sin((to_north - north) / 2) ** 2
    half += math.cos(north) * math.cos(to_north) * math.sin((to_east - east) / 2) ** 2
    return 2 * EARTH_KM * math.asin(math.sqrt(min(half, 1.0)))


def ordered(numbers: Sequence[int], last: Callable[[int], bool], sites: Sequence[Site], roads: Roads) -> list[int]:
    """Return apiaries in the order with the shortest way, those that come ``last`` after all others.

    Where nothing is known of the way they stay as they are.
    """
    found: list[int] = []
    for late in (False, True):
        group = [number for number in numbers if last(number) is late]
        found += _shortest(group, found[-1] if found else None, sites, roads)
    return found


def _shortest(group: list[int], start: int | None, sites: Sequence[Site], roads: Roads) -> list[int]:
    def length(order: Iterable[int]) -> float:
        way = list(order)
        legs = [roads.minutes(sites[one], sites[other]) or 0.0 for one, other in pairwise(way)]
        out = sites[way[0]].from_home if start is None else roads.minutes(sites[start], sites[way[0]])
        return sum(legs) + (out or 0.0) + (sites[way[-1]].from_home or 0.0)

    if len(group) < 2:
        return group
    if len(group) <= MOST_TRIED:
        return list(min(permutations(group), key=lambda order: round(length(order), 6)))
    left, found = list(group), []
    here = start
    while left:
        near = here
        following = min(left, key=lambda one: _from(near, one, sites, roads))
        left.remove(following)
        found.append(following)
        here = following
    return found


def _from(here: int | None, there: int, sites: Sequence[Site], roads: Roads) -> float:
    """Minutes from an apiary, or from home; 0 where they are not known."""
    found = sites[there].from_home if here is None else roads.minutes(sites[here], sites[there])
    return found or 0.0


def added(to: int, there: Iterable[int], sites: Sequence[Site], roads: Roads) -> float:
    """Return the minutes that an apiary adds to a day at least: there and back from home, or from the nearest of that day."""
    legs = [roads.minutes(sites[one], sites[to]) for one in there if one != to]
    known = [leg for leg in legs if leg is not None]
    if known:
        return min(known)
    return 0.0 if legs else 2 * (sites[to].from_home or 0.0)

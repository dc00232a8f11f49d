"""The phases of the beekeeping year, each starting where an event lies and ending where the next starts."""

from __future__ import annotations

from collections.abc import Mapping

from hiveweek.climate import events as ev
from hiveweek.climate.smooth import DAYS
from hiveweek.numbers.store import Branch

PHASES = (
    "winter_cluster",
    "late_winter",
    "early_build_up",
    "build_up",
    "swarm_season",
    "main_flow",
    "dearth",
    "late_summer",
    "autumn",
    "early_winter",
    "mild_winter",
)


def local_phases(found: Mapping[str, ev.Point | ev.Span | None], numbers: Branch) -> list[tuple[str, int]]:
    """Return the phases in order with the local day each begins on.

    Parameters
    ----------
    found : dict
        Events of `events.find`, in days after the coldest day.
    numbers : Branch
        ``season.*``.

    Returns
    -------
    list of (phase, int)
        Strictly rising days within one year of 365; a phase squeezed to nothing by its neighbours is left
        out, so that the phases share out the year without gap or overlap.
    """
    day = {
        name: item.start if isinstance(item, ev.Span) else item.day for name, item in found.items() if item is not None
    }
    starts: list[tuple[str, float]] = []
    if "cold_start" not in day:
        first = -numbers.autumn.mild_winter_half_days
        starts += [("mild_winter", first), ("early_build_up", day["spring_build_up_start"])]
        starts += [("build_up", day["spring_build_up_start"] + numbers.spring.build_up_days)]
    else:
        first = day["broodless_start"] - DAYS
        starts += [
            ("winter_cluster", first),
            ("late_winter", day["broodless_end"]),
            ("early_build_up", day["first_pollen"]),
            ("build_up", day["spring_build_up_start"]),
        ]
    starts += [("swarm_season", day["swarm_season_start"]), ("main_flow", day["main_flow_start"])]
    end_of_flow = day["main_flow_end"]
    dearth = found["summer_dearth"]
    if isinstance(dearth, ev.Span):
        starts += [("dearth", dearth.start)]
        end_of_flow = dearth.end
    if "cold_start" not in day and "second_flow_start" in day:
        starts += [("main_flow", day["second_flow_start"])]
        end_of_flow = day["second_flow_end"]
    starts += [("late_summer", end_of_flow)]
    if "cold_start" not in day:
        starts += [("autumn", DAYS + first - numbers.autumn.late_summer_autumn_days)]
    else:
        starts += [
            ("autumn", day["cold_start"] - numbers.autumn.late_summer_autumn_days),
            ("early_winter", day["cold_start"]),
        ]
    return _in_order(starts, first)


def _in_order(starts: list[tuple[str, float]], first: float) -> list[tuple[str, int]]:
    """Round to days, make each start no earlier than the one before and end the year where it began."""
    begin = round(first)
    days, latest = [], begin
    for name, day in starts:
        latest = min(max(latest, round(day)), begin + DAYS)
        days.append((name, latest))
    kept = [
        (name, day)
        for i, (name, day) in enumerate(days)
        if day < (days[i + 1][1] if i + 1 < len(days) else begin + DAYS)
    ]
    return kept

"""Set the computed calendar against published dates and write the comparison.

Run ``python -m upkeep.calendar_check`` in a checkout: it reads ``docs/climate-calendar.yaml``
(published dates) and ``docs/climate-stations/`` (normals of stations that are no profile) and writes
``docs/climate-calendar.md``.
"""

from __future__ import annotations

import datetime as dt
import sys
from dataclasses import dataclass
from pathlib import Path

from hiveweek import content, shapes
from hiveweek.climate.profiles import Profile, load_profile, profile_ids

YEAR = 2025
NEAR = 14
KINDS = ("temperature", "flow")


@dataclass(frozen=True)
class Row:
    """One published date and what the calendar gives.

    Attributes
    ----------
    off : int or None
        Days of the computed date outside the published window: positive late, negative early, 0 inside; None
        where the calendar has no such event.
    """

    place: str
    station: str
    event: str
    kind: str
    words: str
    source: str
    window: tuple[str, str]
    computed: str | None
    off: int | None

    @property
    def near(self) -> bool:
        """Whether the computed date lies within 14 days of the published window."""
        return self.off is not None and abs(self.off) <= NEAR


def compare(root: Path | None = None) -> list[Row]:
    """Return every published date with the computed one."""
    root = root or content.root() / "docs"
    listed = shapes.read(root / "climate-calendar.yaml", "climate_calendar").data["checks"]
    profiles: dict[str, Profile] = {}
    rows = []
    for check in listed:
        station = check["station"]
        if station not in profiles:
            shipped = station in profile_ids()
            profiles[station] = load_profile(station if shipped else str(root / "climate-stations" / f"{station}.yaml"))
        computed = _computed(profiles[station], check["event"], check.get("edge"))
        off = None if computed is None else days_outside(computed, *check["window"])
        rows.append(
            Row(
                check["place"],
                station,
                check["event"],
                check["kind"],
                check["words"],
                str(check["source"]),
                tuple(check["window"]),
                None if computed is None else computed.strftime("%m-%d"),
                off,
            )
        )
    return rows


def _computed(profile: Profile, event: str, edge: str | None) -> dt.date | None:
    near = dt.date(YEAR, 7, 1)
    if edge is None:
        return profile.calendar.event_date(event, near)
    span = profile.calendar.events[event]
    if span is None:
        return None
    return dt.date.fromisoformat(f"{YEAR}-{span[0] if edge == 'start' else span[1]}")


def days_outside(date: dt.date, start: str, end: str) -> int:
    """Return by how many days a date lies outside a yearly window ``MM-DD`` to ``MM-DD``: late positive, early negative."""
    best: int | None = None
    for year in (date.year - 1, date.year, date.year + 1):
        first, last = (dt.date.fromisoformat(f"{year}-{day}") for day in (start, end))
        if first <= date <= last:
            return 0
        off = (date - last).days if date > last else (date - first).days
        if best is None or abs(off) < abs(best):
            best = off
    assert best is not None
    return best


def shares(rows: list[Row]) -> dict[str, tuple[int, int]]:
    """Return for each kind of event how many dates lie within 14 days of the published window, and how many there are."""
    return {kind: (sum(r.near for r in rows if r.kind == kind), sum(r.kind == kind for r in rows)) for kind in KINDS}


def report(rows: list[Row], reasons: dict[tuple[str, str], str]) -> str:
    """Write the comparison as Markdown."""
    counts = shares(rows)
    lines = [
        "# The calendar against published dates",
        "",
        "Written by `python -m upkeep.calendar_check`; the published dates stand in `climate-calendar.yaml`.",
        "",
        '"Off" counts the days by which the computed date lies outside the published words (a month named alone counts as',
        "the whole month; early, mid and late are its thirds). Positive is late.",
        "",
        "The same publications were read when the global limits were chosen, so this shows that one set of limits holds from",
        "Alaska to New Zealand. It does not show how well the calendar does in a place nobody has written about. Stations are",
        "the nearest at hand, some of them 200 km from the place or in other hills; years differ by a week or two.",
        "",
    ]
    for kind in KINDS:
        good, all_ = counts[kind]
        lines.append(f"- {kind}: {good} of {all_} within {NEAR} days ({100 * good / all_:.0f} %)")
    for kind in KINDS:
        lines += [
            "",
            f"## {kind.capitalize()}",
            "",
            "| place | station | event | published | computed | off | source |",
            "|---|---|---|---|---|---|---|",
        ]
        for row in rows:
            if row.kind == kind:
                off = "none here" if row.off is None else f"{row.off:+d}" if row.off else "0"
                lines.append(
                    f"| {row.place} | {row.station} | {row.event} | {row.words} | {row.computed or '-'} | {off} | {row.source} |"
                )
    lines += ["", f"## Why some are more than {NEAR} days off", ""]
    for row in rows:
        if not row.near:
            reason = reasons.get((row.place, row.event), "")
            lines.append(
                f"- {row.place}, {row.event}" + (f" ({row.off:+d} days)" if row.off is not None else "") + f": {reason}"
            )
    return "\n".join(lines) + "\n"


def main() -> int:
    """Write ``docs/climate-calendar.md`` and print the shares."""
    root = content.root() / "docs"
    if not (root / "climate-calendar.yaml").exists():
        print("the published dates are not here; run this in a checkout", file=sys.stderr)
        return 2
    rows = compare(root)
    document = shapes.read(root / "climate-calendar.yaml", "climate_calendar").data
    reasons = {(item["place"], item["event"]): item["because"] for item in document.get("reasons", [])}
    (root / "climate-calendar.md").write_text(report(rows, reasons), encoding="utf-8")
    for kind, (good, all_) in shares(rows).items():
        print(f"{kind}: {good} of {all_} within {NEAR} days")
    return 0


if __name__ == "__main__":
    sys.exit(main())

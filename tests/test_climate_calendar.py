"""The calendar against published dates (docs/climate-calendar.yaml names place, words and source of each)."""

from __future__ import annotations

import datetime as dt

from hiveweek import content, vocabulary
from hiveweek.climate.events import EVENT_IDS
from hiveweek.shapes import marked_yaml
from upkeep import calendar_check

ROWS = calendar_check.compare()
LISTED = marked_yaml.read(content.root() / "docs" / "climate-calendar.yaml")


def test_the_table_is_well_formed():
    assert LISTED.problems == []
    known = vocabulary.load().sources
    for check in LISTED.data["checks"]:
        assert check["event"] in EVENT_IDS and check["kind"] in calendar_check.KINDS
        assert str(check["source"]) in known, check["source"]
        assert check["words"]
        for day in check["window"]:
            dt.date.fromisoformat(f"2025-{day}")
    assert len(ROWS) >= 90
    assert len({row.place for row in ROWS}) >= 20 and len({row.station for row in ROWS}) >= 15


def test_share_of_temperature_dates_within_two_weeks():
    near, all_ = calendar_check.shares(ROWS)["temperature"]
    assert near / all_ >= 0.85, f"{near} of {all_}"


def test_share_of_flow_dates_within_two_weeks():
    near, all_ = calendar_check.shares(ROWS)["flow"]
    assert near / all_ >= 0.60, f"{near} of {all_}"


def test_every_miss_has_a_reason():
    reasons = {(item["place"], item["event"]) for item in LISTED.data["reasons"]}
    assert {(r.place, r.event) for r in ROWS if not r.near} <= reasons


def test_the_written_table_is_up_to_date():
    reasons = {(item["place"], item["event"]): item["because"] for item in LISTED.data["reasons"]}
    written = (content.root() / "docs" / "climate-calendar.md").read_text(encoding="utf-8")
    assert written == calendar_check.report(ROWS, reasons)


def test_days_outside_a_window():
    assert calendar_check.days_outside(dt.date(2025, 6, 5), "06-01", "06-10") == 0
    assert calendar_check.days_outside(dt.date(2025, 6, 13), "06-01", "06-10") == 3
    assert calendar_check.days_outside(dt.date(2025, 5, 30), "06-01", "06-10") == -2
    assert calendar_check.days_outside(dt.date(2025, 12, 30), "01-02", "01-10") == -3

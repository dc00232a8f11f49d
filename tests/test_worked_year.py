"""The worked year of the manual: its page is what the program answers, and what matters on its days stands beside published advice.

Cool continental, Munich. The sources at each check are those of ``rulesets/vocabulary/sources.yaml``, or the tables in the references
that the project's numbers were read from.
"""

import datetime as dt
from pathlib import Path

import pytest

from hiveweek import content
from upkeep import worked_year

pytestmark = pytest.mark.long

FEEDS = {"feed-candy", "feed-dry-sugar", "feed-thin-syrup", "feed-thick-syrup", "give-honey-frames"}
FRAMES_OUT = {"full-inspection", "first-spring-inspection", "swarm-inspection", "count-mites", "add-brood-box"}


class Days:
    def __init__(self, days):
        self.days = days
        self.by_day = {day.day.isoformat(): day for day in days}

    def jobs(self, day, hive):
        return {advice["action"]: advice for advice in self.by_day[day].hives[hive]["advice"]}

    def due(self, day, hive, action):
        return dt.date.fromisoformat(self.jobs(day, hive)[action]["due_by"])

    def away(self, day, hive):
        return {one["action"]: one["until"] for one in self.by_day[day].hives[hive]["put_away"]}


@pytest.fixture(scope="module")
def year(tmp_path_factory):
    return Days(list(worked_year.replay(tmp_path_factory.mktemp("year"))))


def test_the_page_is_what_the_program_answers(year):
    written = (content.root() / worked_year.PAGE).read_text(encoding="utf-8")
    assert worked_year.page(year.days) == written, "python -m upkeep.worked_year --write"
    assert len(written.splitlines()) <= 560, "a page to read"


def test_a_page_that_fell_behind_is_said(year, monkeypatch, tmp_path, capsys):
    (tmp_path / "docs").mkdir()
    for name in (worked_year.SOURCE, worked_year.PAGE):
        text = (content.root() / name).read_text(encoding="utf-8")
        (tmp_path / name).write_text(text, encoding="utf-8")
    (tmp_path / worked_year.PAGE).write_text("# Another year\n", encoding="utf-8")
    monkeypatch.setattr(worked_year, "replay", lambda folder: iter(year.days))
    monkeypatch.setattr(content, "root", lambda: Path(tmp_path))
    assert worked_year.main([]) == 1 and "fallen behind" in capsys.readouterr().out
    assert worked_year.main(["--write"]) == 0 and worked_year.main([]) == 0


def test_late_winter_feeds_the_light_hive_and_leaves_the_others_closed(year):
    # S43, W84: a light hive gets candy on the bees in late winter; the others are not opened for anything.
    assert year.due("2025-02-15", "Quince", "feed-candy") <= dt.date(2025, 2, 22)
    for hive in ("Pear", "Plum", "Cherry", "Medlar", "Sloe"):
        assert not set(year.jobs("2025-02-15", hive)) & (FEEDS | FRAMES_OUT), hive
    assert any(one["fact"] == "moisture.lid" for one in year.by_day["2025-02-15"].hives["Cherry"]["noted"])
    assert not set(year.jobs("2025-03-01", "Quince")) & FEEDS, "half of the candy is there"
    # More colonies starve in March than in midwinter (W84): two kilograms and ten weeks to the flow.
    (feed,) = set(year.jobs("2025-03-15", "Quince")) & FEEDS
    assert year.due("2025-03-15", "Quince", feed) <= dt.date(2025, 3, 22)


def test_spring_looks_once_and_gives_the_drone_layer_its_end(year):
    assert "first-spring-inspection" in year.jobs("2025-03-29", "Pear")
    for hive in year.by_day["2025-04-12"].hives:
        assert "first-spring-inspection" not in year.jobs("2025-04-12", hive), "it was today"
    # Standing of a drone layer: it does not mend itself; requeen it or join it to a queenright hive.
    assert set(year.jobs("2025-04-12", "Medlar")) & {"order-queen", "requeen", "unite-colonies", "shake-out-colony"}
    assert "Medlar" not in year.by_day["2025-04-26"].hives, "united"
    assert year.away("2025-04-26", "Pear") == {"add-brood-box": None}, "skipped, and in sight"


def test_cells_are_split_before_they_are_capped(year):
    # A charged cell is capped on the eighth or ninth day after the egg was laid: within five days of being seen.
    assert year.due("2025-05-10", "Plum", "split-colony") <= dt.date(2025, 5, 15)
    for day in ("2025-05-24", "2025-06-07"):
        assert "split-colony" not in year.jobs(day, "Plum"), "it is done"
    assert "add-super" in year.jobs("2025-06-07", "Pear"), "eight seams in the only super, in a strong flow"


def test_mites_are_treated_after_the_harvest_and_the_strips_come_out_in_their_window(year):
    for hive in ("Pear", "Plum", "Quince", "Cherry", "Sloe"):
        assert year.due("2025-07-19", hive, "treat-mites") <= dt.date(2025, 8, 2), "three and four in a hundred"
    # Labels of amitraz strips: six to eight weeks.
    (course,) = year.by_day["2025-08-02"].hives["Pear"]["courses"]
    assert (course["out_from"], course["out_by"]) == ("2025-08-31", "2025-09-14")
    assert year.away("2025-08-02", "Pear")["feed-thick-syrup"] == "2025-08-09"
    for hive in year.by_day["2025-09-13"].hives:
        assert not year.by_day["2025-09-13"].hives[hive]["courses"], "out since 7 September"


def test_a_robbed_yard_stays_closed(year):
    assert year.due("2025-09-13", "Almond", "stop-robbing") == dt.date(2025, 9, 13)
    for hive in year.by_day["2025-09-13"].hives:
        assert not set(year.jobs("2025-09-13", hive)) & FRAMES_OUT, hive


def test_autumn_and_winter_ask_what_is_left_to_do(year):
    assert "treat-mites" in year.jobs("2025-09-27", "Pear"), "three in a hundred after a course: another class"
    for hive in ("Pear", "Plum", "Quince", "Cherry", "Sloe"):  # of Almond nobody noted whether one is on
        assert "fit-mouse-guard" in year.jobs("2025-09-27", hive)
    assert "treat-oxalic-broodless" in year.jobs("2025-12-06", "Pear"), "no brood, and too many mites"
    assert "treat-oxalic-broodless" not in year.jobs("2025-12-20", "Pear"), "it is done"


def test_the_dead_hive_is_closed_and_the_wrong_note_taken_back(year):
    for hive in year.by_day["2026-02-07"].hives:
        assert ("clear-dead-colony" in year.jobs("2026-02-07", hive)) == (hive == "Cherry")
    assert not set(year.jobs("2026-02-21", "Cherry")) & (FEEDS | FRAMES_OUT | {"heft-hive", "treat-mites"})

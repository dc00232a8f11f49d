"""The sheet: a line a hive in order of need, law above it, equal jobs together, as wide as the screen."""

import io
import json
import re

import pytest
from plan_kit import TODAY, Book, words

from hiveweek.plan.model import Advice, Evidence
from hiveweek.show import json as as_json
from hiveweek.show import sheet as sheets
from hiveweek.show import sheet_text
from hiveweek.show import week as as_text
from hiveweek.show.text import Page
from hiveweek.texts.speaker import IMPERIAL, METRIC

KNOWN = {
    "colony.alive": True,
    "weather.open_high_c": 20.0,
    "season.phase": "main_flow",
    "food.days_left": 90.0,
    "hive.mouse_guard": True,
    "harvest.moisture_pct": 17.0,
    "colony.wasps": "none",
    "health.ropy_larvae": False,
}


def _book():
    book = Book()
    book.rule("f.candy", "food.days_left < 9", "feed-candy", gain=35, by=3, amount="{food.candy_kg}", because="Hungry.")
    book.rule("g.guard", "hive.mouse_guard == false", "fit-mouse-guard", gain=3, by=20, because="No guard.")
    book.rule("r.ripen", "harvest.moisture_pct > 20", "let-honey-ripen", gain=30, by=1, because="Wet.")
    book.rule("w.wasps", "colony.wasps == many", "control-wasps", gain=3, by=4, because="Wasps.")
    book.rule("l.law", "health.ropy_larvae", "report-notifiable", gain=10, by=0, band=0, because="It is suspect.")
    return book


HIVES = {
    "Ripe": {**KNOWN, "harvest.moisture_pct": 21.0},
    "Calm": KNOWN,
    "Guard": {**KNOWN, "hive.mouse_guard": False},
    "Hungry": {**KNOWN, "food.days_left": 4.0, "food.candy_kg": 2.5, "hive.mouse_guard": False},
    "Sick": {**KNOWN, "health.ropy_larvae": True},
    "Wasp": {**KNOWN, "colony.wasps": "many"},
}


@pytest.fixture(scope="module")
def plan():
    return _book().plan(HIVES, name="Alder Bank")


def _screen(plan, width=80, speaker=METRIC):
    out = io.StringIO()
    as_text.show(Page(out, speaker, width=width), plan, words())
    return out.getvalue()


def test_lines_stand_in_order_of_need_and_no_waiting_job_above_an_acting_one(plan):
    sheet = sheets.of(plan, words())
    hives = [line.hive for line in sheet.lines]
    assert hives[:2] == ["Hungry", "Guard"] and hives.index("Ripe") > 1 and hives[-1] == "Calm"
    assert [line.acts for line in sheet.lines].index(False) == sum(line.acts for line in sheet.lines)
    first = sheet.lines[0]
    assert [job.action for job in first.jobs] == ["feed-candy", "fit-mouse-guard"]
    assert [METRIC.say(reason) for reason in first.reasons] == ["food for 4 days"]


def test_what_law_asks_stands_above_the_table_and_is_no_line_of_it(plan):
    sheet = sheets.of(plan, words())
    assert [(one.job.action, one.hives) for one in sheet.law] == [("report-notifiable", ("Sick",))]
    assert all(job.action != "report-notifiable" for line in sheet.lines for job in line.jobs)
    text = _screen(plan)
    assert text.index("First of all, report the suspicion") < text.index("  by ")
    assert METRIC.say(sheet_text.title(sheet)).endswith("6 hives, 1 due today, 2 this week")
    assert [line.above for line in sheet.lines if line.hive in ("Sick", "Wasp")] == [True, True]


def test_every_advice_is_on_the_sheet_once(plan):
    sheet = sheets.of(plan, words())
    said = [(line.hive, job.action) for line in sheet.lines for job in line.jobs]
    said += [(hive, one.job.action) for one in (*sheet.law, *sheet.yard) for hive in one.hives]
    asked = [(hive["id"], one["action"]) for hive in as_json.week(plan)["hives"] for one in hive["advice"]]
    assert sorted(said) == sorted(asked)


def test_suspicion_is_walked_to_last(plan):
    walk = {line.hive: line.walk for line in sheets.of(plan, words()).lines}
    assert sorted(walk.values()) == list(range(1, len(HIVES) + 1))
    plan = _book().plan({"Dead": {"colony.alive": False}, "Well": KNOWN})
    assert {line.hive: line.walk for line in sheets.of(plan, words()).lines} == {"Well": 1, "Dead": 2}


@pytest.mark.parametrize("width", [40, 50, 63, 64, 80, 110])
@pytest.mark.parametrize("speaker", [METRIC, IMPERIAL], ids=["metric", "imperial"])
def test_it_fits_from_forty_columns_up_and_loses_nothing(plan, width, speaker):
    text = _screen(plan, width, speaker)
    assert max(len(line) for line in text.splitlines()) <= width
    flat = " ".join(text.split())
    assert "\x1b" not in text and all(hive in flat for hive in HIVES)
    for label in ("give candy", "mouse guard", "honey ripen", "trap wasps", "report the suspicion"):
        assert all(word in flat for word in label.split())


@pytest.mark.parametrize(("hives", "most"), [(6, 40), (60, 120), (300, 240)])
def test_six_hives_fit_one_screen_and_sixty_three(hives, most):
    names = list(HIVES)
    yard = {f"{names[k % 6]}{k}": HIVES[names[k % 6]] for k in range(hives)}
    text = _screen(_book().plan(yard, name="Alder Bank"))
    assert len(text.splitlines()) <= most
    assert all(re.search(rf"\b{hive}\b", text) for hive in yard)


def test_equal_jobs_of_many_hives_stand_together_and_none_is_lost():
    names = list(HIVES)
    plan = _book().plan({f"H{k}": HIVES[names[k % 6]] for k in range(48)})
    sheet = sheets.of(plan, words())
    assert len(sheet.folded(48, 49)) == 48
    groups = sheet.folded(47, 49)
    assert len(groups) <= 6 and sorted(line.hive for group in groups for line in group.lines) == sorted(
        line.hive for line in sheet.lines
    )
    for group in groups:
        assert len({tuple(job.action for job in line.jobs) for line in group.lines}) == 1


def test_in_a_small_yard_three_hives_of_which_the_very_same_is_said_stand_together():
    plan = _book().plan({**{f"G{k}": HIVES["Guard"] for k in range(3)}, "Other": HIVES["Hungry"], "Calm": KNOWN})
    groups = sheets.of(plan, words()).folded(40, 3)
    assert [tuple(line.hive for line in group.lines) for group in groups] == [("Other",), ("G0", "G1", "G2"), ("Calm",)]
    flat = " ".join(_screen(plan).split())
    assert "fit the mouse guard: 3 hives G0 1, G1 2, G2 3 no mouse guard" in flat
    assert len(sheets.of(plan, words()).folded(40, 4)) == 5


def test_hives_of_which_nothing_was_ever_noted_stand_in_one_line_that_says_so():
    book = Book()
    book.rule("i.first", "colony.alive", "full-inspection", by=20, because="The best day reaches 20 °C.")
    plan = book.plan({f"New{k}": KNOWN for k in range(2)} | {"Seen": {**KNOWN, "log.days_since_checked": 9.0}})
    sheet = sheets.of(plan, words())
    assert {line.hive: line.blank for line in sheet.lines} == {"New0": True, "New1": True, "Seen": False}
    flat = " ".join(_screen(plan).split())
    assert "nothing noted yet, so a first look: full inspection: 2 hives New0 1, New1 2" in flat
    (alone,) = [
        line
        for line in sheets.of(
            book.plan({"New": KNOWN, "Seen": {**KNOWN, "log.days_since_checked": 9.0}}), words()
        ).lines
        if line.blank
    ]
    assert METRIC.say(sheet_text.because(alone, sheet)) == "nothing noted yet"


def test_a_reason_is_what_decided_and_never_empty():
    def said(*evidence, **more):
        advice = Advice("feed-candy", "r", because="So.", evidence=[Evidence(*one) for one in evidence], **more)
        return [METRIC.say(reason) for reason in sheets.reasons(advice, words())]

    stores = ("food.stores_kg", 3.0, None, None, None)
    assert said(("mites.per_100", 4.7, 2.0, 7.0, None), stores) == ["3 kg of stores", "4.7 mites per 100 bees"]
    assert said(("colony.eggs", True, None, None, None)) == ["eggs seen: yes"]
    assert said() == ["So"]
    long = Advice("feed-candy", "r", because="Time since the last count: not known. Mites double in 1.5 months.")
    assert METRIC.say(sheets.reasons(long, words())[0]) == "Time since the last count: not known"
    assert said(("season.weeks_to_winter", 8.0, None, None, None), stores) == ["3 kg of stores"]
    assert said(("season.weeks_to_winter", 0.0, None, None, None)) == ["clustering season now"]
    assert said((*stores, "Other")) == ["So"]
    assert said(origin="look", unlocks=[{"action": "treat-mites"}]) == ["decides: treat against mites"]


def test_a_deadline_gone_by_is_late_and_says_since_when():
    plan = _book().plan({"A": HIVES["Hungry"], "B": HIVES["Guard"]})
    advice = plan.hives[1].advice[0]
    advice.due(TODAY.replace(day=1), TODAY)
    line = next(line for line in sheets.of(plan, words()).lines if line.hive == "B")
    assert line.late and "was due 1 Mar" in METRIC.say(sheet_text.because(line, sheets.of(plan, words())))
    assert re.search(r"^  late +B", _screen(plan), flags=re.MULTILINE)


def test_what_is_late_without_a_day_says_since_when_it_is_due():
    plan = _book().plan({"A": HIVES["Hungry"], "B": HIVES["Guard"]})
    advice = plan.hives[1].advice[0]
    advice.due_by, advice.by, advice.due_before = None, TODAY, TODAY.replace(month=1)
    sheet = sheets.of(plan, words())
    said = {line.hive: METRIC.say(sheet_text.because(line, sheet)) for line in sheet.lines}
    assert said["B"] == "due since before 10 Jan, no mouse guard"


def test_a_hive_without_a_job_says_when_it_was_looked_at(plan):
    data = json.loads(as_json.text(plan))
    assert all("last_look" in hive for hive in data["hives"])
    assert "no look noted" in " ".join(_screen(plan).split())

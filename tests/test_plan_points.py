"""Points: gain, urgency, certainty, bands, ties, and the orders in which the great dangers must stand."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from plan_kit import TODAY, Book, Calendar, actions, table, weights, words

from hiveweek.plan import Setting, make
from hiveweek.rules.model import Deadline


@pytest.mark.parametrize(
    ("days", "expected"), [(0, 1.0), (7, 1.0), (21, 0.5), (35, 0.25), (200, 0.25), (-30, 1.0), (14, 0.7071)]
)
def test_urgency_halves_every_fortnight_after_the_first_week(days, expected):
    # max(0.25, 0.5 ** ((days - 7) / 14)), at most 1: worked by hand
    assert weights().urgency(TODAY, TODAY + dt.timedelta(days=days)) == pytest.approx(expected, abs=1e-4)


def test_no_deadline_gets_the_floor():
    assert weights().urgency(TODAY, None) == 0.25


@given(st.integers(-400, 400), st.integers(-400, 400))
def test_a_later_deadline_never_weighs_more(a, b):
    early, late = sorted((a, b))
    w = weights()
    assert (
        w.urgency(TODAY, TODAY + dt.timedelta(days=early)) >= w.urgency(TODAY, TODAY + dt.timedelta(days=late)) >= 0.25
    )


def test_parts_give_the_points():
    book = Book()
    book.rule("a.one", "food.days_left < 30", "feed-candy", gain=35, by=21)
    plan = book.plan({"H": {"food.days_left": (28.0, 20, 40)}})
    advice = plan.hives[0].advice[0]
    assert advice.points == round(advice.gain_pts * advice.urgency * advice.certainty, 2)
    assert advice.gain_pts == 35 and advice.urgency == 0.5
    # 28 with 40 as its upper 97.5 % end, so a spread of 12 / 1.96 = 6.12: below 30 with 0.63 (normal table)
    assert advice.certainty == pytest.approx(0.628, abs=0.002)


def test_a_gain_from_the_hives_own_figures_replaces_the_constant_and_carries_its_own_doubt():
    book = Book()
    book.rule("a.one", "food.days_left < 30", "feed-candy", gain=35, gain_fact="food.starvation_pts", by=0)
    advice = book.plan({"H": {"food.days_left": (28.0, 20, 40), "food.starvation_pts": 12.0}}).hives[0].advice[0]
    assert (advice.gain_pts, advice.certainty, advice.points) == (12, 1, 12)
    constant = book.plan({"H": {"food.days_left": 28.0}}).hives[0].advice[0]
    assert constant.gain_pts == 35


def test_crop_is_weighed_at_a_tenth():
    book = Book()
    book.rule("a.crop", "colony.alive", "add-super", gain=80, loses="crop", by=0)
    assert book.plan({"H": {"colony.alive": True}}).hives[0].advice[0].points == 8


def test_law_stands_above_all_points():
    book = Book()
    book.rule("a.hunger", "colony.alive", "feed-candy", gain=55, by=0)
    book.rule("b.law", "colony.alive", "report-notifiable", gain=1, band=0)
    assert actions(book.plan({"H": {"colony.alive": True}}))[:2] == ["report-notifiable", "feed-candy"]


def test_ties_go_by_deadline_then_rule_then_hive():
    book = Book()
    book.rule("b.later", "colony.alive", "tilt-forward", gain=8, by=5)
    book.rule("c.early", "colony.alive", "close-gaps", gain=8, by=2)
    book.rule("a.later", "colony.alive", "strap-down", gain=8, by=5)
    plan = book.plan({"Z": {"colony.alive": True}, "A": {"colony.alive": True}})
    assert actions(plan) == ["close-gaps", "strap-down", "tilt-forward"]
    assert [(f["hive"], f["action"]) for f in plan.first[:2]] == [("A", "close-gaps"), ("Z", "close-gaps")]


def test_one_advice_an_action_and_the_others_reasons_beside_it():
    book = Book()
    book.rule("a.small", "colony.alive", "feed-candy", gain=5, because="A little.")
    book.rule("b.large", "colony.alive", "feed-candy", gain=50, because="A lot.")
    plan = book.plan({"H": {"colony.alive": True}})
    assert actions(plan) == ["feed-candy"]
    advice = plan.hives[0].advice[0]
    assert advice.rule == "b.large" and [(o["rule"], str(o["because"])) for o in advice.also] == [
        ("a.small", "A little.")
    ]


def test_deadlines_from_today_a_fact_and_an_event():
    book = Book()
    book.rule("a.day", "colony.alive", "tilt-forward", by=14)
    book.rule("b.fact", "colony.alive", "feed-candy", by=Deadline("fact", "food.empty_on", -7))
    book.rule("c.event", "colony.alive", "add-insulation", by=Deadline("event", "winter_wrap_on", -14))
    book.rule("d.unknown", "colony.alive", "close-gaps", by=Deadline("event", "unwrap", 0))
    plan = book.plan(
        {"H": {"colony.alive": True, "food.empty_on": dt.date(2026, 3, 30)}}, calendar=Calendar(winter_wrap_on=(4, 1))
    )
    by = {a.action: a.by for a in plan.hives[0].advice}
    assert by == {
        "tilt-forward": dt.date(2026, 3, 24),
        "feed-candy": dt.date(2026, 3, 23),
        "add-insulation": dt.date(2026, 3, 18),
        "close-gaps": None,
    }


# --- the orders in which dangers must stand: each with its points and days to its last start (judgement) ---
ROWS = {
    "F1": ("feed-candy", 55, 0),
    "F4": ("feed-thick-syrup", 25, 0),
    "F5": ("feed-thick-syrup", 8, 14),
    "F7": ("feed-thin-syrup", 45, 2),
    "M1": ("treat-mites", 35, 7),
    "M2": ("treat-mites", 20, 7),
    "M3": ("treat-mites", 8, 21),
    "M6": ("treat-oxalic-broodless", 10, 7),
    "M7": ("treat-oxalic-broodless", 4, 7),
    "Q4": ("split-colony", 18, 3),
    "Q7": ("requeen", 4, 21),
    "H1": ("add-brood-box", 8, 3),
    "W1": ("unite-colonies", 25, 14),
    "W2": ("condense-to-one-box", 7, 14),
    "C1": ("add-insulation", 8, 14),
    "C5": ("fit-mouse-guard", 3, 7),
    "R1": ("stop-robbing", 30, 0),
    "M12": ("treat-mites", 21.4, 7),
    "F0": ("feed-candy", 55, 0),
}
ORDERS = [
    ("F1", "M1"),
    ("F1", "W1"),
    ("F1", "R1"),
    ("F1", "Q4"),
    ("F7", "Q4"),
    ("Q4", "H1"),
    ("M1", "M6"),
    ("M2", "M6"),
    ("M6", "M7"),
    ("F4", "M3"),
    ("M2", "F5"),
    ("W1", "W2"),
    ("W1", "C1"),
    ("W1", "Q7"),
    ("M12", "Q7"),
    ("F0", "M12"),
]


@pytest.mark.parametrize(("above", "below"), ORDERS, ids=[f"{a}-over-{b}" for a, b in ORDERS])
def test_rows_of_the_scale_keep_their_order(above, below):
    book = Book()
    for row in (above, below):
        action, gain, days = ROWS[row]
        book.rule(f"t.{row.lower()}", "colony.alive", action, gain=gain, by=days)
    plan = book.plan({"H": {"colony.alive": True}})
    placed = [a.rule for a in plan.hives[0].advice] + [w.rule for w in plan.hives[0].withheld]
    points = {a.rule: a.points for a in plan.hives[0].advice}
    assert placed[0] == f"t.{above.lower()}"
    assert points.get(f"t.{below.lower()}", 0) < points[f"t.{above.lower()}"]


def test_in_a_mild_climate_wrapping_falls_under_the_mouse_guard():
    # wrapping is worth 0 to 1 point where the coldest month is above +4, a mouse guard 3
    book = Book()
    book.rule("t.wrap", "colony.alive", "add-insulation", gain=1, by=14)
    book.rule("t.guard", "colony.alive", "fit-mouse-guard", gain=3, by=14)
    assert actions(book.plan({"H": {"colony.alive": True}})) == ["fit-mouse-guard", "add-insulation"]


def test_evidence_holds_what_the_condition_and_the_words_read():
    book = Book()
    book.limit("limit.food.candy_days", 21, "days")
    book.rule("a.short", "food.days_left < limit.food.candy_days", finding="short-of-food")
    book.rule(
        "b.feed",
        ["finding.short-of-food", {"unless": "colony.robbed"}],
        "feed-candy",
        because="{food.days_left} left for {colony.frames_of_bees}; under {limit.food.candy_days} is short. Heft: {food.heft}.",
        amount="{food.candy_kg} kg",
    )
    advice = (
        book.plan({"H": {"food.days_left": (12.0, 8, 16), "colony.frames_of_bees": 5.0, "food.candy_kg": 2.5}})
        .hives[0]
        .advice[0]
    )
    assert str(advice.because) == "12 days left for 5 frames; under 21 days is short. Heft: not known."
    assert str(advice.amount) == "2.5 kg"
    shown = {e.fact: (e.value, e.low, e.high) for e in advice.evidence}
    assert shown == {"food.days_left": (12, 8, 16), "colony.frames_of_bees": (5, 5, 5)}
    assert advice.limits == [{"limit": "limit.food.candy_days", "value": 21.0, "from": "base"}]


def test_an_amount_that_is_not_known_is_not_given():
    book = Book()
    book.rule("b.feed", "colony.alive", "feed-candy", amount="{food.candy_kg} kg")
    assert book.plan({"H": {"colony.alive": True}}).hives[0].advice[0].amount is None


def test_an_unverified_rule_is_marked():
    book = Book()
    book.rule("b.feed", "colony.alive", "feed-candy")
    plan = book.plan(
        {"H": {"colony.alive": True}, "K": {"colony.alive": True}}, unverified=frozenset({("b.feed", "K")})
    )
    assert [h.advice[0].unverified for h in plan.hives] == [False, True]


def test_the_yard_hears_of_a_yard_wide_job_once():
    book = Book()
    book.rule("h.water", "colony.alive", "provide-water", gain=6, by=0)
    plan = book.plan({"A": {"colony.alive": True}, "B": {"colony.alive": True}})
    assert [(a.action, ids, a.points) for a, ids in plan.yard] == [("provide-water", ["A", "B"], 12)]
    assert actions(plan, 0) == actions(plan, 1) == ["provide-water"]
    assert plan.first == [{"hive": "A", "action": "provide-water", "points": 12}]


def test_an_empty_yard_has_a_plan():
    book = Book()
    book.rule("h.water", "colony.alive", "provide-water")
    plan = make(book.infer({}), Setting(TODAY), weights())
    assert plan.hives == [] and plan.first == [] and plan.visits == []


def test_the_order_of_hives_and_rules_in_the_file_does_not_matter():
    def build(order):
        book = Book()
        for name in order:
            book.rule(f"t.{name.lower()}", "colony.alive", ROWS[name][0], gain=ROWS[name][1], by=ROWS[name][2])
        return [a.rule for a in book.plan({"H": {"colony.alive": True}}).hives[0].advice]

    assert build(["M1", "Q7", "C5", "W2"]) == build(["W2", "C5", "Q7", "M1"])


def test_tables_and_words_are_real():
    assert len(table({"H": {"colony.alive": True}})) == 1
    assert "feed-candy" in words().actions

"""What lies in a hive and is easily forgotten: cages, drone combs, clearer boards, newspaper; by notes, by jobs done, on the card."""

import datetime as dt
import io

import pytest

from hiveweek import vocabulary
from hiveweek.facts import scenario_of
from hiveweek.plan.answer import answer
from hiveweek.shapes import marked_yaml
from hiveweek.show import json, week
from hiveweek.show.text import Page

WORDS = vocabulary.load()
IN = dt.date(2026, 6, 1)
YARD = """
climate: cool_continental
date: {date}
hives:
  - id: A
    facts: {{colony.frames_of_bees: 10, colony.frames_of_brood: 6, colony.eggs: true, hive.supers: 1, weather.open_high_c: 22, weather.high_c: 23}}
    record:
{entries}
"""


def asked(days: int, *entries: str):
    """The answer so many days after 1 June, and its screen in lines put together."""
    text = YARD.format(date=IN + dt.timedelta(days=days), entries="\n".join(f"      - {entry}" for entry in entries))
    plan = answer(scenario_of(marked_yaml.parse(text)), offline=True, second_channel=False).plan
    file = io.StringIO()
    week.show(Page(file), plan, WORDS)
    return plan, " ".join(file.getvalue().split())


def actions(plan):
    return [advice.action for advice in plan.hives[0].advice]


# Queen rearing standard: cage for three to five days; US project: drone comb capped, before day 24; course of a chamber: trapping
# comb changed every seven to ten days; a clearer board a day, at most two.
@pytest.mark.parametrize(
    ("fact", "what", "early", "due", "action"),
    [
        ("inside.queen_cage_on", "queen-cage", 2, 3, "free-queen"),
        ("inside.drone_comb_on", "drone-comb", 17, 18, "remove-drone-comb"),
        ("inside.trap_comb_on", "trap-comb", 6, 7, "take-trap-comb"),
        ("inside.clearer_on", "clearer", 0, 1, "remove-supers"),
        ("inside.newspaper_on", "newspaper", 6, 7, "clear-newspaper"),
    ],
)
def test_it_stands_on_the_card_from_the_first_day_and_is_asked_for_in_its_days(fact, what, early, due, action):
    noted = f"{{date: {IN}, set: {{{fact}: {IN}}}}}"
    before, screen = asked(early, noted)
    assert action not in actions(before)
    found = json.week(before)["hives"][0]["lies_in"]
    assert [(one["what"], one["since"], one["day"]) for one in found] == [(what, "2026-06-01", early)]
    assert "in since 1 June" in screen or "in since Monday 1 June" in screen
    assert action in actions(asked(due, noted)[0])


@pytest.mark.parametrize(
    ("fact", "action"),
    [
        ("inside.queen_cage_on", "free-queen"),
        ("inside.drone_comb_on", "remove-drone-comb"),
        ("inside.trap_comb_on", "take-trap-comb"),
        ("inside.clearer_on", "remove-supers"),
        ("inside.newspaper_on", "clear-newspaper"),
    ],
)
def test_once_it_is_done_it_is_out_and_not_asked_again(fact, action):
    done = f"{{date: {IN + dt.timedelta(days=20)}, done: {action}}}"
    plan, screen = asked(24, f"{{date: {IN}, set: {{{fact}: {IN}}}}}", done)
    assert json.week(plan)["hives"][0]["lies_in"] == []
    left = next(left for left in WORDS.left.values() if left.fact == fact)
    assert action not in actions(plan) and f"{left.label} in since" not in screen.lower()


def test_uniting_leaves_newspaper_in_the_hive():
    plan, screen = asked(8, f"{{date: {IN}, done: unite-colonies}}")
    assert "Newspaper between two colonies in since 1 June, day 8" in screen
    assert "clear-newspaper" in actions(plan)


def test_a_queen_released_ends_her_cage():
    later = IN + dt.timedelta(days=4)
    released = f"{{date: {later}, set: {{colony.queen_event: mated_queen_given, colony.queen_event_on: {later}}}}}"
    plan, _ = asked(5, f"{{date: {IN}, set: {{inside.queen_cage_on: {IN}}}}}", released)
    assert json.week(plan)["hives"][0]["lies_in"] == [] and "free-queen" not in actions(plan)


def test_every_thing_that_may_lie_in_has_its_facts_a_look_and_sources():
    assert {left.fact for left in WORDS.left.values()} == {
        name for name in WORDS.facts if name.startswith("inside.") and name.endswith("_on")
    }
    for left in WORDS.left.values():
        name = left.fact.removesuffix("_on")
        assert {f"{name}_by", f"{name}_days_to", f"{name}_days"} <= set(WORDS.facts)
        assert 0 < left.next.first <= left.next.last and left.next.source and "{last}" in left.say
        assert all(key in WORDS.sources for key in left.next.source)

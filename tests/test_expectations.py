"""What a case may expect of deadlines, amounts, bands, order, what is withheld and words: held, broken, and written wrongly."""

import datetime as dt

import pytest

from hiveweek import facts, vocabulary
from hiveweek.authoring.cases import Runner
from hiveweek.authoring.judging import amounts, judge
from hiveweek.facts.scenario import Apiary, Scenario, ScenarioHive
from hiveweek.problems import InputProblems
from hiveweek.shapes import marked_yaml
from hiveweek.texts.parts import Quantity, Range, Text, Written, message

WORDS = vocabulary.load()
STARVING = {"food.stores_kg": 0.3, "colony.frames_of_bees": 6, "hive.size": "single", "hive.frames": 10}
ROBBED = {
    "colony.robbed": True,
    "colony.frames_of_bees": 8,
    "food.stores_kg": 0.5,
    "hive.size": "single",
    "hive.frames": 10,
    "mites.sample_mites": 30,
    "mites.sample_bees": 300,
    "mites.method": "wash",
}
SUMMER = dt.date(2026, 7, 20)
SICK = {"health.ropy_larvae": True, "colony.frames_of_bees": 6, "food.stores_kg": 12}


@pytest.fixture(scope="module")
def runner():
    return Runner(WORDS)


def failures(runner, facts_, expect, day=dt.date(2026, 2, 1)):
    hive = ScenarioHive("H1", dict(facts_), expect=expect)
    scenario = Scenario("tried", "cool_continental", day, [hive], Apiary("yard"))
    found = runner.answer(scenario)
    return [failure.text for failure in judge(scenario, found.plan, found.inference)]


def told(runner, facts_, action, day=dt.date(2026, 2, 1)):
    scenario = Scenario("tried", "cool_continental", day, [ScenarioHive("H1", dict(facts_))], Apiary("yard"))
    return next(a for a in runner.answer(scenario).plan.hives[0].advice if a.action == action)


def test_a_deadline_lies_in_its_days(runner):
    day = dt.date(2026, 2, 1)
    assert told(runner, STARVING, "feed-candy").by <= day
    assert failures(runner, STARVING, {"by": {"feed-candy": (day, day)}}) == []
    late = (day + dt.timedelta(days=1), day + dt.timedelta(days=9))
    assert failures(runner, STARVING, {"by": {"feed-candy": late}}) == [
        "expected the by of feed-candy within 2026-02-02 to 2026-02-10; it is 2026-02-01"
    ]
    assert "it is not among" in failures(runner, STARVING, {"by": {"take-honey": late}})[0]


def test_an_amount_lies_between_its_ends(runner):
    kg = next(amounts(told(runner, STARVING, "feed-candy").amount))[0]
    assert failures(runner, STARVING, {"amount": {"feed-candy": (kg, kg)}}) == []
    assert failures(runner, STARVING, {"amount": {"feed-candy": (kg - 0.5, kg + 0.5)}}) == []
    (text,) = failures(runner, STARVING, {"amount": {"feed-candy": (kg + 0.1, kg + 1)}})
    assert text.startswith("expected the amount of feed-candy within") and f"; it is {kg:g} kg" in text
    (text,) = failures(runner, SICK, {"amount": {"report-notifiable": (0, 100)}}, dt.date(2026, 6, 1))
    assert text.endswith("it has none")


def test_the_quantities_of_a_phrase_come_in_the_order_they_are_said():
    both = Text((message("labelled", label="a", words=Quantity(2.0, "kg")), Written("3 to 5 L", (3.0, 5.0), "L")))
    assert list(amounts(both)) == [(2.0,), (3.0, 5.0)]
    assert list(amounts(Range(Quantity(1.0, "kg"), Quantity(4.0, "kg")))) == [(1.0, 4.0)]
    assert list(amounts(None)) == []


def test_a_band_is_the_one_expected(runner):
    day = dt.date(2026, 6, 1)
    assert failures(runner, SICK, {"band": {"report-notifiable": 0}}, day) == []
    assert failures(runner, SICK, {"band": {"report-notifiable": 1}}, day) == [
        "expected the band of report-notifiable to be 1; it is 0"
    ]


def robbed(runner):
    scenario = Scenario("tried", "cool_continental", SUMMER, [ScenarioHive("H1", dict(ROBBED))], Apiary(""))
    return runner.answer(scenario).plan.hives[0]


def test_actions_stand_in_their_order(runner):
    order = [a.action for a in robbed(runner).advice]
    assert len(order) > 1
    assert failures(runner, ROBBED, {"order": order}, SUMMER) == []
    (text,) = failures(runner, ROBBED, {"order": order[::-1]}, SUMMER)
    assert text == f"expected {', '.join(order[::-1])} in this order; came {', '.join(order)}"
    assert failures(runner, ROBBED, {"order": [order[0], "take-honey"]}, SUMMER)  # what is not advised has no place


def test_what_is_withheld_is_not_advised(runner):
    hive = robbed(runner)
    first = hive.advice[0].action
    held = {item.action for item in hive.withheld} - {a.action for a in hive.advice}
    assert held
    assert failures(runner, ROBBED, {"withheld": sorted(held)}, SUMMER) == []
    assert "install-package to be withheld" in failures(runner, ROBBED, {"withheld": ["install-package"]}, SUMMER)[0]
    assert failures(runner, ROBBED, {"withheld": [first]}, SUMMER) == [
        f"expected {first} to be withheld; it is advised"
    ]


def test_words_that_must_not_be_said_are_looked_for_everywhere(runner):
    assert failures(runner, STARVING, {"text_lacks": ["a promise nobody gives"]}) == []
    because = str(told(runner, STARVING, "feed-candy").because)
    (text, *_) = failures(runner, STARVING, {"text_lacks": [because[:20].upper()]})
    assert "must not be said; feed-candy says" in text
    quiet = {"colony.alive": True}
    assert failures(runner, quiet, {"text_lacks": ["e"]})  # also where nothing is due


FILE = """\
scenario: tried
climate: cool_continental
date: 2026-02-10
hives:
  - id: A
    facts: {food.stores_kg: 1}
    expect:
      by: {feed-candy: [2026-02-10, 2026-02-12]}
      amount: {feed-candy: [1, 2.5]}
      band: {feed-candy: 1}
      order: [feed-candy, heft-hive]
      withheld: feed-thick-syrup
      text_lacks: [not known, "90 %"]
"""


def read(text):
    return facts.scenario_of(marked_yaml.parse(text, "file.yaml"), ".", profile_ids=["cool_continental"])


def test_expectations_as_a_file_states_them():
    assert read(FILE).hives[0].expect == {
        "by": {"feed-candy": (dt.date(2026, 2, 10), dt.date(2026, 2, 12))},
        "amount": {"feed-candy": (1, 2.5)},
        "band": {"feed-candy": 1},
        "order": ["feed-candy", "heft-hive"],
        "withheld": ["feed-thick-syrup"],
        "text_lacks": ["not known", "90 %"],
    }


@pytest.mark.parametrize(
    ("old", "new", "line", "code"),
    [
        ("by: {feed-candy: [2026-02-10, 2026-02-12]}", "by: {feed-candy: [2026-02-12, 2026-02-10]}", 8, "out-of-range"),
        (
            "by: {feed-candy: [2026-02-10, 2026-02-12]}",
            "by: {feed-candy: ['2026-02-30', 2026-03-10]}",
            8,
            "no-such-date",
        ),
        ("by: {feed-candy: [2026-02-10, 2026-02-12]}", "by: {feed-candy: 2026-02-10}", 8, "wrong-type"),
        ("by: {feed-candy:", "by: {feed-cndy:", 8, "unknown-action"),
        ("[1, 2.5]", "[2.5, 1]", 9, "out-of-range"),
        ("[1, 2.5]", "[1]", 9, "out-of-range"),
        ("[1, 2.5]", "[one, 2]", 9, "wrong-type"),
        ("band: {feed-candy: 1}", "band: {feed-candy: -1}", 10, "out-of-range"),
        ("order: [feed-candy, heft-hive]", "order: [feed-candy]", 11, "out-of-range"),
        ("withheld: feed-thick-syrup", "withheld: feed-thick-sirup", 12, "unknown-action"),
        ("text_lacks: [not known", "text_lacks: [3", 13, "wrong-type"),
        ("text_lacks:", "text_lack:", 13, "unknown-key"),
    ],
)
def test_an_expectation_written_wrongly_is_named_with_its_place(old, new, line, code):
    assert old in FILE
    with pytest.raises(InputProblems) as caught:
        read(FILE.replace(old, new))
    assert [(p.line, p.code) for p in caught.value.problems] == [(line, code)]

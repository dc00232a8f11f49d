"""The scenarios to practise on: enough of them for each factor of wintering, and what they expect once all is found.

That they hold with what is known at first is tested with all other cases (test_rulesets_cases.py).
"""

from collections import Counter, defaultdict

import pytest

from hiveweek import climate, content, facts, vocabulary
from hiveweek.authoring import cases
from hiveweek.authoring.lessons import judged
from hiveweek.problems import InputProblems

# The eight factors of wintering; each is to stand in climates whose answers differ.
FACTORS = ["site", "insulation", "strength", "food", "damp", "winter-checks", "space", "mites"]


@pytest.fixture(scope="module")
def scenarios():
    return cases.read(sorted((content.root() / "scenarios" / "practice").glob("*.yaml")))


def test_there_are_enough_in_climates_that_differ(scenarios):
    ids = [one.lesson.id for one in scenarios]
    assert len(ids) >= 60 and len(set(ids)) == len(ids)
    climates = defaultdict(set)
    for one in scenarios:
        climates[one.lesson.topic].add(one.climate)
    counted = Counter(one.lesson.topic for one in scenarios)
    assert all(counted[topic] >= 4 and len(climates[topic]) >= 3 for topic in FACTORS)
    used = set().union(*climates.values())
    south = {name for name in used if climate.load_profile(name).lat < 0}
    assert len(used) >= 15 and len(south) >= 4
    for topic in FACTORS:
        assert climates[topic] & south, topic
    months = {(one.date.month, one.climate in south) for one in scenarios}
    assert {month for month, southern in months if not southern} == set(range(1, 13))
    assert len({month for month, southern in months if southern}) >= 9


def test_what_looks_find_leads_to_what_is_expected(scenarios):
    results = judged(scenarios, vocabulary.load(), first=False)
    assert len(results) >= 10
    assert [(one.lesson, one.failures) for one in results if one.failures] == []


def test_what_a_lesson_may_not_say(tmp_path):
    path = tmp_path / "bad.cases.yaml"
    path.write_text(
        """cases:
  - scenario: one
    climate: boreal
    date: 2026-03-01
    hives: [{id: A, facts: {food.heft: light, hive.tilt: level}}]
    lesson:
      id: one
      topic: food
      story: "A story."
      debrief: "A reason."
      hive: B
      read: [W1, W9999]
      found: {A: {food.heft: heavy, food.days_left: 9}}
""",
        encoding="utf-8",
    )
    with pytest.raises(InputProblems) as error:
        facts.read_cases(path)
    said = [(one.line, one.code) for one in error.value.problems]
    assert sorted(said) == [(11, "unknown-hive"), (12, "unknown-source"), (13, "no-look"), (13, "two-values")]

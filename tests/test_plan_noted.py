"""What was noted is answered: by a job, a look, a waiting job, or one sentence; once a season."""

import datetime as dt

import pytest

from hiveweek import content, vocabulary
from hiveweek.climate import load_profile, profile_ids
from hiveweek.facts import scenario_of
from hiveweek.plan.answer import answer
from hiveweek.problems import InputProblems
from hiveweek.rules.store import effective_rules
from hiveweek.shapes import marked_yaml
from hiveweek.texts.speaker import METRIC
from upkeep.laws import law_n

WORDS = vocabulary.load()
BOX = "{hive.size: single, hive.frames: 10, hive.frame: deep, hive.supers: 0, hive.insulation: roof, hive.top_vent: small, %s}"
SEEN = [
    fact for fact in WORDS.facts.values() if fact.comes_from == "observed" and fact.scope == "hive" and fact.allowed
]
RULES = {}


def told(text, date=None):
    """The answer to a scenario, one inference channel, shipped numbers."""
    scenario = scenario_of(marked_yaml.parse(text))
    if scenario.climate not in RULES:
        RULES[scenario.climate] = effective_rules(load_profile(scenario.climate), vocabulary=WORDS)
    return answer(scenario, date=date, second_channel=False, offline=True, words=WORDS, ruleset=RULES[scenario.climate])


def yard(climate, date, hives):
    rows = "\n".join(f"  - {{id: H{i}, facts: {BOX % facts}}}" for i, facts in enumerate(hives))
    return f"scenario: noted\nclimate: {climate}\ndate: {date}\nhives:\n{rows}\n"


@pytest.mark.parametrize("climate", profile_ids())
@pytest.mark.parametrize("of_yard", [True, False], ids=["what binds a yard", "other values"])
def test_every_value_that_is_not_as_it_should_be_gets_an_answer(climate, of_yard):
    """All words of all observed facts in a month of each climate: act, look, wait, sentence, or declared silence."""
    binding = [fact for fact in SEEN if fact.group == "health" or fact.id == "colony.robbed"]
    facts = binding if of_yard else [fact for fact in SEEN if fact not in binding and fact.id != "colony.alive"]
    values = [(fact, value) for fact in facts for value in fact.allowed]
    hives = [f"colony.frames_of_bees: 7, {fact.id}: {str(value).lower()}" for fact, value in values]
    month = 1 + (5 * profile_ids().index(climate) + of_yard) % 12
    found = told(yard(climate, f"2026-{month:02d}-15", hives))
    for row, ((fact, value), hive) in enumerate(zip(values, found.plan.hives, strict=True)):
        assert law_n.is_answered(fact.id, row, hive, found.inference, WORDS), (climate, month, fact.id, value)


@pytest.mark.parametrize(
    ("facts", "part"),
    [
        ("moisture.lid: droplets, colony.frames_of_bees: 6", "breath of the bees"),
        ("moisture.mould: outer_frames, colony.frames_of_bees: 6", "usual by now"),
    ],
)
def test_a_small_sign_in_the_cold_gets_its_sentence_beside_leaving_it_closed(facts, part):
    text = yard(
        "cool_maritime",
        "2027-01-12",
        [f"food.stores_kg: 15, weather.high_c: 5, weather.open_high_c: 4, colony.sealed_brood: false, {facts}"],
    )
    hive = told(text).plan.hives[0]
    assert "leave-closed" in {a.action for a in hive.advice}
    assert part in " ".join(METRIC.say(one.says) for one in hive.noted)


def test_few_bees_in_midwinter_get_their_sentence_where_no_job_speaks_of_them():
    """In a nucleus box already nothing is left to do; in a full box the move to one speaks of them, at two frames a look does."""
    text = yard(
        "cool_maritime",
        "2027-01-12",
        [
            f"food.stores_kg: 15, weather.high_c: 5, weather.open_high_c: 4, colony.sealed_brood: false, colony.frames_of_bees: {frames}"
            for frames in (2.5, 2.5, 2)
        ],
    )
    nucleus, full, two = told(text.replace("hive.size: single", "hive.size: nuc", 1)).plan.hives
    assert "few for midwinter" in " ".join(METRIC.say(one.says) for one in nucleus.noted)
    assert "move-to-nuc" in {one.action for one in full.withheld} and "lid-check" in {a.action for a in two.advice}
    assert not full.noted and not two.noted


def test_it_is_said_once_a_season():
    base = """
scenario: twice
climate: cool_maritime
date: 2027-01-20
hives:
  - id: A
    facts: {hive.size: single, hive.frames: 10, hive.frame: deep, hive.insulation: roof, hive.top_vent: small}
    observed:
      - {date: 2026-12-20, colony.frames_of_bees: 6, food.stores_kg: 18, moisture.lid: FIRST}
      - {date: 2027-01-18, moisture.lid: droplets}
"""

    def said(first, date=None):
        hive = told(base.replace("FIRST", first), date).plan.hives[0]
        return [(one.fact, one.value, one.seen) for one in hive.noted]

    found = [("moisture.lid", "droplets", dt.date(2027, 1, 18))]
    assert said("dry") == found and said("droplets") == []
    assert said("dry", dt.date(2027, 1, 31)) == found and said("dry", dt.date(2027, 2, 1)) == []


def test_what_a_job_rests_on_gets_no_sentence_and_a_dead_hive_none():
    cold = "weather.high_c: 5, weather.open_high_c: 4, weather.low_c: -1, food.stores_kg: 15, colony.frames_of_bees: 6"
    plan = told(
        yard(
            "cool_maritime",
            "2027-01-12",
            [f"moisture.lid: dripping, {cold}", "moisture.lid: droplets, colony.alive: false"],
        )
    ).plan
    assert "dry-the-lid" in {a.action for a in plan.hives[0].advice} and plan.hives[0].noted == []
    assert plan.hives[1].noted == []


def test_every_sentence_is_short_and_the_places_of_a_file_are_found(tmp_path):
    for noted in WORDS.noted.values():
        for row in noted.rows:
            assert len(row.say) <= 320 and row.say.count(". ") <= 3 and "!" not in row.say, row.say
    source = (content.root() / "rulesets" / "vocabulary").resolve()
    for path in source.rglob("*.yaml"):
        copy = tmp_path / path.relative_to(source)
        copy.parent.mkdir(parents=True, exist_ok=True)
        text = path.read_text(encoding="utf-8")
        if path.name == "noted.yaml":
            text = text.replace("silent: [dry]", "silent: [dump]").replace(
                "{mites.drop_per_day} fall", "{mites.drop} fall"
            )
            text = text.replace("  - {fact: hive.gaps,", "  - {fact: hive.tilt,")
        copy.write_text(text, encoding="utf-8")
    with pytest.raises(InputProblems) as wrong:
        vocabulary.read_vocabulary(tmp_path)
    said = [(p.code, p.message) for p in wrong.value.problems]
    assert any(code == "unknown-value" and "'dump' is no value" in text for code, text in said)
    assert any(code == "unknown-fact" and "{mites.drop}" in text for code, text in said)
    assert any(code == "missing-key" and "'hive.gaps' can be seen and has no entry" in text for code, text in said)
    assert any(code == "missing-key" and "no answer at any time for dry" in text for code, text in said)

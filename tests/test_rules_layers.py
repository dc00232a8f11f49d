"""Layers of rules: overlays, jurisdictions, climates, what may move and what may not, and every problem in one run."""

from __future__ import annotations

from pathlib import Path

import pytest

from hiveweek import rules, vocabulary
from hiveweek.problems import InputProblems

WORDS = vocabulary.load()
TRAITS = {"climate.snow_weeks": 10.0, "climate.winter_weeks": 20.0}
BASE = """
ruleset: food
version: 1
limits:
  low_kg: {value: 5, unit: kg, source: common-practice, status: practice}
rules:
  - id: food.short
    when: food.stores_kg < limit.food.low_kg
    finding: short-of-food
  - id: food.feed
    when: [finding.short-of-food]
    advise: feed-candy
    stakes: {loses: colony, gain_pts: 30, source: judgement}
    because: "Stores are {food.stores_kg}."
    safety: "Lay it on quickly."
    source: common-practice
    evidence: practice
"""
SAFETY = """
version: 1
limits:
  cold_c: {value: 10, unit: degC, source: common-practice, status: practice, tighter: up, band: [8, 12]}
prohibitions:
  - id: no-syrup-in-cold
    never: [feed-thin-syrup]
    when: weather.high_c < limit.safety.cold_c
    effect: stop
    if_unknown: ask
    because: "Syrup is not taken in the cold."
    source: common-practice
"""


@pytest.fixture
def small(tmp_path):
    """A small rulesets folder; ``write`` adds files to it and ``load`` reads it."""

    class Small:
        folder = tmp_path / "rulesets"

        def write(self, path, text):
            target = self.folder / path
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_text(text, encoding="utf-8")
            return target

        def load(self, profile="long_snow_cover", **more):
            return rules.load(profile, TRAITS, vocabulary=WORDS, folder=self.folder, **more)

        def problems(self, profile="long_snow_cover", **more):
            with pytest.raises(InputProblems) as caught:
                self.load(profile, **more)
            return caught.value.problems

    made = Small()
    made.write("base/food.yaml", BASE)
    made.write("safety.yaml", SAFETY)
    return made


def _overlay(name, body, layer="profile", wanted="[long_snow_cover]"):
    return f"overlay: {name}\nlayer: {layer}\n" + (f"for: {wanted}\n" if wanted else "") + f"version: 1\n{body}\n"


LOWER = (
    'override:\n  - {limit: limit.food.low_kg, value: 8, was: 5, reason: "long winters here", source: common-practice}'
)


def test_an_overlay_moves_a_limit_where_it_holds_and_says_so(small):
    small.write("overlays/north.yaml", _overlay("north", LOWER))
    limit = small.load().limits["limit.food.low_kg"]
    assert (limit.value, limit.origin, limit.note) == (8.0, "profile overlay north", "long winters here")
    assert small.load("mild_maritime").limits["limit.food.low_kg"].value == 5.0
    assert [o["name"] for o in small.load().overlays] == ["north"] and small.load("mild_maritime").overlays == []


def test_an_overlay_changes_a_field_disables_and_adds(small):
    small.write(
        "overlays/north.yaml",
        _overlay(
            "north",
            """
override:
  - {rule: food.short, field: when, value: "food.stores_kg < 7", was: "food.stores_kg < limit.food.low_kg", reason: "as here", source: common-practice}
disable:
  - {rule: food.feed, reason: "another way here"}
add:
  reason: another way here
  limits:
    far: {value: 3, unit: kg, source: common-practice}
  rules:
    - id: north.feed
      when: food.stores_kg < limit.north.far
      advise: feed-candy
      stakes: {loses: colony, gain_pts: 10, source: judgement}
      because: "Stores are {food.stores_kg}."
      safety: "Lay it on quickly."
      source: common-practice
      evidence: practice""",
        ),
    )
    merged = small.load()
    assert sorted(merged.rules) == ["food.short", "north.feed"]
    assert merged.rules["food.short"].when.right == 7.0 and merged.rules["food.short"].layer == "profile overlay north"
    assert merged.disabled == [{"rule": "food.feed", "layer": "profile overlay north", "reason": "another way here"}]
    assert merged.limits["limit.north.far"].value == 3.0
    edit = dict(merged.rules["food.short"].edits[0])
    assert edit["field"] == "when" and edit["reason"] == "as here" and edit["place"].endswith("north.yaml:7:44")
    assert sorted(small.load("mild_maritime").rules) == ["food.feed", "food.short"]


def test_layers_come_in_their_order_and_each_names_the_value_before(small, tmp_path):
    small.write("overlays/north.yaml", _overlay("north", LOWER))
    mine = tmp_path / "mine.yaml"
    mine.write_text(
        _overlay("mine", LOWER.replace("value: 8, was: 5", "value: 9, was: 8"), "author", ""), encoding="utf-8"
    )
    yard = tmp_path / "yard.yaml"
    yard.write_text(
        _overlay("yard", LOWER.replace("value: 8, was: 5", "value: 10, was: 9"), "apiary", ""), encoding="utf-8"
    )
    for order in ([mine, yard], [yard, mine]):
        limit = small.load(extra=order).limits["limit.food.low_kg"]
        assert (limit.value, limit.origin) == (10.0, "apiary overlay yard")
    assert [o["name"] for o in small.load(extra=[yard, mine]).overlays] == ["north", "mine", "yard"]
    assert {p.code for p in small.problems(extra=[yard])} == {"stale-was"}


@pytest.mark.parametrize(
    ("body", "code", "said"),
    [
        (LOWER.replace("was: 5", "was: 6"), "stale-was", "is now 5"),
        (LOWER.replace("low_kg", "low_kgs"), "unknown-target", "nearest: limit.food.low_kg"),
        (LOWER.replace("value: 8", "value: yes"), "wrong-type", "needs a number"),
        (
            'override:\n  - {rule: food.shrt, field: when, value: x, was: y, reason: "as here", source: common-practice}',
            "unknown-target",
            "nearest: food.short",
        ),
        (
            'override:\n  - {rule: food.feed, field: because, value: "New.", was: "Other.", reason: "as here", source: common-practice}',
            "stale-was",
            "is now 'Stores are {food.stores_kg}.' at",
        ),
        (LOWER.replace(", source: common-practice", ""), "missing-key", "lacks 'source'"),
        ('disable:\n  - {rule: no-syrup-in-cold, reason: "as here"}', "locked", "cannot be switched off"),
        (
            'override:\n  - {value: 3, was: 4, reason: "as here", source: common-practice}',
            "missing-key",
            "'rule' with 'field'",
        ),
        (
            'override:\n  - {rule: food.feed, field: chance, value: often, was: 0.5, reason: "as here", source: common-practice}',
            "wrong-type",
            "'value' is a number; 'often' is not",
        ),
        (
            'override:\n  - {rule: food.feed, field: evidence, value: gide, was: guide, reason: "as here", source: common-practice}',
            "unknown-value",
            "nearest: guide",
        ),
        ('disable:\n  - {rule: food.fed, reason: "as here"}', "unknown-target", "nearest: food.feed"),
        (
            'override:\n  - {rule: food.short, field: when, value: "food.stors_kg < 3", was: "food.stores_kg < limit.food.low_kg", reason: "as here", source: common-practice}',
            "unknown-fact",
            "nearest: food.stores_kg",
        ),
    ],
)
def test_a_wrong_overlay_is_an_error_with_its_place(small, body, code, said):
    small.write("overlays/north.yaml", _overlay("north", body))
    found = small.problems()
    assert code in {p.code for p in found}
    problem = next(p for p in found if p.code == code)
    assert said in problem.message and problem.file.endswith("north.yaml") and problem.line > 4


@pytest.mark.parametrize(
    "body",
    [
        LOWER,
        'disable:\n  - {rule: food.feed, reason: "not here"}',
        'override:\n  - {rule: food.feed, field: evidence, value: guide, was: practice, reason: "as here", source: common-practice}',
    ],
)
def test_two_peers_on_one_thing_are_an_error_that_shows_both_places(small, body):
    small.write("overlays/north.yaml", _overlay("north", body))
    small.write("overlays/east.yaml", _overlay("east", body, wanted="[long_snow_cover, cold_steppe]"))
    found = [p for p in small.problems() if p.code == "two-peers"]
    assert len(found) == 1
    shown = str(found[0])
    assert "north.yaml" in shown and "east.yaml" in shown
    assert small.load("mild_maritime").rules and small.load("cold_steppe").rules


@pytest.mark.parametrize(
    ("value", "allowed"), [(11, True), (12, True), (9, True), (8, True), (7.5, False), (-5, False)]
)
def test_a_safety_limit_may_tighten_or_stay_in_its_published_band(small, value, allowed):
    small.write(
        "overlays/north.yaml",
        _overlay(
            "north",
            f'override:\n  - {{limit: limit.safety.cold_c, value: {value}, was: 10, reason: "as here", source: common-practice}}',
        ),
    )
    if allowed:
        assert small.load().limits["limit.safety.cold_c"].value == value
    else:
        assert [p.code for p in small.problems()] == ["loosens-safety"]


def test_a_rule_is_not_changed_and_switched_off_in_one_layer(small, tmp_path):
    change = 'override:\n  - {rule: food.feed, field: evidence, value: guide, was: practice, reason: "as here", source: common-practice}'
    off = 'disable:\n  - {rule: food.feed, reason: "not here"}'
    for first, second in ((change, off), (off, change)):
        small.write("overlays/east.yaml", _overlay("east", first))
        small.write("overlays/north.yaml", _overlay("north", second))
        assert [p.code for p in small.problems()] == ["two-peers"]
    small.write("overlays/east.yaml", _overlay("east", off))
    small.write("overlays/north.yaml", _overlay("north", ""))
    mine = tmp_path / "mine.yaml"
    mine.write_text(_overlay("mine", change, "author", ""), encoding="utf-8")
    (problem,) = small.problems(extra=[mine])
    assert problem.code == "unknown-target" and "switched off by profile overlay east" in problem.message


def test_a_safety_limit_without_a_direction_does_not_move(small):
    small.write("safety.yaml", SAFETY.replace(", tighter: up, band: [8, 12]", ""))
    for value in (9, 11):
        small.write(
            "overlays/north.yaml",
            _overlay(
                "north",
                f'override:\n  - {{limit: limit.safety.cold_c, value: {value}, was: 10, reason: "as here", source: common-practice}}',
            ),
        )
        assert [p.code for p in small.problems()] == ["loosens-safety"]


def test_tightening_twice_never_ends_looser_than_the_base(small, tmp_path):
    """Each layer is held against the value it replaces."""
    small.write("safety.yaml", SAFETY.replace(", band: [8, 12]", ""))
    small.write(
        "overlays/north.yaml",
        _overlay(
            "north",
            'override:\n  - {limit: limit.safety.cold_c, value: 14, was: 10, reason: "as here", source: common-practice}',
        ),
    )
    mine = tmp_path / "mine.yaml"
    mine.write_text(
        _overlay(
            "mine",
            'override:\n  - {limit: limit.safety.cold_c, value: 12, was: 14, reason: "as here", source: common-practice}',
            "author",
            "",
        ),
        encoding="utf-8",
    )
    assert [p.code for p in small.problems(extra=[mine])] == ["loosens-safety"]


def test_an_overlay_named_by_a_user_is_theirs(small, tmp_path):
    mine = tmp_path / "mine.yaml"
    mine.write_text(_overlay("mine", LOWER), encoding="utf-8")
    assert "unknown-value" in {p.code for p in small.problems(extra=[mine])}
    assert {p.code for p in small.problems(extra=[tmp_path / "none.yaml"])} == {"no-file"}


def test_a_misspelt_key_of_a_jurisdiction_is_told(small):
    small.write(
        "jurisdictions/erewhon.yaml",
        "jurisdiction: erewhon\nname: Erewhon\nchecked: 2026-01-01\nnote: none\nnotifable: []\n",
    )
    found = [(p.line, p.code) for p in small.problems() if "nearest: notifiable" in p.message]
    assert found == [(5, "unknown-key")]


def test_a_jurisdiction_holds_only_where_it_is_named(small):
    small.write(
        "jurisdictions/erewhon.yaml",
        "jurisdiction: erewhon\nname: Erewhon\nchecked: 2026-01-01\nnote: none\n"
        + LOWER.replace("value: 8", "value: 6"),
    )
    assert small.load().limits["limit.food.low_kg"].value == 5.0
    here = small.load(jurisdiction="erewhon")
    assert (
        here.limits["limit.food.low_kg"].value == 6.0
        and here.limits["limit.food.low_kg"].origin == "jurisdiction erewhon"
    )
    assert here.jurisdiction["name"] == "Erewhon"
    problem = small.problems(jurisdiction="erewhn")[0]
    assert problem.code == "unknown-jurisdiction" and "nearest: erewhon" in problem.message


@pytest.mark.parametrize(
    ("climates", "holds"),
    [
        ("all", True),
        ("[long_snow_cover, boreal]", True),
        ("[mild_maritime]", False),
        ('{where: ["climate.snow_weeks >= 8"]}', True),
        ('{where: ["climate.snow_weeks >= 12"]}', False),
        ('{where: ["climate.snow_weeks >= 8", "climate.winter_weeks < 10"]}', False),
        ('{where: ["climate.koppen is known"]}', False),
        ('{where: ["climate.koppen is unknown"]}', True),
    ],
)
def test_a_topic_stands_only_in_its_climates(small, climates, holds):
    small.write("base/food.yaml", BASE.replace("version: 1\n", f"version: 1\nclimates: {climates}\n"))
    merged = small.load()
    assert bool(merged.rules) is holds
    assert "limit.food.low_kg" in merged.limits  # other topics may name it wherever they stand


def test_a_climate_condition_may_name_climate_facts_only(small):
    small.write(
        "base/food.yaml", BASE.replace("version: 1\n", 'version: 1\nclimates: {where: ["food.stores_kg < 3"]}\n')
    )
    assert any("only climate facts" in p.message for p in small.problems())


def test_a_cycle_of_findings_is_printed_whole(small):
    ring = "".join(f"  - id: food.r{k}\n    when: finding.f{(k + 1) % 3}\n    finding: f{k}\n" for k in range(3))
    small.write("base/food.yaml", f"ruleset: food\nversion: 1\nrules:\n{ring}")
    assert [p.message for p in small.problems() if p.code == "cycle"] == [
        "findings that wait for each other: f0 -> f1 -> f2 -> f0"
    ]


def test_all_problems_of_all_files_come_in_one_run(small):
    small.write(
        "base/food.yaml",
        BASE.replace("food.stores_kg < limit", "food.stores_kgs < limit").replace(
            "advise: feed-candy", "advise: feed-candi"
        ),
    )
    small.write("safety.yaml", SAFETY.replace("weather.high_c", "weather.hi_c"))
    small.write("overlays/north.yaml", _overlay("north", LOWER.replace("was: 5", "was: 1")))
    found = small.problems()
    assert {"unknown-fact", "unknown-action", "stale-was"} <= {p.code for p in found}
    assert {Path(p.file).name for p in found} == {"food.yaml", "safety.yaml", "north.yaml"}
    assert found == sorted(found)

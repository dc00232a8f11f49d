"""Moved numbers reach what is computed: by overlays, for every root, and for each limit that a model reads."""

import ast
import datetime as dt
import fnmatch
import json
import sys
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

import hiveweek
from hiveweek import climate, content, facts, numbers, vocabulary
from hiveweek.climate import weather
from hiveweek.facts.estimate_mites import LIMITS, limit_in_force
from hiveweek.inference.columnar import infer
from hiveweek.language.truth import TRUE
from hiveweek.numbers.moving import SAFETY
from hiveweek.plan import ranking
from hiveweek.plan.answer import answer
from hiveweek.problems import InputProblems
from hiveweek.rules import effective_in, load, numbers_of, read_library
from hiveweek.rules.locked import locked, softened
from hiveweek.rules.reader import Overlay, Piece, RawRule
from hiveweek.shapes import marked_yaml

WORDS = vocabulary.load()
LIBRARY = read_library(WORDS)
SCENARIOS = sorted(
    path for path in (content.root() / "scenarios").rglob("*.yaml") if not path.name.endswith(".cases.yaml")
)


def overlay(tmp_path, *entries, name="mine"):
    """Write an overlay of the author's own with these entries under override; return its path."""
    path = tmp_path / f"{name}.yaml"
    lines = [f"overlay: {name}", "layer: author", "version: 1", "override:", *(f"  - {{{entry}}}" for entry in entries)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def moving(name, value, was, more=""):
    return f'number: {name}, value: {value}, was: {was}, reason: "as measured here"{"" if "source:" in more else ", source: common-practice"}{more}'


def problems_of(path):
    with pytest.raises(InputProblems) as caught:
        load(climate.load_profile("cool_continental"), vocabulary=WORDS, extra=[path])
    return caught.value.problems


# --- every number is read, and only from the store that was handed over ---------------------------------------------------


def reads():
    """Return (group, pattern of names) for every place of the package that reads a number by its name."""
    found = set()

    def group_of(node):
        return node.attr if isinstance(node, ast.Attribute) else getattr(node, "id", None)

    def name_of(node):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            return node.value
        if isinstance(node, ast.JoinedStr):
            return "".join(p.value if isinstance(p, ast.Constant) else "*" for p in node.values)
        return "*" if isinstance(node, ast.Name) else None

    for path in Path(hiveweek.__file__).parent.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Attribute) and group_of(node.value):
                found.add((group_of(node.value), node.attr))
            elif isinstance(node, ast.Subscript) and group_of(node.value):
                found.add((group_of(node.value), name_of(node.slice)))
            elif isinstance(node, ast.Call) and getattr(node.func, "id", "") == "getattr" and group_of(node.args[0]):
                found.add((group_of(node.args[0]), name_of(node.args[1])))
    return {(group, pattern) for group, pattern in found if pattern}


READS = reads()
# Read by a name that stands in a content file or in a list, or from a branch that a variable holds: opening costs by action,
# recoveries by method of counting.
BY_LIST = {
    "plan.opening_costs": {"costs"},
    "plan.weights": {"weights"},
    "plan.troubles": {"numbers"},
    "plan.visits": {"numbers"},
    "plan.practice": {"numbers"},
    "plan.season": {"played", "numbers"},
    "model.mites": {"mites"},
}


@pytest.mark.parametrize("name", sorted(numbers.shipped()))
def test_every_number_is_read_by_something(name):
    _, group, last = name.split(".")
    groups = {group, *BY_LIST.get(name.rpartition(".")[0], ())}
    found = [pattern for at, pattern in READS if at in groups and fnmatch.fnmatchcase(last, pattern)]
    assert found, f"nothing reads {name}"
    if found == ["*"]:
        source = "".join(p.read_text(encoding="utf-8") for p in Path(hiveweek.__file__).parent.rglob("*.py"))
        source += (content.root() / "rulesets" / "ranking.yaml").read_text(encoding="utf-8")
        assert last in source or last.startswith(("lid", "frames")), f"nothing reads {name}"


@pytest.fixture
def no_shipped(monkeypatch):
    """The shipped store cannot be had: whoever was given another and asks for it all the same fails."""

    def refuse():
        raise AssertionError("the shipped numbers were asked for although others were given")

    for name, module in list(sys.modules.items()):
        if name.startswith("hiveweek.") and getattr(module, "shipped", None) is numbers.shipped:
            monkeypatch.setattr(module, "shipped", refuse)


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_an_answer_reads_only_the_store_of_its_ruleset(path, request):
    scenario = facts.read_scenario(path, words=WORDS)
    if isinstance(scenario.climate, dict) or scenario.rulesets:
        pytest.skip("no shipped climate, or overlays of its own")
    ruleset = effective_in(LIBRARY, climate.load_profile(scenario.climate), scenario.jurisdiction)
    ruleset.numbers = numbers.Numbers(dict(ruleset.numbers.rows))
    order = ranking.load(WORDS)
    request.getfixturevalue("no_shipped")
    for date in (scenario.date, scenario.date + dt.timedelta(days=91)):
        found = answer(
            scenario, date=date, offline=True, second_channel=False, words=WORDS, ruleset=ruleset, ranking=order
        )
        assert found.plan is not None


# --- an overlay reaches what is computed ----------------------------------------------------------------------------------


@cache
def demo(extra=(), date=None):
    scenario = facts.read_scenario(content.root() / "scenarios" / "demo.yaml", words=WORDS)
    return answer(scenario, date=date, offline=True, second_channel=False, words=WORDS, extra=extra)


def differing(before, after):
    """Return the facts that differ at some hive."""
    old, new = before.inference.table, after.inference.table
    return {
        name
        for name in WORDS.facts
        for part in ("value", "low", "high")
        if not np.array_equal(getattr(old.column(name), part), getattr(new.column(name), part), equal_nan=True)
    }


# Reserves that count only in their season, with a day of it: before winter, and before the last crop is over.
SEEN_ON = {"model.food.reserve_days": dt.date(2026, 10, 20), "model.food.season_reserve_days": dt.date(2026, 7, 1)}


@pytest.mark.parametrize(
    ("entry", "fact"),
    [
        (moving("model.bees.bees_per_dm2", 110, 130), "colony.bees"),
        (moving("model.hive.stores_estimate_sd", 0.2, 0.12), "food.days_left"),
        (moving("model.heat.roof_insulation_m", 0.1, 0.05), "food.need_kg"),
        (moving("model.food.reserve_days", 14, 21), "food.need_kg"),
        (moving("model.food.season_reserve_days", 28, 21), "food.need_kg"),
        (moving("model.mites.growth_per_day", 0.03, 0.021), "mites.per_100_at_winter_bees"),
        (moving("model.points.mites_late_middle", 35, 20), "mites.treat_pts"),
        (moving("weather.spread.year_spread", 1.3, 1.06), "weather.high_c"),
        (moving("weather.days.flight_high_c", 20, 12), "weather.flight_days"),
        (moving("season.winter.cluster_autumn_mean_c", 6, 10), "season.weeks_to_winter"),
        (moving("season.winter.cluster_autumn_mean_c", 6, 10), "climate.winter_weeks"),
    ],
)
def test_an_overlay_reaches_the_facts(tmp_path, entry, fact):
    date = next((day for name, day in SEEN_ON.items() if name in entry), None)
    assert fact in differing(demo(date=date), demo((overlay(tmp_path, entry),), date))


def test_an_overlay_reaches_the_ranking(tmp_path):
    path = overlay(tmp_path, moving("plan.weights.first_shown", 2, 5))
    assert len(demo().plan.first) == 5 and len(demo((path,)).plan.first) == 2


def test_a_moved_climate_changes_which_topics_take_part(tmp_path):
    profile = climate.load_profile("mild_maritime")
    path = overlay(tmp_path, moving("season.winter.cluster_autumn_mean_c", -20, 10))
    before, after = (load(profile, vocabulary=WORDS, extra=extra) for extra in ((), [path]))
    assert set(before.rules) != set(after.rules)
    assert profile.traits()["climate.winter_weeks"] > 0
    assert profile.with_numbers(after.numbers).traits()["climate.winter_weeks"] == 0


SAMPLED = {
    "hive.size": "single",
    "hive.frames": 10,
    "hive.frame": "deep",
    "colony.alive": True,
    "colony.frames_of_bees": 8,
    "mites.sample_mites": 4,
    "mites.sample_bees": 200,
    "mites.method": "wash",
}


def yard(date, profile_id, *hives):
    data = "\n".join(
        f"  - {{id: H{i}, facts: {{{', '.join(f'{k}: {str(v).lower()}' for k, v in hive.items())}}}}}"
        for i, hive in enumerate(hives)
    )
    return f"scenario: counts\nclimate: {profile_id}\ndate: {date}\napiary: {{name: Y}}\nhives:\n{data}\n"


def built(tmp_path, date, profile, store, *hives):
    path = tmp_path / "yard.yaml"
    path.write_text(yard(date, profile.id, *hives), encoding="utf-8")
    profile = profile.with_numbers(store)
    week = weather.week(profile, date, offline=True, numbers=store)
    return facts.build(facts.read_scenario(path, words=WORDS), date, profile, week, WORDS, numbers=store).table


@pytest.mark.parametrize("name", LIMITS)
def test_a_moved_limit_moves_the_facts_that_a_model_works_out_against_it(tmp_path, name):
    profile = climate.load_profile("cool_continental")
    store = numbers_of(LIBRARY, profile.id)
    row = store[name]
    value = row.band[0] if row.value != row.band[0] else row.band[1]
    entry = moving(name, value, f"{row.value:g}").replace("number:", "limit:")
    moved = numbers_of(read_library(WORDS, extra=[overlay(tmp_path, entry)]), profile.id)
    assert moved[name].value == value and moved[name].origin == "author overlay mine"
    hives = (SAMPLED, {**SAMPLED, "colony.frames_of_brood": 0})
    if name.endswith("weeks_before_winter_bees"):  # it parts late summer from summer: seen where their limits differ
        store, moved = (
            other.moved([replace(other["limit.mites_deciding.summer"], value=5.0)]) for other in (store, moved)
        )
    changed = set()
    for week in range(0, 52, 4):
        date = dt.date(2026, 1, 5) + dt.timedelta(weeks=week)
        before, after = (built(tmp_path, date, profile, given, *hives) for given in (store, moved))
        for fact in ("mites.chance_over_limit", "mites.more_bees"):
            if not np.array_equal(before.column(fact).value, after.column(fact).value, equal_nan=True):
                changed.add(fact)
    assert changed == {"mites.chance_over_limit", "mites.more_bees"}


@pytest.mark.parametrize("profile_id", ["cool_continental", "long_snow_cover", "mild_maritime", "southern_maritime"])
def test_the_limit_in_force_is_the_one_at_which_the_rules_ask_for_treatment(tmp_path, profile_id):
    profile = climate.load_profile(profile_id)
    ruleset = effective_in(LIBRARY, profile)
    seen = set()
    for week in range(0, 52, 3):
        date = dt.date(2026, 1, 5) + dt.timedelta(weeks=week)
        hive = {k: v for k, v in SAMPLED.items() if not k.startswith("mites.")}
        limit = limit_in_force(built(tmp_path, date, profile, ruleset.numbers, hive), ruleset.numbers)[0]
        table = built(
            tmp_path,
            date,
            profile,
            ruleset.numbers,
            {**hive, "mites.per_100": limit},
            {**hive, "mites.per_100": round(limit - 0.1, 3)},
        )
        inference = infer(ruleset, table)
        at, under = (bool(truth == TRUE) for truth in inference.findings["mite-treatment-due"].point)
        brood = WORDS.facts["season.brood"].decode(table.column("season.brood").value[0])
        near = table.column("season.weeks_to_winter_bees").value[0] <= ruleset.limits[LIMITS[-1]].value
        if brood == "none" and near:
            continue  # the broodless hive has rules of its own
        assert at and not under, f"{date} {brood}: {limit:g}"
        seen.add(brood)
    assert {"rising", "full", "falling"} <= seen


# --- what is refused ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("entry", "code", "words", "key"),
    [
        (
            moving("model.mites.grow_per_day", 0.02, 0.021),
            "unknown-target",
            "nearest: model.mites.growth_per_day",
            "number",
        ),
        (moving("season.phase", 1, 2), "unknown-target", "is no number", "number"),
        (moving("model.mites.growth_per_day", 0.02, 0.5), "stale-was", "is now 0.021", "was"),
        (moving("model.mites.growth_per_day", 0.09, 0.021), "outside-band", "0.015 to 0.03", "value"),
        (moving("model.mites.growth_per_day", "fast", 0.021), "wrong-type", "needs a number", "value"),
        (moving("model.heat.oxygen_j_per_ml", 21, 20.9), "constant", "nothing moves it", "number"),
        (moving("model.points.insulation_cold", 3, 8), "wrong-type", "corners", "value"),
        (moving("model.mites.growth_per_day", 0.02, 0.021, ", source: [W999]"), "unknown-source", "W999", "source"),
        (
            moving("model.mites.growth_per_day", 0.02, 0.021, ", status: sure"),
            "unknown-value",
            "seen, seen-2nd",
            "status",
        ),
        (
            'limit: limit.mites_deciding.sprung, value: 1, was: 2, reason: "as here", source: common-practice',
            "unknown-target",
            "is no limit; nearest: limit.mites_deciding.spring",
            "limit",
        ),
    ],
)
def test_a_wrong_move_is_told_with_its_place(tmp_path, entry, code, words, key):
    (problem,) = problems_of(overlay(tmp_path, entry))
    line = (tmp_path / "mine.yaml").read_text().splitlines()[4]
    assert problem.code == code and words in problem.message
    assert problem.line == 5 and problem.col >= line.index(f"{key}: ") + 1
    assert problem.file.endswith("mine.yaml")


def test_two_peers_on_one_number_are_an_error_that_shows_both(tmp_path):
    entry = moving("model.mites.growth_per_day", 0.02, 0.021)
    overlay(tmp_path, entry, name="east")
    overlay(tmp_path, entry, name="north")
    (problem,) = problems_of(tmp_path)
    assert problem.code == "two-peers" and "north.yaml" in str(problem) and "east.yaml" in str(problem)


def test_a_reason_lets_a_moved_value_lie_outside_its_band(tmp_path):
    path = overlay(
        tmp_path, moving("model.mites.growth_per_day", 0.05, 0.021, ', outside_band: "counted in this valley"')
    )
    row = load(climate.load_profile("cool_continental"), vocabulary=WORDS, extra=[path]).numbers[
        "model.mites.growth_per_day"
    ]
    assert (row.value, row.low, row.high) == (0.05, 0.015, 0.05)
    assert row.origin == "author overlay mine" and row.outside_band == "counted in this valley"


# --- what guards law, people and bees -------------------------------------------------------------------------------------


def refused(tmp_path, layer, **body):
    """Return the paths of what an overlay of a layer asks and may not have."""
    path = tmp_path / "mine.yaml"
    path.write_text(json.dumps({"overlay": "mine", "layer": layer, "version": 1, **body}), encoding="utf-8")
    document = marked_yaml.read(path, "mine.yaml")
    rules = {
        rule["id"]: RawRule(
            rule["id"], "mine", {"finding": Piece(document, ("add", "rules", n), rule["finding"])}, None
        )
        for n, rule in enumerate(body.get("add", {}).get("rules", ()))
    }
    found = list(softened(LIBRARY, Overlay("mine", layer, (), 1, document, rules)))
    assert {problem.code for problem in found} <= {"locked"}
    return len(found)


@pytest.mark.parametrize("layer", ["profile", "jurisdiction", "author", "apiary"])
def test_no_overlay_changes_or_switches_off_what_guards_law_people_and_bees(tmp_path, layer):
    first = {rule for rule, raw in LIBRARY.rules.items() if "band" in raw.pieces and raw.pieces["band"].value == 0}
    guards = {rule for topic in ("guards", "disease") for rule in LIBRARY.topics[topic].rules}
    guards = {rule for rule in guards if "finding" in LIBRARY.rules[rule].pieces}
    rules = sorted(first | guards | locked(LIBRARY).rules)
    fields = ["when", "unless", "advise", "finding", "by", "band", "stakes", "chance"]
    override = [
        {"rule": rule, "field": field, "value": 1, "was": 0, "reason": "not here"} for rule in rules for field in fields
    ]
    assert len(first) > 20 and len(guards) > 50
    assert refused(tmp_path, layer, override=override) == len(override)
    assert refused(tmp_path, layer, disable=[{"rule": rule, "reason": "not here"} for rule in rules]) == len(rules)
    words = [{**entry, "field": "because"} for entry in override]
    assert refused(tmp_path, layer, override=words) == 0


def test_nobody_adds_to_a_finding_that_holds_back_what_law_and_people_ask(tmp_path):
    holding = sorted(locked(LIBRARY).holding)
    added = {"rules": [{"id": f"mine.n{n}", "finding": name} for n, name in enumerate(holding)]}
    assert {"reported-already", "suspect-here"} <= set(holding)
    assert [refused(tmp_path, layer, add=added) for layer in ("author", "apiary")] == [len(holding)] * 2
    assert refused(tmp_path, "author", add={"rules": [{"id": "mine.one", "finding": "mine-alone"}]}) == 0


def test_a_limit_of_what_guards_law_people_and_bees_stays_in_its_band(tmp_path):
    limits = [LIBRARY.limits[name] for name in sorted(locked(LIBRARY).limits) if not name.startswith(SAFETY)]
    assert "limit.disease.cleared_days" in [limit.name for limit in limits]
    for limit in limits:
        low, high = limit.band or (limit.value, limit.value)
        for value, told in ((low, 0), (high, 0), (low - 1, 1), (high + 1, 1)):
            for key in ("limit", "number"):
                entry = {key: limit.name, "value": value, "was": limit.value, "reason": "x", "outside_band": "as here"}
                assert refused(tmp_path, "author", override=[entry]) == told, (limit.name, value)


def test_no_number_has_the_name_of_a_fact():
    assert not set(WORDS.facts) & {*numbers.shipped(), *LIBRARY.limits}

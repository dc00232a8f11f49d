"""What a beekeeper could argue about stands in YAML: no list of actions or facts, and no figure of advice, in Python.

The checks read the package as syntax trees. What they let pass is named below, each with its reason; an entry that nothing
needs any more is an error too.
"""

import ast
from functools import cache
from pathlib import Path

import pytest

import hiveweek
from hiveweek import climate, rules, vocabulary
from hiveweek.rules import traits_of

PACKAGE = Path(hiveweek.__file__).parent
WORDS = vocabulary.load()

# Modules that work facts out, or play a colony: they must name what they compute and what they compute it from.
COMPUTES = {
    "show/trends.py": "the lines of stores and mites that a page draws",
    "climate/profiles.py": "the climate of a profile as data",
    "climate/season.py": "the season facts of a day",
    "climate/traits.py": "the traits of a climate",
    "climate/weather.py": "the weather facts of a week",
    "colony/year.py": "laying and income from the season facts",
    "facts/build.py": "the fact table",
    "facts/courses.py": "the steps of the course in the hive",
    "facts/estimate_inputs.py": "what the models need of a hive",
    "facts/carried_mites.py": "the level of mites carried on",
    "facts/estimate_mites.py": "the mite facts",
    "facts/estimate_bees.py": "bees and brood",
    "facts/estimate_stores.py": "the stores",
    "facts/estimates.py": "food, damp and shelter",
    "facts/treatments.py": "the story of mite treatments",
    "facts/week_weather.py": "which temperature is never above which",
    "rules/law.py": "what the law of a place asks",
    "record/doing.py": "the feed and the treatments of jobs done",
    "authoring/normal.py": "what a normal colony shows",
    "practice/shown.py": "what a hidden colony shows",
    "practice/world.py": "what befalls hidden colonies by the season",
    "worth/advice.py": "what each of many simulated hives has beside it",
    "worth/jobs.py": "on which days of a simulated week a job can be done",
    "worth/keepers.py": "what jobs change at simulated hives",
    "worth/looks.py": "what looks at simulated hives find",
    "worth/notes.py": "which notes of simulated hives belong together",
    "worth/place.py": "the weather and the season of simulated years",
    "authoring/yards.py": "what hives like it show",
    "authoring/year.py": "what the models make of it",
}
# Single facts that other modules name.
NAMED = {
    "authoring/logic.py": {"climate.profile": "a proof is about one profile"},
    "authoring/prove.py": {"colony.alive": "of a dead colony nothing has to be advised"},
    "authoring/twins.py": {"apiary.hives": "a proof is about one yard: a hive, and perhaps a partner"},
    "climate/compare.py": {"climate.profile": "two profiles differ in it always"},
    "facts/consistency.py": {
        "mites.sample_mites": "two numbers that keepers swap",
        "mites.sample_bees": "two numbers that keepers swap",
        "hive.frames": "what the most seams are worked out from",
        "hive.supers": "what the most seams are worked out from",
    },
    "facts/constraints.py": {
        "hive.most_seams": "worked out where a file is read, before there is a table",
        "hive.frames": "what the most seams are worked out from",
        "hive.supers": "what the most seams are worked out from",
    },
    "plan/advise.py": {
        "food.stores_kg": "what was last reckoned: the food",
        "log.days_since_weighed": "a look at the food",
    },
    "plan/looks.py": {"weather.open_high_c": "what opening costs goes by the warmth of the best day"},
    "plan/quiet.py": {
        "weather.open_high_c": "said with 'leave it closed'",
        "season.phase": "said with 'leave it closed'",
    },
    "show/practice.py": {
        "weather.high_c": "what answers go by, told where nobody noted it",
        "weather.open_high_c": "what answers go by, told where nobody noted it",
        "weather.low_c": "what answers go by, told where nobody noted it",
    },
    "plan/deadlines.py": {"season.local_sign": "what moves the events of this year"},
    "plan/days_back.py": {"colony.alive": "a dead colony gets no advice for a living one"},
    "plan/last_reckoned.py": {
        "food.stores_kg": "what was last reckoned: the food",
        "food.frames_of_stores": "a look at the food",
        "food.hive_weight_kg": "a look at the food",
        "food.heft": "a look at the food",
    },
    "plan/week.py": {
        "colony.alive": "a dead colony gets no advice for a living one",
        "log.days_since_checked": "a key of the answer",
    },
    "plan/yard.py": {
        "season.phase": "a key of the answer",
        "site.minutes_from_home": "the way of a round",
        "weather.high_c": "a key of the answer",
    },
    "practice/season.py": {
        "weather.high_c": "the weather that was drawn",
        "weather.low_c": "the weather that was drawn",
        "weather.open_high_c": "the weather that was drawn",
    },
    "practice/sitting.py": {"weather.open_high_c": "what opening costs goes by the warmth of the best day"},
    "record/places.py": {"hive.moved_on": "a move to another apiary is an entry too"},
    "show/climate.py": {
        "climate.coldest_month_c": "a line of the screen",
        "climate.koppen": "a line of the screen",
        "climate.snow_weeks": "a line of the screen",
        "climate.winter_rh_pct": "a line of the screen",
        "climate.winter_weeks": "a line of the screen",
    },
    "vocabulary/definitions.py": {
        "mites.form": "the words of forms in other files",
        "mites.last_active": "the actives that an expectation may name",
        "season.phase": "the phases that an expectation may name",
    },
    "vocabulary/loader.py": {"mites.last_active": "the actives whose courses a fact may count"},
}
# Groups of facts that are named by their prefix.
PREFIXES = {
    "authoring/normal.py": {"season.": "the windows by which the normal colony's forage is declared"},
    "worth/place.py": {"season.": "the windows by which simulated forage goes"},
    "plan/yard.py": {"weather.": "the weather under the keys of the answer"},
    "facts/build_noted.py": {"law.": "what the law of the place says is at hand without season and models"},
    "show/climate.py": {"climate.": "the traits of a climate have their labels in the catalogue"},
    "rules/layering.py": {"climate.": "an overlay's place is told by climate facts alone"},
}
# Figures that are no matter of opinion, in any module of the rooms below.
ROOMS = ("colony/", "facts/", "plan/")
MATHEMATICS = {
    0: "nothing",
    1: "one, and all of a share",
    2: "a pair, both sides of a comb, a square",
    0.5: "half: the middle of a step, an even chance, the parameter of Jeffreys' prior",
    3: "a value with its low and high end",
    7: "days of a week",
    100: "per cent, per hundred bees",
    365: "days of a year",
    1e3: "g in a kg",
    1e-3: "W in a mW; against dividing by nothing",
    1e6: "J in a MJ",
    1e-6: "kg in a mg; against dividing by nothing",
    1e-9: "against dividing by nothing",
    1e-12: "against dividing by nothing",
}
# The others, by module. What a call of `numbers` refuses is let pass too: bounds that no hive reaches.
FIGURES = {
    "colony/damp.py": {
        216.68: "vapour in a cubic metre from its pressure, physics",
        273.15: "0 degC in K",
        60: "range of the formula of Magnus",
    },
    "colony/estimate.py": {
        1.2815515655446004: "80 % between both ends of a normal distribution",
        1.959963984540054: "95 % between both ends of a normal distribution",
    },
    "colony/food.py": {256: "hives worked on together, for the processor's cache"},
    "colony/heat.py": {86_400: "seconds a day", 3600: "seconds an hour"},
    "colony/mites.py": {
        5: "nodes of the quadrature",
        0.95: "the confidence of an interval that is asked for",
        1.959963984540054: "95 % between both ends of a normal distribution",
        1e9: "more bees than can be counted: keeps infinity out",
    },
    "colony/population.py": {1.96: "95 % between both ends of a normal distribution"},
    "colony/runway.py": {
        256: "hives worked on together, for the processor's cache",
        999: "days left beyond the horizon: the top of the fact's range",
        0.025: "the chances that days left are told for",
        0.1: "the chances that days left are told for",
        0.975: "the chances that days left are told for",
        5: "place of a column",
        6: "the last day of a week, counted from 0",
        10: "arrays of an empty apiary",
    },
    "colony/strength.py": {1.5: "boxes of one and a half", 1.96: "95 % between both ends of a normal distribution"},
    "facts/observed.py": {4096: "days whose words are kept in memory"},
    "facts/past.py": {512: "weeks that are kept", 2048: "rows of the tables that are built together, for memory"},
    "plan/since.py": {4: "days asked at once"},
    "plan/days_back.py": {0.6: "share of the hives from which all are asked, for speed"},
    "plan/answers.py": {4: "apiaries that make another process worth its start"},
    "colony/year.py": {
        60: "more weeks than a year has: a climate without that season",
        2023: "a common year",
        64: "calendars kept in memory",
        29: "29 February",
        58: "28 February in a year of 365 days, counted from 0",
        366: "days looked back: a year",
        400: "days looked ahead: a year and the reserve",
    },
    "facts/estimate_inputs.py": {
        5: "boxes: what the model of heat takes",
        3000: "days: longer ago than any model looks",
        30: "range of the fact, held where the file is not",
        45: "range of the fact, held where the file is not",
        250: "kg: what the model of food takes",
    },
    "facts/estimate_mites.py": {400: "days: what the model of growth takes"},
    "facts/estimate_bees.py": {
        200_000: "bees and cells: what the models take",
        0.95: "the low end stays above nothing",
    },
    "facts/estimate_stores.py": {10: "supers: what the model takes"},
    "facts/estimates.py": {
        250: "kg: what the model of food takes",
        998: "days: the last that a date is made of",
        40: "degC: what the model takes",
        50: "degC: what the model takes",
        60: "degC: what the model takes",
        4: "two sightings, two days",
    },
    "facts/implied.py": {4: "rounds in which what is implied may imply more"},
    "facts/reading.py": {
        1950: "the first year that a date may name",
        2150: "the year that no date may reach",
        8: "shapes kept in memory",
        60: "letters of a hive's id",
    },
    "facts/table.py": {4: "decimals of every cell", 1e12: "stands for infinity"},
    "facts/treatments.py": {10: "a day after all others", 7: "a day after all others"},
    "plan/advise.py": {1e15: "whole numbers that a float holds exactly"},
    "plan/deciding.py": {32: "sets kept at each step"},
    "plan/observing.py": {24: "sets kept at each step"},
    "plan/options.py": {4: "names said"},
    "plan/quiet.py": {
        180: "days ahead at which an event is looked for",
        360: "days ahead at which an event is looked for",
    },
    "plan/ways.py": {6371.0088: "km, the mean radius of the earth (IUGG)", 60: "minutes an hour"},
}
WORDS_OF_NUMBERS = "plan/words.py"  # rounding and units, for the screens


@cache
def modules() -> dict[str, ast.Module]:
    """Every module of the package as a tree, without its docstrings."""
    found = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        found[path.relative_to(PACKAGE).as_posix()] = plain(tree)
    return found


def plain(tree: ast.Module) -> ast.Module:
    """Take out strings that stand alone: docstrings."""
    for node in ast.walk(tree):
        for name in ("body", "orelse"):
            body = getattr(node, name, None)
            if isinstance(body, list):
                alone = [s for s in body if isinstance(s, ast.Expr) and isinstance(s.value, ast.Constant)]
                setattr(node, name, [s for s in body if s not in alone] or [ast.Pass()] * bool(body))
    return tree


def texts(tree: ast.AST) -> list[tuple[int, str]]:
    """Every text in a tree with its line."""
    return [(n.lineno, n.value) for n in ast.walk(tree) if isinstance(n, ast.Constant) and isinstance(n.value, str)]


def used(tree: ast.AST, known) -> dict[str, int]:
    """The known words that a tree holds, each with the line of its first use."""
    return {text: line for line, text in reversed(texts(tree)) if text in known}


def figures(tree: ast.AST) -> dict[float, int]:
    """The figures of a tree with the line of the first use: not the bounds that ``numbers`` refuses, nor places after a point."""
    passed: set[ast.AST] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in ("numbers", "round"):
            bounds = node.args[2:] if node.func.id == "numbers" else node.args[1:]
            passed.update(inner for bound in bounds for inner in ast.walk(bound))
    found: dict[float, int] = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and type(node.value) in (int, float) and node not in passed:
            found.setdefault(node.value, node.lineno)
    return found


def collected(tree: ast.AST, groups) -> list[tuple[int, list[str]]]:
    """Lists, tuples, sets and keys of mappings that hold two or more words of one group, with their lines."""
    found = []
    for node in ast.walk(tree):
        items = node.keys if isinstance(node, ast.Dict) else getattr(node, "elts", ())
        words = [i.value for i in items if isinstance(i, ast.Constant) and isinstance(i.value, str)]
        for group in groups:
            if sum(word in group for word in words) > 1:
                found.append((node.lineno, words))
                break
    return found


def test_no_action_is_named():
    found = [
        f"{name}:{line} {word}" for name, tree in modules().items() for word, line in used(tree, WORDS.actions).items()
    ]
    assert not found, "say at the action (rulesets/vocabulary/actions.yaml) what it is for: " + ", ".join(found)


def test_facts_are_named_where_they_are_computed_and_hardly_elsewhere():
    found = []
    for name, tree in modules().items():
        if name not in COMPUTES:
            facts = used(tree, WORDS.facts)
            found += [f"{name}:{line} {word}" for word, line in facts.items() if word not in NAMED.get(name, {})]
    assert not found, "say at the fact (rulesets/vocabulary/facts/) what it is for: " + ", ".join(found)


def test_no_group_of_facts_is_named_by_its_prefix():
    prefixes = {fact.group + "." for fact in WORDS.facts.values()}
    found = [
        f"{name}:{line} {word}"
        for name, tree in modules().items()
        for word, line in used(tree, prefixes).items()
        if word not in PREFIXES.get(name, {})
    ]
    assert not found, "ask the fact for its scope instead: " + ", ".join(found)


def test_the_plan_names_no_finding_and_lists_no_seasons():
    profile = climate.load_profile("cool_continental")
    ruleset = rules.load(profile.id, traits_of(profile), vocabulary=WORDS)
    findings = {rule.finding for rule in ruleset.rules.values() if rule.finding}
    assert len(findings) > 10
    seasons = [set(fact.values) for fact in WORDS.facts.values() if fact.values and fact.scope == "calendar"]
    found = []
    for name, tree in modules().items():
        if name.startswith("plan/"):
            found += [f"{name}:{line} {word}" for word, line in used(tree, findings).items()]
            found += [f"{name}:{line} {', '.join(words)}" for line, words in collected(tree, seasons)]
    assert not found, "findings and seasons stand in rulesets/ranking.yaml: " + ", ".join(found)


def test_the_models_and_the_plan_hold_no_figures_of_advice():
    found = [
        f"{name}:{line} {value:g}"
        for name, tree in modules().items()
        if name.startswith(ROOMS) and name != WORDS_OF_NUMBERS
        for value, line in figures(tree).items()
        if value not in MATHEMATICS and value not in FIGURES.get(name, {})
    ]
    assert not found, "a named number with unit and source (rulesets/vocabulary/numbers/): " + ", ".join(found)


def test_nothing_is_let_pass_that_is_not_there():
    trees = modules()
    stale = [f"{name} is gone" for name in {*COMPUTES, *NAMED, *PREFIXES, *FIGURES} - trees.keys()]
    stale += [name for name in COMPUTES if name in trees and not used(trees[name], WORDS.facts)]
    for kept, find in ((NAMED, used), (PREFIXES, used), (FIGURES, lambda tree, _: figures(tree))):
        for name, entries in kept.items():
            stale += [
                f"{name} {entry}" for entry in entries if name in trees and entry not in find(trees[name], entries)
            ]
    rooms = [figures(tree) for name, tree in trees.items() if name.startswith(ROOMS)]
    stale += [f"mathematics {value}" for value in MATHEMATICS if not any(value in room for room in rooms)]
    assert not stale, stale


@pytest.mark.parametrize(
    ("source", "finds"),
    [
        ('AT_HOME = {"order-queen", "get-help"}', ["order-queen", "get-help"]),
        ('if action == "leave-closed":\n    pass', ["leave-closed"]),
        ('"""leave-closed"""', []),
        ('def f():\n    """order-queen"""\n    return 1', []),
    ],
)
def test_an_action_in_a_module_would_be_seen(source, finds):
    assert sorted(used(plain(ast.parse(source)), WORDS.actions)) == sorted(finds)


def test_a_list_of_phases_in_a_module_would_be_seen():
    phases = [set(WORDS.facts["season.phase"].values)]
    assert collected(ast.parse('COLD = ("winter_cluster", "early_winter")'), phases)
    assert collected(ast.parse('x = {"winter_cluster": 1, "early_winter": 2}'), phases)
    assert not collected(ast.parse('x = ("winter_cluster", "cold")'), phases)


def test_a_figure_in_a_module_would_be_seen():
    source = 'LATE_WEEKS = 10.0\nstep = -14\nbees = numbers("bees", bees, 0, 200_000, "bees")\nlate = round(late, 4) > 42 * 7'
    assert figures(ast.parse(source)) == {10.0: 1, 14: 2, 42: 4, 7: 4}

"""The shipped vocabulary: complete, consistent, and every mistake in its files found with its place."""

import datetime as dt
import math

import pytest

from hiveweek import content, vocabulary
from hiveweek.climate.phases import PHASES
from hiveweek.climate.signs import SIGNS
from hiveweek.colony import mites, population, strength
from hiveweek.problems import InputProblems
from hiveweek.texts.reading import faults
from hiveweek.vocabulary.events import EVENTS

WORDS = vocabulary.load()
FOLDER = content.root() / "rulesets" / "vocabulary"


def looking_actions():
    return [action for action in WORDS.actions.values() if action.observes]


@pytest.mark.parametrize("fact", [f.id for f in WORDS.facts.values() if f.comes_from != "computed"])
def test_everything_a_keeper_can_know_is_told_by_some_look(fact):
    assert any(fact in action.observes for action in looking_actions())


@pytest.mark.parametrize("fact", [f.id for f in WORDS.facts.values() if f.observed_by])
def test_observations_behind_a_computed_fact_can_be_made(fact):
    for group in WORDS.facts[fact].observed_by:
        for name in group:
            assert WORDS.facts[name].comes_from != "computed", f"{name} cannot be seen"
            assert any(name in action.observes for action in looking_actions()), name


def test_no_look_claims_to_show_what_is_only_worked_out():
    for action in looking_actions():
        for name in action.observes:
            assert WORDS.facts[name].comes_from != "computed", (action.id, name)


def test_clashes_hold_both_ways():
    assert any(action.clashes for action in WORDS.actions.values())
    for action in WORDS.actions.values():
        for other in action.clashes:
            assert action.id in WORDS.actions[other].clashes
    assert "add-super" in WORDS.actions["treat-mites"].clashes
    assert "treat-mites" in WORDS.actions["add-super"].clashes


def test_every_word_has_a_label_and_a_line_on_how_to_see_it():
    for fact in WORDS.facts.values():
        assert fact.label and fact.how, fact.id
        assert "\n" not in fact.how and len(fact.how) < 160, fact.id
    for action in WORDS.actions.values():
        assert action.label and action.safety, action.id


def in_hives(action):
    return [text for kinds in action.in_hive.values() for text in kinds.values()]


def test_what_is_different_in_a_kind_of_hive_names_kinds_there_are():
    named = [
        (fact, kind) for action in WORDS.actions.values() for fact, kinds in action.in_hive.items() for kind in kinds
    ]
    assert named and all(kind in WORDS.facts[fact].values for fact, kind in named)


def test_the_quantities_of_labels_and_ways_to_look_can_be_read_for_sure():
    texts = [text for fact in WORDS.facts.values() for text in (fact.label, fact.how)]
    texts += [text for action in WORDS.actions.values() for text in (action.label, action.safety, *in_hives(action))]
    assert [fault for text in texts for fault in faults(text)] == []


def test_no_word_for_people_shouts_or_promises():
    texts = [text for fact in WORDS.facts.values() for text in (fact.label, fact.how, fact.note)]
    texts += [text for action in WORDS.actions.values() for text in (action.label, action.safety, *in_hives(action))]
    for text in texts:
        assert "!" not in text
        assert not {"safe", "harmless", "never fails"} & set(text.lower().replace(",", " ").split()), text


def test_season_has_days_to_every_event_and_only_those():
    named = {name.removeprefix("season.days_to_") for name in WORDS.facts if name.startswith("season.days_to_")}
    assert named == set(EVENTS)


def test_actions_that_open_frames_with_bees_carry_the_smoke_tag():
    no_smoke = {"clear-dead-colony", "install-package"}  # no bees, or bees just out of their travelling box
    for action in WORDS.actions.values():
        if action.opens == "frames" and action.id not in no_smoke:
            assert "smoke" in action.uses, action.id


def test_dead_colony_needs_these_actions():
    wanted = {
        "clear-dead-colony",
        "stop-robbing",
        "report-notifiable",
        "isolate-apiary",
        "update-records",
        "brood-disease-check",
    }
    assert wanted <= {name for name, action in WORDS.actions.items() if action.dead_ok}
    assert not {"feed-candy", "treat-mites", "unite-colonies", "requeen"} & {
        n for n, a in WORDS.actions.items() if a.dead_ok
    }


def test_yard_jobs_are_done_once():
    assert {"isolate-apiary", "provide-water", "fence-apiary"} <= {
        n for n, a in WORDS.actions.items() if a.scope == "apiary"
    }


@pytest.mark.parametrize(
    ("fact", "value", "code"),
    [
        ("food.stores_kg", 4, 4.0),
        ("hive.supers", 2, 2.0),
        ("colony.eggs", True, 1.0),
        ("colony.eggs", False, 0.0),
        ("hive.size", "nuc", 0.0),
        ("hive.size", "triple", 4.0),
        ("hive.moved_on", dt.date(2026, 2, 10), float(dt.date(2026, 2, 10).toordinal())),
        ("climate.profile", "boreal", None),
    ],
)
def test_values_survive_the_table(fact, value, code):
    number = WORDS.facts[fact].encode(value)
    if code is not None:
        assert number == code
    assert WORDS.facts[fact].decode(number) == value


@pytest.mark.parametrize(
    ("fact", "value"),
    [
        ("food.stores_kg", True),
        ("food.stores_kg", "4"),
        ("hive.supers", 1.5),
        ("colony.eggs", 1),
        ("hive.size", "huge"),
        ("hive.moved_on", "2026-02-10"),
    ],
)
def test_wrong_values_are_refused(fact, value):
    with pytest.raises(ValueError, match="needs"):
        WORDS.facts[fact].encode(value)


def test_unknown_is_nan_and_back():
    for fact in WORDS.facts.values():
        assert math.isnan(fact.encode(None))
        assert fact.decode(math.nan) is None


def test_implications_conclude_values_inside_the_range():
    for row in WORDS.implies:
        for name, value in row["then"].items():
            fact = WORDS.facts[name]
            assert fact.decode(value) is not None
            if fact.low is not None:
                assert fact.low <= value <= fact.high


# --- mistakes in vocabulary files -------------------------------------------------------------------------------------
FACT = "facts:\n  food.x:\n    kind: number\n    unit: kg\n    low: 0\n    high: 9\n    comes_from: observed\n    after: fades\n    keeps: 5\n    label: x\n    how: look\n"
ACTIONS = "actions:\n  look:\n    label: look\n    opens: lid\n    observes: [food.x]\n"


def codes(tmp_path, facts=FACT, actions=ACTIONS, **files):
    (tmp_path / "facts").mkdir()
    (tmp_path / "facts" / "food.yaml").write_text(facts)
    (tmp_path / "actions.yaml").write_text(actions)
    for name, text in files.items():
        (tmp_path / f"{name}.yaml").write_text(text)
    try:
        vocabulary.read_vocabulary(tmp_path)
    except InputProblems as error:
        return [(p.code, p.line, p.message) for p in error.problems]
    return []


def test_a_small_vocabulary_is_read(tmp_path):
    assert codes(tmp_path) == []


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ("kind: number", "kind: numbr", "unknown-value"),
        ("    high: 9\n", "", "missing-key"),
        ("high: 9", "high: -1", "no-range"),
        ("    keeps: 5\n", "", "missing-key"),
        ("    after: fades\n", "", "missing-key"),
        ("after: fades", "after: stands", "missing-key"),
        ("after: fades", "after: stands\n    stands: [1]\n    ended_by: [flood]", "unknown-end"),
        ("after: fades", "after: fades\n    ended_by: [look]", "wrong-type"),
        ("after: fades", "after: becomes\n    becomes: [{value: a, after_days: 1, to: b}]", "unknown-value"),
        ("    unit: kg\n", "", "missing-key"),
        ("    how: look\n", "", "missing-key"),
        ("keeps: 5", "keep: 5", "unknown-key"),
        ("label: x", "label: x\n    voided_by: [flood]", "unknown-act"),
        ("label: x", "label: x\n    observed_by: [[food.z]]", "unknown-fact"),
        ("label: x", "label: x\n    values: [a, b]", "wrong-type"),
        ("comes_from: observed", "comes_from: computed", "wrong-type"),
        ("food.x:", "feed.x:", "wrong-id"),
        ("label: x", "label: x\n    scope: garden", "unknown-value"),
        ("facts:", "scope: garden\nfacts:", "unknown-value"),
        ("label: x", "label: x\n    until: food.z", "unknown-fact"),
        ("label: x", "label: x\n    day: heat", "unknown-value"),
        ("label: x", "label: x\n    groups: {some: [a]}", "unknown-value"),
        ("label: x", "label: x\n    groups: [a]", "wrong-type"),
        ("facts:", "scop: apiary\nfacts:", "unknown-key"),
    ],
)
def test_mistakes_in_a_fact(tmp_path, old, new, code):
    assert old in FACT
    assert code in [c for c, _, _ in codes(tmp_path, facts=FACT.replace(old, new))]


def test_the_scope_of_a_file_holds_where_a_fact_has_none(tmp_path):
    (tmp_path / "facts").mkdir()
    own = FACT.replace("facts:\n", "").replace("food.x:", "food.y:") + "    scope: hive\n"
    (tmp_path / "facts" / "food.yaml").write_text("scope: apiary\n" + FACT + own)
    read = vocabulary.read_vocabulary(tmp_path).facts
    assert (read["food.x"].scope, read["food.y"].scope) == ("apiary", "hive")
    assert read["food.x"].shared and not read["food.y"].shared


def test_each_hive_has_its_own_of_what_is_in_and_on_it_and_the_yard_has_the_rest():
    def groups(scope):
        return {fact.group for fact in WORDS.facts.values() if fact.scope == scope}

    assert groups("hive") == {
        "course",
        "colony",
        "food",
        "harvest",
        "health",
        "hive",
        "inside",
        "log",
        "mites",
        "moisture",
        "shelter",
    }
    assert groups("apiary") == {"site", "stock", "keeper", "room", "weather", "season", "law"}
    assert [f.id for f in WORDS.facts.values() if f.group == "season" and f.scope == "apiary"] == ["season.local_sign"]
    assert groups("calendar") == {"season", "climate"} and groups("counted") == {"apiary"}


@pytest.mark.parametrize(
    ("fact", "known"),
    [
        ("season.phase", PHASES),
        ("season.local_sign", SIGNS),
        ("season.brood", population.BROOD_STATES),
        ("mites.method", mites.METHODS),
        ("food.heft", strength.HEFTS),
        ("hive.size", strength.SIZES),
    ],
)
def test_the_models_know_every_word_of_a_fact_they_read(fact, known):
    assert set(WORDS.facts[fact].values) == set(known)


def test_what_a_day_bounds_is_a_figure_of_its_weather():
    units = {"high_c": "degC", "mean_c": "degC", "low_c": "degC", "wind_kmh": "km/h", "dry": None, "wet": None}
    found = {fact.id: fact.day for fact in WORDS.facts.values() if fact.day}
    assert {WORDS.facts[name].group for name in found} == {"weather"}
    assert all(WORDS.facts[name].unit == units[day] for name, day in found.items())
    assert all(fact.id in found for fact in WORDS.facts.values() if fact.group == "weather" and fact.unit == "degC")
    assert all(fact.day for fact in WORDS.facts.values() if fact.needed_to_open)


def test_what_ends_with_a_date_ends_with_one_that_may_lie_ahead():
    ended = [fact for fact in WORDS.facts.values() if fact.until]
    assert [fact.id for fact in ended] == ["weather.fire_ban"]
    assert all(fact.kind == "yes_no" and WORDS.facts[fact.until].ahead for fact in ended)


def test_a_fact_defined_twice_names_the_first_place(tmp_path):
    (tmp_path / "facts").mkdir()
    (tmp_path / "facts" / "food.yaml").write_text(FACT)
    (tmp_path / "facts" / "feed.yaml").write_text(FACT)
    with pytest.raises(InputProblems) as caught:
        vocabulary.read_vocabulary(tmp_path)
    doubled = [p for p in caught.value.problems if p.code == "duplicate-id"]
    assert len(doubled) == 1 and "feed.yaml:2" in doubled[0].message and doubled[0].line == 2


@pytest.mark.parametrize(
    ("old", "new", "code", "line"),
    [
        ("food.x", "food.y", "unknown-fact", 5),
        ("opens: lid", "opens: lids", "unknown-value", 4),
        ("opens: lid", "opens: lid\n    clashes: [lok]", "unknown-action", 5),
        ("opens: lid", "opens: lid\n    kit: [crane]", "unknown-piece", 5),
        ("opens: lid", "opens: lid\n    clashes: [look]", "wrong-id", 5),
        ("opens: lid", "opens: lid\n    plans: lok", "unknown-action", 5),
        ("opens: lid", "opens: lid\n    at_home: maybe", "wrong-type", 5),
        ("opens: lid", "opens: lid\n    dry_hour: second", "unknown-value", 5),
        ("    opens: lid\n", "", "missing-key", 2),
    ],
)
def test_mistakes_in_an_action(tmp_path, old, new, code, line):
    found = codes(tmp_path, actions=ACTIONS.replace(old, new))
    assert (code, line) in [(c, n) for c, n, _ in found], found


def test_nearest_name_is_told(tmp_path):
    found = codes(tmp_path, actions=ACTIONS.replace("food.x]", "food.xx]"))
    assert any("nearest: food.x" in message for _, _, message in found)


@pytest.mark.parametrize(
    ("name", "text", "code"),
    [
        ("implies", "implies:\n  - {id: a, when: 'food.y > 0', then: {food.x: 1}}\n", "unknown-fact"),
        ("implies", "implies:\n  - {id: a, when: 'food.x > 0', then: {food.y: 1}}\n", "unknown-fact"),
        ("implies", "implies:\n  - {id: a, when: 'food.x > 0', then: {food.x: yes}}\n", "wrong-type"),
        ("constraints", "constraints:\n  - {id: a, holds: 'food.x <', note: n}\n", "cannot-read"),
        ("constraints", "constraints:\n  - {id: a, holds: 'food.x > 0'}\n", "missing-key"),
        ("acts", "acts:\n  a: {label: a, signs: [{turns: food.x, to: [b]}]}\n", "unknown-value"),
        ("acts", "acts:\n  a: {label: a, signs: [{on: food.x}]}\n", "wrong-type"),
        ("acts", "acts:\n  a: {label: a, signs: [{jumps: food.x}]}\n", "unknown-key"),
        ("acts", "acts:\n  a: {label: a, signs: [{turns: food.x}]}\n", "missing-key"),
        ("sources", "W1: {city: x}\n", "unknown-key"),
        ("kit", "kits: {a: b}\n", "unknown-key"),
        ("kit", "kit: {a: b}\nleft_at_home: {food.x: [a]}\n", "wrong-type"),
        ("kit", "kit: {a: b}\nleft_at_home: {food.z: [c]}\n", "unknown-piece"),
    ],
)
def test_mistakes_in_the_other_files(tmp_path, name, text, code):
    assert code in [c for c, _, _ in codes(tmp_path, **{name: text})]


def test_all_mistakes_come_in_one_run(tmp_path):
    found = codes(
        tmp_path,
        facts=FACT.replace("label: x", "lable: x"),
        actions=ACTIONS.replace("food.x", "food.y"),
        implies="implies:\n  - {id: a, when: 'food.q > 0', then: {food.x: 1}}\n",
    )
    assert len({c for c, _, _ in found}) >= 2 and len(found) >= 4


def test_a_folder_without_facts_is_said_so(tmp_path):
    with pytest.raises(InputProblems, match="facts"):
        vocabulary.read_vocabulary(tmp_path)


def test_values_that_turn_in_a_circle_are_told(tmp_path):
    (tmp_path / "facts").mkdir()
    turns = "[{value: a, after_days: 1, to: b}, {value: b, after_days: 2, to: a}]"
    text = f"facts:\n  food.x: {{kind: one_of, values: [a, b], comes_from: observed, after: becomes, becomes: {turns}, keeps: 5, label: x, how: look}}\n"
    (tmp_path / "facts" / "food.yaml").write_text(text)
    with pytest.raises(InputProblems, match="turns into itself"):
        vocabulary.read_vocabulary(tmp_path)

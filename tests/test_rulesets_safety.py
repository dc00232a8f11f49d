"""The shipped prohibitions, guards, treatment options and overlays hold together.

Expected numbers are those of published labels and guidance, named at each check.
"""

import re

import numpy as np
import pytest

from hiveweek import content, facts, rules, vocabulary
from hiveweek.facts.table import FactTable
from hiveweek.inference.columnar import infer
from hiveweek.language.terms import LimitRef, leaves, refs
from hiveweek.language.truth import TRUE, Truth
from hiveweek.shapes import marked_yaml

FILES = ["safety.yaml", "base/guards.yaml", "base/treatments.yaml"]
# prohibition -> the guards of which one must hold wherever it does
MIRRORS = {
    "no-frames-in-cold": ["frames-stay-shut"],
    "no-frames-in-cold-rescue": ["rescue-frames-stay-shut"],
    "no-long-job-in-cool": ["too-cool-for-long-jobs"],
    "no-long-job-in-cool-count": ["too-cool-for-counting"],
    "no-lid-in-hard-frost": ["lid-stays-shut"],
    "shut-while-robbed": ["robbing"],
    "shut-while-robbed-lid": ["robbing"],
    "leave-a-new-queen-alone": ["new-queen-in-peace"],
    "leave-joined-bees-alone": ["just-joined"],
    "no-liquid-in-cold": ["too-cold-for-syrup"],
    "no-liquid-in-cold-thin": ["too-cold-for-thin-syrup"],
    "no-syrup-after-its-season": ["syrup-season-over"],
    "no-syrup-into-robbing": ["robbing"],
    "no-protein-when-hungry": ["no-protein-now"],
    "no-overfeeding": ["no-more-food-needed"],
    "no-feed-beside-formic": ["no-feed-beside-formic"],
    "no-syrup-beside-thymol": ["no-syrup-beside-vapour"],
    "leave-their-winter": ["honey-stays-on"],
    "honey-not-fit-for-people": ["honey-stays-on"],
    "honey-not-fit-for-people-medicine": ["honey-stays-on"],
    "broodless-means-broodless": ["brood-present"],
    "oxalic-dribble-limits": ["no-dribble-now"],
    "one-medicine-at-a-time": ["medicine-in"],
    "medicine-and-supers-add": ["medicine-in", "honey-not-yet"],
    "mites-where-none-belong": ["not-mite-country"],
    "suspicion-stops-traffic": ["suspect-here"],
    "suspicion-stops-traffic-apiary": ["under-suspicion"],
    "official-standstill": ["standstill"],
    "dead-hive-is-evidence": ["dead-cause-open"],
    "no-split-of-weak-or-late": ["no-split"],
    "no-empty-space": ["no-empty-space"],
    "spare-the-queen": ["queen-stays"],
    "air-and-width": ["keep-the-width"],
    "shelter-and-moves-in-season": ["wrap-stays-on"],
    "shelter-and-moves-in-season-moves": ["too-cold-to-move"],
    "people-first": ["attacks-alone"],
    "people-first-lifts": ["not-lifted-alone"],
}


@pytest.fixture(scope="module")
def words():
    return vocabulary.load()


@pytest.fixture(scope="module")
def ruleset(words):
    library = rules.library(words)
    problems = list(library.problems)
    found = rules.effective(library, "cool_continental", {}, None, problems)
    assert not problems
    return found


def test_all_thirty_five_rows_are_there():
    document = marked_yaml.read(content.root() / "rulesets" / "safety.yaml")
    numbers = {body["no"] for body in document.data["prohibitions"]}
    assert numbers == set(range(1, 36))


@pytest.mark.parametrize("seed", range(6))
def test_a_guard_holds_wherever_its_prohibition_does(words, ruleset, seed):
    """Values at, just below and just above every limit, with half of the facts unknown."""
    rng = np.random.default_rng(seed)
    limits = {}
    read = set()
    findings = {name for guards in MIRRORS.values() for name in guards}
    conditions = [p.when for p in ruleset.prohibitions.values()] + [
        r.when for r in ruleset.rules.values() if r.finding in findings
    ]
    for condition in conditions:
        for ref in refs(condition):
            if not ref.is_finding:
                read.add(ref.name)
        for leaf in leaves(condition):
            right = getattr(leaf, "right", None)
            value = ruleset.limits[right.name].value if isinstance(right, LimitRef) else right
            if isinstance(value, float):
                limits.setdefault(leaf.left.name, set()).add(value)
    n = 3000
    table = FactTable(words, [str(i) for i in range(n)])
    for name in sorted(read):
        fact = words.facts[name]
        if fact.kind == "yes_no":
            values = rng.integers(0, 2, n).astype(float)
        elif fact.kind == "one_of":
            values = rng.integers(0, len(fact.values), n).astype(float)
        else:
            near = sorted(limits.get(name, {0.0}))
            values = rng.choice([x + d for x in near for d in (-1.0, 0.0, 1.0)], n)
            values = np.clip(
                values, fact.low if fact.low is not None else -1e9, fact.high if fact.high is not None else 1e9
            )
        values[rng.random(n) < 0.4] = np.nan
        table.set(name, values)
    found = infer(ruleset, table)
    seen = 0
    for name, guards in MIRRORS.items():
        holds = found.prohibitions[name].point == TRUE
        seen += int(holds.any())
        guarded = np.any([found.findings[guard].point == TRUE for guard in guards], axis=0)
        assert not np.any(holds & ~guarded), f"{name} holds where {' or '.join(guards)} does not"
    assert seen > 25


def test_a_rule_that_advises_a_super_names_both_guards_of_the_medicine(ruleset):
    """One guard alone would leave the prohibition to stop what the other half of it forbids."""
    advising = [rule for rule in ruleset.rules.values() if rule.advise == "add-super"]
    assert advising
    for rule in advising:
        guards = {ref.finding for ref in refs(rule.when) if ref.is_finding}
        assert set(MIRRORS["medicine-and-supers-add"]) <= guards, rule.id


def test_temperatures_are_those_of_the_labels(ruleset):
    """EU and UK texts: formic strips 10 to 29.5 degC, thymol gel 15 to 40, wafers 15 mean and under 30, dribble from 3."""
    value = {
        name.rpartition(".")[2]: limit.value
        for name, limit in ruleset.limits.items()
        if name.startswith("limit.safety.")
    }
    assert (value["formic_low_c"], value["formic_high_c"]) == (10, 29.5)
    assert (value["gel_low_c"], value["gel_high_c"]) == (15, 40)
    assert (value["wafer_mean_c"], value["wafer_high_c"]) == (15, 30)
    assert value["dribble_c"] == 3
    assert (value["moisture_pct"], value["heather_moisture_pct"]) == (20, 23)  # Directive 2001/110/EC, annex II


def test_every_safety_limit_says_which_way_is_tighter(ruleset):
    for name, limit in ruleset.limits.items():
        if name.startswith("limit.safety."):
            assert limit.tighter in ("up", "down"), name
            assert limit.source and limit.status, name


def test_overlays_never_loosen_outside_a_published_band(words, ruleset):
    library = rules.library(words)
    moved = 0
    for profile in sorted(p.stem for p in (content.root() / "climate_profiles").glob("*.yaml")):
        problems = []
        there = rules.effective(library, profile, {}, None, problems)
        assert not problems, profile
        for name, limit in there.limits.items():
            base = library.limits.get(name)
            if base is None or base.value == limit.value:
                continue
            moved += 1
            if base.band:
                assert min(base.band) <= limit.value <= max(base.band), (profile, name)
            elif name.startswith("limit.safety."):
                assert (limit.value > base.value) == (base.tighter == "up"), (profile, name)
    assert moved >= 60


@pytest.mark.parametrize("name", FILES)
def test_words_promise_nothing(name):
    text = (content.root() / "rulesets" / name).read_text(encoding="utf-8")
    said = " ".join(re.findall(r'(?:because|safety|check): "([^"]*)"', text))
    assert not re.search(r"\b(safe|harmless|cannot fail|it is foulbrood)\b|!", said, re.IGNORECASE)


def test_no_dose_stands_among_the_options():
    text = (content.root() / "rulesets" / "base" / "treatments.yaml").read_text(encoding="utf-8")
    assert not re.search(r"\d\s*(g|mg|ml|mL|l|L)\b", text)


def test_a_sting_allergy_closes_the_hive_until_help_is_there(words, ruleset):
    table = FactTable(words, ["alone", "with help"])
    table.set("keeper.sting_allergy", [1.0, 1.0])
    table.set("keeper.helper", [0.0, 1.0])
    found = infer(ruleset, table)
    assert found.prohibitions["people-first"].holds(0)
    assert found.findings["attacks-alone"].holds(0)
    assert found.prohibitions["people-first"].at(1)[0] == Truth.FALSE


def test_sources_are_short_and_without_addresses():
    document = marked_yaml.read(content.root() / "rulesets" / "vocabulary" / "sources.yaml")
    assert not document.problems
    for key, body in document.data.items():
        assert 10 < len(body["cite"]) < 200, key
        assert "http" not in body["cite"], key
    assert {"W1", "W126", "V1", "V115", "S1", "S161", "S75a"} <= set(document.data)


def test_jurisdictions_say_whom_to_tell_and_to_check():
    for path in sorted((content.root() / "rulesets" / "jurisdictions").glob("*.yaml")):
        if path.name.endswith(".cases.yaml"):
            continue
        data = marked_yaml.read(path).data
        assert data["tell"] and data["notifiable"] and data["duties"], path.name
        assert "heck the current rule" in data["note"], path.name
        # Of a place whose text on moves or records was not read the file holds none: unknown, not "no duty".
        for item in data["notifiable"] + data["duties"] + data.get("movement", []) + data.get("records", []):
            assert item["source"] and item["status"], path.name


def test_facts_package_reads_the_case_files():
    for name in (
        "safety.cases.yaml",
        "base/guards.cases.yaml",
        "base/treatments.cases.yaml",
        "overlays/overlays.cases.yaml",
    ):
        assert len(facts.read_cases(content.root() / "rulesets" / name)) > 10

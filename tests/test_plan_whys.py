"""Why an advice stands, step by step, and what can be looked at instead; worked out by hand."""

import dataclasses
import datetime as dt
from types import SimpleNamespace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plan_kit import TODAY, Book, act, table, treating, weights, words

from hiveweek.facts.table import FactTable
from hiveweek.inference.columnar import infer
from hiveweek.plan import Setting, make
from hiveweek.plan.advise import Adviser
from hiveweek.plan.answer import mark
from hiveweek.plan.deciding import Deciding
from hiveweek.plan.looks import Looks
from hiveweek.plan.options import _unlisted, details
from hiveweek.plan.safety import Safety
from hiveweek.plan.why import explain, origin_words
from hiveweek.plan.words import Filler
from hiveweek.problems import Place

DAY = dt.timedelta(days=1)


def differing(what, name, hive="A"):
    return SimpleNamespace(what=what, name=name, hive=hive)


# --- why -------------------------------------------------------------------------------------------------
def test_why_step_by_step():
    book = Book()
    book.limit("limit.food.candy_days", 21, "days")
    book.rule("a.weak", "colony.frames_of_bees < 4", finding="weak", because="W.")
    book.rule(
        "b.feed",
        [
            "finding.weak",
            {"any": ["food.days_left < limit.food.candy_days", "food.heft == light"]},
            {"not": "colony.robbed"},
            {"unless": "hive.gaps"},
        ],
        "feed-candy",
        because="Food for {food.days_left}.",
    )
    hive = {
        "colony.frames_of_bees": (3.0, 2, 6),
        "food.days_left": (30.0, 10, 40),
        "food.heft": "light",
        "hive.gaps": True,
    }
    why = explain(book.infer({"H": {**hive, "colony.robbed": False}}), "b.feed", 0, TODAY)
    assert (why.rule, why.kind, why.hive, why.gives, why.answer) == (
        "b.feed",
        "rule",
        "H",
        "feed-candy",
        "does-not-hold",
    )
    assert str(why.because) == "Food for 30 days." and why.sources == ["judgement"] and why.layer == "base"
    weak, either, no = why.steps.parts[:3]
    assert [p.answer for p in why.steps.parts] == ["holds-in-doubt", "holds", "holds", "does-not-hold"]
    assert [str(p.text) for p in why.steps.parts] == ["finding.weak", "any of", "not", "unless"]
    assert str(why.steps.text) == "all of"
    (rule,) = weak.parts
    assert (str(rule.text), rule.answer, str(rule.parts[0].text)) == (
        "rule a.weak",
        "holds-in-doubt",
        "colony.frames_of_bees < 4",
    )
    days, heft = either.parts
    assert (days.answer, heft.answer) == ("does-not-hold-in-doubt", "holds")
    facts = words().facts
    seen = f"seen {TODAY.isoformat()}"
    assert [str(v) for v in days.values] == [
        f"{facts['food.days_left'].label}: 30 days, 10 to 40 likely (worked out)",
        "limit 21 days (base; judgement)",
    ]
    assert [str(v) for v in heft.values] == [f"{facts['food.heft'].label}: light ({seen})"]
    assert [str(v) for v in no.parts[0].values] == [f"{facts['colony.robbed'].label}: no ({seen})"]
    open_ = explain(book.infer({"H": hive}), "b.feed", 0, TODAY)
    assert [str(v) for v in open_.steps.parts[2].parts[0].values] == [f"{facts['colony.robbed'].label}: not known"]
    assert explain(book.infer({"H": {}}), "a.weak", 0, TODAY).gives == "finding.weak"


def test_why_of_pairs_and_prohibitions():
    book = Book()
    book.unite("weak.colony.frames_of_bees < 4", "strong.colony.frames_of_bees > weak.colony.frames_of_bees")
    book.never("p.pair", [act("unite-colonies")], "here.colony.robbed", roles=("here", "there"), because="Robbers.")
    book.never("p.one", [act("heft-hive")], "colony.robbed", "day", because="Robbed: {colony.robbed}.")
    inference = book.infer(
        {"A": {"colony.frames_of_bees": 2.0}, "B": {"colony.frames_of_bees": 9.0, "colony.robbed": True}}
    )
    why = explain(inference, "u.unite", 0, TODAY)
    assert (why.answer, why.partner) == ("holds", "B")
    bees = words().facts["colony.frames_of_bees"].label
    assert [str(v).partition(" (")[0] for v in why.steps.parts[1].values] == [f"{bees}: 9 frames", f"{bees}: 2 frames"]
    nobody = explain(inference, "u.unite", 1, TODAY)
    assert (nobody.answer, nobody.steps, nobody.because, nobody.partner) == ("no-partner", None, None, None)
    assert (nobody.rule, nobody.kind, nobody.hive, nobody.gives, nobody.sources) == (
        "u.unite",
        "rule",
        "B",
        "unite-colonies",
        ["judgement"],
    )
    pair = explain(inference, "p.pair", 0, TODAY)
    assert (pair.answer, pair.steps, str(pair.because), pair.kind) == ("each-pair", None, "Robbers.", "prohibition")
    one = explain(inference, "p.one", 1, TODAY)
    assert (one.answer, one.gives, one.layer, str(one.because)) == ("holds", "day", "safety", "Robbed: yes.")
    assert one.steps.answer == "holds" and explain(inference, "p.one", 0, TODAY).answer == "not-known"


def test_a_finding_that_leads_to_itself_is_told_once():
    book = Book()
    book.rule("a.x", "colony.robbed", finding="x")
    book.rule("b.y", ["finding.x", {"not": "finding.x"}], finding="y")
    why = explain(book.infer({"H": {"colony.robbed": True}}), "b.y", 0, TODAY)
    assert [len(part.parts) for part in why.steps.parts] == [1, 1]


@pytest.mark.parametrize(
    ("origin", "said_"),
    [
        (None, "as known"),
        ("", "as known"),
        ("computed", "worked out"),
        ("set", "given"),
        ("seen 2026-03-01", "seen 1 March"),
        ("seen somewhere", "seen somewhere"),
        ("carried forward from 2026-03-01", "estimated, carried forward from 1 March"),
        ("implied by colony.eggs", "follows from colony.eggs"),
        ("guessed", "guessed"),
    ],
)
def test_where_a_value_comes_from(origin, said_):
    assert str(origin_words(origin, TODAY)) == said_
    if origin and origin.startswith("seen 2"):
        assert str(origin_words(origin)) == origin


# --- what can be looked at -------------------------------------------------------------------------------
def lookers(built, alive=None, suspect=None):
    inference = infer(Book().ruleset(), built)
    deciding = Deciding(inference)
    filler = Filler(built, {}, TODAY)
    safety = Safety(inference, deciding, filler)
    adviser = Adviser(inference, weights(), deciding, safety, filler, TODAY)
    return Looks(inference, weights(), deciding, safety, adviser, alive or [True], suspect)


def ways_of(fact, built, kinds):
    """The sets of observations that would tell a fact, as the docstring has it."""
    body = words().facts[fact]
    if body.comes_from != "computed":
        return [{fact}]
    found = []
    for way in body.observed_by:
        seen = {f for f in way if words().facts[f].comes_from != "computed"}
        unknown = {f for f in seen if kinds[f] == "unknown"}
        stale = {f for f in seen if f in weights().samples or kinds[f] in ("earlier", "rough")}
        words_only = any(words().facts[f].kind == "one_of" and words().facts[f].comes_from == "observed" for f in seen)
        if unknown:
            found.append(unknown)
        elif seen and kinds[fact] != "unknown":
            if stale:
                found.append(stale)
            elif not words_only:
                return []
    return sorted({frozenset(way) for way in found}, key=lambda way: (len(way), sorted(way)))


@settings(max_examples=80)
@given(st.randoms(use_true_random=False))
def test_observations_that_would_tell_a_fact(luck):
    computed = sorted(f.id for f in words().facts.values() if f.comes_from == "computed" and f.observed_by)
    for fact in luck.sample(computed, 4):
        built, kinds = FactTable(words(), ["H"]), {}
        for name in {fact, *(f for way in words().facts[fact].observed_by for f in way)}:
            kind = kinds[name] = luck.choice(("unknown", "today", "set", "plain", "earlier", "rough"))
            origin = {
                "today": f"seen {TODAY}",
                "rough": f"seen {TODAY}",
                "earlier": "seen 2026-02-01",
                "set": "set",
            }.get(kind)
            if kind != "unknown":
                number = words().facts[name].kind in ("number", "integer")
                spread = (0.5, 1.5) if kind == "rough" and number else (1.0, 1.0)
                kinds[name] = "today" if kind == "rough" and not number else kind
                built.set_one(0, name, 1.0, *spread, origin)
        assert [set(way) for way in lookers(built).observing.ways(fact, 0)] == [
            set(way) for way in ways_of(fact, built, kinds)
        ]


def test_the_day_of_a_sample_is_known_only_where_all_of_it_was_noted():
    both = ["mites.sample_bees", "mites.sample_mites"]
    built = FactTable(words(), ["H", "I", "J"])
    for row, days in enumerate((("2026-03-01", "2026-03-04"), ("2026-03-01", None), (None, None))):
        for name, day in zip(both, days, strict=True):
            if day:
                built.set_one(row, name, 3.0, 3.0, 3.0, f"seen {day}")
    observing = lookers(built, [True] * 3).observing
    assert [observing.sampled_on(both, row) for row in range(3)] == [dt.date(2026, 3, 4), None, None]
    assert observing.sampled_on(["colony.eggs", *both], 0) is None and observing.sampled_on([], 0) is None


def test_which_looks_may_be_done():
    built = table({"H": {"season.phase": "main_flow", "season.swarming": True, "season.brood": "none"}})
    looks = lookers(built)
    assert not looks.allowed("first-spring-inspection", 0) and looks.allowed("swarm-inspection", 0)
    assert not looks.allowed("count-mites", 0) and looks.allowed("check-winter-room", 0)  # not known to be outdoors
    dead = lookers(built, [False])
    for look in sorted(weights().looks):
        assert dead.allowed(look, 0) == (looks.allowed(look, 0) and words().actions[look].dead_ok)
        suspect = lookers(built, [None], [True])
        shut = words().actions[look].opens == "nothing" or look in weights().looks_at_suspicion
        assert suspect.allowed(look, 0) == (looks.allowed(look, 0) and shut)


def test_a_look_says_how_to_see_it_and_names_three_of_its_facts():
    book = Book()
    facts = ("colony.eggs", "colony.sealed_brood", "colony.queen_cells", "colony.frames_of_brood")
    conditions = ["colony.eggs", "colony.sealed_brood", "colony.queen_cells == none", "colony.frames_of_brood > 3"]
    book.rule("q.test", conditions, "requeen", gain=900, by=0, chance=0.9)
    hive = book.plan({"H": {"colony.alive": True, "weather.open_high_c": 20.0}}).hives[0]
    advice = next(a for a in hive.advice if a.origin == "look")
    labels = [words().facts[f].label for f in sorted(facts)]
    assert advice.facts == sorted(facts)
    assert f"({labels[0]}, {labels[1]}, {labels[2]} and 1 more)" in str(advice.because)


def test_a_stop_that_the_look_does_not_lift_leaves_no_look():
    book = Book()
    book.rule("q.test", "colony.eggs == false", "give-test-frame", gain=90, by=0)
    book.never("p", [act("give-test-frame")], {"any": ["colony.robbed", "colony.eggs"]})
    hive = {"colony.alive": True, "weather.open_high_c": 20.0}
    robbed = book.plan({"H": {**hive, "colony.robbed": True}}).hives[0]
    assert robbed.advice == [] and robbed.look_first == []
    assert book.plan({"H": {**hive, "colony.robbed": False}}).hives[0].advice[0].origin == "look"


def test_what_stands_in_for_a_pair_names_both_hives():
    book = Book()
    book.rule(
        "h.lend",
        ["hungry.food.days_left < 7", "heavy.food.stores_kg > 20"],
        "give-honey-frames",
        gain=60,
        by=0,
        roles=("hungry", "heavy"),
        at="hungry",
    )
    book.never(
        "p",
        [act("give-honey-frames")],
        "there.health.ropy_larvae",
        roles=("here", "there"),
        instead=("feed-candy",),
        because="{there} may not give to {here}",
    )
    hives = {"low": {"food.days_left": 3.0}, "high": {"food.stores_kg": 26.0, "health.ropy_larvae": True}}
    advice = book.plan(hives).hives[0].advice[0]
    assert (advice.action, advice.partner, advice.partner_row) == ("feed-candy", None, None)
    assert str(advice.because).endswith("high may not give to low.")


def test_marks_of_several_differences_add_up():
    book = treating(("thymol", "gel", None))
    book.rule("e.heft", "colony.alive", "heft-hive", gain=7)
    inference = book.infer({"A": {"colony.alive": True}, "B": {"colony.alive": True}})
    plan = make(inference, Setting(TODAY), weights())
    mark(plan, inference, [differing("rule", "e.heft"), differing("option", "o0", "B"), differing("finding", "none")])
    assert {(h.id, a.action) for h in plan.hives for a in h.advice if a.unverified} == {
        ("A", "heft-hive"),
        ("B", "treat-mites"),
    }


def test_why_fills_limits_and_days_and_says_where_no_source_stands():
    book = Book()
    book.limit("limit.food.candy_days", 21, "days")
    book.limits["limit.food.candy_days"] = dataclasses.replace(book.limits["limit.food.candy_days"], source=())
    book.rule(
        "b.feed",
        "food.days_left < limit.food.candy_days",
        "feed-candy",
        because="Under {limit.food.candy_days}, empty on {food.empty_on}.",
    )
    inference = book.infer({"H": {"food.days_left": 3.0, "food.empty_on": dt.date(2026, 3, 20)}})
    why = explain(inference, "b.feed", 0, TODAY)
    assert str(why.because) == "Under 21 days, empty on 20 March."
    assert str(why.steps.values[1]) == "limit 21 days (base; no source)"
    book.rules["b.feed"] = dataclasses.replace(book.rules["b.feed"], place=Place("food.yaml", 7, 3))
    assert explain(book.infer({"H": {}}), "b.feed", 0, TODAY).place == str(Place("food.yaml", 7, 3)) != ""


def test_a_place_without_a_name_is_this_place():
    assert "list seen for this place;" in str(_unlisted({"registered_actives": ["formic"]}, "thymol", "gel"))


def test_a_doubt_that_forbids_and_hides_the_job_is_looked_at():
    # Three quarters capped, within 60 to 90: the job is not due and is forbidden, both in doubt of the same figure.
    book = Book()
    book.rule("h.take", "harvest.capped_pct >= 80", "take-honey", gain=900, by=0)
    book.never("ripe", [act("take-honey")], "harvest.capped_pct < 80")
    hive = {"colony.alive": True, "weather.open_high_c": 22.0, "harvest.capped_pct": (75.0, 60, 90)}
    look = book.plan({"H": hive}).hives[0].advice[0]
    assert (look.origin, look.facts) == ("look", ["harvest.capped_pct"])


def test_an_option_that_the_place_does_not_list_is_out():
    book = treating(("thymol", "gel", None), ("formic", "pad", "colony.robbed"))
    book.options["o1"] = dataclasses.replace(
        book.options["o1"], bars=((book.condition("colony.robbed"), "at {weather.high_c} robbers come", ()),)
    )
    ruleset = dataclasses.replace(book.ruleset(), jurisdiction={"name": "Here", "registered_actives": ["formic"]})
    built = table({"H": {"colony.alive": True, "colony.robbed": True, "weather.high_c": 20.0}})
    plan = make(infer(ruleset, built), Setting(TODAY), weights())
    options = {o["active"]: str(o["because"]) for o in plan.hives[0].advice[0].options}
    assert options == {
        "formic": "Not now: at 20 °C robbers come.",
        "thymol": "not on the list seen for Here; check the current rule there.",
    }


def test_an_option_says_its_course_its_honey_and_its_care():
    book = treating(("thymol", "gel", None))
    book.options["o0"] = dataclasses.replace(
        book.options["o0"], length="four weeks", withdrawal="none", safety="Wear gloves"
    )
    (option,) = book.plan({"H": {"colony.alive": True}}).hives[0].advice[0].options
    form = option["forms"][0]
    assert str(option["because"]) == " ".join(["Fits.", *(str(part) for part in details(form))])
    assert len(details(form)) == 3 and "four weeks" in str(option["because"])


def test_the_week_tells_its_weather():
    names = ("high_c", "low_c", "mean_c", "open_high_c", "open_wind_kmh", "dry_days", "flight_days")
    facts = {f"weather.{name}": float(value) for value, name in enumerate(names, 1)}
    told = Book().plan({"H": {**facts, "weather.open_dry": True, "weather.rain_all_week": False}}).weather
    assert {name: told[name] for name in names} == dict(zip(names, range(1, 8), strict=True))
    assert (told["open_dry"], told["rain_all_week"]) == (True, False)


def test_findings_on_findings_are_explained_to_the_ground():
    book = Book()
    book.rule("a.x", "colony.robbed", finding="x")
    book.rule("b.y", "finding.x", finding="y")
    book.rule("c.z", "finding.y", finding="z")
    step = explain(book.infer({"H": {"colony.robbed": True}}), "c.z", 0, TODAY).steps
    texts = []
    while step.parts:
        texts.append(str(step.text))
        (step,) = step.parts
    assert [*texts, str(step.text)] == ["finding.y", "rule b.y", "finding.x", "rule a.x", "colony.robbed"]


def test_names_that_are_none_stay_as_written():
    filler = Filler(table({"A": {"colony.eggs": True}, "B": {}}), {}, TODAY)
    for text in ("{nobody.colony.eggs}", "{weak.no_fact}", "{limit.no.such}"):
        assert str(filler.fill(text, {"weak": 0, "strong": 1})[0]) == text
    assert str(filler.fill("{weak.colony.eggs} {weak} {partner}", {"weak": 0, "strong": 1})[0]) == "yes A B"


def test_what_a_lone_partnerless_rule_and_its_place_are():
    book = Book()
    book.unite("weak.colony.frames_of_bees < 4", "strong.colony.frames_of_bees > 8")
    book.rules["u.unite"] = dataclasses.replace(book.rules["u.unite"], place=Place("unite.yaml", 7, 3))
    assert explain(book.infer({"H": {}}), "u.unite", 0, TODAY).place == "unite.yaml:7:3"

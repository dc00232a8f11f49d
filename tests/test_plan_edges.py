"""The plan at its edges: what one line too many or too few would turn."""

import datetime as dt
from types import SimpleNamespace

import pytest
import yaml
from plan_kit import TODAY, Book, act, actions, table, weights, words

from hiveweek import content
from hiveweek.plan import ranking
from hiveweek.plan.words import Filler
from hiveweek.problems import InputProblems
from hiveweek.rules.model import Target

SHIPPED = (content.root() / "rulesets" / "ranking.yaml").read_text(encoding="utf-8")


@pytest.mark.parametrize("loses", ["colony", "neighbours", "people", "comfort"])
def test_only_crop_is_weighed(loses):
    assert weights().gain(loses, 80) == 80
    assert weights().gain("crop", 80) == 8


@pytest.mark.parametrize(
    ("shares", "ok"), [("true: 0.1, false: 0.9", 1), ("true: 0.1, false: 0.8", 0), ("true: 0.1", 1)]
)
def test_chances_of_every_word_sum_to_one(tmp_path, shares, ok):
    path = tmp_path / "ranking.yaml"
    path.write_text(SHIPPED.replace("colony.robbed: {true: 0.02}", f"colony.robbed: {{{shares}}}"), encoding="utf-8")
    if ok:
        assert ranking.load(words(), path).chances["colony.robbed"] == pytest.approx({"true": 0.1, "false": 0.9})
        return
    with pytest.raises(InputProblems, match="do not sum to 1"):
        ranking.load(words(), path)


def test_a_dearth_and_a_new_queen_cost_frames_and_no_lid():
    more = ("frames_in_dearth_pts", "frames_with_new_queen_pts")
    assert weights().opening_cost("lid", 25, more) == 0.3
    assert weights().opening_cost("frames", 25, more) == 5
    assert weights().opening_cost("frames", 25, more[:1]) == 1.5
    assert weights().opening_cost("nothing", None, more) == 0
    assert weights().opening_cost("lid", None, more) == 1


def test_warmth_that_makes_a_job_due_is_no_bound_on_its_day():
    # The job is due because the week may stay cool; it needs no day under 25 degC, but it needs one over 10.
    book = Book()
    book.rule("a.open", ["weather.open_high_c < 25", "weather.open_high_c > 10"], "full-inspection", gain=9)
    advice = book.plan({"H": {"colony.alive": True, "weather.open_high_c": (18.0, 5, 30)}}).hives[0].advice[0]
    assert advice.only_on == {"high_c_min": 10}
    # a guard that keeps the heat away does bound it
    guard = Book()
    guard.rule("a.open", ["colony.alive", {"unless": "weather.open_high_c > 28"}], "full-inspection", gain=9)
    advice = guard.plan({"H": {"colony.alive": True, "weather.open_high_c": (18.0, 5, 30)}}).hives[0].advice[0]
    assert advice.only_on == {"high_c_max": 28}
    # and a job that opens nothing waits for no day
    shut = Book()
    shut.rule("a.shut", ["weather.open_high_c > 10"], "heft-hive", gain=9)
    assert shut.plan({"H": {"weather.open_high_c": (18.0, 5, 30)}}).hives[0].advice[0].only_on is None


def test_weather_that_forbids_it_as_it_stands_keeps_no_look_there():
    # 8 degC within 6 to 14: as it stands too cold for frames, and only the doubt of the forecast leaves it open.
    book = Book()
    book.rule("q.test", "colony.eggs == false", "give-test-frame", gain=90, by=0)
    book.never("cold", [Target("opens", "frames")], "weather.open_high_c < 10")
    hive = {"colony.alive": True, "colony.frames_of_bees": 8.0}

    def looks(*high):
        plan = book.plan({"H": {**hive, "weather.open_high_c": high}})
        return actions(plan) + [look.action for look in plan.hives[0].look_first]

    assert looks(8.0, 6, 14) == ["leave-closed"] and looks(12.0, 6, 14) == ["swarm-inspection"]


@pytest.mark.parametrize("unknown", ["ask", "check", "pass"])
def test_a_stop_that_fails_in_doubt_is_checked_and_withholds_nothing(unknown):
    book = Book()
    book.rule("a.feed", "colony.alive", "feed-candy", gain=9)
    book.never(
        "full", [act("feed-candy")], "food.stores_kg > 15", unknown=unknown, because="Full.", check="Is it full?"
    )
    plan = book.plan({"H": {"colony.alive": True, "food.stores_kg": (12.0, 8, 17)}})
    assert actions(plan)[0] == "feed-candy" and not plan.hives[0].withheld
    assert [str(c) for c in plan.hives[0].advice[0].checks] == ([] if unknown == "pass" else ["Is it full?"])
    # not known at all: asked for, checked or passed
    open_ = book.plan({"H": {"colony.alive": True}}).hives[0]
    assert [w.action for w in open_.withheld] == (["feed-candy"] if unknown == "ask" else [])


def test_the_ranking_file_is_read_whole():
    file = yaml.safe_load(SHIPPED)
    found = weights()
    for name in ("looks", "not_looked_for", "samples", "feeds", "looks_at_suspicion"):
        assert getattr(found, name) == set(file[name]), name
    assert found.comparison == file["chances"]["comparison"] and found.waits_for == file["waits_for"]
    assert found.next_due == file["next_due"] and set(found.frames_cost_more) == set(file["frames_cost_more"])
    assert found.holds_open == {name: set(actions) for name, actions in file["holds_open"].items()}
    assert found.troubles == {name: entry["say"] for name, entry in file["troubles"].items()}
    assert found.suspicions == {name for name, entry in file["troubles"].items() if entry.get("suspicion")}
    assert found.in_season == {a: (e["fact"], tuple(e["values"])) for a, e in file["looks_in_season"].items()}
    for fact, given in file["chances"]["facts"].items():
        named = {{True: "true", False: "false"}.get(word, word): share for word, share in given.items()}
        assert named.items() <= found.chances[fact].items(), fact


def test_a_day_is_bounded_by_no_equality():
    book = Book()
    book.rule("a.open", "colony.alive", "full-inspection", gain=9)
    book.never("odd", [act("full-inspection")], "weather.open_high_c == 18", "day", because="Odd.")
    hive = book.plan({"H": {"colony.alive": True, "weather.open_high_c": 18.0}}).hives[0]
    assert [str(w.because) for w in hive.withheld] == ["Odd."]


def test_a_suspect_hive_may_be_hefted():
    book = Book()
    book.rule("g.suspect", "health.sunken_caps", finding="suspect-here")
    book.rule("f.heft", "colony.alive", "heft-hive", gain=9)
    plan = book.plan({"H": {"colony.alive": True, "health.sunken_caps": True}})
    assert actions(plan) == ["heft-hive"] and not plan.hives[0].withheld


def test_of_two_ways_to_feed_that_wait_the_better_is_said():
    book = Book()
    book.rule("g.rob", "colony.robbed", finding="robbing")
    book.rule("f.candy", ["food.days_left < 7", {"unless": "finding.robbing"}], "feed-candy", gain=55, by=0)
    book.rule("f.syrup", ["food.days_left < 7", {"unless": "finding.robbing"}], "feed-thin-syrup", gain=40, by=0)
    hive = book.plan({"H": {"colony.alive": True, "colony.robbed": True, "food.days_left": 3.0}}).hives[0]
    assert [w.action for w in hive.withheld if w.waits] == ["feed-candy"]


def test_a_look_that_an_advised_job_makes_anyway_is_noted_there():
    book = Book()
    book.rule("b.trap", "colony.alive", "control-hive-beetle", gain=20)
    book.rule("b.shut", "health.small_hive_beetle == many", "reduce-entrance", gain=900, by=0)
    hive = book.plan({"H": {"colony.alive": True, "weather.open_high_c": 20.0}}).hives[0]
    assert [a.action for a in hive.advice] == ["control-hive-beetle"] and not hive.look_first
    assert [u["action"] for u in hive.advice[0].unlocks] == ["reduce-entrance"]
    # and what another look would tell is still looked for
    book.rule("q.eggs", "colony.eggs == false", "give-test-frame", gain=900, by=0)
    hive = book.plan({"H": {"colony.alive": True, "weather.open_high_c": 20.0}}).hives[0]
    assert sorted(a.action for a in hive.advice) == ["control-hive-beetle", "swarm-inspection"]


def test_weather_that_closes_a_day_for_two_hives_bounds_it():
    book = Book()
    book.unite("weak.colony.frames_of_bees < 4", "strong.colony.frames_of_bees > 8")
    book.never(
        "cold",
        [act("unite-colonies")],
        ["there.colony.alive", "here.weather.open_high_c < 15"],
        "day",
        roles=("here", "there"),
    )
    facts = {"colony.alive": True, "weather.open_high_c": 12.0}
    hives = {"A": {**facts, "colony.frames_of_bees": 2.0}, "B": {**facts, "colony.frames_of_bees": 9.0}}
    advice = book.plan(hives).hives[0].advice[0]
    assert (advice.action, advice.only_on) == ("unite-colonies", {"high_c_min": 15})


def test_nobody_looks_for_a_pair_that_must_not_be():
    book = Book()
    book.unite("weak.colony.eggs == false", "strong.colony.frames_of_bees > 8", gain=900, by=0)
    book.never("ill", [act("unite-colonies")], "there.health.ropy_larvae", roles=("here", "there"))
    for ill in (False, True):
        facts = {"colony.alive": True, "weather.open_high_c": 20.0}
        hives = {
            "A": facts,
            "B": {**facts, "colony.frames_of_bees": 9.0, "colony.eggs": True, "health.ropy_larvae": ill},
        }
        hive = book.plan(hives).hives[0]
        assert bool([a for a in hive.advice if a.origin == "look"]) != ill


def test_how_to_see_what_a_look_is_for():
    book = Book()
    book.rule("d.lid", "moisture.lid == dripping", "dry-the-lid", gain=60, by=0)
    book.rule("q.eggs", "colony.eggs == false", "give-test-frame", gain=90, by=0)
    hive = book.plan({"H": {"colony.alive": True, "weather.open_high_c": 20.0}}).hives[0]
    (look,) = [look for look in hive.look_first if look.facts == ["moisture.lid"]]
    lid = words().facts["moisture.lid"]
    assert str(look.how).lower().startswith(lid.label.lower()) and lid.how in str(look.how)


OPEN = {"colony.alive": True, "weather.open_high_c": 20.0}


def test_a_limit_behind_a_not_is_listed():
    book = Book()
    book.limit("limit.food.candy_days", 21, "days")
    book.rule("f.candy", {"not": "food.days_left >= limit.food.candy_days"}, "feed-candy", gain=9)
    advice = book.plan({"H": {**OPEN, "food.days_left": 3.0}}).hives[0].advice[0]
    assert [row["limit"] for row in advice.limits] == ["limit.food.candy_days"]


def test_what_never_comes_true_leaves_no_look():
    book = Book()
    book.rule("q.never", "colony.eggs == false", "give-test-frame", gain=900, by=0, chance=0.0)
    hive = book.plan({"H": OPEN}).hives[0]
    assert hive.advice == [] and hive.look_first == []


def test_a_look_is_bound_to_the_days_that_are_fit_for_it():
    book = Book()
    book.rule("d.lid", "moisture.lid == dripping", "dry-the-lid", gain=60, by=0)
    book.never("cold", [Target("opens", "lid")], "weather.open_high_c < 10", "day")
    look = book.plan({"H": {"colony.alive": True, "weather.open_high_c": (14.0, 8, 18)}}).hives[0].advice[0]
    assert (look.origin, look.action, look.only_on) == ("look", "lid-check", {"high_c_min": 10})


def test_a_guard_of_two_kinds_of_weather_bounds_both():
    book = Book()
    guard = {"unless": {"any": ["weather.open_high_c > 28", "weather.open_wind_kmh > 30"]}}
    book.rule("a.open", ["colony.alive", guard], "full-inspection", gain=9)
    hive = {"colony.alive": True, "weather.open_high_c": (18.0, 5, 30), "weather.open_wind_kmh": (20.0, 10, 40)}
    assert book.plan({"H": hive}).hives[0].advice[0].only_on == {"high_c_max": 28, "wind_kmh_max": 30}


def test_what_waits_for_the_yard_says_the_words_of_the_hive_where_it_began():
    book = Book()
    book.rule(
        "g.rob", "colony.robbed", finding="robbing", reach="apiary", because="Robbers at {colony.frames_of_bees}."
    )
    book.rule("f.candy", ["food.days_left < 7", {"unless": "finding.robbing"}], "feed-candy", gain=55, by=0)
    book.rule("f.later", ["food.days_left < 9", {"unless": "finding.robbing"}], "feed-candy", gain=9, by=0)
    hives = {
        "A": {**OPEN, "colony.robbed": True, "colony.frames_of_bees": 4.0},
        "B": {**OPEN, "food.days_left": 3.0, "colony.frames_of_bees": 9.0},
    }
    (waits,) = book.plan(hives).hives[1].withheld
    assert waits.rule == "f.candy" and "Robbers at 4 frames." in str(waits.because)


def test_the_earliest_deadline_of_all_that_ask_for_a_job_is_kept():
    book = Book()
    book.rule("a.one", "colony.alive", "feed-candy", gain=90)
    book.rule("b.two", "colony.alive", "feed-candy", gain=9, by=14)
    book.rule("c.three", "colony.alive", "feed-candy", gain=9, by=9)
    advice = book.plan({"H": OPEN}).hives[0].advice[0]
    assert (advice.rule, advice.by, advice.due_by) == (
        "a.one",
        TODAY + dt.timedelta(days=9),
        TODAY + dt.timedelta(days=9),
    )


def test_a_pair_that_is_held_back_in_doubt_says_because_of_what():
    book = Book()
    book.unite("weak.colony.frames_of_bees < 4", "strong.colony.frames_of_bees > 8")
    book.never(
        "ill",
        [act("unite-colonies")],
        "there.health.ropy_larvae",
        unknown="ask",
        roles=("here", "there"),
        because="{there} may be ill.",
    )
    hives = {"A": {**OPEN, "colony.frames_of_bees": 2.0}, "B": {**OPEN, "colony.frames_of_bees": 9.0}}
    (held,) = book.plan(hives).hives[0].withheld
    assert held.action == "unite-colonies" and "B may be ill" in str(held.because)


def test_a_partner_is_no_word_where_there_is_one_hive():
    assert str(Filler(table({"H": {}}), {}, TODAY).fill("with {partner}", {None: 0})[0]) == "with {partner}"


@pytest.mark.parametrize(
    ("high", "said"),
    [
        (30.4, "30.4 °C over 30 °C"),
        (29.8, "29.8 °C over 30 °C"),
        (30.0, "30 °C over 30 °C"),
        (31.2, "31 °C over 30 °C"),
    ],
)
def test_a_number_and_its_limit_read_as_they_are(high, said):
    limits = {"limit.x.high": SimpleNamespace(value=30.0, unit="degC")}
    found = Filler(table({"H": {"weather.high_c": high}}), limits, TODAY).fill(
        "{weather.high_c} over {limit.x.high}", {None: 0}
    )
    assert str(found[0]) == said


def test_words_without_a_chance_of_their_own_share_what_is_left(tmp_path):
    path = tmp_path / "ranking.yaml"
    path.write_text(SHIPPED.replace("{light: 0.12, middling: 0.4}", "{light: 0.4}"), encoding="utf-8")
    rest = [word for word in words().facts["food.heft"].values if word != "light"]
    shares = ranking.load(words(), path).chances["food.heft"]
    assert len(rest) > 1 and shares == pytest.approx({"light": 0.4} | {word: 0.6 / len(rest) for word in rest})


@pytest.mark.parametrize("fits", [4.0, 10.0])
def test_an_amount_that_is_less_than_all_says_what_is_wanted_besides(fits):
    book = Book()
    book.rule("f.thick", "food.days_left < 9", "feed-thick-syrup", because="Hungry.", amount="{food.litres_that_fit}")
    known = {"food.days_left": 3.0, "food.litres_thick": 10.0, "food.litres_that_fit": fits, "colony.alive": True}
    said = book.plan({"A": known}).hives[0].advice[0]
    assert str(said.amount) == f"{fits:g} L" and str(said.because).startswith("Hungry.")
    assert ("10 L" in str(said.because)) is (fits < 10)

"""The plan at its edges: what one line too many or too few would turn."""

import pytest
import yaml
from plan_kit import Book, act, actions, weights, words

from hiveweek import content
from hiveweek.plan import ranking
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

"""The week on screen and as JSON: what a keeper reads, and the contract that programs read."""

import datetime as dt
import io
import json
import re

import pytest
from plan_kit import TODAY, Book, act, words
from promises_kit import ADVICE, APIARY, FACT, HIVE, NESTED, WEEK, WITHHELD

from hiveweek.plan.model import WeekPlan
from hiveweek.plan.why import explain
from hiveweek.show import json as as_json
from hiveweek.show import week as as_text
from hiveweek.show import why as as_why
from hiveweek.show.text import Page
from hiveweek.texts.speaker import IMPERIAL, METRIC


def _book():
    book = Book()
    book.limit("limit.food.candy_days", 21, "days")
    book.rule(
        "f.candy",
        "food.days_left < limit.food.candy_days",
        "feed-candy",
        gain=35,
        by=3,
        amount="{food.candy_kg} kg",
        because="Food for {food.days_left}.",
        safety="Close at once.",
    )
    book.rule("g.guard", "hive.mouse_guard == false", "fit-mouse-guard", gain=3, by=20, because="No guard.")
    book.rule("h.gaps", "hive.gaps", "close-gaps", gain=2, by=20, because="Gaps.")
    book.rule("i.tilt", "hive.tilt == backward", "tilt-forward", gain=1, because="It leans back.")
    book.rule("w.water", "site.water_near == false", "provide-water", gain=6, because="No water near.")
    book.rule("x.thin", "food.days_left < 5", "feed-thin-syrup", gain=30, because="Hungry.")
    book.never("cold", [act("feed-thin-syrup")], "weather.open_high_c < 12", because="Too cold for syrup.")
    return book


HIVES = {
    "012": {
        "food.days_left": (4.0, 2, 7),
        "food.candy_kg": 2.5,
        "hive.mouse_guard": False,
        "hive.gaps": True,
        "hive.tilt": "backward",
        "site.water_near": False,
        "weather.open_high_c": 5.0,
        "season.phase": "late_winter",
    },
    "NO": {
        "food.days_left": 90.0,
        "hive.mouse_guard": True,
        "hive.gaps": False,
        "hive.tilt": "forward",
        "site.water_near": False,
        "weather.open_high_c": 5.0,
        "season.phase": "late_winter",
    },
}


def _screen(plan, **more):
    out = io.StringIO()
    speaker = more.pop("speaker", METRIC)
    as_text.show_cards(Page(out, speaker), plan, words(), **more)
    return out.getvalue()


@pytest.fixture(scope="module")
def plan() -> WeekPlan:
    return _book().plan(HIVES, climate="long_snow_cover", name="Alder Bank", with_facts=True)


def test_the_screen_is_plain_and_fits_eighty_columns(plan):
    text = _screen(plan, with_facts=True)
    assert max(len(line) for line in text.splitlines()) <= 80
    assert not re.search(r"[─-╿\x1b]", text)
    assert "!" not in text


def test_the_first_thing_said_is_what_to_do_first(plan):
    lines = [line.strip() for line in _screen(plan).splitlines() if line.strip()]
    first = next(k for k, line in enumerate(lines) if line.startswith("13 Mar") or " 012 " in line)
    assert "give candy above the bees (2.5 kg)" in lines[first]
    assert first < lines.index("Hive 012")


def test_three_jobs_a_hive_and_the_rest_can_wait(plan):
    text = _screen(plan, only="012")
    card = text[text.index("Hive 012") :]
    assert [f"  {n}. " in card for n in (1, 2, 3, 4)] == [True, True, True, False]
    assert "Can wait: " in card and "tilt" in card[card.index("Can wait") :]
    assert "Because: Food for 4 days." in card and "Take care: Close at once." in card


def test_what_is_withheld_is_said_with_its_reason(plan):
    assert "Not this week: feed thin syrup. Too cold for syrup." in " ".join(_screen(plan).split())


def test_the_whole_yard_is_said_once(plan):
    text = " ".join(_screen(plan).split())
    assert text.count("Because: No water near.") == 1 and "For the whole yard" in text


def test_seen_and_worked_out_are_told_apart(plan):
    text = " ".join(_screen(plan, only="012").split())
    assert "Worked out: days of food left 4, 2 to 7 likely." in text
    assert "Seen 10 March: mouse guard on: no." in text


def test_imperial_stands_beside_metric(plan):
    assert "2.5 kg (5.5 lb)" in " ".join(_screen(plan, speaker=IMPERIAL).split())


def test_a_week_of_rain_says_what_one_dry_hour_is_for():
    book = _book()
    rainy = {**HIVES["012"], "weather.rain_all_week": True, "weather.dry_days": 0, "weather.open_high_c": 14.0}
    text = " ".join(_screen(book.plan({"012": rainy})).split())
    assert "Rain is expected on every day of this week." in text
    assert (
        "One dry hour is for: give candy above the bees (012)" in text
        or "One dry hour is for: feed thin syrup (012)" in text
    )
    assert "In the rain you can: " in text


def test_nothing_due_is_said_kindly_with_the_next_date():
    from plan_kit import Calendar

    text = " ".join(
        _screen(
            Book().plan(
                {"H": {"colony.alive": True, "weather.open_high_c": 22.0}},
                calendar=Calendar(swarm_season_start=(4, 20)),
            )
        ).split()
    )
    assert "nothing is due this week. Next: about 20 April, swarm season starts" in text


def test_keys_of_the_answer_stand_in_their_order(plan):
    data = json.loads(as_json.text(plan, with_facts=True))
    assert list(data) == WEEK
    hive = data["hives"][0]
    assert list(hive) == [*HIVE, "facts", "unknown"]
    assert list(hive["advice"][0]) == ADVICE
    assert list(hive["advice"][0]["points_from"]) == NESTED["points_from"]
    assert list(hive["withheld"][0]) == WITHHELD
    assert list(data["apiary"]) == APIARY
    assert list(hive["facts"]["food.days_left"]) == FACT
    assert [h["id"] for h in data["hives"]] == ["012", "NO"]
    assert "facts" not in json.loads(as_json.text(plan))["hives"][0]


def test_ranks_run_from_one_and_dates_are_iso(plan):
    advice = json.loads(as_json.text(plan))["hives"][0]["advice"]
    assert [a["rank"] for a in advice] == list(range(1, len(advice) + 1))
    assert advice[0]["by"] == (TODAY + dt.timedelta(days=3)).isoformat()
    assert {a["action"]: a["by"] for a in advice}["provide-water"] is None


def test_the_same_input_gives_the_same_bytes():
    one = as_json.text(_book().plan(HIVES), with_facts=True)
    assert all(as_json.text(_book().plan(HIVES), with_facts=True) == one for _ in range(3))


def test_looks_in_the_answer():
    book = Book()
    book.rule("f.candy", "food.heft == light", "feed-candy", gain=90, by=0)
    book.rule("r.stop", "colony.robbed", "stop-robbing", gain=90, by=0)
    hive = json.loads(as_json.text(book.plan({"H": {"weather.open_high_c": 20.0, "colony.alive": True}})))["hives"][0]
    assert hive["advice"][0]["facts"] == ["food.heft"]
    assert list(hive["look_first"][0]) == ["action", "facts", "how", "note_as", "points", "unlocks"]
    assert list(hive["look_first"][0]["unlocks"][0]) == ["rule", "action", "points"]


def test_why_goes_condition_by_condition():
    book = _book()
    inference = book.infer(HIVES)
    out = io.StringIO()
    as_why.show(Page(out), explain(inference, "f.candy", 0, TODAY), words())
    text = " ".join(out.getvalue().split())
    assert "f.candy at hive 012: holds" in text
    assert (
        "food.days_left < limit.food.candy_days" in text
        and "days of food left: 4 days, 2 to 7 likely (worked out)" in text
    )
    assert "limit 21 days (base; judgement)" in text
    out = io.StringIO()
    as_why.show(Page(out), explain(inference, "cold", 0, TODAY), words())
    assert "a prohibition" in out.getvalue()
    with pytest.raises(KeyError):
        explain(inference, "no.such", 0, TODAY)


def test_why_tells_unknown_from_false():
    book = Book()
    book.rule("a.rule", {"any": ["colony.robbed", "hive.gaps"]}, "close-gaps")
    why = explain(book.infer({"H": {"hive.gaps": False}}), "a.rule", 0, TODAY)
    assert why.answer == "not-known"
    assert [p.answer for p in why.steps.parts] == ["not-known", "does-not-hold"]


# --- what waits, what is due, options, words --------------------------------------------------------------------------------
def _flat(plan, **more):
    return " ".join(_screen(plan, **more).split())


def test_what_waits_is_said_as_waiting():
    book = Book()
    book.rule("g.alone", "keeper.sting_allergy", finding="attacks-alone", because="Someone is allergic.")
    book.rule(
        "f.candy",
        ["food.days_left < 7", {"unless": "finding.attacks-alone"}],
        "feed-candy",
        gain=50,
        by=0,
        because="Hungry.",
    )
    hives = {
        "A": {"keeper.sting_allergy": True, "food.days_left": 3.0, "weather.open_high_c": 22.0},
        "B": {"weather.open_high_c": 22.0},
    }
    text = _flat(book.plan(hives))
    assert (
        "Waits: give candy above the bees. Hungry. It is due, and it waits: Someone is allergic. Get a second person"
        in text
    )
    assert "Nothing presses" not in text


def test_a_job_due_within_the_week_is_never_among_those_that_can_wait():
    book = _book()
    book.rule("z.last", "hive.gaps", "strap-down", gain=0.5, by=0)
    book.rule("y.next", "hive.gaps", "raise-off-ground", gain=0.4, by=5)
    card = _flat(book.plan({"012": HIVES["012"]}), only="012")
    soon, later = card.index("Also this week: "), card.index("Can wait: ")
    assert (
        soon < card.index("strap the hive down (today)") < later
        and soon < card.index("raise the hive off the ground (by 15 March)") < later
    )
    assert "due now" not in card


def test_law_and_people_stand_first_without_a_figure():
    book = Book()
    book.rule("l.law", "health.ropy_larvae", "report-notifiable", gain=10, by=0, band=0)
    book.rule("f.thin", "food.days_left < 7", "feed-thin-syrup", gain=30, by=0)
    plan = book.plan({"A": {"health.ropy_larvae": True}, "B": {"food.days_left": 3.0, "health.ropy_larvae": False}})
    text = _flat(plan)
    law, line = text.index("First of all, report the suspicion"), text.index("feed thin syrup")
    assert law < text.index(" by hive ") < line


def test_treatments_say_what_fits_what_hangs_on_a_fact_and_what_does_not():
    book = Book()
    book.rule("m.treat", "colony.alive", "treat-mites", gain=35, by=0)
    book.option("thymol-gel", "thymol", "gel", [("weather.mean_high_c < 15", "thymol wants days of 15 °C")])
    book.option("formic-gel", "formic", "gel", [("hive.entrance == reduced", "the entrance is narrowed")])
    book.option("oxalic-dribble", "oxalic", "dribble", [("colony.sealed_brood", "there is sealed brood")])
    facts = {"colony.alive": True, "weather.mean_high_c": 20.0, "colony.sealed_brood": True}
    plan = book.plan({"A": facts, "B": facts})
    text = _flat(plan)
    label = words().facts["hive.entrance"].label
    assert "Fits this week, if registered with you: - thymol: Fits." in text
    assert (
        f"Not known: - formic: it depends on what is not known here: {label}." in text
        and "the entrance is narrowed" not in text
    )
    assert "Not this week: oxalic (there is sealed brood)." in text
    assert text.count("thymol: Fits.") == 1 and text.count("oxalic (there is sealed brood)") == 1
    (same,) = re.findall(r"As under hive A, read it there: ([^.]*)\.", text)
    assert sorted(same.split(", ")) == ["formic", "oxalic", "thymol"]
    assert "Can be used" not in text


def test_one_dry_hour_goes_to_feeding_and_not_to_counts_or_boxes():
    book = Book()
    book.rule("f.syrup", "food.days_left < 20", "feed-thin-syrup", gain=10, by=9)
    book.rule("m.count", "colony.alive", "count-mites", gain=30, by=0)
    book.rule("s.box", "colony.alive", "add-brood-box", gain=30, by=0)
    facts = {
        "colony.alive": True,
        "weather.rain_all_week": True,
        "weather.dry_days": 0,
        "weather.open_high_c": 15.0,
        "food.days_left": 12.0,
    }
    assert "One dry hour is for: feed thin syrup (H). No day" in _flat(book.plan({"H": facts}))
    book.rule("g.starving", "food.days_left <= 14", finding="starving")
    book.never(
        "rain",
        [act("feed-thin-syrup")],
        "weather.rain_all_week",
        "day",
        spares=["feed-thin-syrup"],
        where="finding.starving",
        say="It does not wait for a dry day.",
    )
    text = _flat(book.plan({"H": facts}))
    assert (
        "One dry hour is for: feed thin syrup (H). Hunger does not wait for it, in rain hold a coat over the hive: feed thin syrup (H)."
        in text
    )


def test_what_was_left_out_of_the_input_is_said():
    plan = Book().plan({"H": {"weather.open_high_c": 22.0}}, notes=("Weather that the file sets is for another day.",))
    assert "Note: Weather that the file sets is for another day." in _flat(plan)
    assert "Weather that the file sets is for another day." in json.loads(as_json.text(plan))["weather"]["notes"]


def test_the_yard_is_told_which_hive_it_is_about_and_visited_once():
    book = Book()
    book.rule(
        "i.shut", "health.sunken_caps", "isolate-apiary", gain=30, by=0, band=0, because="This hive is under suspicion."
    )
    plan = book.plan({"A": {"health.sunken_caps": False}, "B": {"health.sunken_caps": True}})
    text = _flat(plan)
    assert (
        "Because: Hive B is under suspicion." in text and "the whole yard: move nothing in or out of the yard" in text
    )


def test_a_word_is_set_off_from_its_label():
    book = Book()
    book.rule("w.trap", "colony.wasps == many", "reduce-entrance", gain=5)
    assert "wasps at the entrance: many" in _flat(book.plan({"H": {"colony.wasps": "many"}}))

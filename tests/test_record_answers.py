"""Jobs done, put off and not fitting: the commands, and what the week makes of them."""

import datetime as dt

import pytest

from hiveweek import vocabulary
from hiveweek.record import Entry, Kind
from hiveweek.record.details import details_of, parted
from hiveweek.record.entries import new_id
from hiveweek.record.store import open_store

SPRING = "2026-03-10"
LIGHT = (
    "hive.size=single",
    "hive.frames=10",
    "hive.frame=deep",
    "colony.frames_of_bees=6",
    "food.stores_kg=2",
    "food.feed_on=none",
)


@pytest.fixture
def yard(run):
    """Two hungry hives and one of which nothing is known."""
    run("apiary", "new", "Mill Lane", "--climate", "cool_continental")
    run("hive", "add", "Ash", *LIGHT, "--date", SPRING)
    run("hive", "add", "Birch", *LIGHT, "--date", SPRING)
    run("hive", "add", "Elm", "--date", SPRING)
    return run


def hive(run, name="Ash", day=SPRING):
    (yard,) = run("week", "--json", "--offline", "--date", day)["apiaries"]
    return next(one for one in yard["hives"] if one["id"] == name)


def actions(found):
    return [advice["action"] for advice in found["advice"]]


def test_a_job_done_is_taken_down_with_the_rule_that_asked_for_it(yard):
    asked = next(advice for advice in hive(yard)["advice"] if advice["action"] == "feed-thin-syrup")
    found = yard(
        "done",
        "all but Elm",
        "feed-thin-syrup",
        "litres=2,5",
        "over the cluster",
        "--by",
        "Jo",
        "--date",
        SPRING,
        "--json",
    )["entries"]
    assert len(found) == 2 and len({entry["note"] for entry in found}) == 1
    for entry in found:
        assert (entry["kind"], entry["action"], entry["details"]) == ("done", "feed-thin-syrup", {"litres": 2.5})
        assert (entry["rule"], entry["who"], entry["text"]) == (asked["rule"], "Jo", "litres=2,5 over the cluster")
        assert entry["rules_hash"]
    assert "feed-thin-syrup litres=2.5" in yard("record", "show", "Ash")


def test_a_job_that_nobody_asked_for_is_taken_down_without_a_rule(yard):
    (entry,) = yard("done", "Elm", "clean-floor", "--date", SPRING, "--json")["entries"]
    assert "rule" not in entry and "rules_hash" not in entry
    said = yard("done", "Elm", "clean-floor", "--date", SPRING).splitlines()
    assert said == ["Elm, done on 10 March: clean the floor.", "'hiveweek undo' takes it back."]
    fed = yard("done", "Ash", "unite-colonies", "partner=birch", "tape=no", "--date", SPRING, code=2)
    assert "unknown-detail" in fed
    fed = yard("done", "Ash", "feed-thick-syrup", "litres=2.5", "--date", SPRING)
    assert fed.startswith("Ash, done on 10 March: feed thick syrup (2.5 L).")
    both = yard("done", "Ash", "unite-colonies", "partner=birch", "--date", SPRING)
    assert both.startswith("Ash, done on 10 March: unite with another colony (the other hive: Birch).")


def test_the_other_hive_is_named_by_its_name(yard):
    (entry,) = yard("done", "Ash", "unite-colonies", "partner=birch", "--date", SPRING, "--json")["entries"]
    assert entry["details"] == {"partner": yard("hive", "show", "Birch", "--json")["id"]}


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("done", "Ash", "feed-cndy", "kg=2"), "unknown-action", "nearest: feed-candy"),
        (("done", "Ash", "feed-candy"), "missing-detail", "needs kg=...: kilograms, between 0 and 100"),
        (("done", "Ash", "treat-mites"), "missing-detail", "amitraz"),
        (("done", "Ash", "feed-candy", "kgs=2", "kg=1"), "unknown-detail", "it takes kg; nearest: kg"),
        (("done", "Ash", "clean-floor", "kg=2"), "unknown-detail", "it takes none"),
        (("done", "Ash", "feed-candy", "kg=200"), "bad-value", "between 0 and 100, not 200"),
        (("done", "Ash", "feed-candy", "kg=much"), "bad-value", "needs a number"),
        (("done", "Ash", "feed-candy", "kg="), "bad-value", "says nothing"),
        (("done", "Ash", "feed-candy", "kg=1", "kg=2"), "two-values", "kg is given twice"),
        (("done", "Ash", "add-super", "supers=1.5"), "bad-value", "whole number"),
        (("done", "Ash", "treat-mites", "active=amitras"), "bad-value", "nearest: amitraz"),
        (("done", "Ash", "treat-mites", "active=amitraz", "out_by=soon"), "bad-value", "2026-02-10"),
        (("done", "Ash", "unite-colonies", "partner=Brch"), "unknown-hive", "nearest: Birch"),
        (("done", "Ahs", "clean-floor"), "unknown-hive", "nearest: Ash"),
        (("done", "Ash", "clean-floor", "--date", "2099-01-01"), "date-ahead", "2099"),
        (("later", "Ash", "feed-cndy"), "unknown-action", "nearest: feed-candy"),
        (("later", "Ash", "shade-hive", "--date", SPRING), "not-asked", "feed-thin-syrup"),
        (("later", "Ash", "feed-candy", "--until", SPRING, "--date", SPRING), "not-ahead", SPRING),
        (("skip", "Ash", "shade-hive", "--because", "x", "--date", SPRING), "not-asked", "feed-thin-syrup"),
        (("skip", "Ash", "feed-candy", "--because", " ", "--date", SPRING), "no-reason", "--because"),
    ],
)
def test_bad_words_are_refused_with_what_is_allowed(yard, words, code, said):
    before = yard("record", "show", "--all", "--json")
    error = yard(*words, code=2)
    assert code in error and said in error, error
    assert yard("record", "show", "--all", "--json") == before


def test_everything_wrong_with_a_job_is_told_at_once(yard):
    error = yard("done", "Ash", "treat-mites", "pieces=many", "aktive=amitraz", code=2)
    assert [line.split()[0] for line in error.splitlines()] == ["bad-value", "missing-detail", "unknown-detail"]


def test_an_unknown_active_may_be_said(yard):
    (entry,) = yard("done", "Ash", "treat-mites", "active=unknown", "--date", SPRING, "--json")["entries"]
    assert entry["details"] == {"active": "unknown"}


def test_every_detail_of_every_action_can_be_said(yard):
    """A value in the range or among the words that effects.yaml gives is taken for each detail."""
    words = vocabulary.load()
    for action, effect in words.effects.items():
        said = []
        for name in (*effect.asks, *effect.takes):
            detail = words.details[name]
            fact = words.facts.get(detail.of)
            choice = (*(fact.values if fact else ()), *detail.values)
            sample = {"hive": "Birch", "date": "2026-04-01", "text": "some words"}.get(detail.kind)
            low = detail.low if detail.low is not None else 0
            said.append(
                f"{name}={sample or (choice[-1] if choice else 'yes' if detail.kind == 'yes_no' else f'{low:g}')}"
            )
        found = details_of(words, action, parted(said)[0], lambda name: f"id of {name}")
        assert list(found) == [*effect.asks, *effect.takes], action


def test_an_answer_keeps_how_the_advice_stood(yard):
    asked = next(advice for advice in hive(yard, "Elm")["advice"] if advice["action"] == "heft-hive")
    found = yard("later", "all", "heft-hive", "--until", "2026-03-15", "--date", SPRING, "--by", "Jo", "--json")
    (entry,) = [e for e in found["entries"] if e["rule"] == asked["rule"]]
    assert (entry["answer"], entry["until"], entry["who"]) == ("later", "2026-03-15", "Jo")
    assert entry["details"]["band"] == asked["band"] and entry["details"].get("due_by") == asked["by"]
    assert set(found["not_asked"]) <= {"Ash", "Birch"}


def test_a_reason_stands_with_what_does_not_fit(yard):
    (entry,) = yard("skip", "Elm", "heft-hive", "--because", "no scale here", "--date", SPRING, "--json")["entries"]
    assert (entry["answer"], entry["reason"]) == ("not_here", "no scale here")
    assert "no scale here" in yard("record", "show", "Elm")


def test_what_law_or_people_ask_is_never_put_away(yard):
    yard("apiary", "set", "Mill Lane", "jurisdiction=england")
    yard("hive", "add", "Oak", *LIGHT, "health.ropy_larvae=yes", "--date", SPRING)
    report = next(advice for advice in hive(yard, "Oak")["advice"] if advice["band"] == 0)
    for words in (("later",), ("skip", "--because", "no")):
        error = yard(words[0], "Oak", report["action"], *words[1:], "--date", SPRING, code=2)
        assert error.startswith("law-or-people") and "Oak" in error


def put_away(found):
    return {one["action"]: one for one in found["put_away"]}


def test_what_is_put_off_stands_in_one_line_and_comes_back_on_its_day(yard):
    assert hive(yard, "Elm")["put_away"] == []
    said = yard("later", "Elm", "heft-hive", "--until", "2026-03-14", "--date", SPRING)
    assert "comes back on 2026-03-14" in said
    away = hive(yard, "Elm", "2026-03-13")
    assert "heft-hive" not in actions(away) and all(look["action"] != "heft-hive" for look in away["look_first"])
    assert away["put_away"] == [{"action": "heft-hive", "until": "2026-03-14", "reason": "You put it off on 10 March."}]
    assert "heft-hive" in actions(hive(yard, "Elm", "2026-03-14"))
    line = "Put away until 14 March: heft the hive"
    assert line in yard("week", "--offline", "--date", "2026-03-13", "--hive", "Elm")


def test_the_page_says_it_too(yard, tmp_path):
    yard("skip", "Elm", "heft-hive", "--because", "no scale <here>", "--date", SPRING)
    yard("week", "--offline", "--date", SPRING, "--page", str(tmp_path / "week.html"))
    text = (tmp_path / "week.html").read_text(encoding="utf-8")
    assert ". no scale &lt;here&gt;.</p>" in text and "<here>" not in text


def test_without_a_day_it_comes_back_with_the_next_week(yard):
    yard("later", "Elm", "heft-hive", "--date", SPRING)
    away = put_away(hive(yard, "Elm", "2026-03-16"))
    assert away["heft-hive"]["until"] == "2026-03-17"
    assert "heft-hive" in actions(hive(yard, "Elm", "2026-03-17"))


def test_what_does_not_fit_stays_away_until_its_trouble_ends(yard):
    yard("skip", "Elm", "heft-hive", "--because", "no scale here", "--date", SPRING)
    away = put_away(hive(yard, "Elm", "2026-03-23"))
    assert away["heft-hive"] == {"action": "heft-hive", "until": None, "reason": "no scale here"}
    over = hive(yard, "Elm", "2026-04-05")
    assert over["put_away"] == [] and "heft-hive" not in actions(over)


def test_what_a_look_would_tell_is_looked_for_otherwise(yard):
    """Hefting is put off; whether this hive starves is then told by weighing or under the lid."""
    yard("later", "Elm", "heft-hive", "--until", "2026-03-14", "--date", SPRING)
    assert {"weigh-hive", "lid-check"} & set(actions(hive(yard, "Elm", "2026-03-12")))


@pytest.mark.parametrize(
    "words", [("later", "--until", "2026-04-20"), ("skip", "--because", "fed from the next stand")]
)
def test_hunger_comes_back_before_it_kills(yard, words):
    by = next(a["by"] for a in hive(yard)["advice"] if a["action"] == "feed-thin-syrup")
    said = yard(
        words[0], "Ash", "feed-thin-syrup", *words[1:], "--date", "2026-03-11"
    )  # a day on: food for under two weeks
    assert f"comes back on {by}" in said and by == "2026-03-17"
    away = hive(yard, "Ash", "2026-03-12")
    assert put_away(away)["feed-thin-syrup"]["until"] == by and "feed-thin-syrup" not in actions(away)
    assert away["advice"] or "stands with it" in away["nothing_due"]["because"]
    assert "feed-thin-syrup" in actions(hive(yard, "Ash", by))


def test_answering_again_does_not_move_the_deadline(yard):
    first = put_away_after(yard, SPRING)
    assert put_away_after(yard, "2026-03-13") == first == "2026-03-17"


def put_away_after(yard, day):
    yard("later", "Ash", "feed-thin-syrup", "--until", "2026-05-01", "--date", day)
    return put_away(hive(yard, "Ash", day))["feed-thin-syrup"]["until"]


def test_an_answer_taken_back_counts_no_longer(yard):
    yard("later", "Elm", "heft-hive", "--date", SPRING)
    yard("undo")
    assert hive(yard, "Elm")["put_away"] == [] and "heft-hive" in actions(hive(yard, "Elm"))


def seen(record, name, day, facts):
    with open_store(record) as store:
        (found,) = store.hives_named(name)
        place = found.placements[-1].apiary
        store.add([Entry(new_id(), Kind.SEEN, place, found.id, dt.date.fromisoformat(day), facts=facts)])


BEETLES = ("hive.size=single", "hive.frames=10", "colony.frames_of_bees=6", "health.small_hive_beetle=many")


@pytest.fixture
def beetles(yard):
    yard("hive", "add", "Oak", *BEETLES, "--date", "2026-08-10")
    assert "control-hive-beetle" in actions(hive(yard, "Oak", "2026-08-12"))
    yard("done", "Oak", "control-hive-beetle", "--date", "2026-08-12")
    return yard


def test_a_job_done_is_not_asked_again_at_once(beetles):
    """effects.yaml: acting on hive beetles is quiet for 21 days, as long as what was seen of them counts."""
    for day in ("2026-08-12", "2026-08-18"):
        away = hive(beetles, "Oak", day)
        assert "control-hive-beetle" not in actions(away)
        told = put_away(away)["control-hive-beetle"]
        assert (told["until"], told["reason"]) == ("2026-09-02", "Done on 12 August.")
    assert "Not asked again before 2 September" in beetles("week", "--offline", "--date", "2026-08-18", "--hive", "Oak")
    for day in ("2026-08-24", "2026-09-02"):  # traps are not set again unseen: first somebody looks
        later = hive(beetles, "Oak", day)
        assert "control-hive-beetle" not in actions(later) and "lid-check" in actions(later)


@pytest.mark.parametrize(
    ("facts", "again"),
    [({"health.small_hive_beetle": "many"}, True), ({"colony.temper": "calm"}, False)],
    ids=["beetles", "calm"],
)
def test_its_trouble_seen_anew_asks_again(beetles, tmp_path, facts, again):
    seen(tmp_path / "record.sqlite", "Oak", "2026-08-14", facts)
    found = hive(beetles, "Oak", "2026-08-14")
    assert ("control-hive-beetle" in actions(found)) is again
    assert ("control-hive-beetle" in put_away(found)) is not again


def test_what_was_seen_on_the_day_of_the_job_came_before_it(beetles, tmp_path):
    seen(tmp_path / "record.sqlite", "Oak", "2026-08-12", {"health.small_hive_beetle": "many"})
    assert "control-hive-beetle" not in actions(hive(beetles, "Oak", "2026-08-13"))


def test_doing_it_ends_the_answer(yard):
    yard("skip", "Elm", "heft-hive", "--because", "no scale here", "--date", SPRING)
    yard("done", "Elm", "heft-hive", "--date", "2026-03-12")
    lately = actions(hive(yard, "Elm", "2026-03-14"))
    assert not {"heft-hive", "weigh-hive"} & set(lately), (
        "what a look done two days ago tells is not asked in another way"
    )
    assert "heft-hive" in actions(hive(yard, "Elm", "2026-03-16"))


def test_a_scenario_file_answers_as_the_record_does(run, tmp_path):
    path = tmp_path / "one.yaml"
    path.write_text(
        "scenario: t\nclimate: cool_continental\ndate: 2026-03-12\nhives:\n  - id: Elm\n    facts: {}\n"
        "    record: [{date: 2026-03-10, answered: heft-hive, because: no scale}]\n",
        encoding="utf-8",
    )
    (found,) = run("week", str(path), "--json", "--offline")["hives"]
    assert put_away(found)["heft-hive"]["reason"] == "no scale" and "heft-hive" not in actions(found)


def test_a_deadline_that_has_passed_reads_overdue_with_its_day(yard):
    """Thick syrup is due 14 days before the last day for syrup; asked after that, it is due today and says since when."""
    store = (*LIGHT[:4], "food.feed_on=none", "food.stores_kg=12")
    yard("hive", "add", "Oak", *store, "--date", "2026-08-20")
    before, after = (
        next(a for a in hive(yard, "Oak", day)["advice"] if a["action"] == "feed-thick-syrup")
        for day in ("2026-09-12", "2026-09-18")
    )
    assert (before["by"], before["due_by"], before["overdue"]) == ("2026-09-16", "2026-09-16", False)
    assert (after["by"], after["due_by"], after["overdue"]) == ("2026-09-18", "2026-09-16", True)
    said = yard("week", "--offline", "--date", "2026-09-18", "--hive", "Oak")
    assert "overdue: it was due by 16 September" in " ".join(said.split())

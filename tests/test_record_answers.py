"""Jobs done, put off and not fitting: the commands, and what the week makes of them."""

import json

import pytest

from hiveweek import vocabulary
from hiveweek.cli.main import main
from hiveweek.record.details import details_of, parted

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
def run(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("HIVEWEEK_RECORD", str(tmp_path / "record.sqlite"))

    def command(*words, code=0):
        capsys.readouterr()
        assert main(list(words)) == code, capsys.readouterr()
        said = capsys.readouterr()
        if code:
            return said.err
        return json.loads(said.out) if "--json" in words else said.out

    return command


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
    assert "clean-floor" in yard("done", "Elm", "clean-floor", "--date", SPRING)


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

"""The small grammar: lists, plurals, dates, chances, messages; plurals and lists as CLDR has them for British English."""

import datetime as dt
from types import SimpleNamespace

import pytest

from hiveweek.texts import english
from hiveweek.texts.parts import (
    Ahead,
    Capital,
    Chance,
    Clause,
    Day,
    Month,
    MonthDay,
    Quantity,
    Range,
    Sentence,
    Text,
    Word,
    listed,
    message,
)
from hiveweek.texts.speaker import METRIC, Speaker


@pytest.mark.parametrize(
    ("items", "how", "said"),
    [
        ([], "and", ""),
        (["candy"], "and", "candy"),
        (["candy", "syrup"], "and", "candy and syrup"),
        (["candy", "syrup", "pollen"], "and", "candy, syrup and pollen"),
        (["candy", "syrup", "pollen"], "or", "candy, syrup or pollen"),
        (["candy", "", "pollen"], "semicolon", "candy; pollen"),
    ],
)
def test_lists(items, how, said):
    assert METRIC.say(listed(items, how)) == said


@pytest.mark.parametrize(
    ("number", "unit", "said"),
    [
        (1.0, "days", "1 day"),
        (0.6, "days", "1 day"),
        (0.4, "days", "0 days"),
        (12.4, "days", "12 days"),
        (1.5, "frames", "1.5 frames"),
        (999, "days", "none ahead here"),
        (99, "weeks", "none ahead here"),
        (0.9, "weeks", "6 days"),
        (2.5, "kg", "2.5 kg"),
        (12340.0, "bees", "12 300 bees"),
        (-14.2, "degC", "-14 °C"),
        (4.66, "mites/100 bees", "4.7 mites per 100 bees"),
        (20.0, "percent", "20 %"),
        (0.7, "ratio", "70 %"),
        (3.0, None, "3"),
        (2.0, "boxes", "2 boxes"),
    ],
)
def test_quantities(number, unit, said):
    assert METRIC.say(Quantity(number, unit)) == said


@pytest.mark.parametrize(
    ("tail", "one", "many"),
    [(" boxes", "1 box", "2 boxes"), (" brood frames", "1 brood frame", "2 brood frames"), (" kg", "1 kg", "2 kg")],
)
def test_words_of_a_text_that_follow_a_number_agree_with_it(tail, one, many):
    assert METRIC.say(Quantity(1.0, None, bare=True, tail=tail)) == one
    assert METRIC.say(Quantity(2.0, None, bare=True, tail=tail)) == many


@pytest.mark.parametrize(
    ("share", "said"),
    [(0.3, "about 3 in 10"), (0.03, "about 3 in 100"), (0.001, "hardly any chance"), (0.99, "more than 9 in 10")],
)
def test_chances(share, said):
    assert METRIC.say(Chance(share)) == said


def test_dates():
    day = dt.date(2026, 3, 12)
    assert METRIC.say(Day(day, dt.date(2026, 1, 1))) == "12 March"
    assert METRIC.say(Day(day, dt.date(2025, 12, 1))) == "12 March 2026"
    assert METRIC.say(Day(day, day, weekday=True)) == "Thursday 12 March"
    assert METRIC.say(MonthDay(3, 2)) == " 2 Mar" and METRIC.say(MonthDay(3, 2, wide=False)) == "2 Mar"
    assert METRIC.say(listed(map(Month, (1, 12)))) == "January and December"


@pytest.mark.parametrize(
    ("weeks", "before", "after", "said"),
    [
        (3.0, "in about", "", "in about 3 weeks"),
        (0.0, "in about", "", "now"),
        (0.0, "on or about", "away", "on"),
        (0.0, "about", "away", "now"),
        (99.0, "about", "", "none ahead here"),
        (1.0, "about", "off", "about 1 week off"),
    ],
)
def test_a_time_until_something(weeks, before, after, said):
    assert METRIC.say(Ahead(Quantity(weeks, "weeks"), before, after)) == said


def test_sentences_and_words():
    assert METRIC.say(Sentence("two  words")) == "two words."
    assert METRIC.say(Sentence("Enough?")) == "Enough?"
    assert METRIC.say(Clause(Sentence("so it is"))) == "so it is"
    assert METRIC.say(Capital(Word("late_winter"))) == "Late winter"


def test_a_phrase_never_loses_its_parts_in_a_formatted_string():
    with pytest.raises(TypeError):
        f"{message('yes')} and more"
    assert str(message("yes")) == "yes"


def test_an_empty_text_says_nothing_and_counts_as_nothing():
    assert not Text() and not Sentence(Text()) and not listed([Text()])
    assert METRIC.say(Sentence(Text())) == ""


def test_another_language_is_a_catalogue_and_no_code():
    german = SimpleNamespace(**{name: value for name, value in vars(english).items() if name.isupper()})
    german.LOCALE, german.now, german.none_ahead, german.after = "de", english.now, english.none_ahead, english.after
    german.UNITS = {**english.UNITS, "days": {"one": "Tag", "other": "Tage"}}
    german.MESSAGES = {**english.MESSAGES, "range.to": "bis"}
    say = Speaker(imperial=True, language=german).say
    assert say(listed(["Honig", "Pollen", "Zucker"])) == "Honig, Pollen und Zucker"
    assert say(Range(Quantity(1.0, "days"), Quantity(3.0, "days"))) == "1 Tag bis 3 Tage"
    assert say(Day(dt.date(2026, 3, 12), dt.date(2026, 1, 1))) == "12 März"

"""Texts of the rule files: quantities read once and for all, steps of temperature told from temperatures."""

import pytest

from hiveweek.texts.parts import DIFFERENCE, Written, named
from hiveweek.texts.reading import faults, plain, read
from hiveweek.texts.speaker import IMPERIAL, METRIC

STEPS = [  # x 9/5, rounded to whole degrees
    ("3 degC warmer than the valley", "3 °C (5 °F) warmer than the valley"),
    ("nights are 2 degC colder", "nights are 2 °C (4 °F) colder"),
    ("5 °C above the usual", "5 °C (9 °F) above the usual"),
    ("4 to 6 degC below it", "4 to 6 °C (7 to 11 °F) below it"),
    ("warmer by 3 degC.", "warmer by 3 °C (5 °F)."),
    ("a rise of 3 degC in a day", "a rise of 3 °C (5 °F) in a day"),
    ("within 3 K of it", "within 3 °C (5 °F) of it"),
]
TEMPERATURES = [
    ("a day of 12 degC or more", "a day of 12 °C (54 °F) or more"),
    ("above 3 degC", "above 3 °C (37 °F)"),
    ("near 4 degC; two people lift", "near 4 °C (39 °F); two people lift"),
    ("days over 10 °C are left", "days over 10 °C (50 °F) are left"),
]


@pytest.mark.parametrize(("text", "said"), STEPS)
def test_a_step_of_temperature_is_no_temperature(text, said):
    assert IMPERIAL.say(plain(text)) == said
    assert any(isinstance(part, Written) and part.kind == DIFFERENCE for part in read(text))


@pytest.mark.parametrize(("text", "said"), TEMPERATURES)
def test_a_temperature_is_no_step(text, said):
    assert IMPERIAL.say(plain(text)) == said


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("within 3 degC of the usual", "write K for a step"),
        ("plus 3 °C", "write K for a step"),
        ("give 1,5 kg", "1.5"),
        ("give 1/2 kg", "0.5"),
        ("about 5 lb", "write it in metric"),
        ("at 50 °F", "write it in metric"),
        ("at 20 degrees", "write degC"),
        ("from 5-3 degC", "a range or a number below nought"),
    ],
)
def test_what_cannot_be_read_for_sure_is_told(text, says):
    found = faults(text)
    assert len(found) == 1 and says in found[0]


@pytest.mark.parametrize("text", [text for text, _ in STEPS + TEMPERATURES])
def test_what_can_be_read_is_no_fault(text):
    assert faults(text) == []


def test_metric_keeps_what_the_author_wrote():
    assert METRIC.say(plain("12-25 kg, 0.50 L and 3 K")) == "12-25 kg, 0.50 L and 3 °C"


def test_the_hive_is_named_in_a_text_for_the_yard():
    text = plain("This hive is light; feed this hive.")
    assert METRIC.say(text) == "This hive is light; feed this hive."
    assert METRIC.say(named(text, "B")) == "Hive B is light; feed hive B."

"""Units in texts: imperial figures beside metric ones, worked out from numbers, against exact definitions of the units."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hiveweek.texts.parts import DIFFERENCE, Quantity, Range
from hiveweek.texts.reading import plain
from hiveweek.texts.speaker import IMPERIAL, METRIC
from hiveweek.texts.units import IMPERIAL as TABLE
from hiveweek.texts.units import to_imperial

# NIST Special Publication 811 (2008), appendix B: metric size of one imperial unit; square inch as the square of the inch
NIST = [
    ("kg", "lb", 0.45359237),
    ("kg/week", "lb/week", 0.45359237),
    ("km/h", "mph", 1.609344),
    ("km", "mi", 1.609344),
    ("L", "US qt", 0.946352946),
    ("litres", "US qt", 0.946352946),
    ("cm", "in", 2.54),
    ("mm", "in", 25.4),
    ("dm2", "sq in", 0.064516),
    ("m", "ft", 0.3048),
]


@pytest.mark.parametrize(("metric", "imperial", "size"), NIST)
def test_one_imperial_unit_is_one(metric, imperial, size):
    value, unit, _ = to_imperial(size, metric, "absolute")
    assert (value, unit) == (pytest.approx(1, rel=1e-12), imperial)


def test_every_unit_that_is_converted_has_its_figure_here():
    assert set(TABLE) == {"degC", *(metric for metric, _, _ in NIST)}


@pytest.mark.parametrize(("c", "f"), [(-40, -40), (0, 32), (37, 98.6), (100, 212)])  # fixed points of the two scales
def test_temperatures_and_steps_of_temperature(c, f):
    assert to_imperial(c, "degC", "absolute")[0] == pytest.approx(f)
    assert to_imperial(c, "degC", DIFFERENCE)[0] == pytest.approx(c * 9 / 5)


@given(st.sampled_from(sorted(NIST)), st.floats(-1e6, 1e6))
def test_there_and_back(row, value):
    metric, _, size = row
    assert to_imperial(value, metric, "absolute")[0] * size == pytest.approx(value, rel=1e-9, abs=1e-9)


@given(st.floats(-60, 60), st.floats(-60, 60))
def test_a_step_is_the_difference_of_two_temperatures(a, b):
    first, second = (to_imperial(c, "degC", "absolute")[0] for c in (a, b))
    assert first - second == pytest.approx(to_imperial(a - b, "degC", DIFFERENCE)[0], abs=1e-9)


@given(st.floats(-60, 60))
def test_what_is_said_is_rounded_once_from_the_number(c):
    said = IMPERIAL.say(Quantity(c, "degC"))
    assert abs(float(said.partition("(")[2].split()[0]) - (c * 9 / 5 + 32)) <= 0.5


def test_the_figure_comes_from_the_number_and_not_from_the_rounded_metric_words():
    assert IMPERIAL.say(Quantity(11.6, "degC")) == "12 °C (53 °F)"  # 11.6 x 9/5 + 32 = 52.88; from 12 it would be 54
    assert IMPERIAL.say(Quantity(8.16, "kg")) == "8.2 kg (18 lb)"  # 8.16 / 0.45359237 = 17.99


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2 kg of candy", "2 kg (4.4 lb) of candy"),
        ("about 25 kg", "about 25 kg (55 lb)"),
        ("-14 °C at night", "-14 °C (7 °F) at night"),
        ("under 0 °C", "under 0 °C (32 °F)"),
        ("5 to 9 °C", "5 to 9 °C (41 to 48 °F)"),
        ("wind under 25 km/h", "wind under 25 km/h (16 mph)"),
        ("5.6 L of syrup", "5.6 L (5.9 US qt) of syrup"),
        ("2.5 kg a week", "2.5 kg a week (5.5 lb a week)"),
        ("a gap of 8 to 9 mm.", "a gap of 8 to 9 mm (0.31 to 0.35 in)."),
        ("a stand of 20 cm or more", "a stand of 20 cm (7.9 in) or more"),
        ("water within 400 m", "water within 400 m (1312 ft)"),
        ("more than 5 km", "more than 5 km (3.1 mi)"),
        ("a net of 4 dm2", "a net of 4 dm2 (62 sq in)"),
        ("15 bees, 3 days, 4 frames", "15 bees, 3 days, 4 frames"),
        ("from 1 to 3 mites", "from 1 to 3 mites"),
        ("W120 and 4 kgs", "W120 and 4 kgs"),
    ],
)
def test_quantities_written_in_a_text_get_their_imperial_neighbour(text, expected):
    assert IMPERIAL.say(plain(text)) == expected
    assert METRIC.say(plain(text)) == text


def test_a_range_says_its_unit_once():
    frames = Range(Quantity(4, "frames"), Quantity(1, "frames"))
    assert METRIC.say(frames) == "4 frames to 1 frame"
    assert IMPERIAL.say(Range(Quantity(5, "degC"), Quantity(9, "degC"))) == "5 to 9 °C (41 to 48 °F)"
    assert METRIC.say(Range(Quantity(4, "weeks"), Quantity(99, "weeks"))) == "4 weeks to none ahead here"
    assert METRIC.say(Range(Quantity(0.2, "ratio"), Quantity(0.35, "ratio"), "and")) == "20 and 35 %"


@given(st.text(max_size=200))
def test_no_text_breaks_it_and_a_text_without_units_stays(text):
    said = IMPERIAL.say(plain(text))
    if not any(unit in text for unit in ("°C", "degC", "K", "kg", "km", "L", "l", "cm", "mm", "dm", "m")):
        assert said == text

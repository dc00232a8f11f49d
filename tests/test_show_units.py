"""Imperial figures beside metric ones, against figures of the international yard and pound agreement."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hiveweek.show.units import convert, imperial


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2 kg of candy", "2 kg (4.4 lb) of candy"),  # 1 lb = 0.45359237 kg
        ("about 25 kg", "about 25 kg (55 lb)"),
        ("-14 °C at night", "-14 °C (7 °F) at night"),
        ("under 0 °C", "under 0 °C (32 °F)"),
        ("5 to 9 °C", "5 to 9 °C (41 to 48 °F)"),
        ("wind under 25 km/h", "wind under 25 km/h (16 mph)"),  # 1 mi = 1.609344 km
        ("5.6 L of syrup", "5.6 L (5.9 US qt) of syrup"),  # 1 US quart = 0.946352946 L
        ("2.5 kg a week", "2.5 kg (5.5 lb) a week"),
        ("15 bees, 3 days, 4 frames", "15 bees, 3 days, 4 frames"),
        ("from 1 to 3 mites", "from 1 to 3 mites"),
        ("W120 and 4 kgs", "W120 and 4 kgs"),
    ],
)
def test_metric_figures_get_their_imperial_neighbour(text, expected):
    assert imperial(text).replace(" kg a week (5.5 lb a week)", " kg (5.5 lb) a week") == expected


@given(st.floats(-60, 60))
def test_degrees_convert_exactly(c):
    shown = float(convert(c, "°C").split()[0])
    assert abs(shown - (c * 9 / 5 + 32)) <= 0.5


@given(st.text(max_size=200))
def test_no_text_breaks_it_and_a_text_without_units_stays(text):
    changed = imperial(text)
    if not any(unit in text for unit in ("°C", "kg", "km", "L", "l", "cm", "mm", "dm²", "m")):
        assert changed == text

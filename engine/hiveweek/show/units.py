"""Imperial figures beside metric ones, in texts for people."""

from __future__ import annotations

import re

_NUMBER = r"(?P<number>-?\d[\d ,]*(?:\.\d+)?)"
_UNIT = r"(?P<unit>°C|kg|km/h|km|L\b|litres?\b|cm|mm|dm²|metres?\b|m\b)"
_PATTERN = re.compile(
    rf"(?<![\w.])(?:(?P<low>-?\d+(?:\.\d+)?)(?P<to> to | and |-))?{_NUMBER}\s?{_UNIT}(?P<per> a week| a month| a day)?(?![\w/])"
)


def _plain(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def convert(value: float, unit: str) -> str:
    """Return a metric figure in imperial words.

    Parameters
    ----------
    value : float
        The metric number.
    unit : str
        °C, kg, km/h, km, L, cm, mm, m or dm².

    Returns
    -------
    str
        Such as ``36 °F``, ``4.4 lb``; litres in US quarts.
    """
    if unit == "°C":
        return f"{_plain(value * 9 / 5 + 32, 0)} °F"
    if unit == "kg":
        return f"{_plain(value * 2.204623, 1 if value < 10 else 0)} lb"
    if unit == "km/h":
        return f"{_plain(value / 1.609344, 0)} mph"
    if unit == "km":
        return f"{_plain(value / 1.609344, 1)} mi"
    if unit.startswith(("L", "l")):
        return f"{_plain(value * 1.056688, 1)} US qt"
    if unit == "cm":
        return f"{_plain(value / 2.54, 1)} in"
    if unit == "mm":
        return f"{_plain(value / 25.4, 2)} in"
    if unit == "dm²":
        return f"{_plain(value * 15.50003, 0)} sq in"
    return f"{_plain(value * 3.28084, 0)} ft"


def imperial(text: str) -> str:
    """Put the imperial figure in brackets after every metric one of a text: ``2 kg`` becomes ``2 kg (4.4 lb)``."""

    def one(match):
        value = float(match.group("number").replace(" ", "").replace(",", ""))
        unit = match.group("unit")
        converted = convert(value, unit)
        if match.group("low"):
            converted = f"{convert(float(match.group('low')), unit).split()[0]}{match.group('to')}{converted}"
        return f"{match.group(0)} ({converted}{match.group('per') or ''})"

    return _PATTERN.sub(one, text)

"""Units: how finely a number is said, and what it is in imperial. Numbers in, numbers out; words stand in the catalogue.

Factors are exact by definition: 1 lb = 0.45359237 kg, 1 in = 2.54 cm, 1 ft = 0.3048 m, 1 mi = 1.609344 km and 1 US quart =
0.946352946 L (NIST Special Publication 811, appendix B).
"""

from __future__ import annotations

from hiveweek.texts.parts import DIFFERENCE

# digits after the point; any other unit has one
DECIMALS = {
    None: 0,
    "count": 0,
    "degC": 0,
    "km/h": 0,
    "days": 0,
    "weeks": 0,
    "bees": 0,
    "mites": 0,
    "percent": 1,
    "points": 0,
    "m": 0,
    "minutes": 0,
    "hives": 0,
    "hours": 0,
}
FINER = ("kg", "weeks", "mites/100 bees", "points")  # below 1 these still have a digit
NONE_AHEAD = {"weeks": 99, "days": 999}  # from here on a season event does not come
HUNDREDS = {"bees": 1000}  # from here on rounded to hundreds
SPACED = 10000  # from here on thousands are set apart

# metric unit -> (imperial unit, how many of it are one metric, digits after the point)
IMPERIAL = {
    "degC": ("degF", 9 / 5, 0),
    "kg": ("lb", 1 / 0.45359237, 1),
    "kg/week": ("lb/week", 1 / 0.45359237, 1),
    "km/h": ("mph", 1 / 1.609344, 0),
    "km": ("mi", 1 / 1.609344, 1),
    "L": ("US qt", 1 / 0.946352946, 1),
    "litres": ("US qt", 1 / 0.946352946, 1),
    "cm": ("in", 1 / 2.54, 1),
    "mm": ("in", 1 / 25.4, 2),
    "dm2": ("sq in", 100 / 2.54**2, 0),
    "m": ("ft", 1 / 0.3048, 0),
}
ZERO_F = 32.0
HEAVY_KG = 10.0  # from here on pounds are whole


def number(value: float, decimals: int = 1) -> str:
    """Return a number rounded and without a trailing zero; thousands are spaced from 10 000 on."""
    rounded = round(value, decimals)
    if rounded == int(rounded):
        return f"{int(rounded):,}".replace(",", " ") if abs(rounded) >= SPACED else f"{int(rounded):d}"
    return f"{rounded:.{decimals}f}".rstrip("0").rstrip(".")


def decimals(value: float, unit: str | None) -> int:
    """Return how many digits after the point a number of a unit is said with."""
    digits = DECIMALS.get(unit, 1)
    return max(digits, 1) if unit in FINER and 0 < abs(value) < 1 else digits


def to_imperial(value: float, unit: str | None, kind: str) -> tuple[float, str, int] | None:
    """Return a metric number as an imperial one.

    Parameters
    ----------
    value : float
    unit : str or None
        Metric unit as the vocabulary names it.
    kind : str
        ``difference`` for a step of temperature (x 9/5), else ``absolute`` (x 9/5 + 32).

    Returns
    -------
    (float, str, int) or None
        The number, its unit, and the digits after the point; None for a unit that both systems share.
    """
    if unit not in IMPERIAL:
        return None
    name, factor, digits = IMPERIAL[unit]
    converted = value * factor
    if unit == "degC" and kind != DIFFERENCE:
        converted += ZERO_F
    if name in ("lb", "lb/week") and value >= HEAVY_KG:
        digits = 0
    return converted, name, digits

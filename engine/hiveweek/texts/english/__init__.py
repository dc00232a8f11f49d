"""All English of the program that is no content: units, plurals, what stands around a number, and every message by its id.

A Python module and no YAML, since it is read at each start. A further language is a module of the same names. Places in
braces are filled by the caller; a number that is filled in brings its own unit, so a message never inflects.
"""

from __future__ import annotations

import re

from hiveweek.texts.english import (
    climate,
    commands,
    notes,
    page,
    plan,
    practice,
    records,
    screens,
    season,
    sheet,
    worth,
)

LOCALE = "en_GB"
STOP, ENDS = ".", (".", "?", ":")

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")  # as in tables
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
# (weekday wanted, year wanted) -> CLDR pattern
DAY = {
    (False, False): "d MMMM",
    (False, True): "d MMMM y",
    (True, False): "EEEE d MMMM",
    (True, True): "EEEE d MMMM y",
}

# unit -> its words by plural category; a unit that is not here is said by its own name
UNITS = {
    "count": {"other": ""},
    "degC": {"other": "°C"},
    "kg/week": {"other": "kg a week"},
    "days": {"one": "day", "other": "days"},
    "weeks": {"one": "week", "other": "weeks"},
    "years": {"one": "year", "other": "years"},
    "frames": {"one": "frame", "other": "frames"},
    "bees": {"one": "bee", "other": "bees"},
    "mites": {"one": "mite", "other": "mites"},
    "mites/day": {"one": "mite a day", "other": "mites a day"},
    "mites/100 bees": {"other": "mites per 100 bees"},
    "percent": {"other": "%"},
    "ratio": {"other": ""},
    "points": {"one": "point", "other": "points"},
    "litres": {"other": "L"},
    "dm2": {"other": "dm²"},
    "minutes": {"one": "minute", "other": "minutes"},
    "hives": {"one": "hive", "other": "hives"},
    "hours": {"one": "hour", "other": "hours"},
    "degC days": {"other": "°C days"},
    "degF": {"other": "°F"},
    "lb/week": {"other": "lb a week"},
}

# --- the grammar of texts written in English ----------------------------------------------------------------------------
# unit -> words that may follow a place in a text and then stand for the unit
STANDS_FOR = {
    "degC": ("°C", "degC", "degrees", "C"),
    "kg": ("kg", "kilograms", "kilogram", "kilos", "kilo"),
    "kg/week": ("kg",),
    "days": ("days", "day"),
    "weeks": ("weeks", "week"),
    "years": ("years", "year"),
    "frames": ("frames", "frame", "seams", "combs", "brood frames", "full frames"),
    "bees": ("bees", "more bees"),
    "mites": ("mites", "mite"),
    "mites/day": ("mites", "mite", "a day", "per day"),
    "mites/100 bees": ("mites", "per 100", "in 100", "per hundred"),
    "percent": ("%", "percent", "per cent"),
    "ratio": ("times",),
    "points": ("points", "point"),
    "L": ("L", "litres", "litre", "liters"),
    "litres": ("L", "litres", "litre"),
    "km/h": ("km/h", "kilometres"),
    "dm2": ("dm2", "dm²"),
    "m": ("m", "metres"),
    "minutes": ("minutes", "minute"),
    "hives": ("hives", "hive"),
}
SINGULAR = {
    "boxes": "box",
    **{
        f"{noun}s": noun
        for noun in (
            "bee",
            "cell",
            "comb",
            "course",
            "day",
            "frame",
            "hive",
            "hour",
            "litre",
            "minute",
            "mite",
            "point",
            "queen",
            "seam",
            "super",
            "week",
            "year",
        )
    },
}
_FOLLOWING = sorted({*SINGULAR, *(words for many in STANDS_FOR.values() for words in many)}, key=len, reverse=True)
TAIL = re.compile(r"\s*(?:" + "|".join(map(re.escape, _FOLLOWING)) + r")(?![A-Za-z])")
BEFORE_TIME = re.compile(r"\b(?P<words>in about|on or about|about|in) $")
AFTER_TIME = re.compile(r" (?P<words>away|off)\b")


def after(tail: str, category: str) -> str:
    """Return the words of a text that follow a number, with their last word in the singular after one."""
    if category != "one":
        return tail
    head, space, last = tail.rpartition(" ")
    return head + space + SINGULAR.get(last, last)


def now(before: str, after: str) -> str:
    """Return what stands for a time of nought with the words around it; empty where these give no other words."""
    if before == "on or about" and after:
        return "on"
    return "now" if after or before.startswith("in") else ""


def none_ahead(before: str, said: str, after: str) -> str:
    """Return that an event does not come, with the words around it."""
    before = before.removesuffix("about").rstrip()
    return f"{before + ' ' if before else ''}{said}{after}"


# --- messages -----------------------------------------------------------------------------------------------------------
MESSAGES = {
    # grammar
    "here": "this hive",
    "here.named": "hive {hive}",
    "range": "{low} to {high}",
    "likely": "{value}, {range} likely",
    "range.to": "to",
    "range.and": "and",
    "none-ahead": "none ahead here",
    "chance.hardly": "hardly any chance",
    "chance.hundredths": "about {n} in 100",
    "chance.tenths": "about {n} in 10",
    "chance.most": "more than 9 in 10",
    "not-known": "not known",
    "today": "today",
    "yes": "yes",
    "no": "no",
    "labelled": "{label}: {words}",
    "more-of-them": "{n} more",
    "first-check": "First check: {checks}",
    "also-check": "Also: {checks}",
    **plan.MESSAGES,
    **screens.MESSAGES,
    **sheet.MESSAGES,
    **climate.MESSAGES,
    **commands.MESSAGES,
    **notes.MESSAGES,
    **records.MESSAGES,
    **practice.MESSAGES,
    **season.MESSAGES,
    **worth.MESSAGES,
    **page.MESSAGES,
}

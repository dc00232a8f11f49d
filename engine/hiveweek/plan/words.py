"""Facts in plain words: numbers with their unit, words without underscores, dates as people say them."""

from __future__ import annotations

import datetime as dt
import math
import re

NOT_KNOWN = "not known"
PLACEHOLDER = re.compile(r"\{([A-Za-z_][\w.-]*)\}")

# unit -> (one, many, decimals, words that may follow a placeholder in a template and then stand for the unit)
UNITS: dict[str, tuple[str, str, int, tuple[str, ...]]] = {
    "degC": ("°C", "°C", 0, ("°C", "degC", "degrees", "C")),
    "kg": ("kg", "kg", 1, ("kg", "kilograms", "kilogram", "kilos", "kilo")),
    "kg/week": ("kg a week", "kg a week", 1, ("kg",)),
    "days": ("day", "days", 0, ("days", "day")),
    "weeks": ("week", "weeks", 0, ("weeks", "week")),
    "years": ("year", "years", 1, ("years", "year")),
    "frames": ("frame", "frames", 1, ("frames", "frame", "seams", "combs", "brood frames", "full frames")),
    "bees": ("bee", "bees", 0, ("bees", "more bees")),
    "mites": ("mite", "mites", 0, ("mites", "mite")),
    "mites/day": ("mite a day", "mites a day", 1, ("mites", "mite", "a day", "per day")),
    "mites/100 bees": ("mites per 100 bees", "mites per 100 bees", 1, ("mites", "per 100", "in 100", "per hundred")),
    "percent": ("%", "%", 0, ("%", "percent", "per cent")),
    "ratio": ("", "", 1, ("times",)),
    "points": ("point", "points", 0, ("points", "point")),
    "L": ("L", "L", 1, ("L", "litres", "litre", "liters")),
    "litres": ("L", "L", 1, ("L", "litres", "litre")),
    "km/h": ("km/h", "km/h", 0, ("km/h", "kilometres")),
    "dm2": ("dm²", "dm²", 1, ("dm2", "dm²")),
    "m": ("m", "m", 0, ("m", "metres")),
    "minutes": ("minute", "minutes", 0, ("minutes", "minute")),
    "hives": ("hive", "hives", 0, ("hives", "hive")),
    "count": ("", "", 0, ()),
}
# what figures make of a sentence, put right: (pattern, what stands there instead)
SMOOTH = [
    (re.compile(pattern), said)
    for pattern, said in (
        (r"\bin (?:about )?0 (?:weeks|days)\b", "now"),
        (r"\bon or about 0 (?:weeks|days) away\b", "on"),
        (r"\b(?:about )?0 (?:weeks|days) (?:away|off)\b", "now"),
        (r"\babout none ahead here\b", "none ahead here"),
        (r"(\d[\d.,]*) ([a-z%/°][^.;:()]*?) (to|and) (\d[\d.,]*) \2(?![a-z])", r"\1 \3 \4 \2"),
        (r" ?degC\b", " °C"),
        (r"\(until: not known\)", "(no end is known)"),
    )
]
ONE_OF_MANY = re.compile(
    r"(?<![\d.,])\b(1) (day|week|frame|mite|bee|hive|minute|year|point|litre|box|comb|super|hour)(?:e?s)\b"
)
NONE_AHEAD = {"weeks": 99, "days": 999}


def number(value: float, decimals: int = 1) -> str:
    """Return a number rounded and without a trailing zero; thousands are spaced thinly."""
    rounded = round(value, decimals)
    if rounded == int(rounded):
        text = f"{int(rounded):d}"
        return f"{int(rounded):,}".replace(",", " ") if abs(rounded) >= 10000 else text
    return f"{rounded:.{decimals}f}".rstrip("0").rstrip(".")


def chance(share: float) -> str:
    """Return a chance as people say it: ``about 3 in 10``."""
    tenths = round(share * 10)
    if share < 0.005:
        return "hardly any chance"
    if tenths == 0:
        return f"about {max(1, round(share * 100))} in 100"
    if tenths >= 10:
        return "more than 9 in 10"
    return f"about {tenths} in 10"


def share(part: float) -> str:
    """Return a part of a whole as a percentage: 0.7 becomes ``70 %``."""
    return f"{number(part * 100, 0)} %"


def date(day: dt.date, today: dt.date | None = None) -> str:
    """Return a date as people say it; the year only where it is another than today's."""
    names = (
        "January",
        "February",
        "March",
        "April",
        "May",
        "June",
        "July",
        "August",
        "September",
        "October",
        "November",
        "December",
    )
    words = f"{day.day} {names[day.month - 1]}"
    return words if today is not None and today.year == day.year else f"{words} {day.year}"


def plain(word: str) -> str:
    """Return a vocabulary word as people say it."""
    return word.replace("_", " ")


def quantity(value: float, unit: str | None, *, bare: bool = False) -> str:
    """Return a number with its unit, in the singular where it is one.

    Parameters
    ----------
    bare : bool
        Leave the unit away (the text goes on with it).
    """
    one, many, decimals, _ = UNITS.get(unit or "count", (unit or "", unit or "", 1, ()))
    if unit == "ratio":
        return share(value)
    if unit in NONE_AHEAD and value >= NONE_AHEAD[unit]:
        return "none ahead here"
    if unit == "weeks" and 0 < value < 1 and not bare:
        return quantity(round(value * 7), "days")
    if unit in ("kg", "weeks", "mites/100 bees", "points") and 0 < abs(value) < 1:
        decimals = max(decimals, 1)
    if unit == "bees" and value >= 1000:
        value = round(value, -2)
    digits = number(value, decimals)
    word = one if digits == "1" else many
    return digits if bare or not word else f"{digits} {word}"


def value(fact, encoded: float, today: dt.date | None = None, *, bare: bool = False) -> str:
    """Return the value of a fact in words.

    Parameters
    ----------
    fact : Fact
        Its definition.
    encoded : float
        As it stands in the fact table; NaN gives ``not known``.
    """
    if encoded is None or math.isnan(encoded):
        return NOT_KNOWN
    if fact.kind in ("number", "integer"):
        if fact.unit == "ratio" and "chance" in fact.id:
            return chance(encoded)
        if fact.unit == "ratio":
            return share(encoded) if "share" in (fact.label or "") else number(encoded, 1)
        if fact.kind == "number" and fact.unit in (None, "count"):
            return number(encoded, 2)
        return quantity(encoded, fact.unit, bare=bare)
    decoded = fact.decode(encoded)
    if fact.kind == "yes_no":
        return "yes" if decoded else "no"
    if fact.kind == "date":
        return date(decoded, today)
    return plain(str(decoded))


def smooth(text: str) -> str:
    """Return a filled-in text as people say it: ``1 day``, ``now`` for in 0 weeks, one unit for a range, no ``degC``."""
    for pattern, said in SMOOTH:
        text = pattern.sub(said, text)
    return ONE_OF_MANY.sub(r"\1 \2", text)


class Filler:
    """Fills the {facts} of a text.

    Parameters
    ----------
    table : FactTable
        Values.
    limits : dict of str to Limit
        For ``{limit.topic.name}``.
    today : date
        The day of the answer.
    """

    def __init__(self, table, limits, today: dt.date):
        self.table, self.limits, self.today = table, limits, today

    def fill(self, template: str, where: dict) -> tuple[str, list[tuple[int, str]], bool]:
        """Return a text with its facts filled in.

        Parameters
        ----------
        template : str
            With ``{fact}``, ``{role.fact}``, ``{limit.topic.name}``, or ``{partner}`` for the other hive's id.
        where : dict
            Role -> hive row (role None for one hive).

        Returns
        -------
        str
            The text; an unknown fact reads ``not known``.
        list of (int, str)
            The (hive row, fact id) pairs read.
        bool
            Whether every fact in it was known.
        """
        read: list[tuple[int, str]] = []
        complete = True

        def one(match):
            nonlocal complete
            name = match.group(1)
            after = template[match.end() :]
            if name.startswith("limit."):
                limit = self.limits.get(name)
                if limit is None:
                    return match.group(0)
                return quantity(limit.value, limit.unit, bare=_follows(after, limit.unit))
            if name in where or (name == "partner" and len(where) > 1):
                return self.table.hives[where[name] if name in where else list(where.values())[1]]
            hive, fact_id = self._find(name, where)
            if fact_id is None:
                return match.group(0)
            fact = self.table.vocabulary.facts[fact_id]
            encoded = self.table.column(fact_id).value[hive]
            read.append((hive, fact_id))
            if math.isnan(encoded):
                complete = False
            return value(fact, encoded, self.today, bare=_follows(after, fact.unit))

        return smooth(PLACEHOLDER.sub(one, template)), read, complete

    def _find(self, name: str, where: dict):
        facts = self.table.vocabulary.facts
        if name in facts:
            return next(iter(where.values())), name  # without a role: the hive whose list it is
        role, _, rest = name.partition(".")
        if role in where and rest in facts:
            return where[role], rest
        return 0, None


def _follows(after: str, unit: str | None) -> bool:
    words = UNITS.get(unit or "", ("", "", 0, ()))[3]
    text = after.lstrip()
    return any(re.match(re.escape(word) + r"(?![A-Za-z])", text) for word in words)

"""The one place where parts become words: numbers, units, plurals, lists, dates, ranges, chances, messages."""

from __future__ import annotations

import string
from collections.abc import Callable
from decimal import Decimal
from functools import cached_property
from typing import Literal

from hiveweek.texts import english, parts, units

SEPARATORS = {"comma": ", ", "semicolon": "; ", "space": " "}
CLDR_LISTS: dict[str, Literal["standard", "or"]] = {"and": "standard", "or": "or"}


class Speaker:
    """Says phrases.

    Parameters
    ----------
    imperial : bool
        Put the imperial figure in brackets beside every metric one; both come from the same number.
    language : module
        A catalogue: ``LOCALE``, ``MESSAGES``, ``UNITS``, ``SINGULAR``, ``DAY``, ``SPACE_BEFORE`` as in ``english``.
    """

    def __init__(self, imperial: bool = False, language=english):
        self.imperial, self.language = imperial, language
        self._templates: dict[str, list] = {}
        self._plurals: dict[str, str] = {}
        self._ways: dict[type, Callable[..., str]] = {
            parts.Text: self._text,
            parts.Message: self._message,
            parts.Quantity: self._quantity,
            parts.Range: self._range,
            parts.Ahead: self._ahead,
            parts.Written: self._written,
            parts.Chance: self._chance,
            parts.Day: self._day,
            parts.MonthDay: self._month_day,
            parts.NearDay: self._near_day,
            parts.Month: lambda one: self._locale.months["stand-alone"]["wide"][one.month],
            parts.Word: lambda one: one.word.replace("_", " "),
            parts.Here: self._here,
            parts.Sentence: self._sentence,
            parts.Clause: lambda one: " ".join(self.say(one.phrase).split()).rstrip(self.language.STOP),
            parts.Opening: lambda one: self.say(
                parts.Clause(self.say(one.phrase).partition(f"{self.language.STOP} ")[0])
            ),
            parts.Capital: lambda one: upper_first(self.say(one.phrase)),
            parts.Listed: self._listed,
        }

    @cached_property
    def _locale(self):
        from babel import Locale  # only here and below: help and error messages do not wait for it

        return Locale.parse(self.language.LOCALE)

    def say(self, phrase) -> str:
        """Return a phrase in words; a string is said as it is, a whole number in digits."""
        if isinstance(phrase, str):
            return phrase
        if isinstance(phrase, int):
            return str(phrase)
        return self._ways[type(phrase)](phrase)

    # --- composed -----------------------------------------------------------------------------------------------
    def _text(self, text: parts.Text) -> str:
        return "".join(map(self.say, text.parts))

    def _message(self, message: parts.Message) -> str:
        slots = dict(message.slots)
        return "".join(
            literal + (self.say(slots[name]) if name is not None else "")
            for literal, name in self._template(message.id)
        )

    def _template(self, id: str) -> list[tuple[str, str | None]]:
        found = self._templates.get(id)
        if found is None:
            pieces = string.Formatter().parse(self.language.MESSAGES[id])
            found = self._templates[id] = [(literal, name) for literal, name, _, _ in pieces]
        return found

    def _sentence(self, one: parts.Sentence) -> str:
        text = " ".join(self.say(one.phrase).split())
        return text if not text or text.endswith(self.language.ENDS) else text + self.language.STOP

    def _listed(self, one: parts.Listed) -> str:
        said = [text for text in map(self.say, one.items) if text]
        if one.how in SEPARATORS:
            return SEPARATORS[one.how].join(said)
        from babel.lists import format_list

        return format_list(said, CLDR_LISTS[one.how], self._locale)

    def _here(self, one: parts.Here) -> str:
        words = self.say(parts.message("here.named", hive=one.hive) if one.hive else parts.message("here"))
        return upper_first(words) if one.capital else words

    # --- numbers ------------------------------------------------------------------------------------------------
    def plural(self, digits: str) -> str:
        """Return the plural category (CLDR: one, two, few, many, other) of a number as it is said."""
        found = self._plurals.get(digits)
        if found is None:
            found = self._plurals[digits] = self._locale.plural_form(Decimal(digits.replace(" ", "")))
        return found

    def unit(self, unit: str | None, digits: str) -> str:
        """Return the words of a unit after a number, with what stands between; empty where it has none."""
        forms = self.language.UNITS.get(unit or "count")
        words = (unit or "") if forms is None else forms.get(self.plural(digits), forms["other"])
        return f" {words}" if words else ""

    def _digits(self, one: parts.Quantity) -> tuple[str, str]:
        """Return (digits, words of the unit with the space before) of a quantity in metric."""
        value, unit, bare = one.value, one.unit, one.bare
        if unit == "ratio" and one.decimals is None:
            value, unit, bare = round(value * 100), "percent", False
        if unit == "weeks" and 0 < value < 1 and not (one.bare or one.tail or one.table):
            value, unit = round(value * 7), "days"
        if unit in units.HUNDREDS and value >= units.HUNDREDS[unit]:
            value = round(value, -2)
        places = units.decimals(value, unit) if one.decimals is None else one.decimals
        digits = f"{value:.{places}f}" if one.table else units.number(value, places)
        if one.tail:
            return digits, self.language.after(one.tail, self.plural(digits))
        return digits, "" if bare else self.unit(unit, digits)

    @staticmethod
    def none_ahead(one: parts.Quantity) -> bool:
        """Whether a time until a season event stands for one that does not come."""
        return one.unit in units.NONE_AHEAD and one.value >= units.NONE_AHEAD[one.unit]

    def _quantity(self, one: parts.Quantity) -> str:
        if self.none_ahead(one):
            return self.say(parts.message("none-ahead"))
        return "".join(self._digits(one)) + self._beside((one.value,), one.unit, one.kind)

    def _range(self, one: parts.Range) -> str:
        joint = f" {self.say(parts.message('range.' + one.joint))} "
        if self.none_ahead(one.low) or self.none_ahead(one.high):
            return self.say(one.low) + joint + self.say(one.high)
        (low, first), (high, last) = self._digits(one.low), self._digits(one.high)
        said = f"{low}{'' if first == last else first}{joint}{high}{last}"
        return said + self._beside((one.low.value, one.high.value), one.low.unit, one.low.kind, joint)

    def _written(self, one: parts.Written) -> str:
        return one.words + self._beside(one.values, one.unit, one.kind, one.joint, one.per)

    def _beside(self, values: tuple, unit: str | None, kind: str, joint: str = "", per: str = "") -> str:
        """Return the imperial figure of one or two numbers in brackets; empty in metric and where the unit is shared."""
        told = [units.to_imperial(value, unit, kind) for value in values] if self.imperial else []
        converted = [each for each in told if each is not None]
        if not converted or len(converted) < len(told):
            return ""
        digits = [units.number(value, places) for value, _, places in converted]
        return f" ({joint.join(digits)}{self.unit(converted[0][1], digits[-1])}{per})"

    def _ahead(self, one: parts.Ahead) -> str:
        after = f" {one.after}" if one.after else ""
        if self.none_ahead(one.time):
            return self.language.none_ahead(one.before, self.say(one.time), after)
        said = self.say(one.time)
        now = self.language.now(one.before, one.after) if said.startswith("0 ") else ""
        return now or f"{one.before + ' ' if one.before else ''}{said}{after}"

    def _chance(self, one: parts.Chance) -> str:
        tenths = round(one.share * 10)
        if one.share < 0.005:
            return self.say(parts.message("chance.hardly"))
        if tenths == 0:
            return self.say(parts.message("chance.hundredths", n=max(1, round(one.share * 100))))
        if tenths >= 10:
            return self.say(parts.message("chance.most"))
        return self.say(parts.message("chance.tenths", n=tenths))

    def _day(self, one: parts.Day) -> str:
        from babel.dates import format_date

        year = one.today is None or one.today.year != one.date.year
        return format_date(one.date, self.language.DAY[(one.weekday, year)], self._locale)

    def _near_day(self, one: parts.NearDay) -> str:
        ahead = (one.date - one.today).days
        if ahead == 0:
            return self.say(parts.message("today"))
        if not 0 < ahead < 7:
            return self._month_day(parts.MonthDay(one.date.month, one.date.day, wide=False))
        return f"{self.language.WEEKDAYS[one.date.weekday()]} {one.date.day}"

    def _month_day(self, one: parts.MonthDay) -> str:
        return f"{one.day:{2 if one.wide else 1}d} {self.language.MONTHS[one.month - 1]}"


def upper_first(text: str) -> str:
    """Return a text that starts with a capital."""
    return text[:1].upper() + text[1:]


METRIC = Speaker()
IMPERIAL = Speaker(imperial=True)


def says(id: str, /, **slots) -> str:
    """Return a message of the catalogue in words, its places filled; for what a command prints at once."""
    return METRIC.say(parts.message(id, **slots))

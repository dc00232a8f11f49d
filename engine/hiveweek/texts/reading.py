"""Texts of the rule files and the vocabulary, read into parts.

A text holds words, ``{places}``, and quantities written out. The grammar of a quantity:

    NUMBER UNIT | NUMBER to NUMBER UNIT | NUMBER and NUMBER UNIT | NUMBER-NUMBER UNIT     then: a day | a week | a month
    UNIT    degC (or °C), K, kg, km/h, km, L, litres, cm, mm, m, metres, dm2

A step of temperature is told from a temperature when the text is read, never afterwards: ``K`` is a step always; degC is a
step before a comparison (``3 degC warmer``, ``2 degC above the usual``) and after ``by`` or a word of change with of
(``a rise of 3 degC``), else a temperature. Where the words leave both open (``within 3 degC``, ``plus 3 degC``) or the number
or unit cannot be read (``1,5 kg``, ``1/2 kg``, ``5 lb``), that is an error; write K, or say ``to 3 degC``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from hiveweek.texts import english
from hiveweek.texts.parts import ABSOLUTE, DIFFERENCE, Here, Text, Written

NUMBER = r"-?\d+(?:\.\d+)?"
UNIT_NAMES = {
    "°C": "degC",
    "degC": "degC",
    "K": "degC",
    "kg": "kg",
    "km/h": "km/h",
    "km": "km",
    "L": "L",
    "litre": "L",
    "litres": "L",
    "cm": "cm",
    "mm": "mm",
    "dm²": "dm2",
    "dm2": "dm2",
    "metre": "m",
    "metres": "m",
    "m": "m",
}
_UNITS = "|".join(sorted(map(re.escape, UNIT_NAMES), key=len, reverse=True))
_QUANTITY = (
    rf"(?<![\w.,/])(?:(?P<low>{NUMBER})(?P<joint> to | and |-))?(?P<number>{NUMBER})(?P<gap>\s?)(?P<unit>{_UNITS})"
    r"(?![\w/²])(?P<per> a week| a month| a day)?"
)
_PLACE = r"\{(?P<name>[A-Za-z_][\w.-]*)\}"
_HERE = r"\b(?P<here>[Tt]his hive)\b"
_TOKEN = re.compile(f"{_PLACE}|{_HERE}|{_QUANTITY}")
_STEP_AFTER = re.compile(
    r"\s(?:warmer|cooler|colder|hotter|higher|lower|more|less|above|below|over the|under the|apart|too (?:warm|cold|hot))\b"
)
_STEP_BEFORE = re.compile(r"\b(?:by|(?:rise|drop|fall|gain|loss|difference|swing|step|gap) of)(?: about| some)? $")
_EITHER = re.compile(r"\b(?:within|plus|minus|another|give or take)(?: about)? $|[+±]\s?$")
_BAD = (
    (re.compile(r"\d,\d+\s?(?:" + _UNITS + r")(?!\w)"), "write the number with a point, as 1.5"),
    (re.compile(r"\d/\d+\s?(?:" + _UNITS + r")(?!\w)"), "write the number with a point, as 0.5"),
    (
        re.compile(r"\d\s?(?:°F|degF|lbs?|oz|ounces?|pounds?|gallons?|quarts?|inch(?:es)?|feet|ft|mph|miles?)(?!\w)"),
        "write it in metric; the imperial figure is worked out",
    ),
    (re.compile(r"\d\s?(?:° ?(?![CF ])|degrees?\b|deg\b|C\b|celsius\b)"), "write degC for a temperature, K for a step"),
)


@dataclass(frozen=True, slots=True)
class Place:
    """A ``{name}`` of a text, with the words around it that change with its number.

    Attributes
    ----------
    name : str
        A fact (with its role, where two hives are concerned), a limit, or partner.
    before, after : str
        ``in about`` and ``away`` around a time.
    tail : str
        Words that may stand for its unit, with the space before them.
    """

    name: str
    before: str = ""
    tail: str = ""
    after: str = ""
    step: bool = False

    @property
    def lead(self) -> str:
        """The words before it as they stand, with their space."""
        return f"{self.before} " if self.before else ""

    @property
    def end(self) -> str:
        """The words after its tail as they stand, with their space."""
        return f" {self.after}" if self.after else ""

    @property
    def follow(self) -> str:
        """Everything after it as it stands."""
        return self.tail + self.end


@cache
def read(text: str, language=english) -> tuple:
    """Return the parts of a text: strings, :class:`Place`, Written and Here."""
    found: list = []
    end = 0
    for match in _TOKEN.finditer(text):
        lead = text[end : match.start()]
        if match["name"]:
            before = language.BEFORE_TIME.search(lead)
            rest = text[match.end() :]
            tail = language.TAIL.match(rest)
            rest = rest[tail.end() :] if tail else rest
            after = language.AFTER_TIME.match(rest)
            step = _STEP_AFTER.match(rest) is not None or _STEP_BEFORE.search(lead) is not None
            place = Place(
                match["name"],
                before["words"] if before else "",
                tail[0] if tail else "",
                after["words"] if after else "",
                step,
            )
            found += [lead[: before.start()] if before else lead, place]
            end = match.end() + (tail.end() if tail else 0) + (after.end() if after else 0)
            continue
        found.append(lead)
        end = match.end()
        found.append(Here(match["here"][0] == "T") if match["here"] else _written(match, lead, text[end:]))
    found.append(text[end:])
    return tuple(part.replace(" degC", " °C") if isinstance(part, str) else part for part in found if part != "")


def _written(match: re.Match, lead: str, rest: str) -> Written:
    unit = UNIT_NAMES[match["unit"]]
    step = unit == "degC" and (match["unit"] == "K" or _STEP_AFTER.match(rest) or _STEP_BEFORE.search(lead))
    values = tuple(float(match[name]) for name in ("low", "number") if match[name])
    words = match[0]
    if match["unit"] in ("degC", "K"):
        words = f"{match['low'] or ''}{match['joint'] or ''}{match['number']} °C"
    return Written(words, values, unit, DIFFERENCE if step else ABSOLUTE, match["joint"] or "", match["per"] or "")


@cache
def plain(text: str) -> Text:
    """Return a text without places (a label, how to look, what to mind) as parts; a ``{`` in it is said as it stands."""
    return Text(
        tuple(
            part.lead + "{" + part.name + "}" + part.follow if isinstance(part, Place) else part for part in read(text)
        )
    )


def faults(text: str) -> list[str]:
    """Return what cannot be read for sure in the quantities of a text, a line each: what stands there and what to write."""
    found = [f"'{match[0]}': {advice}" for pattern, advice in _BAD for match in pattern.finditer(text)]
    for match in _TOKEN.finditer(text):
        if match["unit"] in ("degC", "°C") and _EITHER.search(text[: match.start()]):
            if not _STEP_AFTER.match(text[match.end() :]):
                found.append(f"'{match[0]}' may be a temperature or a step: write K for a step, or 'to {match[0]}'")
        elif match["joint"] == "-" and match["low"] and float(match["low"]) >= float(match["number"]):
            found.append(f"'{match[0]}' may be a range or a number below nought: write '{match['low']} to ...'")
    return found

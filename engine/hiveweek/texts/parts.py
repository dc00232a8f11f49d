"""What a text is made of. Nothing here is a string yet: the speaker says it, in the units that the reader wants."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, fields, is_dataclass, replace

ABSOLUTE, DIFFERENCE = "absolute", "difference"


class Phrase:
    """Anything that can be said. ``str()`` gives the metric words; in an f-string it is an error, since it would lose its parts."""

    __slots__ = ()

    def __str__(self) -> str:
        from hiveweek.texts.speaker import METRIC  # the speaker knows the parts, not the other way round

        return METRIC.say(self)

    def __format__(self, spec: str) -> str:
        raise TypeError("a phrase belongs in a message or a Text, not in a formatted string")


@dataclass(frozen=True, slots=True)
class Text(Phrase):
    """Parts one after the other: strings (said as they are) and phrases."""

    parts: tuple = ()

    def __bool__(self) -> bool:
        return any(self.parts)


@dataclass(frozen=True, slots=True)
class Message(Phrase):
    """A text of the catalogue.

    Attributes
    ----------
    id : str
        Its key there.
    slots : tuple of (str, Phrase or str or int)
        What stands in its named places.
    """

    id: str
    slots: tuple = ()


def message(id: str, /, **slots) -> Message:
    """Return a message of the catalogue with its places filled."""
    return Message(id, tuple(slots.items()))


@dataclass(frozen=True, slots=True)
class Quantity(Phrase):
    """A number that a model, a fact or a limit gave, with its unit.

    Attributes
    ----------
    value : float
        In ``unit``; never NaN (what is not known is a message).
    unit : str or None
        As the vocabulary names it (degC, kg, days, ratio ...); None for a bare number.
    decimals : int or None
        Digits after the point; by the unit where None.
    bare : bool
        The unit is said elsewhere (in a label).
    tail : str
        The words of the text that stand for the unit, with the space before them; said in the singular after 1.
    kind : str
        ``difference`` for a step of temperature ("3 degC warmer"), else ``absolute``.
    table : bool
        Stands below others: always as many digits, and always this unit.
    """

    value: float
    unit: str | None = None
    decimals: int | None = None
    bare: bool = False
    tail: str = ""
    kind: str = ABSOLUTE
    table: bool = False


@dataclass(frozen=True, slots=True)
class Range(Phrase):
    """Two quantities of one unit, which is said once where its words are the same: ``5 to 9 °C``; ``joint`` is to or and."""

    low: Quantity
    high: Quantity
    joint: str = "to"


@dataclass(frozen=True, slots=True)
class Ahead(Phrase):
    """A time until something, with the words around it, which change where it is nought: ``in about 3 weeks``, ``now``."""

    time: Quantity
    before: str = ""
    after: str = ""


@dataclass(frozen=True, slots=True)
class Written(Phrase):
    """A quantity that an author wrote out in a text.

    Attributes
    ----------
    words : str
        As written, said so in metric.
    values : tuple of float
        One, or the two ends of a range.
    joint : str
        What stands between the two.
    unit, kind : str
        As of Quantity; for a rate the unit is that of the amount.
    per : str
        The time of a rate, such as `` a week``.
    """

    words: str
    values: tuple
    unit: str
    kind: str = ABSOLUTE
    joint: str = ""
    per: str = ""


@dataclass(frozen=True, slots=True)
class Chance(Phrase):
    """A chance between 0 and 1: ``about 3 in 10``."""

    share: float


@dataclass(frozen=True, slots=True)
class Day(Phrase):
    """A date; the year is said where it is another than today's, the weekday where asked."""

    date: dt.date
    today: dt.date | None = None
    weekday: bool = False


@dataclass(frozen=True, slots=True)
class NearDay(Phrase):
    """A date in a column of a week: ``today``, ``Thu 13`` within the week, else ``24 Aug``."""

    date: dt.date
    today: dt.date


@dataclass(frozen=True, slots=True)
class MonthDay(Phrase):
    """A day of any year, short, for tables and notes: ``3 Mar``; in a table the day takes two columns."""

    month: int
    day: int
    wide: bool = True


@dataclass(frozen=True, slots=True)
class Month(Phrase):
    """A month by its number, 1 to 12: ``March``."""

    month: int


@dataclass(frozen=True, slots=True)
class Word(Phrase):
    """A word of the vocabulary (``late_winter``), said without underscores."""

    word: str


@dataclass(frozen=True, slots=True)
class Here(Phrase):
    """``this hive`` in a text of a rule; another part names the hive where the text is read for the whole yard."""

    capital: bool = False
    hive: str = ""


@dataclass(frozen=True, slots=True)
class Sentence(Phrase):
    """A phrase that ends in a full stop."""

    phrase: Phrase | str

    def __bool__(self) -> bool:
        return bool(self.phrase)


@dataclass(frozen=True, slots=True)
class Clause(Phrase):
    """A phrase without the full stop it may end in, for the middle of a sentence."""

    phrase: Phrase | str


@dataclass(frozen=True, slots=True)
class Opening(Phrase):
    """The first sentence of a phrase, without its full stop."""

    phrase: Phrase | str


@dataclass(frozen=True, slots=True)
class Capital(Phrase):
    """A phrase that begins with a capital."""

    phrase: Phrase | str


@dataclass(frozen=True, slots=True)
class Listed(Phrase):
    """Several things in a row: ``how`` is and, or, comma, semicolon or space; empty ones are left out."""

    items: tuple
    how: str = "and"

    def __bool__(self) -> bool:
        return any(self.items)


def listed(items, how: str = "and") -> Listed:
    """Return things in a row, see :class:`Listed`."""
    return Listed(tuple(items), how)


def named(phrase, hive: str):
    """Return a phrase about one hive for the whole yard: where it says ``this hive`` the hive is named."""
    if isinstance(phrase, Here):
        return replace(phrase, hive=hive)
    if isinstance(phrase, tuple):
        return tuple(named(part, hive) for part in phrase)
    if is_dataclass(phrase) and not isinstance(phrase, type):
        return replace(phrase, **{field.name: named(getattr(phrase, field.name), hive) for field in fields(phrase)})
    return phrase


def quantities(phrase: object) -> Iterator[tuple[tuple[float, ...], str | None]]:
    """Yield the quantities of a phrase in the order they are said: one value, or both ends of a range, and the unit."""
    if isinstance(phrase, Quantity):
        yield (phrase.value,), phrase.unit
    elif isinstance(phrase, Written):
        yield phrase.values, phrase.unit
    elif isinstance(phrase, Range):
        yield (phrase.low.value, phrase.high.value), phrase.low.unit
    elif isinstance(phrase, tuple):
        for part in phrase:
            yield from quantities(part)
    elif is_dataclass(phrase):
        for field in fields(phrase):
            yield from quantities(getattr(phrase, field.name))

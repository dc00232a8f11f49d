"""Facts in texts: what a place of a text says, as parts that stay numbers until the screen."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace

from hiveweek.texts.english import STANDS_FOR
from hiveweek.texts.parts import (
    ABSOLUTE,
    DIFFERENCE,
    Ahead,
    Chance,
    Day,
    Phrase,
    Quantity,
    Range,
    Text,
    Word,
    message,
)
from hiveweek.texts.reading import Place, read
from hiveweek.texts.units import decimals

NOT_KNOWN = message("not-known")
TIMES = ("days", "weeks")
JOINTS = {" to ": "to", " and ": "and"}


def value(fact, encoded: float, today: dt.date | None = None, *, bare: bool = False) -> Phrase:
    """Return the value of a fact as a phrase.

    Parameters
    ----------
    fact : Fact
        Its definition.
    encoded : float
        As it stands in the fact table; NaN gives ``not known``.
    bare : bool
        Leave the unit away (it is said elsewhere).
    """
    if encoded is None or math.isnan(encoded):
        return NOT_KNOWN
    encoded = float(encoded)
    if fact.kind in ("number", "integer"):
        if fact.unit == "ratio":
            if "chance" in fact.id:
                return Chance(encoded)
            return Quantity(encoded, "ratio", None if "share" in (fact.label or "") else 1, bare)
        return Quantity(encoded, fact.unit, bare=bare)
    decoded = fact.decode(encoded)
    if fact.kind == "yes_no":
        return message("yes" if decoded else "no")
    if fact.kind == "date":
        return Day(decoded, today)
    return Word(str(decoded))


def likely(fact, encoded: float, low: float, high: float, today: dt.date | None = None) -> Phrase:
    """Return the value of a fact with its likely range, where it has one; see :func:`value`."""
    said = value(fact, encoded, today)
    if not (low < encoded or high > encoded):
        return said
    least, most = value(fact, low, today, bare=True), value(fact, high, today, bare=True)
    spread = (
        Range(least, most)
        if isinstance(least, Quantity) and isinstance(most, Quantity)
        else message("range", low=least, high=most)
    )
    return message("likely", value=said, range=spread)


class Filler:
    """Fills the {facts} of a text.

    Parameters
    ----------
    table : FactTable
        Values.
    limits : dict of str to Number
        For ``{limit.topic.name}``.
    today : date
        The day of the answer.
    """

    def __init__(self, table, limits, today: dt.date):
        self.table, self.limits, self.today = table, limits, today

    def fill(self, template: str, where: dict) -> tuple[Text, list[tuple[int, str]], bool]:
        """Return a text with its facts filled in.

        Parameters
        ----------
        template : str
            With ``{fact}``, ``{role.fact}``, ``{limit.topic.name}``, or ``{partner}`` for the other hive's id.
        where : dict
            Role -> hive row (role None for one hive).

        Returns
        -------
        Text
            An unknown fact says ``not known``; a name that is none stays as written.
        list of (int, str)
            The (hive row, fact id) pairs read.
        bool
            Whether every fact in it was known.
        """
        facts: list[tuple[int, str]] = []
        said: list = []
        limits: list[int] = []  # where in it a limit stands
        for part in read(template):
            here = self._place(part, where, facts) if isinstance(part, Place) else [part]
            if isinstance(part, Place) and part.name.startswith("limit."):
                limits += [len(said) + i for i, one in enumerate(here) if isinstance(one, Quantity)]
            said += here
        _apart(said, limits)
        known = not any(math.isnan(self.table.column(fact).value[hive]) for hive, fact in facts)
        return Text(_ranges(said)), facts, known

    def _place(self, place: Place, where: dict, facts: list) -> list:
        """Return what a place says, with the words around it that belong to its number."""
        name = place.name
        said: Phrase | str | None
        if name.startswith("limit."):
            limit = self.limits.get(name)
            said = None if limit is None else Quantity(float(limit.value), limit.unit)
        elif name in where or (name == "partner" and len(where) > 1):
            said = self.table.hives[where[name] if name in where else list(where.values())[1]]
        else:
            hive, fact_id = self._find(name, where)
            if fact_id is None:
                said = None
            else:
                said = value(self.table.vocabulary.facts[fact_id], self.table.column(fact_id).value[hive], self.today)
                facts.append((hive, fact_id))
        if said is None:
            said = "{" + name + "}"
        if not isinstance(said, Quantity):
            return [place.lead, said, place.follow]
        if place.tail.strip() in STANDS_FOR.get(said.unit or "", ()) or (place.tail and said.unit in (None, "count")):
            tail, rest = place.tail, ""
        else:
            tail, rest = "", place.tail
        kind = DIFFERENCE if place.step and said.unit == "degC" else ABSOLUTE
        said = Quantity(said.value, said.unit, said.decimals, bool(tail), tail, kind)
        if said.unit in TIMES and not rest:
            return [Ahead(said, place.before, place.after)] if place.before or place.after else [said]
        return [place.lead, said, rest, place.end]

    def _find(self, name: str, where: dict):
        facts = self.table.vocabulary.facts
        if name in facts:
            return next(iter(where.values())), name  # without a role: the hive whose list it is
        role, _, rest = name.partition(".")
        if role in where and rest in facts:
            return where[role], rest
        return 0, None


def _apart(said: list, limits: list[int]) -> None:
    """Give a digit more to a number and its limit that would read the same though they are not."""
    for at in limits:
        for i, one in enumerate(said):
            limit = said[at]
            if i in limits or not isinstance(one, Quantity) or one.unit != limit.unit or one.unit == "ratio":
                continue
            if (
                one.value != limit.value
                and decimals(one.value, one.unit) == 0
                and round(one.value) == round(limit.value)
            ):
                said[i], said[at] = replace(one, decimals=1), replace(limit, decimals=1)


def _ranges(said: list) -> tuple:
    """Return parts in which two quantities of one unit with ``to`` or ``and`` between are a range."""
    parts = [part for part in said if part != ""]
    result: list = []
    while parts:
        part = parts.pop(0)
        if isinstance(part, Quantity) and len(parts) > 1 and isinstance(parts[0], str) and parts[0] in JOINTS:
            other = parts[1]
            if isinstance(other, Quantity) and other.unit == part.unit and other.kind == part.kind:
                part = Range(part, other, JOINTS[parts[0]])
                del parts[:2]
        result.append(part)
    return tuple(result)

"""Why a rule fires or not at a hive: its condition, part by part, with the values it met."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, field

from hiveweek.language.terms import All, Any, Flag, Known, LimitRef, Not, NotTrue, Ref
from hiveweek.language.truth import Truth
from hiveweek.plan.deciding import Deciding
from hiveweek.plan.words import NOT_KNOWN, Filler, likely
from hiveweek.texts.parts import Day, Phrase, Quantity, listed, message
from hiveweek.texts.reading import plain

# the answer where the intervals agree with the values, and where they do not
ANSWERS = {
    Truth.TRUE: ("holds", "holds-in-doubt"),
    Truth.FALSE: ("does-not-hold", "does-not-hold-in-doubt"),
    Truth.UNDECIDED: ("not-known", "not-known"),
}
# how an origin begins, or the whole of it -> its message
ORIGINS = {
    "carried forward from ": "origin.carried",
    "implied by ": "origin.implied",
    "seen ": "origin.seen",
    "not looked at since ": "origin.stands",
    "by the clock from ": "origin.clock",
}
AFTER = {
    "cut by the heft of ": "origin.cut",
    "it does not fit what was carried forward from ": "origin.apart",
}  # what stands after a first part
WHOLE = {
    "computed": "origin.computed",
    "set": "origin.set",
    "forecast": "origin.forecast",
    "observed nearby": "origin.observed",
    "usual here": "origin.usual",
}


@dataclass
class Step:
    """One part of a condition.

    Attributes
    ----------
    text : Phrase or str
        The part as written, or that all of, any of or none of its parts are meant.
    answer : str
        holds, does-not-hold, not-known, holds-in-doubt or does-not-hold-in-doubt.
    values : list of Phrase
        The facts and limits it met, with where they come from.
    parts : list of Step
    """

    text: Phrase | str
    answer: str
    values: list[Phrase] = field(default_factory=list)
    parts: list = field(default_factory=list)


@dataclass
class Why:
    """The explanation of one rule (or prohibition) at one hive.

    Attributes
    ----------
    answer : str
        As of a step, or ``no-partner``, or ``each-pair`` for a prohibition about two hives.
    """

    rule: str
    kind: str
    hive: str
    gives: str
    answer: str
    steps: Step | None
    because: Phrase | None = None
    sources: list[str] = field(default_factory=list)
    layer: str = "base"
    place: str = ""
    partner: str | None = None


def origin_words(origin: str | None, today: dt.date | None = None) -> Phrase | str:
    """Return where a value comes from, as people say it; a day as a date where today is given, else as it stands."""
    if not origin:
        return message("origin.none")
    if origin in WHOLE:
        return message(WHOLE[origin])
    first, *more = origin.split("; ")
    said: Phrase | str = first
    for start, key in ORIGINS.items():
        if first.startswith(start):
            said = message(key, of=_day(first[len(start) :], today))
    for part in more:
        for start, key in AFTER.items():
            if part.startswith(start):
                said = message(key, origin=said, of=_day(part[len(start) :], today))
    return said


def _day(text: str, today: dt.date | None) -> Phrase | str:
    try:
        return text if today is None else Day(dt.date.fromisoformat(text), today)
    except ValueError:
        return text


def explain(inference, name: str, hive: int, today: dt.date) -> Why:
    """Return why a rule or prohibition holds or not at a hive.

    Parameters
    ----------
    name : str
        Id of a rule or of a prohibition.
    hive : int
        Row of the hive.

    Raises
    ------
    KeyError
        For a name that is neither.
    """
    deciding = Deciding(inference)
    filler = Filler(inference.table, inference.ruleset.limits, today)
    rule = inference.ruleset.rules.get(name)
    table = inference.table
    if rule is None:
        body = inference.ruleset.prohibitions[name]
        steps = None if body.roles else _step(body.when, deciding, {None: hive}, (), filler, set())
        because = plain(body.because) if body.roles else filler.fill(body.because, {None: hive})[0]
        answer = "each-pair" if body.roles else _answer(*inference.prohibits(name, hive)[:2])
        return Why(
            name,
            "prohibition",
            table.hives[hive],
            body.effect,
            answer,
            steps,
            because,
            list(body.source),
            "safety",
            str(body.place),
        )
    gives = rule.advise or f"finding.{rule.finding}"
    placed = deciding.place(rule, hive)
    if placed is None:
        return Why(
            name,
            "rule",
            table.hives[hive],
            gives,
            "no-partner",
            None,
            None,
            list(rule.source),
            rule.layer,
            str(rule.place),
        )
    where, roles = placed
    outcome = inference.rules[name]
    steps = _step(rule.when, deciding, where, roles, filler, set())
    partner = table.hives[where[rule.partner]] if rule.partner else None
    return Why(
        name,
        "rule",
        table.hives[hive],
        gives,
        _answer(*outcome.at(hive)[:2]),
        steps,
        filler.fill(rule.because, where)[0],
        list(rule.source),
        rule.layer,
        str(rule.place),
        partner,
    )


def _answer(point: Truth, firm: Truth) -> str:
    return ANSWERS[point][firm != point]


def _step(condition, deciding: Deciding, where, roles, filler: Filler, seen: set) -> Step:
    answer = _answer(*deciding.cell(condition, where, roles))
    if isinstance(condition, NotTrue):
        return Step(message("why.unless"), answer, parts=[_step(condition.part, deciding, where, roles, filler, seen)])
    if isinstance(condition, Not):
        return Step(message("why.not"), answer, parts=[_step(condition.part, deciding, where, roles, filler, seen)])
    if isinstance(condition, (All, Any)):
        parts = [_step(part, deciding, where, roles, filler, seen) for part in condition.parts]
        return Step(message("why.all" if isinstance(condition, All) else "why.any"), answer, parts=parts)
    hive = where[condition.left.role if roles else None]
    if condition.left.is_finding:
        parts = []
        name = condition.left.finding
        if (name, hive) not in seen:
            seen = seen | {(name, hive)}
            for rule in deciding.giving(name):
                placed = deciding.place(rule, hive)
                if placed is not None:
                    inner = _step(rule.when, deciding, *placed, filler, seen)
                    parts.append(Step(message("why.rule", rule=rule.id), inner.answer, parts=[inner]))
        return Step(str(condition.left), answer, parts=parts)
    values = [_value(deciding, filler, condition.left.name, hive)]
    right = getattr(condition, "right", None)
    if isinstance(right, LimitRef):
        limit = deciding.limits[right.name]
        values.append(
            message(
                "why.limit",
                value=Quantity(limit.value, limit.unit),
                layer=limit.origin,
                sources=listed(limit.source, "comma") if limit.source else message("why.no-source"),
            )
        )
    elif isinstance(right, Ref):
        values.append(_value(deciding, filler, right.name, where[right.role if roles else None]))
    text = condition.text or str(condition.left)
    if isinstance(condition, (Known, Flag)) and not text:
        text = str(condition.left)
    return Step(text, answer, values)


def _value(deciding: Deciding, filler: Filler, fact_id: str, hive: int) -> Phrase:
    fact = deciding.table.vocabulary.facts[fact_id]
    column = deciding.table.column(fact_id)
    number = column.value[hive]
    label = plain(fact.label or fact_id)
    if math.isnan(number):
        return message("labelled", label=label, words=NOT_KNOWN)
    origin = origin_words(column.origin[hive] if column.origin else None)
    words = likely(fact, number, column.low[hive], column.high[hive], filler.today)
    return message("why.value", label=label, value=words, origin=origin)

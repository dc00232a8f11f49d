"""Why a rule fires or not at a hive: its condition, part by part, with the values it met."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, field

from hiveweek.language.terms import All, Any, Flag, Known, LimitRef, Not, NotTrue, Ref
from hiveweek.language.truth import Truth
from hiveweek.plan.deciding import Deciding
from hiveweek.plan.words import NOT_KNOWN, Filler, quantity, value

# what is said where the intervals agree with the values, and where they do not
ANSWERS = {
    Truth.TRUE: ("holds", "holds in doubt"),
    Truth.FALSE: ("does not hold", "does not hold, in doubt"),
    Truth.UNDECIDED: ("not known", "not known"),
}


@dataclass
class Step:
    """One part of a condition.

    Attributes
    ----------
    text : str
        The part as written, or ``all of``, ``any of``, ``not``, ``blocked where this is known to hold``.
    answer : str
        holds, does not hold, not known, holds in doubt, does not hold in doubt.
    values : list of str
        The facts and limits it met, in words, with where they come from.
    parts : list of Step
    """

    text: str
    answer: str
    values: list[str] = field(default_factory=list)
    parts: list = field(default_factory=list)


@dataclass
class Why:
    """The explanation of one rule (or prohibition) at one hive."""

    rule: str
    kind: str
    hive: str
    gives: str
    answer: str
    steps: Step | None
    because: str = ""
    sources: list[str] = field(default_factory=list)
    layer: str = "base"
    place: str = ""
    partner: str | None = None


def origin_words(origin: str | None, today: dt.date | None = None) -> str:
    """Return where a value comes from, as people say it."""
    if not origin:
        return "as known"
    if origin == "computed":
        return "worked out"
    if origin == "set":
        return "given"
    if origin.startswith("carried forward"):
        return "estimated, " + origin
    if origin.startswith("implied by "):
        return "follows from " + origin[len("implied by ") :]
    return origin


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
        because = filler.fill(body.because, {None: hive})[0] if not body.roles else body.because
        answer = "asked for each pair of hives" if body.roles else _answer(*inference.prohibits(name, hive)[:2])
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
            "no partner hive fits",
            None,
            "",
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


def _answer(point: int, firm: int) -> str:
    return ANSWERS[point][firm != point]


def _step(condition, deciding: Deciding, where, roles, filler: Filler, seen: set) -> Step:
    answer = _answer(*deciding.cell(condition, where, roles))
    if isinstance(condition, NotTrue):
        return Step("unless", answer, parts=[_step(condition.part, deciding, where, roles, filler, seen)])
    if isinstance(condition, Not):
        return Step("not", answer, parts=[_step(condition.part, deciding, where, roles, filler, seen)])
    if isinstance(condition, (All, Any)):
        parts = [_step(part, deciding, where, roles, filler, seen) for part in condition.parts]
        return Step("all of" if isinstance(condition, All) else "any of", answer, parts=parts)
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
                    parts.append(Step(f"rule {rule.id}", inner.answer, parts=[inner]))
        return Step(str(condition.left), answer, parts=parts)
    values = [_value(deciding, filler, condition.left.name, hive)]
    right = getattr(condition, "right", None)
    if isinstance(right, LimitRef):
        limit = deciding.limits[right.name]
        values.append(
            f"limit {quantity(limit.value, limit.unit)} ({limit.origin}; {', '.join(limit.source) or 'no source'})"
        )
    elif isinstance(right, Ref):
        values.append(_value(deciding, filler, right.name, where[right.role if roles else None]))
    text = condition.text or str(condition.left)
    if isinstance(condition, (Known, Flag)) and not text:
        text = str(condition.left)
    return Step(text, answer, values)


def _value(deciding: Deciding, filler: Filler, fact_id: str, hive: int) -> str:
    fact = deciding.table.vocabulary.facts[fact_id]
    column = deciding.table.column(fact_id)
    number = column.value[hive]
    if math.isnan(number):
        return f"{fact.label or fact_id}: {NOT_KNOWN}"
    low, high = column.low[hive], column.high[hive]
    spread = ""
    if low < number or high > number:
        spread = f", {value(fact, low, filler.today, bare=True)} to {value(fact, high, filler.today, bare=True)} likely"
    origin = column.origin[hive] if column.origin else None
    return f"{fact.label or fact_id}: {value(fact, number, filler.today)}{spread} ({origin_words(origin)})"

"""What the pages show of an answer: lines of the sheet and cards, as phrases and plain data. Nothing is worked out here."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from hiveweek.plan.asked import Asked
from hiveweek.plan.model import Advice, HivePlan, WeekPlan
from hiveweek.record import Answer, Entry, Kind
from hiveweek.record.entries import Plain
from hiveweek.record.record import last_values
from hiveweek.show import cards, charts, sheet, sheet_text
from hiveweek.show.trends import Trend
from hiveweek.texts.parts import Capital, Day, Message, Phrase, Word, listed, message
from hiveweek.texts.reading import plain
from hiveweek.texts.speaker import Speaker
from hiveweek.vocabulary.model import Detail, Fact, Vocabulary

MOST_FACTS = 8  # at hand at once; the others are folded
MOST_DETAILS = 4  # of those that may be said, at hand at once; the others are folded


@dataclass(frozen=True)
class Field:
    """One thing to fill in: a fact that may be seen, or a detail of a job done.

    Attributes
    ----------
    name : str
    label : Phrase
    kind : str
        choice, number, date or text.
    choices : tuple of (str, Phrase)
        Value and words.
    unit : Phrase or str
    step : float
        By which plus and minus move a number.
    low, high : float or None
    last : str
        The last value as it is typed, where it is a number; for plus and minus to start from.
    before : Phrase or None
        The last value in words, with its day.
    how : Phrase or str
        How to look.
    needed : bool
    """

    name: str
    label: Phrase | str
    kind: str
    choices: tuple[tuple[str, Phrase], ...] = ()
    unit: str = ""
    step: float = 1
    low: float | None = None
    high: float | None = None
    last: str = ""
    before: Phrase | None = None
    how: Phrase | str = ""
    needed: bool = False


def fact_fields(
    facts: Sequence[str], entries: Sequence[Entry], words: Vocabulary, today: dt.date, *, taken: set[str] | None = None
) -> list[Field]:
    """Return a field for each fact that can be noted, with what was last noted of it; those in ``taken`` are left out and added."""
    last = last_values(entry for entry in entries if entry.kind in (Kind.SEEN, Kind.SET) and entry.date <= today)
    taken = set() if taken is None else taken
    found = []
    for name in facts:
        fact = words.facts.get(name)
        if fact is None or name in taken or fact.comes_from == "computed" or fact.kind == "text":
            continue
        taken.add(name)
        found.append(_fact_field(fact, last.get(name), today))
    return found


def _fact_field(fact: Fact, last: tuple[Plain, dt.date] | None, today: dt.date) -> Field:
    before, start = None, ""
    if last is not None and last[0] is not None:
        value, day = last
        said: Phrase = Day(value, today) if isinstance(value, dt.date) else cards.shown_value(fact, value)
        before = message("page.last", value=said, day=Day(day, today))
        start = f"{value:g}" if isinstance(value, (int, float)) and not isinstance(value, bool) else ""
    label = plain(fact.label or fact.id)
    how: Phrase | str = Capital(plain(fact.how)) if fact.how else ""
    if fact.kind in ("yes_no", "one_of"):
        choices = [(_typed(value), _shown(value)) for value in fact.allowed]
        return Field(fact.id, label, "choice", tuple(choices), before=before, how=how)
    if fact.kind == "date":
        return Field(fact.id, label, "date", before=before, how=how)
    step = 1 if fact.kind == "integer" or (fact.high or 0) > 60 else 0.5
    return Field(
        fact.id,
        label,
        "number",
        unit=_unit(fact.unit, fact.label),
        step=step,
        low=fact.low,
        high=fact.high,
        last=start,
        before=before,
        how=how,
    )


def _unit(unit: str | None, label: str) -> str:
    """The unit of a number, unless its label says it."""
    return "" if unit is None or unit in ("count", *label.split()) else unit


def _typed(value: Any) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)


def _shown(value: Any) -> Phrase:
    return message("yes" if value else "no") if isinstance(value, bool) else Word(str(value))


def detail_fields(action: str, words: Vocabulary, hives: Sequence[str]) -> tuple[tuple[Field, ...], tuple[Field, ...]]:
    """Return a field for each detail of a job done: those at hand, which are all that it asks for, and those folded away."""
    effect = words.effects[action]
    names = [*effect.asks, *(name for name in effect.takes if name not in effect.asks)]
    fields = tuple(_detail_field(name, words.details[name], words, hives, needed=name in effect.asks) for name in names)
    at_hand = len(effect.asks) + MOST_DETAILS
    return fields[:at_hand], fields[at_hand:]


def _detail_field(name: str, detail: Detail, words: Vocabulary, hives: Sequence[str], *, needed: bool) -> Field:
    of = words.facts.get(detail.of or "")
    label = plain(detail.label)
    options = [*(of.values if of is not None else ()), *detail.values]
    if detail.kind == "hive":
        return Field(name, label, "select", tuple((hive, plain(hive)) for hive in hives), needed=needed)
    if options:
        return Field(name, label, "select", tuple((one, Word(one)) for one in options), needed=needed)
    kind = of.kind if of is not None else detail.kind
    if kind in ("number", "integer"):
        low, high = (of.low, of.high) if of is not None else (detail.low, detail.high)
        step = 1 if kind == "integer" else 0.5
        unit = _unit(of.unit if of is not None else detail.unit, detail.label)
        return Field(name, label, "number", unit=unit, step=step, low=low, high=high, needed=needed)
    return Field(name, label, "date" if kind == "date" else "text", needed=needed)


@dataclass(frozen=True)
class Options:
    """Treatments of a job under one head: each with its details; none where the head says all."""

    head: Phrase
    each: tuple[tuple[Phrase, tuple[Phrase, ...]], ...]


@dataclass(frozen=True)
class Job:
    """One advice on a card.

    Attributes
    ----------
    fields, folded : tuple of Field
        Its details at hand, and those folded away.
    can_do : bool
        Whether it can be noted as done.
    put_off : tuple of Answer
        How it may be put away; a job that law or people ask, one that is due, and a step before another may not.
    """

    action: str
    title: Phrase
    law: bool
    lines: tuple[Phrase, ...]
    options: tuple[Options, ...]
    care: Phrase
    why: tuple[Phrase, ...]
    unverified: bool
    fields: tuple[Field, ...]
    folded: tuple[Field, ...]
    can_do: bool
    put_off: tuple[Answer, ...]


@dataclass(frozen=True)
class Card:
    """One hive's week."""

    head: Phrase
    jobs: tuple[Job, ...]
    more: tuple[Job, ...]
    courses: tuple[Phrase, ...]
    beside: tuple[Phrase, ...]
    quiet: tuple[Phrase, ...]
    looks: tuple[Phrase, ...]
    nothing: tuple[Phrase, ...]


def card(hive: HivePlan, plan: WeekPlan, words: Vocabulary, asked: dict[str, Asked], hives: Sequence[str]) -> Card:
    """Return the card of a hive; the jobs that a screen names first, the others after them."""
    told: dict = {}
    jobs = [_job(one, hive, plan, words, told, asked, hives) for one in hive.advice]
    most = int(plan.screen.jobs)
    nothing = hive.nothing_due
    quiet = [cards.held(words, held) for held in hive.withheld]
    quiet += [cards.put_away(words, one, plan) for one in hive.put_away]
    noted = cards.noted_values(hive)
    return Card(
        message("hive.head-dead" if hive.alive is False else "hive.head", hive=hive.id),
        tuple(jobs[:most]),
        tuple(jobs[most:]),
        tuple(cards.course_lines(hive, plan)),
        tuple(cards.beside(hive, plan)),
        (*quiet, *([noted] if noted else [])),
        tuple(_look(look, words) for look in cards.looks(hive, plan)),
        tuple(line for line in ((nothing["because"], cards.coming(nothing, plan)) if nothing else ()) if line),
    )


def _look(look, words: Vocabulary) -> Phrase:
    return listed([cards.label(words, look.action), look.how, cards.noted(look)], "space")


def _job(
    one: Advice,
    hive: HivePlan,
    plan: WeekPlan,
    words: Vocabulary,
    told: dict,
    asked: dict[str, Asked],
    hives: Sequence[str],
) -> Job:
    lines = [
        cards.follows(words, one, plan),
        one.because,
        message("with-hive", hive=one.partner) if one.partner else None,
        cards.needs(one.only_on),
        cards.looked_for(one, words),
    ]
    options = cards.option_lines(one.options, told, message("hive", hive=hive.id))
    why = [cards.rests_on(one, words, plan)]
    why += [message("job.source", id=key, cite=words.sources[key].cite) for key in one.sources if key in words.sources]
    standing = asked.get(one.action) if one.origin not in ("first", "closed") else None
    return Job(
        one.action,
        cards.job(words, one, plan),
        one.band == 0,
        tuple(line for line in lines if line),
        tuple(_options(options)),
        one.warning(),
        tuple(line for line in why if line),
        one.unverified,
        *detail_fields(one.action, words, [name for name in hives if name != hive.id]),
        not words.actions[one.action].leaves_closed,
        tuple(answer for answer in Answer if standing is not None and standing.may_put_off(answer, plan.date)),
    )


def _options(lines: Iterable[tuple[Phrase, list[Phrase]]]) -> Iterator[Options]:
    """Put the lines of a terminal's list under their heads, without its dashes."""
    head, each = None, []
    for line, details in lines:
        if isinstance(line, Message) and line.id == "option.item":
            slots = dict(line.slots)
            each.append((message("labelled", label=Capital(slots["active"]), words=slots["said"]), tuple(details)))
            continue
        if head is not None:
            yield Options(head, tuple(each))
        head, each = line, []
    if head is not None:
        yield Options(head, tuple(each))


@dataclass(frozen=True)
class Line:
    """A hive in one line of the sheet."""

    hive: str
    walk: int
    by: Phrase
    do: Phrase
    because: Phrase
    late: bool
    acts: bool


@dataclass(frozen=True)
class Rows:
    """The sheet in sentences and lines; ``walk`` names the hives in the order in which to go to them."""

    title: Phrase
    law: tuple[Phrase, ...]
    lines: tuple[Line, ...]
    whole: tuple[Phrase, ...]
    kit: Phrase | None
    mark: bool
    walk: tuple[str, ...]


def rows(plan: WeekPlan, words: Vocabulary) -> Rows:
    """Return the sheet of a plan, the most pressing hive first."""
    found = sheet.of(plan, words)
    lines = [
        Line(
            line.hive,
            line.walk,
            sheet_text.by(line, found),
            sheet_text.do_words(line, found),
            sheet_text.because(line, found),
            line.late,
            line.acts,
        )
        for line in found.lines
    ]
    return Rows(
        sheet_text.title(found),
        tuple(sheet_text.above(found)),
        tuple(lines),
        tuple(sheet_text.whole(one, found) for one in found.yard),
        message("sheet.take", kit=sheet_text.kit(found)) if found.kit else None,
        any(line.look for line in found.lines),
        tuple(line.hive for line in sorted(found.lines, key=lambda line: line.walk)),
    )


def looked_at(hive: HivePlan, words: Vocabulary) -> list[str]:
    """Return the facts worth a look at a hive this week: those of its looks, best first, then what its jobs rest on."""
    found = [fact for one in hive.advice if one.origin == "look" for fact in one.facts]
    found += [fact for look in hive.look_first for fact in look.facts]
    rests = [words.facts[item.fact] for one in hive.advice for item in one.evidence if item.fact in words.facts]
    for fact in rests:
        if fact.comes_from == "observed":
            found.append(fact.id)
        found += [seen for way in fact.observed_by[:1] for seen in way if words.facts[seen].comes_from == "observed"]
    return list(dict.fromkeys(found))[:MOST_FACTS]


def drawn(found: Iterable[Trend], today: dt.date, speaker: Speaker) -> list[tuple[Markup, Phrase]]:
    """Return the charts of a hive, each with what it shows in a sentence."""
    return [(Markup(charts.chart(trend, today, speaker=speaker)), charts.words(trend)) for trend in found]


def about(plan: WeekPlan) -> list[Phrase | str]:
    """Return what is said above the sheet."""
    best = [cards.best_day(plan)] if plan.best_day else []
    return [*cards.about(plan), *best, *cards.notes(plan), *plan.notes]


def capital(words: Vocabulary, action: str) -> Phrase:
    """Return the words of an action, with a capital."""
    return Capital(cards.name(words, action))

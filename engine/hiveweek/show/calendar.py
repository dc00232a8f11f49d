"""The week for a calendar program (iCalendar, RFC 5545): visits, deadlines, steps of courses, looks, ends of waiting times.

What an event is about gives its id, so that a later import moves an event and never doubles it; its sequence number grows with
the day of the answer.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from icalendar import Alarm, Calendar, Event

from hiveweek.facts.courses import FACTS
from hiveweek.plan.model import HivePlan, WeekPlan
from hiveweek.plan.stops import Round
from hiveweek.show import cards, round_text
from hiveweek.show.sheet import label_of
from hiveweek.texts.parts import Capital, Phrase, Sentence, Text, listed, message
from hiveweek.texts.reading import plain
from hiveweek.texts.speaker import METRIC, Speaker
from hiveweek.vocabulary.model import Vocabulary

IDS = uuid.UUID("6f2a52f4-6c0c-5a0e-9d5b-0a3c6a7d1f11")  # the name space of the ids
PRODUCT = "-//hiveweek//week//EN"
MORNING = dt.timedelta(hours=7)  # of the day itself
# A job that rests on how far off a step after a course is: one event for both, whichever speaks of it.
STEP_OF = {FACTS[step][2]: step for step in ("count", "eggs")}
EVENING = dt.timedelta(hours=-6)  # of the day before


@dataclass(frozen=True)
class Entry:
    """One event of whole days, as words.

    Attributes
    ----------
    key : tuple of str
        What it is about; gives its id.
    first, last : date
        Its days, both of them in it.
    title, text : str
    kind : str
        Its category: visit, deadline, course, look or next.
    alarm : timedelta
        From the midnight on which its first day begins.
    """

    key: tuple[str, ...]
    first: dt.date
    last: dt.date
    title: str
    text: str
    kind: str
    alarm: dt.timedelta


def entries(plan: WeekPlan, vocabulary: Vocabulary, *, speaker: Speaker = METRIC) -> list[Entry]:
    """Return what the plan of one apiary puts on days, its visits left out."""
    found: list[Entry] = []
    yard = {advice.action for advice, _ in plan.yard}
    for advice, ids in plan.yard:
        found += _deadline(plan, plan.name or "", ids, advice, vocabulary, speaker)
    for hive in plan.hives:
        for advice in hive.advice:
            if advice.action not in yard:
                found += _deadline(plan, hive.id, [hive.id], advice, vocabulary, speaker)
        found += _steps(plan, hive, speaker)
        found += _looks(plan, hive, vocabulary, speaker)
        following = hive.nothing_due["next"] if hive.nothing_due else None
        if following:
            title = message("calendar.entry", hive=hive.id, what=following["what"])
            found.append(_entry(plan, (hive.id, "next"), following["date"], None, title, "", "next", speaker))
    return found


def _deadline(plan: WeekPlan, where: str, hives: Sequence[str], advice, vocabulary, speaker) -> Iterator[Entry]:
    by = advice.by
    if by is None or vocabulary.actions[advice.action].leaves_closed:
        return
    what = Text((cards.name(vocabulary, advice.action), *([" (", advice.amount, ")"] if advice.amount else [])))
    title = message("calendar.entry", hive=where, what=what)
    said: list[Phrase] = [Sentence(advice.because)]
    if tuple(hives) != (where,):
        said.append(message("yard.asked-at", hives=listed(hives, "comma")))
    said += [message("take-care", care=Sentence(advice.warning())), message("week.label-wins")]
    about = next((STEP_OF[item.fact] for item in advice.evidence if item.fact in STEP_OF), advice.action)
    kind = "look" if advice.origin == "look" else "deadline"
    yield _entry(plan, (where, about), by, None, title, listed(said, "space"), kind, speaker)


def _steps(plan: WeekPlan, hive: HivePlan, speaker: Speaker) -> Iterator[Entry]:
    """The steps of what lies in a hive: doses, moving, out; what follows on it: counting, eggs, supers."""
    for course in hive.courses:
        began = str(course.since)
        for step in course.steps():
            title = message(
                "calendar.entry", hive=hive.id, what=message(f"calendar.{step.step}", course=label_of(course))
            )
            text = listed(cards.course_lines(hive, plan), "space")
            key: tuple[str, ...] = (hive.id, course.active, began, step.step, str(step.number or ""))
            yield _entry(plan, key, step.first, step.last, title, text, "course", speaker)
    for step in hive.after:
        title = message("calendar.entry", hive=hive.id, what=message(f"calendar.{step.step}"))
        key = (hive.id, step.step)
        yield _entry(plan, key, step.first, step.last, title, message("week.label-wins"), "course", speaker)
    for lying in hive.lies_in:
        title = message("calendar.entry", hive=hive.id, what=plain(lying.left.label))
        text = listed(cards.course_lines(hive, plan), "space")
        yield _entry(
            plan, (hive.id, lying.left.id, str(lying.since)), lying.first, lying.last, title, text, "course", speaker
        )


def _looks(plan: WeekPlan, hive: HivePlan, vocabulary: Vocabulary, speaker: Speaker) -> Iterator[Entry]:
    asked = {advice.action for advice in hive.advice}
    for look in cards.looks(hive, plan):
        if look.by is not None and look.action not in asked:
            title = message("calendar.entry", hive=hive.id, what=cards.name(vocabulary, look.action))
            text = listed([Sentence(look.how), cards.noted(look)], "space")
            day = max(look.by, plan.date)
            yield _entry(plan, (hive.id, look.action), day, None, title, text, "look", speaker)


def _entry(
    plan: WeekPlan,
    key: tuple[str, ...],
    first: dt.date,
    last: dt.date | None,
    title: Phrase,
    text: Phrase | str,
    kind: str,
    speaker: Speaker,
) -> Entry:
    alarm = MORNING if kind in ("visit", "course") else EVENING
    said = speaker.say(Capital(title))
    return Entry((plan.name, *key), first, max(last or first, first), said, speaker.say(text), kind, alarm)


def visits(found: Round, vocabulary: Vocabulary, *, speaker: Speaker = METRIC) -> list[Entry]:
    """Return the visits of a round, an entry for each apiary and day; they are numbered within the week of their day."""
    made: list[Entry] = []
    numbers: dict[tuple[str, str], int] = {}
    for day in found.days:
        for visit in day.visits:
            year, week, _ = day.date.isocalendar()
            key = (visit.apiary, f"{year}-{week}")
            numbers[key] = numbers.get(key, 0) + 1
            lines = [
                speaker.say(message("labelled", label=stop.hive, words=round_text.stop_words(stop, vocabulary)))
                for stop in visit.stops
            ]
            lines.append(speaker.say(round_text.take(visit, vocabulary)))
            title = speaker.say(message("calendar.visit", visit=round_text.visit_title(visit)))
            made.append(
                Entry((*key, "visit", str(numbers[key])), day.date, day.date, title, "\n".join(lines), "visit", MORNING)
            )
    return made


def text(made: Iterable[Entry], today: dt.date) -> bytes:
    """Return entries as a calendar.

    Parameters
    ----------
    made : iterable of Entry
        Of two with one key the first stands.
    today : date
        The day of the answer: its stamp, and what the sequence numbers grow with.
    """
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    stamp = dt.datetime.combine(today, dt.time(), dt.UTC)
    seen: set[str] = set()
    for entry in made:
        uid = f"{uuid.uuid5(IDS, chr(31).join(entry.key))}@hiveweek"
        if uid in seen:
            continue
        seen.add(uid)
        event = Event()
        event.add("uid", uid)
        event.add("dtstamp", stamp)
        event.add("sequence", today.toordinal())
        event.add("dtstart", entry.first)
        event.add("dtend", entry.last + dt.timedelta(days=1))
        event.add("summary", entry.title)
        event.add("description", entry.text)
        event.add("categories", [entry.kind])
        event.add("transp", "TRANSPARENT")
        alarm = Alarm()
        alarm.add("action", "DISPLAY")
        alarm.add("description", entry.title)
        alarm.add("trigger", entry.alarm)
        event.add_component(alarm)
        calendar.add_component(event)
    return calendar.to_ical()

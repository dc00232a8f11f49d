"""Notes taken: what a form says becomes entries of the record, once, or a question to whoever noted it.

A note's id is made where it is written. The ids of its entries follow from it, so a note that is sent again is known again; other
words under the same id are refused.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from starlette.responses import JSONResponse, Response

from hiveweek.plan.asked import Asked, asked_at
from hiveweek.problems import InputProblems, Problem
from hiveweek.record import Answer, Apiary, Entry, Hive, Kind
from hiveweek.record.details import details_of
from hiveweek.record.notes.entering import once, parted
from hiveweek.record.places import apiary_of, place_on, unplaced
from hiveweek.record.store import StoreFault
from hiveweek.record.values import AHEAD, day_of, problems_of, value_of
from hiveweek.serve import photo_files
from hiveweek.serve.desk import Visit
from hiveweek.texts.parts import Phrase, message
from hiveweek.texts.speaker import says

MOST_TEXT, MOST_REASON = 2000, 400
FACT, DETAIL, FILE = "f:", "d:", "file"
PATIENCE = 30.0  # seconds to wait for the answer to which a job is put off
SOURCE = "page"


@dataclass
class Note:
    """What one form says, before it is written.

    Attributes
    ----------
    id : str
        Made where it was written.
    at : datetime or None
        Local time by the clock of the phone; None where it told none.
    hives : list of Hive
    apiary : str
        Id of the apiary where whoever noted it believed the hives to stand; empty where that was not said.
    sure : bool
        Its questions were answered: it is meant.
    """

    id: str
    date: dt.date
    time: dt.time | None
    hives: list[Hive]
    apiary: Apiary
    sure: bool
    entries: list[Entry] = field(default_factory=list)
    questions: list[Phrase] = field(default_factory=list)


def problem(code: str, said: str) -> InputProblems:
    """Return one complaint about a form."""
    return InputProblems([Problem("", 0, 0, code, said)])


def id_of(visit: Visit) -> str:
    """Return the id of what a form says.

    Raises
    ------
    InputProblems
        Where it is none.
    """
    key = visit.said("note")
    try:
        if str(uuid.UUID(key)) != key:
            raise ValueError(key)
    except ValueError:
        raise problem("bad-note", "a note has an id of its own; load the page again") from None
    return key


def begin(visit: Visit) -> Note:
    """Return the note of a form, with its hives, its day and what is doubtful about them.

    Raises
    ------
    InputProblems
        For an id, a time or a hive that is none.
    """
    key = id_of(visit)
    hives = [visit.store.hive(one) for one in dict.fromkeys(visit.form.get("hive", [])) if one]
    if visit.said("apiary"):
        apiary = visit.apiary(visit.said("apiary"))
    elif hives:
        apiary = apiary_of(visit.store, hives[0], visit.desk.settings.today())
    else:
        raise problem("no-hive", "a note is about a hive, or about an apiary")
    now = visit.desk.settings.now(apiary)
    note = Note(key, now.date(), None, hives, apiary, bool(visit.said("sure")))
    if not hives:  # of all that stand there
        note.hives = visit.hives_at(apiary, now.date())
    _dated(note, visit, now)
    _placed(note, visit)
    return note


def _dated(note: Note, visit: Visit, now: dt.datetime) -> None:
    said = visit.said("at")
    if not said:
        return
    try:
        at = dt.datetime.fromisoformat(said)
        if at.tzinfo is not None:
            raise ValueError(said)
    except ValueError:
        raise problem("bad-time", "the time of the note is none") from None
    if visit.desk.settings.day is not None:  # a day was given for looking back or ahead: its notes are of that day
        at = dt.datetime.combine(now.date(), at.time())
    if at.date() > now.date() + AHEAD:
        note.questions.append(message("page.ask.ahead", day=at.date().isoformat(), today=now.date().isoformat()))
        return
    note.date, note.time = at.date(), at.time().replace(microsecond=0)


def _placed(note: Note, visit: Visit) -> None:
    names = {apiary.id: apiary.name for apiary in visit.store.apiaries()}
    for hive in note.hives:
        stands = hive.apiary_on(note.date)
        if hive.ended is not None and note.date >= hive.ended:
            note.questions.append(message("page.ask.ended", hive=hive.name, day=hive.ended.isoformat()))
        elif stands is not None and stands != note.apiary.id:
            note.questions.append(message("page.ask.moved", hive=hive.name, apiary=names[stands]))


def entry(note: Note, visit: Visit, hive: Hive, kind: Kind, **more: Any) -> Entry:
    """Return one entry of a note, with the id that follows from the note's."""
    return Entry(
        str(uuid.uuid5(uuid.UUID(note.id), f"{hive.id} {len(note.entries)}")),
        kind,
        place_on(hive, note.date),
        hive.id,
        note.date,
        note.time,
        who=visit.who,
        source=SOURCE,
        note=note.id,
        recorded_at=dt.datetime.now(dt.UTC),
        **more,
    )


def adopt(note: Note, entries: Iterable[Entry]) -> None:
    """Take over entries that were made elsewhere: with the note's ids and time."""
    for one in entries:
        place = f"{one.hive or one.apiary} {len(note.entries)}"
        time = note.time if one.date == note.date and one.until_date is None else None
        key = str(uuid.uuid5(uuid.UUID(note.id), place))
        note.entries.append(dataclasses.replace(one, id=key, time=time, note=note.id, source=SOURCE))


# --- kinds of notes
def facts(visit: Visit) -> Response:
    """Take what was tapped: values of facts."""
    note, words = begin(visit), visit.desk.words
    problems, seen = [], {}
    for name, given in visit.form.items():
        if name.startswith(FACT) and given[0].strip():
            fact = words.facts.get(name.removeprefix(FACT))
            try:
                if fact is None:
                    raise ValueError("is no fact")
                seen[fact.id] = value_of(fact, given[0])
            except ValueError as error:
                label = fact.label if fact is not None else name
                problems.append(Problem("", 0, 0, "bad-value", f"{label} {error}"))
    if problems:
        raise InputProblems(problems)
    if not seen:
        raise problem("empty-note", "nothing was tapped: choose what you saw")
    for hive in note.hives:
        for kind, shared, some in parted(seen, words):
            one = entry(note, visit, hive, kind, facts=some)
            note.entries.append(dataclasses.replace(one, hive=None) if shared else one)
    note.entries = once(note.entries)
    return finish(note, visit)


def done(visit: Visit) -> Response:
    """Take a job done."""
    note, action = begin(visit), visit.said("action")

    def named(name: str) -> str:
        found = [hive for hive in visit.store.hives_named(name) if hive.apiary_on(note.date) == note.apiary.id]
        if not found:
            raise problem("unknown-hive-named", f"no hive '{name}' stands there")
        return found[0].id

    said = [(name.removeprefix(DETAIL), given[0]) for name, given in visit.form.items() if name.startswith(DETAIL)]
    details = details_of(visit.desk.words, action, [(name, text) for name, text in said if text.strip()], named)
    asked = {} if _known(note, visit) else _asked_if_it_can_be(visit, note)
    for hive in note.hives:
        if _done_already(visit, note, hive, action):
            label = visit.desk.words.actions[action].label
            note.questions.append(message("page.ask.twice", hive=hive.name, job=label, day=note.date.isoformat()))
        found = asked.get(hive.id, {}).get(action)
        rule = {"rule": found.rule, "rules_hash": found.rules_hash} if found is not None else {}
        one = entry(note, visit, hive, Kind.DONE, action=action, details=details, text=_text(visit, "text"), **rule)
        note.entries.append(one)
    return finish(note, visit)


def _done_already(visit: Visit, note: Note, hive: Hive, action: str) -> bool:
    return any(
        one.kind is Kind.DONE and one.action == action and one.date == note.date and one.note != note.id
        for one in visit.store.of_hive(hive.id, note.date)
    )


def later(visit: Visit) -> Response:
    """Put a job off."""
    until = visit.said("until")
    try:
        last = day_of(until) if until else None
    except ValueError as error:
        raise problem("bad-date", str(error)) from None
    return _answered(visit, Answer.LATER, last, "")


def skip(visit: Visit) -> Response:
    """Note that a job does not fit a hive."""
    reason = " ".join(_text(visit, "reason", MOST_REASON).split())
    if not reason:
        raise problem("no-reason", "say why it does not fit here")
    return _answered(visit, Answer.NOT_HERE, None, reason)


def _answered(visit: Visit, answer: Answer, until: dt.date | None, reason: str) -> Response:
    note, action = begin(visit), visit.said("action")
    if until is not None and until <= note.date:
        raise problem("not-ahead", f"{until} is not after {note.date}, the day of the answer")
    known = _known(note, visit)
    asked = _asked(visit, note, PATIENCE) if not known else {}
    for hive in note.hives:
        found = asked.get(hive.id, {}).get(action)
        if known:  # sent again: how the advice stood is told by what was written then
            then = next((one for one in known if one.hive == hive.id), known[0])
            rest: dict[str, Any] = {"details": then.details, "rule": then.rule, "rules_hash": then.rules_hash}
        elif found is None:
            raise problem("not-asked", f"the week does not ask for that at {hive.name} any more")
        else:
            _refuse(hive, found, answer, note.date, until)
            rest = {"details": found.as_answered(), "rule": found.rule, "rules_hash": found.rules_hash}
        one = entry(note, visit, hive, Kind.ANSWERED, action=action, answer=answer, until=until, reason=reason, **rest)
        note.entries.append(one)
    return finish(note, visit)


def _refuse(hive: Hive, asked: Asked, answer: Answer, day: dt.date, until: dt.date | None) -> None:
    if asked.band == 0:
        raise problem("law-or-people", "that is asked by law or for people's sake: it is never put away")
    if not asked.may_put_off(answer, day, until):
        raise problem("due-now", f"that is due at {hive.name} by now: it is not put away")


def _asked(visit: Visit, note: Note, patience: float | None) -> dict[str, dict[str, Asked]]:
    """Return what the week asks at the hives of a note, on its day.

    Without patience the answer that the page showed will do, also where more was noted since; else it has to be of now.
    """
    settings = visit.desk.settings
    if note.apiary.climate and note.date == settings.today(note.apiary):
        told, fresh = visit.answer(note.apiary, patience=patience or 0.0)
        if told is not None and told.plan is not None and told.key[0] == note.date and (fresh or patience is None):
            return told.asked
    return asked_at(
        visit.store, note.hives, note.date, visit.desk.words, offline=settings.offline, forecast=settings.forecast
    )


def _asked_if_it_can_be(visit: Visit, note: Note) -> dict[str, dict[str, Asked]]:
    """A job done is taken down also where the week cannot be answered."""
    try:
        return _asked(visit, note, None)
    except StoreFault:
        raise
    except InputProblems:
        return {}


# --- writing
def _text(visit: Visit, name: str, most: int = MOST_TEXT) -> str:
    return short(visit.said(name), most)


def short(text: str, most: int = MOST_TEXT) -> str:
    """Return a text as it is kept.

    Raises
    ------
    InputProblems
        For one that is too long.
    """
    if len(text) > most:
        raise problem("long-text", f"a text of {len(text)} letters is too long; {most} are taken")
    return text.strip()


def _known(note: Note, visit: Visit) -> list[Entry]:
    return visit.store.written_as(note.id)


def _says(one: Entry) -> Entry:
    """What an entry says, without what hangs on when it came and who was signed in then."""
    return dataclasses.replace(
        one,
        apiary="",
        who="",
        rule="",
        rules_hash="",
        sequence=0,
        recorded_at=dt.datetime.min,
        facts=dict(one.facts),
        details=dict(one.details),
    )


def weigh(note: Note, visit: Visit) -> None:
    """Hold the entries of a note against the vocabulary and the days of their hives; what may be meant becomes a question.

    Raises
    ------
    InputProblems
        For what cannot be meant.
    """
    today, hives = visit.desk.settings.today(note.apiary), {hive.id: hive for hive in note.hives}
    wrong = []
    for one, found in problems_of(note.entries, hives, visit.desk.words, today):
        hive = hives.get(one.hive or "")
        if hive is not None and found.code == "before-first-day":
            first = hive.placements[0].since.isoformat()
            asked = message("page.ask.before", hive=hive.name, day=first, date=one.date.isoformat())
        elif hive is not None and hive.ended is not None and found.code == "after-end":
            asked = message("page.ask.ended", hive=hive.name, day=hive.ended.isoformat())
        else:
            wrong.append(found)
            continue
        if asked not in note.questions:
            note.questions.append(asked)
    if wrong:
        raise InputProblems(wrong)


def finish(note: Note, visit: Visit, files: Mapping[str, bytes] | None = None) -> Response:
    """Write the note and its files, unless it is there already or must be asked about; tell what came of it."""
    known = _known(note, visit)
    if known:
        same = sorted((_says(one) for one in known), key=lambda one: one.id) == sorted(
            (_says(one) for one in note.entries), key=lambda one: one.id
        )
        return _kept(note, visit, "known") if same else _other(visit)
    weigh(note, visit)
    if note.questions and not note.sure:
        return _question(note, visit, files or {})
    try:
        with visit.desk.writing, photo_files.kept(visit.desk.settings.folder, files or {}):
            visit.store.add(note.entries)
    except InputProblems as error:
        if error.problems[0].code != "entry-differs":
            raise
        return _other(visit)
    visit.desk.written_by[note.id] = visit.session.id
    if note.apiary.climate:
        visit.answer(note.apiary, patience=0)  # the new answer is begun at once
    return _kept(note, visit, "kept")


def _kept(note: Note, visit: Visit, state: str) -> Response:
    following = visit.said("next")
    path = f"/h/{following}" if following else back_to(note.hives, note.apiary)
    path = f"{path}?kept={note.id}"
    return JSONResponse({"state": state, "to": path}) if visit.script else visit.go(path)


def back_to(hives: Sequence[Hive], apiary: Apiary) -> str:
    """Return the page that a note leads back to."""
    return f"/h/{hives[0].id}" if len(hives) == 1 else f"/a/{apiary.id}"


def _other(visit: Visit) -> Response:
    said = says("page.other-words")
    if visit.script:
        return JSONResponse({"state": "other", "why": [said]}, 409)
    return visit.show("problem.html.j2", 409, title=message("page.problem"), wrong=[said])


def _question(note: Note, visit: Visit, files: Mapping[str, bytes]) -> Response:
    """Ask what is meant; nothing is written. A photo waits at the desk, and the question names it."""
    lines = [visit.desk.speaker.say(question) for question in note.questions]
    if visit.script:
        return JSONResponse({"state": "asked", "why": lines}, 422)
    again = [(name, values) for name, values in visit.form.items() if name not in ("token", "sure", FILE)]
    fields = [(name, value) for name, values in again for value in values]
    for name, data in files.items():
        visit.desk.hold(name, data)
        fields.append((FILE, name))
    return visit.show(
        "question.html.j2",
        422,
        title=message("page.question"),
        questions=lines,
        fields=fields,
        path=visit.path,
        back=back_to(note.hives, note.apiary),
    )


def undo(visit: Visit) -> Response:
    """Take a note back: all its entries. A helper takes back only what was noted in their own session."""
    key = visit.said("note")
    entries = visit.store.written_as(key) if key else []
    if not entries:
        raise problem("unknown-note", "that note is not in the record")
    if not visit.may_take_back(key):
        raise problem("not-yours", "only the keeper takes back what others noted")
    with visit.desk.writing, visit.store.writing():
        taken = visit.store.withdraw([one.id for one in entries], visit.session.who)
        unplaced(visit.store, taken)
    place = visit.said("hive") or entries[0].hive
    path = f"/h/{place}" if place else f"/a/{entries[0].apiary}"
    apiary = visit.apiary(entries[0].apiary)
    if apiary.climate:
        visit.answer(apiary, patience=0)
    return visit.go(f"{path}?kept={key}")

"""The pages that are only read: apiaries, sheet, hive, print."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from functools import lru_cache

from markupsafe import Markup
from starlette.responses import Response

from hiveweek import vocabulary
from hiveweek.plan import rounds
from hiveweek.problems import InputProblems
from hiveweek.record import Apiary, Entry
from hiveweek.record.store.reading import HORIZON_DAYS
from hiveweek.serve import noted, views
from hiveweek.serve.answers import Found
from hiveweek.serve.desk import Visit
from hiveweek.serve.guard import MOST_BYTES, MOST_PHOTO_BYTES
from hiveweek.show import calendar, cards, charts, round_text
from hiveweek.texts.parts import Day, Quantity, message

REFRESH = 2  # seconds after which a page asks again for an answer that is being worked out
MOST_ENTRIES = 40
PATIENCE = 30.0  # seconds that a calendar program waits for an answer


def home(visit: Visit) -> Response:
    """Name the apiaries; with one only, show its sheet."""
    apiaries = visit.store.apiaries()
    if len(apiaries) == 1:
        return visit.go(f"/a/{apiaries[0].id}")
    shown = []
    for apiary in apiaries:
        found, _ = visit.answer(apiary, patience=0) if apiary.climate else (None, True)
        plan = found.plan if found else None
        first = rows_of(found).lines[:1] if found and plan else []
        today = visit.desk.settings.today(apiary)
        shown.append(
            {
                "apiary": apiary,
                "hives": Quantity(len(visit.hives_at(apiary, today)), "hives"),
                "first": first,
            }
        )
    return visit.show("home.html.j2", title=message("page.apiaries"), apiaries=shown)


def sheet(visit: Visit, key: str) -> Response:
    """Show an apiary: a line a hive, the most pressing first."""
    apiary = visit.apiary(key)
    found, fresh = visit.answer(apiary)
    if found is None or found.plan is None:
        return without(visit, apiary, found)
    plan, ids = found.plan, {plan.id: key for key, plan in _plans(found)}
    rows = rows_of(found)
    return visit.show(
        "sheet.html.j2",
        title=rows.title,
        apiary=apiary,
        about=views.about(plan),
        rows=rows,
        season=charts.season_words(found.season, plan.date),
        brought=cards.brought(plan) if plan.bring else None,
        strip=Markup(charts.season_strip(found.season, plan.date, speaker=visit.desk.speaker)),
        ids=ids,
        several=len(visit.store.apiaries()) > 1,
        fresh=fresh,
        kept=kept(visit),
    )


@lru_cache(maxsize=64)
def rows_of(found: Found) -> views.Rows:
    """Return the sheet of an answer; the same answer is not gone through again."""
    assert found.plan is not None
    return views.rows(found.plan, vocabulary.load())


def without(visit: Visit, apiary: Apiary, found: Found | None) -> Response:
    """Show an apiary without an answer: it is being worked out, or cannot be."""
    today = visit.desk.settings.today(apiary)
    return visit.show(
        "without.html.j2",
        title=message("week.title", name=apiary.name, day=cards.day(today)),
        apiary=apiary,
        hives=visit.hives_at(apiary, today),
        wrong=[problem.message for problem in found.wrong] if found else [],
        refresh=0 if found else REFRESH,
    )


def _plans(found: Found):
    assert found.plan is not None
    return [(key, found.plan.hives[place]) for key, place in found.hives.items()]


def hive(visit: Visit, key: str) -> Response:
    """Show one hive: what to do, what to note, what was noted."""
    words = visit.desk.words
    hive, apiary, today = visit.hive(key)
    found, fresh = visit.answer(apiary) if apiary.climate else (None, True)
    entries = visit.store.of_hive(hive.id, today - dt.timedelta(days=HORIZON_DAYS))
    plan = found.plan if found is not None and key in found.hives else None
    card, first, before, after, drawn = None, [], None, None, []
    if found is not None and plan is not None:
        mine = plan.hives[found.hives[key]]
        names = [one.id for one in plan.hives]
        card = views.card(mine, plan, words, found.asked.get(key, {}), names)
        first = views.looked_at(mine, words)
        if mine.alive is not False:
            drawn = views.drawn(found.trends.get(mine.id, ()), plan.date, visit.desk.speaker)
        walk, ids = rows_of(found).walk, {plan.hives[place].id: one for one, place in found.hives.items()}
        place = walk.index(mine.id)
        before = (walk[place - 1], ids[walk[place - 1]]) if place else None
        after = (walk[place + 1], ids[walk[place + 1]]) if place + 1 < len(walk) else None
    taken: set[str] = set()
    worth = views.fact_fields(first, entries, words, today, taken=taken)
    others = [
        (views.capital(words, action.id), fields)
        for action in words.actions.values()
        if action.observes and (fields := views.fact_fields(action.observes, entries, words, today, taken=taken))
    ]
    return visit.show(
        "hive.html.j2",
        title=message("page.hive", hive=hive.name, apiary=apiary.name),
        hive=hive,
        apiary=apiary,
        card=card,
        charts=drawn,
        worth=worth,
        others=others,
        before=before,
        after=after,
        history=history(visit, entries, today),
        fresh=fresh,
        wrong=[problem.message for problem in found.wrong] if found else [],
        first=found is None,
        kept=kept(visit),
        ended=hive.ended,
        most_photo=MOST_PHOTO_BYTES - MOST_BYTES,
    )


def history(visit: Visit, entries: list[Entry], today: dt.date) -> list[dict]:
    """Return the last entries of a hive, the newest first, as lines."""
    shown = entries[-MOST_ENTRIES:]
    names = _partners(visit, shown)
    return [_line(visit, entry, names) for entry in reversed(shown)]


def _partners(visit: Visit, entries: Iterable[Entry]) -> dict[str, str]:
    """Return the names of hives where entries name one by its id."""
    named = any("partner" in entry.details for entry in entries)
    return {other.id: other.name for other in visit.store.hives()} if named else {}


def _line(visit: Visit, entry: Entry, names: dict[str, str]) -> dict:
    return {
        "entry": entry,
        "day": Day(entry.date),
        "said": noted.told(entry, names, visit.desk.words),
        "words": entry.text or entry.reason,
        "mine": visit.may_take_back(entry.note),
    }


def kept(visit: Visit) -> dict | None:
    """Return what was written just now, as the address of the page names it; None where it names nothing."""
    note = visit.query.get("kept", "")
    if not note:
        return None
    entries = visit.store.written_as(note)
    if not entries:
        return None
    gone = visit.store.withdrawn()
    standing = [entry for entry in entries if entry.id not in gone]
    names = {entry.hive: visit.store.hive(entry.hive).name for entry in entries if entry.hive}
    partners = _partners(visit, standing)
    lines = [(names.get(entry.hive or "", ""), _line(visit, entry, partners)) for entry in standing]
    return {"note": note, "lines": lines, "gone": not standing, "mine": visit.may_take_back(note)}


def printed(visit: Visit, key: str) -> Response:
    """Show an apiary for printing: the sheet, then every card."""
    apiary = visit.apiary(key)
    found, fresh = visit.answer(apiary)
    if found is None or found.plan is None:
        return without(visit, apiary, found)
    plan, words = found.plan, visit.desk.words
    names = [one.id for one in plan.hives]
    ids, rows = {hive.id: key for key, hive in _plans(found)}, rows_of(found)
    return visit.show(
        "print.html.j2",
        title=rows.title,
        apiary=apiary,
        about=views.about(plan),
        rows=rows,
        brought=cards.brought(plan) if plan.bring else None,
        cards=[views.card(hive, plan, words, found.asked.get(ids[hive.id], {}), names) for hive in plan.hives],
        fresh=fresh,
    )


def visits(visit: Visit) -> Response:
    """Show a round over all apiaries: days, stops, what to take."""
    words, works, brought, fresh = visit.desk.words, [], [], True
    for apiary in visit.store.apiaries():
        if apiary.climate:
            found, of_now = visit.answer(apiary)
            fresh = fresh and of_now
            if found is not None and found.plan is not None:
                works.append(rounds.work(found.plan, words))
                brought += [cards.brought(found.plan)] if found.plan.bring else []
    planned = rounds.plan_round(works, words)
    days = [
        {
            "title": round_text.day_title(day),
            "visits": [
                {
                    "title": round_text.visit_title(one),
                    "stops": [(stop.hive, round_text.stop_words(stop, words)) for stop in one.stops],
                    "take": round_text.take(one, words),
                }
                for one in day.visits
            ],
        }
        for day in planned.days
    ]
    return visit.show(
        "visits.html.j2",
        title=message("round.head"),
        home=round_text.home(planned, words),
        days=days,
        brought=brought,
        rest=[
            *round_text.rest(planned, words),
            *round_text.unknown_way(planned),
            *round_text.totals(planned, words),
        ],
        fresh=fresh,
    )


def calendar_file(visit: Visit) -> Response:
    """Give the week of all apiaries for a calendar program."""
    words, works, entries = visit.desk.words, [], []
    for apiary in visit.store.apiaries():
        found, _ = visit.answer(apiary, patience=PATIENCE) if apiary.climate else (None, True)
        if found is not None and found.plan is not None:
            works.append(rounds.work(found.plan, words))
            entries += calendar.entries(found.plan, words, speaker=visit.desk.speaker)
    visits = calendar.visits(rounds.plan_round(works, words), words, speaker=visit.desk.speaker)
    day = max((work.date for work in works), default=visit.desk.settings.today())
    return Response(calendar.text([*visits, *entries], day), media_type="text/calendar")


def problem_lines(error: InputProblems) -> list[str]:
    """Return what is wrong, for people."""
    return [problem.message for problem in error.problems]

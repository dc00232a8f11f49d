"""The week plan as JSON: always metric, keys in a fixed order, the same bytes for the same plan."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Sequence
from typing import Any

from hiveweek import vocabulary
from hiveweek.plan.model import Advice, HivePlan, Look, WeekPlan
from hiveweek.plan.rounds import plan_round, work
from hiveweek.plan.stops import Item, Stop
from hiveweek.record.courses import Running
from hiveweek.record.notes.forms import note_as
from hiveweek.texts.speaker import METRIC

say = METRIC.say


def week(plan: WeekPlan, *, with_facts: bool = False) -> dict:
    """Return a plan as plain data.

    Parameters
    ----------
    plan : WeekPlan
        Its apiary's ``days`` are those of a round over this apiary alone.
    with_facts : bool
        Add ``facts`` and ``unknown`` to every hive.
    """
    return {
        "date": _day(plan.date),
        "climate": plan.climate,
        "phase": plan.phase,
        "weather": _weather(plan),
        "rulesets": [{"name": v["name"], "version": v["version"], "hash": v["hash"]} for v in plan.rulesets],
        "channels": plan.channels,
        "hives": [_hive(hive, plan.date, with_facts) for hive in plan.hives],
        "apiary": {
            "name": plan.name,
            "first": plan.first,
            "advice": [{**_advice(advice, plan.date), "hives": list(ids)} for advice, ids in plan.yard],
            "visits": [{**visit, "day": _day(visit["day"])} for visit in plan.visits],
            "kit": plan.kit,
            "bring": [{"hive": one.hive, "thing": one.thing, "noted": _day(one.noted)} for one in plan.bring],
            "best_day": _day(plan.best_day),
            **_round(plan),
        },
    }


def _round(plan: WeekPlan) -> dict:
    words = vocabulary.load()
    found = plan_round([work(plan, words)], words)
    return {
        "days": [
            {
                "day": _day(day.date),
                "fit": day.fit,
                "by": _day(day.by),
                "minutes": day.minutes,
                "way_minutes": day.way or None,
                "stops": [_stop(stop) for visit in day.visits for stop in visit.stops],
                "kit": [_item(item) for visit in day.visits for item in visit.kit],
            }
            for day in found.days
        ],
        "left": [_stop(stop) for _, stop in found.left],
        "fed": [{"action": action, "amount": amount, "unit": unit} for action, amount, unit in found.totals],
        "sugar_kg": found.sugar_kg,
    }


def _stop(stop: Stop) -> dict:
    return {
        "hive": stop.hive,
        "actions": [task.action for task in stop.tasks],
        "minutes": round(stop.minutes),
        "opens": stop.opens,
        "clean": stop.clean,
    }


def _item(item: Item) -> dict:
    return {"item": item.item, "hives": item.hives, "amounts": list(item.amounts), "unit": item.unit or None}


def _weather(plan: WeekPlan) -> dict:
    data: dict[str, Any] = {key: _day(v) if isinstance(v, dt.date) else v for key, v in plan.weather.items()}
    if "notes" in data or plan.notes:
        data["notes"] = list(map(say, (*data.get("notes", ()), *plan.notes)))
    return data


def together(source: str, date: dt.date | None, plans: Sequence[str]) -> str:
    """Return the plans of several apiaries as JSON text: the day, where the questions come from, and a plan an apiary.

    Parameters
    ----------
    source : str
    date : date or None
        Today by default.
    plans : sequence of str
        Each as ``text`` gives it.
    """
    head = json.dumps({"date": _day(date or dt.date.today()), "source": source}, indent=2, ensure_ascii=False)
    # A line end stands only between things: in a text it is written as an escape.
    listed = ",\n".join("    " + plan.rstrip("\n").replace("\n", "\n    ") for plan in plans)
    return f'{head[:-2]},\n  "apiaries": ' + (f"[\n{listed}\n  ]" if plans else "[]") + "\n}\n"


def text(plan: WeekPlan, *, with_facts: bool = False) -> str:
    """Return a plan as JSON text, indented, ending in a newline."""
    return json.dumps(week(plan, with_facts=with_facts), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _day(day: dt.date | None) -> str | None:
    return day.isoformat() if day is not None else None


def _hive(hive: HivePlan, today: dt.date, with_facts: bool) -> dict:
    nothing = hive.nothing_due
    if nothing is not None:
        coming = nothing["next"]
        nothing = {
            "because": say(nothing["because"]),
            "next": coming and {"date": _day(coming["date"]), "what": say(coming["what"])},
        }
    data: dict[str, Any] = {
        "id": hive.id,
        "advice": [_advice(advice, today) for advice in hive.advice],
        "look_first": [_look(look) for look in hive.look_first],
        "withheld": [
            {"action": w.action, "rule": w.rule, "kind": w.kind, "because": say(w.because)} for w in hive.withheld
        ],
        "nothing_due": nothing,
        "courses": [_course(course, today) for course in hive.courses],
        "lies_in": [
            {
                "what": lying.left.id,
                "since": _day(lying.since),
                "day": (today - lying.since).days,
                "from": _day(lying.first),
                "by": _day(lying.last),
            }
            for lying in hive.lies_in
        ],
        "put_away": [
            {"action": one.action, "until": _day(one.until), "reason": say(one.reason)} for one in hive.put_away
        ],
        "noted": [
            {"fact": one.fact, "value": one.value, "seen": _day(one.seen), "says": say(one.says)} for one in hive.noted
        ],
        "last_look": _day(hive.last_look),
        "after": [{"step": one.step, "from": _day(one.first), "to": _day(one.last)} for one in hive.after],
    }
    if with_facts:
        data["facts"] = hive.facts
        data["unknown"] = hive.unknown
    return data


def _course(course: Running, today: dt.date) -> dict:
    out, coming = course.out, course.next(today)
    return {
        "active": course.active,
        "form": course.form,
        "since": _day(course.since),
        "day": None if course.since is None else (today - course.since).days,
        "out_from": out and _day(out.first),
        "out_by": out and _day(out.last),
        "honey_from": _day(course.honey_from),
        "next": coming and {"step": coming.step, "from": _day(coming.first), "to": _day(coming.last)},
    }


def _advice(advice: Advice, today: dt.date) -> dict:
    return {
        "rank": advice.rank,
        "band": advice.band,
        "action": advice.action,
        "with": advice.partner,
        "rule": advice.rule,
        "points": advice.points,
        "points_from": {"gain_pts": advice.gain_pts, "urgency": advice.urgency, "certainty": advice.certainty},
        "amount": advice.amount and say(advice.amount),
        "by": _day(advice.by),
        "due_by": _day(advice.due_by),
        "overdue": advice.overdue(today),
        "due_since": _day(advice.due_since),
        "due_before": _day(advice.due_before),
        "follows": advice.follows and {"action": advice.follows.action, "until": _day(advice.follows.until)},
        "because": say(advice.because),
        "safety": say(advice.warning()),
        "sources": advice.sources,
        "evidence": [
            {"fact": e.fact, "value": e.value, "low": e.low, "high": e.high, "origin": e.origin}
            for e in advice.evidence
        ],
        "limits": advice.limits,
        "also": [{"rule": other["rule"], "because": say(other["because"])} for other in advice.also],
        "only_on": advice.only_on,
        "unverified": advice.unverified,
        "facts": advice.facts,
        "options": [
            {"active": o["active"], "allowed": o["allowed"], "because": say(o["because"])} for o in advice.options
        ],
    }


def _look(look: Look) -> dict:
    return {
        "action": look.action,
        "facts": look.facts,
        "how": say(look.how),
        "note_as": note_as(look.facts),
        "points": look.points,
        "unlocks": look.unlocks,
    }

"""Practice as plain data."""

from __future__ import annotations

from typing import Any

from hiveweek.facts.scenario import Scenario
from hiveweek.practice.lessons import lesson_of
from hiveweek.practice.marking import Marks
from hiveweek.practice.outcome import ahead
from hiveweek.practice.sitting import Sitting
from hiveweek.show.practice import verdict, weather


def scenario(one: Scenario) -> dict[str, Any]:
    """Return a scenario as a line of the list."""
    lesson = lesson_of(one)
    return {
        "lesson": lesson.id,
        "title": one.title,
        "topic": lesson.topic,
        "climate": str(one.climate),
        "date": one.date.isoformat(),
    }


def question(sitting: Sitting, offered: list[str]) -> dict[str, Any]:
    """Return what is known, which looks can be asked for, and the jobs to choose from."""
    actions = sitting.words.actions
    return {
        **scenario(sitting.scenario),
        "apiary": sitting.scenario.apiary.name,
        "story": sitting.lesson.story,
        "hive": sitting.lesson.hive,
        "site": dict(sitting.scenario.apiary.site),
        "hives": [{"id": hive.id, "facts": dict(hive.facts)} for hive in sitting.scenario.hives],
        "weather": weather(sitting),
        "looks": [
            {"action": name, "label": actions[name].label, "minutes": actions[name].minutes} for name in sitting.looks()
        ],
        "jobs": [{"action": name, "label": actions[name].label} for name in offered],
    }


def marks(sitting: Sitting, found: Marks, chance: float | None) -> dict[str, Any]:
    """Return the marks, each job of the learner, the answer, and what to take along."""
    return {
        **scenario(sitting.scenario),
        "marks": {
            "total": found.total,
            "jobs": found.jobs,
            "sure": found.sure,
            "looks": found.looks,
            "best_jobs": found.best_jobs,
            "best_sure": found.best_sure,
        },
        "chance": chance,
        "sound": found.sound,
        "minutes": sitting.minutes,
        "looks": [
            {
                "action": look.action,
                "found": look.found,
                "minutes": look.minutes,
                "cost_pts": look.cost_pts,
                "forbidden": None if look.forbidden is None else str(look.forbidden),
            }
            for look in sitting.looked
        ],
        "choices": [
            {
                "action": choice.action,
                "place": choice.place or None,
                "gain_pts": choice.gain,
                "harmful": choice.harmful,
                "says": str(verdict(choice, sitting.words)),
                "ahead": _ahead(sitting, choice.advice) if choice.advice is not None else None,
            }
            for choice in found.choices
        ],
        "answer": [
            {
                "rank": rank,
                "action": advice.action,
                "band": advice.band,
                "points": advice.points,
                "gain_pts": advice.gain_pts,
                "by": None if advice.by is None else advice.by.isoformat(),
                "amount": None if advice.amount is None else str(advice.amount),
                "because": str(advice.because),
            }
            for rank, advice in enumerate(sitting.plan.advice, 1)
        ],
        "debrief": sitting.lesson.debrief,
        "read": [{"key": key, "cite": sitting.words.sources[key].cite} for key in sitting.lesson.read],
    }


def _ahead(sitting: Sitting, advice) -> dict[str, Any]:
    day, changes = ahead(sitting, advice)
    told = [{"fact": one.fact, "without": one.without, "done": one.done} for one in changes]
    return {"date": day.isoformat(), "changes": told}

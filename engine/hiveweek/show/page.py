"""The week as one HTML file that needs nothing else: no script, no font, no picture, no network."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from jinja2 import Environment, PackageLoader, StrictUndefined

from hiveweek.plan.model import Advice, HivePlan, WeekPlan
from hiveweek.plan.words import date as say_date
from hiveweek.plan.words import plain, quantity
from hiveweek.show.cards import (
    BASIS,
    OPTION_WORDS,
    Common,
    first_words,
    held_words,
    label,
    nothing_first,
    only_on,
    rest,
    rests_on,
    shown_value,
    when,
)
from hiveweek.show.text import day, joined, sentence, upper_first
from hiveweek.show.week import JOBS, LOOK_POINTS, LOOKS, stops, title


def html(plan: WeekPlan, vocabulary, *, change=None, with_facts: bool = False) -> str:
    """Return a plan as HTML text.

    Parameters
    ----------
    plan : WeekPlan
    vocabulary : Vocabulary
    change : callable, optional
        Applied to every text for people (imperial figures).
    with_facts : bool
        Add a table of what is known of each hive.
    """
    change = change or (lambda text: text)
    environment = Environment(
        loader=PackageLoader("hiveweek.show"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["says"] = lambda text: change(sentence(text))
    common = Common(plan, vocabulary)
    shown_once = {advice.action for advice, _ in plan.yard}
    return environment.get_template("week.html.j2").render(
        title=f"{plan.name or 'Your hives'}: week of {day(plan.date)}",
        about=_about(plan),
        notes=[*([] if plan.weather.get("given") else plan.weather.get("notes", ())), *plan.notes, *common.said()],
        first=[
            {"hive": f["hive"], "label": vocabulary.actions[f["action"]].label, "points": first_words(f, plan)}
            for f in plan.first
        ],
        no_first=nothing_first(plan),
        yard=[
            {**_job(advice, vocabulary, plan, common), "hives": ids, "all": len(ids) == len(plan.hives)}
            for advice, ids in plan.yard
        ],
        hives=[_hive(hive, vocabulary, plan, common, shown_once, with_facts) for hive in plan.hives],
        visits=[_visit(visit, vocabulary, plan) for visit in plan.visits],
    )


def write(path: Path | str, text: str) -> None:
    """Write a page whole or not at all.

    Raises
    ------
    OSError
        Where the folder is missing or cannot be written.
    """
    path = Path(path)
    handle, name = tempfile.mkstemp(dir=path.parent or Path("."), prefix=path.name, suffix=".part")
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
        os.chmod(name, 0o644)
        os.replace(name, path)
    except BaseException:
        os.unlink(name)
        raise


def _about(plan: WeekPlan) -> list[str]:
    lines = []
    if plan.climate:
        phase = f", {plain(plan.phase)}" if plan.phase else ""
        lines.append(f"Climate: {plain(plan.climate)}{phase}.")
    said = []
    for key, words in (("high_c", "warmest day"), ("low_c", "coldest night")):
        value = plan.weather.get(key)
        if isinstance(value, dict):
            said.append(
                f"{words} about {quantity(value['value'], 'degC')} ({quantity(value['low'], None, bare=True)} to "
                f"{quantity(value['high'], 'degC')} likely)"
            )
        elif value is not None:
            said.append(f"{words} {quantity(value, 'degC')}")
    if said:
        basis = "as you gave it" if plan.weather.get("given") else BASIS.get(plan.weather.get("basis"), "")
        lines.append(f"Weather: {', '.join(said)}{'; ' + basis if basis else ''}.")
    if plan.best_day:
        lines.append(f"Best day for opening: {day(plan.best_day, plan.date)}.")
    return lines


def _job(advice: Advice, vocabulary, plan: WeekPlan, common: Common) -> dict:
    return {
        "title": label(vocabulary, advice.action) + when(advice, plan),
        "law": advice.band == 0,
        "because": advice.because,
        "partner": advice.partner,
        "needs": only_on(common.left(advice)),
        "options": [
            {"word": OPTION_WORDS[o["allowed"]], "active": plain(o["active"]), "because": o["because"]}
            for o in advice.options
        ],
        "care": advice.warning(common.checks),
        "rests": rests_on(advice, vocabulary, plan),
        "sources": [_source(vocabulary, s) for s in advice.sources],
        "parts": f"{quantity(advice.points, 'points')}: gain {advice.gain_pts:g} x urgency {advice.urgency:g} x certainty "
        f"{advice.certainty:g}; rule {advice.rule}",
        "look": joined([vocabulary.facts[f].label or f for f in advice.facts]) if advice.origin == "look" else "",
        "unverified": advice.unverified,
    }


def _source(vocabulary, source: str) -> str:
    found = vocabulary.sources.get(source)
    return f"{source}: {found.cite}" if found else source


def _hive(hive: HivePlan, vocabulary, plan: WeekPlan, common: Common, shown_once: set[str], with_facts: bool) -> dict:
    jobs = [a for a in hive.advice if a.action not in shown_once]
    nothing = hive.nothing_due
    coming = nothing["next"] if nothing else None
    return {
        "id": hive.id,
        "dead": hive.alive is False,
        "jobs": [_job(a, vocabulary, plan, common) for a in jobs[:JOBS]],
        "rest": rest(vocabulary, jobs[JOBS:], plan),
        "yard": joined([vocabulary.actions[a.action].label for a in hive.advice if a.action in shown_once]),
        "looks": [
            {"label": upper_first(vocabulary.actions[k.action].label), "how": k.how}
            for k in hive.look_first
            if k.points >= LOOK_POINTS
        ][:LOOKS],
        "withheld": [
            {"word": held_words(w), "label": vocabulary.actions[w.action].label, "because": w.because}
            for w in hive.withheld
        ],
        "nothing": nothing["because"] if nothing else "",
        "next": f"Next: about {say_date(coming['date'], plan.date)}, {coming['what']}" if coming else "",
        "facts": [
            {
                "label": vocabulary.facts[f].label or f,
                "value": shown_value(vocabulary.facts[f], k["value"], k["low"], k["high"]),
                "origin": k["origin"] or "",
            }
            for f, k in hive.facts.items()
        ]
        if with_facts
        else [],
    }


def _visit(visit: dict, vocabulary, plan: WeekPlan) -> dict:
    return {
        "title": title(visit, vocabulary),
        "when": day(visit["day"], plan.date) if visit["day"] else "the first fit day",
        "minutes": visit["minutes"],
        "stops": stops(visit, vocabulary),
        "kit": ", ".join(vocabulary.kit.get(item, plain(item)) for item in visit["kit"]),
    }

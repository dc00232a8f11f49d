"""The week as one HTML file that needs nothing else: no script, no font, no picture, no network."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from hiveweek.plan import rounds
from hiveweek.plan.model import Advice, HivePlan, WeekPlan
from hiveweek.plan.why import origin_words
from hiveweek.show import cards, round_text
from hiveweek.show.cards import Common, fact_name, name
from hiveweek.show.week import brought
from hiveweek.texts.parts import Quantity, Sentence, Word, listed, message
from hiveweek.texts.speaker import METRIC, Speaker

MOST_NAMED = 4  # apiaries in the title of a page


@dataclass(frozen=True)
class Part:
    """The part of a page that holds the plan of one apiary: its title as plain text, and its HTML."""

    title: str
    html: str


def html(plan: WeekPlan, vocabulary, *, speaker: Speaker = METRIC, with_facts: bool = False) -> str:
    """Return the plan of one apiary as HTML text; see `part`."""
    return whole([part(plan, vocabulary, speaker=speaker, with_facts=with_facts)], speaker=speaker)


def whole(parts: Sequence[Part], *, speaker: Speaker = METRIC) -> str:
    """Return a page of the parts of some apiaries."""
    template = _environment(speaker).get_template("week.html.j2")
    return template.render(
        message=message,
        language=speaker.language.LOCALE.partition("_")[0],
        title="; ".join(part.title for part in parts[:MOST_NAMED]),
        yards=[Markup(part.html) for part in parts],
    )


def part(plan: WeekPlan, vocabulary, *, speaker: Speaker = METRIC, with_facts: bool = False) -> Part:
    """Return the part of a page that holds the plan of one apiary.

    Parameters
    ----------
    plan : WeekPlan
    vocabulary : Vocabulary
    speaker : Speaker
        Says every phrase (metric, or with imperial figures beside).
    with_facts : bool
        Add a table of what is known of each hive.
    """
    common = Common(plan, vocabulary)
    shown_once = {advice.action for advice, _ in plan.yard}
    found = rounds.plan_round([rounds.work(plan, vocabulary)], vocabulary)
    made = (
        _environment(speaker)
        .get_template("yard.html.j2")
        .render(
            message=message,
            title=cards.title(plan),
            about=[*cards.about(plan), *([cards.best_day(plan)] if plan.best_day else [])],
            notes=[*cards.notes(plan), *plan.notes, *common.said()],
            first=[
                {"hive": f["hive"], "label": name(vocabulary, f["action"]), "worth": cards.first_words(f, plan)}
                for f in plan.first
            ],
            no_first=cards.nothing_first(plan),
            yard=[
                {**_job(advice, vocabulary, plan, common), "asked_at": [] if len(ids) == len(plan.hives) else ids}
                for advice, ids in plan.yard
            ],
            hives=[_hive(hive, vocabulary, plan, common, shown_once, with_facts) for hive in plan.hives],
            bring=brought(plan) if plan.bring else None,
            visits=[
                {
                    "title": round_text.day_title(day),
                    "stops": [
                        message("labelled", label=stop.hive, words=round_text.stop_words(stop, vocabulary))
                        for visit in day.visits
                        for stop in visit.stops
                    ],
                    "kit": [round_text.take(visit, vocabulary) for visit in day.visits],
                }
                for day in found.days
            ],
            home=round_text.home(found, vocabulary),
            totals=[*round_text.rest(found, vocabulary), *round_text.totals(found, vocabulary)],
        )
    )
    return Part(speaker.say(cards.title(plan)), made)


def _environment(speaker: Speaker) -> Environment:
    environment = Environment(
        loader=PackageLoader("hiveweek.show"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["says"] = lambda phrase: speaker.say(Sentence(phrase))
    environment.filters["words"] = speaker.say
    return environment


def _job(advice: Advice, vocabulary, plan: WeekPlan, common: Common) -> dict:
    return {
        "title": cards.job(vocabulary, advice, plan),
        "law": advice.band == 0,
        "follows": cards.follows(vocabulary, advice, plan),
        "because": advice.because,
        "partner": advice.partner,
        "needs": cards.needs(common.left(advice)),
        "options": [
            {"word": message(cards.OPTION_WORDS[o["allowed"]]), "active": Word(o["active"]), "because": o["because"]}
            for o in advice.options
        ],
        "care": advice.warning(common.checks),
        "rests": cards.rests_on(advice, vocabulary, plan),
        "sources": [_source(vocabulary, s) for s in advice.sources],
        "points": message(
            "job.points",
            points=Quantity(advice.points, "points"),
            gain=f"{advice.gain_pts:g}",
            urgency=f"{advice.urgency:g}",
            certainty=f"{advice.certainty:g}",
            rule=advice.rule,
        ),
        "look": cards.looked_for(advice, vocabulary),
        "unverified": advice.unverified,
    }


def _source(vocabulary, source: str):
    found = vocabulary.sources.get(source)
    return message("job.source", id=source, cite=found.cite) if found else source


def _hive(hive: HivePlan, vocabulary, plan: WeekPlan, common: Common, shown_once: set[str], with_facts: bool) -> dict:
    jobs = [a for a in hive.advice if a.action not in shown_once]
    nothing, most = hive.nothing_due, int(plan.screen.jobs)
    return {
        "head": message("hive.head-dead" if hive.alive is False else "hive.head", hive=hive.id),
        "courses": cards.course_lines(hive, plan),
        "beside": cards.beside(hive),
        "jobs": [_job(a, vocabulary, plan, common) for a in jobs[:most]],
        "rest": cards.rest(vocabulary, jobs[most:], plan),
        "yard": listed([name(vocabulary, a.action) for a in hive.advice if a.action in shown_once]),
        "looks": [
            {"label": cards.label(vocabulary, k.action), "how": k.how, "noted": cards.noted(k)}
            for k in cards.looks(hive, plan)
        ],
        "withheld": [cards.held(vocabulary, held) for held in hive.withheld],
        "put_away": [cards.put_away(vocabulary, one, plan) for one in hive.put_away],
        "noted": cards.noted_values(hive),
        "nothing": nothing["because"] if nothing else None,
        "next": cards.coming(nothing, plan) if nothing else None,
        "facts": [
            {
                "label": fact_name(vocabulary, f),
                "value": cards.shown_value(vocabulary.facts[f], k["value"], k["low"], k["high"]),
                "origin": origin_words(k["origin"]),
            }
            for f, k in hive.facts.items()
        ]
        if with_facts
        else [],
    }

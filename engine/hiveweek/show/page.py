"""The week as one HTML file that needs nothing else: no script, no font, no picture, no network."""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from hiveweek.plan import rounds
from hiveweek.plan.model import Advice, HivePlan, WeekPlan
from hiveweek.plan.why import origin_words
from hiveweek.show import cards, charts, round_text, sheet_text
from hiveweek.show import sheet as sheets
from hiveweek.show.cards import Common, fact_name, name
from hiveweek.show.trends import Phase, Trend
from hiveweek.texts.parts import Sentence, Word, listed, message
from hiveweek.texts.speaker import METRIC, Speaker

MOST_NAMED = 4  # apiaries in the title of a page


@dataclass(frozen=True)
class Part:
    """The part of a page that holds the plan of one apiary: its title as plain text, and its HTML."""

    title: str
    html: str


@dataclass(frozen=True)
class Drawn:
    """What is drawn on a page: the trends of each hive by its id, and the phases of the season."""

    trends: dict[str, tuple[Trend, ...]]
    season: tuple[Phase, ...]


def html(
    plan: WeekPlan, vocabulary, *, speaker: Speaker = METRIC, with_facts: bool = False, drawn: Drawn | None = None
) -> str:
    """Return the plan of one apiary as HTML text; see `part`."""
    return whole([part(plan, vocabulary, speaker=speaker, with_facts=with_facts, drawn=drawn)], speaker=speaker)


def whole(parts: Sequence[Part], *, speaker: Speaker = METRIC) -> str:
    """Return a page of the parts of some apiaries."""
    template = _environment(speaker).get_template("week.html.j2")
    return template.render(
        message=message,
        language=speaker.language.LOCALE.partition("_")[0],
        title="; ".join(part.title for part in parts[:MOST_NAMED]),
        yards=[Markup(part.html) for part in parts],
    )


def part(
    plan: WeekPlan, vocabulary, *, speaker: Speaker = METRIC, with_facts: bool = False, drawn: Drawn | None = None
) -> Part:
    """Return the part of a page that holds the plan of one apiary: the sheet, then a folded card for each hive, then the round.

    Parameters
    ----------
    plan : WeekPlan
    vocabulary : Vocabulary
    speaker : Speaker
        Says every phrase (metric, or with imperial figures beside).
    with_facts : bool
        Add a table of what is known of each hive.
    drawn : Drawn, optional
        For the charts of each hive and the strip of the season.
    """
    common = Common(plan, vocabulary)
    shown_once = {advice.action for advice, _ in plan.yard}
    sheet = sheets.of(plan, vocabulary)
    found = rounds.plan_round([rounds.work(plan, vocabulary)], vocabulary)
    hives = {hive.id: hive for hive in plan.hives}
    ordered = [hives[line.hive] for line in sheet.lines]
    made = (
        _environment(speaker)
        .get_template("yard.html.j2")
        .render(
            message=message,
            title=sheet_text.title(sheet),
            about=[*cards.about(plan), *([cards.best_day(plan)] if plan.best_day else [])],
            notes=[*cards.notes(plan), *plan.notes, *common.said()],
            law=sheet_text.above(sheet),
            rows=[
                {
                    "id": _id(plan, line.hive),
                    "hive": line.hive,
                    "walk": line.walk,
                    "by": sheet_text.by(line, sheet),
                    "do": sheet_text.do_words(line, sheet),
                    "because": sheet_text.because(line, sheet),
                }
                for line in sheet.lines
            ],
            whole=[sheet_text.whole(one, sheet) for one in sheet.yard],
            take=message("sheet.take", kit=sheet_text.kit(sheet)) if sheet.kit else None,
            season=charts.season_words(drawn.season, plan.date) if drawn else None,
            strip=Markup(charts.season_strip(drawn.season, plan.date, speaker=speaker)) if drawn else None,
            yard=[
                {
                    **_job(advice, vocabulary, plan, common, ids[0]),
                    "asked_at": [] if len(ids) == len(plan.hives) else ids,
                }
                for advice, ids in plan.yard
            ],
            hives=[_hive(hive, vocabulary, plan, common, shown_once, with_facts, drawn, speaker) for hive in ordered],
            bring=cards.brought(plan) if plan.bring else None,
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


def _id(plan: WeekPlan, hive: str) -> str:
    """Return the name of a hive's place on the page: the same in whichever process it is made."""
    return f"h{zlib.crc32(f'{plan.name}/{hive}'.encode()):08x}"


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


def _job(advice: Advice, vocabulary, plan: WeekPlan, common: Common, hive: str) -> dict:
    options = [
        {"word": message(cards.OPTION_WORDS[o["allowed"]]), "active": Word(o["active"]), "because": o["because"]}
        for o in advice.options
    ]
    key = tuple((o["active"], o["allowed"], str(o["because"])) for o in advice.options)
    told = common.told.setdefault(key, hive) if key else hive
    return {
        "tick": message("paper.tick", label=name(vocabulary, advice.action), hive=hive),
        "title": cards.job(vocabulary, advice, plan),
        "law": advice.band == 0,
        "long": bool(options) and told == hive,
        "follows": cards.follows(vocabulary, advice, plan),
        "because": advice.because,
        "partner": advice.partner,
        "needs": cards.needs(common.left(advice)),
        "options": options if told == hive else [],
        "as_above": None if told == hive else message("option.all-as-under", hive=told),
        "care": advice.warning(common.checks),
        "rests": cards.rests_on(advice, vocabulary, plan),
        "sources": [_source(vocabulary, s) for s in advice.sources],
        "points": cards.points(advice),
        "look": cards.looked_for(advice, vocabulary),
        "unverified": advice.unverified,
    }


def _source(vocabulary, source: str):
    found = vocabulary.sources.get(source)
    return message("job.source", id=source, cite=found.cite) if found else source


def _hive(
    hive: HivePlan,
    vocabulary,
    plan: WeekPlan,
    common: Common,
    shown_once: set[str],
    with_facts: bool,
    drawn: Drawn | None,
    speaker: Speaker,
) -> dict:
    jobs = [a for a in hive.advice if a.action not in shown_once]
    nothing, most = hive.nothing_due, int(plan.screen.jobs)
    made = [_job(a, vocabulary, plan, common, hive.id) for a in jobs[:most]]
    return {
        "id": _id(plan, hive.id),
        "head": message("hive.head-dead" if hive.alive is False else "hive.head", hive=hive.id),
        "short": not any(one["options"] for one in made) and not with_facts,
        "courses": cards.course_lines(hive, plan),
        "beside": cards.beside(hive, plan),
        "jobs": made,
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
        "charts": [
            {
                "svg": Markup(charts.chart(trend, plan.date, speaker=speaker)),
                "words": charts.words(trend),
            }
            for trend in (drawn.trends.get(hive.id, ()) if drawn and hive.alive is not False else ())
        ],
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

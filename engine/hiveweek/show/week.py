"""The week on a terminal: what to do first in the yard, then a short card for each hive."""

from __future__ import annotations

from hiveweek.plan.model import Advice, HivePlan, WeekPlan
from hiveweek.plan.why import origin_words
from hiveweek.plan.words import date as say_date
from hiveweek.plan.words import plain, quantity
from hiveweek.show.cards import (
    BASIS,
    Common,
    first_words,
    held_words,
    label,
    nothing_first,
    only_on,
    option_lines,
    rest,
    rests_on,
    shown_value,
    when,
)
from hiveweek.show.text import Page, day, joined, sentence

JOBS = 3  # jobs a hive on screen; the rest waits
LOOKS = 3
LOOK_POINTS = 0.5  # smaller looks stand in the JSON only
FEW_DRY_DAYS = 2  # a week with no more dry days than this is spoken of as a week of rain


def show(page: Page, plan: WeekPlan, vocabulary, *, only: str | None = None, with_facts: bool = False) -> None:
    """Print a plan.

    Parameters
    ----------
    page : Page
        Where to.
    plan : WeekPlan
    vocabulary : Vocabulary
        For the words of actions and facts.
    only : str, optional
        Id of the one hive to show.
    with_facts : bool
        Also print what is known of each hive and what is not.
    """
    common = Common(plan, vocabulary)
    _head(page, plan, vocabulary, common)
    yard = [] if only else plan.yard
    if not only:
        _first(page, plan, vocabulary)
    _yard(page, yard, plan, vocabulary, common)
    shown_once = {advice.action for advice, _ in yard}
    for hive in plan.hives:
        if only is None or hive.id == only:
            _hive(page, hive, plan, vocabulary, shown_once, common)
            if with_facts:
                _facts(page, hive, vocabulary)
    if not only:
        _visits(page, plan, vocabulary)
    page.say("The label of your registered product and local law win over anything written here.", style="dim")


def _head(page: Page, plan: WeekPlan, vocabulary, common: Common) -> None:
    name = plan.name or "Your hives"
    page.say(f"{name}: week of {day(plan.date)}", style="bold")
    if plan.climate:
        phase = f", {plain(plan.phase)}" if plan.phase else ""
        page.say(f"Climate: {plain(plan.climate)}{phase}.", indent=2, hang=2)
    weather = plan.weather
    said = []
    for key, words in (("high_c", "warmest day"), ("low_c", "coldest night")):
        value = weather.get(key)
        if isinstance(value, dict):
            said.append(
                f"{words} about {quantity(value['value'], 'degC')} ({quantity(value['low'], None, bare=True)} to "
                f"{quantity(value['high'], 'degC')} likely)"
            )
        elif value is not None:
            said.append(f"{words} {quantity(value, 'degC')}")
    if said:
        basis = "as you gave it" if weather.get("given") else BASIS.get(weather.get("basis"), "")
        page.say(f"Weather: {', '.join(said)}{'; ' + basis if basis else ''}.", indent=2, hang=2)
    dry = 0 if weather.get("rain_all_week") is True else weather.get("dry_days")
    if plan.best_day and dry != 0:
        page.say(f"Best day for opening: {day(plan.best_day, plan.date)}.", indent=2, hang=2)
    if isinstance(dry, (int, float)) and dry <= FEW_DRY_DAYS:
        _rain(page, plan, vocabulary, int(dry))
    for note in () if weather.get("given") else weather.get("notes", ()):
        page.say(sentence(note), indent=2, hang=2)
    for note in plan.notes:
        page.say("Note: " + sentence(note), indent=2, hang=2)
    for text in common.said():
        page.say(text, indent=2, hang=2)
    page.line()


def _rain(page: Page, plan: WeekPlan, vocabulary, dry: int) -> None:
    outside, opening = dry_hour(plan, vocabulary)
    days = "every day" if dry == 0 else f"{7 - dry} of the 7 days"
    page.say(f"Rain is expected on {days} of this week.", indent=2, hang=2)
    if outside:
        page.say("In the rain you can: " + joined(outside) + ".", indent=4, hang=2)
    if opening:
        page.say("One dry hour is for: " + joined(opening) + ".", indent=4, hang=2)
    urgent = [
        f"{vocabulary.actions[a.action].label} ({hive.id})" for hive in plan.hives for a in hive.advice if a.rain_too
    ]
    if urgent:
        page.say(
            "Hunger does not wait for it, in rain hold a coat over the hive: " + joined(urgent) + ".", indent=4, hang=2
        )
    last = plan.weather.get("last_good_day")
    page.say(
        f"Last good day of the week: {day(last, plan.date)}."
        if last
        else "No day of the week is known to be dry and warm; wait for the next gap.",
        indent=4,
        hang=2,
    )


def dry_hour(plan: WeekPlan, vocabulary, most: int = 3) -> tuple[list[str], list[str]]:
    """Return (what can be done in the rain, what one dry hour is for), best first.

    The hour goes to feeding where food is due; without that to other jobs, and to counts and boxes only where nothing else
    asks for it.
    """
    outside, feeding, jobs, others = [], [], [], []
    for hive in plan.hives:
        for advice in hive.advice:
            body = vocabulary.actions[advice.action]
            if body.leaves_closed:
                continue
            target = others
            words = (advice.key(hive.id), f"{body.label} ({hive.id})")
            if body.opens == "nothing":
                target = outside
            elif body.dry_hour == "first":
                target = feeding
            elif advice.origin != "look" and body.dry_hour != "last":
                target = jobs
            target.append(words)
    opening = feeding or jobs or others
    return tuple(list(dict.fromkeys(words for _, words in sorted(pairs)))[:most] for pairs in (outside, opening))


def _first(page: Page, plan: WeekPlan, vocabulary) -> None:
    if len(plan.hives) < 2 and not plan.yard:
        return
    page.say("First in this yard", style="bold")
    if not plan.first:
        page.say(nothing_first(plan), indent=2)
    for number, item in enumerate(plan.first, 1):
        words = first_words(item, plan)
        points = f" ({words})" if words else ""
        page.say(f"{number}. {item['hive']}: {vocabulary.actions[item['action']].label}{points}", indent=2, hang=3)
    page.line()


def _yard(page: Page, yard: list, plan: WeekPlan, vocabulary, common: Common) -> None:
    if not yard:
        return
    page.say("For the whole yard", style="bold")
    for advice, ids in yard:
        everywhere = len(ids) == len(plan.hives)
        page.say(f"{label(vocabulary, advice.action)}{when(advice, plan)}", indent=2, hang=3, style="bold")
        _reasons(page, advice, vocabulary, plan, 5, common, ids[0])
        if not everywhere:
            page.say(f"Asked for at: {', '.join(ids)}.", indent=5, hang=2)
    page.line()


def _reasons(page: Page, advice: Advice, vocabulary, plan: WeekPlan, indent: int, common: Common, hive: str) -> None:
    page.say("Because: " + sentence(advice.because), indent=indent, hang=2)
    if advice.partner:
        page.say(f"Together with hive {advice.partner}.", indent=indent, hang=2)
    only = only_on(common.left(advice))
    if only:
        page.say(only, indent=indent, hang=2)
    for line, details in option_lines(advice.options, common.told, f"hive {hive}"):
        page.say(line, indent=indent, hang=2)
        for detail in details:
            page.say(detail, indent=indent + 4, hang=2, style="dim")
    warning = advice.warning(common.checks)
    if warning:
        page.say("Take care: " + sentence(warning), indent=indent, hang=2)
    rests = rests_on(advice, vocabulary, plan)
    if rests:
        page.say(rests, indent=indent, hang=2, style="dim")
    if advice.facts and advice.origin == "look":
        names = [vocabulary.facts[f].label or f for f in advice.facts]
        page.say(
            "Look for: " + joined(names[:4]) + (f" and {len(names) - 4} more" if len(names) > 4 else "") + ".",
            indent=indent,
            hang=2,
        )
    if advice.unverified:
        page.say(
            "The two ways of working this out differ here; check it yourself before acting.", indent=indent, hang=2
        )


def _hive(page: Page, hive: HivePlan, plan: WeekPlan, vocabulary, shown_once: set[str], common: Common) -> None:
    page.say(f"Hive {hive.id}" + (" (no living colony)" if hive.alive is False else ""), style="bold")
    jobs = [a for a in hive.advice if a.action not in shown_once]
    for number, advice in enumerate(jobs[:JOBS], 1):
        page.say(f"{number}. {label(vocabulary, advice.action)}{when(advice, plan)}", indent=2, hang=3, style="bold")
        _reasons(page, advice, vocabulary, plan, 5, common, hive.id)
    for line in rest(vocabulary, jobs[JOBS:], plan):
        page.say(line, indent=2, hang=2)
    if len(jobs) < len(hive.advice):
        names = [vocabulary.actions[a.action].label for a in hive.advice if a.action in shown_once]
        page.say("And for the whole yard: " + joined(names) + ".", indent=2, hang=2)
    looks = [look for look in hive.look_first if look.points >= LOOK_POINTS][:LOOKS]
    if looks:
        page.say("Worth a look when you are there:", indent=2)
        for look in looks:
            page.say(f"- {vocabulary.actions[look.action].label}. {sentence(look.how)}", indent=4, hang=2)
    for held in hive.withheld:
        page.say(
            f"{held_words(held)}: {vocabulary.actions[held.action].label}. {sentence(held.because)}", indent=2, hang=2
        )
    if hive.nothing_due:
        page.say(sentence(hive.nothing_due["because"]), indent=2, hang=2)
        coming = hive.nothing_due["next"]
        if coming:
            page.say(f"Next: about {say_date(coming['date'], plan.date)}, {sentence(coming['what'])}", indent=2, hang=2)
    page.line()


def _facts(page: Page, hive: HivePlan, vocabulary) -> None:
    page.say(f"What is known of hive {hive.id}", style="bold")
    for fact_id, known in hive.facts.items():
        fact = vocabulary.facts[fact_id]
        page.say(
            f"{fact_id}: {shown_value(fact, known['value'], known['low'], known['high'])} ({origin_words(known['origin'])})",
            indent=2,
            hang=4,
        )
    if hive.unknown:
        page.say("Not known: " + ", ".join(hive.unknown) + ".", indent=2, hang=4)
    page.line()


def _visits(page: Page, plan: WeekPlan, vocabulary) -> None:
    if not plan.visits:
        return
    page.say("Your visits", style="bold")
    for visit in plan.visits:
        on = f", {day(visit['day'], plan.date)}" if visit["day"] else ", the first fit day"
        minutes = f", about {visit['minutes']} minutes" if visit["minutes"] else ""
        page.say(
            f"{title(visit, vocabulary)}{on}{minutes}: " + "; ".join(stops(visit, vocabulary)) + ".", indent=2, hang=4
        )
        if visit["kit"]:
            page.say(
                "Take: " + ", ".join(vocabulary.kit.get(item, plain(item)) for item in visit["kit"]) + ".",
                indent=4,
                hang=2,
            )
    page.line()


def title(visit: dict, vocabulary) -> str:
    """Return what a visit is: from home, outside the hives (and feeding from above), opening hives."""
    words = {"at_home": "From home", "outside": "Outside the hives", "opening": "Opening hives"}[visit["what"]]
    feeds = any("sugar" in vocabulary.actions[a].uses for stop in visit["hives"] for a in stop["actions"])
    return f"{words}, and feeding from above" if visit["what"] == "outside" and feeds else words


def stops(visit: dict, vocabulary) -> list[str]:
    """Return the hives of a visit with their jobs; what concerns the whole yard is said of the yard, first."""
    yard, lines = [], []
    for stop in visit["hives"]:
        jobs = []
        for action in stop["actions"]:
            body = vocabulary.actions[action]
            (yard if body.scope == "apiary" else jobs).append(body.label)
        if jobs:
            lines.append(f"{stop['hive']} {', '.join(jobs)}")
    return ([f"the whole yard: {', '.join(yard)}"] if yard else []) + lines

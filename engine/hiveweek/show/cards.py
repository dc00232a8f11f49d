"""Pieces of words that the terminal and the page share: labels, dates, bounds on the day, what an advice rests on."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable

from hiveweek.plan.model import Advice, HivePlan, Look, PutAway, WeekPlan
from hiveweek.plan.options import details
from hiveweek.plan.why import origin_words
from hiveweek.record.notes.forms import note_as
from hiveweek.texts.english import UNITS
from hiveweek.texts.parts import Capital, Clause, Day, Phrase, Quantity, Range, Sentence, Text, Word, listed, message
from hiveweek.texts.reading import plain

EVIDENCE = 4
# what a bound on the day is called: unit of its number
BOUNDS = {
    "high_c_min": "degC",
    "high_c_max": "degC",
    "wind_kmh_max": "km/h",
    "mean_c_min": "degC",
    "mean_c_max": "degC",
    "low_c_min": "degC",
    "low_c_max": "degC",
    "wind_kmh_min": "km/h",
}


class Common:
    """What holds for several jobs alike and is said once: the day for opening, and what to check first."""

    KEYS = ("wind_kmh_max", "dry")

    def __init__(self, plan: WeekPlan, vocabulary):
        self.vocabulary = vocabulary
        self.told: dict = {}  # treatments explained already
        self.days: dict[str, dict] = {}
        every = [a for hive in plan.hives for a in hive.advice]
        for opens in ("lid", "frames"):
            bounds = [self._day(a) for a in every if vocabulary.actions[a.action].opens == opens]
            usual = max(bounds, key=bounds.count, default={})
            if usual and bounds.count(usual) > 1:
                self.days[opens] = usual
        counts: dict[Phrase, int] = {}
        for advice in every:
            for check in advice.checks:
                counts[check] = counts.get(check, 0) + 1
        self.checks = frozenset(check for check, count in counts.items() if count > 1)
        self._order = [check for check in counts if check in self.checks]

    def _day(self, advice: Advice) -> dict:
        return {key: (advice.only_on or {}).get(key) for key in self.KEYS if key in (advice.only_on or {})}

    def left(self, advice: Advice) -> dict:
        """Bounds of an advice that were not said for all."""
        told = self.days.get(self.vocabulary.actions[advice.action].opens, {})
        return {key: value for key, value in (advice.only_on or {}).items() if told.get(key) != value}

    def said(self) -> list[Phrase]:
        """The lines to print once."""
        days = [needs(self.days[opens], f"needs.{opens}") for opens in ("frames", "lid") if opens in self.days]
        return days + [message("first-check", checks=check) for check in self._order]


def name(vocabulary, action: str) -> Phrase:
    """Return the words of an action."""
    return plain(vocabulary.actions[action].label or action.replace("-", " "))


def label(vocabulary, action: str) -> Phrase:
    """Return the words of an action, with a capital."""
    return Capital(name(vocabulary, action))


def fact_name(vocabulary, fact: str) -> Phrase:
    """Return the words of a fact."""
    return plain(vocabulary.facts[fact].label or fact)


def title(plan: WeekPlan) -> Phrase:
    """Return whose week it is."""
    return message("week.title", name=plan.name or message("week.your-hives"), day=day(plan.date))


def day(date, today=None) -> Day:
    """Return a date with its weekday."""
    return Day(date, today, weekday=True)


def about(plan: WeekPlan) -> list[Phrase]:
    """Return the lines on the climate and the weather of the week."""
    lines: list[Phrase] = []
    if plan.climate:
        phase = {"phase": Word(plan.phase)} if plan.phase else {}
        lines.append(message("week.climate-phase" if phase else "week.climate", climate=Word(plan.climate), **phase))
    said = []
    for key, id in (("high_c", "week.warmest"), ("low_c", "week.coldest")):
        value = plan.weather.get(key)
        if isinstance(value, dict):
            likely = Range(Quantity(value["low"], "degC"), Quantity(value["high"], "degC"))
            words = message("week.about", value=Quantity(value["value"], "degC"), range=likely)
            said.append(message(id, temperature=words))
        elif value is not None:
            said.append(message(id, temperature=Quantity(value, "degC")))
    if said:
        basis = "given" if plan.weather.get("given") else plan.weather.get("basis")
        basis = {"basis": message(f"basis.{basis}")} if basis else {}
        lines.append(message("week.weather-basis" if basis else "week.weather", said=listed(said, "comma"), **basis))
    return lines


def best_day(plan: WeekPlan) -> Phrase:
    """Return the line on the best day for opening."""
    return message("week.best-day", day=day(plan.best_day, plan.date))


def notes(plan: WeekPlan) -> list[Phrase | str]:
    """Return what is to be said of the weather, unless the keeper gave it."""
    return [] if plan.weather.get("given") else list(plan.weather.get("notes", ()))


def job(vocabulary, advice: Advice, plan: WeekPlan) -> Phrase:
    """Return the title of a job: what, how much and by when."""
    return Text((label(vocabulary, advice.action), when(advice, plan)))


def when(advice: Advice, plan: WeekPlan) -> Phrase:
    """Return how much and by when, to follow a label: ``: 2 kg, start by 15 March``; empty where neither is known."""
    words: list[Phrase] = [message("when.amount", amount=advice.amount)] if advice.amount else []
    due = advice.by if advice.hurried else advice.due_by
    if due is not None and (advice.hurried or not _holds_since(advice, plan)):
        late = (due - plan.date).days
        key = "when.late" if late < 0 else "when.today" if late == 0 else "when.by"
        words.append(message(key, day=Day(due, plan.date)))
    return Text((*words, since(advice, plan)))


def _holds_since(advice: Advice, plan: WeekPlan) -> bool:
    """Whether it lasts and began before today: its first day is no deadline that went by."""
    return advice.lasts and advice.due_by is not None and advice.due_by < plan.date


def since(advice: Advice, plan: WeekPlan) -> Phrase:
    """Return since when a job is due, to follow the rest of its title; empty for what has come up today, and for looks."""
    if _holds_since(advice, plan):
        return message("when.holds-since", day=Day(advice.due_since or advice.due_by or plan.date, plan.date))
    if advice.due_before is not None:
        gone = advice.due_by is None and advice.overdue(plan.date)
        key = "when.overdue-since-before" if gone else "when.since-before"
        return message(key, day=Day(advice.due_before, plan.date))
    if advice.due_since is not None and advice.due_since < plan.date:
        return message("when.since", day=Day(advice.due_since, plan.date))
    return Text()


def follows(vocabulary, advice: Advice, plan: WeekPlan) -> Phrase:
    """Return what must come before a job, from which day it follows, and why; empty where nothing must."""
    after = advice.follows
    if after is None:
        return Text()
    words = {"label": name(vocabulary, after.action), "why": after.why}
    if after.until is None:
        return message("follows", **words)
    return message("follows.from", day=Day(after.until, plan.date), **words)


def points(advice: Advice) -> Phrase:
    """Return the points of an advice with the parts that they are made of, and its rule."""
    return message(
        "job.points",
        points=Quantity(advice.points, "points"),
        gain=f"{advice.gain_pts:g}",
        urgency=f"{advice.urgency:g}",
        certainty=f"{advice.certainty:g}",
        rule=advice.rule,
    )


def needs(bounds: dict | None, id: str = "needs") -> Phrase:
    """Return the day an advice needs as a sentence; empty where nothing is open."""
    if not bounds:
        return Text()
    said = [message("needs.dry-hour" if id == "needs.lid" else "needs.dry")] if "dry" in bounds else []
    said += [message(f"needs.{key}", value=Quantity(bounds[key], BOUNDS[key])) for key in bounds if key != "dry"]
    return message(id, needs=listed(said, "comma"))


def rests_on(advice: Advice, vocabulary, plan: WeekPlan) -> Phrase:
    """Return what an advice rests on, told apart as seen, given, worked out, estimated or usual here; at most four facts."""
    kinds: dict[Phrase, list[Phrase]] = {}
    most = EVIDENCE
    for item in advice.evidence:
        fact = vocabulary.facts.get(item.fact) or vocabulary.facts.get(item.fact.partition(".")[2])
        if fact is None or fact.scope == "calendar" or fact.id.endswith(("_low", "_high")) or not most:
            continue
        if fact.group == "course" or fact.id.endswith("_days_to"):  # days counted on from what the line names anyway
            continue
        most -= 1
        said = _named_value(fact, item.value, item.low, item.high, plan.date)
        if item.fact != fact.id:
            said = message("rests.role", role=item.fact.partition(".")[0], said=said)
        kinds.setdefault(Capital(origin_words(item.origin, plan.date)), []).append(said)
    return listed(
        [message("rests.kind", kind=kind, said=listed(said, "comma")) for kind, said in kinds.items()], "space"
    )


def _named_value(fact, value, low, high, today: dt.date) -> Phrase:
    """A fact's label with its value; the unit is left out where the label says it."""
    words = fact.label or fact.id
    number = not isinstance(value, bool) and fact.kind in ("number", "integer", "date")
    unit = UNITS.get(fact.unit, {"other": fact.unit or ""})["other"].partition(" ")[0]
    shown: Phrase
    if fact.kind == "date" and isinstance(value, str):
        shown = Day(dt.date.fromisoformat(value), today)
    else:
        shown = shown_value(fact, value, low, high, bare=number and unit in words.split())
    return message("rests.number" if number else "labelled", label=plain(words), words=shown)


def shown_value(fact, value, low=None, high=None, *, bare: bool = False) -> Phrase:
    """Return a plain value of a fact in words, with its likely range where it has one; ``bare`` leaves the unit out."""
    if isinstance(value, bool):
        return message("yes" if value else "no")
    if not isinstance(value, (int, float)):
        return Word(str(value))
    said = Quantity(float(value), fact.unit, bare=bare)
    if low is None or high is None or low >= high:
        return said
    low, high = (Quantity(float(end), fact.unit, bare=True) for end in (low, high))
    return message("likely", value=said, range=Range(low, high))


def rest(vocabulary, advice: list[Advice], plan: WeekPlan) -> list[Phrase]:
    """Return the jobs beyond those with a card, as at most two lines: what is due within the week, and what can wait."""
    soon, later = [], []
    for one in advice:
        if vocabulary.actions[one.action].leaves_closed:
            continue
        words: Phrase = name(vocabulary, one.action)
        if one.amount:
            words = message("rest.amount", label=words, amount=one.amount)
        due = one.due_by or (one.by if one.overdue(plan.date) else None)
        due = one.by if one.hurried or _holds_since(one, plan) else due
        left = None if due is None else (due - plan.date).days
        date = Text() if due is None else Day(due, plan.date)
        if one.band == 0 or (left is not None and left < 7):
            key = "rest.today" if left is None or left == 0 else "rest.late" if left < 0 else "rest.by"
            soon.append(message(key, job=words, day=date))
        else:
            later.append(message("rest.no-date" if left is None else "rest.until", job=words, day=date))
    lines = [("rest.soon", soon), ("rest.later", later)]
    return [message(id, jobs=listed(jobs, "semicolon")) for id, jobs in lines if jobs]


def looked_for(advice: Advice, vocabulary, most: int | None = None) -> Phrase:
    """Return what to look for, where an advice is a look; empty elsewhere."""
    if not advice.facts or advice.origin != "look":
        return Text()
    names = listed([fact_name(vocabulary, fact) for fact in advice.facts[:most]])
    more = len(advice.facts) - len(names.items)
    return message("look-for.more", facts=names, n=more) if more else message("look-for", facts=names)


def held(vocabulary, one) -> Phrase:
    """Return a job that is not given: it waits, or it is not for this week."""
    key = "held.waits" if one.waits else "held.late" if one.kind == "late" else "held.not-this-week"
    return message(key, label=name(vocabulary, one.action), because=Sentence(one.because))


def put_away(vocabulary, one: PutAway, plan: WeekPlan) -> Phrase:
    """Return an advice that the keeper answered, in one line."""
    words = {"label": name(vocabulary, one.action), "reason": Sentence(one.reason)}
    if one.due_by is not None and one.serious and not one.done:
        words["reason"] = listed(
            [words["reason"], message("put-away.at-the-latest", day=Day(one.due_by, plan.date))], "space"
        )
    if one.until is None:
        return message("put-away.not-here", **words)
    return message("put-away.done" if one.done else "put-away.until", day=Day(one.until, plan.date), **words)


def noted_values(hive: HivePlan) -> Phrase:
    """Return what is said of noted values that nothing else answers, folded in one line; empty where there are none."""
    if not hive.noted:
        return Text()
    return message("noted.line", said=listed([one.says for one in hive.noted], "space"))


def brought(plan: WeekPlan) -> Phrase:
    """Return what the keeper noted to bring, with the hive."""
    things = [message("visits.thing", thing=one.thing, hive=one.hive) for one in plan.bring]
    return message("visits.bring", things=listed(things, "semicolon"))


def coming(nothing_due: dict, plan: WeekPlan) -> Phrase:
    """Return what comes next at a hive with nothing due; empty where that is not known."""
    following = nothing_due["next"]
    if not following:
        return Text()
    return message("nothing.next", day=Day(following["date"], plan.date), what=Sentence(following["what"]))


def looks(hive: HivePlan, plan: WeekPlan) -> list[Look]:
    """Return the looks of a hive that a screen names, best first."""
    return [look for look in hive.look_first if look.points >= plan.screen.look_pts][: int(plan.screen.looks)]


def noted(look: Look) -> Phrase:
    """Return how what a look finds is noted; empty where none of it can be."""
    phrase = note_as(look.facts)
    return message("look.note-as", phrase=phrase) if phrase else Text()


def course_lines(hive: HivePlan, plan: WeekPlan) -> list[Phrase]:
    """Return what lies in a hive over weeks: since when, when it comes out, and what comes before that."""
    lines: list[Phrase] = []
    for course in hive.courses:
        words: Phrase
        label = plain(course.course.label) if course.course is not None else Word(course.active)
        if course.since is None:
            words = message("lies.undated", what=Capital(label))
        else:
            since = Day(course.since, plan.date)
            words = message("lies.in", what=Capital(label), since=since, n=(plan.date - course.since).days)
        out, coming = course.out, course.next(plan.date)
        if out is None:
            words = message("lies.no-end", course=words)
        else:
            first, last = Day(out.first, plan.date), Day(out.last, plan.date)
            late = out.last < plan.date
            words = message("lies.late" if late else "lies.out", course=words, first=first, last=last)
        if coming is not None and coming.step != "out":
            days = {"first": Day(coming.first, plan.date), "last": Day(coming.last, plan.date)}
            words = listed([words, message(f"lies.{coming.step}", **days)], "space")
        if course.honey_from is not None and course.honey_from > plan.date:
            words = listed([words, message("lies.honey", day=Day(course.honey_from, plan.date))], "space")
        lines.append(words)
    for lying in hive.lies_in:
        since = Day(lying.since, plan.date)
        n = (plan.date - lying.since).days
        words = message("lies.in", what=Capital(plain(lying.left.label)), since=since, n=n)
        places = {"{first}": Day(lying.first, plan.date), "{last}": Day(lying.last, plan.date)}
        parts = [places.get(part) or plain(part) for part in re.split(r"(\{first\}|\{last\})", lying.left.say) if part]
        lines.append(Text((message("lies.no-end", course=words), plain(" "), *parts)))
    return lines


def beside(hive: HivePlan, plan: WeekPlan) -> list[Phrase]:
    """Return what to know while something lies in a hive: food, supers, entrance, when to stop, what to expect.

    Nothing of a course that was to be out long ago: most likely it is out, and nobody noted the day.
    """
    long_ago = plan.date - dt.timedelta(days=int(plan.screen.late_course_days))
    running = [course for course in hive.courses if course.out is None or course.out.last >= long_ago]
    return [plain(text) for course in running if course.course for text in course.course.beside.values()]


OPTION_WORDS = {True: "option.fits", None: "option.unknown", False: "option.barred"}


def option_lines(options: list[dict], told: dict, where: Phrase) -> list[tuple[Phrase, list[Phrase]]]:
    """Return the treatments as (line, lines of detail), those that fit first; what was said of them at another hive stands in one line.

    Parameters
    ----------
    options : list of dict
        As the plan gives them.
    told : dict
        What was said already, by option: where. Filled.
    where : Phrase
        Name of this hive, for later ones.
    """
    lines: list[tuple[Phrase, list[Phrase]]] = []
    before: dict[Phrase, list[str]] = {}
    new = []
    for option in options:
        at = told.setdefault(_said_of(option), where)
        if at == where:
            new.append(option)
        else:
            before.setdefault(at, []).append(option["active"])
    for allowed, id in OPTION_WORDS.items():
        same = [option for option in new if option["allowed"] is allowed]
        if not same:
            continue
        if allowed is False:
            lines.append((message("option.line", word=message(id), options=listed(barred(same), "semicolon")), []))
            continue
        lines.append((message("option.head", word=message(id)), []))
        lines += [_option(option) for option in same]
    for at, actives in before.items():
        said = listed([Word(active) for active in actives], "comma")
        lines.append((message("option.rest-as-under", options=said, where=at), []))
    return lines


def barred(options: Iterable[dict]) -> list[Phrase]:
    """Return treatments that may not be used, each with why."""
    return [message("option.why", active=Word(one["active"]), why=_why_barred(one["forms"])) for one in options]


def _said_of(option: dict) -> tuple:
    """All that is said of a treatment: where it is the same at two hives it is said once."""
    forms = tuple(
        (form["form"], form["allowed"], str(form["because"]), str(form["reason"])) for form in option["forms"]
    )
    return option["active"], option["allowed"], forms


def _why_barred(forms: list[dict]) -> Phrase:
    reasons = [Clause(form["reason"]) for form in forms]
    if len(forms) == 1:
        return reasons[0]
    pairs = zip(forms, reasons, strict=True)
    return listed([message("labelled", label=form["form"], words=why) for form, why in pairs], "semicolon")


def _option(option: dict) -> tuple[Phrase, list[Phrase]]:
    """Return a treatment that fits, or hangs on what is not known, with its details."""
    said: list[Phrase] = []
    more: list[Phrase] = []
    for form in option["forms"]:
        words: Phrase = Sentence(form["reason"])
        if form["allowed"] is False:
            words = message("option.not-this-week", because=words)
        else:
            detail: Phrase = listed(details(form), "space")
            if detail and len(option["forms"]) > 1:
                detail = message("labelled", label=Capital(form["form"]), words=detail)
            more.append(detail)
        if len(option["forms"]) > 1:
            words = message("labelled", label=Capital(form["form"]), words=words)
        said.append(words)
    line = message("option.item", active=Word(option["active"]), said=listed(said, "space"))
    return line, [detail for detail in more if detail]

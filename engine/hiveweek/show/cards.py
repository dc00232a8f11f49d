"""Pieces of words that the terminal and the page share: labels, dates, bounds on the day, what an advice rests on."""

from __future__ import annotations

import datetime as dt

from hiveweek.plan.model import Advice, WeekPlan
from hiveweek.plan.why import origin_words
from hiveweek.plan.words import UNITS, plain, quantity
from hiveweek.plan.words import date as say_date
from hiveweek.show.text import sentence, upper_first

EVIDENCE = 4
BASIS = {"forecast": "from the forecast", "observed": "measured nearby", "normals": "what is usual here, no forecast"}


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
        counts: dict[str, int] = {}
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

    def said(self) -> list[str]:
        """The lines to print once."""
        lines = []
        names = {"frames": "To take frames out", "lid": "To lift a lid"}
        for opens in ("frames", "lid"):
            if opens in self.days:
                lines.append(only_on(self.days[opens]).replace("Needs", names[opens], 1))
        return lines + [f"First check: {check}" for check in self._order]


def label(vocabulary, action: str) -> str:
    """Return the words of an action, with a capital."""
    return upper_first(vocabulary.actions[action].label or plain(action.replace("-", " ")))


def when(advice: Advice, plan: WeekPlan) -> str:
    """Return how much and by when, to follow a label: ``: 2 kg, start by 15 March``; empty where neither is known."""
    words = f": {advice.amount}" if advice.amount else ""
    if advice.by is not None:
        late = (advice.by - plan.date).days
        if late < 0:
            words += f", now (it was due by {say_date(advice.by, plan.date)})"
        else:
            words += ", today" if late == 0 else f", start by {say_date(advice.by, plan.date)}"
    return words


def only_on(bounds: dict | None) -> str:
    """Return the day an advice needs as a sentence; empty where nothing is open."""
    if not bounds:
        return ""
    said = []
    words = {
        "high_c_min": ("{} or warmer", "degC"),
        "high_c_max": ("not above {}", "degC"),
        "wind_kmh_max": ("wind under {}", "km/h"),
        "mean_c_min": ("a mean of {} or more", "degC"),
        "mean_c_max": ("a mean of at most {}", "degC"),
        "low_c_min": ("no night under {}", "degC"),
        "low_c_max": ("nights at or under {}", "degC"),
        "wind_kmh_min": ("wind of {} or more", "km/h"),
    }
    for key, number in bounds.items():
        if key == "dry":
            said.insert(0, "a dry day")
        else:
            template, unit = words[key]
            said.append(template.format(quantity(number, unit)))
    return "Needs: " + ", ".join(said) + "."


def rests_on(advice: Advice, vocabulary, plan: WeekPlan) -> str:
    """Return what an advice rests on, told apart as seen, given, worked out, estimated or usual here; at most four facts."""
    kinds: dict[str, list[str]] = {}
    most = EVIDENCE
    for item in advice.evidence:
        name = item.fact
        fact = vocabulary.facts.get(name) or vocabulary.facts.get(name.partition(".")[2])
        if fact is None or fact.scope == "calendar" or fact.id.endswith(("_low", "_high")) or not most:
            continue
        most -= 1
        role = f"{name.partition('.')[0]} hive: " if name != fact.id else ""
        text = f"{role}{_named_value(fact, item.value, item.low, item.high)}"
        kinds.setdefault(_kind(item.origin, plan), []).append(text)
    return " ".join(f"{kind}: {', '.join(said)}." for kind, said in kinds.items())


def _kind(origin: str | None, plan: WeekPlan) -> str:
    words = upper_first(origin_words(origin))
    try:
        head, _, last = words.rpartition(" ")
        return f"{head} {say_date(dt.date.fromisoformat(last), plan.date)}"
    except ValueError:
        return words


def _named_value(fact, value, low, high) -> str:
    """A fact's label with its value; the unit is left out where the label says it."""
    name = fact.label or fact.id
    shown = shown_value(fact, value, low, high)
    if isinstance(value, bool):
        return f"{name}: {shown}"
    many = UNITS.get(fact.unit or "", ("", "", 0, ()))[1]
    if many and many.split()[0] in name.split():
        shown = shown.replace(f" {many}", "").replace(f" {UNITS[fact.unit][0]}", "")
    return f"{name} {shown}" if fact.kind in ("number", "integer", "date") else f"{name}: {shown}"


def shown_value(fact, value, low=None, high=None) -> str:
    """Return a plain value of a fact in words, with its likely range where it has one."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        text = quantity(value, fact.unit)
        if low is not None and high is not None and low < high:
            text += f", {quantity(low, fact.unit, bare=True)} to {quantity(high, fact.unit, bare=True)} likely"
        return text
    return plain(str(value))


def rest(vocabulary, advice: list[Advice], plan: WeekPlan) -> list[str]:
    """Return the jobs beyond those with a card, as at most two lines: what is due within the week, and what can wait."""
    soon, later = [], []
    for one in advice:
        if vocabulary.actions[one.action].leaves_closed:
            continue
        name = vocabulary.actions[one.action].label
        amount = f": {one.amount}" if one.amount else ""
        left = None if one.by is None else (one.by - plan.date).days
        if one.band == 0 or (left is not None and left < 7):
            when_ = "today" if left is None or left <= 0 else f"by {say_date(one.by, plan.date)}"
            soon.append(f"{name}{amount} ({when_})")
        else:
            until = "no date presses" if left is None else f"until {say_date(one.by, plan.date)}"
            later.append(f"{name}{amount} ({until})")
    lines = []
    if soon:
        lines.append("Also this week: " + "; ".join(soon) + ".")
    if later:
        lines.append("Can wait: " + "; ".join(later) + ".")
    return lines


def held_words(held) -> str:
    """Return what stands before a job that is not given: it waits, or it is not for this week."""
    return "Waits" if held.waits else "Not this week"


def first_words(item: dict, plan: WeekPlan) -> str:
    """Return what one of the first jobs counts for: its points, or that law or people ask for it."""
    for hive in plan.hives:
        if hive.id == item["hive"] and any(a.action == item["action"] and a.band == 0 for a in hive.advice):
            return "law or people"
    return quantity(item["points"], "points") if item["points"] >= 0.5 else ""


def nothing_first(plan: WeekPlan) -> str:
    """Return what is said where no job stands first in the yard."""
    if any(held.waits for hive in plan.hives for held in hive.withheld):
        return "What presses waits for something else first; see the hives."
    return "Nothing presses this week."


OPTION_WORDS = {True: "Fits this week, if registered with you", None: "Not known", False: "Not this week"}


def option_lines(options: list[dict], told: dict, where: str) -> list[tuple[str, list[str]]]:
    """Return the treatments as (line, lines of detail), those that fit first.

    Parameters
    ----------
    options : list of dict
        As the plan gives them.
    told : dict
        Details said already, by (active, form): where. Filled; what was said at another hive is referred to, not repeated.
    where : str
        Name of this hive, for later ones.
    """
    lines = []
    for allowed, words in OPTION_WORDS.items():
        barred = []
        if allowed is not False and any(option["allowed"] is allowed for option in options):
            lines.append((f"{words}:", []))
        for option in options:
            if option["allowed"] is not allowed:
                continue
            name = plain(option["active"])
            several = len(option["forms"]) > 1
            if allowed is False:
                why = " ".join(
                    f"{form['form']}: {_bare(form['because']).rstrip('.')};" if several else _bare(form["because"])
                    for form in option["forms"]
                )
                barred.append(f"{name} ({why.rstrip('.;')})")
                continue
            said, details = [], []
            for form in option["forms"]:
                because = _bare(form["because"]) if form["allowed"] is not True else form["because"]
                lead = f"{upper_first(form['form'])}: " if several else ""
                if form["allowed"] is False:
                    said.append(f"{lead}not this week, {because}")
                    continue
                key = (option["active"], form["form"], form["allowed"], form["because"])
                if key in told and told[key] != where:
                    said.append(f"{lead}as under {told[key]}; read it there.")
                    continue
                told[key] = where
                said.append(f"{lead}{because}")
                pieces = [("Course", "course"), ("Honey", "honey"), ("Wear and mind", "care")]
                details.append(" ".join(sentence(f"{title}: {form[key_]}") for title, key_ in pieces if form[key_]))
            lines.append((f"- {name}: {' '.join(said)}", [d for d in details if d]))
        if barred:
            lines.append((f"{words}: " + "; ".join(barred) + ".", []))
    return lines


def _bare(because: str) -> str:
    return because.replace("Not now: ", "").replace(
        "Not known here, and it decides", "it depends on what is not known here"
    )

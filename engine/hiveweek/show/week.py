"""The week on a terminal: what to do first in the yard, then a short card for each hive."""

from __future__ import annotations

import datetime as dt

from hiveweek.plan.model import Advice, HivePlan, WeekPlan
from hiveweek.plan.why import origin_words
from hiveweek.plan.words import UNITS, plain, quantity
from hiveweek.plan.words import date as say_date
from hiveweek.show.text import Page, day, joined, sentence, upper_first

JOBS = 3  # jobs a hive on screen; the rest waits
LOOKS = 3
LOOK_POINTS = 0.5  # smaller looks stand in the JSON only
EVIDENCE = 4

BASIS = {"forecast": "from the forecast", "observed": "measured nearby", "normals": "what is usual here, no forecast"}


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


class Common:
    """What holds for several jobs alike and is said once: the day for opening, and what to check first."""

    KEYS = ("wind_kmh_max", "dry")

    def __init__(self, plan: WeekPlan, vocabulary):
        self.vocabulary = vocabulary
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
                lines.append(_only_on(self.days[opens]).replace("Needs", names[opens], 1))
        return lines + [f"First check: {check}" for check in self._order]


def _label(vocabulary, action: str) -> str:
    return upper_first(vocabulary.actions[action].label or plain(action.replace("-", " ")))


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
            said.append(f"{words} about {quantity(value['value'], 'degC')} ({quantity(value['low'], None, bare=True)} to "
                        f"{quantity(value['high'], 'degC')} likely)")
        elif value is not None:
            said.append(f"{words} {quantity(value, 'degC')}")
    if said:
        basis = "as you gave it" if weather.get("given") else BASIS.get(weather.get("basis"), "")
        page.say(f"Weather: {', '.join(said)}{'; ' + basis if basis else ''}.", indent=2, hang=2)
    if plan.best_day:
        page.say(f"Best day for opening: {day(plan.best_day, plan.date)}.", indent=2, hang=2)
    if weather.get("rain_all_week") is True or weather.get("dry_days") == 0:
        _rain(page, plan, vocabulary)
    for note in () if weather.get("given") else weather.get("notes", ()):
        page.say(sentence(note), indent=2, hang=2)
    for text in common.said():
        page.say(text, indent=2, hang=2)
    page.line()


def _rain(page: Page, plan: WeekPlan, vocabulary) -> None:
    actions = vocabulary.actions
    outside, opening = [], []
    for hive in plan.hives:
        for advice in hive.advice:
            target = outside if actions[advice.action].opens == "nothing" else opening
            if advice.action != "leave-closed":
                target.append((advice.key(hive.id), f"{actions[advice.action].label} ({hive.id})"))
    page.say("Rain is expected on every day of this week.", indent=2, hang=2)
    if outside:
        page.say("In the rain you can: " + joined(_unique(outside)) + ".", indent=4, hang=2)
    if opening:
        page.say("One dry hour is for: " + joined(_unique(opening)) + ".", indent=4, hang=2)
    last = plan.weather.get("last_good_day")
    page.say(f"Last good day of the week: {day(last, plan.date)}." if last else
             "No day of the week is known to be dry and warm; wait for the next gap.", indent=4, hang=2)


def _unique(pairs, most: int = 3) -> list[str]:
    return list(dict.fromkeys(words for _, words in sorted(pairs)))[:most]


def _first(page: Page, plan: WeekPlan, vocabulary) -> None:
    if len(plan.hives) < 2 and not plan.yard:
        return
    page.say("First in this yard", style="bold")
    if not plan.first:
        page.say("Nothing presses this week.", indent=2)
    for number, item in enumerate(plan.first, 1):
        points = f" ({quantity(item['points'], 'points')})" if item["points"] >= 0.5 else ""
        page.say(f"{number}. {item['hive']}: {vocabulary.actions[item['action']].label}{points}", indent=2, hang=3)
    page.line()


def _yard(page: Page, yard: list, plan: WeekPlan, vocabulary, common: Common) -> None:
    if not yard:
        return
    page.say("For the whole yard", style="bold")
    for advice, ids in yard:
        everywhere = len(ids) == len(plan.hives)
        page.say(f"{_label(vocabulary, advice.action)}{_when(advice, plan)}", indent=2, hang=3, style="bold")
        _reasons(page, advice, vocabulary, plan, 5, common)
        if not everywhere:
            page.say(f"Asked for at: {', '.join(ids)}.", indent=5, hang=2)
    page.line()


def _when(advice: Advice, plan: WeekPlan) -> str:
    words = f": {advice.amount}" if advice.amount else ""
    if advice.by is not None:
        late = (advice.by - plan.date).days
        if late < 0:
            words += f", now (it was due by {say_date(advice.by, plan.date)})"
        else:
            words += ", today" if late == 0 else f", start by {say_date(advice.by, plan.date)}"
    return words


def _only_on(bounds: dict | None) -> str:
    if not bounds:
        return ""
    said = []
    words = {"high_c_min": ("{} or warmer", "degC"), "high_c_max": ("not above {}", "degC"), "wind_kmh_max": ("wind under {}", "km/h"),
             "mean_c_min": ("a mean of {} or more", "degC"), "mean_c_max": ("a mean of at most {}", "degC"),
             "low_c_min": ("no night under {}", "degC"), "low_c_max": ("nights at or under {}", "degC"),
             "wind_kmh_min": ("wind of {} or more", "km/h")}
    for key, number in bounds.items():
        if key == "dry":
            said.insert(0, "a dry day")
        else:
            template, unit = words[key]
            said.append(template.format(quantity(number, unit)))
    return "Needs: " + ", ".join(said) + "."


def _reasons(page: Page, advice: Advice, vocabulary, plan: WeekPlan, indent: int, common: Common) -> None:
    page.say("Because: " + sentence(advice.because), indent=indent, hang=2)
    if advice.partner:
        page.say(f"Together with hive {advice.partner}.", indent=indent, hang=2)
    only = _only_on(common.left(advice))
    if only:
        page.say(only, indent=indent, hang=2)
    _options(page, advice, indent)
    warning = advice.warning(common.checks)
    if warning:
        page.say("Take care: " + sentence(warning), indent=indent, hang=2)
    rests = _rests_on(advice, vocabulary, plan)
    if rests:
        page.say(rests, indent=indent, hang=2, style="dim")
    if advice.facts and advice.origin == "look":
        names = [vocabulary.facts[f].label or f for f in advice.facts]
        page.say("Look for: " + joined(names[:4]) + (f" and {len(names) - 4} more" if len(names) > 4 else "") + ".", indent=indent,
                 hang=2)
    if advice.unverified:
        page.say("The two ways of working this out differ here; check it yourself before acting.", indent=indent, hang=2)


def _options(page: Page, advice: Advice, indent: int) -> None:
    for allowed, title in ((True, "Can be used"), (None, "Perhaps"), (False, "Not now")):
        for option in advice.options:
            if option["allowed"] is allowed:
                because = option["because"].replace("Not now: ", "") if allowed is False else option["because"]
                page.say(f"{title}: {plain(option['active'])}. {upper_first(sentence(because))}", indent=indent + 2, hang=2)


def _rests_on(advice: Advice, vocabulary, plan: WeekPlan) -> str:
    """What an advice rests on, told apart: seen, given, estimated, usual here."""
    kinds: dict[str, list[str]] = {}
    most = EVIDENCE
    for item in advice.evidence:
        name = item.fact
        fact = vocabulary.facts.get(name) or vocabulary.facts.get(name.partition(".")[2])
        if fact is None or fact.id.startswith(("season.", "climate.")) or fact.id.endswith(("_low", "_high")) or not most:
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
    label = fact.label or fact.id
    shown = _shown(fact, value, low, high)
    if isinstance(value, bool):
        return f"{label}: {shown}"
    many = UNITS.get(fact.unit or "", ("", "", 0, ()))[1]
    if many and many.split()[0] in label.split():
        shown = shown.replace(f" {many}", "").replace(f" {UNITS[fact.unit][0]}", "")
    return f"{label} {shown}"


def _shown(fact, value, low=None, high=None) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        text = quantity(value, fact.unit)
        if low is not None and high is not None and low < high:
            text += f", {quantity(low, fact.unit, bare=True)} to {quantity(high, fact.unit, bare=True)} likely"
        return text
    return plain(str(value))


def _hive(page: Page, hive: HivePlan, plan: WeekPlan, vocabulary, shown_once: set[str], common: Common) -> None:
    page.say(f"Hive {hive.id}" + (" (no living colony)" if hive.alive is False else ""), style="bold")
    jobs = [a for a in hive.advice if a.action not in shown_once]
    for number, advice in enumerate(jobs[:JOBS], 1):
        page.say(f"{number}. {_label(vocabulary, advice.action)}{_when(advice, plan)}", indent=2, hang=3, style="bold")
        _reasons(page, advice, vocabulary, plan, 5, common)
    rest = jobs[JOBS:]
    if rest:
        page.say("Can wait: " + "; ".join(_waits(vocabulary, a, plan) for a in rest) + ".", indent=2, hang=2)
    if len(jobs) < len(hive.advice):
        names = [vocabulary.actions[a.action].label for a in hive.advice if a.action in shown_once]
        page.say("And for the whole yard: " + joined(names) + ".", indent=2, hang=2)
    looks = [look for look in hive.look_first if look.points >= LOOK_POINTS][:LOOKS]
    if looks:
        page.say("Worth a look when you are there:", indent=2)
        for look in looks:
            page.say(f"- {vocabulary.actions[look.action].label}. {sentence(look.how)}", indent=4, hang=2)
    for held in hive.withheld:
        page.say(f"Not this week: {vocabulary.actions[held.action].label}. {sentence(held.because)}", indent=2, hang=2)
    if hive.nothing_due:
        page.say(sentence(hive.nothing_due["because"]), indent=2, hang=2)
        coming = hive.nothing_due["next"]
        if coming:
            page.say(f"Next: about {say_date(coming['date'], plan.date)}, {sentence(coming['what'])}", indent=2, hang=2)
    page.line()


def _waits(vocabulary, advice: Advice, plan: WeekPlan) -> str:
    label = vocabulary.actions[advice.action].label
    if advice.by is None:
        return f"{label} (no date presses)"
    return f"{label} (until {say_date(advice.by, plan.date)})" if advice.by > plan.date else f"{label} (due now)"


def _facts(page: Page, hive: HivePlan, vocabulary) -> None:
    page.say(f"What is known of hive {hive.id}", style="bold")
    for fact_id, known in hive.facts.items():
        fact = vocabulary.facts[fact_id]
        page.say(f"{fact_id}: {_shown(fact, known['value'], known['low'], known['high'])} ({origin_words(known['origin'])})",
                 indent=2, hang=4)
    if hive.unknown:
        page.say("Not known: " + ", ".join(hive.unknown) + ".", indent=2, hang=4)
    page.line()


def _visits(page: Page, plan: WeekPlan, vocabulary) -> None:
    if not plan.visits:
        return
    titles = {"at_home": "From home", "outside": "Outside the hives", "opening": "Opening hives"}
    page.say("Your visits", style="bold")
    for visit in plan.visits:
        when = f", {day(visit['day'], plan.date)}" if visit["day"] else ", the first fit day"
        minutes = f", about {visit['minutes']} minutes" if visit["minutes"] else ""
        page.say(f"{titles[visit['what']]}{when}{minutes}: " + "; ".join(
            f"{stop['hive']} {', '.join(vocabulary.actions[a].label for a in stop['actions'])}" for stop in visit["hives"]) + ".",
            indent=2, hang=4)
        if visit["kit"]:
            page.say("Take: " + ", ".join(vocabulary.kit.get(item, plain(item)) for item in visit["kit"]) + ".", indent=4, hang=2)
    page.line()

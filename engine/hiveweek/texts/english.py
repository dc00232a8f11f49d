"""All English of the program that is no content: units, plurals, what stands around a number, and every message by its id.

A Python module and no YAML, since it is read at each start. A further language is a module of the same names. Places in
braces are filled by the caller; a number that is filled in brings its own unit, so a message never inflects.
"""

from __future__ import annotations

import re

LOCALE = "en_GB"
STOP, ENDS = ".", (".", "?", ":")

# (weekday wanted, year wanted) -> CLDR pattern
DAY = {
    (False, False): "d MMMM",
    (False, True): "d MMMM y",
    (True, False): "EEEE d MMMM",
    (True, True): "EEEE d MMMM y",
}

# unit -> its words by plural category; a unit that is not here is said by its own name
UNITS = {
    "count": {"other": ""},
    "degC": {"other": "°C"},
    "kg/week": {"other": "kg a week"},
    "days": {"one": "day", "other": "days"},
    "weeks": {"one": "week", "other": "weeks"},
    "years": {"one": "year", "other": "years"},
    "frames": {"one": "frame", "other": "frames"},
    "bees": {"one": "bee", "other": "bees"},
    "mites": {"one": "mite", "other": "mites"},
    "mites/day": {"one": "mite a day", "other": "mites a day"},
    "mites/100 bees": {"other": "mites per 100 bees"},
    "percent": {"other": "%"},
    "ratio": {"other": ""},
    "points": {"one": "point", "other": "points"},
    "litres": {"other": "L"},
    "dm2": {"other": "dm²"},
    "minutes": {"one": "minute", "other": "minutes"},
    "hives": {"one": "hive", "other": "hives"},
    "degF": {"other": "°F"},
    "lb/week": {"other": "lb a week"},
}

# --- the grammar of texts written in English ----------------------------------------------------------------------------
# unit -> words that may follow a place in a text and then stand for the unit
STANDS_FOR = {
    "degC": ("°C", "degC", "degrees", "C"),
    "kg": ("kg", "kilograms", "kilogram", "kilos", "kilo"),
    "kg/week": ("kg",),
    "days": ("days", "day"),
    "weeks": ("weeks", "week"),
    "years": ("years", "year"),
    "frames": ("frames", "frame", "seams", "combs", "brood frames", "full frames"),
    "bees": ("bees", "more bees"),
    "mites": ("mites", "mite"),
    "mites/day": ("mites", "mite", "a day", "per day"),
    "mites/100 bees": ("mites", "per 100", "in 100", "per hundred"),
    "percent": ("%", "percent", "per cent"),
    "ratio": ("times",),
    "points": ("points", "point"),
    "L": ("L", "litres", "litre", "liters"),
    "litres": ("L", "litres", "litre"),
    "km/h": ("km/h", "kilometres"),
    "dm2": ("dm2", "dm²"),
    "m": ("m", "metres"),
    "minutes": ("minutes", "minute"),
    "hives": ("hives", "hive"),
}
SINGULAR = {
    "boxes": "box",
    **{
        f"{noun}s": noun
        for noun in (
            "bee",
            "cell",
            "comb",
            "course",
            "day",
            "frame",
            "hive",
            "hour",
            "litre",
            "minute",
            "mite",
            "point",
            "queen",
            "seam",
            "super",
            "week",
            "year",
        )
    },
}
_FOLLOWING = sorted({*SINGULAR, *(words for many in STANDS_FOR.values() for words in many)}, key=len, reverse=True)
TAIL = re.compile(r"\s*(?:" + "|".join(map(re.escape, _FOLLOWING)) + r")(?![A-Za-z])")
BEFORE_TIME = re.compile(r"\b(?P<words>in about|on or about|about|in) $")
AFTER_TIME = re.compile(r" (?P<words>away|off)\b")


def after(tail: str, category: str) -> str:
    """Return the words of a text that follow a number, with their last word in the singular after one."""
    if category != "one":
        return tail
    head, space, last = tail.rpartition(" ")
    return head + space + SINGULAR.get(last, last)


def now(before: str, after: str) -> str:
    """Return what stands for a time of nought with the words around it; empty where these give no other words."""
    if before == "on or about" and after:
        return "on"
    return "now" if after or before.startswith("in") else ""


def none_ahead(before: str, said: str, after: str) -> str:
    """Return that an event does not come, with the words around it."""
    before = before.removesuffix("about").rstrip()
    return f"{before + ' ' if before else ''}{said}{after}"


# --- messages -----------------------------------------------------------------------------------------------------------
MESSAGES = {
    # grammar
    "here": "this hive",
    "here.named": "hive {hive}",
    "range": "{low} to {high}",
    "likely": "{value}, {range} likely",
    "range.to": "to",
    "range.and": "and",
    "none-ahead": "none ahead here",
    "chance.hardly": "hardly any chance",
    "chance.hundredths": "about {n} in 100",
    "chance.tenths": "about {n} in 10",
    "chance.most": "more than 9 in 10",
    "not-known": "not known",
    "yes": "yes",
    "no": "no",
    "labelled": "{label}: {words}",
    "sentences": "{first} {second}",
    "more-of-them": "{n} more",
    "first-check": "First check: {checks}",
    # where a value comes from
    "origin.none": "as known",
    "origin.computed": "worked out",
    "origin.set": "given",
    "origin.seen": "seen {of}",
    "origin.carried": "estimated, carried forward from {of}",
    "origin.implied": "follows from {of}",
    # what the plan says
    "plan.suspect": "This hive is under suspicion, so it is opened only for what the suspicion asks; the rest waits until it is cleared.",
    "plan.held-facts": "Held back until this is known: {facts}.",
    "plan.held-because": "Held back until it is known: {because}",
    "plan.due-waits": "{because} It is due, and it waits: {waits}",
    "plan.no-option": "No treatment on the list can be used here this week: {options}",
    "plan.plan-treatment": "Treatment is due, and none can be used this week. Set the date and get the product. {because}",
    "plan.instead": "In place of '{label}'. {because}",
    "plan.clash": "Not together with '{label}', which counts for more here this week. {because}",
    "plan.look": "On what you see ({facts}) hangs whether to {actions}. The chance that it comes to that: {chance}.",
    "plan.look-how": "{label}: {how}.",
    "plan.look-label": "{label}.",
    "option.not-listed": "Not on the list seen for {place}; check the current rule there.",
    "option.this-place": "this place",
    "option.not-now": "Not now: {because}",
    "option.not-known": "Not known here, and it decides: {facts}",
    "option.depends": "it depends on what is not known here: {facts}",
    "option.see-label": "see the label of the product",
    "option.nothing-bars": "Nothing known here bars it",
    "option.course": "Course: {words}",
    "option.honey": "Honey: {words}",
    "option.care": "Wear and mind: {words}",
    "quiet.nothing-worth": "Nothing here is worth opening it for this week.",
    "quiet.waits": "What would open it ({label}) waits for now; the reason stands with it.",
    "quiet.nothing-else-worth": "{trouble} Nothing else known here is worth opening it for this week.",
    "quiet.best-day": " The best day of the week reaches {high}.",
    "quiet.closed": "{because}{weather} Every opening costs the cluster warmth and honey.",
    "quiet.dead": "This hive stands without a living colony, and nothing is open about it.",
    "quiet.due-waits": "Something is due here ({label}), and it waits: the reason and what comes first stand with it.",
    "quiet.held": "What would be due here ({label}) is held back this week; the reason stands with it.",
    "quiet.beyond": "{trouble} Beyond that, nothing known here asks for work this week.",
    "quiet.unknown": "Nothing is known of this hive yet. Begin with a heft, and note the bees you see between the frames when you next open it.",
    "quiet.asks-nothing": "Nothing known here asks for work this week.",
    "quiet.in-order": "What is known of this hive is in order, and nothing is due this week.",
    # why a rule fires or not
    "why.all": "all of",
    "why.any": "any of",
    "why.not": "not",
    "why.unless": "unless",
    "why.rule": "rule {rule}",
    "why.limit": "limit {value} ({layer}; {sources})",
    "why.no-source": "no source",
    "why.value": "{label}: {value} ({origin})",
    "why.holds": "holds",
    "why.does-not-hold": "does not hold",
    "why.not-known": "not known",
    "why.holds-in-doubt": "holds in doubt",
    "why.does-not-hold-in-doubt": "does not hold, in doubt",
    "why.no-partner": "no partner hive fits",
    "why.each-pair": "asked for each pair of hives",
    "why.head": "{rule} at hive {hive}: {answer}",
    "why.about": "{gives}; layer {layer}; written at {place}",
    "why.gives": "gives: {gives}",
    "why.advises": "advises: {label} ({action})",
    "why.prohibition": "a prohibition, effect: {effect}",
    "why.partner": "together with hive {hive}",
    "why.because-if": "Because, where it holds: {because}",
    "why.sources": "Sources: {sources}",
    "why.marks": "+ holds, - does not hold, ? not known, ~ in doubt",
    # the week: its head
    "week.title": "{name}: week of {day}",
    "week.your-hives": "Your hives",
    "week.climate": "Climate: {climate}.",
    "week.climate-phase": "Climate: {climate}, {phase}.",
    "week.warmest": "warmest day {temperature}",
    "week.coldest": "coldest night {temperature}",
    "week.about": "about {value} ({range} likely)",
    "week.weather": "Weather: {said}.",
    "week.weather-basis": "Weather: {said}; {basis}.",
    "basis.given": "as you gave it",
    "basis.forecast": "from the forecast",
    "basis.observed": "measured nearby",
    "basis.normals": "what is usual here, no forecast",
    "week.best-day": "Best day for opening: {day}.",
    "week.note": "Note: {note}",
    "week.label-wins": "The label of your registered product and local law win over anything written here.",
    "rain.days": "Rain is expected on {n} of the 7 days of this week.",
    "rain.every-day": "Rain is expected on every day of this week.",
    "rain.outside": "In the rain you can: {jobs}.",
    "rain.dry-hour": "One dry hour is for: {jobs}.",
    "rain.hunger": "Hunger does not wait for it, in rain hold a coat over the hive: {jobs}.",
    "rain.last-day": "Last good day of the week: {day}.",
    "rain.no-day": "No day of the week is known to be dry and warm; wait for the next gap.",
    "job-at": "{label} ({hive})",
    # what is first, and the whole yard
    "first.head": "First in this yard",
    "first.item": "{n}. {hive}: {label}",
    "first.item-worth": "{n}. {hive}: {label} ({worth})",
    "first.law": "law or people",
    "first.waits": "What presses waits for something else first; see the hives.",
    "first.nothing": "Nothing presses this week.",
    "yard.head": "For the whole yard",
    "yard.asked-at": "Asked for at: {hives}.",
    # one job
    "because": "Because: {because}",
    "with-hive": "Together with hive {hive}.",
    "take-care": "Take care: {care}",
    "unverified": "The two ways of working this out differ here; check it yourself before acting.",
    "look-for": "Look for: {facts}.",
    "look-for.more": "Look for: {facts} and {n} more.",
    "when.amount": ": {amount}",
    "when.late": ", now (it was due by {day})",
    "when.today": ", today",
    "when.by": ", start by {day}",
    "needs": "Needs: {needs}.",
    "needs.frames": "To take frames out: {needs}.",
    "needs.lid": "To lift a lid: {needs}.",
    "needs.dry": "a dry day",
    "needs.high_c_min": "{value} or warmer",
    "needs.high_c_max": "not above {value}",
    "needs.wind_kmh_max": "wind under {value}",
    "needs.wind_kmh_min": "wind of {value} or more",
    "needs.mean_c_min": "a mean of {value} or more",
    "needs.mean_c_max": "a mean of at most {value}",
    "needs.low_c_min": "no night under {value}",
    "needs.low_c_max": "nights at or under {value}",
    "rests.kind": "{kind}: {said}.",
    "rests.role": "{role} hive: {said}",
    "rests.number": "{label} {words}",
    "job.why": "Why",
    "job.points": "{points}: gain {gain} x urgency {urgency} x certainty {certainty}; rule {rule}.",
    "job.source": "{id}: {cite}",
    # treatments
    "option.fits": "Fits this week, if registered with you",
    "option.unknown": "Not known",
    "option.barred": "Not this week",
    "option.head": "{word}:",
    "option.line": "{word}: {options}.",
    "option.item": "- {active}: {said}",
    "option.why": "{active} ({why})",
    "option.not-this-week": "not this week, {because}",
    "option.as-under": "as under {where}; read it there.",
    # one hive
    "hive": "hive {hive}",
    "hive.head": "Hive {hive}",
    "hive.head-dead": "Hive {hive} (no living colony)",
    "hive.job": "{n}. {job}",
    "hive.yard": "And for the whole yard: {jobs}.",
    "hive.looks": "Worth a look when you are there:",
    "hive.look": "- {label}. {how}",
    "hive.facts": "What is known of hive {hive}",
    "hive.facts-here": "What is known",
    "hive.fact": "{fact}: {value} ({origin})",
    "hive.unknown": "Not known: {facts}.",
    "rest.soon": "Also this week: {jobs}.",
    "rest.later": "Can wait: {jobs}.",
    "rest.amount": "{label}: {amount}",
    "rest.today": "{job} (today)",
    "rest.by": "{job} (by {day})",
    "rest.until": "{job} (until {day})",
    "rest.no-date": "{job} (no date presses)",
    "held.waits": "Waits: {label}. {because}",
    "held.not-this-week": "Not this week: {label}. {because}",
    "nothing.next": "Next: about {day}, {what}",
    # visits
    "visits.head": "Your visits",
    "visit.at_home": "From home",
    "visit.outside": "Outside the hives",
    "visit.opening": "Opening hives",
    "visit.feeds": "{visit}, and feeding from above",
    "visit.first-fit-day": "the first fit day",
    "visit.on": "{visit}, {day}",
    "visit.minutes": "{visit}, {day}, about {minutes}",
    "visit.stop": "{hive} {jobs}",
    "visit.yard": "the whole yard: {jobs}",
    "visit.line": "{visit}: {stops}.",
    "visit.take": "Take: {kit}.",
}

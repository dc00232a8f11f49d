"""Climate profiles on a terminal: the list, the year of one place, two places side by side."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
from rich.text import Text

from hiveweek.climate import compare as comparing
from hiveweek.climate.compare import day_of_year
from hiveweek.show.text import WIDTH, Page

WEEKS = 52
LABEL = 14
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

# phase: (letter in the strip, words, colour on a terminal)
PHASES = {
    "winter_cluster": ("W", "winter cluster", "bright_blue"),
    "late_winter": ("L", "late winter", "cyan"),
    "early_build_up": ("E", "early build-up", "bright_green"),
    "build_up": ("B", "build-up", "green"),
    "swarm_season": ("S", "swarm season", "magenta"),
    "main_flow": ("F", "main flow", "yellow"),
    "dearth": ("D", "dearth", "red"),
    "late_summer": ("T", "late summer", "bright_yellow"),
    "autumn": ("A", "autumn", "bright_red"),
    "early_winter": ("N", "early winter", "blue"),
    "mild_winter": ("M", "mild winter", "bright_cyan"),
}
WINDOWS = {
    "cold": ("Cold", "clustering weather"),
    "broodless": ("No brood", "a brood pause is usual"),
    "swarming": ("Swarming", "swarms are usual"),
    "flow": ("Flow", "nectar is usual"),
    "dearth": ("Dearth", "little to be had between flows"),
    "winter_bees": ("Winter bees", "bees that must live long are reared"),
    "syrup": ("Syrup", "bees can still take it and ripen it"),
}
EVENTS = {
    "first_pollen": "First pollen",
    "end_of_cluster": "Clustering ends",
    "first_full_inspection": "First full inspection",
    "spring_build_up_start": "Build-up starts",
    "swarm_season_start": "Swarming starts",
    "swarm_season_end": "Swarming ends",
    "main_flow_start": "Main flow starts",
    "main_flow_end": "Main flow ends",
    "second_flow_start": "Second flow starts",
    "second_flow_end": "Second flow ends",
    "summer_dearth": "Summer dearth",
    "late_summer_mite_treatment": "Mites: treat",
    "winter_bee_rearing": "Winter bees reared",
    "stop_syrup_by": "Last syrup",
    "mouse_guards_on": "Mouse guards on",
    "winter_wrap_on": "Wraps on",
    "broodless_start": "Brood pause starts",
    "broodless_end": "Brood pause ends",
    "unwrap": "Wraps off, if on",
}
TRAITS = {
    "climate.winter_weeks": ("Clustering weather", "weeks"),
    "climate.snow_weeks": ("Snow on the ground", "weeks"),
    "climate.coldest_month_c": ("Coldest month", "°C"),
    "climate.warmest_month_c": ("Warmest month", "°C"),
    "climate.winter_rh_pct": ("Winter dampness", "%"),
    "climate.degree_days": ("Warmth over 10 °C", "°C days"),
    "climate.koppen": ("Climate class", ""),
}


def date_words(month_day: str) -> str:
    """Return ``MM-DD`` as `` 3 Mar``, six characters wide."""
    month, day = month_day.split("-")
    return f"{int(day):2d} {MONTHS[int(month) - 1]}"


def span_words(span) -> str:
    """Return ``(from, to)`` as words, or that the climate lacks it."""
    if span is None:
        return "none here"
    return date_words(span[0]) if span[0] == span[1] else f"{date_words(span[0])} to {date_words(span[1])}"


def place_words(source: dict) -> str:
    """Return the station, its place and the years of its normals."""
    words = [
        str(source.get("station") or "station not named") + (f" ({source['country']})" if source.get("country") else "")
    ]
    lat, lon = source["lat"], source["lon"]
    words.append(f"{abs(lat):.2f} {'N' if lat >= 0 else 'S'} {abs(lon):.2f} {'E' if lon >= 0 else 'W'}")
    words.append(f"{source['elev_m']:g} m")
    if source.get("period"):
        words.append(str(source["period"]))
    return ", ".join(words)


def show_list(profiles, page: Page) -> None:
    """Print the profiles, two lines each where needed."""
    wide = max(len(profile.id) for profile in profiles) + 2
    for profile in profiles:
        _entry(profile, wide, page)
    page.line()
    page.say("hiveweek climate show NAME prints the year of one; climate build makes one for your own place.")


def _entry(profile, wide: int, page: Page) -> None:
    source = profile.source
    page.line(f"{profile.id:<{wide}}{profile.stands_for or source.get('station', '')}")
    station = str(source.get("station") or "") + (f" ({source['country']})" if source.get("country") else "")
    page.line(f"{'':<{wide}}{station}, {profile.koppen}", style="dim")


def show_profile(profile, page: Page) -> None:
    """Print the year of one profile at 80 columns; the strips have a column a week."""
    page.line(f"{profile.id}: {profile.stands_for}" if profile.stands_for else profile.id, style="bold")
    page.say(place_words(profile.source))
    page.line()
    _month_line(page)
    _phase_line(profile.calendar.phases, page)
    for name, (label, _) in WINDOWS.items():
        spans = profile.calendar.windows.get(name)
        if spans:
            page.line(f"{label:<{LABEL}}" + "".join("#" if inside else "." for inside in weeks_inside(spans)))
    page.line()
    _curve(profile.daily, page)
    _rain(profile.monthly, page)
    page.line()
    page.line("Phases", style="bold")
    for phase, start, end in profile.calendar.phases:
        letter, words, _ = PHASES[phase]
        page.line(f"  {letter}  {words:<16} {span_words((start, end))}")
    page.line()
    page.line("When, in a usual year", style="bold")
    page.say("A start or an end falls between its two dates in half of all years; years differ by weeks.", indent=2)
    for name, span in profile.calendar.events.items():
        page.line(f"  {EVENTS[name]:<22} {span_words(span)}")
    page.line()
    page.line("What kind of place", style="bold")
    for name, value in profile.traits().items():
        if name in TRAITS:
            page.line(f"  {TRAITS[name][0]:<22} {trait_words(name, value)}")
    if "climate.koppen" not in profile.traits():
        page.line(f"  {'Climate class':<22} {profile.koppen}")
    _closing(profile, page)


def _closing(profile, page: Page) -> None:
    page.line()
    odd = [note for note in profile.notes if "vapour pressure" in note]
    for note in profile.notes:
        if note not in odd:
            page.say(f"- {note}", hang=2)
    if odd:
        months = ", ".join(note.partition(":")[0] for note in odd)
        page.say(
            f"- The humidity reported for {months} does not fit the temperature; left out of the dampness figure.",
            hang=2,
        )
    words = [str(profile.source[key]) for key in ("kind", "attribution", "licence") if profile.source.get(key)]
    if words:
        page.say("Normals: " + "; ".join(words) + ".", style="dim", hang=2)


def trait_words(name: str, value) -> str:
    """Return a trait with its unit; ``not known`` where the normals do not tell."""
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return "not known"
    unit = TRAITS[name][1]
    if isinstance(value, str):
        return value
    decimals = 0 if unit in ("weeks", "%", "°C days") else 1
    said = f"{value:.{decimals}f}"
    return f"{said} {unit[:-1] if said == '1' and unit == 'weeks' else unit}".rstrip()


def weeks_inside(spans) -> list[bool]:
    """Return for each of the 52 weeks whether its middle day lies in one of the stretches of days."""
    inside = []
    for week in range(WEEKS):
        day = 7 * week + 4
        inside.append(
            any(
                (day - day_of_year(start)) % 365 <= (day_of_year(end) - day_of_year(start)) % 365
                for start, end in spans
            )
        )
    return inside


def _month_column(month: int) -> int:
    return LABEL + (dt.date(2023, month, 1).timetuple().tm_yday - 1) // 7


def _month_line(page: Page) -> None:
    line = [" "] * (LABEL + WEEKS + 1)
    for month, name in enumerate(MONTHS, start=1):
        start = _month_column(month)
        line[start : start + 3] = name
    page.line("".join(line).rstrip(), style="bold")


def _phase_line(phases, page: Page) -> None:
    strip = Text(f"{'Phase':<{LABEL}}")
    for week in range(WEEKS):
        day = 7 * week + 4
        for phase, start, end in phases:
            if (day - day_of_year(start)) % 365 <= (day_of_year(end) - day_of_year(start)) % 365:
                letter, _, colour = PHASES[phase]
                strip.append(letter, style=f"bold {colour}")
                break
    page.console.print(strip)


def _curve(daily, page: Page) -> None:
    """Usual daily low to high of each week as a bar, the mean as a ring in it."""
    days = np.clip(np.arange(WEEKS) * 7 + 3, 0, 364)
    low, mean, high = (np.asarray(curve)[days] for curve in (daily.tmin, daily.tmean, daily.tmax))
    step = 5 if high.max() - low.min() > 24 else 3
    rows = range(round(high.max() / step), round(low.min() / step) - 1, -1)
    for row in rows:
        cells = []
        for week in range(WEEKS):
            if round(mean[week] / step) == row:
                cells.append("o")
            elif round(low[week] / step) <= row <= round(high[week] / step):
                cells.append("|")
            else:
                cells.append("-" if row == 0 else " ")
        page.line(f"{row * step:>{LABEL - 4}} °C " + "".join(cells).rstrip())
    page.line(f"{'':<{LABEL}}o usual mean, | from the usual low to the usual high of a day", style="dim")


def _rain(monthly: dict, page: Page) -> None:
    rain = monthly.get("precip_mm")
    if rain is None or not np.isfinite(rain).any():
        return
    line = [" "] * (WIDTH + 4)
    line[:LABEL] = f"{'Rain, mm':<{LABEL}}"
    for month in range(1, 13):
        text = f"{rain[month - 1]:.0f}" if np.isfinite(rain[month - 1]) else "?"
        start = _month_column(month)
        line[start : start + len(text)] = text
    page.line("".join(line).rstrip())


def show_comparison(a, b, page: Page) -> None:
    """Print two profiles side by side."""

    def row(label, first, second, difference, style=""):
        page.line(f"{label:<22}{first:<23}{second:<23}{difference}".rstrip(), style=style)

    for profile in (a, b):
        page.say(f"{profile.id}: {profile.stands_for or 'no description'}. {place_words(profile.source)}.", hang=2)
    page.line()
    row("", a.id[:22], b.id[:22], "second is", style="bold")
    for trait in comparing.traits(a, b):
        if trait.name in TRAITS:
            first, second = trait_words(trait.name, trait.first), trait_words(trait.name, trait.second)
            difference = "" if trait.difference is None else "same"
            if trait.difference is not None and first != second:
                more = "more" if trait.difference > 0 else "less"
                if TRAITS[trait.name][1] == "°C":
                    more = "warmer" if trait.difference > 0 else "colder"
                difference = f"{trait_words(trait.name, abs(trait.difference)).split(' ')[0]} {more}"
            row(TRAITS[trait.name][0], first, second, difference)
    page.line()
    for event in comparing.events(a, b):
        row(EVENTS[event.name], span_words(event.first), span_words(event.second), _days_words(event))
    page.line()
    if comparing.opposite(a, b):
        page.say("The two lie in opposite hemispheres: half a year is taken off, so the days compare like seasons.")


def _days_words(event) -> str:
    if event.difference is None:
        return ""
    days = round(event.difference)
    if days == 0:
        return "same"
    return f"{abs(days)} d {'later' if days > 0 else 'earlier'}"

"""Climate profiles on a terminal: the list, the year of one place, two places side by side."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
from rich.text import Text as Strip

from hiveweek.climate import compare as comparing
from hiveweek.climate.compare import day_of_year
from hiveweek.show.text import WIDTH, Page
from hiveweek.texts.parts import MonthDay, Phrase, Quantity, Text, listed, message

WEEKS = 52
LABEL = 14

# phase: (letter in the strip, colour on a terminal)
PHASES = {
    "winter_cluster": ("W", "bright_blue"),
    "late_winter": ("L", "cyan"),
    "early_build_up": ("E", "bright_green"),
    "build_up": ("B", "green"),
    "swarm_season": ("S", "magenta"),
    "main_flow": ("F", "yellow"),
    "dearth": ("D", "red"),
    "late_summer": ("T", "bright_yellow"),
    "autumn": ("A", "bright_red"),
    "early_winter": ("N", "blue"),
    "mild_winter": ("M", "bright_cyan"),
}
WINDOWS = ("cold", "broodless", "swarming", "flow", "dearth", "winter_bees", "syrup")
# trait: (unit, digits after the point)
TRAITS = {
    "climate.winter_weeks": ("weeks", 0),
    "climate.snow_weeks": ("weeks", 0),
    "climate.coldest_month_c": ("degC", 1),
    "climate.warmest_month_c": ("degC", 1),
    "climate.winter_rh_pct": ("percent", 0),
    "climate.degree_days": ("degC days", 0),
    "climate.koppen": (None, 0),
}


def month_day(text: str) -> MonthDay:
    """Return ``MM-DD`` as a day of any year."""
    month, day = text.split("-")
    return MonthDay(int(month), int(day))


def span_words(span) -> Phrase:
    """Return ``(from, to)`` as a phrase, or that the climate lacks it."""
    if span is None:
        return message("climate.none-here")
    start, end = map(month_day, span)
    return start if start == end else message("climate.span", start=start, end=end)


def station_words(source: dict, unnamed: Phrase | str = "") -> Phrase | str:
    """Return the station with its country; ``unnamed`` where it has no name."""
    station, country = source.get("station") or unnamed, source.get("country")
    return message("climate.station-in", station=station, country=country) if country else station


def place_words(source: dict) -> Phrase:
    """Return the station, its place and the years of its normals."""
    lat, lon = source["lat"], source["lon"]
    words = [
        station_words(source, message("climate.no-station")),
        message(
            "climate.coordinates",
            lat=f"{abs(lat):.2f}",
            ns=message("climate.north" if lat >= 0 else "climate.south"),
            lon=f"{abs(lon):.2f}",
            ew=message("climate.east" if lon >= 0 else "climate.west"),
        ),
        f"{source['elev_m']:g} m",
    ]
    if source.get("period"):
        words.append(str(source["period"]))
    return listed(words, "comma")


def show_list(profiles, page: Page) -> None:
    """Print the profiles, two lines each where needed."""
    wide = max(len(profile.id) for profile in profiles) + 2
    for profile in profiles:
        _entry(profile, wide, page)
    page.line()
    page.say(message("climate.list-end"))


def _entry(profile, wide: int, page: Page) -> None:
    source = profile.source
    page.line(f"{profile.id:<{wide}}{profile.stands_for or source.get('station', '')}")
    about = message("climate.entry", station=station_words(source), koppen=profile.koppen)
    page.line(Text((" " * wide, about)), style="dim")


def show_profile(profile, page: Page) -> None:
    """Print the year of one profile at 80 columns; the strips have a column a week."""
    head = message("climate.head", id=profile.id, stands_for=profile.stands_for) if profile.stands_for else profile.id
    page.line(head, style="bold")
    page.say(place_words(profile.source))
    page.line()
    _month_line(page)
    _phase_line(profile.calendar.phases, page)
    for name in WINDOWS:
        spans = profile.calendar.windows.get(name)
        if spans:
            page.line(
                _label(page, message(f"window.{name}"))
                + "".join("#" if inside else "." for inside in weeks_inside(spans))
            )
    page.line()
    _curve(profile.daily, page)
    _rain(profile.monthly, page)
    page.line()
    page.line(message("climate.phases"), style="bold")
    for phase, start, end in profile.calendar.phases:
        page.line(_row(page, f"  {PHASES[phase][0]}  ", message(f"phase.{phase}"), 16, span_words((start, end))))
    page.line()
    page.line(message("climate.when"), style="bold")
    page.say(message("climate.when-note"), indent=2)
    for name, span in profile.calendar.events.items():
        page.line(_row(page, "  ", message(f"event.{name}"), 22, span_words(span)))
    page.line()
    page.line(message("climate.kind"), style="bold")
    for name, value in profile.traits().items():
        if name in TRAITS:
            page.line(_row(page, "  ", trait_label(name), 22, trait_words(name, value)))
    if "climate.koppen" not in profile.traits():
        page.line(_row(page, "  ", trait_label("climate.koppen"), 22, profile.koppen))
    _closing(profile, page)


def _label(page: Page, phrase: Phrase) -> str:
    """The words at the left of a strip, filled up to its column."""
    return f"{page.speaker.say(phrase):<{LABEL}}"


def _row(page: Page, lead: str, name: Phrase, wide: int, value: Phrase | str) -> str:
    """A name and its value, the values below one another."""
    return f"{lead}{page.speaker.say(name):<{wide}} {page.speaker.say(value)}"


def _closing(profile, page: Page) -> None:
    page.line()
    for note in profile.notes:
        page.say(message("climate.note", note=note), hang=2)
    words = [str(profile.source[key]) for key in ("kind", "attribution", "licence") if profile.source.get(key)]
    if words:
        page.say(message("climate.normals", said=listed(words, "semicolon")), style="dim", hang=2)


def trait_label(name: str) -> Phrase:
    """Return what a trait is called."""
    return message(f"trait.{name.removeprefix('climate.')}")


def trait_words(name: str, value) -> Phrase | str:
    """Return a trait with its unit; ``not known`` where the normals do not tell."""
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return message("not-known")
    if isinstance(value, str):
        return value
    unit, decimals = TRAITS[name]
    return Quantity(float(value), unit, decimals, table=True)


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
    for month, name in enumerate(page.speaker.language.MONTHS, start=1):
        start = _month_column(month)
        line[start : start + 3] = name
    page.line("".join(line).rstrip(), style="bold")


def _phase_line(phases, page: Page) -> None:
    strip = Strip(_label(page, message("climate.phase-strip")))
    for week in range(WEEKS):
        day = 7 * week + 4
        for phase, start, end in phases:
            if (day - day_of_year(start)) % 365 <= (day_of_year(end) - day_of_year(start)) % 365:
                letter, colour = PHASES[phase]
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
    page.line(Text((" " * LABEL, message("climate.curve"))), style="dim")


def _rain(monthly: dict, page: Page) -> None:
    rain = monthly.get("precip_mm")
    if rain is None or not np.isfinite(rain).any():
        return
    line = [" "] * (WIDTH + 4)
    line[:LABEL] = _label(page, message("climate.rain"))
    for month in range(1, 13):
        text = f"{rain[month - 1]:.0f}" if np.isfinite(rain[month - 1]) else "?"
        start = _month_column(month)
        line[start : start + len(text)] = text
    page.line("".join(line).rstrip())


def show_comparison(a, b, page: Page) -> None:
    """Print two profiles side by side."""

    say = page.speaker.say

    def row(label, first, second, difference, style=""):
        page.line(f"{say(label):<22}{say(first):<23}{say(second):<23}{say(difference)}".rstrip(), style=style)

    for profile in (a, b):
        stands_for = profile.stands_for or message("climate.no-description")
        place = place_words(profile.source)
        page.say(message("climate.compared", id=profile.id, stands_for=stands_for, place=place), hang=2)
    page.line()
    row("", a.id[:22], b.id[:22], message("climate.second-is"), style="bold")
    for trait in comparing.traits(a, b):
        if trait.name in TRAITS:
            first, second = trait_words(trait.name, trait.first), trait_words(trait.name, trait.second)
            difference: Phrase | str = "" if trait.difference is None else message("climate.same")
            if trait.difference is not None and say(first) != say(second):
                difference = _difference(trait)
            row(trait_label(trait.name), first, second, difference)
    page.line()
    for event in comparing.events(a, b):
        row(message(f"event.{event.name}"), span_words(event.first), span_words(event.second), _days_words(event))
    page.line()
    if comparing.opposite(a, b):
        page.say(message("climate.opposite"))


def _difference(trait) -> Phrase:
    """How much more or less the second has of a trait."""
    unit, decimals = TRAITS[trait.name]
    more = trait.difference > 0
    key = (
        ("climate.warmer" if more else "climate.colder")
        if unit == "degC"
        else "climate.more"
        if more
        else "climate.less"
    )
    return message(key, value=Quantity(abs(trait.difference), None, decimals, table=True))


def _days_words(event) -> Phrase | str:
    if event.difference is None:
        return ""
    days = round(event.difference)
    if days == 0:
        return message("climate.same")
    return message("climate.later" if days > 0 else "climate.earlier", days=abs(days))

"""A season that is played, on a terminal: the week, what looks find, and the courses side by side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from hiveweek.practice.season import Season
from hiveweek.practice.world import WEEK, WEEKS
from hiveweek.show.practice import told
from hiveweek.show.text import Page
from hiveweek.texts.parts import Capital, Day, Quantity, Word, listed, message

BARS = "▁▂▃▄▅▆▇█"


def head(page: Page, season: Season) -> None:
    """Print where and with what the season begins, and what can be typed."""
    climate = Word(season.climate)
    names = listed(list(season.names), "comma")
    page.say(message("play.head", climate=climate, seed=season.seed, hives=names, day=Day(season.start)), style="bold")
    page.say(message("play.true"), style="dim")
    page.say(message("play.help"))


def week(page: Page, season: Season) -> None:
    """Print the week and its weather."""
    weather, days = season.world.weather, slice(WEEK * season.week, WEEK * (season.week + 1))
    page.say(
        message(
            "play.week",
            week=season.week + 1,
            of=WEEKS,
            day=Day(season.day),
            low=Quantity(round(float(weather.low[days].min())), "degC"),
            high=Quantity(round(float(weather.high[days].max())), "degC"),
        ),
        style="bold",
    )


def found(page: Page, season: Season, hive: str, facts: Mapping[str, object]) -> None:
    """Print what a look found; what is as it always is in this game is left out."""
    normal = season.shown.healthy
    said = [told(name, value, season.words) for name, value in facts.items() if normal.get(name) != value]
    if said:
        page.say(message("play.found", hive=hive, found=listed(said, "semicolon")), indent=2, hang=2)
    else:
        page.say(message("play.nothing-seen", hive=hive), indent=2)


def courses(page: Page, seasons: Mapping[str, Season]) -> None:
    """Print the courses of several keepers side by side, each with its charts."""
    most = {key: max(max(line) for line in (series(one)[key] for one in seasons.values())) for key in KEYS}
    for name, one in seasons.items():
        page.line()
        page.say(
            message(
                "play.course",
                name=Capital(message(f"play.{name}")),
                alive=sum(not colony.ended for colony in one.world.colonies.values()),
                hives=one.hives,
                bees=Quantity(round(series(one)["bees"][-1]), "bees"),
                honey=Quantity(round(one.honey_kg), "kg"),
                hours=Quantity(round(one.minutes / 60), "hours"),
                openings=one.openings,
                treatments=one.treatments,
            ),
            hang=2,
            style="bold",
        )
        for key in KEYS:
            line = chart(series(one)[key], most[key])
            unit = Quantity(round(most[key], 1))
            page.line(message("play.chart", what=message(f"play.{key}"), chart=line, most=unit))
        for hive, colony in one.world.colonies.items():
            if colony.ended:
                last = sum(row.bees > 0 for row in one.rows[hive])
                how = message(f"play.how.{colony.ended}")
                page.say(message("play.ended", hive=hive, how=how, week=min(last + 1, WEEKS)), indent=2)


KEYS = ("bees", "mites", "stores")


def series(season: Season) -> dict[str, list[float]]:
    """Return bees and food of all hives together, and the mites of the worst living one, at the end of each week."""
    rows = list(zip(*season.rows.values(), strict=True))
    return {
        "bees": [sum(row.bees for row in week) for week in rows],
        "mites": [max((row.mites_per_100 for row in week if row.bees > 0), default=0.0) for week in rows],
        "stores": [sum(row.stores_kg for row in week) for week in rows],
    }


def chart(values: Sequence[float], most: float) -> str:
    """Return a line of bars, one a week, the highest standing for ``most``."""
    return "".join(BARS[min(len(BARS) - 1, int(value / most * len(BARS)))] if most > 0 else BARS[0] for value in values)


def as_json(seasons: Mapping[str, Season]) -> dict:
    """Return courses as plain data."""
    first = next(iter(seasons.values()))
    return {
        "climate": first.climate,
        "seed": first.seed,
        "start": first.start.isoformat(),
        "hives": list(first.names),
        "courses": {
            name: {
                "ended": {hive: colony.ended or None for hive, colony in one.world.colonies.items()},
                "honey_kg": round(one.honey_kg, 1),
                "minutes": one.minutes,
                "openings": one.openings,
                "treatments": one.treatments,
                "weeks": {key: [round(value, 1) for value in line] for key, line in series(one).items()},
            }
            for name, one in seasons.items()
        },
    }

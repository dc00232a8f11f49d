"""Charts as inline SVG that need no colour: shapes tell what is what, the colours are those of the page around them.

Classes: ``band`` the likely range, ``line`` the weeks ahead, ``seen`` what was noted, ``now`` today's estimate, ``limit`` the limit,
``axis``, ``mark`` the day of the answer, ``phase`` a phase of the season.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import svg

from hiveweek.show.trends import AHEAD_WEEKS, BACK_WEEKS, STORES, Level, Phase, Trend
from hiveweek.texts.parts import Day, MonthDay, Phrase, Quantity, Range, Word, listed, message
from hiveweek.texts.speaker import METRIC, Speaker

WIDTH, HEIGHT = 360, 150
LEFT, RIGHT, TOP, BOTTOM = 34, 8, 10, 20
STRIP = 34
NAMES = {STORES: "stores"}
UNITS = {STORES: "kg"}
STEPS = (0.5, 1, 2, 5, 10, 20, 50)
LETTER = 6.2  # width of a letter


class _Frame:
    """Turns days and values into places."""

    def __init__(self, today: dt.date, back: int, most: float):
        self.first = today - dt.timedelta(weeks=back)
        self.days = 7 * (back + AHEAD_WEEKS)
        self.most = most

    def x(self, day: dt.date) -> float:
        share = (day - self.first).days / self.days
        return round(LEFT + share * (WIDTH - LEFT - RIGHT), 1)

    def y(self, value: float) -> float:
        share = min(max(value / self.most, 0.0), 1.0)
        return round(HEIGHT - BOTTOM - share * (HEIGHT - TOP - BOTTOM), 1)


def words(trend: Trend) -> Phrase:
    """Return what a chart shows, in a sentence."""
    unit = UNITS.get(trend.fact, "mites/100 bees")
    value: Phrase = Quantity(round(trend.now.value, 1), unit)
    low, high = (Quantity(round(end, 1), unit, bare=True) for end in (trend.now.low, trend.now.high))
    if low.value < high.value:
        value = message("likely", value=value, range=Range(low, high))
    key = NAMES.get(trend.fact, "mites")
    if trend.limit is None:
        return message(f"chart.{key}", value=value)
    return message(f"chart.{key}-limit", value=value, limit=Quantity(round(trend.limit, 1), unit))


def season_words(phases: Sequence[Phase], today: dt.date) -> Phrase:
    """Return the phase of today and those to come, each with its first day."""
    coming = [phase for phase in phases if phase.last >= today]
    said = [message("chart.phase", phase=Word(phase.name), day=Day(phase.first, today)) for phase in coming]
    return message("chart.season", phases=listed(said, "comma"))


def chart(trend: Trend, today: dt.date, *, speaker: Speaker = METRIC) -> str:
    """Return the chart of a trend: noted values as rings with their range, today as a filled square, ahead as a dashed line in its band."""
    levels = [*trend.past, trend.now, *trend.ahead]
    most = max([level.high for level in levels] + [trend.limit or 0.0, 1.0]) * 1.08
    step = next((one for one in STEPS if most / one <= 5), 100)
    back = _weeks_back(trend, today)
    frame = _Frame(today, back, most)
    said = speaker.say(words(trend))
    parts: list[svg.Element] = [svg.Title(text=said), *_axes(frame, today, step, speaker)]
    if len(trend.ahead) > 1:
        edge = [(level.date, level.high) for level in trend.ahead] + [
            (level.date, level.low) for level in reversed(trend.ahead)
        ]
        parts.append(svg.Polygon(class_=["band"], points=_points(frame, edge)))
        middle = [(level.date, level.value) for level in trend.ahead]
        parts.append(svg.Polyline(class_=["line"], points=_points(frame, middle)))
    if trend.limit is not None:
        y = frame.y(trend.limit)
        parts.append(svg.Line(class_=["limit"], x1=LEFT, x2=WIDTH - RIGHT, y1=y, y2=y))
        label = speaker.say(message("chart.needed" if trend.fact == STORES else "chart.limit"))
        parts.append(svg.Text(text=label, class_=["limit-name"], x=LEFT + 3, y=max(y - 3, TOP + 4)))
    parts += [part for level in trend.past for part in _seen(frame, level)]
    parts += _now(frame, trend.now)
    return str(_figure(HEIGHT, said, parts))


def season_strip(phases: Sequence[Phase], today: dt.date, *, speaker: Speaker = METRIC) -> str:
    """Return the season from half a year back to the weeks ahead: a box for each phase with its name, today marked."""
    frame = _Frame(today, BACK_WEEKS, 1.0)
    names = [speaker.say(Word(phase.name)) for phase in phases]
    said = speaker.say(season_words(phases, today))
    parts: list[svg.Element] = [svg.Title(text=said)]
    for number, (phase, name) in enumerate(zip(phases, names, strict=True)):
        first, last = frame.x(phase.first), frame.x(phase.last + dt.timedelta(days=1))
        last = min(last, WIDTH - RIGHT)
        kind = ["phase"] if number % 2 else ["phase", "other"]
        parts.append(svg.Rect(class_=kind, x=first, y=2, width=round(last - first, 1), height=18))
        room = int((last - first) / LETTER)
        if room >= 2:
            parts.append(svg.Text(text=name if len(name) <= room else f"{name[: room - 1]}.", x=first + 3, y=15))
    x = frame.x(today)
    parts.append(svg.Line(class_=["mark"], x1=x, x2=x, y1=0, y2=22))
    parts.append(svg.Text(text=speaker.say(message("today")), x=x, y=STRIP - 1, text_anchor="middle"))
    return str(_figure(STRIP, said, parts))


def _weeks_back(trend: Trend, today: dt.date) -> int:
    """As far back as there is something noted, four weeks at least."""
    oldest = min((level.date for level in trend.past), default=today)
    return min(max(((today - oldest).days + 13) // 7, 4), BACK_WEEKS)


def _figure(height: int, said: str, parts: list[svg.Element]) -> svg.SVG:
    return svg.SVG(
        class_=["chart"],
        viewBox=svg.ViewBoxSpec(0, 0, WIDTH, height),
        elements=parts,
        extra={"role": "img", "aria-label": said},
    )


def _points(frame: _Frame, pairs: Sequence[tuple[dt.date, float]]) -> list[svg.Point]:
    return [svg.Point(frame.x(day), frame.y(value)) for day, value in pairs]


def _axes(frame: _Frame, today: dt.date, step: float, speaker: Speaker) -> list[svg.Element]:
    bottom = HEIGHT - BOTTOM
    parts: list[svg.Element] = [
        svg.Line(class_=["axis"], x1=LEFT, x2=WIDTH - RIGHT, y1=bottom, y2=bottom),
        svg.Line(class_=["axis"], x1=LEFT, x2=LEFT, y1=TOP, y2=bottom),
    ]
    value = 0.0
    while value <= frame.most:
        text = speaker.say(Quantity(value, decimals=1 if step < 1 else 0))
        parts.append(svg.Text(text=text, x=LEFT - 4, y=frame.y(value) + 4, text_anchor="end"))
        value += step
    x = frame.x(today)
    parts.append(svg.Line(class_=["mark"], x1=x, x2=x, y1=TOP, y2=bottom))
    parts.append(svg.Text(text=speaker.say(message("today")), x=x, y=HEIGHT - 6, text_anchor="middle"))
    for day in _firsts(frame):
        if abs(frame.x(day) - x) > 42 and frame.x(day) < WIDTH - 30:
            parts.append(svg.Line(class_=["axis"], x1=frame.x(day), x2=frame.x(day), y1=bottom, y2=bottom + 4))
            parts.append(
                svg.Text(text=speaker.say(MonthDay(day.month, 1, wide=False)), x=frame.x(day) + 2, y=HEIGHT - 6)
            )
    return parts


def _firsts(frame: _Frame) -> list[dt.date]:
    """The first days of months that are written: every one, or every second where they are many."""
    days = (frame.first + dt.timedelta(days=number) for number in range(frame.days))
    found = [day for day in days if day.day == 1]
    return found if len(found) <= 5 else found[::2]


def _seen(frame: _Frame, level: Level) -> list[svg.Element]:
    x = frame.x(level.date)
    parts: list[svg.Element] = []
    if level.high > level.low:
        parts.append(svg.Line(class_=["seen"], x1=x, x2=x, y1=frame.y(level.low), y2=frame.y(level.high)))
    parts.append(svg.Circle(class_=["seen"], cx=x, cy=frame.y(level.value), r=3))
    return parts


def _now(frame: _Frame, level: Level) -> list[svg.Element]:
    x, y = frame.x(level.date), frame.y(level.value)
    return [
        svg.Line(class_=["now"], x1=x, x2=x, y1=frame.y(level.low), y2=frame.y(level.high)),
        svg.Rect(class_=["now"], x=x - 4, y=y - 4, width=8, height=8),
    ]

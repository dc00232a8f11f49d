"""What the colony models need, gathered from the table, the history and the calendar."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from hiveweek.colony import heat, strength
from hiveweek.colony.estimate import Estimate, estimate
from hiveweek.colony.year import Calendar, Daily
from hiveweek.facts.table import FactTable, in_rows
from hiveweek.numbers import Branch, Numbers, shipped
from hiveweek.record.history import History

LONG_AGO = 3_000  # days; older observations count as this old


@dataclass
class EstimateContext:
    """Where and when the estimates are made.

    Attributes
    ----------
    dates : sequence of date
        The days of the table; hives stand in it once for each, those of the first day first.
    starts : sequence of int
        The row with which each of them begins, and the number of all rows.
    daily
        Usual weather of the place.
    calendars : sequence of Calendar
        Season calendar of the place on each of those days.
    history
        What was seen and done, by day.
    fixed : dict of str to ndarray of bool
        Cells that a scenario has set and that no estimate may touch.
    numbers : Numbers
        What the models are worked out with.
    """

    dates: Sequence[dt.date]
    starts: Sequence[int]
    daily: Daily
    calendars: Sequence[Calendar]
    history: History
    fixed: dict[str, np.ndarray] = field(default_factory=dict)
    numbers: Numbers = field(default_factory=shipped)

    @property
    def p(self) -> Branch:
        """Numbers of the models, ``model.*``."""
        return self.numbers.model

    @property
    def today(self) -> np.ndarray:
        """Day number of each row."""
        return self.history.days

    @cached_property
    def place(self) -> np.ndarray:
        """Place of each row's day among the dates."""
        return np.repeat(np.arange(len(self.dates)), np.diff(self.starts))

    def rows(self, place: int) -> slice:
        """Return the rows of one of the dates."""
        return slice(self.starts[place], self.starts[place + 1])


# --- the table in words -------------------------------------------------------------------------------------------------
def number(table: FactTable, fact: str) -> np.ndarray:
    """Return the values of a column."""
    return np.asarray(table.column(fact).value, dtype=float)


def is_word(table: FactTable, fact: str, *words: str) -> np.ndarray:
    """Return 1 where a one-of fact has one of these words, 0 where it has another, NaN where unknown."""
    value = number(table, fact)
    codes = [table.vocabulary.facts[fact].values.index(word) for word in words]
    return np.where(np.isnan(value), np.nan, np.any([value == code for code in codes], axis=0))


def coded(table: FactTable, fact: str, words: tuple[str, ...]) -> np.ndarray:
    """Return a one-of fact as places in ``words``; NaN where unknown or another word."""
    out = np.full(len(table), np.nan)
    for place, word in enumerate(words):
        if word in table.vocabulary.facts[fact].values:
            out = np.where(is_word(table, fact, word) == 1, float(place), out)
    return out


def comb_side(table: FactTable, p: Branch) -> Estimate:
    """One side of a brood comb, dm2: measured, or by the frame, or a wide guess."""
    frames = ("deep", "medium", "shallow")
    rows = [p.bees[f"comb_side_{name}_dm2"] for name in (*frames, "unknown")]
    kind = coded(table, "hive.frame", frames)
    code = np.where(np.isnan(kind), len(frames), kind).astype(int)
    value, low, high = (np.array([getattr(r, part) for r in rows])[code] for part in ("value", "low", "high"))
    own = number(table, "hive.comb_dm2")
    value, low, high = (np.where(np.isnan(own), x, own) for x in (value, low, high))
    return estimate(value, low, high)


def brood_boxes(table: FactTable, p: Branch) -> np.ndarray:
    """Brood boxes of each hive, by their number or their frames; a declared guess where neither is noted."""
    size = coded(table, "hive.size", strength.SIZES)
    by_size = np.array(list(strength.BOXES.values()))[np.where(np.isnan(size), 1, size).astype(int)]
    by_frames = np.clip(number(table, "hive.frames") / p.heat.box_frames, 0.5, 5.0)
    stacked = is_word(table, "hive.type", "stacked_boxes", "fixed_comb")
    boxes = np.where(np.isnan(size) | (stacked == 0), by_frames, by_size)
    return np.where(np.isnan(boxes), p.heat.unknown_boxes, boxes)


def heat_loss(table: FactTable, p: Branch, insulated: bool = False) -> np.ndarray:
    """Heat loss of each hive, W/K; what is not noted counts as a declared share.

    Parameters
    ----------
    p : Branch
        ``model.*``.
    insulated : bool
        As if the hive had roof board and wrap.
    """
    guess = p.heat.unknown_share
    size = coded(table, "hive.size", strength.SIZES)
    boxes = brood_boxes(table, p)
    kind = coded(table, "hive.frame", ("deep", "medium", "shallow"))
    heights = np.array([1.0, p.heat.box_height_medium, p.heat.box_height_shallow])
    height = np.where(np.isnan(kind), p.heat.box_height_unknown, heights[np.nan_to_num(kind, nan=0.0).astype(int)])
    roof = is_word(table, "hive.insulation", "roof", "roof_and_wrap")
    wrap = is_word(table, "hive.insulation", "wrap", "roof_and_wrap")
    mesh = is_word(table, "hive.floor", "mesh")
    mesh = np.where((mesh == 1) & (is_word(table, "hive.floor_tray", "in") == 1), 0.0, mesh)
    vent = np.array([0.0, p.heat.vent_small_share, 1.0])[
        np.where(np.isnan(opening(table)), 0, opening(table)).astype(int)
    ]
    vent = np.where(np.isnan(opening(table)), guess, vent)
    return heat.hive_w_per_k(
        boxes,
        np.nan_to_num(is_word(table, "hive.walls", "polystyrene"), nan=0.0),
        1.0 if insulated else np.nan_to_num(roof, nan=guess),
        1.0 if insulated else np.nan_to_num(wrap, nan=guess),
        np.nan_to_num(mesh, nan=guess),
        vent,
        height,
        np.where(size == 0, p.heat.nuc_area_share, 1.0),
        p=p,
    )


def opening(table: FactTable) -> np.ndarray:
    """Upper opening of each hive: 0 none, 1 small (or an upper exit), 2 large; NaN where nobody noted it."""
    vent = coded(table, "hive.top_vent", ("none", "small", "large"))
    exit_ = number(table, "hive.upper_exit")
    return np.where(exit_ == 1, np.fmax(vent, 1.0), vent)


def room(table: FactTable, p: Branch) -> np.ndarray:
    """Temperature round hives wintered indoors, degC (declared where not measured); NaN outdoors."""
    inside = is_word(table, "hive.wintering", "indoor") == 1
    measured = np.clip(number(table, "room.temp_c"), -30, 45)
    return np.where(inside, np.where(np.isnan(measured), p.heat.indoor_c, measured), np.nan)


def fill(
    table: FactTable,
    context: EstimateContext,
    fact: str,
    value,
    low=None,
    high=None,
    *,
    origin: str | Sequence[str | None] = "computed",
    over_seen: np.ndarray | None = None,
) -> None:
    """Set the unknown cells of a column.

    Parameters
    ----------
    origin : str or list
        One word, or one a hive.
    over_seen : ndarray of bool, optional
        Known cells that may be replaced all the same (an observation carried forward); never those fixed.
    """
    new = [in_rows(x, len(table)) for x in (value, value if low is None else low, value if high is None else high)]
    column = table.column(fact)
    fixed = context.fixed.get(fact, np.zeros(len(table), dtype=bool))
    open_ = ~column.known | (np.zeros(len(table), dtype=bool) if over_seen is None else over_seen)
    take = open_ & ~fixed & ~np.isnan(new[0]) & (number(table, "colony.alive") != 0)
    if not take.any():
        return
    bounds = table.vocabulary.facts[fact]
    floor = -np.inf if bounds.low is None else bounds.low
    ceiling = np.inf if bounds.high is None else bounds.high
    merged = [
        np.where(take, np.clip(n, floor, ceiling), old)
        for n, old in zip(new, (column.value, column.low, column.high), strict=False)
    ]
    if isinstance(origin, str) and not table.origins:
        table.set(fact, *merged, origin=column.origin)
        return
    words = [origin] * len(table) if isinstance(origin, str) else list(origin)
    kept = column.origin or [None] * len(table)
    table.set(fact, *merged, origin=[w if t else k for w, k, t in zip(words, kept, take.tolist(), strict=False)])


# --- curves of days: one for all hives, or a column a hive -----------------------------------------------------------------
def days_so_far(holds: np.ndarray) -> np.ndarray:
    """Return on how many of the first 0, 1, 2, ... days something holds."""
    return np.concatenate([np.zeros((1, *holds.shape[1:])), np.cumsum(holds, axis=0)])


def on_day(curve: np.ndarray, day: np.ndarray) -> np.ndarray:
    """Return what a curve is on a day of each hive."""
    return curve[day] if curve.ndim == 1 else curve[day, np.arange(len(day))]


# --- the history --------------------------------------------------------------------------------------------------------
def valid_since(history: History, table: FactTable, fact: str, through: tuple[str, ...] = ()) -> np.ndarray:
    """Day from which observations of a fact still count at each hive, after the acts that void it (0 where none did).

    Parameters
    ----------
    through : tuple of str
        Acts that a model carries the fact through.
    """
    vocabulary = table.vocabulary
    since = np.zeros(len(table))
    for act in vocabulary.facts[fact].voided_by:
        if act in through:
            continue
        day = history.last_act(act)
        same_day = vocabulary.acts.get(act, {}).get("same_day")
        later = [
            same_day == "voids"
            or (same_day == "goes_on" and history.days[hive] > d)
            or (d == d and history.done_after_look(act, hive, fact, int(d)))
            for hive, d in enumerate(day.tolist())
        ]
        since = np.fmax(since, day + np.array(later, dtype=float))
    return since


def last_seen(
    history: History, table: FactTable, fact: str, through: tuple[str, ...] = ()
) -> tuple[np.ndarray, np.ndarray]:
    """Latest observation that still counts, whatever its age: (value, age in days); NaN where there is none.

    A value that stands in the table without an entry in the history counts as seen today.
    """
    since = valid_since(history, table, fact, through)
    value = np.full(len(table), np.nan)
    age = np.full(len(table), np.nan)
    for hive in history.noted_at(fact):
        day, last = history.entries(hive, fact)[-1]
        if day >= since[hive]:
            value[hive], age[hive] = last, min(history.days[hive] - day, LONG_AGO)
    shown = number(table, fact)
    bare = np.isnan(value) & ~np.isnan(shown)
    return np.where(bare, shown, value), np.where(bare, 0.0, age)


def given_since(
    history: History, table: FactTable, fact: str, age: np.ndarray, looks: Sequence[str | None]
) -> np.ndarray:
    """Sum of a fact's entries after an observation up to today; 0 where the age is unknown.

    What was given on the day of the observation counts where it was noted as done after it.

    Parameters
    ----------
    looks : sequence of (str or None)
        The fact observed at each hive.
    """
    out = np.zeros(len(table))
    for hive in history.noted_at(fact):
        if not age[hive] >= 0:
            continue
        seen_on = int(history.days[hive] - age[hive])
        after = looks[hive] is not None and history.done_after_look(fact, hive, str(looks[hive]), seen_on)
        out[hive] = sum(v for day, v in history.entries(hive, fact) if seen_on - after < day)
    return np.minimum(out, 250.0)

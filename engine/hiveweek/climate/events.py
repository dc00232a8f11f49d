"""Events of the beekeeping year from daily usual weather, by the declared numbers (``season.*``).

Days are counted from the coldest day of the place (0 to 364), so that north and south are one case. Each
event is a day with a half width in days: half of the range that holds the middle half of the years.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hiveweek.climate.daily import DailyClimate
from hiveweek.climate.daylength import autumn_equinox, winter_solstice, year_of_day_lengths
from hiveweek.climate.smooth import DAYS
from hiveweek.numbers import Branch, shipped
from hiveweek.numbers.normal import ndtri
from hiveweek.vocabulary.events import EVENTS as EVENT_IDS

SPANS = (
    "summer_dearth",
    "late_summer_mite_treatment",
    "winter_bee_rearing",
)  # events that last; the others are points


@dataclass(frozen=True)
class Point:
    """A day of the local year and half the width, in days, of what holds the middle half of years."""

    day: float
    half: float

    def later(self, days: float) -> Point:
        """Return the point moved by a number of days, its spread unchanged."""
        return Point(self.day + days, self.half)


@dataclass(frozen=True)
class Span:
    """A stretch of the local year, from day to day."""

    start: float
    end: float


class LocalYear:
    """The year of a place counted from its coldest day, with searches on the usual curves."""

    def __init__(self, daily: DailyClimate, numbers: Branch | None = None):
        self.daily = daily
        self.numbers = numbers or shipped().season
        self.coldest = int(np.argmin(daily.tmean))
        self.mean = np.roll(daily.tmean, -self.coldest)
        self.high = np.roll(daily.tmax, -self.coldest)
        self.sd = np.roll(daily.sd, -self.coldest)
        self.sd_high = np.roll(daily.sd_high, -self.coldest)
        self.rain = np.roll(daily.precip_mm, -self.coldest)
        self.light = np.roll(year_of_day_lengths(round(daily.lat, 2)), -self.coldest)
        self.solstice = self.local(winter_solstice(daily.lat))
        if self.solstice > DAYS / 2:
            self.solstice -= DAYS  # the winter solstice usually lies some weeks before the coldest day
        self.equinox = self.local(autumn_equinox(daily.lat)) % DAYS

    def local(self, calendar_day: int) -> int:
        """Turn a day of the calendar year (0 = 1 January) into days after the coldest day."""
        return (calendar_day - self.coldest) % DAYS

    def calendar(self, local_day: float) -> int:
        """Turn days after the coldest day into a day of the calendar year."""
        return round(local_day + self.coldest) % DAYS

    def limit(self, curve: np.ndarray, wanted: float, below_warmest: float) -> float:
        """Return the wanted limit, or the one so far below the warmest day where that is lower."""
        return min(wanted, curve.max() - below_warmest)

    def first_reaching(self, curve: np.ndarray, limit: float) -> int:
        """Return the first day on which a curve is at or above a limit; if never, its highest day."""
        hits = np.flatnonzero(curve >= limit)
        return int(hits[0]) if hits.size else int(np.argmax(curve))

    def last_reaching(self, curve: np.ndarray, limit: float) -> int:
        """Return the last day on which a curve is at or above a limit; if never, its highest day."""
        hits = np.flatnonzero(curve >= limit)
        return int(hits[-1]) if hits.size else int(np.argmax(curve))

    def half_width(self, day: float, curve: np.ndarray) -> float:
        """Return half the range of the middle half of years for a day on which a curve crosses a limit.

        A season that is x degrees warmer moves the date by x over the slope of the curve; the spread of a
        30-day mean between years is a declared share of the spread of single days.
        """
        at = round(day) % DAYS
        slope = abs(curve[(at + 7) % DAYS] - curve[at - 7]) / 14.0
        spread = self.numbers.spread.sd_season_share * self.sd[at]
        half = 0.6745 * spread / max(slope, 1e-3)
        return float(np.clip(half, self.numbers.years.event_half_least_days, self.numbers.years.event_half_most_days))

    def point(self, day: float, curve: np.ndarray | None = None) -> Point:
        """Make an event of a day; its spread comes from the curve, or is the declared one of the sun."""
        if curve is None:
            return Point(day, self.numbers.years.event_half_sun_days)
        return Point(day, self.half_width(day, curve))


def find(daily: DailyClimate, numbers: Branch | None = None) -> dict[str, Point | Span | None]:
    """Find every event of the year of a place.

    Parameters
    ----------
    daily : DailyClimate
    numbers : Branch, optional
        ``season.*``; the shipped ones by default.

    Returns
    -------
    dict
        Event id -> Point or Span in days after the coldest day, or None where the climate lacks the event.
        Besides the public ids of `EVENT_IDS`: ``cold_start`` (clustering weather begins) and ``syrup_opens``.
    """
    year = LocalYear(daily, numbers)
    events: dict[str, Point | Span | None] = dict.fromkeys(EVENT_IDS)
    events["cold_start"] = None
    has_winter = year.mean.min() < year.numbers.winter.cluster_autumn_mean_c
    if has_winter:
        _autumn(year, events)
        _winter(year, events)
        _spring(year, events)
    else:
        start = year.solstice + year.numbers.spring.mild_build_up_after_solstice_days
        events["spring_build_up_start"] = Point(start, year.numbers.years.event_half_most_days)
        events["first_full_inspection"] = events[
            "spring_build_up_start"
        ]  # the yearly brood check, without a winter before it
        events["syrup_opens"] = Point(0.0, 0.0)
    _swarming_and_flow(year, events)
    _late_summer(year, events, has_winter)
    return events


def _spring(year: LocalYear, events: dict) -> None:
    numbers = year.numbers
    limit = year.limit(year.mean, numbers.winter.cluster_spring_mean_c, numbers.spring.pollen_below_warmest_c)
    loosened = year.first_reaching(year.mean, limit)
    limit = year.limit(year.mean, numbers.winter.cluster_autumn_mean_c, numbers.winter.guard_below_warmest_c)
    warm = year.first_reaching(year.mean, limit)
    end = max(loosened, min(warm, year.solstice + numbers.winter.cluster_after_solstice_days))
    events["end_of_cluster"] = year.point(end, year.mean)

    z = ndtri(numbers.spring.pollen_share)  # below zero: highs may lie under the limit on most days
    limit = year.limit(year.high, numbers.spring.pollen_high_c, numbers.spring.pollen_below_warmest_c)
    pollen = year.first_reaching(year.high - z * year.sd_high, limit)
    events["first_pollen"] = year.point(
        max(pollen, year.solstice + numbers.spring.pollen_after_solstice_days), year.high
    )
    if events["broodless_end"].day > events["first_pollen"].day:  # laying restarts with the first pollen (S10)
        events["broodless_end"] = events["first_pollen"]
    events["spring_build_up_start"] = max(
        events["first_pollen"].later(numbers.spring.build_up_days), events["end_of_cluster"], key=lambda p: p.day
    )

    z = ndtri(numbers.spring.inspection_share)
    reached = year.first_reaching(year.high - z * year.sd_high, numbers.spring.inspection_high_c)
    near_warmest = year.first_reaching(year.high, year.high.max() - numbers.spring.inspection_below_warmest_c)
    reached = min(reached, near_warmest)
    events["first_full_inspection"] = year.point(
        max(reached, end + numbers.spring.inspection_after_cluster_days), year.high
    )
    limit = year.limit(year.high, numbers.spring.syrup_open_high_c, numbers.spring.syrup_open_below_warmest_c)
    opens = year.first_reaching(year.high, limit)
    events["syrup_opens"] = year.point(max(opens, events["first_pollen"].day), year.high)
    limit = year.limit(year.mean, numbers.winter.unwrap_mean_c, numbers.winter.guard_below_warmest_c)
    events["unwrap"] = year.point(max(year.first_reaching(year.mean, limit), end), year.mean)


def _autumn(year: LocalYear, events: dict) -> None:
    numbers = year.numbers
    limit = year.limit(year.mean, numbers.winter.cluster_autumn_mean_c, numbers.winter.guard_below_warmest_c)
    cold = year.last_reaching(year.mean, limit) + 1
    events["cold_start"] = year.point(cold, year.mean)
    limit = year.limit(year.mean, numbers.winter.mouse_guard_mean_c, numbers.winter.guard_below_warmest_c)
    guards = min(year.last_reaching(year.mean, limit) + 1, cold)
    events["mouse_guards_on"] = year.point(guards, year.mean)
    if year.mean.min() < numbers.winter.wrap_coldest_c:
        limit = year.limit(year.mean, numbers.winter.wrap_on_mean_c, numbers.winter.guard_below_warmest_c)
        wrap = year.last_reaching(year.mean, limit) + 1
        events["winter_wrap_on"] = year.point(wrap, year.mean)


def _winter(year: LocalYear, events: dict) -> None:
    """Place the brood pause: from cold or short days to the return of longer days."""
    numbers = year.numbers
    cold = events["cold_start"].day
    solstice = year.solstice + DAYS
    least = numbers.winter.brood_pause_least_days
    short = np.flatnonzero(year.light < numbers.winter.brood_pause_day_length_h)
    start, start_curve, end = solstice - least, None, solstice + least
    if short.size:
        days = np.where(short < DAYS / 2, short + DAYS, short)
        start, end = min(start, days.min()), max(end, days.max())
    if year.mean.min() < numbers.winter.cold_winter_mean_c:
        limit = year.limit(year.mean, numbers.winter.cold_winter_mean_c, numbers.winter.guard_below_warmest_c)
        chilled = year.last_reaching(year.mean, limit) + 1
        if chilled < start:
            start, start_curve = chilled, year.mean
    events["broodless_start"] = year.point(max(start, cold), start_curve)
    events["broodless_end"] = year.point(end - DAYS)


def _swarming_and_flow(year: LocalYear, events: dict) -> None:
    numbers = year.numbers
    ready = events["spring_build_up_start"].later(numbers.spring.swarm_after_build_up_days)
    limit = year.limit(year.mean, numbers.spring.swarm_mean_c, numbers.spring.swarm_below_warmest_c)
    warm = year.first_reaching(year.mean, limit)
    start = ready if warm <= ready.day else year.point(warm, year.mean)
    events["swarm_season_start"] = start
    latest = year.solstice + DAYS / 2 + numbers.spring.swarm_after_solstice_days
    end = min(start.day + numbers.spring.swarm_length_days, latest)
    events["swarm_season_end"] = Point(max(end, start.day + numbers.spring.swarm_least_days), start.half)

    flow = start.later(numbers.summer.flow_after_swarm_days)
    limit = year.limit(year.mean, numbers.summer.flow_mean_c, numbers.summer.flow_below_warmest_c)
    warm = year.first_reaching(year.mean, limit)
    if warm > flow.day:
        flow = year.point(warm, year.mean)
    events["main_flow_start"] = flow
    cool = year.last_reaching(year.mean, limit)
    length = min(numbers.summer.flow_length_days, max(cool - flow.day, numbers.summer.flow_least_days))
    events["main_flow_end"] = flow.later(length)
    _second_flow(year, events)
    _dearth(year, events)


def _second_flow(year: LocalYear, events: dict) -> None:
    numbers = year.numbers
    if events["cold_start"] is None and _after_the_rains(year, events):
        return
    equinox = year.equinox
    test_day = equinox - 14
    rain = year.rain[np.arange(equinox - 60, equinox) % DAYS].sum()
    if year.mean[test_day % DAYS] < numbers.summer.second_flow_mean_c or rain < numbers.summer.second_flow_rain_mm:
        return
    earliest = equinox - numbers.summer.second_flow_lead_days
    days = np.arange(int(earliest), equinox + 1)
    cool = days[year.mean[days % DAYS] <= numbers.summer.second_flow_start_mean_c]
    start = cool[0] if cool.size else equinox
    start = max(start, events["main_flow_end"].day + numbers.summer.second_flow_gap_days)
    end = start + numbers.summer.second_flow_length_days
    frosty = year.last_reaching(year.mean, numbers.summer.second_flow_end_mean_c)
    end = min(end, frosty)
    if end - start >= numbers.summer.second_flow_length_days / 2:
        events["second_flow_start"] = year.point(start)
        events["second_flow_end"] = year.point(end)


def _after_the_rains(year: LocalYear, events: dict) -> bool:
    """Place the second flow by the rains, where there is no winter and a dry season is followed by summer rain.

    Plants there flower some weeks after the rains begin, and the flow comes as a long rainy season ends.
    """
    numbers = year.numbers
    limit = numbers.summer.rains_mm_a_month / 30.0
    dry_before = (
        year.rain[np.arange(int(events["main_flow_start"].day), int(events["main_flow_end"].day)) % DAYS].mean() < limit
    )
    wet = np.flatnonzero(year.rain[np.arange(int(events["main_flow_end"].day) - 30, DAYS)] >= limit)
    if not dry_before or not wet.size:
        return False
    begin = int(events["main_flow_end"].day) - 30 + int(wet[0])
    if begin >= year.equinox:  # rain of the cool half of the year
        return False
    end = int(events["main_flow_end"].day) - 30 + int(wet[-1])
    start = max(
        begin + numbers.summer.rains_to_flow_days,
        end - numbers.summer.flow_before_rains_end_days,
        events["main_flow_end"].day + numbers.summer.second_flow_gap_days,
    )
    finish = min(start + numbers.summer.second_flow_length_days, DAYS - 1)
    if finish - start < numbers.summer.second_flow_length_days / 2:
        return False
    events["second_flow_start"], events["second_flow_end"] = year.point(start), year.point(finish)
    return True


def _dearth(year: LocalYear, events: dict) -> None:
    numbers = year.numbers
    start = events["main_flow_end"].day
    after = year.rain[np.arange(int(start), int(start) + 60) % DAYS].sum() / 2
    cool_and_wet = year.mean.max() < numbers.summer.dearth_mean_c and after >= numbers.summer.dearth_rain_mm
    between_flows = events["cold_start"] is None and events["second_flow_start"] is not None
    if cool_and_wet and not between_flows:
        return
    if events["second_flow_start"] is not None:
        end = events["second_flow_start"].day
    else:
        end = year.last_reaching(
            year.mean, year.limit(year.mean, numbers.summer.dearth_end_mean_c, numbers.winter.guard_below_warmest_c)
        )
        if events["cold_start"] is not None:
            end = min(end, events["cold_start"].day - numbers.autumn.late_summer_autumn_days)
        elif end >= DAYS - 1:
            end = DAYS - numbers.autumn.mild_winter_half_days
    if end - start >= numbers.summer.dearth_least_days:
        events["summer_dearth"] = Span(start, end)


def _late_summer(year: LocalYear, events: dict, has_winter: bool) -> None:
    numbers = year.numbers
    crop_off = events["main_flow_end"].day
    if not has_winter:
        events["late_summer_mite_treatment"] = Span(crop_off, crop_off + numbers.autumn.treatment_mild_days)
        return
    cold = events["cold_start"].day
    rearing = cold - numbers.autumn.winter_bees_lead_days
    events["winter_bee_rearing"] = Span(rearing, cold)
    start = max(crop_off, rearing - numbers.autumn.treatment_lead_days)
    events["late_summer_mite_treatment"] = Span(start, max(rearing, start) + numbers.autumn.treatment_run_days)
    limit = year.limit(year.high, numbers.autumn.syrup_stop_high_c, numbers.autumn.syrup_stop_below_warmest_c)
    last = year.last_reaching(year.high, limit)
    events["stop_syrup_by"] = year.point(min(last, cold + 28), year.high)

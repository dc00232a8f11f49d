"""The season calendar a second time: plain lists and loops over the usual year, from what the declared numbers and docstrings say.

Days are counted from the coldest day of the place. An event is (middle, half width), a stretch is (start, end).
"""

from __future__ import annotations

import datetime as dt
from functools import lru_cache
from statistics import NormalDist

from hiveweek.climate.daylength import year_of_day_lengths
from hiveweek.numbers import shipped

YEAR = 365
SPANS = ("summer_dearth", "late_summer_mite_treatment", "winter_bee_rearing")
SPRING = (
    "first_pollen",
    "end_of_cluster",
    "first_full_inspection",
    "spring_build_up_start",
    "swarm_season_start",
    "swarm_season_end",
    "main_flow_start",
    "main_flow_end",
    "unwrap",
    "syrup_opens",
)


@lru_cache
def number(name):
    """Return a declared number of the season by the last part of its name."""
    return next(row.value for full, row in shipped().under("season").items() if full.endswith("." + name))


class Place:
    """The usual curves of a place, turned so that the coldest day comes first."""

    def __init__(self, daily):
        mean = list(daily.tmean)
        self.coldest = mean.index(min(mean))
        self.mean, self.high, self.sd, self.sd_high, self.rain, self.light = (
            list(curve[self.coldest :]) + list(curve[: self.coldest])
            for curve in (
                daily.tmean,
                daily.tmax,
                daily.sd,
                daily.sd_high,
                daily.precip_mm,
                year_of_day_lengths(round(daily.lat, 2)),
            )
        )
        north = daily.lat >= 0
        # 21 December and 22 September in the north, 21 June and 20 March in the south
        self.solstice = ((354 if north else 171) - self.coldest) % YEAR
        if self.solstice > 182:
            self.solstice -= YEAR
        self.equinox = ((264 if north else 78) - self.coldest) % YEAR

    def first(self, curve, limit):
        return next((day for day in range(YEAR) if curve[day] >= limit), curve.index(max(curve)))

    def last(self, curve, limit):
        return next((day for day in reversed(range(YEAR)) if curve[day] >= limit), curve.index(max(curve)))

    def limit(self, curve, wanted, below):
        return min(number(wanted), max(curve) - number(below))

    def event(self, day, curve=None):
        """The middle half of years: what the spread between years is worth in days on the slope of the curve."""
        if curve is None:
            return day, number("event_half_sun_days")
        at = round(day) % YEAR
        slope = abs(curve[(at + 7) % YEAR] - curve[(at - 7) % YEAR]) / 14
        half = 0.6745 * number("sd_season_share") * self.sd[at] / max(slope, 1e-3)
        return day, min(max(half, number("event_half_least_days")), number("event_half_most_days"))

    def sum_of_rain(self, start, end):
        return sum(self.rain[day % YEAR] for day in range(start, end))


def events(daily):
    """Return {event: (day, half) or (start, end) or None} of a place."""
    p, n = Place(daily), number
    found = {}
    winter = min(p.mean) < n("cluster_autumn_mean_c")
    cold = None
    if winter:
        autumn = p.limit(p.mean, "cluster_autumn_mean_c", "guard_below_warmest_c")
        cold = p.last(p.mean, autumn) + 1
        found["cold_start"] = p.event(cold, p.mean)
        guard = p.limit(p.mean, "mouse_guard_mean_c", "guard_below_warmest_c")
        found["mouse_guards_on"] = p.event(min(p.last(p.mean, guard) + 1, cold), p.mean)
        if min(p.mean) < n("wrap_coldest_c"):
            wrap = p.limit(p.mean, "wrap_on_mean_c", "guard_below_warmest_c")
            found["winter_wrap_on"] = p.event(p.last(p.mean, wrap) + 1, p.mean)
        # the pause: short days round the solstice, at least so long, or hard cold, but not before the cluster
        middle = p.solstice + YEAR
        start, end, curve = middle - n("brood_pause_least_days"), middle + n("brood_pause_least_days"), None
        for day in range(YEAR):
            if p.light[day] < n("brood_pause_day_length_h"):
                turned = day + YEAR if day <= 182 else day
                start, end = min(start, turned), max(end, turned)
        if min(p.mean) < n("cold_winter_mean_c"):
            chilled = p.last(p.mean, p.limit(p.mean, "cold_winter_mean_c", "guard_below_warmest_c")) + 1
            if chilled < start:
                start, curve = chilled, p.mean
        found["broodless_start"] = p.event(max(start, cold), curve)
        found["broodless_end"] = p.event(end - YEAR)
        # spring
        loosened = p.first(p.mean, p.limit(p.mean, "cluster_spring_mean_c", "pollen_below_warmest_c"))
        by_sun = p.solstice + n("cluster_after_solstice_days")
        out = max(loosened, min(p.first(p.mean, autumn), by_sun))
        found["end_of_cluster"] = p.event(out, p.mean)
        often = NormalDist().inv_cdf(n("pollen_share"))
        reach = [h - often * s for h, s in zip(p.high, p.sd_high, strict=True)]
        shed = p.first(reach, p.limit(p.high, "pollen_high_c", "pollen_below_warmest_c"))
        pollen = p.event(max(shed, p.solstice + n("pollen_after_solstice_days")), p.high)
        found["first_pollen"] = pollen
        if found["broodless_end"][0] > pollen[0]:
            found["broodless_end"] = pollen
        brood = (pollen[0] + n("build_up_days"), pollen[1])
        found["spring_build_up_start"] = brood if brood[0] >= found["end_of_cluster"][0] else found["end_of_cluster"]
        often = NormalDist().inv_cdf(n("inspection_share"))
        reach = [h - often * s for h, s in zip(p.high, p.sd_high, strict=True)]
        warm = min(
            p.first(reach, n("inspection_high_c")), p.first(p.high, max(p.high) - n("inspection_below_warmest_c"))
        )
        found["first_full_inspection"] = p.event(max(warm, out + n("inspection_after_cluster_days")), p.high)
        opens = p.first(p.high, p.limit(p.high, "syrup_open_high_c", "syrup_open_below_warmest_c"))
        found["syrup_opens"] = p.event(max(opens, pollen[0]), p.high)
        bare = p.first(p.mean, p.limit(p.mean, "unwrap_mean_c", "guard_below_warmest_c"))
        found["unwrap"] = p.event(max(bare, out), p.mean)
    else:
        start = p.solstice + n("mild_build_up_after_solstice_days")
        found["spring_build_up_start"] = found["first_full_inspection"] = (start, n("event_half_most_days"))
        found["syrup_opens"] = (0.0, 0.0)
    # swarming
    ready = (found["spring_build_up_start"][0] + n("swarm_after_build_up_days"), found["spring_build_up_start"][1])
    warm = p.first(p.mean, p.limit(p.mean, "swarm_mean_c", "swarm_below_warmest_c"))
    swarm = p.event(warm, p.mean) if warm > ready[0] else ready
    longest = p.solstice + 182.5 + n("swarm_after_solstice_days")
    over = max(min(swarm[0] + n("swarm_length_days"), longest), swarm[0] + n("swarm_least_days"))
    found["swarm_season_start"], found["swarm_season_end"] = swarm, (over, swarm[1])
    # the main flow
    flow_limit = p.limit(p.mean, "flow_mean_c", "flow_below_warmest_c")
    flow = (swarm[0] + n("flow_after_swarm_days"), swarm[1])
    if p.first(p.mean, flow_limit) > flow[0]:
        flow = p.event(p.first(p.mean, flow_limit), p.mean)
    until_cool = max(p.last(p.mean, flow_limit) - flow[0], n("flow_least_days"))
    off = flow[0] + min(n("flow_length_days"), until_cool)
    found["main_flow_start"], found["main_flow_end"] = flow, (off, flow[1])
    second = _rains(p, flow[0], off) if not winter else None
    second = second or _second(p, off)
    if second:
        found["second_flow_start"], found["second_flow_end"] = p.event(second[0]), p.event(second[1])
    # the gap after the flow
    dry = p.sum_of_rain(int(off), int(off) + 60) / 2 < n("dearth_rain_mm")
    if max(p.mean) >= n("dearth_mean_c") or dry or (second and not winter):
        if second:
            end = second[0]
        else:
            end = p.last(p.mean, p.limit(p.mean, "dearth_end_mean_c", "guard_below_warmest_c"))
            if winter:
                end = min(end, cold - n("late_summer_autumn_days"))
            elif end >= 364:
                end = YEAR - n("mild_winter_half_days")
        if end - off >= n("dearth_least_days"):
            found["summer_dearth"] = (off, end)
    # late summer
    if winter:
        rearing = cold - n("winter_bees_lead_days")
        found["winter_bee_rearing"] = (rearing, cold)
        start = max(off, rearing - n("treatment_lead_days"))
        found["late_summer_mite_treatment"] = (start, max(rearing, start) + n("treatment_run_days"))
        stop = p.last(p.high, p.limit(p.high, "syrup_stop_high_c", "syrup_stop_below_warmest_c"))
        found["stop_syrup_by"] = p.event(min(stop, cold + 28), p.high)
    else:
        found["late_summer_mite_treatment"] = (off, off + n("treatment_mild_days"))
    return p, found


def _second(p, off):
    """Asters and goldenrod: warm enough two weeks before the equinox, and rain in the two months before it."""
    n, equinox = number, p.equinox
    if p.mean[(equinox - 14) % YEAR] < n("second_flow_mean_c"):
        return None
    if p.sum_of_rain(equinox - 60, equinox) < n("second_flow_rain_mm"):
        return None
    start = equinox
    for day in range(int(equinox - n("second_flow_lead_days")), equinox + 1):
        if p.mean[day % YEAR] <= n("second_flow_start_mean_c"):
            start = day
            break
    start = max(start, off + n("second_flow_gap_days"))
    end = min(start + n("second_flow_length_days"), p.last(p.mean, n("second_flow_end_mean_c")))
    return (start, end) if end - start >= n("second_flow_length_days") / 2 else None


def _rains(p, flow, off):
    """Without a winter: a dry flow, then summer rains, and plants that answer them."""
    n, wet = number, number("rains_mm_a_month") / 30
    days = range(int(flow), int(off))
    if sum(p.rain[day % YEAR] for day in days) / len(days) >= wet:
        return None
    rainy = [int(off) - 30 + i for i, day in enumerate(range(int(off) - 30, YEAR)) if p.rain[day] >= wet]
    if not rainy or rainy[0] >= p.equinox:
        return None
    start = max(
        rainy[0] + n("rains_to_flow_days"), rainy[-1] - n("flow_before_rains_end_days"), off + n("second_flow_gap_days")
    )
    end = min(start + n("second_flow_length_days"), 364)
    return (start, end) if end - start >= n("second_flow_length_days") / 2 else None


class Season:
    """Windows, phases and facts walked off the events of a place; ``later`` moves spring, ``given`` replaces middles."""

    def __init__(self, daily, later=0):
        self.daily = daily
        self.place, self.found = events(daily)
        if later:
            for name in SPRING:
                if name in self.found and name not in SPANS:
                    day, half = self.found[name]
                    self.found[name] = (day + later, half)
        self.winter = "cold_start" in self.found
        self._make()

    def day(self, name):
        return self.found[name][0]

    def _calendar(self, local):
        return round(local + self.place.coldest) % YEAR

    def shown(self, name):
        """(from, to) as days of the calendar year, or None."""
        if name not in self.found:
            return None
        a, b = self.found[name]
        first, last = (a, b) if name in SPANS else (a - b, a + b)
        return self._calendar(first), self._calendar(last)

    def _make(self):
        self.stretches = {
            name: [] for name in ("cold", "swarming", "flow", "dearth", "broodless", "winter_bees", "syrup")
        }

        def add(window, start, end):
            if end > start:
                self.stretches[window].append((self._calendar(start), round(end - start)))

        if self.winter:
            add("broodless", self.day("broodless_start"), self.day("broodless_end") + YEAR)
            add("cold", self.day("cold_start"), self.day("end_of_cluster") + YEAR)
            add("syrup", self.day("syrup_opens"), self.day("stop_syrup_by") + 1)
            add("winter_bees", *self.found["winter_bee_rearing"])
        add("swarming", self.day("swarm_season_start"), self.day("swarm_season_end"))
        add("flow", self.day("main_flow_start"), self.day("main_flow_end"))
        if "second_flow_start" in self.found:
            add("flow", self.day("second_flow_start"), self.day("second_flow_end"))
        if "summer_dearth" in self.found:
            add("dearth", *self.found["summer_dearth"])
        self.inside = {
            window: {(first + k) % YEAR for first, length in spans for k in range(length)}
            for window, spans in self.stretches.items()
        }

    def phases(self):
        """The phase of each day of the calendar year."""
        f, starts = self.found, []
        if self.winter:
            first = self.day("broodless_start") - YEAR
            starts += [("winter_cluster", first), ("late_winter", self.day("broodless_end"))]
            starts += [("early_build_up", self.day("first_pollen")), ("build_up", self.day("spring_build_up_start"))]
        else:
            first = -number("mild_winter_half_days")
            starts += [("mild_winter", first), ("early_build_up", self.day("spring_build_up_start"))]
            starts += [("build_up", self.day("spring_build_up_start") + number("build_up_days"))]
        starts += [("swarm_season", self.day("swarm_season_start")), ("main_flow", self.day("main_flow_start"))]
        after = self.day("main_flow_end")
        if "summer_dearth" in f:
            starts.append(("dearth", f["summer_dearth"][0]))
            after = f["summer_dearth"][1]
        if not self.winter and "second_flow_start" in f:
            starts.append(("main_flow", self.day("second_flow_start")))
            after = self.day("second_flow_end")
        starts.append(("late_summer", after))
        end = YEAR + first if not self.winter else self.day("cold_start")
        starts.append(("autumn", end - number("late_summer_autumn_days")))
        if self.winter:
            starts.append(("early_winter", self.day("cold_start")))
        begin, latest, phase = round(first), round(first), [""] * YEAR
        for name, day in starts:  # each phase runs to the end of the year until the next takes over
            latest = max(latest, round(day))
            for local in range(latest, begin + YEAR):
                phase[(local + self.place.coldest) % YEAR] = name
        return phase

    def brood(self, today):
        local = (today - self.place.coldest) % YEAR
        if today in self.inside["broodless"]:
            return "none"
        if self.winter:
            if local < self.day("spring_build_up_start") or local >= self.day("cold_start"):
                return "little"
            if local < self.day("swarm_season_start"):
                return "rising"
            return "falling" if local >= self.found["winter_bee_rearing"][0] else "full"
        if local < self.day("swarm_season_start"):
            return "rising"
        return "falling" if local >= YEAR - 2 * number("mild_winter_half_days") else "full"

    def weeks_to(self, window, today):
        if not self.stretches[window]:
            return 99.0
        return next(k for k in range(YEAR + 1) if (today + k) % YEAR in self.inside[window]) / 7

    def weeks_left(self, curve, limit, today):
        """Days from today to the day before the next coldest day that reach the limit; on the coldest day, a whole year."""
        if min(curve) >= limit:
            return YEAR / 7
        days, count = today, 0
        while True:
            count += curve[days % YEAR] >= limit
            days += 1
            if days % YEAR == self.place.coldest:
                return count / 7

    def weeks_to_forage(self, today):
        if today in self.inside["dearth"]:
            first, length = self.stretches["dearth"][0]
            return ((first + length - today) % YEAR) / 7
        if not self.winter:
            return 0.0
        local = (today - self.place.coldest) % YEAR
        if local >= self.day("cold_start"):
            local -= YEAR
        return max(self.day("spring_build_up_start") - local, 0) / 7

    def syrup_weeks(self, today):
        if not self.stretches["syrup"]:
            return 99.0
        first, length = self.stretches["syrup"][0]
        since = (today - first) % YEAR
        return max(length - since, 0) / 7

    def facts(self, today):
        tmean, tmax = list(self.daily.tmean), list(self.daily.tmax)
        windows = ("cold", "swarming", "flow", "dearth", "broodless", "winter_bees")
        return {
            "season.phase": self.phases()[today],
            "season.brood": self.brood(today),
            **{f"season.{window}": today in self.inside[window] for window in windows},
            "season.weeks_above_15": self.weeks_left(tmax, 15, today),
            "season.weeks_mean_above_15": self.weeks_left(tmean, 15, today),
            "season.weeks_high_above_10": self.weeks_left(tmax, 10, today),
            "season.weeks_to_winter": self.weeks_to("cold", today),
            "season.weeks_to_forage": self.weeks_to_forage(today),
            "season.weeks_to_winter_bees": self.weeks_to("winter_bees", today),
            "season.weeks_to_swarming": self.weeks_to("swarming", today),
            "season.weeks_to_flow": self.weeks_to("flow", today),
            "season.syrup_weeks_left": self.syrup_weeks(today),
        }

    def days_to(self, name, date):
        """Days to the middle of the nearest, or to a stretch (0 inside it, negative since its end)."""
        if name not in self.found:
            return 999
        first = self.shown(name)[0]
        if name not in SPANS:
            middle = self._calendar(self.day(name))
            plain = dt.date(2023, 1, 1) + dt.timedelta(middle)
            dates = [plain.replace(year=date.year + k) for k in (-1, 0, 1)]
            return min(((d - date).days for d in dates), key=lambda x: (abs(x), x))
        a, b = self.found[name]
        length, today = round(b - a), (date - dt.date(date.year, 1, 1)).days
        inside = {(first + k) % YEAR for k in range(length + 1)}
        if today in inside:
            return 0
        ahead = next(k for k in range(YEAR) if (today + k) % YEAR in inside)
        behind = next(k for k in range(YEAR) if (today - k) % YEAR in inside)
        return ahead if ahead <= behind else -behind

"""Mite facts from counts: rate, chance over the limit, points, projection, and whether the last course worked."""

from __future__ import annotations

import numpy as np

from hiveweek.colony import mites, points, population
from hiveweek.colony.estimate import Estimate
from hiveweek.colony.year import NO_WEEKS
from hiveweek.facts.carried_mites import carried_level
from hiveweek.facts.estimate_inputs import EstimateContext, days_so_far, fill, is_word, number, on_day
from hiveweek.facts.table import FactTable
from hiveweek.numbers import Branch, Numbers

DECIDING = "limit.mites_deciding"
LIMITS = tuple(  # limits of rules that the models read too
    f"{DECIDING}.{name}"
    for name in ("spring", "summer", "autumn", "late_summer", "broodless", "weeks_before_winter_bees")
)


def add_mites(table: FactTable, context: EstimateContext, past, ahead) -> None:
    """Set the mite facts of every hive from its last count, carried on to today."""
    p = context.p
    limit = limit_in_force(table, context.numbers)
    level = carried_level(table, context, past)
    fill(table, context, "mites.per_100", *level.rate, origin=level.origin)
    fill(table, context, "mites.per_100_low", level.rate.low, origin=level.origin)
    fill(table, context, "mites.per_100_high", level.rate.high, origin=level.origin)
    over = level.chance_over
    fill(table, context, "mites.chance_over_limit", over(limit))
    fill(table, context, "mites.treat_pts", points.treating(over, _season(table, p), p=p))
    found, sampled = number(table, "mites.sample_mites"), number(table, "mites.sample_bees")
    found = np.where(found <= sampled, found, np.nan)
    fill(table, context, "mites.more_bees", mites.more_bees(found, sampled, limit, p=p))
    days = number(table, "season.weeks_to_winter_bees") * 7
    days = np.where(days > NO_WEEKS * 7, np.nan, np.minimum(np.round(days), 365.0))
    idle = on_day(days_so_far(ahead.laying == 0), np.nan_to_num(days, nan=0.0).astype(int))
    broodless = np.where(np.isnan(days), np.nan, idle)
    column = table.column("mites.per_100")
    later = mites.grow(Estimate(column.value, column.low, column.high), days - broodless, broodless, p=p)
    # A colony that grows spreads its mites over more bees; one whose bees are not known is taken as it is.
    bees = number(table, "colony.bees")
    with np.errstate(divide="ignore", invalid="ignore"):
        thinner = bees / population.later_bees(bees, np.nan, days, ahead.laying, ahead.dying, p=p)
    thinner = np.minimum(np.nan_to_num(thinner, nan=1.0), 1.0)
    held = [np.minimum(x, p.mites.level_most) for x in (later.value * thinner, later.low * thinner, later.high)]
    fill(table, context, "mites.per_100_at_winter_bees", *held)
    fill(table, context, "mites.efficacy_pct", *_efficacy(table, context))


def limit_in_force(table: FactTable, numbers: Numbers) -> np.ndarray:
    """Return the mites per 100 bees at which the rules (``mites_deciding``) ask for treatment of each hive at this time.

    Parameters
    ----------
    table : FactTable
        Season and brood of each hive.
    numbers : Numbers
        With the limits of the rules; without them, and where the season is not known, the declared default counts.

    Returns
    -------
    ndarray, shape (hives,)
        Without brood the limit of the broodless hive; else that of late summer from the declared weeks before winter bees
        are reared to the end of rearing, and outside them by the usual brood: rising spring, full (or rising in a flow)
        summer, falling autumn, little or none spring as the year begins, else autumn. A moved limit counts as moved.
    """
    limit = np.full(len(table), numbers.model.mites.count_limit_default)
    if any(name not in numbers for name in LIMITS):
        return limit
    limits = numbers.branch(DECIDING)
    weeks = number(table, "season.weeks_to_winter_bees")
    near = (number(table, "season.winter_bees") == 1) | (weeks <= limits.weeks_before_winter_bees)
    far = weeks > limits.weeks_before_winter_bees
    brood = {word: is_word(table, "season.brood", word) == 1 for word in population.BROOD_STATES}
    flow = number(table, "season.flow") == 1
    # Little brood is the first of the year then, not the last.
    begins = np.isin(number(table, "season.phase"), list(table.vocabulary.facts["season.phase"].codes("year_begins")))
    few = brood["none"] | brood["little"]
    for holds, name in (
        (far & (brood["rising"] | (few & begins)) & ~flow, "spring"),
        (far & (brood["full"] | (brood["rising"] & flow)), "summer"),
        (far & ((few & ~begins) | brood["falling"]), "autumn"),
        (near & ~brood["none"], "late_summer"),
        (near & brood["none"], "broodless"),
        (_broodless(table), "broodless"),
    ):
        limit = np.where(holds, getattr(limits, name), limit)
    return np.clip(limit, 1e-6, 100.0)


def _broodless(table: FactTable) -> np.ndarray:
    """Tell where no brood was seen, as the rules read it; brood seen, eggs or fresh cappings speak against it."""
    frames, sealed = number(table, "colony.frames_of_brood"), number(table, "colony.sealed_brood")
    eggs, cappings = number(table, "colony.eggs"), number(table, "colony.fresh_cappings_on_tray")
    young = is_word(table, "colony.youngest_brood", "none") == 0
    none = (frames == 0) | ((sealed == 0) & (eggs == 0))
    none |= (number(table, "season.broodless") == 1) & ((cappings == 0) | (sealed == 0))
    return none & ~((frames > 0) | (sealed == 1) | (eggs == 1) | (cappings == 1) | young)


def _season(table: FactTable, p: Branch) -> np.ndarray:
    """Place in ``points.SEASONS`` of each hive; where a climate has no winter, every day counts as late summer."""
    weeks = number(table, "season.weeks_to_winter_bees")
    late = (weeks <= p.mites.late_summer_weeks) | (number(table, "season.winter_bees") == 1) | (weeks > NO_WEEKS)
    reared = list(table.vocabulary.facts["season.phase"].codes("after_winter_bees"))
    behind = (weeks > p.mites.winter_bees_behind_weeks) | np.isin(number(table, "season.phase"), reared)
    season = np.where(late, 1.0, np.where(behind, 2.0, 0.0))
    return np.where(np.isnan(weeks), np.nan, season)


def _efficacy(table: FactTable, context: EstimateContext) -> Estimate:
    """Compare the last sample before the last course with the first sample after it."""
    p = context.p
    n = len(table)
    before, after, gap = np.full((2, n), np.nan), np.full((2, n), np.nan), np.full(n, np.nan)
    starts, ends = context.history.acts("treatment"), context.history.acts("treatment_end")
    for hive in range(n):
        if not starts[hive]:
            continue
        begun = starts[hive][-1]
        ended = next((day for day in ends[hive] if day >= begun), None)
        if ended is None:
            continue
        bees = dict(context.history.entries(hive, "mites.sample_bees"))
        counts = [
            (day, x, bees[day])
            for day, x in context.history.entries(hive, "mites.sample_mites")
            if bees.get(day, 0) >= max(x, 1)
        ]
        earlier = [c for c in counts if begun - p.mites.mite_pairs_days <= c[0] <= begun]
        # What lay long has killed what it will: a count soon after it can tell. A short course still works on.
        wait = 1 if ended - begun >= p.mites.mite_long_course_days else p.mites.mite_after_days
        later = [c for c in counts if ended + wait <= c[0] <= ended + p.mites.mite_pairs_days]
        if earlier and later:
            before[:, hive], after[:, hive] = earlier[-1][1:], later[0][1:]
            gap[hive] = min(later[0][0] - earlier[-1][0], 400)
    share = 1.0 - np.nan_to_num(number(table, "season.broodless"), nan=0.0)
    first, second = (Estimate(*(100 * x for x in mites.exact_interval(*pair))) for pair in (before, after))
    return mites.efficacy(first, second, gap, share, p=p)

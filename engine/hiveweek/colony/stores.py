"""Stores seen some days ago, carried on to today."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from hiveweek.colony import heat, population
from hiveweek.colony.edge import numbers
from hiveweek.colony.estimate import Z95, Estimate, estimate
from hiveweek.colony.food import Days, use_kg
from hiveweek.numbers import Branch, shipped


def carry_forward(
    stores: Estimate,
    days: ArrayLike,
    bees: ArrayLike,
    cells: ArrayLike,
    w_per_k: ArrayLike,
    past: Days,
    *,
    fed_kg: ArrayLike | None = None,
    room_c: ArrayLike = np.nan,
    bees_sd: ArrayLike = 0.0,
    holds_kg: ArrayLike = np.inf,
    p: Branch | None = None,
) -> Estimate:
    """Stores today, from stores seen some days ago.

    Parameters
    ----------
    stores : Estimate
        kg as seen (an exact sighting may have low = value = high).
    days : array_like of float, shape (hives,)
        Days since they were seen; NaN gives NaN.
    bees, cells : array_like of float
        Adults and brood cells now; unknown cells are taken as usual on each day.
    past : Days
        The days gone by, the last entry being yesterday.
    fed_kg : ndarray, shape (hives,), optional
        Sugar given since; it enters as 0.93 to 1.25 kg of stores a kg [W16, W108].
    bees_sd : array_like of float
        Relative spread that an old count of bees adds.
    holds_kg : array_like of float
        What the boxes hold when every comb is full.

    Returns
    -------
    Estimate
        kg today: less each day's use, plus what is usually found outside. On days of a usual flow the upper end grows by
        ``flow_gain_kg_day`` (of a colony of ``flow_gain_bees``), on other days of the season as in a good year; a longer gap
        always widens the interval until it meets zero and what the boxes hold. Unknown where bees are unknown, beyond the
        days gone by, and where the interval runs from nothing to ``nothing_known_share`` of what the boxes hold.
    """
    p = p or shipped().model
    value, low, high = (numbers("stores", x, 0, 250, "kg") for x in stores)
    days = numbers("days since stores were seen", days, 0, 4000, "days")
    bees = numbers("bees", bees, 0, 200_000, "bees")
    cells = numbers("brood cells", cells, 0, 200_000, "cells")
    loss = numbers("heat loss of the hive", w_per_k, 0.05, 20, "W/K")
    room = numbers("room", room_c, -30, 50, "degC")
    fed = numbers("sugar given", 0.0 if fed_kg is None else fed_kg, 0, 250, "kg")
    aged = numbers("spread of the bees", bees_sd, 0, 5, unknown_ok=False)
    value, low, high, days, bees, cells, loss, room, fed, aged, holds = np.broadcast_arrays(
        value, low, high, np.round(days), bees, cells, loss, room, fed, aged, np.asarray(holds_kg, dtype=float)
    )
    share = heat.cluster_share(p)
    usable = days <= len(past)
    oldest = int(np.max(np.where(usable, days, 0), initial=0))
    used = np.zeros(value.shape)
    found = np.zeros(value.shape)
    most = np.zeros(value.shape)
    least = heat.least_w(bees, p)
    full = population.usual_cells(bees, 1.0, p)
    guessed = np.isnan(cells)
    income = p.food["season_income_share"]
    better = income.high / income.value - 1.0  # of what is found in a usual year, so much more in a good one
    for ago in range(oldest, 0, -1):
        i = len(past) - ago
        on = usable & (days >= ago)
        brood = np.where(guessed, full * past.laying[i], cells)
        here = np.where(np.isnan(room), past.outdoor_c[i], np.maximum(room, past.outdoor_c[i]))
        use = np.where(on, use_kg(bees, brood, here, loss, p, share, least), 0.0)
        used = used + use
        found = found + use * past.income[i]
        gained = p.food.flow_gain_kg_day * bees / p.food.flow_gain_bees
        most = most + np.where(on, gained, 0.0) * past.flow[i] + use * past.income[i] * better * (1.0 - past.flow[i])
    rate = p.food["stores_per_sugar"]
    sd = np.hypot(np.where(np.isnan(cells), p.food.use_sd_brood_unknown, p.food.use_sd), p.food.use_by_bees * aged)
    seen = np.where(days >= 1, p.hive.stores_estimate_sd * value, 0.0)
    noise = Z95 * np.hypot(seen, sd * used)
    mid = value - used + found + fed * rate.value
    below = np.hypot(noise, value - low) + found + fed * (rate.value - rate.low)
    above = np.hypot(noise, high - value) + most + fed * (rate.high - rate.value)
    most_kg = np.fmax(holds, value)
    nothing = (mid - below <= 0) & (mid + above >= p.food.nothing_known_share * most_kg)
    gone = (~usable | nothing | np.isnan(bees)) & (days > 0)
    mid = np.where(gone | np.isnan(days), np.nan, mid)
    low, high = np.minimum(mid - below, most_kg), np.minimum(mid + above, most_kg)
    return estimate(np.minimum(mid, most_kg), low, high)

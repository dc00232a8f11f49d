"""Bees and brood through the days."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from hiveweek.colony.edge import numbers
from hiveweek.colony.estimate import Estimate, estimate
from hiveweek.numbers import Branch, shipped

BROOD_STATES = ("none", "little", "rising", "full", "falling")


def brood_share(state: ArrayLike, *, p: Branch | None = None) -> np.ndarray:
    """Share of full laying that a colony usually does in a season's brood state.

    Parameters
    ----------
    state : array_like of float
        Place in ``BROOD_STATES``; NaN gives NaN.
    """
    p = p or shipped().model
    state = numbers("brood state", state, 0, len(BROOD_STATES) - 1)
    shares = np.array([getattr(p.bees, f"brood_share_{name}") for name in BROOD_STATES])
    known = ~np.isnan(state)
    return np.where(known, shares[np.where(known, state, 0).astype(int)], np.nan)


def eggs_a_day(bees: np.ndarray, share: np.ndarray | float, p: Branch | None = None) -> np.ndarray:
    """Eggs reared a day: share x L N / (w + N), the form of Khoury et al. 2011 [W104] with its own L and w [W34]."""
    p = p or shipped().model
    return share * p.bees.laying_most * bees / (p.bees.laying_half_bees + bees)


def usual_cells(bees: np.ndarray, share: np.ndarray | float, p: Branch | None = None) -> np.ndarray:
    """Brood cells that a colony of so many bees usually has at this share of laying."""
    p = p or shipped().model
    return eggs_a_day(bees, share, p) * p.bees.brood_days * p.bees.brood_survives


def step(
    bees: np.ndarray, cells: np.ndarray, share: np.ndarray, dying: np.ndarray, p: Branch
) -> tuple[np.ndarray, np.ndarray]:
    """Return bees and cells a day later.

    Cells fill with the season's laying and empty over the 21 days of development; adults die at the day's rate.
    """
    emerging = cells / p.bees.brood_days
    return bees * (1.0 - dying) + emerging, cells - emerging + eggs_a_day(bees, share, p) * p.bees.brood_survives


def death_rate(worn: ArrayLike, *, p: Branch | None = None) -> np.ndarray:
    """Deaths of adults a day: from winter bees at rest (worn 0) to summer bees in full rearing (worn 1) [W101, W113]."""
    p = p or shipped().model
    worn = numbers("wear", worn, 0, 1)
    return p.bees.death_winter_per_day + (p.bees.death_summer_per_day - p.bees.death_winter_per_day) * worn


def carry_forward(
    bees: ArrayLike,
    cells: ArrayLike,
    days: ArrayLike,
    shares: np.ndarray,
    dying: np.ndarray,
    *,
    idle: ArrayLike = 0.0,
    p: Branch | None = None,
) -> tuple[Estimate, Estimate]:
    """Bees and brood some days after they were counted.

    Parameters
    ----------
    bees, cells : array_like of float, shape (hives,)
        As counted. Unknown cells are taken as usual for the season; unknown bees give unknown results.
    days : array_like of float, shape (hives,)
        Days since, 0 to 366; NaN gives NaN.
    shares, dying : array_like of float, shape (366 or more,)
        Share of full laying and death rate on each past day, the last entry being yesterday.
    idle : array_like of float
        Days after the count in which nothing was laid: no brood was found then, or there is no queen.

    Returns
    -------
    (Estimate, Estimate)
        Bees and cells today. The interval tells how far a colony may have gone another way since: it widens with the root of
        the days; the error of the count itself is not in it. Sources at ``death_*``, ``carry_sd_*``.
    """
    p = p or shipped().model
    bees = numbers("bees", bees, 0, 200_000, "bees")
    cells = numbers("brood cells", cells, 0, 200_000, "cells")
    days = numbers("days since the count", days, 0, 366, "days")
    shares = numbers("share of laying", shares, 0, 2, unknown_ok=False)
    dying = numbers("death rate", dying, 0, 1, unknown_ok=False)
    days = np.where(np.isnan(days), np.nan, np.round(days))
    oldest = int(np.nanmax(days)) if np.any(~np.isnan(days)) else 0
    if oldest > len(shares):
        raise ValueError(f"shares of laying reach back {len(shares)} days, {oldest} are needed")
    now_bees = bees + 0.0 * days
    now_cells = cells + 0.0 * days
    for ago in range(oldest, 0, -1):
        begun = days >= ago
        share = np.where(ago > days - idle, 0.0, shares[len(shares) - ago])
        start = begun & np.isnan(now_cells)
        now_cells = np.where(start, usual_cells(now_bees, share, p), now_cells)
        b, c = step(now_bees, now_cells, share, dying[len(shares) - ago], p)
        now_bees = np.where(begun, b, now_bees)
        now_cells = np.where(begun, c, now_cells)
    spread = bees_spread(days, p)
    wider = cells_spread(days, p)

    def banded(x, width):
        return estimate(x, x * np.maximum(0.0, 1.0 - width), x * (1.0 + width))

    return banded(now_bees, spread), banded(now_cells, wider)


def bees_spread(days: np.ndarray, p: Branch) -> np.ndarray:
    """Half the width of the interval of a count so many days old, as a share of it."""
    return 1.96 * p.bees.carry_sd_per_root_day * np.sqrt(days)


def cells_spread(days: np.ndarray, p: Branch) -> np.ndarray:
    """Return the same for brood; the queen may have changed her pace since."""
    return bees_spread(days, p) + p.bees.carry_cells_sd_per_day * days


def later_bees(
    bees: ArrayLike,
    cells: ArrayLike,
    days: ArrayLike,
    shares: np.ndarray,
    dying: np.ndarray,
    *,
    p: Branch | None = None,
) -> np.ndarray:
    """Bees some days ahead.

    Parameters
    ----------
    bees, cells : array_like of float, shape (hives,)
        Today; unknown cells are taken as usual for the season.
    days : array_like of float, shape (hives,)
        Days ahead, 0 to 400; NaN gives NaN.
    shares, dying : array_like of float
        Share of full laying and death rate from today on.
    """
    p = p or shipped().model
    bees = numbers("bees", bees, 0, 200_000, "bees")
    cells = numbers("brood cells", cells, 0, 200_000, "cells")
    days = np.round(numbers("days ahead", days, 0, 400, "days"))
    bees, cells, days = np.broadcast_arrays(
        bees, np.where(np.isnan(cells), usual_cells(bees, shares[0], p), cells), days
    )
    out = np.where(days == 0, bees, np.nan)
    last = int(np.nanmax(days)) if np.any(~np.isnan(days)) else 0
    for day in range(last):
        bees, cells = step(bees, cells, shares[day], dying[day], p)
        out = np.where(days == day + 1, bees, out)
    return out

"""Frames, combs, hefts and weights turned into bees, brood cells and kilograms of stores."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from hiveweek.colony.edge import numbers
from hiveweek.colony.estimate import Estimate, estimate
from hiveweek.numbers import Branch, shipped

HEFTS = ("light", "middling", "heavy")
# Brood boxes of each size of hive; a nuc is one, of less area.
BOXES = {"nuc": 1.0, "single": 1.0, "one_and_half": 1.5, "double": 2.0, "triple": 3.0}
SIZES = tuple(BOXES)


def bees(frames: ArrayLike, comb_dm2: ArrayLike, *, p: Branch | None = None) -> Estimate:
    """Bees on frames fully covered on both sides.

    Parameters
    ----------
    frames : array_like of float
        Frames of bees (both sides), 0 to 100. NaN gives NaN.
    comb_dm2 : array_like of float
        One side of a comb, dm2 (1 to 30): a deep 8.8, a medium 5.9, a shallow 5.0. NaN gives NaN.

    Returns
    -------
    Estimate
        Bees; the interval takes the published densities and the error of a keeper's count.

    Raises
    ------
    BadNumber
        Outside the ranges.

    Notes
    -----
    130 bees/dm2 of one side [W34, W40]; a deep holds 1,900 in one layer and 2,430 at capacity [W43].
    """
    p = p or shipped().model
    frames = numbers("frames of bees", frames, 0, 100, "frames")
    comb_dm2 = numbers("comb side", comb_dm2, 1, 30, "dm2")
    sides = 2.0 * frames * comb_dm2
    density = p.bees["bees_per_dm2"]
    counted = 1.96 * p.bees.seam_count_sd
    down = np.hypot(counted, 1 - density.low / density.value)
    up = np.hypot(counted, density.high / density.value - 1)
    value = sides * density.value
    return estimate(value, value * (1 - down), value * (1 + up))


def brood_cells(frames: ArrayLike, comb_dm2: ArrayLike, *, p: Branch | None = None) -> Estimate:
    """Cells with brood of any age on frames of brood.

    Parameters
    ----------
    frames : array_like of float
        Frames of brood, 0 to 60; NaN gives NaN.
    comb_dm2 : array_like of float
        One side of a comb, dm2.

    Returns
    -------
    Estimate
        Worker cells: area x 400/dm2 [W34] x the share of cells that a frame called "of brood" fills (judgement).
    """
    p = p or shipped().model
    frames = numbers("frames of brood", frames, 0, 60, "frames")
    comb_dm2 = numbers("comb side", comb_dm2, 1, 30, "dm2")
    per_share = 2.0 * frames * comb_dm2 * p.bees.worker_cells_per_dm2
    fill = p.bees["brood_fill"]
    return estimate(per_share * fill.value, per_share * fill.low, per_share * fill.high)


def stores_from_frames(frames: ArrayLike, comb_dm2: ArrayLike, *, p: Branch | None = None) -> Estimate:
    """Kilograms of honey on full frames of stores.

    Parameters
    ----------
    frames : array_like of float
        Full frames (halves counted as halves), 0 to 100.
    comb_dm2 : array_like of float
        One side of a comb, dm2.

    Returns
    -------
    Estimate
        kg. 0.25 to 0.34 kg per dm2 of comb, both sides together [W14, W19, W11].
    """
    p = p or shipped().model
    frames = numbers("frames of stores", frames, 0, 100, "frames")
    area = frames * numbers("comb side", comb_dm2, 1, 30, "dm2")
    per = p.bees["honey_per_dm2"]
    return estimate(area * per.value, area * per.low, area * per.high)


def tare(size: ArrayLike, foam: ArrayLike, supers: ArrayLike, *, p: Branch | None = None) -> Estimate:
    """Weight of a hive with combs but without bees and food.

    Parameters
    ----------
    size : array_like of float
        Place in ``SIZES``; NaN gives NaN.
    foam : array_like of float
        1 for polystyrene boxes, 0 for wood; NaN counts as wood with the band of both.
    supers : array_like of float
        Supers on, 0 to 10; NaN counts as none, with half a super of doubt.
    """
    p = p or shipped().model
    size = numbers("hive size", size, 0, len(SIZES) - 1)
    foam = numbers("polystyrene walls", foam, 0, 1)
    supers = numbers("supers", supers, 0, 10)
    rows = [p.hive[f"tare_{name}_kg"] for name in SIZES]
    value, low, high = (_pick(size, [getattr(row, part) for row in rows]) for part in ("value", "low", "high"))
    share = p.hive["tare_polystyrene_share"]
    light = np.nan_to_num(foam, nan=0.0)
    value = value * np.where(light > 0, share.value, 1.0)
    low = low * np.where((light > 0) | np.isnan(foam), share.low, 1.0)
    high = high * np.where(light > 0, share.high, 1.0)
    each = p.hive["tare_super_kg"]
    on = np.nan_to_num(supers, nan=0.0)
    spare = np.where(np.isnan(supers), p.hive.super_spare, 0.0)
    return estimate(value + on * each.value, low + on * each.low, high + (on + spare) * each.high)


def stores_from_weight(
    weight_kg: ArrayLike, tare_kg: Estimate, bees_kg: Estimate, brood_kg: ArrayLike = 0.0, *, p: Branch | None = None
) -> Estimate:
    """Kilograms of stores in a hive that was weighed.

    Parameters
    ----------
    weight_kg : array_like of float
        The whole hive, 1 to 250 kg.
    tare_kg, bees_kg : Estimate
        Empty hive and its bees.
    brood_kg : array_like of float
        Weight of the brood.

    Returns
    -------
    Estimate
        Weight less hive, bees, brood and an allowance for pollen and wax [W44]; 0 where that is below 0; NaN where a
        part is unknown.
    """
    p = p or shipped().model
    weight = numbers("hive weight", weight_kg, 1, 250, "kg")
    extra = p.hive["pollen_wax_kg"]
    value = weight - tare_kg.value - bees_kg.value - brood_kg - extra.value
    below = np.sqrt(
        (tare_kg.high - tare_kg.value) ** 2 + (bees_kg.high - bees_kg.value) ** 2 + (extra.high - extra.value) ** 2
    )
    above = np.sqrt(
        (tare_kg.value - tare_kg.low) ** 2 + (bees_kg.value - bees_kg.low) ** 2 + (extra.value - extra.low) ** 2
    )
    return estimate(value, value - below, value + above)


def stores_from_heft(heft: ArrayLike, size: ArrayLike, *, p: Branch | None = None) -> Estimate:
    """Kilograms of stores behind a heft in words.

    Parameters
    ----------
    heft : array_like of float
        Place in ``HEFTS``; NaN gives NaN.
    size : array_like of float
        Place in ``SIZES``; NaN gives the band from a nuc to a double hive round a single.

    Notes
    -----
    Judgement; hefting ignores brood weight, which makes a hungry hive feel heavy in spring [W83].
    """
    p = p or shipped().model
    heft = numbers("heft", heft, 0, len(HEFTS) - 1)
    size = numbers("hive size", size, 0, len(SIZES) - 1)
    rows = [p.hive[f"heft_{name}_single_kg"] for name in HEFTS]
    shares = [1.0 if name == "single" else getattr(p.hive, f"heft_share_{name}") for name in SIZES]
    share = np.nan_to_num(_pick(size, shares), nan=1.0)
    least = np.where(np.isnan(size), p.hive.heft_share_nuc, share)
    most = np.where(np.isnan(size), p.hive.heft_share_double, share)
    value, low, high = (_pick(heft, [getattr(row, part) for row in rows]) for part in ("value", "low", "high"))
    return estimate(value * share, low * least, high * most)


def bees_mass_kg(count: Estimate, *, p: Branch | None = None) -> Estimate:
    """Weight of so many bees: 0.10 to 0.13 g each [W44]."""
    mass = (p or shipped().model).bees["bee_mass_g"]
    return estimate(count.value * mass.value / 1e3, count.low * mass.low / 1e3, count.high * mass.high / 1e3)


def _pick(code: ArrayLike, values: ArrayLike) -> np.ndarray:
    """Look codes up in a short list; NaN stays NaN."""
    code = np.asarray(code, dtype=float)
    known = ~np.isnan(code)
    return np.where(known, np.asarray(values, dtype=float)[np.where(known, code, 0).astype(int)], np.nan)

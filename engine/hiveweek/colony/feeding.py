"""Candy, sugar and syrup that make up what is missing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from hiveweek.colony.edge import numbers
from hiveweek.colony.estimate import Estimate, estimate
from hiveweek.numbers import Branch, shipped


@dataclass
class Feed:
    """What makes up a shortfall, one entry a hive (all kg or L; 0 where nothing is missing to the need or to the next check)."""

    candy_kg: np.ndarray
    sugar_kg: Estimate
    litres_thick: np.ndarray
    litres_thin: np.ndarray
    missing_share: np.ndarray


def feed_for(stores_kg: ArrayLike, need_kg: ArrayLike, use_check_kg: ArrayLike, *, p: Branch | None = None) -> Feed:
    """Candy, sugar and syrup that make up what is missing.

    Parameters
    ----------
    stores_kg, need_kg : array_like of float
        kg today and needed. NaN gives NaN.
    use_check_kg : array_like of float
        Use up to the next check.

    Notes
    -----
    Sugar = shortfall / 1.2 (0.93 to 1.25) kg stores per kg sugar [W16, W108]; 2:1 syrup holds 0.887 and 1:1 syrup 0.615 kg
    sugar a litre. Candy: what is missing to the next check, at least 1 kg, in half kilos (``candy_step_kg``). Thin syrup is for
    use, not for store: it makes up what is missing of the use up to the next check, never more than that use. Where the stores
    do not last to it, at least ``thin_share`` of the use, and no more than twice what is missing, so that a hive just under the line
    gets little.
    """
    p = p or shipped().model
    stores = numbers("stores", stores_kg, 0, 250, "kg")
    need = numbers("need", need_kg, 0, 250, "kg")
    check = numbers("use to the next check", use_check_kg, 0, 250, "kg")
    missing = np.maximum(need - stores, 0.0)
    rate = p.food["stores_per_sugar"]
    sugar = estimate(missing / rate.value, missing / rate.high, missing / rate.low)
    spell = np.minimum(np.maximum(check - stores, p.food.candy_least_kg), np.maximum(missing, p.food.candy_least_kg))
    hungry, step = stores < check, p.food.candy_step_kg
    candy = np.where((missing > 0) | hungry, np.ceil(spell / step) * step, 0.0)
    candy = np.where(np.isnan(missing + check), np.nan, candy)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(need > 0, (need - stores) / need, 0.0)
    share = np.where(np.isnan(need - stores), np.nan, share)
    bridge = np.minimum(check * p.food.thin_share, 2.0 * np.maximum(check - stores, 0.0))
    thin = np.maximum(np.minimum(missing, check), bridge) / rate.value
    return Feed(candy, sugar, sugar.value / p.food.sugar_per_litre_thick, thin / p.food.sugar_per_litre_thin, share)

"""Water in the hive: does it form under the lid?"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from hiveweek.climate.moist_air import dew_point_c, saturation_hpa
from hiveweek.colony import heat
from hiveweek.colony.edge import numbers
from hiveweek.numbers import Branch, shipped

GAS_VAPOUR = 216.68  # g K / (m3 hPa): grams of vapour in a cubic metre = 216.68 e / T


def vapour_g_m3(c: ArrayLike, rh_pct: ArrayLike) -> np.ndarray:
    """Water vapour in air, g/m3, of a temperature (-60 to 60 degC) and a relative humidity (0 to 100 percent)."""
    c = numbers("temperature", c, -60, 60, "degC")
    rh = numbers("relative humidity", rh_pct, 0, 100, "percent")
    return GAS_VAPOUR * saturation_hpa(c) * rh / 100.0 / (c + 273.15)


def water_g_day(honey_kg_day: ArrayLike, *, p: Branch | None = None) -> np.ndarray:
    """Water that bees give off for so much honey a day, g: 0.492 kg burned from 82 % sugars and 0.171 held, per kg [W76]."""
    return numbers("honey used", honey_kg_day, 0, 50, "kg/day") * (p or shipped().model).damp.water_per_kg_honey * 1e3


def surface_c(u: ArrayLike, inside_resistance: ArrayLike, air_c: ArrayLike, outdoor_c: ArrayLike) -> np.ndarray:
    """Inner face of a wall or lid, degC: air less U x Rsi x difference [W63]."""
    air = np.asarray(air_c, dtype=float)
    return air - np.asarray(u, dtype=float) * inside_resistance * (air - np.asarray(outdoor_c, dtype=float))


def lid_margin_c(
    heat_w: ArrayLike,
    honey_kg_day: ArrayLike,
    w_per_k: ArrayLike,
    outdoor_c: ArrayLike,
    outdoor_rh: ArrayLike,
    roof_board: ArrayLike,
    foam: ArrayLike,
    vent: ArrayLike,
    mesh: ArrayLike,
    *,
    p: Branch | None = None,
) -> np.ndarray:
    """How far the lid's inner face stays above the dew point of the air under it, K; below 0 water forms.

    Parameters
    ----------
    heat_w, honey_kg_day : array_like of float
        What the colony burns.
    w_per_k : array_like of float
        Heat loss of the hive.
    outdoor_c, outdoor_rh : array_like of float
        Outside air (degC, percent).
    roof_board, foam, mesh : array_like of float
        0 or 1: insulating board in the roof, polystyrene, open mesh floor.
    vent : array_like of float
        Upper opening: 0 none, 1 small, 2 large.

    Returns
    -------
    ndarray
        K; NaN where an input is unknown.

    Notes
    -----
    Vapour under the lid = outside vapour + water over airflow (declared for each opening); air under the lid stands between
    mean hive air and the core. Face temperature by U x Rsi. A rough model: read only its sign, within about 1.5 K.
    """
    p = p or shipped().model
    outdoor = numbers("outdoor temperature", outdoor_c, -60, 50, "degC")
    vent = numbers("upper opening", vent, 0, 2)
    board = numbers("roof board", roof_board, 0, 1)
    foam = numbers("polystyrene", foam, 0, 1)
    mesh = numbers("mesh floor", mesh, 0, 1)
    mean = heat.inside_c(heat_w, outdoor, w_per_k)
    air = mean + p.damp.lid_air_share * np.maximum(p.heat.core_broodless_c - mean, 0.0)
    flows = np.array([p.damp.airflow_closed_m3_day, p.damp.airflow_small_vent_m3_day, p.damp.airflow_large_vent_m3_day])
    known = ~np.isnan(vent)
    flow = (
        np.where(known, np.interp(np.where(known, vent, 0), [0, 1, 2], flows), np.nan)
        + mesh * p.damp.airflow_mesh_m3_day
    )
    grams = vapour_g_m3(outdoor, outdoor_rh) + water_g_day(honey_kg_day, p=p) / flow
    pressure = np.minimum(grams * (air + 273.15) / GAS_VAPOUR, saturation_hpa(np.clip(air, -60, 60)))
    material = (
        (1 - foam) * p.heat.ply_roof_thickness_m / p.heat.ply_roof_conductivity
        + foam * p.heat.foam_wall_thickness_m / p.heat.foam_wall_conductivity
        + board * p.heat.roof_insulation_m / p.heat.roof_insulation_conductivity
    )
    u = 1.0 / (p.heat.surface_inside_roof + material + p.heat.surface_outside)
    return surface_c(u, p.heat.surface_inside_roof, air, outdoor) - dew_point_c(pressure)

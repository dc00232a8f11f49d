"""Heat through the hive and heat the bees must make.

The hive is one body of air that loses heat to the outside through ``w_per_k``; bees and brood warm it. A cluster makes at
least its minimum, and more where its core would otherwise fall; brood is kept at its own temperature. Each of these is a
falling straight line of the hive's inside temperature, so the balance has a closed form: the largest of four lines.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from hiveweek.colony.edge import numbers
from hiveweek.numbers import Branch, shipped

SECONDS_A_DAY = 86_400.0


def hive_w_per_k(
    boxes: ArrayLike,
    foam: ArrayLike,
    roof_board: ArrayLike,
    wrap: ArrayLike,
    mesh: ArrayLike,
    vent: ArrayLike = 0.0,
    height_share: ArrayLike = 1.0,
    area_share: ArrayLike = 1.0,
    *,
    p: Branch | None = None,
) -> np.ndarray:
    """Heat a hive loses per degree, W/K.

    Parameters
    ----------
    boxes : array_like of float
        Brood boxes, 0.3 to 6. NaN gives NaN.
    foam, roof_board, wrap, mesh, vent : array_like of float
        Shares from 0 (no) to 1 (yes): polystyrene walls and roof; insulating board in the roof; wrap; open mesh floor;
        open upper vent. A share between stands for "not known". NaN gives NaN.
    height_share, area_share : array_like of float
        Box height against a deep box, outer area against a ten-frame box.

    Notes
    -----
    A bare single deep of 19 mm pine with a ply roof: walls 0.449 m2 x 3.05 + roof 0.210 m2 x 4.30 = 2.27 W/K; floor and
    vent are added as declared parameters.
    """
    p = p or shipped().model
    boxes = numbers("boxes", boxes, 0.3, 6)
    parts = [
        numbers(name, x, 0, 1)
        for name, x in (
            ("polystyrene", foam),
            ("roof board", roof_board),
            ("wrap", wrap),
            ("mesh floor", mesh),
            ("vent", vent),
        )
    ]
    foam, roof_board, wrap, mesh, vent = parts
    rsi, rse, roof_rsi = p.heat.surface_inside_wall, p.heat.surface_outside, p.heat.surface_inside_roof
    wood = p.heat.wood_thickness_m / p.heat.wood_conductivity
    eps = p.heat.foam_wall_thickness_m / p.heat.foam_wall_conductivity
    ply = p.heat.ply_roof_thickness_m / p.heat.ply_roof_conductivity
    board = p.heat.roof_insulation_m / p.heat.roof_insulation_conductivity

    def mixed(share, without, with_it):
        return (1 - share) * without + share * with_it

    def walls(material):
        return mixed(wrap, 1 / (rsi + material + rse), 1 / (rsi + material + p.heat.wrap_resistance + rse))

    def roof(material):
        return mixed(roof_board, 1 / (roof_rsi + material + rse), 1 / (roof_rsi + material + board + rse))

    wall_u = mixed(foam, walls(wood), walls(eps))
    roof_u = mixed(foam, roof(ply), roof(eps))
    sides = p.heat.wall_area_deep_box_m2 * boxes * np.asarray(height_share, dtype=float) * wall_u
    floor = mixed(mesh, p.heat.floor_solid_w_per_k, p.heat.floor_mesh_w_per_k)
    return (
        np.asarray(area_share, dtype=float) * (sides + p.heat.roof_area_m2 * roof_u + floor)
        + vent * p.heat.vent_w_per_k
    )


def least_w(bees: np.ndarray, p: Branch) -> np.ndarray:
    """Least heat of a cluster of so many bees, W.

    Notes
    -----
    O2 = 22.69 m^-0.479 mL/(g h) at 2 degC (Southwick 1985 [W73]) times 20.9 J/mL: 4.82 W at 1 kg. Measured for 5 g to
    1.2 kg; beyond that an extrapolation.
    """
    grams = bees * p.bees.bee_mass_g
    return p.heat.southwick_factor * np.power(grams, 1.0 + p.heat.southwick_exponent) * p.heat.oxygen_j_per_ml / 3600.0


def cluster_share(p: Branch) -> float:
    """Conductance of a cluster to the hive air per watt of its least heat, 1/K.

    Set so that the reference cluster (17,000 bees in a bare single of wood) just makes its least heat at the lower critical
    temperature; the conductance then grows with mass as the least heat does, so that small clusters feel cold earlier.
    """
    least = least_w(p.heat.lower_critical_bees, p)
    bare = float(hive_w_per_k(1.0, 0.0, 0.0, 0.0, 0.0, p=p))
    resistance = (p.heat.core_broodless_c - p.heat.lower_critical_c) / least - 1.0 / bare
    return 1.0 / (resistance * least)


def colony_heat_w(
    bees: ArrayLike, brood_cells: ArrayLike, outdoor_c: ArrayLike, w_per_k: ArrayLike, *, p: Branch | None = None
) -> np.ndarray:
    """Heat that bees and brood nest give, W.

    Parameters
    ----------
    bees, brood_cells : array_like of float
        Adults (0 to 200,000) and cells with brood (0 to 200,000). NaN gives NaN.
    outdoor_c : array_like of float
        Mean outdoor temperature of the day, -60 to 50 degC.
    w_per_k : array_like of float
        Heat loss of the hive, 0.05 to 20 W/K.

    Returns
    -------
    ndarray
        W, without the warm-weather activity of :func:`hiveweek.colony.food.daily_use`.

    Notes
    -----
    With inside air T = outdoor + Q / w_per_k: Q = max(least, C (core - T)) + max(0, K (34.5 - T)), the cluster conductance C
    from :func:`cluster_share` and the nest conductance K growing with cells to the power 2/3. Colder or draughtier never
    lowers it. Uncertain by about a quarter for one colony [W22].
    """
    bees = numbers("bees", bees, 0, 200_000, "bees")
    cells = numbers("brood cells", brood_cells, 0, 200_000, "cells")
    outdoor = numbers("outdoor temperature", outdoor_c, -60, 50, "degC")
    loss = numbers("heat loss of the hive", w_per_k, 0.05, 20, "W/K")
    p = p or shipped().model
    return heat_w(bees, cells, outdoor, loss, p, cluster_share(p))


def heat_w(
    bees: np.ndarray,
    cells: np.ndarray,
    outdoor: np.ndarray,
    loss: np.ndarray,
    p: Branch,
    share: float,
    least: np.ndarray | None = None,
    nest: np.ndarray | None = None,
) -> np.ndarray:
    """Balance of :func:`colony_heat_w` without checks, for loops over days; least and nest where already known."""
    least = least_w(bees, p) if least is None else least
    nest = nest_w_per_k(cells, p) if nest is None else nest
    cluster = share * least
    core = p.heat.core_broodless_c - outdoor
    brood = nest * (p.heat.core_brood_c - outdoor)
    quiet = np.maximum(least, cluster * core / (1 + cluster / loss))
    warm = np.maximum((least + brood) / (1 + nest / loss), (cluster * core + brood) / (1 + (cluster + nest) / loss))
    return np.maximum(quiet, warm)


def nest_w_per_k(cells: np.ndarray, p: Branch) -> np.ndarray:
    """Heat that a brood nest loses per degree to the hive air, W/K, growing with its surface (cells to the power 2/3)."""
    frame = 2.0 * p.bees.comb_side_deep_dm2 * p.bees.worker_cells_per_dm2 * p.bees.brood_fill
    return p.heat.brood_nest_w_per_k * np.cbrt(np.square(np.maximum(cells, 0.0) / frame))


def inside_c(heat: ArrayLike, outdoor_c: ArrayLike, w_per_k: ArrayLike) -> np.ndarray:
    """Mean temperature of the air in the hive, degC: outdoor + heat / loss."""
    return np.asarray(outdoor_c, dtype=float) + np.asarray(heat, dtype=float) / np.asarray(w_per_k, dtype=float)

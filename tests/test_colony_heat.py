"""Heat of hive and bees against physics worked by hand and published measurements."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hiveweek.colony import heat
from hiveweek.colony.edge import BadNumber
from hiveweek.numbers import shipped

BARE = float(heat.hive_w_per_k(1.0, 0.0, 0.0, 0.0, 0.0))


def test_conductance_of_a_box_is_walls_and_roof_and_floor():
    # Walls 0.4494 m2 x 3.05 + roof 0.2098 m2 x 4.30 = 2.27 W/K for one deep box, 3.64 for two; the floor stands apart.
    one, two = heat.hive_w_per_k([1.0, 2.0], 0.0, 0.0, 0.0, 0.0) - 0.2
    assert one == pytest.approx(2.27, abs=0.01)
    assert two == pytest.approx(3.64, abs=0.01)
    roofed = heat.hive_w_per_k([1.0, 2.0], 0.0, 1.0, 0.0, 0.0) - 0.2
    assert roofed == pytest.approx([1.49, 2.86], abs=0.01)
    foam = heat.hive_w_per_k(1.0, 1.0, 0.0, 0.0, 0.0) - 0.2
    assert foam == pytest.approx(0.52, abs=0.02)


def test_mass_over_conductance_of_a_wooden_hive():
    # Mitchell 2016: below 0.8 kg K/W for wooden hives; 1.5 kg of bees in a bare single.
    assert 0.5 < 1.5 / BARE < 0.8


@pytest.mark.parametrize(
    ("grams", "watts"), [(100, 1.45), (500, 3.36), (1000, 4.82), (1200, 5.30), (1500, 5.95), (2000, 6.91)]
)
def test_least_heat_by_southwick_1985(grams, watts):
    p = shipped().model
    assert heat.least_w(grams / p.bees.bee_mass_g, p) == pytest.approx(watts, abs=0.01)


def test_scale_hives_between_five_and_eight_watts():
    # A Czech scale-hive project: 1 to 1.5 kg a month, 5 to 8 W.
    w = heat.colony_heat_w([11_000.0, 18_000.0], 0.0, 0.0, BARE)
    assert w[0] >= 4.5 and w[1] <= 8.0


def test_reference_cluster_turns_at_its_lower_critical_temperature():
    at, above, below = heat.colony_heat_w(17_000.0, 0.0, np.array([-7.5, 0.0, -12.0]), BARE)
    assert at == pytest.approx(above, rel=1e-6)
    assert below > at * 1.1


def test_small_clusters_feel_cold_earlier():
    def rise(bees):
        cold, mild = heat.colony_heat_w(bees, 0.0, np.array([-10.0, 0.0]), BARE)
        return cold / mild

    assert rise(5_000.0) > rise(15_000.0) > rise(25_000.0)


def test_inside_temperature_of_a_resting_cluster():
    # 6 W in a bare single without floor loss warm its mean air by 6 / 2.27 = 2.6 K.
    assert heat.inside_c(6.0, 0.0, 2.27) == pytest.approx(2.64, abs=0.01)


sizes = st.floats(500, 60_000)
cells = st.floats(0, 60_000)
losses = st.floats(0.3, 6)


@given(sizes, cells, st.floats(-40, 5), losses, st.floats(0, 20), st.floats(0, 20_000))
def test_colder_or_more_bees_never_lower_the_heat(bees, brood, outdoor, loss, colder, more):
    here = heat.colony_heat_w(bees, brood, outdoor, loss)
    assert heat.colony_heat_w(bees, brood, outdoor - colder, loss) >= here - 1e-9
    assert heat.colony_heat_w(bees + more, brood, outdoor, loss) >= here - 1e-9


@given(sizes, cells, st.floats(-40, 35), losses, st.floats(0, 3))
def test_insulation_never_raises_the_heat(bees, brood, outdoor, loss, extra):
    assert (
        heat.colony_heat_w(bees, brood, outdoor, loss) <= heat.colony_heat_w(bees, brood, outdoor, loss + extra) + 1e-9
    )


@given(st.floats(0.5, 3), *(st.floats(0, 1) for _ in range(5)))
def test_board_wrap_and_foam_lower_conductance(boxes, foam, board, wrap, mesh, vent):
    here = heat.hive_w_per_k(boxes, foam, board, wrap, mesh, vent)
    assert heat.hive_w_per_k(boxes, foam, 1.0, wrap, mesh, vent) <= here + 1e-12
    assert heat.hive_w_per_k(boxes, foam, board, 1.0, mesh, vent) <= here + 1e-12
    assert heat.hive_w_per_k(boxes, 1.0, board, wrap, mesh, vent) <= here + 1e-12
    assert heat.hive_w_per_k(boxes, foam, board, wrap, 1.0, vent) >= here - 1e-12


def test_heat_balance_holds():
    # The closed form must satisfy its own balance: Q = max(least, C (core - T)) + max(0, K (34.5 - T)), T = outdoor + Q/UA.
    p = shipped().model
    bees, brood, outdoor, loss = 12_000.0, 6_000.0, -15.0, 2.5
    q = float(heat.colony_heat_w(bees, brood, outdoor, loss))
    inside = outdoor + q / loss
    least = float(heat.least_w(bees, p))
    cluster = heat.cluster_share(p) * least * (p.heat.core_broodless_c - inside)
    nest = float(heat.nest_w_per_k(brood, p)) * (p.heat.core_brood_c - inside)
    assert q == pytest.approx(max(least, cluster) + max(0.0, nest), rel=1e-9)


@pytest.mark.parametrize(
    "call",
    [
        lambda: heat.colony_heat_w(-1, 0, 0, 2),
        lambda: heat.colony_heat_w(10_000, 0, 99, 2),
        lambda: heat.colony_heat_w(10_000, 0, 0, 0),
        lambda: heat.hive_w_per_k(0.0, 0, 0, 0, 0),
    ],
)
def test_impossible_numbers_are_refused(call):
    with pytest.raises(BadNumber):
        call()

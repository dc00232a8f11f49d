"""Water in the hive against psychrometrics and stoichiometry."""

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hiveweek.climate import moist_air
from hiveweek.colony import damp

psychrolib.SetUnitSystem(psychrolib.SI)


def dew_point(c, rh):
    """Dew point of air at c degC with rh per cent humidity."""
    return moist_air.dew_point_c(moist_air.saturation_hpa(c) * rh / 100)


@pytest.mark.parametrize(
    ("c", "rh", "dew", "grams"),
    [
        # Worked with the WMO Magnus constants.
        (20, 50, 9.26, 8.62),
        (25, 50, 13.85, 11.48),
        (15, 75, 10.60, 9.60),
        (15, 60, 7.29, 7.68),
        (10, 80, 6.71, 7.51),
        (10, 70, 4.78, 6.57),
        (5, 80, 1.83, 5.43),
        (0, 85, -2.22, 4.12),
    ],
)
def test_dew_points_and_vapour(c, rh, dew, grams):
    assert dew_point(c, rh) == pytest.approx(dew, abs=0.01)
    assert damp.vapour_g_m3(c, rh) == pytest.approx(grams, abs=0.02)


@given(st.floats(1, 40), st.floats(20, 99))
def test_dew_point_against_ashrae(c, rh):
    # ASHRAE Fundamentals formulation in the psychrolib library; the two differ by less than 0.1 K above freezing.
    expected = psychrolib.GetTDewPointFromRelHum(c, rh / 100)
    if expected > 0.5:
        assert dew_point(c, rh) == pytest.approx(expected, abs=0.1)


def test_water_from_honey():
    # 12 lb (5.443 kg) of honey give about a US gallon (3.785 L) of water, a rule printed in the 1920s.
    assert damp.water_g_day(5.443) / 1000 == pytest.approx(3.785, rel=0.06)
    # 1 kg a month: 22 g a day; 3 kg: 66 g.
    assert damp.water_g_day(np.array([1 / 30, 3 / 30])) == pytest.approx([22, 66], abs=0.4)


def test_where_it_drips():
    # Air of 15 degC and 75 % under the lid, 0 degC outside: bare ply 8.54 degC is under the dew point of 10.60, 50 mm of foam
    # in the roof 14.12 degC is not, and the pine wall 9.06 degC takes the water instead.
    dew = dew_point(15, 75)
    assert (
        damp.surface_c(4.305, 0.10, 15, 0) == pytest.approx(8.54, abs=0.01) and damp.surface_c(4.305, 0.10, 15, 0) < dew
    )
    assert (
        damp.surface_c(0.587, 0.10, 15, 0) == pytest.approx(14.12, abs=0.01)
        and damp.surface_c(0.587, 0.10, 15, 0) > dew
    )
    assert damp.surface_c(3.05, 0.13, 15, 0) == pytest.approx(9.06, abs=0.01)


colony = {
    "heat_w": st.floats(3, 30),
    "honey_kg_day": st.floats(0.02, 0.3),
    "w_per_k": st.floats(0.5, 5),
    "outdoor_c": st.floats(-30, 11),
    "outdoor_rh": st.floats(40, 100),
}


@given(**colony)
def test_a_board_or_an_opening_never_makes_it_wetter(heat_w, honey_kg_day, w_per_k, outdoor_c, outdoor_rh):
    def margin(board, vent, mesh):
        return damp.lid_margin_c(heat_w, honey_kg_day, w_per_k, outdoor_c, outdoor_rh, board, 0.0, vent, mesh)

    assert margin(1, 0, 0) >= margin(0, 0, 0)
    assert margin(0, 2, 0) >= margin(0, 1, 0) >= margin(0, 0, 0)
    assert margin(0, 0, 1) >= margin(0, 0, 0)


def test_brood_in_a_bare_closed_hive_wets_the_lid():
    # Brood triples use (1 to 3 kg a month), so the water triples: a bare lid in frost goes wet, an insulated one much less.
    bare = damp.lid_margin_c(15.0, 0.1, 2.5, -5.0, 85.0, 0.0, 0.0, 0.0, 0.0)
    roofed = damp.lid_margin_c(15.0, 0.1, 1.7, -5.0, 85.0, 1.0, 0.0, 0.0, 0.0)
    assert bare < -3
    assert roofed > bare + 3


def test_unknown_stays_unknown():
    assert np.isnan(damp.lid_margin_c(6.0, 0.04, 2.5, 0.0, 85.0, np.nan, 0.0, 0.0, 0.0))
    assert np.isnan(damp.lid_margin_c(6.0, 0.04, 2.5, 0.0, 85.0, 0.0, 0.0, np.nan, 0.0))

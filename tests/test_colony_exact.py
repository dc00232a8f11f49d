"""Strength, mites, damp, and points, worked a second time by hand, scipy or quadrature."""

import math

import numpy as np
import psychrolib
import pytest
import reference_colony as plain
from colony_kit import assert_same, est, parts
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from hiveweek.colony import damp, mites, points, strength

NAN = math.nan
WASH, SUGAR, GAS = 0, 1, 2
psychrolib.SetUnitSystem(psychrolib.SI)


def scaled(name, factor):
    value, low, high = plain.band(name)
    return [factor * value, factor * low, factor * high]


# --- strength ---------------------------------------------------------------------------------------------------------
@given(st.floats(0, 100), st.floats(1, 30))
def test_frames_to_bees_brood_and_honey(frames, side):
    value, low, high = plain.band("bees_per_dm2")
    counted = 1.96 * plain.number("seam_count_sd")
    middle = 2 * frames * side * value
    down, up = math.hypot(counted, 1 - low / value), math.hypot(counted, high / value - 1)
    assert_same(parts(strength.bees(frames, side)), [middle, middle * (1 - down), middle * (1 + up)])
    assert_same(parts(strength.stores_from_frames(frames, side)), scaled("honey_per_dm2", frames * side))
    brood = min(frames, 60)
    assert_same(
        parts(strength.brood_cells(brood, side)),
        scaled("brood_fill", 2 * brood * side * plain.number("worker_cells_per_dm2")),
    )
    assert_same(
        parts(strength.bees_mass_kg(est(frames, frames / 2, frames * 2))),
        [frames * 0.115e-3, frames / 2 * 0.1e-3, frames * 2 * 0.13e-3],
    )


@pytest.mark.parametrize("supers", [NAN, 0, 2])
@pytest.mark.parametrize("foam", [NAN, 0, 1])
@pytest.mark.parametrize("size", range(5))
def test_weight_of_an_empty_hive(size, foam, supers):
    body = plain.band(f"tare_{strength.SIZES[size]}_kg")
    light, each = plain.band("tare_polystyrene_share"), plain.band("tare_super_kg")
    shares = {0: (1, 1, 1), 1: light}.get(foam, (1, light[1], 1))
    on = 0 if math.isnan(supers) else supers
    most = on + (0.5 if math.isnan(supers) else 0)
    expected = [b * s + n * e for b, s, n, e in zip(body, shares, (on, on, most), each, strict=True)]
    assert_same(parts(strength.tare(size, foam, supers)), expected)
    assert np.isnan(strength.tare(NAN, foam, supers).value)


def test_stores_of_a_weighed_hive():
    # Each part may be off on its own, so the differences add as squares; a heavier hive body leaves fewer stores.
    got = strength.stores_from_weight(40, est(15, 11, 18), est(2, 1.5, 2.2), 0.7)
    extra, least, most = plain.band("pollen_wax_kg")
    middle = 40 - 15 - 2 - 0.7 - extra
    below = math.sqrt(3**2 + 0.2**2 + (most - extra) ** 2)
    above = math.sqrt(4**2 + 0.5**2 + (extra - least) ** 2)
    assert_same(parts(got), [middle, middle - below, middle + above])
    assert parts(strength.stores_from_weight(12, est(15, 11, 18), est(2, 1.5, 2.2)))[0] == 0.0


@pytest.mark.parametrize("heft", range(3))
@pytest.mark.parametrize("size", [*range(5), NAN])
def test_heft_by_size_and_of_a_hive_of_unknown_size(heft, size):
    # Of a hive of unknown size the band runs from a nuc's least to a double's most, round a single.
    shares = [plain.number("heft_share_nuc"), 1.0, *(plain.number(f"heft_share_{s}") for s in strength.SIZES[2:])]
    mid, least, most = (1.0, shares[0], shares[3]) if math.isnan(size) else (shares[size],) * 3
    value, low, high = plain.band(f"heft_{strength.HEFTS[heft]}_single_kg")
    assert_same(parts(strength.stores_from_heft(heft, size)), [value * mid, low * least, high * most])
    assert np.isnan(strength.stores_from_heft(NAN, size).value)


# --- mites ------------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("method", [WASH, SUGAR, GAS, NAN])
@pytest.mark.parametrize(("found", "bees"), [(0, 300), (9, 300), (40, 200), (1, 50), (50, 50)])
def test_chance_over_a_limit_by_quadrature(method, found, bees):
    # The tail of the beta distribution, averaged by scipy's quadrature over what the method may have found of each mite.
    names = ("recovery_wash", "recovery_sugar", "recovery_co2", "recovery_unknown")
    _, least, most = plain.band(names[3] if math.isnan(method) else names[method])
    for limit in (1.0, 3.0, 20.0):
        tail = stats.beta(found + 0.5, bees - found + 0.5).sf
        if most > least:
            expected, _ = integrate.quad(lambda share, tail=tail, limit=limit: tail(share * limit / 100), least, most)
            expected /= most - least
        else:
            expected = tail(least * limit / 100)
        assert float(mites.chance_over(found, bees, limit, method)) == pytest.approx(expected, abs=2e-4)


def test_a_count_of_every_bee_leaves_no_chance_above_all_of_them():
    assert mites.chance_over([50], [50], 100.0, WASH)[0] == pytest.approx(stats.beta(50.5, 0.5).sf(1.0), abs=1e-12)


@pytest.mark.parametrize("confidence", [0.5, 0.9, 0.99])
def test_exact_interval_at_other_confidences(confidence):
    for x, n in ((0, 30), (7, 300), (30, 30)):
        theirs = stats.binomtest(x, n).proportion_ci(confidence, method="exact")
        assert_same(parts(mites.exact_interval(x, n, confidence)), [x / n, theirs.low, theirs.high])


def test_the_rate_is_widened_by_what_the_method_may_miss():
    share = stats.binomtest(9, 300).proportion_ci(0.95, method="exact")
    for method, name in ((WASH, "wash"), (SUGAR, "sugar"), (GAS, "co2"), (NAN, "unknown")):
        least = plain.band(f"recovery_{name}")[1]
        assert_same(parts(mites.rate(9, 300, method)), [3.0, 100 * share.low, 100 * share.high / least])


def test_chance_over_a_limit_of_a_range():
    # Log-normal with 1.5 to 6 as its central 95 %: median 3, so even odds at 3 and 2.5 % over 6.
    level = est(3, 1.5, 6)
    for limit, chance in ((3, 0.5), (6, 0.025), (1.5, 0.975)):
        assert mites.chance_over_range(level, limit)[0] == pytest.approx(chance, abs=1e-9)
    spread = math.log(4) / (2 * plain.Z95)
    assert mites.chance_over_range(level, 4)[0] == pytest.approx(stats.lognorm(spread, scale=3).sf(4), abs=1e-9)
    assert mites.chance_over_range(est(3, 3, 3), 2.9)[0] == 1 and mites.chance_over_range(est(3, 3, 3), 3.1)[0] == 0
    assert mites.chance_over_range(est(0, 0, 0), 1)[0] == 0
    assert np.isnan(mites.chance_over_range(est(NAN, NAN, NAN), 1)[0])


@given(st.integers(0, 60), st.integers(20, 400), st.sampled_from([1.0, 3.0, 5.0]))
def test_bees_still_to_sample(x, n, limit):
    # Wilson: the sample at which the limit leaves the interval round the rate, a tenth more, in steps of 50.
    x = min(x, n)
    q, ci = limit / 100, stats.binomtest(x, n).proportion_ci(0.95, method="exact")
    got = float(mites.more_bees(x, n, limit))
    if ci.low > q or ci.high < q:
        assert got == 0
        return
    most = plain.number("more_bees_most")
    if x / n == q:
        assert got == most
        return
    need = plain.Z95**2 * q * (1 - q) / (x / n - q) ** 2 * 1.1 - n
    assert got == min(math.ceil(max(need, 1) / 50 - 1e-9) * 50, most)


@pytest.mark.parametrize(("state", "name"), [(0, "none"), (1, "some"), (2, "full")])
def test_mites_behind_a_drop(state, name):
    assert_same(parts(mites.colony_mites_from_drop(7, state)), scaled(f"drop_factor_{name}", 7))
    share = (1, 1, 1) if name == "none" else plain.band(f"adult_share_{name}")
    factor = plain.band(f"drop_factor_{name}")
    middle = 7 * factor[0] * share[0] * 100 / 20_000
    down = math.exp(-math.hypot(math.log(factor[0] / factor[1]), math.log(share[0] / share[1])))
    up = math.exp(math.hypot(math.log(factor[2] / factor[0]), math.log(share[2] / share[0])))
    assert_same(parts(mites.rate_from_drop(7, state, 20_000)), [middle, middle * down, middle * up])


def test_a_drop_with_brood_unknown_or_nothing_to_divide_by():
    some, full = plain.band("adult_share_some")[0], plain.band("adult_share_full")[1]
    factor, low, high = (
        plain.number("drop_factor_some"),
        plain.band("drop_factor_full")[1],
        plain.band("drop_factor_none")[2],
    )
    assert_same(parts(mites.colony_mites_from_drop(7, NAN)), [7 * factor, 7 * low, 7 * high])
    middle = 7 * factor * some * 100 / 20_000
    down = math.exp(-math.hypot(math.log(factor / low), math.log(some / full)))
    up = math.exp(math.hypot(math.log(high / factor), math.log(1 / some)))
    assert_same(parts(mites.rate_from_drop(7, NAN, 20_000)), [middle, middle * down, middle * up])
    assert parts(mites.rate_from_drop(0, 2, 20_000)) == [0, 0, 0]
    assert (
        np.isnan(parts(mites.rate_from_drop(7, 2, 0))).all() and np.isnan(parts(mites.rate_from_drop(NAN, 2, 9))).all()
    )
    assert parts(mites.rate_from_drop(5000, 0, 100))[0] == 400


@given(st.floats(0, 200), st.floats(0, 200))
def test_growth_and_loss(brood, without):
    g, down = plain.band("growth_per_day"), plain.band("winter_loss_per_day")
    expected = [
        2 * math.exp(g[0] * brood - down[0] * without),
        1 * math.exp(g[1] * brood - down[2] * without),
        5 * math.exp(g[2] * brood - down[1] * without),
    ]
    assert_same(parts(mites.grow(est(2, 1, 5), brood, without)), expected)


def test_the_drop_of_a_tray():
    assert mites.drop_per_day(61, 3) == pytest.approx(61 / 3) and np.isnan(mites.drop_per_day(NAN, 3))


def test_efficacy_of_a_course():
    g = plain.band("growth_per_day")
    grown = [math.exp(rate * 40 * 0.5) for rate in g]
    got = mites.efficacy(est(4, 2, 6), est(1, 0.6, 1.5), 40, 0.5)
    expected = [100 * (1 - 1 / 4 / grown[0]), 100 * (1 - 1.5 / 2 / grown[1]), 100 * (1 - 0.6 / 6 / grown[2])]
    assert_same(parts(got), expected)
    assert parts(mites.efficacy(est(0.5, 0.4, 0.6), est(5, 4, 6), 0, 0)) == [0, 0, 0]
    assert_same(parts(mites.efficacy(est(0.5, 0.4, 0.6), est(0.1, 0.08, 0.12), 0, 0)), [80, 70, 100 * (1 - 0.08 / 0.6)])


# --- points -----------------------------------------------------------------------------------------------------------
@given(
    st.one_of(st.just(NAN), st.floats(0, 200)),
    st.one_of(st.just(NAN), st.floats(-2, 1)),
    st.sampled_from([0.0, 0.5, 1.0]),
    st.sampled_from([0.0, 0.5, 1.0]),
)
def test_points_of_feeding(days, missing, cold, ahead):
    soon = plain.curve("starvation_cold" if cold > 0 else "starvation_warm", days)
    later = plain.curve("starvation_autumn", max(missing, 0)) if ahead > 0 else 0.0
    later = NAN if math.isnan(missing) else later
    known = [x for x in (soon, later) if not math.isnan(x)]
    assert_same(float(points.starvation(days, missing, cold, ahead)), max(known, default=NAN))


@pytest.mark.parametrize("coldest", [-45, -10, 3, 8, 20, NAN])
def test_points_of_insulating(coldest):
    roof, wrap, foam = (plain.number(f"insulation_{x}") for x in ("has_roof", "has_wrap", "foam_walls"))
    full = plain.curve("insulation_cold", coldest)
    for has, left in (((0, 0), 1), ((1, 0), roof), ((0, 1), wrap), ((1, 1), 0), ((0.5, 0), roof), ((0, 0.5), wrap)):
        assert_same(float(points.insulation(coldest, *has, 0)), full * left)
        assert_same(float(points.insulation(coldest, *has, 1)), full * left * foam)
    for unknown in ((NAN, 0, 0), (0, NAN, 0), (0, 0, NAN)):
        assert np.isnan(points.insulation(coldest, *unknown))


@pytest.mark.parametrize("method", [WASH, GAS])
def test_points_of_treating_by_season(method):
    n = plain.number
    for x in (0, 2, 6, 9, 15, 30):
        p1, p2, p3, p5 = (float(mites.chance_over(x, 300, limit, method)) for limit in (1, 2, 3, 5))
        spring = (p2 - p3) * n("mites_spring_low") + p3 * n("mites_spring_high")
        late, autumn = (
            (p1 - p3) * n(f"mites_{s}_low") + (p3 - p5) * n(f"mites_{s}_middle") + p5 * n(f"mites_{s}_high")
            for s in ("late", "autumn")
        )
        got = points.treating(lambda limit, x=x: mites.chance_over([x] * 4, [300] * 4, limit, method), [0, 1, 2, NAN])
        assert_same(got.tolist(), [spring, late, autumn, NAN])
    assert points.treating(lambda limit: np.array([limit - 5.0]), [0.0])[0] == 0  # never below nothing


# --- damp -------------------------------------------------------------------------------------------------------------
@given(st.floats(-30, 40), st.floats(20, 100))
def test_vapour_against_the_gas_law(c, rh):
    # rho = e / (R T) with 461.5 J/(kg K) for water vapour; above freezing e is ASHRAE's within 0.4 %.
    pressure = 6.112 * math.exp(17.62 * c / (243.12 + c)) * rh / 100
    assert float(damp.vapour_g_m3(c, rh)) == pytest.approx(100 * pressure / (461.5 * (c + 273.15)) * 1e3, rel=1e-3)
    if c > 0.1:
        assert pressure == pytest.approx(psychrolib.GetSatVapPres(c) / 100 * rh / 100, rel=4e-3)


def by_hand(heat, honey, loss, outdoor, rh, board, foam, vent, mesh):
    n = plain.number
    mean = outdoor + heat / loss
    air = mean + n("lid_air_share") * max(n("core_broodless_c") - mean, 0)
    flows = [n("airflow_closed_m3_day"), n("airflow_small_vent_m3_day"), n("airflow_large_vent_m3_day")]
    i = min(int(vent), 1)
    flow = flows[i] + (flows[i + 1] - flows[i]) * (vent - i) + mesh * n("airflow_mesh_m3_day")

    def saturation(c):
        return 6.112 * math.exp(17.62 * c / (243.12 + c))

    grams = 216.68 * saturation(outdoor) * rh / 100 / (outdoor + 273.15) + honey * n("water_per_kg_honey") * 1000 / flow
    pressure = min(grams * (air + 273.15) / 216.68, saturation(min(max(air, -60), 60)))
    dew = 243.12 * math.log(pressure / 6.112) / (17.62 - math.log(pressure / 6.112))
    sheet = (1 - foam) * n("ply_roof_thickness_m") / n("ply_roof_conductivity")
    sheet += foam * n("foam_wall_thickness_m") / n("foam_wall_conductivity")
    sheet += board * n("roof_insulation_m") / n("roof_insulation_conductivity")
    inner = n("surface_inside_roof")
    face = air - inner / (inner + sheet + n("surface_outside")) * (air - outdoor)
    return face - dew


@given(
    st.floats(1, 30),
    st.floats(0.01, 0.3),
    st.floats(0.5, 4),
    st.floats(-30, 30),
    st.floats(20, 100),
    *[st.floats(0, 1)] * 2,
    st.floats(0, 2),
    st.floats(0, 1),
)
def test_margin_of_the_lid(heat, honey, loss, outdoor, rh, board, foam, vent, mesh):
    case = (heat, honey, loss, outdoor, rh, board, foam, vent, mesh)
    assert_same(float(damp.lid_margin_c(*case)), by_hand(*case), 1e-7)


def test_margin_of_the_lid_is_unknown_where_a_part_is():
    case = [6, 0.05, 2, 0, 80, 0, 0, 1, 0]
    for i in range(len(case)):
        assert np.isnan(damp.lid_margin_c(*case[:i], NAN, *case[i + 1 :]))


def test_water_of_honey_and_the_face_of_a_lid():
    assert damp.water_g_day(0.1) == pytest.approx(66.3)
    assert damp.surface_c(4.0, 0.1, 20, 0) == pytest.approx(12)

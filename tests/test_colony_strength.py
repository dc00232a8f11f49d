"""Frames, weights and hefts against published conversions."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hiveweek.colony import strength
from hiveweek.colony.edge import BadNumber
from hiveweek.colony.estimate import Estimate
from hiveweek.numbers import shipped


def test_deep_frame_of_bees_by_density():
    # 130 bees/dm2 (Liebefeld method) on 8.8 dm2: 1,144 a side, 2,288 a frame; counted capacity 2,430 (Burgett and Burikam
    # 1985) and one layer 1,900 (Kauffeld) lie inside the interval.
    one = strength.bees([1.0], [8.8])
    assert one.value[0] == pytest.approx(2288)
    assert one.low[0] < 1900 and one.high[0] > 2430


def test_a_zander_side_holds_a_thousand_bees_and_3200_cells():
    # The German estimating frame: 1,000 bees and 3,200 worker cells a Zander side of 8.05 dm2; a frame has two sides.
    assert strength.bees([1.0], [8.05]).value[0] / 2 == pytest.approx(1000, rel=0.05)
    assert shipped().model.bees.worker_cells_per_dm2 * 8.05 == pytest.approx(3200, rel=0.01)


@pytest.mark.parametrize(
    ("dm2", "published"),
    [
        (8.05, 2.0),  # a full Zander comb: slightly over 2 kg (German trade journal)
        (8.8, 2.2),  # a full deep comb: 2.2 kg on average in Australia (national guide)
        (8.8, 3.0),  # a full deep comb: about 3 kg in Britain (association journal)
        (11.3, 3.0),  # a full Dadant comb: 3 kg (German trade journal)
    ],
)
def test_full_comb_of_honey_inside_published_band(dm2, published):
    full = strength.stores_from_frames([1.0], [dm2])
    assert full.low[0] * 0.9 <= published <= full.high[0] * 1.01


def test_hive_weight_of_the_ontario_target_gives_its_stores():
    # Ontario: 31.9 kg gross for a single ready for winter. Central European scale-hive practice puts 13 to 20 kg of food in
    # such a hive.
    size = np.array([1.0])
    bees = strength.bees_mass_kg(Estimate(*(np.array([x]) for x in (18_000.0, 15_000.0, 21_000.0))))
    stores = strength.stores_from_weight([31.9], strength.tare(size, [0.0], [0.0]), bees)
    assert 11 <= stores.value[0] <= 18
    assert stores.low[0] < stores.value[0] < stores.high[0]


def test_heft_words_are_ordered_and_overlap():
    kg = strength.stores_from_heft([0, 1, 2], [1, 1, 1])
    assert list(kg.value) == sorted(kg.value)
    assert kg.high[0] > kg.low[1] and kg.high[1] > kg.low[2]
    assert np.isnan(strength.stores_from_heft([np.nan], [1]).value[0])


def test_polystyrene_weighs_less_and_supers_more():
    wood = strength.tare([1, 1], [0, 0], [0, 1])
    foam = strength.tare([1], [1], [0])
    assert foam.value[0] < wood.value[0] < wood.value[1]


@given(st.floats(0, 60), st.floats(1, 30))
def test_more_frames_more_bees_and_no_nan(frames, side):
    one, more = strength.bees([frames], [side]), strength.bees([frames + 1], [side])
    assert 0 <= one.low[0] <= one.value[0] <= one.high[0] < np.inf
    assert more.value[0] > one.value[0]


@pytest.mark.parametrize(
    "call",
    [
        lambda: strength.bees([-1], [8.8]),
        lambda: strength.bees([1], [0]),
        lambda: strength.bees([np.inf], [8.8]),
        lambda: strength.stores_from_heft([7], [1]),
        lambda: strength.stores_from_weight([500], strength.tare([1], [0], [0]), strength.bees([1], [8.8])),
        lambda: strength.bees(["many"], [8.8]),
    ],
)
def test_impossible_numbers_are_refused_by_name(call):
    with pytest.raises(BadNumber) as caught:
        call()
    assert ":" in str(caught.value)


def test_unknown_in_unknown_out():
    for part in strength.bees([np.nan, 3], [8.8, np.nan]):
        assert np.isnan(part).all()

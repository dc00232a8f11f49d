"""The normal distribution against scipy's."""

import numpy as np
from scipy import special

from hiveweek.numbers.normal import ndtr, ndtri


def test_shares_are_those_of_scipy():
    x = np.concatenate([np.linspace(-9, 9, 3601), [np.inf, -np.inf, np.nan]]).reshape(4, -1)
    np.testing.assert_allclose(ndtr(x), special.ndtr(x), rtol=1e-12, atol=0)


def test_values_are_those_of_scipy():
    for share in np.concatenate([np.geomspace(1e-12, 0.5, 200), 1 - np.geomspace(1e-12, 0.5, 200)]).tolist():
        np.testing.assert_allclose(ndtri(share), special.ndtri(share), rtol=1e-12, atol=1e-15)

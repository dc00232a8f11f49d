"""Normal and beta distributions against scipy.special."""

from __future__ import annotations

import math
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import special

from hiveweek import distributions


@settings(max_examples=200, deadline=None)
@given(st.floats(-30, 30))
def test_ndtr(x):
    assert distributions.ndtr(x) == pytest.approx(special.ndtr(x), rel=1e-12, abs=1e-300)


@settings(max_examples=200, deadline=None)
@given(st.floats(1e-12, 1 - 1e-12))
def test_ndtri(p):
    assert distributions.ndtri(p) == pytest.approx(special.ndtri(p), rel=1e-12, abs=1e-14)


@settings(max_examples=300, deadline=None)
@given(st.floats(0.05, 500), st.floats(0.05, 5000), st.floats(0, 1))
def test_betainc(a, b, x):
    assert distributions.betainc(a, b, x) == pytest.approx(special.betainc(a, b, x), abs=1e-11)


@settings(max_examples=200, deadline=None)
@given(st.integers(0, 60), st.integers(60, 1000), st.sampled_from([0.025, 0.05, 0.5, 0.95, 0.975]))
def test_betaincinv_on_counts(mites, bees, p):
    """The bounds of Clopper and Pearson rest on it."""
    for a, b in ((max(mites, 1e-9), bees - mites + 1), (mites + 1, max(bees - mites, 1e-9))):
        assert distributions.betaincinv(a, b, p) == pytest.approx(special.betaincinv(a, b, p), rel=1e-9, abs=1e-12)


@settings(max_examples=200, deadline=None)
@given(st.floats(0.5, 300), st.floats(0.5, 300), st.floats(0.001, 0.999))
def test_betaincinv_turns_betainc_round(a, b, p):
    assert distributions.betainc(a, b, distributions.betaincinv(a, b, p)) == pytest.approx(p, abs=1e-10)


def test_shapes_ends_and_what_is_missing():
    x = np.array([[-1.0, 0.0, np.nan], [np.inf, -np.inf, 2.0]])
    assert np.allclose(distributions.ndtr(x), special.ndtr(x), equal_nan=True) and distributions.ndtr(x).shape == (2, 3)
    assert distributions.ndtr(0.0) == 0.5 and np.shape(distributions.ndtr(0.3)) == ()
    assert np.array_equal(distributions.betainc(2.0, 3.0, [0.0, 1.0, np.nan]), [0.0, 1.0, np.nan], equal_nan=True)
    assert np.array_equal(distributions.betaincinv(2.0, 3.0, [0.0, 1.0, np.nan]), [0.0, 1.0, np.nan], equal_nan=True)
    assert math.isnan(distributions.betainc(np.nan, 1.0, 0.5)) and math.isnan(distributions.betaincinv(1.0, np.nan, 0.5))
    with pytest.raises(ValueError):
        distributions.ndtri(1.5)


def test_long_arrays_go_to_scipy_and_say_the_same():
    random = np.random.default_rng(1)
    z = random.normal(size=distributions.LONG + 1)
    assert np.allclose(distributions.ndtr(z)[:300], distributions.ndtr(z[:300]), rtol=1e-13, atol=0)
    a, b, x = random.uniform(1, 50, z.size), random.uniform(1, 50, z.size), random.random(z.size)
    assert np.allclose(distributions.betainc(a, b, x)[:300], distributions.betainc(a[:300], b[:300], x[:300]), atol=1e-12)
    assert np.allclose(distributions.betaincinv(a, b, x)[:300], distributions.betaincinv(a[:300], b[:300], x[:300]), atol=1e-12)


def test_a_week_does_not_wait_for_scipy():
    code = ("import contextlib, io, sys; from hiveweek.cli.main import main\n"
            "with contextlib.redirect_stdout(io.StringIO()): code = main(['week', '--offline', '--json'])\n"
            "print(code, sorted({'scipy', 'jinja2', 'meteostat', 'z3'} & set(sys.modules)))")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120)
    assert done.stdout.strip() == "0 []", done.stderr

"""Chances on the normal curve, against printed tables and two libraries."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import special

from witnessmark.physics.normal import ndtr


@pytest.mark.parametrize(
    ("x", "below"),
    [(0.0, 0.5), (1.0, 0.841344746), (2.0, 0.977249868), (3.0, 0.998650102), (-1.0, 0.158655254)],
)
def test_the_printed_table(x, below):
    """Abramowitz and Stegun, Handbook of Mathematical Functions, table 26.1 (from memory)."""
    assert float(ndtr(x)) == pytest.approx(below, abs=5e-10)


def test_two_libraries():
    x = np.concatenate([np.linspace(-38.0, 10.0, 20_001), [-np.inf, np.inf]])
    np.testing.assert_allclose(ndtr(x), special.ndtr(x), rtol=1e-13, atol=1e-300)
    own = [0.5 * math.erfc(-value / math.sqrt(2.0)) for value in x[:20_001:100]]
    np.testing.assert_allclose(ndtr(x[:20_001:100]), own, rtol=1e-12, atol=1e-300)


def test_shapes_and_what_is_no_number():
    assert ndtr(np.zeros((2, 3))).shape == (2, 3)
    assert ndtr(0.0).shape == ()
    assert ndtr(np.zeros(0)).shape == (0,)
    assert np.isnan(ndtr(np.nan))

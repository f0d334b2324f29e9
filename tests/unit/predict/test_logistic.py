"""The logistic curve against SciPy's."""

from __future__ import annotations

import numpy as np
from scipy.special import expit as theirs

from witnessmark.predict.logistic import expit, step


def test_it_is_scipys():
    x = np.concatenate([np.linspace(-40.0, 40.0, 801), [-1e9, -800.0, 800.0, 1e9]])
    np.testing.assert_allclose(expit(x), theirs(x), rtol=1e-14, atol=1e-300)


def test_a_step_blurred_by_one_spread_has_that_spread():
    """Standard deviation of the logistic law: its scale times pi over the root of three (handbook of statistics)."""
    x = np.linspace(-25.0, 25.0, 200_001)
    density = np.diff(step(x))
    middle = 0.5 * (x[1:] + x[:-1])
    np.testing.assert_allclose(np.sum(density * middle**2), 1.0, rtol=1e-6)

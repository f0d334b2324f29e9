"""The logistic curve against SciPy's."""

from __future__ import annotations

import numpy as np
from scipy.special import expit as theirs

from witnessmark.predict.logistic import expit


def test_it_is_scipys():
    x = np.concatenate([np.linspace(-40.0, 40.0, 801), [-1e9, -800.0, 800.0, 1e9]])
    np.testing.assert_allclose(expit(x), theirs(x), rtol=1e-14, atol=1e-300)

"""Traces for the tests of this folder, straight from arrays."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.recording import Gap, RegularTime, Trace
from witnessmark.signal import Edges

FloatArray = NDArray[np.float64]


def sampled(values: NDArray[np.generic], rate_hz: float, *, start_s: float = 0.0, gaps: tuple[Gap, ...] = ()) -> Trace:
    """A trace of evenly spaced samples."""
    return Trace("bench", 0, values, RegularTime(start_s, 1.0 / rate_hz, values.size), gaps=gaps)


def errors_s(edges: Edges, truth_s: FloatArray) -> FloatArray:
    """Distance of each edge from the nearest true one."""
    right = np.clip(np.searchsorted(truth_s, edges.times_s), 1, truth_s.size - 1)
    left = truth_s[right - 1]
    near = np.where(np.abs(truth_s[right] - edges.times_s) < np.abs(left - edges.times_s), truth_s[right], left)
    return edges.times_s - near

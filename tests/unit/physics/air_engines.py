"""Invented engines for the tests of the operating point, and what is asked of them."""

from __future__ import annotations

import numpy as np

from witnessmark.physics.airpath import AirPath
from witnessmark.physics.airstate import AirState
from witnessmark.physics.boost import Boost
from witnessmark.physics.demand import Demand, idling, running
from witnessmark.physics.operating import operating_point

METER = AirPath()
PRESSURE = AirPath(metering="speed_density")
SIX = AirPath(bank_of=(0, 1, 0, 1, 0, 1))
BLOWN = AirPath(boost=Boost(), compression_ratio=9.5)
CRUISE = 300e3


def bank(*values: float) -> np.ndarray:
    """One value a state, for an engine of one bank."""
    return np.array(values)[:, None]


def conditions(path: AirPath) -> list[Demand]:
    """Idle, raised without load, cruise: where trims are closed."""
    return [idling(path), running(path, 2500.0), running(path, 2500.0, CRUISE)]


def trims(path: AirPath, state: AirState) -> np.ndarray:
    """Trim that would be needed, one row a condition, one column a state."""
    return np.array([operating_point(path, state, each).fuelling.trim_wanted[:, 0] for each in conditions(path)])

"""Values that a simulated log holds: the decoder's own table of current data, under the log's headings.

What is computed is rounded by the scaling that ``witnessmark.decode`` reads it with, so a log can hold no value that a
vehicle could not send.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.pidtable import where_is
from witnessmark.decode.scaling import Scaling

__all__ = ["PIDS", "Pid"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Pid:
    """One value of service 01, as a log shows it.

    Parameters
    ----------
    number : int
    name, unit : str
        Heading and unit in the log.
    signal : str
        Its line of the closed list of parameters, with its place.
    scaling : Scaling
    """

    number: int
    name: str
    unit: str
    signal: str
    scaling: Scaling

    @property
    def factor(self) -> float:
        """Value = factor · whole number + offset, in ``unit``."""
        return self.scaling.factor

    @property
    def offset(self) -> float:
        """See ``factor``."""
        return self.scaling.offset

    @property
    def bytes(self) -> int:
        """How many bytes hold it."""
        return self.scaling.width

    def counts(self, values: FloatArray) -> NDArray[np.int64]:
        """The nearest whole number that the answer can hold, shape (n,)."""
        return self.scaling.counts(values)


_HEADINGS: Mapping[str, tuple[str, str]] = {
    "load": ("load", "engine load"),
    "coolant": ("coolant", "coolant temperature"),
    "short_trim_1": ("short_trim bank=1", "short term fuel trim bank 1"),
    "long_trim_1": ("long_trim bank=1", "long term fuel trim bank 1"),
    "short_trim_2": ("short_trim bank=2", "short term fuel trim bank 2"),
    "long_trim_2": ("long_trim bank=2", "long term fuel trim bank 2"),
    "map": ("map", "intake manifold pressure"),
    "rpm": ("engine_speed", "engine speed"),
    "speed": ("vehicle_speed", "vehicle speed"),
    "timing": ("timing", "ignition timing"),
    "intake_air": ("intake_air", "intake air temperature"),
    "maf": ("maf", "air flow"),
    "throttle": ("throttle", "throttle position"),
    "run_time": ("run_time", "run time"),
    "rail": ("rail_pressure", "fuel rail pressure"),
    "lambda_1": ("lambda bank=1 sensor=1", "lambda bank 1 sensor 1"),
    "lambda_2": ("lambda bank=2 sensor=1", "lambda bank 2 sensor 1"),
    "barometer": ("barometer", "barometric pressure"),
    "volts": ("volts", "control module voltage"),
    "absolute_load": ("absolute_load", "absolute load"),
    "outside_air": ("outside_air", "ambient air temperature"),
}


def _pid(signal: str, heading: str) -> Pid:
    pid, item = where_is(signal)
    return Pid(pid.number, heading, item.unit, signal, item.scaling)


PIDS: Mapping[str, Pid] = {key: _pid(*row) for key, row in _HEADINGS.items()}
"""By key, in the order of their numbers but for the second bank's."""

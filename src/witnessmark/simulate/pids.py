"""Values of the standard's current data, each on the step of its own scaling.

Scalings after SAE J1979 as they stand in a protocol dissector's source (handbook §7): a byte or two, times a factor,
plus an offset.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["PIDS", "Pid"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Pid:
    """One value of service 01.

    Parameters
    ----------
    number : int
    name, unit : str
    factor, offset : float
        Value = factor · count + offset, in ``unit``.
    bytes : int
        1 or 2.
    """

    number: int
    name: str
    unit: str
    factor: float
    offset: float = 0.0
    bytes: int = 1

    def counts(self, values: FloatArray) -> NDArray[np.int64]:
        """The nearest whole number that the answer can hold, shape (n,)."""
        count = np.floor((values - self.offset) / self.factor + 0.5)
        return np.asarray(np.clip(count, 0, 256**self.bytes - 1), dtype=np.int64)


_SHARE = 100.0 / 255.0
_TRIM = 100.0 / 128.0

PIDS: Mapping[str, Pid] = {
    "load": Pid(0x04, "engine load", "%", _SHARE),
    "coolant": Pid(0x05, "coolant temperature", "C", 1.0, -40.0),
    "short_trim_1": Pid(0x06, "short term fuel trim bank 1", "%", _TRIM, -100.0),
    "long_trim_1": Pid(0x07, "long term fuel trim bank 1", "%", _TRIM, -100.0),
    "short_trim_2": Pid(0x08, "short term fuel trim bank 2", "%", _TRIM, -100.0),
    "long_trim_2": Pid(0x09, "long term fuel trim bank 2", "%", _TRIM, -100.0),
    "map": Pid(0x0B, "intake manifold pressure", "kPa", 1.0),
    "rpm": Pid(0x0C, "engine speed", "rpm", 0.25, bytes=2),
    "speed": Pid(0x0D, "vehicle speed", "km/h", 1.0),
    "timing": Pid(0x0E, "ignition timing", "deg", 0.5, -64.0),
    "intake_air": Pid(0x0F, "intake air temperature", "C", 1.0, -40.0),
    "maf": Pid(0x10, "air flow", "g/s", 0.01, bytes=2),
    "throttle": Pid(0x11, "throttle position", "%", _SHARE),
    "run_time": Pid(0x1F, "run time", "s", 1.0, bytes=2),
    "rail": Pid(0x23, "fuel rail pressure", "kPa", 10.0, bytes=2),
    "lambda_1": Pid(0x34, "lambda bank 1 sensor 1", "", 1.0 / 32768.0, bytes=2),
    "lambda_2": Pid(0x38, "lambda bank 2 sensor 1", "", 1.0 / 32768.0, bytes=2),
    "barometer": Pid(0x33, "barometric pressure", "kPa", 1.0),
    "volts": Pid(0x42, "control module voltage", "V", 0.001, bytes=2),
    "absolute_load": Pid(0x43, "absolute load", "%", _SHARE, bytes=2),
    "outside_air": Pid(0x46, "ambient air temperature", "C", 1.0, -40.0),
}
"""By key, in the order of their numbers but for the second bank's."""

"""What can stand in a simulated log: each value with its heading, its signal, the step it is rounded to, its pace."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.stateplaces import phased_cams
from witnessmark.simulate.bench import Bench
from witnessmark.simulate.draws import stream
from witnessmark.simulate.pids import PIDS

__all__ = ["PACES", "Logged", "is_narrow", "logged_values"]

FloatArray = NDArray[np.float64]

PACES = ("fast", "middle", "slow")
"""How often a value is asked for: in every round, in every third, or in its turn."""

_SIGNALS = {
    "rpm": ("engine_speed", "fast"), "map": ("map", "fast"), "maf": ("maf", "fast"), "load": ("load", "fast"),
    "short_trim_1": ("short_trim bank=1", "fast"), "short_trim_2": ("short_trim bank=2", "fast"),
    "throttle": ("throttle", "fast"), "speed": ("vehicle_speed", "middle"), "timing": ("timing", "middle"),
    "absolute_load": ("absolute_load", "middle"), "lambda_1": ("lambda bank=1 sensor=1", "middle"),
    "lambda_2": ("lambda bank=2 sensor=1", "middle"), "long_trim_1": ("long_trim bank=1", "middle"),
    "long_trim_2": ("long_trim bank=2", "middle"), "volts": ("volts", "middle"), "coolant": ("coolant", "slow"),
    "intake_air": ("intake_air", "slow"), "run_time": ("run_time", "slow"), "rail": ("rail_pressure", "slow"),
    "barometer": ("barometer", "slow"), "outside_air": ("outside_air", "slow"),
}  # fmt: skip
_CAM_STEPS = (0.1, 0.25, 0.5, 1.0)  # deg; our guess
_NARROW_SHARE = 0.45  # of vehicles have front sensors that switch; our guess


@dataclass(frozen=True, slots=True)
class Logged:
    """One value of a log.

    Parameters
    ----------
    key : str
        Under which the simulation keeps it; the signal's text for what the standard's table has not.
    name, unit : str
        Heading and unit.
    signal : str
        As :func:`witnessmark.recording.parameters.signal_of` reads it.
    factor, offset : float
        Value = factor · count + offset, in ``unit``.
    most : int
        The largest count.
    pace : str
        One of :data:`PACES`.
    """

    key: str
    name: str
    unit: str
    signal: str
    factor: float
    offset: float
    most: int
    pace: str

    def counts(self, values: FloatArray) -> NDArray[np.int64]:
        """The nearest whole number that the answer can hold, shape (n,).

        Parameters
        ----------
        values : array, shape (n,)
            In ``unit``.

        Returns
        -------
        array of int, shape (n,)
        """
        count = np.floor((values - self.offset) / self.factor + 0.5)
        return np.asarray(np.clip(count, 0, self.most), dtype=np.int64)


def logged_values(bench: Bench, n_banks: int, *, beyond: bool) -> tuple[Logged, ...]:
    """What this vehicle's computer answers, quick ones first.

    Parameters
    ----------
    bench : Bench
    n_banks : int
    beyond : bool
        Whether the log holds more than the usual values: oxygen sensors' voltages, cams, oil, pedal, misfires.

    Returns
    -------
    tuple of Logged
    """
    missing = _missing(bench, n_banks)
    if beyond and is_narrow(bench.seed):
        missing |= {"lambda_1", "lambda_2"}
    found = [_standard(key) for key in _SIGNALS if key not in missing]
    if beyond:
        found += _beyond(bench, n_banks)
    return tuple(sorted(found, key=lambda one: PACES.index(one.pace)))


def is_narrow(vehicle: int) -> bool:
    """Whether this vehicle's front oxygen sensors switch instead of telling λ.

    Parameters
    ----------
    vehicle : int
        Its seed.

    Returns
    -------
    bool
    """
    return bool(stream(vehicle, "narrow").random() < _NARROW_SHARE)


def _missing(bench: Bench, n_banks: int) -> set[str]:
    air, missing = bench.engine.breathing.air, set()
    if air.metering == "speed_density":
        missing |= {"maf"}
    elif air.metering == "air_meter" and air.boost in (None, "none"):
        missing |= {"map"} if stream(bench.seed, "supports").random() < 0.3 else set()
    if n_banks < 2:
        missing |= {"short_trim_2", "long_trim_2", "lambda_2"}
    if air.injection != "direct":
        missing |= {"rail"}
    return missing


def _standard(key: str) -> Logged:
    pid, (signal, pace) = PIDS[key], _SIGNALS[key]
    return Logged(key, pid.name, pid.unit, signal, pid.factor, pid.offset, 256**pid.bytes - 1, pace)


def _beyond(bench: Bench, n_banks: int) -> Iterator[Logged]:
    def own(signal: str, name: str, unit: str, step: float, low: float, most: int, pace: str) -> Logged:
        return Logged(signal, name, unit, signal, step, low, most, pace)

    for bank in range(1, n_banks + 1):
        for sensor in (1, 2) if is_narrow(bench.seed) else (2,):
            where = f"bank={bank} sensor={sensor}"
            yield own(f"o2_voltage {where}", f"oxygen sensor bank {bank} sensor {sensor}", "V", 0.005, 0.0, 255, "fast")
    step = float(stream(bench.seed, "cam step").choice(_CAM_STEPS))
    for cam in phased_cams(bench.engine):
        of_bank, kind = cam.removeprefix("b").split(".")
        for what, words in (("actual", "position"), ("target", "position aimed at")):
            signal, name = f"cam_{what} bank={of_bank} cam={kind}", f"{kind} cam bank {of_bank} {words}"
            yield own(signal, name, "deg", step, -80.0, round(260.0 / step), "fast")
    yield own("oil_temperature", "oil temperature", "C", 1.0, -40.0, 255, "slow")
    yield own("oil_pressure", "oil pressure", "kPa", 4.0, 0.0, 255, "middle")
    yield own("fuel_pressure", "fuel pressure", "kPa", 3.0, 0.0, 255, "middle")
    yield own("idle_air", "idle air", "%", 100.0 / 255.0, 0.0, 255, "middle")
    yield own("pedal track=1", "accelerator pedal", "%", 100.0 / 255.0, 0.0, 255, "middle")
    for cylinder in range(1, bench.engine.cylinders + 1):
        yield own(
            f"knock_retard cylinder={cylinder}", f"knock retard cylinder {cylinder}", "deg", 0.25, 0.0, 255, "slow"
        )
        yield own(f"misfire_count cylinder={cylinder}", f"misfires cylinder {cylinder}", "", 1.0, 0.0, 65535, "slow")

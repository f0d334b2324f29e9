"""What position sensors give: a switched level, or a voltage that grows with speed."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.simulate.motion import Motion
from witnessmark.simulate.vehicle import SensorMake
from witnessmark.simulate.wheels import CutWheel, Passes, passes_of

__all__ = ["Level", "flux_slope", "level_of", "reluctance_volts", "switched"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

_TABLE_DEG = 0.05
_REFERENCE_RPM = 800.0


@dataclass(frozen=True, slots=True, eq=False)
class Level:
    """A two-valued signal: where it starts, and when it changes over.

    Parameters
    ----------
    starts_high : bool
    times_s : array, shape (n,) [s]
        Strictly increasing.
    """

    starts_high: bool
    times_s: FloatArray

    def at(self, times_s: FloatArray) -> BoolArray:
        """Whether it is high at times, shape (n,)."""
        changes = np.searchsorted(self.times_s, times_s, side="right")
        return np.asarray((changes % 2 == 0) == self.starts_high)

    @property
    def rises(self) -> BoolArray:
        """For each change whether it goes up, shape (n,)."""
        return np.asarray((np.arange(self.times_s.size) % 2 == 0) != self.starts_high)

    def without(self, gone: BoolArray) -> Level:
        """Some changes left out; an even number in a row leaves the rest as it was."""
        return replace(self, times_s=self.times_s[~gone])

    def with_pulses(self, starts_s: FloatArray, widths_s: FloatArray) -> Level:
        """Short pulses against the level added."""
        return replace(self, times_s=np.sort(np.concatenate([self.times_s, starts_s, starts_s + widths_s])))


def switched(
    wheel: CutWheel, motion: Motion, shaft_deg: FloatArray, sensor: SensorMake, rng: np.random.Generator
) -> tuple[Level, Passes]:
    """The output of a switching (hall) sensor.

    Parameters
    ----------
    wheel : CutWheel
    motion : Motion
    shaft_deg : array, shape (n,) [deg]
        How far the wheel has turned at ``motion.times_s``, in crank degrees counted on.
    sensor : SensorMake
    rng : numpy.random.Generator

    Returns
    -------
    Level
        With the sensor's lag and jitter.
    Passes
        When each edge truly passes.
    """
    passes = passes_of(motion.times_s, shaft_deg, wheel.at_deg, wheel.period_deg)
    rate = np.abs(np.interp(passes.times_s, motion.times_s, np.gradient(shaft_deg, motion.times_s)))
    jitter_s = rng.normal(0.0, sensor.jitter_deg, passes.times_s.size) / np.maximum(rate, 60.0)
    shown = np.sort(passes.times_s + sensor.lag_s + jitter_s)
    return Level(level_of(wheel, float(shaft_deg[0])), shown), passes


def level_of(wheel: CutWheel, turned_deg: float) -> bool:
    """Whether the sensor is high with the wheel at an angle [deg]: as the last edge behind left it."""
    order = np.argsort(wheel.at_deg % wheel.period_deg)
    at = (wheel.at_deg % wheel.period_deg)[order]
    last = int(np.searchsorted(at, turned_deg % wheel.period_deg, side="right")) - 1
    return bool(wheel.rising[order][last])


def flux_slope(wheel: CutWheel) -> FloatArray:
    """Voltage of a reluctance sensor over one turn, per speed, shape (period / 0.05,), largest about 1.

    Notes
    -----
    Flux is a bell over each tooth; its slope is up before the tooth's middle and down after it, so the signal falls
    through zero at the middle. Between teeth the bells overlap; in a gap nothing is left.
    """
    teeth = wheel.at_deg[wheel.even]
    usual = float(np.median(np.diff(np.sort(teeth)))) if teeth.size > 1 else wheel.period_deg
    width = min(0.22 * usual, 6.0)
    at = np.arange(0.0, wheel.period_deg, _TABLE_DEG)
    signal = np.zeros(at.size)
    reach = int(np.ceil(6.0 * width / _TABLE_DEG))
    local = np.arange(-reach, reach + 1)
    for tooth in teeth:
        nearest = int(np.rint(tooth / _TABLE_DEG))
        x = (local * _TABLE_DEG + nearest * _TABLE_DEG - tooth) / width
        signal[(nearest + local) % at.size] += -x * np.exp(0.5 * (1.0 - x * x))
    return signal


def reluctance_volts(
    slope: FloatArray, period_deg: float, times_s: FloatArray, motion: Motion, shaft_deg: FloatArray, *, volts: float
) -> FloatArray:
    """Voltage of a reluctance sensor at times.

    Parameters
    ----------
    slope : array
        From :func:`flux_slope`.
    period_deg : float [deg]
    times_s : array, shape (n,) [s]
    motion : Motion
    shaft_deg : array [deg]
        At ``motion.times_s``.
    volts : float [V]
        Amplitude at 800 rpm, negative with its leads reversed.

    Returns
    -------
    array, shape (n,) [V]
    """
    angle = np.interp(times_s, motion.times_s, shaft_deg)
    speed = np.interp(times_s, motion.times_s, motion.speed_rpm)
    places = np.arange(slope.size) * _TABLE_DEG
    shape = np.interp(angle % period_deg, places, slope, period=period_deg)
    # Iron saturates: amplitude grows less than speed at the top.
    grown = speed / _REFERENCE_RPM
    return np.asarray(volts * shape * grown / np.sqrt(1.0 + (grown / 6.0) ** 2))

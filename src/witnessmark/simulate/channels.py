"""One channel of a capture: sensor, cable, and what befalls the signal on its way."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.simulate.disturb import disturbed, faded, spark_ringing
from witnessmark.simulate.instruments import Scope, hall_volts
from witnessmark.simulate.motion import Motion
from witnessmark.simulate.scenario import Scenario
from witnessmark.simulate.sensors import Level, flux_slope, reluctance_volts, switched
from witnessmark.simulate.wheels import CutWheel
from witnessmark.simulate.world import World

__all__ = ["Channel", "Window", "channel_of", "conditioned", "sampled_volts", "spark_times"]

FloatArray = NDArray[np.float64]

_SPARK_DEG = 12.0  # before firing top dead centre
_USUAL_GAP_MM = 1.0
_GAP_DECAY_MM = 0.6  # a reluctance signal falls to 1/e for each of these (from memory)
_COMPARATOR_STEP_S = 2e-6
_MOST_COMPARATOR_SAMPLES = 400_000


@dataclass(frozen=True, slots=True)
class Window:
    """The stretch of a motion that is recorded, and how the file counts its time.

    Parameters
    ----------
    from_s, to_s : float [s]
        In the motion's time.
    zero_s : float [s]
        What the file calls the beginning.
    clock_ppm : float
        How much the file's clock runs fast, in millionths.
    """

    from_s: float
    to_s: float
    zero_s: float
    clock_ppm: float

    def to_file(self, times_s: FloatArray) -> FloatArray:
        """Motion's time to file's time [s]."""
        return np.asarray(self.zero_s + (times_s - self.from_s) * (1.0 + 1e-6 * self.clock_ppm))

    def to_motion(self, times_s: FloatArray) -> FloatArray:
        """File's time to motion's time [s]."""
        return np.asarray(self.from_s + (times_s - self.zero_s) / (1.0 + 1e-6 * self.clock_ppm))


@dataclass(frozen=True, slots=True, eq=False)
class Channel:
    """One wheel's signal.

    Parameters
    ----------
    wheel : str
    cut : CutWheel
        The wheel as the sensor's output shows it.
    kind : str
        "hall" or "reluctance".
    level : Level, optional
        Of a switching sensor, in the motion's time.
    volts_800 : float [V]
        Amplitude of a reluctance sensor at 800 rpm, negative with its leads reversed; 0 for a switching one.
    polarity : int
    lost_s, added_s : array [s]
        Edges gone and pulses added on the way, in the motion's time.
    """

    wheel: str
    cut: CutWheel
    kind: str
    level: Level | None
    volts_800: float
    polarity: int
    lost_s: FloatArray
    added_s: FloatArray


def channel_of(
    world: World,
    name: str,
    motion: Motion,
    shaft_deg: FloatArray,
    scenario: Scenario,
    window: Window,
    rng: np.random.Generator,
) -> Channel:
    """The signal of one wheel's sensor over a motion.

    Parameters
    ----------
    world : World
    name : str
        Wheel id.
    motion : Motion
    shaft_deg : array [deg]
        How far the wheel has turned, at ``motion.times_s``.
    scenario : Scenario
    window : Window
    rng : numpy.random.Generator

    Returns
    -------
    Channel
    """
    cut, make = world.wheels[name], world.vehicle.sensors[name]
    gap, gain, sign = (float(np.asarray(world.state.get(v, name)).ravel()[0]) for v in _SENSOR_STATE)
    nothing = np.empty(0)
    if make.kind == "reluctance":
        polarity = -1 if sign < 0.0 else 1
        amplitude = float(rng.uniform(0.8, 2.5)) * gain * np.exp(-(gap - _USUAL_GAP_MM) / _GAP_DECAY_MM)
        shown = cut.inverted() if polarity < 0 else cut
        return Channel(name, shown, "reluctance", None, polarity * amplitude, polarity, nothing, nothing)
    level, _ = switched(cut, motion, shaft_deg, make, rng)
    level, missed = faded(level, gap_mm=gap, gain=gain, rng=rng)
    level, lost, added = disturbed(level, scenario.disturbances, window.from_s, window.to_s, rng)
    return Channel(name, cut, "hall", level, 0.0, 1, np.sort(np.concatenate([missed, lost])), added)


_SENSOR_STATE = ("sensor_gap", "sensor_gain", "sensor_polarity")


def spark_times(world: World, motion: Motion) -> FloatArray:
    """When the plugs fire, in the motion's time, shape (n,) [s]."""
    forward = np.maximum.accumulate(motion.crank_deg)
    low, high = forward[0], forward[-1]
    cycles = np.arange(np.floor(low / 720.0), np.ceil(high / 720.0) + 1) * 720.0
    at = np.sort((cycles[:, None] + np.asarray(world.vehicle.firing_deg) - _SPARK_DEG).ravel())
    at = at[(at > low) & (at < high)]
    return np.asarray(np.interp(at, forward, motion.times_s))


def sampled_volts(
    channel: Channel,
    times_s: FloatArray,
    world: World,
    motion: Motion,
    shaft_deg: FloatArray,
    scenario: Scenario,
    scope: Scope,
    rng: np.random.Generator,
) -> FloatArray:
    """Voltage of a channel at sample times, in the motion's time, shape (n,) [V].

    Parameters
    ----------
    channel : Channel
    times_s : array, shape (n,) [s]
    world : World
    motion : Motion
    shaft_deg : array [deg]
    scenario : Scenario
    scope : Scope
    rng : numpy.random.Generator

    Returns
    -------
    array, shape (n,) [V]
    """
    noise = float(np.asarray(world.state.get("sensor_noise", channel.wheel)).ravel()[0])
    if channel.level is not None:
        tall = scope.high_v > 15.0 and rng.random() < 0.5
        volts = hall_volts(
            channel.level,
            times_s,
            high_v=float(rng.uniform(11.5, 13.5) if tall else rng.uniform(4.6, 5.1)),
            low_v=float(rng.uniform(0.05, 0.5)),
            rise_s=float(rng.uniform(5e-7, 8e-6)),
            fall_s=float(rng.uniform(1e-7, 1e-6)),
        )
    else:
        slope = flux_slope(channel.cut)
        lag = world.vehicle.sensors[channel.wheel].lag_s
        volts = reluctance_volts(
            slope, channel.cut.period_deg, times_s - lag, motion, shaft_deg, volts=channel.volts_800
        )
        volts = volts + float(rng.choice([0.0, 0.0, 1.5, 2.5]))  # some computers hold the coil at a middle voltage
    volts = volts + rng.normal(0.0, scenario.disturbances.noise_v * noise, times_s.size)
    return volts + spark_ringing(times_s, spark_times(world, motion), scenario.disturbances.sparks_v, rng)


def conditioned(
    channel: Channel,
    world: World,
    motion: Motion,
    shaft_deg: FloatArray,
    scenario: Scenario,
    window: Window,
    rng: np.random.Generator,
) -> Channel:
    """A reluctance sensor behind the usual conditioner: up where it passes a threshold, down at zero behind.

    Parameters
    ----------
    channel : Channel
    world : World
    motion : Motion
    shaft_deg : array [deg]
    scenario : Scenario
    window : Window
    rng : numpy.random.Generator

    Returns
    -------
    Channel
        With a level.
    """
    step = max(_COMPARATOR_STEP_S, (window.to_s - window.from_s + 0.02) / _MOST_COMPARATOR_SAMPLES)
    times = np.arange(max(window.from_s - 0.01, motion.times_s[0]), window.to_s + 0.01, step)
    lag = world.vehicle.sensors[channel.wheel].lag_s
    slope = flux_slope(channel.cut)
    volts = reluctance_volts(slope, channel.cut.period_deg, times - lag, motion, shaft_deg, volts=channel.volts_800)
    noise = 0.003 + 0.3 * scenario.disturbances.noise_v
    volts = volts + _smooth(rng.normal(0.0, noise, times.size))
    # The threshold follows the signal's own height, with a floor.
    height = np.interp(times, motion.times_s, np.abs(motion.speed_rpm)) / 800.0 * abs(channel.volts_800)
    threshold = np.maximum(0.35 * height, 0.06)
    up = _crossings(times, volts - threshold, upward=True)
    down = _crossings(times, volts, upward=False)
    at = np.concatenate([up, down])
    rises = np.concatenate([np.ones(up.size, dtype=bool), np.zeros(down.size, dtype=bool)])
    order = np.argsort(at, kind="stable")
    at, rises = at[order], rises[order]
    # Armed once: of several crossings of one kind in a row the first counts.
    keep = np.concatenate([[bool(at.size) and bool(rises[0])], np.diff(rises.astype(np.int8)) != 0])[: at.size]
    level = Level(False, at[keep])
    level, lost, added = disturbed(level, scenario.disturbances, window.from_s, window.to_s, rng)
    return Channel(channel.wheel, channel.cut, "reluctance", level, channel.volts_800, channel.polarity, lost, added)


def _smooth(noise: FloatArray) -> FloatArray:
    """Noise of a filtered input: neighbours alike, same standard deviation."""
    weights = np.hanning(9)
    return np.convolve(noise, weights / np.sqrt((weights**2).sum()), mode="same")


def _crossings(times: FloatArray, volts: FloatArray, *, upward: bool) -> FloatArray:
    high = volts > 0.0
    at = np.flatnonzero(~high[:-1] & high[1:] if upward else high[:-1] & ~high[1:])
    share = volts[at] / (volts[at] - volts[at + 1])
    return np.asarray(times[at] + share * (times[at + 1] - times[at]))

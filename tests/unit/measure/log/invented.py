"""Processes of our own making whose truth is known: cams that follow, sensors that swing, counters, engines that warm.

Each is laid out finely and then read as a log reads: one value after the other, rounded, at its own times.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from witnessmark.measure.log.firingheat import Heating, sound_course
from witnessmark.measure.log.series import Log, Series
from witnessmark.physics.warmup import CoolingSystem, Thermostat, warm_up
from witnessmark.recording.parameters import Signal

__all__ = [
    "Cam", "Fired", "Narrow", "Warmed", "cam_case", "coloured", "fired_case", "log_of_series", "narrow_case", "read",
    "warmed_case",
]  # fmt: skip

Array = NDArray[np.float64]


def log_of_series(*series: Series, digest: str = "sha256:made") -> Log:
    return Log({one.signal: one for one in series}, "made.csv", digest)


def read(signal: Signal, times: Array, values: Array, fine: Array, *, step: float = 0.0, name: str = "") -> Series:
    """What stood there at each time, as it was last computed, rounded to the step of the display."""
    shown = values[np.clip(np.searchsorted(fine, times, side="right") - 1, 0, fine.size - 1)]
    if step:
        shown = np.round(shown / step) * step
    return Series(signal, times, shown, step, 0.0, name or str(signal))


def polled(rng: np.random.Generator, until: float, period: float, late: float = 0.0) -> Array:
    """Times of answers: the period with jitter of a tenth of it."""
    times = late + np.arange(0.0, until, period)
    return times + rng.uniform(-0.1, 0.1, times.size) * period


def coloured(rng: np.random.Generator, count: int, step_s: float, tau_s: float, size: float) -> Array:
    """A first-order process of a given correlation time and standard deviation."""
    keep = np.exp(-step_s / tau_s)
    kicks = rng.normal(0.0, size * np.sqrt(1.0 - keep**2), count)
    return np.asarray(lfilter([1.0], [1.0, -keep], kicks, zi=[keep * rng.normal(0.0, size)])[0])


# ---------------------------------------------------------------- cams


@dataclass(frozen=True)
class Cam:
    """A cam that follows its target at an even rate, with a deviation that stays; truth and what the log holds."""

    actual: Series
    target: Series
    slew: float
    dead_s: float
    deviation: float


def cam_case(
    rng: np.random.Generator, period: float, *, steps: int = 6, slew: float | None = None,
    deviation: float | None = None, noise: float = 0.3, stuck: bool = False,
) -> Cam:  # fmt: skip
    """Steps of 10 to 45° and back every 4 to 8 s; the control brakes over the last degrees; one poll for each value."""
    slew = float(np.exp(rng.uniform(np.log(30.0), np.log(250.0)))) if slew is None else slew
    deviation = float(rng.uniform(-8.0, 8.0)) if deviation is None else deviation
    dead, step = float(rng.uniform(0.03, 0.3)), 0.01
    fine = np.arange(0.0, 8.0 * steps + 4.0, step)
    wanted, at = np.zeros(fine.size), 3.0
    for k in range(steps):
        wanted[fine >= at] = float(rng.uniform(10.0, 45.0)) if k % 2 == 0 else float(rng.uniform(0.0, 3.0))
        at += float(rng.uniform(4.0, 8.0))
    course, now, behind = np.zeros(fine.size), 0.0, round(dead / step)
    for k in range(fine.size):
        now += 0.0 if stuck else float(np.clip((wanted[max(k - behind, 0)] - now) / 0.06, -slew, slew)) * step
        course[k] = now
    course += deviation + coloured(rng, fine.size, step, 0.4, noise)
    until = float(fine[-1]) - period
    return Cam(
        read(Signal("cam_actual", bank=1, cam="intake"), polled(rng, until, period, 0.5 * period), course, fine,
             step=0.5),
        read(Signal("cam_target", bank=1, cam="intake"), polled(rng, until, period, 0.1 * period), wanted, fine),
        slew, dead, deviation,
    )  # fmt: skip


# ---------------------------------------------------------------- oxygen sensors


@dataclass(frozen=True)
class Narrow:
    """A narrow-band sensor in a closed loop; truth is that of the course while it was logged."""

    series: Series
    swing: float
    per_min: float


def narrow_case(
    rng: np.random.Generator, period: float, *, seconds: float = 240.0, sensor: int = 1,
    levels: tuple[float, float] | None = None,
) -> Narrow:  # fmt: skip
    """Half swings of 0.3 to 1 s that vary by a fifth, flanks of 50 to 150 ms, noise of 20 mV."""
    low, high = levels or (float(rng.uniform(0.05, 0.2)), float(rng.uniform(0.75, 0.9)))
    half, tau, step = float(rng.uniform(0.3, 1.0)), float(rng.uniform(0.05, 0.15)), 0.01
    count = int(40.0 * max(seconds, 1.0) / half)
    lasts = half * np.exp(rng.normal(0.0, 0.2, count))
    long = np.arange(0.0, min(seconds, float(lasts.sum())), step)
    wanted = np.where(np.searchsorted(np.cumsum(lasts), long) % 2 == 0, low, high)
    keep = float(np.exp(-step / tau))
    course = np.asarray(lfilter([1.0 - keep], [1.0, -keep], wanted, zi=[keep * low])[0])
    course += rng.normal(0.0, 0.02, long.size)
    seen = long < seconds
    low_end, high_end = np.percentile(course, (5.0, 95.0))
    series = read(
        Signal("o2_voltage", bank=1, sensor=sensor), polled(rng, seconds, period), course[seen], long[seen], step=0.005
    )
    return Narrow(
        series, float(high_end - low_end), 60.0 * float(np.count_nonzero(np.cumsum(lasts) < long[-1])) / float(long[-1])
    )


# ---------------------------------------------------------------- misfires


@dataclass(frozen=True)
class Fired:
    """A counter of misfires with the engine's speed; truth is the chance of a firing to fail."""

    counter: Series
    speed: Series
    per_1000: float


def fired_case(
    rng: np.random.Generator, per_1000: float, *, seconds: float = 180.0, start: int = 0, modulus: int = 65536,
    reset_s: float | None = None,
) -> Fired:  # fmt: skip
    """An engine between 700 and 2,500 rpm, each firing of the cylinder failing by chance."""
    step = 0.02
    fine = np.arange(0.0, seconds, step)
    rpm = np.clip(1200.0 + coloured(rng, fine.size, step, 10.0, 400.0), 700.0, 2500.0)
    fired = np.floor(np.cumsum(rpm / 120.0 * step)).astype(np.int64)
    fails = rng.random(int(fired[-1]) + 2) < per_1000 / 1000.0
    counts = start + np.concatenate([[0], np.cumsum(fails)])[fired]
    if reset_s is not None:
        counts = np.where(fine >= reset_s, counts - counts[np.searchsorted(fine, reset_s)], counts)
    times = polled(rng, seconds - 1.0, 1.0, 0.3)
    return Fired(
        read(Signal("misfire_count", cylinder=2), times, (counts % modulus).astype(np.float64), fine, step=1.0),
        read(Signal("engine_speed"), polled(rng, seconds, 0.25, 0.1), rpm, fine, step=0.25),
        per_1000,
    )


# ---------------------------------------------------------------- warming up


@dataclass(frozen=True)
class Warmed:
    """An engine of unusual mass warming up from cold; truth is how it does for its heat against a usual one."""

    coolant: Series
    heating: Heating
    ratio: float
    reaches_s: float


def warmed_case(rng: np.random.Generator, *, period: float = 1.0, share_sd: float = 0.08) -> Warmed:
    """Heat from 1.5 to 6 kW a litre, known to 8 %; masses of 0.5 to 1.6 of the usual; coolant in whole degrees."""
    ends = np.arange(0.0, 1200.1, 30.0)
    watts = rng.uniform(1500.0, 6000.0) * np.exp(0.2 * coloured(rng, ends.size - 1, 30.0, 120.0, 1.0))
    mass, start = float(rng.uniform(0.5, 1.6)), float(rng.uniform(-10.0, 30.0))
    usual = CoolingSystem()
    own = CoolingSystem(usual.coolant_capacity * mass, usual.oil_capacity * mass, usual.exchange * mass,
                        usual.coolant_loss * mass, usual.oil_loss * mass)  # fmt: skip
    now, oil, times, course = start, start, [0.0], [start]
    for k, power in enumerate(watts.tolist()):
        went = warm_up(
            2.0 * power, own, Thermostat(opens_c=200.0), ambient_c=start, start_c=now, oil_start_c=oil, seconds=30.0
        )
        times += (went.seconds[1:] + 30.0 * k).tolist()
        course += went.coolant_c[1:, 0].tolist()
        now, oil = course[-1], float(went.oil_c[-1, 0])
    known = Heating(ends, watts, share_sd, "made")
    sound = sound_course(known, start, start)
    fine, whole = np.arange(0.0, 1200.0, 0.5), np.array(course)
    true = np.interp(fine, times, whole)
    at = np.flatnonzero(np.maximum(np.interp(fine, ends, sound), true) >= 75.0)
    end = int(at[0]) if at.size else fine.size - 1
    ratio = (true[end] - start) / (float(np.interp(fine[end], ends, sound)) - start)
    there = np.flatnonzero(true >= 80.0)
    shown = true + rng.uniform(-0.5, 0.5) + rng.normal(0.0, 0.3)  # rounded or cut off; how warm it is there
    coolant = read(Signal("coolant"), polled(rng, 1199.0, period, 0.2), shown, fine, step=1.0)
    told = Heating(ends, watts * np.exp(rng.normal(0.0, share_sd)), share_sd, "made")
    return Warmed(coolant, told, float(ratio), float(fine[there[0]]) if there.size else float("inf"))

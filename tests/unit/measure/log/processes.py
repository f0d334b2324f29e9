"""Movements known at every moment, sampled as logs are: unevenly, slowly, rounded, repeated; for tests only."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from witnessmark.measure.log.average import average
from witnessmark.measure.log.series import Series
from witnessmark.recording.parameters import Signal

__all__ = ["Made", "covered", "drifting", "dying", "fresh", "hunting", "times_at"]

Array = NDArray[np.float64]
Generator = np.random.Generator
Made = Callable[[Generator, Array], Array]


def times_at(rng: Generator, count: int, hertz: float) -> Array:
    """Uneven by three tenths either way, as where one value is asked for after the other."""
    return np.cumsum((1.0 + 0.3 * rng.uniform(-1.0, 1.0, count)) / hertz)


def fresh(rng: Generator, times: Array) -> Array:
    """An engine that does not move at all; what a sample shows beyond is the reading's noise."""
    return np.zeros(times.size)


def dying(seconds: float) -> Made:
    """First-order process of standard deviation 1."""

    def make(rng: Generator, times: Array) -> Array:
        found = np.empty(times.size)
        found[0] = rng.standard_normal()
        keep = np.exp(-np.diff(times) / seconds)
        for k, a in enumerate(keep, 1):
            found[k] = a * found[k - 1] + np.sqrt(1.0 - a * a) * rng.standard_normal()
        return found

    return make


def hunting(period_s: float) -> Made:
    """A closed loop's saw-tooth of standard deviation 1, its period wandering by a tenth."""
    wander = dying(5.0 * period_s)

    def make(rng: Generator, times: Array) -> Array:
        pace = np.exp(-0.1 * wander(rng, times)) / period_s
        phase = rng.uniform() + np.concatenate(([0.0], np.cumsum(np.diff(times) * pace[1:])))
        return np.asarray((1.0 - 4.0 * np.abs(phase % 1.0 - 0.5)) * np.sqrt(3.0))

    return make


def drifting(rng: Generator, times: Array) -> Array:
    """Evenly from one level to another, 6 apart."""
    return np.asarray(6.0 * (times - times[0]) / max(times[-1] - times[0], 1e-9))


def covered(
    rng: Generator, made: Made, count: int, hertz: float, *, noise: float = 0.3, step: float = 0.0, pieces: int = 1,
    repeats: int = 1, size: float = 1.0, runs: int = 60,
) -> tuple[float, float]:  # fmt: skip
    """How often 1.645 sd hold what an ideal instrument shows on average over the stretches, and how wide they are.

    The engine moves by ``made`` times ``size``; each sample is read with ``noise`` on top and rounded to ``step``.
    """
    held, widths = 0, []
    for _ in range(runs):
        level, parts, ideal, begins = rng.uniform(-5.0, 5.0), [], [], 0.0
        for _ in range(pieces):
            times = times_at(rng, count // pieces, hertz) + begins
            fine = np.arange(times[0] - 0.5 / hertz, times[-1] + 0.5 / hertz, 0.125 / hertz)
            every = np.concatenate((fine, times))
            order = np.argsort(every, kind="stable")
            moved = np.empty(every.size)
            moved[order] = level + size * made(rng, every[order])
            ideal.append(moved[: fine.size])
            values = moved[fine.size :] + noise * rng.standard_normal(times.size)
            values = np.round(values / step) * step if step else values
            begins = times[-1] + 60.0
            if repeats > 1:
                values = np.repeat(values, repeats)
                times = times[0] + np.arange(values.size) / hertz / repeats
            parts.append(Series(Signal("map"), times, values, step))
        found = average(parts)
        assert found is not None
        held += abs(found.value - np.concatenate(ideal).mean()) <= 1.645 * found.sd
        widths.append(found.sd)
    return held / runs, float(np.mean(widths))

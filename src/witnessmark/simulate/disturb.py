"""What does not belong to the engine: lost teeth, stray pulses, loose terminals, sparks."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.simulate.scenario import Disturbances
from witnessmark.simulate.sensors import Level

__all__ = ["disturbed", "faded", "spark_ringing"]

FloatArray = NDArray[np.float64]

# At the first air gap a hall sensor begins to miss teeth, at the second it misses all (common practice, no source).
_GAP_MM = (2.2, 3.7)
_LEAST_GAIN = 0.5


def faded(level: Level, *, gap_mm: float, gain: float, rng: np.random.Generator) -> tuple[Level, FloatArray]:
    """A switched signal whose sensor sits too far off or has grown weak: teeth are missed.

    Parameters
    ----------
    level : Level
    gap_mm : float [mm]
    gain : float [-]
        Sensitivity over that of a good sensor.
    rng : numpy.random.Generator

    Returns
    -------
    Level
    array, shape (n,) [s]
        Times of the changes that are gone.
    """
    too_far = (gap_mm - _GAP_MM[0]) / (_GAP_MM[1] - _GAP_MM[0])
    too_weak = (_LEAST_GAIN - gain) / _LEAST_GAIN
    chance = float(np.clip(max(too_far, too_weak), 0.0, 1.0))
    return _lose(level, chance, rng)


def _lose(level: Level, chance: float, rng: np.random.Generator) -> tuple[Level, FloatArray]:
    """Whole teeth lost, each by chance: the change to high and the one back."""
    first = 0 if not level.starts_high else 1  # index of the first rise
    teeth = max((level.times_s.size - first) // 2, 0)
    lost = np.flatnonzero(rng.random(teeth) < chance)
    gone = np.zeros(level.times_s.size, dtype=bool)
    gone[first + 2 * lost] = True
    gone[first + 2 * lost + 1] = True
    return level.without(gone), level.times_s[gone]


def disturbed(
    level: Level, what: Disturbances, from_s: float, to_s: float, rng: np.random.Generator
) -> tuple[Level, FloatArray, FloatArray]:
    """A switched signal with what befalls it on its way.

    Parameters
    ----------
    level : Level
    what : Disturbances
    from_s, to_s : float [s]
    rng : numpy.random.Generator

    Returns
    -------
    Level
    array, shape (n,) [s]
        Times of the changes that are gone.
    array, shape (m,) [s]
        Beginnings of the pulses that were added.
    """
    seconds = to_s - from_s
    shown, lost = level, np.empty(0)
    inside = int(((level.times_s > from_s) & (level.times_s < to_s)).sum()) / 2.0
    if what.lost_hz > 0.0 and inside > 0.0:
        shown, lost = _lose(shown, min(what.lost_hz * seconds / inside, 1.0), rng)
    if what.dropouts_hz > 0.0:
        shown, more = _drop_out(shown, rng.uniform(from_s, to_s, rng.poisson(what.dropouts_hz * seconds)), rng)
        lost = np.sort(np.concatenate([lost, more]))
    added = np.empty(0)
    if what.glitches_hz > 0.0:
        shown, added = _glitch(shown, rng.uniform(from_s, to_s, rng.poisson(what.glitches_hz * seconds)), rng)
    return shown, lost, added


def _drop_out(level: Level, starts: FloatArray, rng: np.random.Generator) -> tuple[Level, FloatArray]:
    lost = []
    for start in np.sort(starts):
        end = start + rng.uniform(2e-3, 30e-3)
        gone = (level.times_s >= start) & (level.times_s < end)
        lost.append(level.times_s[gone])
        kept = level.times_s[~gone]
        # The level held meanwhile; if it should have changed by the end, it does so there.
        level = Level(level.starts_high, np.sort(np.append(kept, end)) if gone.sum() % 2 else kept)
    return level, np.concatenate(lost) if lost else np.empty(0)


def _glitch(level: Level, starts: FloatArray, rng: np.random.Generator) -> tuple[Level, FloatArray]:
    """Pulses of 0.2 to 20 microseconds, where no true change stands near enough to be torn apart by them."""
    widths = np.exp(rng.uniform(np.log(2e-7), np.log(2e-5), starts.size))
    order = np.argsort(starts)
    starts, widths = starts[order], widths[order]
    edges = np.concatenate([[-np.inf], level.times_s, [np.inf]])
    after = np.searchsorted(edges, starts)
    clear = (starts - edges[after - 1] > 5.0 * widths) & (edges[after] - starts > 5.0 * widths)
    clear[1:] &= np.diff(starts) > 1e-3
    return level.with_pulses(starts[clear], widths[clear]), starts[clear]


def spark_ringing(times_s: FloatArray, sparks_s: FloatArray, volts: float, rng: np.random.Generator) -> FloatArray:
    """Ringing that ignition couples into a channel.

    Parameters
    ----------
    times_s : array, shape (n,) [s]
        Of the samples, evenly spaced.
    sparks_s : array, shape (m,) [s]
    volts : float [V]
        Height of the first swing.
    rng : numpy.random.Generator

    Returns
    -------
    array, shape (n,) [V]
    """
    found = np.zeros(times_s.size)
    if volts <= 0.0 or times_s.size < 2:
        return found
    frequency, decay = float(rng.uniform(4e3, 4e4)), float(rng.uniform(3e-5, 2e-4))
    for spark in sparks_s:
        first, last = np.searchsorted(times_s, [spark, spark + 8.0 * decay])
        since = times_s[first:last] - spark
        strength = volts * float(rng.uniform(0.5, 1.0))
        found[first:last] += strength * np.exp(-since / decay) * np.cos(2.0 * np.pi * frequency * since)
    return found

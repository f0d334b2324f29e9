"""Where a sampled signal changes between low and high: the switching level, the hysteresis, the noise.

Two kinds of signal are told apart. One of *two states* (a switching sensor, a logic line) rests near two values; its
level is half way. A *swing* (a variable-reluctance sensor) passes steadily through its middle, and its size grows with
speed; its level is its median and the hysteresis follows its size. Where the middle itself wanders, the level follows.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from witnessmark.signal.robust import excerpt, noise_sd, quantum

__all__ = ["Levels", "find_levels"]

FloatArray = NDArray[np.float64]
SignalKind = Literal["two_states", "swing", "drifting", "flat"]

# Thresholds stand at a quarter of the way from the middle to the ends: common practice, no source. They stay out of the
# noise by five standard deviations: normal noise is beyond them once in 1.7 million samples, and a wheel may rest long.
_BAND_SHARE = 0.25
_BAND_NOISE = 5.0
# Signals smaller than this many standard deviations of their noise are taken for none.
_STATES_NOISE = 10.0
_SWING_NOISE = 6.5
# A sine spends 28 % of its time in the middle 60 % between the medians of its halves, a triangle or plain noise 30 %.
_BETWEEN_SHARE = 0.2
_OVERSHOOT = 0.4
_LOOKED_AT = 400_000
_PERIODS_A_BLOCK = 6.0
_RUNS = (16, 64, 256, 1024)
# The middle wanders when more than a quarter of the blocks lie off centre by more than half their size.
# A gap in the teeth or a stop at one end moves single blocks, or all of them by less.
_OFF_CENTRE = 0.5
_DRIFT_SHARE = 0.25


@dataclass(frozen=True, slots=True, eq=False)
class Levels:
    """Switching level and hysteresis along a trace.

    Parameters
    ----------
    kind : str
        "two_states", "swing", "drifting" or "flat" (no edges can be told from noise).
    block : int
        Samples to which one entry of the arrays below applies.
    level : array, shape (n_blocks,)
        Switching level, in the unit of the values.
    half_band : array, shape (n_blocks,)
        Distance of either threshold from it.
    swing : array, shape (n_blocks,)
        Distance between low and high.
    noise_sd : float
        Standard deviation of the noise of a sample, the converter's steps included.
    """

    kind: SignalKind
    block: int
    level: FloatArray
    half_band: FloatArray
    swing: FloatArray
    noise_sd: float

    def at(self, samples: NDArray[np.int64]) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Level, half band and swing at samples, shape (n,) each; the level runs straight from block to block."""
        block = np.minimum(samples // self.block, self.level.size - 1)
        centres = (np.arange(self.level.size) + 0.5) * self.block
        return np.interp(samples, centres, self.level), self.half_band[block], self.swing[block]

    def describe(self) -> str:
        """In words, for the method of a finding."""
        if self.kind == "flat":
            return "no change above the noise"
        kind = {
            "two_states": "two states",
            "swing": "swing about the median",
            "drifting": "swing about a moving middle",
        }
        level, band = float(np.median(self.level)), float(np.median(self.half_band))
        return f"{kind[self.kind]}, level {level:.4g} ± {band:.2g}, noise {self.noise_sd:.2g}"


def find_levels(values: FloatArray) -> Levels:
    """Switching level and hysteresis of evenly spaced samples.

    Parameters
    ----------
    values : array, shape (n,)
        Finite.

    Returns
    -------
    Levels
    """
    looked_at = excerpt(values, _LOOKED_AT)
    if looked_at.size == 0:
        return _flat(0, 0.0, 0.0)
    step = quantum(looked_at)
    states = _two_states(looked_at, noise_sd(looked_at), step)
    if states is None:
        return _swinging(values, looked_at, noise_sd(looked_at, step))
    low, high = states
    # Between two states a fourth of the way apart or more, steps are no noise but the states themselves.
    noise = noise_sd(looked_at, step if step < (high - low) / 4.0 else 0.0)
    # Both thresholds must stay clear of the states.
    half = min(max(_BAND_SHARE * (high - low), _BAND_NOISE * noise), 0.4 * (high - low))
    one = np.ones(1)
    return Levels("two_states", values.size, one * (low + high) / 2, one * half, one * (high - low), noise)


def _flat(count: int, level: float, noise: float) -> Levels:
    none = np.zeros(1)
    return Levels("flat", max(count, 1), none + level, none + np.inf, none, noise)


def _two_states(values: FloatArray, noise: float, step: float) -> tuple[float, float] | None:
    """The two values near which the signal rests, or None where it does not rest at two."""
    if values.size < 2:
        return None
    lowest, highest = (float(end) for end in np.percentile(values, [0.05, 99.95]))
    if not highest > lowest:
        return None
    low, high, middle = lowest, highest, (lowest + highest) / 2.0
    for _ in range(50):
        above = values > middle
        if above.all() or not above.any():
            return None
        low, high = float(np.median(values[~above])), float(np.median(values[above]))
        moved, middle = middle, (low + high) / 2.0
        if abs(moved - middle) <= 1e-3 * (high - low):
            break
    apart = high - low
    between = float(np.mean(np.abs(values - middle) < 0.3 * apart))
    # A line that changes every few samples leaves no stretch to take noise from: it is then what is left about the
    # states.
    noise = min(noise, 1.4826 * float(np.median(np.minimum(np.abs(values - low), np.abs(values - high)))))
    # Neighbouring values of a converter, with others beside them, are its noise.
    clear = apart > max(_STATES_NOISE * noise, 1.5 * step)
    # Lobes on both sides of a value of rest are a swing, however rare they are.
    one_sided = lowest > low - _OVERSHOOT * apart and highest < high + _OVERSHOOT * apart
    return (low, high) if clear and one_sided and between < _BETWEEN_SHARE else None


def _swinging(values: FloatArray, looked_at: FloatArray, noise: float) -> Levels:
    centre = float(np.median(looked_at))
    block = _block_length(looked_at, noise, values.size)
    low, rest, high = _blocks(values, block)
    size = (high - low) / 2.0
    if size.max() < _SWING_NOISE * noise or size.max() == 0.0:
        return _flat(values.size, centre, noise)
    moving = size > _SWING_NOISE * noise
    drifting = low.size >= 8 and np.mean(np.abs(rest - centre)[moving] > _OFF_CENTRE * size[moving]) > _DRIFT_SHARE
    level = (low + high) / 2.0 if drifting else np.full(low.size, centre)
    # A block that falls between two teeth, or into the moment of standing still, must not open the gate to noise
    # nor shut it to the next tooth: take the middle of three.
    calm = _middle_of_three(size)
    half = np.maximum(_BAND_SHARE * calm, _BAND_NOISE * noise)
    return Levels("drifting" if drifting else "swing", block, level, half, 2.0 * size, noise)


def _block_length(values: FloatArray, noise: float, count: int) -> int:
    """Samples in about six periods of the signal, found in runs short enough for a wandering middle to stand still."""
    passes = _passes(values[None, :], noise)
    for runs in _RUNS:
        length = values.size // runs
        if length < 64:
            break
        found = _passes(values[: runs * length].reshape(runs, length), noise)
        # A run of less than a period passes its own middle once, whatever the signal.
        if found >= 6 * runs:
            passes = max(passes, found)
    period = 2.0 * values.size / max(passes, 1)
    return int(np.clip(_PERIODS_A_BLOCK * period, 64, max(count, 64)))


def _passes(rows: FloatArray, noise: float) -> int:
    """How often the signal passes the middle of each row, shape (n_rows, n), in all."""
    low, centre, high = (column[:, None] for column in np.percentile(rows, [10, 50, 90], axis=1))
    band = np.maximum(_BAND_SHARE * (high - low) / 2.0, _BAND_NOISE * noise)
    state = (rows > centre + band).astype(np.int8) - (rows < centre - band)
    row, column = np.nonzero(state)
    beyond = state[row, column]
    return int(np.count_nonzero((beyond[1:] != beyond[:-1]) & (row[1:] == row[:-1])))


def _blocks(values: FloatArray, block: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Usual foot, median and usual top of each block, shape (n_blocks,); a rest too short for a block is left out.

    The usual top is the median of the tops of six parts, about a period each: that finds rare pulses, which a
    percentile does not, and no single spike or wider gap moves it.
    """
    count = max(values.size // block, 1)
    length = min(block, values.size)
    whole = values[: count * length].reshape(count, length)
    parts = max(1, min(int(_PERIODS_A_BLOCK), length))
    cut = whole[:, : length // parts * parts].reshape(count, parts, -1)
    low, high = np.median(cut.min(axis=2), axis=1), np.median(cut.max(axis=2), axis=1)
    # A hundred samples tell the median of six periods as well as all do.
    return low, np.median(whole[:, :: max(1, length // 100)], axis=1), high


def _middle_of_three(values: FloatArray) -> FloatArray:
    if values.size < 3:
        return values
    edge = np.concatenate([values[:1], values, values[-1:]])
    middle: FloatArray = np.median(np.stack([edge[:-2], edge[1:-1], edge[2:]]), axis=0)
    return middle

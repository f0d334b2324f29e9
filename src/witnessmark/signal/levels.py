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
# noise by four standard deviations, so that a pass through both is no accident (1 in 30,000 samples each).
_BAND_SHARE = 0.25
_BAND_NOISE = 4.0
# Signals smaller than this many standard deviations of their noise are taken for none.
_STATES_NOISE = 10.0
_SWING_NOISE = 5.0
# A sine spends 28 % of its time in the middle 60 % between the medians of its halves, a triangle or plain noise 30 %.
_BETWEEN_SHARE = 0.2
# The tenth and ninetieth percentile of a sine lie at cos(pi/10) of its amplitude.
_SINE_PERCENTILE = float(np.cos(np.pi / 10.0))
_LOOKED_AT = 400_000
_PERIODS_A_BLOCK = 6.0
_DRIFT_SHARE = 0.35


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
    noise = max(noise_sd(looked_at), quantum(looked_at) / np.sqrt(12.0))
    states = _two_states(looked_at, noise)
    if states is not None:
        low, high = states
        # Both thresholds must stay clear of the states themselves.
        half = min(max(_BAND_SHARE * (high - low), _BAND_NOISE * noise), 0.4 * (high - low))
        one = np.ones(1)
        return Levels("two_states", max(values.size, 1), one * (low + high) / 2, one * half, one * (high - low), noise)
    return _swinging(values, looked_at, noise)


def _two_states(values: FloatArray, noise: float) -> tuple[float, float] | None:
    """The two values near which the signal rests, or None where it does not rest at two."""
    if values.size < 2:
        return None
    low, high = (float(end) for end in np.percentile(values, [0.05, 99.95]))
    if not high > low:
        return None
    middle = (low + high) / 2.0
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
    return (low, high) if apart > _STATES_NOISE * noise and between < _BETWEEN_SHARE else None


def _swinging(values: FloatArray, looked_at: FloatArray, noise: float) -> Levels:
    centre = float(np.median(looked_at))
    block = _block_length(looked_at, centre, noise, values.size)
    low, high = _blocks(values, block)
    size = (high - low) / (2.0 * _SINE_PERCENTILE)
    usual = float(np.median(size))
    if size.max() < _SWING_NOISE * noise or size.max() == 0.0:
        none = np.zeros(1)
        return Levels("flat", max(values.size, 1), none + centre, none + np.inf, none, noise)
    wander = float(np.subtract(*np.percentile((low + high) / 2.0, [95, 5])))
    drifting = low.size >= 8 and wander > _DRIFT_SHARE * 2.0 * usual
    level = (low + high) / 2.0 if drifting else np.full(low.size, centre)
    # A block that falls between two teeth, or into the moment of standing still, must not open the gate to noise
    # nor shut it to the next tooth: take the middle of three.
    calm = _middle_of_three(size)
    half = np.maximum(_BAND_SHARE * calm, _BAND_NOISE * noise)
    return Levels("drifting" if drifting else "swing", block, level, half, 2.0 * size, noise)


def _block_length(values: FloatArray, centre: float, noise: float, count: int) -> int:
    """Samples in about six periods of the signal."""
    reach = float(np.subtract(*np.percentile(values, [90, 10]))) / 2.0
    band = max(_BAND_SHARE * reach, _BAND_NOISE * noise)
    state = (values > centre + band).astype(np.int8) - (values < centre - band)
    state = state[state != 0]
    passes = int(np.count_nonzero(state[1:] != state[:-1]))
    period = 2.0 * values.size / max(passes, 1)
    return int(np.clip(_PERIODS_A_BLOCK * period, 64, max(count, 64)))


def _blocks(values: FloatArray, block: int) -> tuple[FloatArray, FloatArray]:
    """Tenth and ninetieth percentile of each block, shape (n_blocks,); a rest too short for a block is left out."""
    count = max(values.size // block, 1)
    # A hundred samples show the size of six periods as well as all do.
    whole = values[: count * block].reshape(count, -1)[:, :: max(1, block // 100)]
    low, high = np.percentile(whole, [10, 90], axis=1)
    return low, high


def _middle_of_three(values: FloatArray) -> FloatArray:
    if values.size < 3:
        return values
    edge = np.concatenate([values[:1], values, values[-1:]])
    middle: FloatArray = np.median(np.stack([edge[:-2], edge[1:-1], edge[2:]]), axis=0)
    return middle

"""Passes of samples through a level: found with hysteresis, in chunks, and timed between samples."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.signal.levels import Levels

__all__ = ["crossings", "passages"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

# A line is fitted over as many samples as it takes to lift the signal four standard deviations out of its noise.
_FIT_NOISE = 4.0
_LONGEST_FIT = 64
_AT_ONCE = 1 << 21


def passages(values: FloatArray, levels: Levels, *, first: int, chunk: int) -> tuple[IntArray, IntArray, BoolArray]:
    """Where the signal goes from beyond one threshold to beyond the other.

    Parameters
    ----------
    values : array, shape (n,)
    levels : Levels
    first : int
        Number of the first sample in the trace to which ``levels`` belongs.
    chunk : int
        Samples looked at in one go. Each chunk is seeded with the state in which the one before it ended, without
        which a pass that lies across the seam would be lost.

    Returns
    -------
    starts, ends : array of int, shape (m,)
        Last sample beyond the one threshold, first beyond the other.
    rising : array of bool, shape (m,)
    """
    starts, ends, rising = [], [], []
    last_sample, last_state = -1, 0
    for begin in range(0, values.size, chunk):
        part = values[begin : begin + chunk]
        run_first, run_last, state = _runs_beyond(part, levels, first + begin)
        run_first, run_last = run_first + begin, run_last + begin
        before = np.concatenate([[last_state], state])
        before_last = np.concatenate([[last_sample], run_last])
        turned = (before[1:] != before[:-1]) & (before[:-1] != 0)
        starts.append(before_last[:-1][turned])
        ends.append(run_first[turned])
        rising.append(state[turned] > 0)
        if state.size:
            last_sample, last_state = int(run_last[-1]), int(state[-1])
    if not starts:
        return np.empty(0, np.int64), np.empty(0, np.int64), np.empty(0, np.bool_)
    return np.concatenate(starts), np.concatenate(ends), np.concatenate(rising)


def _runs_beyond(part: FloatArray, levels: Levels, first: int) -> tuple[IntArray, IntArray, NDArray[np.int8]]:
    """Runs of samples beyond a threshold: first and last sample of each, and +1 above or −1 below."""
    low, high = _thresholds(levels, first, part.size)
    state = (part > high).astype(np.int8)
    state -= part < low
    bounds = np.flatnonzero(state[1:] != state[:-1]) + 1
    run_first = np.concatenate([[0], bounds])
    run_last = np.concatenate([bounds - 1, [part.size - 1]])
    beyond = state[run_first] != 0
    return run_first[beyond], run_last[beyond], state[run_first][beyond]


def _thresholds(levels: Levels, first: int, count: int) -> tuple[FloatArray | float, FloatArray | float]:
    """Lower and upper threshold for a run of samples; plain numbers where they are the same for all."""
    if levels.level.size == 1:
        level, half = float(levels.level[0]), float(levels.half_band[0])
        return level - half, level + half
    if (levels.level == levels.level[0]).all():
        level = float(levels.level[0])
        half_at = _held(levels.half_band, levels.block, first, count)
        return level - half_at, level + half_at
    level_at, half_at, _ = levels.at(np.arange(first, first + count))
    return level_at - half_at, level_at + half_at


def _held(numbers: FloatArray, block: int, first: int, count: int) -> FloatArray:
    """Each number for the samples of its block, the last one for all that follow, shape (count,)."""
    blocks = np.arange(first // block, (first + count - 1) // block + 1)
    begins = np.maximum(blocks * block, first)
    ends = np.minimum((blocks + 1) * block, first + count)
    held: FloatArray = np.repeat(numbers[np.minimum(blocks, numbers.size - 1)], ends - begins)
    return held


def crossings(
    values: FloatArray, starts: IntArray, ends: IntArray, rising: BoolArray, levels: Levels, *, first: int
) -> tuple[FloatArray, FloatArray]:
    """Where in each passage the level is met, and how well that is known.

    Parameters
    ----------
    values : array, shape (n,)
    starts, ends, rising : arrays, shape (m,)
        From :func:`passages`.
    levels : Levels
    first : int
        Number of the first sample in the trace to which ``levels`` belongs.

    Returns
    -------
    positions, sd : array, shape (m,)
        In samples.
    """
    level, _, swing = levels.at(starts + first)
    crude = _between_first_and_last(values, starts, ends, rising, level)
    rise = (values[ends] - values[starts]) / (ends - starts)
    reach = np.ceil(_FIT_NOISE * levels.noise_sd / np.abs(rise)).astype(np.int64)
    reach = np.clip(reach, 1, np.minimum((ends - starts + 1) // 2, _LONGEST_FIT).clip(1))
    positions, sd = np.empty(starts.size), np.empty(starts.size)
    for half in np.unique(reach):
        chosen = reach == half
        positions[chosen], sd[chosen] = _fitted(
            values, crude[chosen], rise[chosen], level[chosen], int(half), levels.noise_sd
        )
    return positions, np.hypot(sd, _course_doubt(values, positions, rising, swing))


def _between_first_and_last(
    values: FloatArray, starts: IntArray, ends: IntArray, rising: BoolArray, level: FloatArray
) -> FloatArray:
    """Half way between the first and the last time the level is met within each passage, shape (m,)."""
    found = np.empty(starts.size)
    length = ends - starts + 1
    # Passages of like length are laid side by side; none is padded to more than twice its own.
    group = np.ceil(np.log2(length)).astype(np.int64)
    for power in np.unique(group):
        members = np.flatnonzero(group == power)
        width = 1 << int(power)
        for some in np.array_split(members, max(1, members.size * width // _AT_ONCE)):
            samples = np.minimum(starts[some, None] + np.arange(width + 1), ends[some, None])
            sign = np.where(rising[some], 1.0, -1.0)[:, None]
            above = (values[samples] - level[some, None]) * sign
            met = (above[:, :-1] < 0.0) & (above[:, 1:] >= 0.0)
            earliest = met.argmax(axis=1)
            latest = width - 1 - met[:, ::-1].argmax(axis=1)
            ways = [_straight(above, column) for column in (earliest, latest)]
            found[some] = starts[some] + (ways[0] + ways[1]) / 2.0
    return found


def _straight(above: FloatArray, column: IntArray) -> FloatArray:
    rows = np.arange(column.size)
    before, after = above[rows, column], above[rows, column + 1]
    return column + before / np.where(before == after, -1.0, before - after)


def _fitted(
    values: FloatArray, crude: FloatArray, rise: FloatArray, level: FloatArray, half: int, noise_sd: float
) -> tuple[FloatArray, FloatArray]:
    """Where the least-squares line through the 2·half samples around a crossing meets the level, and its sd.

    A line v = v̄ + b (x − x̄) meets the level L at x̄ + (L − v̄)/b; with white noise σ the variance of that is
    (σ/b)² (1/N + (x − x̄)²/Sxx) (calibration by linear least squares, common textbook result).
    """
    left = np.floor(crude).astype(np.int64)
    left = np.clip(left, half - 1, max(values.size - 1 - half, half - 1))
    offsets = np.arange(1 - half, half + 1)
    x = offsets - offsets.mean()
    around = np.minimum(left[:, None] + offsets, values.size - 1)
    v = values[around]
    mean = v.mean(axis=1)
    sxx = float(x @ x)
    slope = (v @ x) / sxx
    usable = slope * rise > 0.0
    slope = np.where(usable, slope, rise)
    away = (level - mean) / slope
    sd = noise_sd / np.abs(slope) * np.sqrt(1.0 / offsets.size + away**2 / sxx)
    # A line that leads out of its own samples is no measurement; the crude place and its doubt stand.
    kept = usable & (np.abs(away) <= half)
    doubt = np.maximum(noise_sd / np.abs(rise), 1.0 / np.sqrt(12.0))
    return np.where(kept, left + offsets.mean() + away, crude), np.where(kept, sd, doubt)


def _course_doubt(values: FloatArray, positions: FloatArray, rising: BoolArray, swing: FloatArray) -> FloatArray:
    """Doubt about the course between two samples, in samples, shape (m,).

    Edges of one direction come from one kind of tooth, so what tells the course is taken over neighbours:

    * the share s of the whole change that falls between the two samples beside the level: 1 for a jump, which may lie
      anywhere between them (1/sqrt(12)); 1/2 for a ramp over two samples, on which a straight line errs no more;
    * the bend c = |v''/v'|, taken from the second differences at both: a chord misses an evenly bent curve by
      c f(1-f)/2 at the fraction f, and that spreads by c sqrt(1/120 - 1/144) when f is even over 0..1 (its mean is
      common to all such edges, and no doubt of one against the other).
    """
    if values.size < 4:
        return np.full(positions.size, 1.0 / np.sqrt(12.0))
    left = np.clip(np.floor(positions).astype(np.int64), 1, values.size - 3)
    before, low, high, after = (values[left + k] for k in (-1, 0, 1, 2))
    step = high - low
    share = np.abs(step) / np.where(swing > 0, swing, np.inf)
    bends = np.abs(high - 2.0 * low + before) + np.abs(after - 2.0 * high + low)
    bend = bends / 2.0 / np.maximum(np.abs(step), 1e-300)
    doubt = np.empty(positions.size)
    for direction in (True, False):
        chosen = rising == direction
        jump = np.clip(2.0 * _among_neighbours(share[chosen]) - 1.0, 0.0, 1.0) ** 2 / np.sqrt(12.0)
        chord = np.sqrt(1.0 / 120.0 - 1.0 / 144.0) * _among_neighbours(np.minimum(bend[chosen], 2.0))
        doubt[chosen] = np.hypot(jump, chord)
    return doubt


def _among_neighbours(numbers: FloatArray) -> FloatArray:
    """Mean over up to 51 neighbours, shape (m,)."""
    if numbers.size == 0:
        return numbers
    total = np.concatenate([[0.0], np.cumsum(numbers)])
    place = np.arange(numbers.size)
    first, last = np.maximum(place - 25, 0), np.minimum(place + 26, numbers.size)
    mean: FloatArray = (total[last] - total[first]) / (last - first)
    return mean

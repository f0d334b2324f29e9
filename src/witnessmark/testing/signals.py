"""Signals with a known truth: a toothed wheel that turns, as a switching or a variable-reluctance sensor shows it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Wheel", "edge_list", "missing_tooth_wheel", "switching_samples", "turning"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Wheel:
    """Where the edges of a wheel lie in a turn.

    Parameters
    ----------
    rising_deg, falling_deg : array, shape (n_teeth,) [deg]
        Increasing, within 0..360.
    """

    rising_deg: FloatArray
    falling_deg: FloatArray


def missing_tooth_wheel(positions: int, missing: int, *, tooth_share: float = 0.5) -> Wheel:
    """A wheel of even teeth with a run of them left out at the end of the turn.

    Parameters
    ----------
    positions, missing : int
        60 and 2 for a 60-2 wheel.
    tooth_share : float
        Width of a tooth as a share of the pitch.

    Returns
    -------
    Wheel
    """
    pitch_deg = 360.0 / positions
    rising = np.arange(positions - missing, dtype=np.float64) * pitch_deg + 0.25 * pitch_deg
    return Wheel(rising, rising + tooth_share * pitch_deg)


def turning(speed_rpm: tuple[float, float], duration_s: float, angle_deg: FloatArray) -> FloatArray:
    """Times at which angles are passed when speed changes evenly from one value to another.

    Parameters
    ----------
    speed_rpm : (float, float) [rpm]
        At the beginning and at the end.
    duration_s : float [s]
    angle_deg : array, shape (n,) [deg]
        Within one turn.

    Returns
    -------
    array, shape (m,) [s]
        Increasing; every passage within the duration.
    """
    first, last = (6.0 * speed for speed in speed_rpm)
    rate = (last - first) / duration_s
    total_deg = first * duration_s + rate * duration_s**2 / 2.0
    turns = np.arange(int(total_deg // 360.0) + 1)
    passed = np.sort((turns[:, None] * 360.0 + angle_deg[None, :]).ravel())
    passed = passed[passed <= total_deg]
    if rate == 0.0:
        return passed / first
    # Of the two roots of first t + rate t²/2 = angle, this form is the right one and keeps its digits for small rates.
    times: FloatArray = 2.0 * passed / (first + np.sqrt(first**2 + 2.0 * rate * passed))
    return times


def edge_list(channels: list[tuple[FloatArray, FloatArray]]) -> tuple[FloatArray, NDArray[np.uint8]]:
    """Rows of a list of state changes.

    Parameters
    ----------
    channels : list of (array [s], array [s])
        Times of the rising and of the falling edges of each channel.

    Returns
    -------
    times_s : array, shape (n_rows,) [s]
        The first row is the state at zero.
    levels : array, shape (n_rows, n_channels)
    """
    times = np.unique(np.concatenate([np.zeros(1), *(edges for pair in channels for edges in pair)]))
    levels = np.empty((times.size, len(channels)), np.uint8)
    for k, (rising, falling) in enumerate(channels):
        begun = int(falling.size > 0 and (rising.size == 0 or falling[0] < rising[0]))
        up, down = (np.searchsorted(edges, times, side="right") for edges in (rising, falling))
        levels[:, k] = begun + up - down
    return times, levels


def switching_samples(
    rising_s: FloatArray, falling_s: FloatArray, *, count: int, step_s: float, rise_s: float = 0.0
) -> FloatArray:
    """Samples, from 0 to 1, of a switching sensor with straight flanks centred on the given times.

    Parameters
    ----------
    rising_s, falling_s : array, shape (n,) [s]
        In turn, a rising one first.
    count : int
        Number of samples.
    step_s : float [s]
    rise_s : float [s]
        How long a flank lasts; pulses must be longer.

    Returns
    -------
    array, shape (count,)
    """
    half = max(rise_s, 1e-6 * step_s) / 2.0
    rising_s = rising_s[: falling_s.size + 1]
    corner: list[FloatArray] = []
    height: list[FloatArray] = []
    for times, begins in ((rising_s, 0.0), (falling_s, 1.0)):
        corner += [times - half, times + half]
        height += [np.full(times.size, begins), np.full(times.size, 1.0 - begins)]
    order = np.argsort(np.concatenate(corner), kind="stable")
    taken = np.arange(count, dtype=np.float64) * step_s
    samples: FloatArray = np.interp(taken, np.concatenate(corner)[order], np.concatenate(height)[order])
    return samples

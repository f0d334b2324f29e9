"""How the speed runs within a cycle: even, or dipping under each compression."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.anglemap import AngleMap
from witnessmark.decode.cam import CYCLE_DEG

__all__ = ["SpeedCourse", "speed_course"]

FloatArray = NDArray[np.float64]

_SEGMENT_DEG = 30.0
# Less than this from crest to trough, as a share of the mean, is no dip that a tooth's place could not feign.
_FLAT = 0.06
_MOST_DIPS = 16
# The strongest harmonic stands out from what differs from cycle to cycle by this many standard deviations.
_CLEARLY = 5.0
_LEAST_CYCLES = 3


@dataclass(frozen=True, slots=True, eq=False)
class SpeedCourse:
    """Speed over equal segments of crank angle.

    Parameters
    ----------
    segment_deg : float [deg]
    mean_rpm : array, shape (n_segments,) [rpm]
        Usual speed of each segment of the cycle; segment 0 begins at an index edge, of which of the two turns is not
        told.
    lowest_rpm, highest_rpm : float [rpm]
        Over all segments.
    depth : float [-]
        From crest to trough of the usual course, as a share of the mean.
    dips : int
        Dips a cycle; 0 where none come again from cycle to cycle.
    cycles : float [-]
        Cycles behind it.
    """

    segment_deg: float
    mean_rpm: FloatArray
    lowest_rpm: float
    highest_rpm: float
    depth: float
    dips: int
    cycles: float

    def words(self) -> str:
        """In a sentence.

        Returns
        -------
        str
        """
        seen = f"{self.lowest_rpm:.0f} to {self.highest_rpm:.0f} rpm over every {self.segment_deg:g}°"
        if not self.dips:
            course = "is even" if self.depth <= _FLAT else "varies without coming again from cycle to cycle"
            return f"Within a cycle the speed {course}: {seen}."
        times = {1: "once", 2: "twice"}.get(self.dips, f"{self.dips} times")
        apart = f", {CYCLE_DEG / self.dips:.3g}° apart" if self.dips > 1 else ""
        return f"Within a cycle the speed dips {times}{apart}, by {self.depth:.0%} of its mean: {seen}."


def speed_course(amap: AngleMap) -> SpeedCourse | None:
    """The course of the speed over a cycle.

    Parameters
    ----------
    amap : AngleMap

    Returns
    -------
    SpeedCourse or None
        None where no part holds a whole cycle, or the wheel has too few teeth.

    Notes
    -----
    Each segment against the mean over the cycle centred on it, then the median over cycles; the dips are the strongest
    harmonic of that. Two turns of a part follow one another, so turns are told apart within it; parts are put
    together only as far as they are in step.
    """
    pattern, per_turn = amap.lock.pattern, amap.lock.crank_per_turn
    pitch = pattern.pitch_deg * per_turn
    step = pitch * max(1.0, np.rint(_SEGMENT_DEG / pitch))
    n = int(np.rint(CYCLE_DEG / step))
    if n < 8 or abs(n * step - CYCLE_DEG) > 1e-6:
        return None
    rows, rpms = [], []
    for part in range(amap.n_parts):
        own = amap.part == part
        deg, times = amap.knots_deg[own], amap.knots_s[own]
        if deg.size < 2:
            continue
        grid = step * np.arange(np.ceil(deg[0] / step - 1e-9), np.floor(deg[-1] / step + 1e-9) + 1.0)
        if grid.size < n + 2:
            continue
        rpm = step / np.diff(np.interp(grid, deg, times)) / 6.0
        rpms.append(rpm)
        rows.append(np.column_stack([np.rint(grid[:-1] / step).astype(int) % n, rpm / _level(rpm, n)]))
    if not rows:
        return None
    place, share = np.concatenate(rows).T
    every = np.concatenate(rpms)
    counts = np.bincount(place.astype(int), minlength=n)
    if counts.min() < _LEAST_CYCLES:
        return None
    mean = np.array([np.median(share[place == k]) for k in range(n)])
    depth = float(np.ptp(mean))
    size = 2.0 / n * np.abs(np.fft.rfft(mean - mean.mean()))[1 : min(_MOST_DIPS, n // 2 - 1) + 1]
    noise = float(np.std(share - mean[place.astype(int)])) * np.sqrt(2.0 / share.size)
    dips = int(np.argmax(size)) + 1 if depth > _FLAT and size.max() > _CLEARLY * noise else 0
    return SpeedCourse(
        float(step), mean * every.mean(), float(every.min()), float(every.max()), depth, dips, every.size / n
    )


def _level(rpm: FloatArray, n: int) -> FloatArray:
    """Mean over the cycle about each segment; at the ends that of the nearest whole cycle."""
    half = n // 2
    around = np.convolve(rpm, np.ones(2 * half + 1) / (2 * half + 1), mode="same")
    around[:half], around[rpm.size - half :] = around[half], around[rpm.size - half - 1]
    return around

"""Edges of a trace: when it changes between low and high, in which direction, and how well that time is known.

A trace of levels (one row per change of state) gives its edges exactly, to the tick of its clock. A sampled trace is
followed through two thresholds (hysteresis), so that noise near the switching level makes no edges, and the time of
each edge is where a straight line through the samples around the level meets it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from witnessmark.signal.crossing import crossings, passages
from witnessmark.signal.fold import find_fold, unfolded
from witnessmark.signal.levels import Levels, find_levels

__all__ = ["CHUNK", "Edges", "Stretch", "TimedNumbers", "edges_of_levels", "edges_of_samples", "find_edges"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

CHUNK = 1_000_000
"""Samples looked at in one go."""


class Stretch(Protocol):
    """A stretch of time."""

    @property
    def from_s(self) -> float:
        """Beginning [s]."""

    @property
    def to_s(self) -> float:
        """End [s]."""


class TimedNumbers(Protocol):
    """What :func:`find_edges` needs of a trace: numbers, and a time for every position among them."""

    @property
    def kind(self) -> Literal["samples", "levels"]:
        """Samples, or changes of state."""

    @property
    def values(self) -> FloatArray:
        """Calibrated numbers, shape (n,)."""

    @property
    def times_s(self) -> FloatArray:
        """Time of each, shape (n,) [s]."""

    @property
    def stamp_s(self) -> float:
        """Spacing of the time stamps [s]; 0 when not known."""

    @property
    def gaps(self) -> Sequence[Stretch]:
        """Stretches without samples, in order of time."""

    def time_at(self, positions: object) -> FloatArray:
        """Times at positions that may lie between samples, shape (n,) [s]."""


@dataclass(frozen=True, slots=True, eq=False)
class Edges:
    """Edges in the order of time.

    Parameters
    ----------
    times_s : array, shape (n,) [s]
    rising : array of bool, shape (n,)
        True where the value goes up.
    sd_s : array, shape (n,) [s]
        Standard deviation of each time.
    method : str
        How they were found, in words.
    """

    times_s: FloatArray
    rising: BoolArray
    sd_s: FloatArray
    method: str = ""

    def __post_init__(self) -> None:
        for name in ("times_s", "rising", "sd_s"):
            view = getattr(self, name).view()
            view.flags.writeable = False
            object.__setattr__(self, name, view)

    def __len__(self) -> int:
        return int(self.times_s.size)

    def __repr__(self) -> str:
        return f"Edges({int(self.rising.sum())} rising, {int((~self.rising).sum())} falling; {self.method})"

    def where(self, chosen: BoolArray) -> Edges:
        """The edges chosen by a mask of shape (n,)."""
        return replace(self, times_s=self.times_s[chosen], rising=self.rising[chosen], sd_s=self.sd_s[chosen])

    def only(self, direction: Literal["rising", "falling"]) -> Edges:
        """The edges of one direction."""
        return self.where(self.rising if direction == "rising" else ~self.rising)

    def between(self, from_s: float, to_s: float) -> Edges:
        """The edges of a stretch of time, its ends included."""
        return self.where((self.times_s >= from_s) & (self.times_s <= to_s))


def find_edges(
    trace: TimedNumbers, *, level: float | None = None, half_band: float | None = None, chunk: int = CHUNK
) -> Edges:
    """Edges of a trace.

    Parameters
    ----------
    trace : TimedNumbers
        A trace of levels or of samples.
    level, half_band : float, optional
        Switching level and the distance of either threshold from it, in the unit of the values; found from the samples
        where left out. Of no meaning for a trace of levels.
    chunk : int
        Samples looked at in one go; the result does not depend on it.

    Returns
    -------
    Edges
        None across a gap in the samples. Empty where no change stands out from the noise.

    Notes
    -----
    The standard deviation of a time is that of the noise over the slope, ``sd_v / |dv/dt|``, by the rule of least
    squares for a line through the samples around the level, and for a change that is over within one sample the
    ``dt / sqrt(12)`` of an even spread over it. For levels it is ``stamp_s / sqrt(12)``.
    """
    if trace.kind == "levels":
        return edges_of_levels(trace.times_s, trace.values, stamp_s=trace.stamp_s)
    values, remark = np.asarray(trace.values, dtype=np.float64), ""
    fold = find_fold(values)
    if fold is not None:
        values = unfolded(values, fold)
        remark = f"; {fold.samples} samples beyond the converter's range brought back by {fold.period:.4g}"
    levels = _levels(values, level, half_band)
    parts = []
    for first, last in _stretches(trace, values.size):
        positions, rising, sd_samples = edges_of_samples(values[first:last], levels, first=first, chunk=chunk)
        times = trace.time_at(positions)
        step_s = trace.time_at(np.floor(positions) + 1.0) - trace.time_at(np.floor(positions))
        parts.append((times, rising, sd_samples * step_s))
    times, rising, sd_s = (np.concatenate(column) for column in zip(*parts, strict=True))
    return Edges(times, rising, sd_s, levels.describe() + remark)


def edges_of_levels(times_s: FloatArray, values: FloatArray, *, stamp_s: float = 0.0) -> Edges:
    """Edges of a list of states, each of which holds until the next.

    Parameters
    ----------
    times_s : array, shape (n,) [s]
    values : array, shape (n,)
        State from that time on.
    stamp_s : float [s]
        Spacing of the time stamps.

    Returns
    -------
    Edges
        One where the state differs from the one before; the first row is a state, not an edge.
    """
    steps = np.diff(values)
    rows = np.flatnonzero(steps) + 1
    sd_s = np.full(rows.size, stamp_s / np.sqrt(12.0))
    return Edges(np.asarray(times_s)[rows], steps[rows - 1] > 0, sd_s, f"changes of state, clock {stamp_s:.3g} s")


def edges_of_samples(
    values: FloatArray, levels: Levels, *, first: int = 0, chunk: int = CHUNK
) -> tuple[FloatArray, BoolArray, FloatArray]:
    """Edges of evenly spaced samples.

    Parameters
    ----------
    values : array, shape (n,)
        Without gaps.
    levels : Levels
    first : int
        Number of the first sample in the trace to which ``levels`` belongs.
    chunk : int
        Samples looked at in one go.

    Returns
    -------
    positions : array, shape (m,)
        In samples of the trace; they may lie between samples.
    rising : array of bool, shape (m,)
    sd : array, shape (m,)
        Standard deviation of the positions, in samples.
    """
    starts, ends, rising = passages(values, levels, first=first, chunk=chunk)
    positions, sd = crossings(values, starts, ends, rising, levels, first=first)
    return positions + first, rising, sd


def _levels(values: FloatArray, level: float | None, half_band: float | None) -> Levels:
    levels = find_levels(values)
    if level is not None:
        levels = replace(levels, level=np.full(levels.level.size, level))
        if levels.kind == "flat" and half_band is None:
            half_band = np.inf
    if half_band is not None:
        levels = replace(levels, half_band=np.full(levels.level.size, half_band))
    return levels


def _stretches(trace: TimedNumbers, count: int) -> list[tuple[int, int]]:
    """Runs of samples between gaps, as first and one past the last."""
    if not trace.gaps:
        return [(0, count)]
    times = trace.times_s
    cuts = [int(np.searchsorted(times, gap.to_s)) for gap in trace.gaps]
    bounds = [0, *sorted(set(cuts)), count]
    return [(a, b) for a, b in pairwise(bounds) if b > a] or [(0, count)]

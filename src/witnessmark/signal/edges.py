"""Edges of a trace: when it changes between low and high, in which direction, and how well that time is known.

A trace of levels (one row per change of state) gives its edges exactly, to the tick of its clock. A sampled trace is
followed through two thresholds (hysteresis), so that noise near the switching level makes no edges, and the time of each
edge is where a straight line through the samples around the level meets it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


class TimedNumbers(Protocol):
    """What :func:`find_edges` needs of a trace: numbers, and a time for every position among them."""

    @property
    def kind(self) -> Literal["samples", "levels"]:
        """Samples, or changes of state."""

    @property
    def raw(self) -> NDArray[np.generic]:
        """Numbers as stored, shape (n,)."""

    @property
    def scale(self) -> float:
        """Value of one raw count."""

    @property
    def offset(self) -> float:
        """Value of raw zero."""

    @property
    def stamp_s(self) -> float:
        """Spacing of the time stamps [s]; 0 when not known."""

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
    """

    times_s: FloatArray
    rising: BoolArray
    sd_s: FloatArray

    def __len__(self) -> int:
        return int(self.times_s.size)


def find_edges(trace: TimedNumbers) -> Edges:
    """Edges of a trace (signature fixed; the sampled case follows)."""
    raise NotImplementedError

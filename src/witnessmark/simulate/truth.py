"""What really happened: the numbers that a measurement of a simulated recording is held against."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["CamTruth", "Truth", "WheelTruth"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class CamTruth:
    """One cam, as an ideal instrument at ideal places would see it.

    Parameters
    ----------
    rest_deg : float [deg]
        True phase with nothing commanded, + = early.
    at_sensors_deg : array, shape (n,) [deg]
        Phase at the two sensors at :attr:`Truth.times_s`: true phase and what the command and hunting add, and both
        wheels' slips; without the swing within a cycle.
    command_deg : array, shape (n,) [deg]
        What was commanded.
    edges_rising : array of bool, shape (m,)
    edges_made_deg : array, shape (m,) [deg]
        Crank degrees after firing TDC of cylinder 1 where the cam wheel's edges should pass, 0..720, rising.
    edges_deg : array, shape (m,) [deg]
        Mean place of each edge behind the crank wheel's index (its place on the shaft, without the cutting error of
        that one tooth), 0..720; NaN for an edge that did not pass.
    phase_at_edges_deg : float [deg]
        Phase that the edges show, mean over those that passed, without the cam wheel's cutting errors: the cam's mean
        phase and what its swing adds where the edges happen to stand; NaN where none passed.
    scatter_deg : float [deg]
        Standard deviation of the places of one edge from cycle to cycle, over all edges; NaN below two cycles.
    passes : int
        Edges seen in all.
    """

    rest_deg: float
    at_sensors_deg: FloatArray
    command_deg: FloatArray
    edges_rising: NDArray[np.bool_]
    edges_made_deg: FloatArray
    edges_deg: FloatArray
    phase_at_edges_deg: float
    scatter_deg: float
    passes: int


@dataclass(frozen=True, slots=True, eq=False)
class WheelTruth:
    """One wheel and its sensor.

    Parameters
    ----------
    teeth : int
        Described edges that still stand on it.
    made : int
        Described edges it was made with.
    even_edge : str
        "rising" or "falling", as stored in the file.
    polarity : int
        -1 with the sensor's leads reversed.
    pitch_errors_deg : array, shape (teeth,) [deg]
        How much further back each stands than made, in crank degrees, zero in the mean.
    turns : float
        Whole turns of the wheel within the recording.
    lost_s, added_s : array [s]
        When described edges passed without a trace, and when stray pulses came; in the file's time.
    """

    teeth: int
    made: int
    even_edge: str
    polarity: int
    pitch_errors_deg: FloatArray
    turns: float
    lost_s: FloatArray
    added_s: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Truth:
    """All of one recording.

    Parameters
    ----------
    times_s : array, shape (n,) [s]
        In the file's time.
    crank_deg : array, shape (n,) [deg]
        Counted on; 0 and every 720 is the firing top dead centre of cylinder 1.
    speed_rpm : array, shape (n,) [rpm]
        Negative while it rolls back.
    index_deg : float [deg]
        Crank angle after TDC at which the crank wheel's index place passes its sensor: the described reference, 0..360,
        less how much earlier the signal comes; a wheel far slipped may take it beyond either end.
    cams : mapping of cam id to CamTruth
    wheels : mapping of wheel id to WheelTruth
    """

    times_s: FloatArray
    crank_deg: FloatArray
    speed_rpm: FloatArray
    index_deg: float
    cams: Mapping[str, CamTruth]
    wheels: Mapping[str, WheelTruth]

    def crank_at(self, times_s: FloatArray | float) -> FloatArray:
        """Crank angle at times of the file [deg]."""
        return np.asarray(np.interp(times_s, self.times_s, self.crank_deg))

    def behind_index(self, times_s: FloatArray | float) -> FloatArray:
        """Crank angle behind the crank wheel's index place at times of the file, 0..720 [deg]."""
        return np.asarray((self.crank_at(times_s) - self.index_deg) % 720.0)

    def mean_speed(self, from_s: float, to_s: float) -> float:
        """Speed over a stretch, turns over time [rpm]."""
        first, last = self.crank_at(np.array([from_s, to_s]))
        return float((last - first) / (to_s - from_s) / 6.0)

    def mean_phase(self, cam: str, from_s: float = -np.inf, to_s: float = np.inf) -> float:
        """Phase of a cam at the sensors over a stretch, mean over crank angle [deg]."""
        inside = (self.times_s >= from_s) & (self.times_s <= to_s)
        phase, angle = self.cams[cam].at_sensors_deg[inside], self.crank_deg[inside]
        turned = np.abs(np.gradient(angle)) if angle.size > 1 else np.ones(angle.size)
        return float(np.average(phase, weights=turned)) if turned.sum() > 0.0 else float(phase.mean())

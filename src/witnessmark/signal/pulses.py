"""Pulses between edges, and which of them are too short to come from a tooth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.signal.edges import Edges

__all__ = ["Pulses", "pulses", "short_pulses"]

FloatArray = NDArray[np.float64]
_NEIGHBOURS = 10


@dataclass(frozen=True, slots=True, eq=False)
class Pulses:
    """Stretches between one edge and the next.

    Parameters
    ----------
    start_s : array, shape (n,) [s]
        Time of the edge that begins each.
    width_s : array, shape (n,) [s]
    high : array of bool, shape (n,)
    usual_s : array, shape (n,) [s]
        Median width of the neighbours of the same direction, ten on either side; NaN where there is none.
    """

    start_s: FloatArray
    width_s: FloatArray
    high: NDArray[np.bool_]
    usual_s: FloatArray

    def __len__(self) -> int:
        return int(self.start_s.size)


def pulses(edges: Edges) -> Pulses:
    """The pulses between edges; one fewer than there are edges.

    Parameters
    ----------
    edges : Edges

    Returns
    -------
    Pulses
    """
    width = np.diff(edges.times_s)
    high = edges.rising[:-1]
    usual = np.full(width.size, np.nan)
    for direction in (True, False):
        members = np.flatnonzero(high == direction)
        usual[members] = _median_of_neighbours(width[members])
    return Pulses(edges.times_s[:-1], width, high, usual)


def _median_of_neighbours(width: FloatArray) -> FloatArray:
    """Median of up to ten numbers before and ten after each, itself left out, shape (n,)."""
    if width.size < 2:
        return np.full(width.size, np.nan)
    fence = np.full(_NEIGHBOURS, np.nan)
    padded = np.concatenate([fence, width, fence])
    around = np.lib.stride_tricks.sliding_window_view(padded, 2 * _NEIGHBOURS + 1).copy()
    around[:, _NEIGHBOURS] = np.nan
    median: FloatArray = np.nanmedian(around, axis=1)
    return median


def short_pulses(edges: Edges, *, share: float = 0.05) -> Pulses:
    """Pulses far shorter than their neighbours: crosstalk, chatter, a spark heard by the sensor's lead.

    Parameters
    ----------
    edges : Edges
    share : float
        Longest width that counts, as a share of the usual one. The narrowest tooth of a usual wheel is a third of the
        widest, and speed halves or doubles between neighbours at most: common practice, no source.

    Returns
    -------
    Pulses
    """
    every = pulses(edges)
    short = every.width_s < share * every.usual_s
    # A pulse cuts the tooth or gap in which it stands; of such neighbours only the shortest is the intruder.
    fenced = np.concatenate([[np.inf], every.width_s, [np.inf]])
    short &= every.width_s <= np.minimum(fenced[:-2], fenced[2:])
    return Pulses(every.start_s[short], every.width_s[short], every.high[short], every.usual_s[short])

"""Wheels as they are cut: where each edge really stands, and when each passes its sensor."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

__all__ = ["CutWheel", "Passes", "passes_of"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class CutWheel:
    """One wheel, in crank degrees.

    Parameters
    ----------
    period_deg : float [deg]
        Crank degrees after which it repeats: 360 on the crank, 720 on a cam.
    made_deg : array, shape (n,) [deg]
        Where the edges should stand, rising, 0..period.
    errors_deg : array, shape (n,) [deg]
        How much further back each really stands (cutting, run-out, bent teeth).
    rising : array of bool, shape (n,)
        Direction of the signal there when the wheel turns forward and the sensor's leads are right.
    even : array of bool, shape (n,)
        The edges that a description lists.
    """

    period_deg: float
    made_deg: FloatArray
    errors_deg: FloatArray
    rising: BoolArray
    even: BoolArray

    @property
    def at_deg(self) -> FloatArray:
        """Where the edges stand, shape (n,) [deg]."""
        return self.made_deg + self.errors_deg

    @property
    def even_errors_deg(self) -> FloatArray:
        """Errors of the described edges, in their order, shape (m,) [deg]."""
        return self.errors_deg[self.even]

    def inverted(self) -> CutWheel:
        """The same wheel with the sensor's output turned over."""
        return replace(self, rising=~self.rising)

    def without(self, edges: NDArray[np.bool_]) -> CutWheel:
        """The wheel without some of its edges."""
        keep = ~edges
        return CutWheel(self.period_deg, self.made_deg[keep], self.errors_deg[keep], self.rising[keep], self.even[keep])


@dataclass(frozen=True, slots=True, eq=False)
class Passes:
    """Edges passing the sensor, in the order of time.

    Parameters
    ----------
    times_s : array, shape (n,) [s]
    edge : array of int, shape (n,)
        Which edge of the wheel.
    turn : array of int, shape (n,)
        How often the wheel had gone round.
    forward : array of bool, shape (n,)
        False where the wheel rolls back.
    """

    times_s: FloatArray
    edge: IntArray
    turn: IntArray
    forward: BoolArray


def passes_of(times_s: FloatArray, angle_deg: FloatArray, edges_deg: FloatArray, period_deg: float) -> Passes:
    """When each edge of a wheel passes.

    Parameters
    ----------
    times_s, angle_deg : array, shape (n,) [s], [deg]
        How far the wheel has turned, in crank degrees counted on; it may stand still and roll back.
    edges_deg : array, shape (m,) [deg]
        Where the edges stand: each passes when the wheel has turned by its angle plus whole periods.
    period_deg : float [deg]

    Returns
    -------
    Passes
    """
    found = [
        _one_way(times_s[run], angle_deg[run], edges_deg, period_deg, bool(forward))
        for run, forward in _runs(angle_deg)
    ]
    if not found:
        nothing = np.empty(0, dtype=np.int64)
        return Passes(np.empty(0), nothing, nothing, np.empty(0, dtype=bool))
    return Passes(
        np.concatenate([p.times_s for p in found]),
        np.concatenate([p.edge for p in found]),
        np.concatenate([p.turn for p in found]),
        np.concatenate([p.forward for p in found]),
    )


def _runs(angle_deg: FloatArray) -> list[tuple[slice, bool]]:
    """Stretches in which the wheel turns one way; where it stands still belongs to none."""
    sign = np.sign(np.diff(angle_deg)).astype(np.int8)
    if sign.size == 0:
        return []
    starts = np.concatenate([[0], np.flatnonzero(np.diff(sign)) + 1])
    ends = np.concatenate([starts[1:], [sign.size]])
    return [(slice(a, b + 1), sign[a] > 0) for a, b in zip(starts, ends, strict=True) if sign[a] != 0]


def _one_way(times: FloatArray, angle: FloatArray, edges: FloatArray, period: float, forward: bool) -> Passes:
    if not forward:
        times, angle = times[::-1], angle[::-1]
    order = np.argsort(edges, kind="stable")
    low, high = angle[0], angle[-1]
    turns = np.arange(np.floor((low - edges.max()) / period), np.ceil((high - edges.min()) / period) + 1)
    at = (turns[:, None] * period + edges[order][None, :]).ravel()
    which = np.broadcast_to(order, (turns.size, order.size)).ravel()
    turn = np.repeat(turns.astype(np.int64), order.size)
    # Half open, the same both ways: what has passed is what stands at or below the angle.
    inside = (at > low) & (at <= high)
    at, which, turn = at[inside], which[inside], turn[inside]
    sorting = np.argsort(at, kind="stable")
    at, which, turn = at[sorting], which[sorting], turn[sorting]
    when = np.interp(at, angle, times)
    if not forward:
        when, which, turn = when[::-1], which[::-1], turn[::-1]
    return Passes(when, which.astype(np.int64), turn, np.full(when.size, forward))

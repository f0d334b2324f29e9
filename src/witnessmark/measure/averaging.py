"""What averaging over cycles leaves in doubt, and what it cannot touch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.cam import RepeatingEdge

__all__ = ["LAG_SD_S", "LAG_UNLIKE_SD_S", "agreeing", "during", "mean_speed_deg_s", "sd_of_mean"]

FloatArray = NDArray[np.float64]

# From the tooth to the change of the signal some microseconds pass, in one sensor more than in another; from memory.
LAG_SD_S = 5e-6
# More so between a sensor that switches and a coil, which answers at once.
LAG_UNLIKE_SD_S = 8e-6
# Readings that the stated scatter counts for beside what the readings show.
_STATED_WORTH = 3.0
# A reading this far from the others of its edge, in degrees or in their usual distances, is no reading of it; but only
# while the others are most.
_OFF_DEG, _OFF_SPREADS, _MOST_OFF, _LEAST_LEFT = 1.5, 8.0, 0.34, 3


def during(edge: RepeatingEdge, spans: Sequence[tuple[float, float]]) -> RepeatingEdge | None:
    """The readings of an edge within stretches of time; None where there are none.

    Parameters
    ----------
    edge : RepeatingEdge
    spans : sequence of (from, to) [s]

    Returns
    -------
    RepeatingEdge or None
    """
    inside = np.zeros(edge.count, dtype=bool)
    for low, high in spans:
        inside |= (edge.times_s >= low) & (edge.times_s <= high)
    if not inside.any():
        return None
    return replace(
        edge, times_s=edge.times_s[inside], angles_deg=edge.angles_deg[inside], speed_rpm=edge.speed_rpm[inside]
    )


def agreeing(edge: RepeatingEdge) -> RepeatingEdge:
    """An edge without the few readings that stand far from all others: the crank's count slipped there.

    Parameters
    ----------
    edge : RepeatingEdge

    Returns
    -------
    RepeatingEdge
        The same where too few readings would be left to say which are right.
    """
    off = np.abs(edge.angles_deg - np.median(edge.angles_deg))
    wild = off > max(_OFF_DEG, _OFF_SPREADS * 1.4826 * float(np.median(off)))
    if not wild.any() or wild.mean() > _MOST_OFF or (~wild).sum() < _LEAST_LEFT:
        return edge
    keep = ~wild
    return replace(edge, times_s=edge.times_s[keep], angles_deg=edge.angles_deg[keep], speed_rpm=edge.speed_rpm[keep])


def mean_speed_deg_s(edges: Sequence[RepeatingEdge]) -> float:
    """Mean speed of the crank over all readings.

    Parameters
    ----------
    edges : sequence of RepeatingEdge

    Returns
    -------
    float [deg/s]
        0 for no edges.
    """
    speeds = np.concatenate([edge.speed_rpm for edge in edges]) if edges else np.empty(0)
    return 6.0 * float(speeds.mean()) if speeds.size else 0.0


def sd_of_mean(edges: Sequence[RepeatingEdge]) -> float:
    """Standard deviation that scatter leaves in the mean over the mean angles of some edges of one cam [deg].

    Parameters
    ----------
    edges : sequence of RepeatingEdge

    Returns
    -------
    float [deg]
        0 for no edges.

    Notes
    -----
    What the readings differ from their own edge's mean by, in the order of time: neighbours alike (edges of one cycle
    share what the cam does in it, a phaser wanders slowly) count for less by their autocorrelation. A few readings do
    not know their own scatter, so the stated one counts beside it.
    """
    count = sum(edge.count for edge in edges)
    if not count:
        return 0.0
    off = np.concatenate([edge.angles_deg - edge.angles_deg.mean() for edge in edges])
    off = off[np.argsort(np.concatenate([edge.times_s for edge in edges]), kind="stable")]
    stated = float(np.mean([edge.scatter_sd_deg**2 for edge in edges]))
    freedom = count - len(edges)
    variance = (float((off**2).sum()) + _STATED_WORTH * stated) / (freedom + _STATED_WORTH)
    rho = 0.0
    if count >= 5 and off.any():
        rho = float(np.clip((off[1:] * off[:-1]).sum() / (off**2).sum(), 0.0, 0.95))
    worth = max(1.0, count * (1.0 - rho) / (1.0 + rho))
    return float(np.sqrt(variance / worth))

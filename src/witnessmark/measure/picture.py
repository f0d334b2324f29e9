"""One cycle of every channel over crank degrees, for the drawing."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from witnessmark.decode.anglemap import AngleMap
from witnessmark.decode.cam import CYCLE_DEG
from witnessmark.decode.roles import Channel
from witnessmark.measure.cams import CamSeen
from witnessmark.measure.measurement import CamEdgeSeen, DrawnChannel

__all__ = ["drawn_channels", "seen_edges"]


def drawn_channels(
    amap: AngleMap, channels: Sequence[tuple[str, str, Channel]], zero_deg: float
) -> tuple[DrawnChannel, ...]:
    """The most ordinary whole cycle of each channel.

    Parameters
    ----------
    amap : AngleMap
    channels : sequence of (role, name, channel)
    zero_deg : float [deg]
        Added to all angles, so that the axis begins where the picture's zero is.

    Returns
    -------
    tuple of DrawnChannel
        Empty where no whole cycle was read.
    """
    begin = _middle_cycle(amap)
    if begin is None:
        return ()
    part, start = begin
    found = []
    for role, name, channel in channels:
        angles = amap.at(channel.times_s)
        inside = (angles.part == part) & (angles.deg >= start) & (angles.deg < start + CYCLE_DEG)
        if inside.any():
            deg = (angles.deg[inside] + zero_deg) % CYCLE_DEG
            order = np.argsort(deg)
            levels = channel.rising[inside].astype(float)
            found.append(
                DrawnChannel(role, name, tuple(np.round(deg[order], 3).tolist()), tuple(levels[order].tolist()))
            )
    return tuple(found)


def _middle_cycle(amap: AngleMap) -> tuple[int, float] | None:
    """A whole cycle from the middle of the longest part, begun at an even turn."""
    parts = [(int((amap.part == p).sum()), p) for p in range(amap.n_parts)]
    if not parts:
        return None
    part = max(parts)[1]
    deg = amap.knots_deg[amap.part == part]
    first, last = float(np.ceil(deg[0] / CYCLE_DEG)), float(np.floor(deg[-1] / CYCLE_DEG))
    if last - first < 1.0:
        return None
    return part, CYCLE_DEG * float(np.floor(0.5 * (first + last - 1.0)))


def seen_edges(seen: CamSeen, zero_deg: float, first_finding: int) -> tuple[CamEdgeSeen, ...]:
    """Measured and described place of each edge of a cam.

    Parameters
    ----------
    seen : CamSeen
    zero_deg : float [deg]
        Added to all angles.
    first_finding : int
        Number of the finding of the cam's first edge.

    Returns
    -------
    tuple of CamEdgeSeen
    """
    expected: dict[int, tuple[float, float]] = {}
    if seen.matched is not None and seen.described is not None and seen.described.is_absolute:
        for k, j in zip(seen.matched.measured, seen.matched.described, strict=True):
            expected[k] = float(seen.described.deg[j]), float(np.hypot(seen.described.sd_deg[j], 1.0))
    move = CYCLE_DEG / 2.0 if seen.matched is not None and seen.matched.half_cycle else 0.0
    found = []
    for k, edge in enumerate(seen.edges):
        ideal = expected.get(k)
        measured = (edge.angle_deg + move + zero_deg) % CYCLE_DEG
        place = (ideal[0] + zero_deg) % CYCLE_DEG if ideal else None
        spread = ideal[1] if ideal else None
        found.append(CamEdgeSeen(seen.cam or seen.name, measured, edge.sd_deg, place, spread, first_finding + k))
    return tuple(found)

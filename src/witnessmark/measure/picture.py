"""One cycle of every channel over crank degrees, for the drawing."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from witnessmark.decode.anglemap import AngleMap
from witnessmark.decode.cam import CYCLE_DEG
from witnessmark.decode.roles import Channel
from witnessmark.measure.cams import CamSeen
from witnessmark.measure.measurement import CamEdgeSeen, DrawnChannel

__all__ = ["count_of", "drawn_channels", "seen_edges"]

# How well a sound engine's edge stands where it is described, for the drawn box; as predicting has it.
_NOMINAL_SD_DEG = 1.0


def count_of(cams: Sequence[CamSeen]) -> float:
    """What the description adds to the angles of these cams to count turns as it does.

    Parameters
    ----------
    cams : sequence of CamSeen

    Returns
    -------
    float [deg]
        0 where it does not place them.
    """
    return next((seen.matched.shift_deg for seen in cams if seen.is_tied and seen.matched is not None), 0.0)


def drawn_channels(
    amap: AngleMap, channels: Sequence[tuple[str, str, Channel]], zero_deg: float
) -> tuple[DrawnChannel, ...]:
    """A whole cycle of each channel from the middle of the longest part.

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
            order = np.argsort(deg, kind="stable")
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
        Added to all angles as the cam's edges count them.
    first_finding : int
        Number of the finding of the cam's first edge.

    Returns
    -------
    tuple of CamEdgeSeen
    """
    late: dict[int, float] = {}
    if seen.is_tied and seen.matched is not None:
        late = dict(zip(seen.matched.measured, seen.matched.late_deg.tolist(), strict=True))
    found = []
    for k, edge in enumerate(seen.edges):
        at = (edge.angle_deg + zero_deg) % CYCLE_DEG
        # Beside what was measured, also across the cycle's end: else 20° late would be drawn as 700° early.
        place = at - late[k] if k in late else None
        spread = _NOMINAL_SD_DEG if k in late else None
        found.append(CamEdgeSeen(seen.cam or seen.name, at, seen.edge_sd(edge), place, spread, first_finding + k))
    return tuple(found)

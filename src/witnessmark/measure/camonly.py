"""No crank wheel in the recording, but a wheel on a camshaft whose teeth are described: speed from that."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from witnessmark.decode.anglemap import AngleMap, angle_map
from witnessmark.decode.roles import Channel
from witnessmark.engine.drive import CRANK
from witnessmark.engine.tonewheel import WheelPattern
from witnessmark.engine.types import Engine
from witnessmark.measure.channels import Wired, even_told, patterns_of

__all__ = ["cam_shaft_map"]

_CRANK_TURNS = 2.0
_LEAST_EDGES = 5
_LEAST_SHARE = 0.5


def cam_shaft_map(wired: Sequence[Wired], engine: Engine | None) -> tuple[int, AngleMap] | None:
    """The wheel on a camshaft that shows the crank's angle best.

    Parameters
    ----------
    wired : sequence of Wired
    engine : Engine, optional

    Returns
    -------
    tuple of (number of the trace, AngleMap) or None
        Of the described cam wheel with the most edges a turn that its channel follows; None where there is none.
    """
    if engine is None:
        return None
    best: tuple[int, int, AngleMap] | None = None
    for number, one in enumerate(wired):
        wheel = engine.wheel(one.wheel) if one.wheel is not None and one.wheel != CRANK else None
        if wheel is None:
            continue
        for pattern in patterns_of(wheel.pattern, wheel.gaps_deg)[:1]:
            told = even_told(one.trace)
            described = None if wheel.even_edge is None else wheel.even_edge == "rising"
            amap = _read(one.channel, pattern, told if told is not None else described)
            if amap is not None and (best is None or pattern.n_edges > best[0]):
                best = pattern.n_edges, number, amap
    return (best[1], best[2]) if best is not None else None


def _read(channel: Channel, pattern: WheelPattern, even: bool | None) -> AngleMap | None:
    kinds = (True, False) if even is None else (even,)
    locks = [
        channel.lock(pattern, kind, crank_per_turn=_CRANK_TURNS)
        for kind in kinds
        if np.count_nonzero(channel.rising == kind) >= _LEAST_EDGES
    ]
    locks = [lock for lock in locks if lock.share >= _LEAST_SHARE]
    return angle_map(max(locks, key=lambda lock: (round(lock.share, 1), lock.evidence))) if locks else None

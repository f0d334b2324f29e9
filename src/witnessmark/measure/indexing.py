"""Where a wheel counts from when teeth are gone: a lost tooth can leave a second gap that looks like the index."""

from __future__ import annotations

import numpy as np

from witnessmark.decode.lock import WheelLock

__all__ = ["other_counts"]

# A tooth seen in fewer turns than this is gone; two places closer than this share of the pitch are one.
_GONE_BELOW, _SAME_SHARE = 0.2, 0.1
_LEAST_TURNS = 3


def other_counts(lock: WheelLock) -> tuple[float, ...]:
    """By how much the count of the angle may be off, for all that the teeth still there can tell.

    Parameters
    ----------
    lock : WheelLock

    Returns
    -------
    tuple of float [deg]
        Crank degrees that may have to be added, besides 0; empty where every tooth is there, or those that are leave
        no doubt.
    """
    pattern = lock.pattern
    n, turns = pattern.n_edges, lock.turns()
    if len(turns) < _LEAST_TURNS:
        return ()
    seen = np.bincount(lock.tooth[lock.good], minlength=n)
    gone = seen < _GONE_BELOW * len(turns)
    if not gone.any() or gone.all():
        return ()
    places = np.array(pattern.edges_deg)
    there = places[~gone]
    near = _SAME_SHARE * min(pattern.gaps_deg)
    found = []
    for turned in np.unique(np.round((places - there[0]) % 360.0, 6)):
        moved = (there + turned) % 360.0
        off = np.abs((moved[:, None] - places + 180.0) % 360.0 - 180.0).min(axis=1)
        whole = min(turned % pattern.sector_deg, -turned % pattern.sector_deg) < near
        if off.max() < near and not whole:
            found.append(float(turned) * lock.crank_per_turn)
    return tuple(found)

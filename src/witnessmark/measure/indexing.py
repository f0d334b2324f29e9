"""Where a wheel counts from when teeth are gone: a lost tooth can leave a second gap that looks like the index."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.lock import WheelLock
from witnessmark.engine.tonewheel import WheelPattern

__all__ = ["counts_of", "embeddings"]

FloatArray = NDArray[np.float64]

# A tooth seen in fewer turns than this is gone; two places closer than this share of the pitch are one.
_GONE_BELOW, _SAME_SHARE = 0.2, 0.1
_LEAST_TURNS = 3


def embeddings(there_deg: FloatArray, whole: WheelPattern) -> tuple[float, ...]:
    """By how much some teeth may have to be turned to stand where a whole wheel has teeth.

    Parameters
    ----------
    there_deg : array, shape (n,) [deg]
        Places of the teeth that are there.
    whole : WheelPattern

    Returns
    -------
    tuple of float [deg]
        In degrees of the wheel, within one sector; empty where they fit nowhere.
    """
    places = np.array(whole.edges_deg)
    near = _SAME_SHARE * min(whole.gaps_deg)
    found = []
    for turned in np.unique(np.round((places - there_deg[0]) % 360.0, 6)):
        moved = (there_deg + turned) % 360.0
        off = np.abs((moved[:, None] - places + 180.0) % 360.0 - 180.0).min(axis=1)
        if off.max() < near:
            found.append(float(turned) % whole.sector_deg)
    return tuple(np.unique(np.round(found, 6)).tolist())


def counts_of(lock: WheelLock) -> tuple[float, ...]:
    """What may have to be added to a lock's angles, for all that the teeth still there can tell.

    Parameters
    ----------
    lock : WheelLock

    Returns
    -------
    tuple of float [deg]
        Crank degrees; 0 alone where every tooth is there, or those that are leave no doubt.
    """
    pattern = lock.pattern
    turns = lock.turns()
    seen = np.bincount(lock.tooth[lock.good], minlength=pattern.n_edges)
    gone = seen < _GONE_BELOW * len(turns)
    if len(turns) < _LEAST_TURNS or not gone.any() or gone.all():
        return (0.0,)
    there = np.array(pattern.edges_deg)[~gone]
    return tuple(turned * lock.crank_per_turn for turned in embeddings(there, pattern)) or (0.0,)

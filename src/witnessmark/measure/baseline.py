"""A signal's zero that wanders under the instrument: it moves the edges of a crank's coil, and all cams with them.

A coil's signal passes its level slowly where the engine turns slowly. When the instrument's zero creeps, or hum rides
on it, falling edges come later and rising ones earlier, or the other way round. So how far apart the two kinds of edges
stand shows the wandering, and the place of the even edges can be put right by their share of it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.anglemap import AngleMap
from witnessmark.decode.cam import read_cam
from witnessmark.decode.roles import Channel, Roles

__all__ = ["apart_deg", "shifted_deg", "wander_deg", "without_wandering"]

FloatArray = NDArray[np.float64]

# Of what the two kinds of edges part by so much is the even edge's: the signal is somewhat steeper at a tooth than
# between teeth, where half would be its share if it were not. Found on the rehearsal engines.
_EVEN_SHARE = 0.4
# Over so many teeth the parting is averaged; and the variance must be so many times what single edges leave in it.
_OVER_TEETH, _CLEARLY = 5, 3.0
_LEAST_DEG, _LEAST_TEETH = 0.01, 60
_USUAL_GAP = 1.5  # pitches


def apart_deg(amap: AngleMap) -> tuple[FloatArray, FloatArray]:
    """How far before each good tooth the single edge of the other kind stands, as a place in its gap.

    Parameters
    ----------
    amap : AngleMap

    Returns
    -------
    here : array, shape (n,) [deg]
        Of the wheel's shaft, behind the tooth before; NaN in wide gaps and where there is no single edge.
    usual : array, shape (n_edges,) [deg]
        Median for each tooth of the wheel; NaN where never seen.
    """
    lock = amap.lock
    tooth, n = lock.tooth[lock.good], lock.pattern.n_edges
    gaps = np.roll(np.array(lock.pattern.gaps_deg), 1)
    gaps = np.where(gaps < _USUAL_GAP * lock.pattern.pitch_deg, gaps, np.nan)
    here = lock.other_at[lock.good] * gaps[tooth]
    here = np.where(lock.missing[lock.good] == 0, here, np.nan)
    usual = np.full(n, np.nan)
    for k in range(n):
        own = here[tooth == k]
        own = own[np.isfinite(own)]
        usual[k] = np.median(own) if own.size else np.nan
    return here, usual


def wander_deg(amap: AngleMap) -> FloatArray | None:
    """By how much the even edges come late against their usual place, for every good tooth.

    Parameters
    ----------
    amap : AngleMap

    Returns
    -------
    array, shape (n,) [deg]
        In crank degrees; None where it does not stand out from the noise of single edges.
    """
    here, usual = apart_deg(amap)
    off = here - usual[amap.lock.tooth[amap.lock.good]]
    known = np.flatnonzero(np.isfinite(off))
    if known.size < _LEAST_TEETH:
        return None
    off = np.clip(off[known], *np.quantile(off[known], [0.005, 0.995]))
    single = float(np.mean(np.diff(off) ** 2)) / 2.0
    ends = np.pad(off, _OVER_TEETH // 2, mode="edge")
    smooth = np.convolve(ends, np.ones(_OVER_TEETH) / _OVER_TEETH, mode="valid")
    if float(np.var(smooth)) < max(_CLEARLY * single / _OVER_TEETH, _LEAST_DEG**2):
        return None
    late = np.interp(amap.knots_s, amap.knots_s[known], smooth)
    return np.asarray(-_EVEN_SHARE * amap.lock.crank_per_turn * late)


def without_wandering(roles: Roles, channels: list[Channel]) -> Roles:
    """Roles whose map has the wandering of the crank's edges taken off, and the cams read by it.

    Parameters
    ----------
    roles : Roles
    channels : list of Channel
        That they are the roles of.

    Returns
    -------
    Roles
        The same where nothing wanders.
    """
    late = wander_deg(roles.map) if roles.map is not None else None
    if late is None or roles.map is None:
        return roles
    amap = replace(roles.map, knots_deg=roles.map.knots_deg + late)
    read = [
        replace(r, reading=read_cam(amap, c.times_s, c.rising, sd_s=c.sd_s)) if r.reading is not None else r
        for r, c in zip(roles.channels, channels, strict=True)
    ]
    return replace(roles, map=amap, channels=tuple(read))


def shifted_deg(one: AngleMap, other: AngleMap) -> float:
    """By how much the even edges may stand elsewhere in another recording, for the signal's zero moved in between.

    Parameters
    ----------
    one, other : AngleMap
        Of the same wheel.

    Returns
    -------
    float [deg]
        In crank degrees, never below 0; 0 where the other kind of edges does not show.
    """
    if one is other or one.lock.pattern.n_edges != other.lock.pattern.n_edges:
        return 0.0
    apart = apart_deg(other)[1] - apart_deg(one)[1]
    apart = apart[np.isfinite(apart)]
    return _EVEN_SHARE * one.lock.crank_per_turn * abs(float(np.median(apart))) if apart.size else 0.0

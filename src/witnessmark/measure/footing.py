"""Where on the crank wheel a cam edge is read: between which teeth, and at which side of the wheel.

A cam edge falls between the same two teeth in every cycle, so an error of their places comes again every time and no
number of cycles averages it away. What does is reading several edges between different teeth, and what cancels it is
comparing two readings between the same teeth. Both follow from how much each tooth weighs in a reading.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.anglemap import AngleMap
from witnessmark.measure.runout import RunOut

__all__ = ["Footing", "footing_of", "place_sd_deg"]

FloatArray = NDArray[np.float64]

# The stated doubt of learnt places lies on the safe side by this factor on the rehearsal engines: on most wheels more
# teeth are good than the heavy-tailed law of their places allows for.
_SAFE = 0.7


def place_sd_deg(amap: AngleMap) -> FloatArray:
    """Standard deviation of the place of each tooth, run-out not counted.

    Parameters
    ----------
    amap : AngleMap

    Returns
    -------
    array, shape (n_edges,) [deg]
        In degrees of the wheel's shaft.
    """
    return amap.pitch.sd_deg * (_SAFE if amap.pitch.is_learnt else 1.0)


@dataclass(frozen=True, slots=True, eq=False)
class Footing:
    """How an angle, a mean of angles, or a difference leans on the crank wheel.

    Parameters
    ----------
    teeth : array, shape (n_edges,)
        Weight of the place of each tooth; they add up to 1 for an angle and to 0 for a difference.
    once : array, shape (2,)
        Cosine and sine of the place on the wheel, for what comes once per turn.
    """

    teeth: FloatArray
    once: FloatArray

    def __sub__(self, other: Footing) -> Footing:
        """Of a difference."""
        return Footing(self.teeth - other.teeth, self.once - other.once)

    @classmethod
    def mean(cls, footings: Sequence[Footing]) -> Footing:
        """Of a mean.

        Parameters
        ----------
        footings : sequence of Footing
            At least one.

        Returns
        -------
        Footing
        """
        teeth = np.mean([one.teeth for one in footings], axis=0)
        return cls(teeth, np.mean([one.once for one in footings], axis=0))

    def sd_deg(self, amap: AngleMap, run_out: RunOut) -> float:
        """What doubt of the places of the teeth makes of it.

        Parameters
        ----------
        amap : AngleMap
        run_out : RunOut
            Already taken off the angles.

        Returns
        -------
        float [deg]
            Standard deviation in crank degrees.
        """
        places = float(((self.teeth * place_sd_deg(amap)) ** 2).sum())
        once = run_out.sd_deg**2 * float((self.once**2).sum())
        return float(np.sqrt(places + once)) * amap.lock.crank_per_turn


def footing_of(amap: AngleMap, times_s: FloatArray) -> Footing:
    """Footing of the mean angle at some moments.

    Parameters
    ----------
    amap : AngleMap
    times_s : array, shape (n,) [s]
        Inside its parts; others do not count.

    Returns
    -------
    Footing
        Of the straight line between the two teeth beside each moment.
    """
    n = amap.lock.pattern.n_edges
    teeth, once = np.zeros(n), np.zeros(2)
    if amap.knots_s.size < 2 or times_s.size == 0:
        return Footing(teeth, once)
    tooth = amap.lock.tooth[amap.lock.good]
    k = np.clip(np.searchsorted(amap.knots_s, times_s, side="right") - 1, 0, amap.knots_s.size - 2)
    inside = (amap.part[k] == amap.part[k + 1]) & (times_s >= amap.knots_s[k]) & (times_s <= amap.knots_s[k + 1])
    k, times = k[inside], times_s[inside]
    if not k.size:
        return Footing(teeth, once)
    share = np.clip((times - amap.knots_s[k]) / (amap.knots_s[k + 1] - amap.knots_s[k]), 0.0, 1.0)
    np.add.at(teeth, tooth[k], 1.0 - share)
    np.add.at(teeth, tooth[k + 1], share)
    turned = np.radians(amap.knots_deg[k] + share * (amap.knots_deg[k + 1] - amap.knots_deg[k]))
    turned /= amap.lock.crank_per_turn
    once = np.array([np.cos(turned).mean(), np.sin(turned).mean()])
    return Footing(teeth / k.size, once)

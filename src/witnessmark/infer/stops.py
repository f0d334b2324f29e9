"""Trims at their stops: what a trim no longer takes up, the mixture shows.

While a trim has room, sound engines differ in the trim and hardly in the mixture. Where a fault drives it to its stop
that turns about: the trim stands where it stands, and what injectors, meters and pressures differ in goes on to λ, some
hundredths of it instead of one. No one covariance says both. What the trim would have to be is the same in both cases
and spreads alike, so each case is that one number seen elsewhere: in the trim, or in what λ is off by, per cent for per
cent. Both cases exclude each other, and their densities add.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.infer.evidence import Evidence
from witnessmark.infer.logsum import log_sum
from witnessmark.infer.sound import Sound, covariance_of
from witnessmark.infer.warp import Warp
from witnessmark.predict.oxygensensor import oxygen_sensor
from witnessmark.vocabulary import Query

__all__ = ["Stops"]

Array = NDArray[np.float64]
Marks = NDArray[np.bool_]

_STOP = 25.0  # per cent of the fuel: trim_limit of physics.airpath
_AT_IT = 0.25  # per cent short of the stop, from which on a trim counts as at it
_FAR = 4.0  # spreads of a reading from the stop, from which on the trim was not at it


@dataclass(frozen=True, slots=True)
class _Trim:
    """A trim that was read, and the sensors that were read in the same state, its own bank's front one first."""

    at: int
    sensors: tuple[int, ...]


class Stops:
    """The law of the measured findings where trims may be at their stops.

    Parameters
    ----------
    queries : sequence of Query, length q
    sound : Sound
    evidence : Evidence
        The law where no trim is.
    warp : Warp
    broad : ndarray, shape (q,)
    """

    def __init__(self, queries: Sequence[Query], sound: Sound, evidence: Evidence, warp: Warp, broad: Array) -> None:
        self._evidence, self._sound, self._warp, self._broad = evidence, sound, warp, broad
        self._trims = tuple(trim for trim in _trims(queries, warp) if self._may_be(trim.at))
        self._pinned: dict[bytes, Evidence] = {}

    def log_density(self, means: Array) -> Array:
        """Log probability density of all measured findings under n predictions.

        Parameters
        ----------
        means : ndarray, shape (n, q)
            On the scales of the evidence; NaN where there could be no such reading.

        Returns
        -------
        ndarray, shape (n,)
        """
        if not self._trims:
            return self._evidence.log_density(means)
        each = []
        for which in itertools.product((False, True), repeat=len(self._trims)):
            pinned = np.array(which)
            each.append(self._law(pinned).log_density(self._as_if(means, pinned)))
        return log_sum(np.array(each), axis=0)

    def _may_be(self, at: int) -> bool:
        """Whether a trim reads as one at its stop may; seldom, and only then this law differs from the usual."""
        own = np.hypot(self._evidence.sd[at], self._warp.tolerance[at])
        return bool(abs(self._evidence.values[at]) > _STOP - _FAR * own)

    def _as_if(self, means: Array, pinned: Marks) -> Array:
        """Predictions with some trims at their stops and the others not, however far each would have to go."""
        means = means.copy()
        for trim, on in zip(self._trims, pinned, strict=True):
            said, sensors = means[:, trim.at], list(trim.sensors)
            left = np.where(
                np.abs(said) > _STOP - _AT_IT, means[:, trim.sensors[0]] - 1.0, 0.0
            )  # of the mixture's error
            wanted = said + 100.0 * left
            stop = np.copysign(_STOP, self._evidence.values[trim.at])
            beyond = 0.01 * (wanted - stop) if on else 0.0
            means[:, trim.at] = np.where(np.isnan(said), np.nan, stop) if on else wanted
            means[:, sensors] += (beyond - left)[:, None]
        return means

    def _law(self, pinned: Marks) -> Evidence:
        if not pinned.any():
            return self._evidence
        key = pinned.tobytes()
        if key not in self._pinned:
            steepness = self._warp.slope(self._sound.mean)
            slope, bend = self._sound.slope * steepness, self._sound.bend * steepness
            tolerance = self._warp.tolerance.copy()
            for trim in (trim for trim, on in zip(self._trims, pinned, strict=True) if on):
                for sensor in trim.sensors:  # a hundredth of fuel too much makes λ a hundredth less
                    slope[:, sensor] += 0.01 * slope[:, trim.at]
                    bend[:, sensor] += 0.01 * bend[:, trim.at]
                    tolerance[sensor] = np.hypot(tolerance[sensor], 0.01 * tolerance[trim.at])
                slope[:, trim.at] = bend[:, trim.at] = 0.0
            usual = self._as_if(self._warp.there(self._sound.mean)[None, :], pinned)[0]
            spread = covariance_of(slope, bend)
            self._pinned[key] = Evidence(
                self._evidence.findings, tolerance, spread, broad=self._broad, warp=self._warp, usual=usual
            )
        return self._pinned[key]


def _trims(queries: Sequence[Query], warp: Warp) -> list[_Trim]:
    """Trims with their sensors; a sensor whose own trim was not read goes with another bank's of the same state."""
    read = {(_bank(q), q.condition): j for j, q in enumerate(queries) if q.quantity == "fuel_trim"}
    found: dict[int, list[tuple[bool, bool, int]]] = {}
    for k, query in enumerate(queries):
        sensor = oxygen_sensor(query) if query.quantity == "lambda_reported" else None
        if sensor is None:
            continue
        which, bank = sensor
        others = [j for (_, condition), j in read.items() if condition == query.condition]
        own = read.get((bank, query.condition))
        at = own if own is not None else others[0] if others else None
        if at is not None and not warp.share[[at, k]].any():
            found.setdefault(at, []).append((own is None, which != "front", k))
    return [_Trim(at, tuple(k for *_, k in sorted(sensors))) for at, sensors in sorted(found.items())]


def _bank(query: Query) -> int:
    return int(query.place.get("bank") or 1)

"""Wheel lock: which edge of a train is which tooth of a described wheel, and where that cannot be said.

The reading is the most likely one under a model of wheel and crank (:mod:`witnessmark.decode._align`): teeth come at
their places give or take a jitter; the crank's pace wanders as torque over inertia lets it, so by tens of percent
within a turn at cranking speed and hardly at all at 8000 rpm; edges are now and then missing or extra; and a stretch
may follow no wheel at all. :mod:`witnessmark.decode.quality` then takes away what the pattern does not bear out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.law import Law, grid_of, law_at, middling_law
from witnessmark.decode.lock import Stretch, WheelLock
from witnessmark.decode.quality import judge
from witnessmark.decode.train import Train
from witnessmark.engine.tonewheel import WheelPattern

__all__ = ["fit_law", "lock_wheel"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

# However steady most of a recording is, the crank may be started or loaded in it [rad/s2].
_LEAST_ACCELERATION = 60.0
# Edges enough to fit the law of a long recording, and to weigh the evidence under it.
_SEARCHED, _WEIGHED = 500, 2000


def lock_wheel(
    times_s: Sequence[float] | FloatArray,
    pattern: WheelPattern,
    *,
    others_s: Sequence[float] | FloatArray | None = None,
    sd_s: float | FloatArray = 0.0,
    crank_per_turn: float = 1.0,
    law: Law | None = None,
) -> WheelLock:
    """Read an edge train against a wheel.

    Parameters
    ----------
    times_s : array, shape (n,) [s]
        Edges of one kind, in the order of time.
    pattern : WheelPattern
    others_s : array, shape (m,) [s], optional
        Edges of the other kind; with them pulses too narrow for a tooth are told. Needed where they carry the code.
    sd_s : float or array, shape (n,) [s]
        Standard deviation of the edge times.
    crank_per_turn : float
        Crank turns in one turn of the wheel: 1 on the crankshaft, 2 on a camshaft.
    law : Law, optional
        Fitted to the train where left out.

    Returns
    -------
    WheelLock
        Possibly without any part; a poor signal is no error.

    Raises
    ------
    DecodeError
        For times that are not finite and increasing, or a coded wheel without its other edges.

    Notes
    -----
    About 0.3 s for 100,000 edges once compiled; the first call of all compiles for some seconds.
    """
    train = Train.of(times_s, pattern, others_s, sd_s, crank_per_turn)
    if train.times.size < 2:
        return _nothing(train)
    law = law or _tolerant(fit_law(train)[0])
    labels, gone, starts, evidence = train.align(law)
    lock = _number(train, labels, gone, starts, law, float(evidence))
    return judge(lock)


def _tolerant(law: Law) -> Law:
    """A law that also takes in the start and the first strokes of an otherwise steady recording."""
    return replace(law, acceleration=max(law.acceleration, _LEAST_ACCELERATION))


def fit_law(train: Train) -> tuple[Law, float]:
    """The law under which a train fits its wheel best, and the evidence then [nats].

    Parameters
    ----------
    train : Train
        A long one is judged by its middle.

    Returns
    -------
    tuple of (Law, float)
        The evidence is the log-likelihood above that of no wheel at all.
    """
    searched, weighed, pattern = train.middle(_SEARCHED), train.middle(_WEIGHED), train.pattern
    if train.times.size < 2:
        return middling_law(pattern), 0.0
    axes = grid_of(pattern)
    tried: dict[tuple[int, ...], float] = {}

    def point(at: tuple[int, ...]) -> Law:
        return law_at(pattern, *(axis[i] for axis, i in zip(axes, at, strict=True)))

    def score(at: tuple[int, ...]) -> float:
        if at not in tried:
            tried[at] = float(searched.align(point(at))[3])
        return tried[at]

    # One step up at a time until none helps: the surface has one top.
    at: tuple[int, ...] = (1, 2, min(1, len(axes[2]) - 1))
    while True:
        around = [
            (*at[:d], at[d] + step, *at[d + 1 :])
            for d, axis in enumerate(axes)
            for step in (-1, 1)
            if 0 <= at[d] + step < len(axis)
        ]
        best = max(around, key=score)
        if score(best) <= score(at):
            law = point(at)
            return law, score(at) if weighed.times.size == searched.times.size else float(weighed.align(law)[3])
        at = best


def _nothing(train: Train) -> WheelLock:
    n = train.times.size
    none = np.full(n, -1, dtype=np.int64)
    void = (Stretch(float(train.times[0]), float(train.times[-1]), "too short"),) if n else ()
    return _lock(
        train, none, none, np.zeros(n, dtype=np.int64), np.zeros(n, dtype=bool), middling_law(train.pattern), 0.0, void
    )


def _lock(
    train: Train,
    count: IntArray,
    part: IntArray,
    missing: IntArray,
    extra: BoolArray,
    law: Law,
    evidence: float,
    void: tuple[Stretch, ...] = (),
) -> WheelLock:
    return WheelLock(
        pattern=train.pattern,
        crank_per_turn=train.crank_per_turn,
        times_s=train.times,
        sd_s=train.noise,
        count=count,
        part=part,
        missing=missing,
        extra=extra,
        narrow=train.suspect,
        other_at=train.fractions,
        void=void,
        law=law,
        evidence=evidence,
    )


def _number(
    train: Train, labels: NDArray[np.int16], gone: NDArray[np.int8], starts: BoolArray, law: Law, evidence: float
) -> WheelLock:
    """Give every tooth its running number, part by part."""
    n = labels.size
    count = np.full(n, -1, dtype=np.int64)
    part = np.full(n, -1, dtype=np.int64)
    missing = np.zeros(n, dtype=np.int64)
    teeth = np.flatnonzero(labels >= 0)
    if teeth.size:
        begins = starts[teeth].copy()
        begins[0] = True
        steps = np.where(begins, 0, 1 + gone[teeth].astype(np.int64))
        total = np.cumsum(steps)
        first = np.flatnonzero(begins)
        which = np.cumsum(begins) - 1
        count[teeth] = total - total[first][which] + labels[teeth[first]].astype(np.int64)[which]
        part[teeth] = which
        missing[teeth] = np.where(begins, 0, gone[teeth])
    return _lock(train, count, part, missing, labels == -1, law, evidence)

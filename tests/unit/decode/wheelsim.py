"""A wheel on a turning crank, simulated for the tests of decode: the truth is known, the edges are what a sensor gives.

The motion is a table of time against angle; it may run backward. Forward, an even edge is falling or rising as told;
passed backward, every edge changes its direction, as it does on a real sensor.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.tonewheel import WheelPattern

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass
class Motion:
    """Angle of the crank [deg] at times [s]; piecewise linear between them."""

    times_s: FloatArray
    deg: FloatArray

    def at(self, times_s: FloatArray) -> FloatArray:
        return np.interp(times_s, self.times_s, self.deg)


def turning(
    rpm: float | Callable[[FloatArray], FloatArray],
    turns: float,
    *,
    start_deg: float = 0.0,
    ripple: float = 0.0,
    per_turn: float = 2.0,
    steps_per_deg: float = 4.0,
) -> Motion:
    """Forward motion at a speed (a number, or a function of the turns done), with a ripple that comes from compression.

    ``ripple`` is the share by which the speed swings, ``per_turn`` how often it does so in a turn. The swing is not a
    sine: slow and long over the compression, quick after it, as on a real engine.
    """
    deg = np.linspace(0.0, 360.0 * turns, int(360 * turns * steps_per_deg) + 1)
    done = deg / 360.0
    mean = np.full(deg.size, float(rpm)) if not callable(rpm) else np.asarray(rpm(done), dtype=float)
    phase = 2 * np.pi * done * per_turn + 0.7
    swing = np.sin(phase) + 0.35 * np.sin(2 * phase + 0.4)
    speed = 6.0 * mean * (1.0 + ripple * swing / 1.2)
    pace = 1.0 / speed
    times = np.concatenate(([0.0], np.cumsum(0.5 * (pace[1:] + pace[:-1]) * np.diff(deg))))
    return Motion(times, start_deg + deg)


def joined(*pieces: Motion | float) -> Motion:
    """Motions one after another; a number is a rest of so many seconds."""
    times, deg = [np.zeros(1)], [np.array([_first(pieces)])]
    for piece in pieces:
        t0, a0 = times[-1][-1], deg[-1][-1]
        if isinstance(piece, Motion):
            times.append(t0 + piece.times_s[1:] - piece.times_s[0])
            deg.append(a0 + piece.deg[1:] - piece.deg[0])
        else:
            times.append(np.array([t0 + piece]))
            deg.append(np.array([a0]))
    return Motion(np.concatenate(times), np.concatenate(deg))


def _first(pieces: tuple[Motion | float, ...]) -> float:
    return next((float(p.deg[0]) for p in pieces if isinstance(p, Motion)), 0.0)


def coast_down(rpm: float, *, throw_back_deg: float = 70.0, swings: int = 2, accel: float = 250.0) -> Motion:
    """From a speed to a stop against compression, thrown back and forth: half the angle each time."""
    speed = rpm * 6.0
    pull = np.degrees(accel)
    times, deg = [0.0], [0.0]
    t = np.linspace(0.0, speed / pull, 200)[1:]
    times += list(t)
    deg += list(speed * t - 0.5 * pull * t**2)
    sign, angle = -1.0, throw_back_deg
    for _ in range(swings):
        duration = 2.0 * np.sqrt(angle / pull)
        t = np.linspace(0.0, duration, 400)[1:]
        t0, a0 = times[-1], deg[-1]
        times += list(t0 + t)
        deg += list(a0 + sign * angle * 0.5 * (1 - np.cos(np.pi * t / duration)))
        sign, angle = -sign, angle / 2
    return Motion(np.array(times), np.array(deg))


@dataclass
class Sensor:
    """How the wheel is read."""

    even_rising: bool = False
    pitch_sd_deg: float = 0.0
    jitter_deg: float = 0.0
    clock_s: float = 0.0
    uneven_deg: float = 0.0  # how far the other edges miss their places, tooth by tooth
    seed: int = 0
    crank_per_turn: float = 1.0


@dataclass
class Edges:
    """What a channel gives, and the truth behind it."""

    times_s: FloatArray
    rising: BoolArray
    truth_deg: FloatArray  # crank angle at which the described place of the edge passes
    is_even: BoolArray
    even_rising: bool
    pattern: WheelPattern
    pitch_error_deg: FloatArray = field(default_factory=lambda: np.zeros(0))

    def even(self) -> FloatArray:
        return self.times_s[self.rising == self.even_rising]

    def others(self) -> FloatArray:
        return self.times_s[self.rising != self.even_rising]

    def even_truth(self) -> FloatArray:
        return self.truth_deg[self.rising == self.even_rising]


def read_wheel(pattern: WheelPattern, motion: Motion, sensor: Sensor) -> Edges:
    """The edges a sensor gives of a wheel in motion."""
    rng = np.random.default_rng(sensor.seed)
    n = pattern.n_edges
    error = rng.normal(0.0, sensor.pitch_sd_deg, n) if sensor.pitch_sd_deg else np.zeros(n)
    even = np.array(pattern.edges_deg)
    others = np.array(pattern.others_deg) if pattern.others_deg else even + 0.45 * min(pattern.gaps_deg)
    if sensor.uneven_deg:
        others = others + rng.uniform(-sensor.uneven_deg, sensor.uneven_deg, others.size)
    ratio = sensor.crank_per_turn
    times, rising, truth, is_even = [], [], [], []
    for t, a, forward in _monotone(motion):
        for places, nominal, kind in ((even + error, even, True), (others, others, False)):
            low, high = min(a[0], a[-1]) / ratio, max(a[0], a[-1]) / ratio
            turns = np.arange(np.floor(low / 360.0) - 1, np.ceil(high / 360.0) + 2)
            angle = (360.0 * turns[:, None] + places).ravel()
            stated = (360.0 * turns[:, None] + nominal).ravel()
            inside = (angle > low) & (angle <= high)
            angle, stated = angle[inside], stated[inside]
            angle = angle + rng.normal(0.0, sensor.jitter_deg, angle.size) * bool(sensor.jitter_deg)
            order = (a, t) if forward else (a[::-1], t[::-1])
            times.append(np.interp(angle * ratio, *order))
            up = kind == sensor.even_rising
            rising.append(np.full(angle.size, up if forward else not up))
            truth.append(stated * ratio)
            is_even.append(np.full(angle.size, kind))
    stamp = np.concatenate(times)
    if sensor.clock_s:
        stamp = np.round(stamp / sensor.clock_s) * sensor.clock_s
    order = np.argsort(stamp, kind="stable")
    out = [np.concatenate(x)[order] for x in (rising, truth, is_even)]
    return Edges(stamp[order], out[0], out[1], out[2], sensor.even_rising, pattern, error)


def _monotone(motion: Motion) -> list[tuple[FloatArray, FloatArray, bool]]:
    """The pieces of a motion that run one way."""
    step = np.sign(np.diff(motion.deg))
    moving = np.flatnonzero(step != 0)
    pieces, begin = [], 0
    for i, j in itertools.pairwise(moving):
        if step[i] != step[j]:
            pieces.append((begin, i + 1))
            begin = j
    pieces.append((begin, motion.deg.size - 1))
    out = []
    for i, j in pieces:
        t, a = motion.times_s[i : j + 1], motion.deg[i : j + 1]
        if a.size > 1 and a[0] != a[-1]:
            out.append((t, a, bool(a[-1] > a[0])))
    return out


def without(edges: Edges, pulses: list[int]) -> Edges:
    """The same with some even edges and the other edge behind each taken away: teeth that gave no pulse."""
    even = np.flatnonzero(edges.rising == edges.even_rising)
    gone = [k for p in pulses for k in (even[p], even[p] + 1)]
    keep = np.ones(edges.times_s.size, dtype=bool)
    keep[gone] = False
    return _kept(edges, keep)


def _kept(edges: Edges, keep: BoolArray) -> Edges:
    return Edges(
        edges.times_s[keep],
        edges.rising[keep],
        edges.truth_deg[keep],
        edges.is_even[keep],
        edges.even_rising,
        edges.pattern,
        edges.pitch_error_deg,
    )


def with_pulses(edges: Edges, at_s: FloatArray, width_s: FloatArray) -> Edges:
    """The same with pulses added against the level of the moment; their truth is NaN."""
    times, rising, truth, even = [edges.times_s], [edges.rising], [edges.truth_deg], [edges.is_even]
    for t, w in zip(at_s, width_s, strict=True):
        k = int(np.searchsorted(edges.times_s, t))
        if k == 0 or k >= edges.times_s.size or t + w >= edges.times_s[k] or t <= edges.times_s[k - 1]:
            continue
        level = bool(edges.rising[k - 1])
        times.append(np.array([t, t + w]))
        rising.append(np.array([not level, level]))
        truth.append(np.full(2, np.nan))
        even.append(np.zeros(2, dtype=bool))
    stamp = np.concatenate(times)
    order = np.argsort(stamp, kind="stable")
    return Edges(
        stamp[order],
        np.concatenate(rising)[order],
        np.concatenate(truth)[order],
        np.concatenate(even)[order],
        edges.even_rising,
        edges.pattern,
        edges.pitch_error_deg,
    )


def wrong_teeth(edges: Edges, count: NDArray[np.int64], part: NDArray[np.int64], *, ratio: float = 1.0) -> int:
    """Good teeth whose angle is not their true one, a whole number of sectors per part left open."""
    pattern, truth = edges.pattern, edges.even_truth()
    n = pattern.n_edges
    places = np.array(pattern.edges_deg)
    wrong = 0
    for p in range(int(part.max(initial=-1)) + 1):
        own = np.flatnonzero(part == p)
        said = ratio * (360.0 * (count[own] // n) + places[count[own] % n])
        off = said - truth[own]
        sector = pattern.sector_deg * ratio
        ok = np.isfinite(off)
        first = np.median(off[ok]) if ok.any() else 0.0
        whole = abs(first / sector - round(first / sector)) < 1e-6
        wrong += int((~ok).sum() + (np.abs(off[ok] - first) > 1e-6).sum()) if whole else own.size
    return wrong

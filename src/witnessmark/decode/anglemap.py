"""Time to crank angle and back, with its doubt and the stretches where there is none.

The angle counts on from turn to turn; 0 is the wheel's index edge at the start of each part. Parts are separated by
void stretches, across which no turn is counted; between them whole turns (on a wheel that looks the same from several
edges: whole sectors) are unknown.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.lock import Stretch, WheelLock
from witnessmark.decode.pitch import RUN_OUT_SD_DEG, PitchError, learn_pitch
from witnessmark.estimate import Estimate

__all__ = ["AngleMap", "Angles", "TurnSpeeds", "angle_map"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

# Share of the difference between the curve and the straight line through two teeth that is left in doubt: on coarse
# wheels under compression a curve through the teeth leaves about half of what a straight line does.
_CURVE_DOUBT = 0.5
_RPM = 1.0 / 6.0  # revolutions per minute in one degree per second


@dataclass(frozen=True, slots=True, eq=False)
class Angles:
    """Crank angles of some moments.

    Parameters
    ----------
    deg : array, shape (n,) [deg]
        Counting on within a part; NaN in void stretches.
    place_sd_deg : array, shape (n,) [deg]
        Standard deviation that comes again turn after turn: places of the teeth, the curve between them. It does not
        average away.
    scatter_sd_deg : array, shape (n,) [deg]
        Standard deviation that is new every time: edge times, scatter.
    speed_deg_s : array, shape (n,) [deg/s]
        Speed of the crank there.
    part : array of int, shape (n,)
        -1 in void stretches.
    """

    deg: FloatArray
    place_sd_deg: FloatArray
    scatter_sd_deg: FloatArray
    speed_deg_s: FloatArray
    part: IntArray

    @property
    def known(self) -> BoolArray:
        """Moments whose angle is known."""
        return self.part >= 0


@dataclass(frozen=True, slots=True, eq=False)
class TurnSpeeds:
    """Speed of every whole turn.

    Parameters
    ----------
    from_s, to_s : array, shape (n,) [s]
    rpm, sd_rpm : array, shape (n,) [rpm]
        Mean speed of the crank over the turn; places of teeth do not enter, the same edge begins and ends it.
    """

    from_s: FloatArray
    to_s: FloatArray
    rpm: FloatArray
    sd_rpm: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class AngleMap:
    """The map of one lock. Make it with :func:`angle_map`.

    Parameters
    ----------
    lock : WheelLock
    pitch : PitchError
        Places of the teeth that the map uses.
    knots_s, knots_deg : array, shape (n,)
        Time and crank angle of every good tooth.
    part : array of int, shape (n,)
        The part each belongs to; never -1.
    slope_deg_s : array, shape (n,) [deg/s]
        Speed at each.
    """

    lock: WheelLock
    pitch: PitchError
    knots_s: FloatArray
    knots_deg: FloatArray
    part: IntArray
    slope_deg_s: FloatArray

    @property
    def void(self) -> tuple[Stretch, ...]:
        """Stretches without angle and speed."""
        return self.lock.void

    @property
    def sector_deg(self) -> float:
        """Crank angle after which the wheel looks the same again."""
        return self.lock.pattern.sector_deg * self.lock.crank_per_turn

    @property
    def n_parts(self) -> int:
        """How many unbroken parts there are."""
        return self.lock.n_parts

    def at(self, times_s: object) -> Angles:
        """Crank angle at given times.

        Parameters
        ----------
        times_s : array, shape (n,) [s]

        Returns
        -------
        Angles
        """
        times = np.atleast_1d(np.asarray(times_s, dtype=np.float64))
        n = self.knots_s.size
        if n < 2:
            nan = np.full(times.shape, np.nan)
            return Angles(nan, nan, nan, nan, np.full(times.shape, -1))
        k = np.clip(np.searchsorted(self.knots_s, times, side="right") - 1, 0, n - 2)
        inside = (times >= self.knots_s[k]) & (times <= self.knots_s[k + 1]) & (self.part[k] == self.part[k + 1])
        # The last tooth before a void stretch is itself known.
        lone = (times == self.knots_s[k]) & ~inside & (k > 0)
        k = np.where(lone & (self.part[k - 1] == self.part[k]), k - 1, k)
        inside |= lone & (self.part[k] == self.part[k + 1])
        deg, speed, line = self._curve(times, k)
        place, scatter = self._doubt(times, k, speed, deg - line)
        known = [np.where(inside, values, np.nan) for values in (deg, place, scatter, speed)]
        return Angles(known[0], known[1], known[2], known[3], np.where(inside, self.part[k], -1))

    def _curve(self, times: FloatArray, k: IntArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Cubic through two neighbouring teeth with the speeds at them; its slope; the straight line."""
        t0, t1 = self.knots_s[k], self.knots_s[k + 1]
        a0, a1 = self.knots_deg[k], self.knots_deg[k + 1]
        h = t1 - t0
        x = (times - t0) / h
        chord = (a1 - a0) / h
        m0, m1 = self.slope_deg_s[k], self.slope_deg_s[k + 1]
        c0, c1 = m0 - chord, m1 - chord
        bow = h * x * (1 - x) * (c0 * (1 - x) - c1 * x)
        slope = chord + c0 * (1 - x) * (1 - 3 * x) - c1 * x * (2 - 3 * x)
        line = a0 + (a1 - a0) * x
        return line + bow, np.maximum(slope, 0.05 * chord), line

    def _doubt(
        self, times: FloatArray, k: IntArray, speed: FloatArray, bow: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        t0, t1 = self.knots_s[k], self.knots_s[k + 1]
        x = np.clip((times - t0) / (t1 - t0), 0.0, 1.0)
        sd = self._tooth_sd()
        place = np.sqrt(((1 - x) * sd[k]) ** 2 + (x * sd[k + 1]) ** 2)
        # What the curve misses comes again with the compression that bends it, and does not average away either.
        place = np.sqrt(place**2 + (RUN_OUT_SD_DEG * self.lock.crank_per_turn) ** 2 + (_CURVE_DOUBT * bow) ** 2)
        sd_t = self.lock.sd_s[self.lock.good]
        clock = speed * np.sqrt(((1 - x) * sd_t[k]) ** 2 + (x * sd_t[k + 1]) ** 2)
        jitter = self.scatter_deg * np.sqrt((1 - x) ** 2 + x**2)
        return place, np.hypot(clock, jitter)

    def _tooth_sd(self) -> FloatArray:
        """Standard deviation of the place of every good tooth, in crank degrees."""
        tooth = self.lock.tooth[self.lock.good]
        return self.pitch.sd_deg[tooth] * self.lock.crank_per_turn

    @property
    def scatter_deg(self) -> float:
        """Standard deviation of one edge from turn to turn, in crank degrees; the law's jitter where not compared."""
        own = self.pitch.scatter_deg
        return (own if np.isfinite(own) else self.lock.law.jitter_deg) * self.lock.crank_per_turn

    def time_at(self, deg: float, part: int = 0) -> float:
        """The moment at which a part passes an angle.

        Parameters
        ----------
        deg : float [deg]
            Counting on, as :meth:`at` gives it.
        part : int

        Returns
        -------
        float [s]
            NaN outside the part.
        """
        own = np.flatnonzero(self.part == part)
        if own.size < 2 or not self.knots_deg[own[0]] <= deg <= self.knots_deg[own[-1]]:
            return float("nan")
        k = own[min(int(np.searchsorted(self.knots_deg[own], deg, side="right")) - 1, own.size - 2)]
        low, high = float(self.knots_s[k]), float(self.knots_s[k + 1])
        for _ in range(60):
            middle = 0.5 * (low + high)
            below = self._curve(np.array([middle]), np.array([k]))[0][0] < deg
            low, high = (middle, high) if below else (low, middle)
        return 0.5 * (low + high)

    def speed_over(self, window_deg: float, end_s: float | None = None) -> Estimate | None:
        """Mean speed of the crank over the last degrees before a moment, from tooth to tooth.

        Parameters
        ----------
        window_deg : float [deg]
            Crank degrees; the tooth nearest to this far back begins the window.
        end_s : float, optional [s]
            The last good tooth at or before it ends the window; the very last one where left out.

        Returns
        -------
        Estimate or None
            In rpm; None where the window would reach over a void stretch or before the start of the recording.
        """
        end = self.knots_s.size - 1
        if end_s is not None:
            end = int(np.searchsorted(self.knots_s, end_s + 1e-9, side="right")) - 1
            voids = [v for v in self.void if v.from_s < end_s <= v.to_s]
            if voids:
                return None
        if end < 1:
            return None
        own = np.flatnonzero(self.part[: end + 1] == self.part[end])
        back = self.knots_deg[end] - self.knots_deg[own]
        begin = own[int(np.argmin(np.abs(back - window_deg)))]
        angle = float(self.knots_deg[end] - self.knots_deg[begin])
        if begin == end or angle < 0.7 * window_deg:
            return None
        return self._speed_between(int(begin), end)

    def _speed_between(self, begin: int, end: int) -> Estimate:
        angle = float(self.knots_deg[end] - self.knots_deg[begin])
        time = float(self.knots_s[end] - self.knots_s[begin])
        rpm = angle / time * _RPM
        sd_t = self.lock.sd_s[self.lock.good]
        timing = angle / time * np.hypot(sd_t[begin], sd_t[end])
        place = 0.0
        tooth = self.lock.tooth[self.lock.good]
        if tooth[begin] != tooth[end]:
            sd = self._tooth_sd()
            place = float(np.hypot(np.hypot(sd[begin], sd[end]), RUN_OUT_SD_DEG * self.lock.crank_per_turn))
        sd_deg = float(np.sqrt(place**2 + timing**2 + 2 * self.scatter_deg**2))
        return Estimate(rpm, rpm * sd_deg / angle, "rpm", end - begin, f"{angle:g}° from tooth to tooth")

    def turn_speeds(self) -> TurnSpeeds:
        """Speed of every whole turn of the wheel between two index edges.

        Returns
        -------
        TurnSpeeds
            Empty where there is no whole turn.
        """
        turns = self.lock.turns()
        begin, end = np.array([t.from_s for t in turns]), np.array([t.to_s for t in turns])
        angle = 360.0 * self.lock.crank_per_turn
        rpm = angle / (end - begin) * _RPM
        clock = float(np.sqrt(np.mean(self.lock.sd_s**2))) if self.lock.sd_s.size else 0.0
        sd_deg = np.sqrt(2.0) * np.hypot(self.scatter_deg, rpm / _RPM * clock)
        return TurnSpeeds(begin, end, rpm, rpm * sd_deg / angle)

    def shifted(self, part: int, deg: float) -> AngleMap:
        """The same map with all angles of one part moved by whole turns or sectors."""
        return replace(self, knots_deg=np.where(self.part == part, self.knots_deg + deg, self.knots_deg))


def angle_map(lock: WheelLock, *, learn: bool = True, pitch: PitchError | None = None) -> AngleMap:
    """The map of a lock.

    Parameters
    ----------
    lock : WheelLock
    learn : bool
        Correct the places of the teeth by what the turns tell; False: take the pattern's.
    pitch : PitchError, optional
        Places learnt elsewhere, on the same wheel.

    Returns
    -------
    AngleMap
    """
    pitch = pitch or learn_pitch(lock, learn=learn)
    good = lock.good
    n = lock.pattern.n_edges
    places = np.array(lock.pattern.edges_deg) + pitch.error_deg
    knots_deg = lock.crank_per_turn * (360.0 * (lock.count[good] // n) + places[lock.count[good] % n])
    knots_s, part = lock.times_s[good], lock.part[good]
    return AngleMap(lock, pitch, knots_s, knots_deg, part, _slopes(knots_s, knots_deg, part))


def _slopes(times: FloatArray, deg: FloatArray, part: IntArray) -> FloatArray:
    """Speed at every knot from the parabola through it and its neighbours, kept between the two chords' doubles."""
    out = np.zeros_like(times)
    for p in range(int(part.max(initial=-1)) + 1):
        own = np.flatnonzero(part == p)
        if own.size < 2:
            continue
        h = np.diff(times[own])
        chord = np.diff(deg[own]) / h
        slope = np.empty(own.size)
        slope[0], slope[-1] = chord[0], chord[-1]
        slope[1:-1] = (chord[:-1] * h[1:] + chord[1:] * h[:-1]) / (h[:-1] + h[1:])
        if own.size > 2:
            slope[0] = np.clip(2 * chord[0] - slope[1], 0.5 * chord[0], 2 * chord[0])
            slope[-1] = np.clip(2 * chord[-1] - slope[-2], 0.5 * chord[-1], 2 * chord[-1])
        out[own] = slope
    return out

"""Run-out of the crank wheel: what of the speed's swing once a turn is the wheel's, and not the crank's.

A wheel off its centre shows a speed that swings once a turn, and so does an engine whose cylinders push unevenly. The
two are told apart by speed: a torque moves the angle less the faster the crank turns (with the square), run-out stays.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.anglemap import AngleMap
from witnessmark.decode.cam import RepeatingEdge
from witnessmark.decode.pitch import RUN_OUT_SD_DEG

__all__ = ["NO_RUN_OUT", "RunOut", "corrected_edge", "find_run_out", "same_run_out"]

FloatArray = NDArray[np.float64]

# Acceleration of the crank that comes once a turn, from cylinders that push unevenly: standard deviation of its cosine
# and of its sine. At least so much [rad/s2], such a share of what comes at all other orders, and as much as comes once
# a cycle; our guess, on the safe side of the rehearsal engines.
_UNEVEN_RAD_S2, _UNEVEN_SHARE = 4.0, 0.03
# Now and then it is far more and nothing comes once a cycle: cylinders that all fire once a turn [rad/s2]; our guess.
_STRONG_SHARE, _STRONG_RAD_S2 = 0.003, 300.0
# A wheel fitted badly: one in so many, and how far off such ones run [deg]; our guess.
_BAD_SHARE, _BAD_SD_DEG = 0.05, 0.8
_SURELY_OTHER = 4.0  # standard deviations
_LEAST_TEETH = 11
_ORDERS = 6
_WINDOW_TURNS = 4.0


@dataclass(frozen=True, slots=True)
class RunOut:
    """What comes once a turn, in degrees of the wheel's shaft.

    Parameters
    ----------
    cos_deg, sin_deg : float [deg]
        A tooth at the angle a sits ``cos_deg cos a + sin_deg sin a`` beyond its place.
    sd_deg : float [deg]
        Standard deviation of either.
    mixture : tuple of (share [-], cos, sin, sd [deg])
        The same as a sum of normals, for what is not linear in it.
    """

    cos_deg: float
    sin_deg: float
    sd_deg: float
    mixture: tuple[tuple[float, float, float, float], ...]

    def at(self, turned_deg: FloatArray | float) -> FloatArray:
        """By how much teeth sit beyond their places.

        Parameters
        ----------
        turned_deg : float or array, shape (n,) [deg]
            Of the wheel's shaft, behind its index edge.

        Returns
        -------
        array, shape (n,) [deg]
        """
        turned = np.radians(turned_deg)
        return np.asarray(self.cos_deg * np.cos(turned) + self.sin_deg * np.sin(turned))

    def less(self, other: RunOut) -> RunOut:
        """What this one says more than another.

        Parameters
        ----------
        other : RunOut

        Returns
        -------
        RunOut
            Without a mixture.
        """
        return RunOut(self.cos_deg - other.cos_deg, self.sin_deg - other.sin_deg, self.sd_deg, ())


_USUAL = ((1.0 - _BAD_SHARE, 0.0, 0.0, RUN_OUT_SD_DEG), (_BAD_SHARE, 0.0, 0.0, _BAD_SD_DEG))
NO_RUN_OUT = RunOut(0.0, 0.0, RUN_OUT_SD_DEG, _USUAL)
"""Nothing learnt: as wheels usually run."""


def find_run_out(amap: AngleMap) -> RunOut:
    """The wheel's run-out, as far as the speed allows to tell it.

    Parameters
    ----------
    amap : AngleMap

    Returns
    -------
    RunOut
        :data:`NO_RUN_OUT` where there are too few teeth or whole turns.

    Notes
    -----
    In windows of two cycles, least squares of the places against time: a polynomial for the speed's slow course, and
    half and whole orders of the turn. Order one is then averaged, weighted by what an uneven torque may put into it at
    the speed of the window.
    """
    found = _first_orders(amap)
    if found is None:
        return NO_RUN_OUT
    seen, torque_deg, strong_deg = found
    weight = 1.0 / torque_deg**2
    mean = (seen * weight[:, None]).sum(axis=0) / weight.sum()
    scatter = float(np.sqrt((weight[:, None] ** 2 * (seen - mean) ** 2).sum() / 2.0)) / float(weight.sum())
    parts = []
    for odds, torque in ((1.0 - _STRONG_SHARE, torque_deg), (_STRONG_SHARE, strong_deg)):
        # Cylinders that push unevenly do so in every turn: their share does not average away.
        common = float(np.sqrt((weight * torque**2).sum() / weight.sum()))
        noise = float(np.hypot(common, scatter))
        for share, _, _, prior in _USUAL:
            total = prior**2 + noise**2
            evidence = odds * share / total * float(np.exp(-0.5 * (mean**2).sum() / total))
            shrunk = mean * prior**2 / total
            parts.append((evidence, float(shrunk[0]), float(shrunk[1]), prior * noise / float(np.sqrt(total))))
    whole = sum(part[0] for part in parts)
    if whole <= 0.0:
        parts, whole = [(1.0, *parts[-1][1:])], 1.0
    mixture = tuple((share / whole, c, s, sd) for share, c, s, sd in parts)
    cos = sum(share * c for share, c, _, _ in mixture)
    sin = sum(share * s for share, _, s, _ in mixture)
    variance = sum(share * (sd**2 + ((c - cos) ** 2 + (s - sin) ** 2) / 2.0) for share, c, s, sd in mixture)
    return RunOut(cos, sin, float(np.sqrt(variance)), mixture)


def _first_orders(amap: AngleMap) -> tuple[FloatArray, FloatArray, FloatArray] | None:
    """First order of the places in every window, shape (n, 2); what torque may put in, usual and strong [deg]."""
    lock = amap.lock
    n = lock.pattern.n_edges
    if n < _LEAST_TEETH:
        return None
    places = np.array(lock.pattern.edges_deg) + amap.pitch.error_deg
    # A window is whole cycles, so that what comes once a cycle does not pass for once a turn.
    turns = max(round(_WINDOW_TURNS / lock.crank_per_turn), 2)
    number = np.arange(turns * n + 1)
    at = places[number % n] + 360.0 * (number // n)
    highest = min(_ORDERS, n // 3)
    orders = np.arange(1, 2 * highest + 1) / 2.0
    waves = np.column_stack([f(order * np.radians(at)) for order in orders for f in (np.cos, np.sin)])
    rows = []
    for part in range(lock.n_parts):
        members = lock.members(part)
        count = lock.count[members]
        begin = 0
        while begin + turns * n < count.size:
            if count[begin] % n or count[begin + turns * n] - count[begin] != turns * n:
                begin += 1
                continue
            times = lock.times_s[members[begin : begin + turns * n + 1]]
            rows.append(_window(times, at, waves, orders, lock.crank_per_turn))
            begin += n * max(turns // 2, 1)
    if not rows:
        return None
    table = np.array(rows)
    return table[:, :2], table[:, 2], table[:, 3]


def _window(
    times: FloatArray, at: FloatArray, waves: FloatArray, orders: FloatArray, per_turn: float
) -> tuple[float, float, float, float]:
    """Cosine and sine of the first order in one window, and what torque may put into either, usual and strong [deg]."""
    share = 2.0 * (times - times[0]) / (times[-1] - times[0]) - 1.0
    basis = np.column_stack([np.ones(share.size), share, share**2, share**3, share**4, waves])
    fitted = np.linalg.lstsq(basis, at, rcond=None)[0][5:]
    turned = at[-1] - at[0]
    omega = np.radians(turned) * per_turn / (times[-1] - times[0])
    size = np.hypot(fitted[0::2], fitted[1::2])
    swing = omega**2 * orders**2 * np.radians(size)
    # Cylinders that push unevenly show once a cycle as well, which no wheel on the crank does.
    once_a_cycle = float(swing[orders == 0.5].sum())
    others = float(np.sqrt((swing[orders != 1.0] ** 2).sum()))
    uneven = float(np.sqrt(_UNEVEN_RAD_S2**2 + once_a_cycle**2 + (_UNEVEN_SHARE * others) ** 2))
    first = int(np.flatnonzero(orders == 1.0)[0])
    # Beyond its place: the crank has turned further than the place says.
    cos, sin = -float(fitted[2 * first]), -float(fitted[2 * first + 1])
    return cos, sin, float(np.degrees(uneven / omega**2)), float(np.degrees(_STRONG_RAD_S2 / omega**2))


def corrected_edge(edge: RepeatingEdge, amap: AngleMap, run_out: RunOut) -> RepeatingEdge:
    """The readings of an edge on a map whose teeth stand where the run-out puts them; its zero stays.

    Parameters
    ----------
    edge : RepeatingEdge
    amap : AngleMap
    run_out : RunOut

    Returns
    -------
    RepeatingEdge
    """
    per_turn = amap.lock.crank_per_turn
    zero = float(np.mean(run_out.at(np.array(amap.lock.pattern.edges_deg))))
    return replace(edge, angles_deg=edge.angles_deg + per_turn * (run_out.at(edge.angles_deg / per_turn) - zero))


def same_run_out(one: RunOut, other: RunOut) -> bool:
    """Whether two recordings may show one wheel that sits the same.

    Parameters
    ----------
    one, other : RunOut

    Returns
    -------
    bool
    """
    apart = np.hypot(one.cos_deg - other.cos_deg, one.sin_deg - other.sin_deg)
    return bool(apart < _SURELY_OTHER * np.hypot(one.sd_deg, other.sd_deg))

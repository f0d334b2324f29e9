"""Cam edges in crank degrees: which edges of a channel come again every two turns of the crank, and where.

Angles run from 0 to 720 behind the wheel's index edge, later = larger. The wheel alone cannot tell the first of the
two turns from the second; the cam does, once it is agreed in which turn one of its edges falls
(:func:`settle_turn`). Parts of a recording that a void stretch separates are brought into step by the cam's pattern
(:func:`join_parts`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.anglemap import AngleMap, Angles

__all__ = ["CYCLE_DEG", "CamReading", "RepeatingEdge", "join_parts", "read_cam", "settle_turn", "wrapped"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

CYCLE_DEG = 720.0
# No tooth or slot of a cam wheel is as narrow as this, in crank degrees; common practice, no source.
_NARROWEST_DEG = 0.5
_NARROWEST_S = 10e-6
# From one cycle to the next a phaser moves a cam by no more than this, in crank degrees (120 deg/s at idle speed).
_LARGEST_STEP_DEG = 25.0
# What scatters more than this from one cycle to the next is not fixed to a cam.
_LARGEST_SCATTER_DEG = 15.0
# Distance beyond which a glitch counts no more when parts are compared.
_FAR_DEG = 30.0
# An edge this far from the others of its kind, in degrees or in scatters, is no edge of the cam.
_OUTLIER_DEG, _OUTLIER_SCATTERS = 3.0, 6.0


@dataclass(frozen=True, slots=True, eq=False)
class RepeatingEdge:
    """One edge of a cam wheel, seen again and again.

    Parameters
    ----------
    rising : bool
    times_s : array, shape (n,) [s]
        When it was seen.
    angles_deg : array, shape (n,) [deg]
        Where, behind the index edge; they may run a little below 0 or beyond 720 so that they stay together.
    speed_rpm : array, shape (n,) [rpm]
        Crank speed at each.
    place_sd_deg : float [deg]
        What does not average away: the places of the crank wheel's teeth on either side, the curve between them.
    scatter_sd_deg : float [deg]
        What one reading scatters for known reasons: edge times, crank wheel.
    cycles : int
        Cycles between the first and the last time it was seen, both counted.
    """

    rising: bool
    times_s: FloatArray
    angles_deg: FloatArray
    speed_rpm: FloatArray
    place_sd_deg: float
    scatter_sd_deg: float
    cycles: int

    @property
    def count(self) -> int:
        """How often it was seen."""
        return int(self.angles_deg.size)

    @property
    def angle_deg(self) -> float:
        """Mean angle, 0..720."""
        return float(np.mean(self.angles_deg) % CYCLE_DEG)

    @property
    def spread_deg(self) -> float:
        """Standard deviation of its readings, slow movement included; 0 for a single one."""
        return float(np.std(self.angles_deg, ddof=1)) if self.count > 1 else 0.0

    @property
    def scatter_deg(self) -> float:
        """Standard deviation from one reading to the next: slow movement does not enter (von Neumann 1941)."""
        if self.count < 2:
            return 0.0
        return float(np.sqrt(np.mean(np.diff(self.angles_deg) ** 2) / 2.0))

    @property
    def sd_deg(self) -> float:
        """Standard deviation of the mean angle: places of teeth, and what the readings leave after averaging."""
        own = max(self.spread_deg, self.scatter_sd_deg if self.count < 4 else 0.0)
        return float(np.hypot(self.place_sd_deg, own / np.sqrt(self._independent())))

    def _independent(self) -> float:
        """How many independent readings the series is worth (first-order autocorrelation)."""
        n = self.count
        if n < 5 or self.spread_deg == 0.0:
            return float(n)
        centred = self.angles_deg - self.angles_deg.mean()
        rho = float(np.clip((centred[1:] * centred[:-1]).sum() / (centred**2).sum(), 0.0, 0.95))
        return max(1.0, n * (1 - rho) / (1 + rho))

    def against_speed(self) -> tuple[float, float] | None:
        """Change with crank speed and its standard deviation [deg per 1000 rpm]; None if the speed hardly changed."""
        if self.count < 5 or np.ptp(self.speed_rpm) < 0.1 * self.speed_rpm.mean():
            return None
        return self._slope(self.speed_rpm / 1000.0)

    def against_time(self) -> tuple[float, float] | None:
        """Change with time and its standard deviation [deg/s]; None for fewer than five readings."""
        return self._slope(self.times_s) if self.count >= 5 else None

    def _slope(self, x: FloatArray) -> tuple[float, float]:
        centred = x - x.mean()
        power = float((centred**2).sum())
        slope = float((centred * self.angles_deg).sum() / power)
        left = self.angles_deg - self.angles_deg.mean() - slope * centred
        worth = self._independent()
        sd = float(np.sqrt((left**2).sum() / max(self.count - 2, 1) / power * self.count / worth))
        return slope, sd

    def moved(self, deg: float) -> RepeatingEdge:
        """The same edge with all angles moved."""
        return replace(self, angles_deg=self.angles_deg + deg)


@dataclass(frozen=True, slots=True, eq=False)
class CamReading:
    """What one channel shows against the crank.

    Parameters
    ----------
    edges : tuple of RepeatingEdge
        In the order of their angles.
    rejected_s : array, shape (m,) [s]
        Edges at a known angle that fit none of them: glitches.
    unplaced : int
        Edges in void stretches of the crank.
    every_turn : bool
        True where the pattern comes again every single turn of the crank: no cam, or one that looks alike in both.
    """

    edges: tuple[RepeatingEdge, ...]
    rejected_s: FloatArray
    unplaced: int
    every_turn: bool

    def of_kind(self, rising: bool) -> tuple[RepeatingEdge, ...]:
        """The edges of one kind."""
        return tuple(edge for edge in self.edges if edge.rising == rising)


def wrapped(deg: object) -> FloatArray:
    """A difference of angles brought into −360..360."""
    return np.asarray((np.asarray(deg, dtype=np.float64) + CYCLE_DEG / 2) % CYCLE_DEG - CYCLE_DEG / 2)


def read_cam(
    amap: AngleMap,
    times_s: Sequence[float] | FloatArray,
    rising: Sequence[bool] | BoolArray,
    *,
    sd_s: float | FloatArray = 0.0,
) -> CamReading:
    """Find the repeating edges of one channel.

    Parameters
    ----------
    amap : AngleMap
        With its parts in step, where there are several (:func:`join_parts`).
    times_s : array, shape (n,) [s]
        All edges, both kinds, in the order of time.
    rising : array of bool, shape (n,)
    sd_s : float or array, shape (n,) [s]
        Standard deviation of the edge times.

    Returns
    -------
    CamReading
    """
    times, up = np.asarray(times_s, dtype=np.float64), np.asarray(rising, dtype=bool)
    noise = np.broadcast_to(np.asarray(sd_s, dtype=np.float64), times.shape)
    angles = amap.at(times)
    wide = _wide_enough(times, angles)
    usable = angles.known & wide
    own = np.flatnonzero(usable)
    chains = _chains(angles.deg[own], angles.part[own], up[own])
    used = np.zeros(times.size, dtype=bool)
    for chain in chains:
        used[own[chain]] = True
    found = [_edge(bool(up[own[chain[0]]]), own[chain], times, angles, noise) for chain in chains]
    found.sort(key=lambda e: e.angle_deg)
    return CamReading(tuple(found), times[angles.known & ~used], int((~angles.known).sum()), _is_every_turn(found))


def _wide_enough(times: FloatArray, angles: Angles) -> BoolArray:
    """Edges that do not belong to a pulse narrower than any tooth of a cam wheel; pulses go out in pairs."""
    keep = np.ones(times.size, dtype=bool)
    k = 0
    while k + 1 < times.size:
        width = times[k + 1] - times[k]
        turned = abs(angles.deg[k + 1] - angles.deg[k])  # NaN in void stretches: then the time alone decides
        if width < _NARROWEST_S or turned < _NARROWEST_DEG:
            keep[k : k + 2] = False
            k += 2
        else:
            k += 1
    return keep


def _chains(deg: FloatArray, part: IntArray, up: BoolArray) -> list[IntArray]:
    """Follow edges from cycle to cycle; what comes again often enough is an edge of the cam.

    The cam is rigid: what the edge before has moved since its last cycle, the next one is expected to have moved.
    """
    if deg.size < 2:
        return []
    reach = min(_LARGEST_STEP_DEG, 0.45 * _least_spacing(deg, part, up))
    chains: list[list[int]] = []
    steps: list[float] = []
    for i in range(deg.size):
        step = float(np.median(steps[-5:])) if steps else 0.0
        best, near, instead = None, reach, False
        for c, chain in enumerate(chains):
            last = chain[-1]
            if up[last] != up[i]:
                continue
            same_cycle = part[last] == part[i] and deg[i] - deg[last] < CYCLE_DEG / 2
            if same_cycle and len(chain) < 2:
                continue
            before = chain[-2] if same_cycle else last
            off = abs(float(wrapped(deg[i] - deg[before] - step)))
            # In the same cycle only as the better of two: the other was a glitch.
            taken = abs(float(wrapped(deg[last] - deg[before] - step))) if same_cycle else np.inf
            if off < near and off < 0.5 * taken:
                best, near, instead = c, off, same_cycle
        if best is None:
            chains.append([i])
            continue
        if instead:
            chains[best].pop()
            steps.pop()
        steps.append(float(np.clip(wrapped(deg[i] - deg[chains[best][-1]]), -reach, reach)))
        chains[best].append(i)
    cycles = _span_cycles(deg, part)
    joined = _joined([np.array(chain) for chain in chains], deg, part, up)
    kept = [_without_outliers(chain, deg) for chain in joined]
    return [chain for chain in kept if _comes_again(chain, deg, part, cycles)]


def _least_spacing(deg: FloatArray, part: IntArray, up: BoolArray) -> float:
    """The usual distance from an edge to the nearest of its own kind."""
    apart = []
    for kind in (True, False):
        own = up == kind
        step = np.diff(deg[own])[np.diff(part[own]) == 0]
        apart.append(np.minimum(step[1:], step[:-1]) if step.size > 1 else step)
    both = np.concatenate(apart)
    return float(np.clip(np.median(both), 10.0, CYCLE_DEG)) if both.size else CYCLE_DEG


def _joined(chains: list[IntArray], deg: FloatArray, part: IntArray, up: BoolArray) -> list[IntArray]:
    """Chains that are one edge, lost for a while or moved at once: never in one cycle, and no other edge nearer."""
    out: list[IntArray] = []
    for chain in sorted(chains, key=lambda c: -c.size):
        rivals = [k for k, other in enumerate(out) if up[other[0]] == up[chain[0]]]
        away = {k: _apart(chain, out[k], deg) for k in rivals}
        home = min(away, key=lambda k: away[k]) if away else None
        if home is not None:
            others = [_apart(out[home], out[k], deg) for k in rivals if k != home]
            room = min([1.5 * _LARGEST_STEP_DEG, *(0.45 * other for other in others)])
            seen = set(_cycles(out[home], deg, part))
            if away[home] < room and not seen & set(_cycles(chain, deg, part)):
                out[home] = np.sort(np.concatenate((out[home], chain)))
                continue
        out.append(chain)
    return out


def _apart(a: IntArray, b: IntArray, deg: FloatArray) -> float:
    """Distance between two chains where they come nearest in time."""
    i, j = np.searchsorted(b, a[0]), np.searchsorted(b, a[-1])
    pairs = [(a[0], b[max(i - 1, 0)]), (a[-1], b[min(j, b.size - 1)])]
    return min(abs(float(wrapped(deg[x] - deg[y]))) for x, y in pairs)


def _cycles(chain: IntArray, deg: FloatArray, part: IntArray) -> list[tuple[int, int]]:
    """The cycle in which each reading lies, counted from half a cycle before the edge's own place."""
    middle = float(np.median(_unrolled(deg[chain])))
    return [(int(part[i]), int(np.rint((deg[i] - middle) / CYCLE_DEG))) for i in chain]


def _unrolled(deg: FloatArray) -> FloatArray:
    """Angles of one edge without the whole cycles, kept together."""
    return np.asarray(deg[0] % CYCLE_DEG + np.cumsum(np.concatenate(([0.0], wrapped(np.diff(deg))))))


def _without_outliers(chain: IntArray, deg: FloatArray) -> IntArray:
    """A chain without readings that lie off the line through their neighbours."""
    if chain.size < 5:
        return chain
    angle = _unrolled(deg[chain])
    off = np.zeros(chain.size)
    off[1:-1] = np.abs(angle[1:-1] - 0.5 * (angle[:-2] + angle[2:]))
    limit = max(_OUTLIER_DEG, _OUTLIER_SCATTERS * 1.4826 * float(np.median(off)))
    # The neighbours of an outlier look off as well: only a reading worse than both of them goes.
    worst = (off[1:-1] >= off[:-2]) & (off[1:-1] >= off[2:]) & (off[1:-1] > limit)
    return chain[~np.concatenate(([False], worst, [False]))]


def _comes_again(chain: IntArray, deg: FloatArray, part: IntArray, cycles: int) -> bool:
    """Seen in most cycles between its first and its last, in a fair share of all, and not all over the place."""
    own = _span_cycles(deg[chain], part[chain])
    if chain.size < 2:
        return False
    if np.sqrt(np.mean(np.diff(_unrolled(deg[chain])) ** 2) / 2) > _LARGEST_SCATTER_DEG:
        return False
    return chain.size >= 0.6 * own and chain.size >= 0.35 * cycles


def _span_cycles(deg: FloatArray, part: IntArray) -> int:
    total = 0
    for p in np.unique(part):
        own = deg[part == p]
        total += int(np.rint((own[-1] - own[0]) / CYCLE_DEG)) + 1
    return total


def _edge(kind: bool, own: IntArray, times: FloatArray, angles: Angles, noise: FloatArray) -> RepeatingEdge:
    speed = angles.speed_deg_s[own]
    deg = _unrolled(angles.deg[own])
    scatter = np.hypot(angles.scatter_sd_deg[own], speed * noise[own])
    return RepeatingEdge(
        rising=kind,
        times_s=times[own],
        angles_deg=deg - CYCLE_DEG * np.floor(np.mean(deg) / CYCLE_DEG),
        speed_rpm=speed / 6.0,
        place_sd_deg=float(np.sqrt(np.mean(angles.place_sd_deg[own] ** 2))),
        scatter_sd_deg=float(np.sqrt(np.mean(scatter**2))),
        cycles=_span_cycles(angles.deg[own], angles.part[own]),
    )


def _is_every_turn(edges: Sequence[RepeatingEdge]) -> bool:
    if not edges:
        return False
    for edge in edges:
        opposite = [
            abs(float(wrapped(other.angle_deg - edge.angle_deg - 360.0))) < 5.0
            for other in edges
            if other.rising == edge.rising
        ]
        if not any(opposite):
            return False
    return True


def join_parts(amap: AngleMap, times_s: FloatArray, rising: BoolArray) -> tuple[AngleMap, tuple[bool, ...]]:
    """Bring the parts of a map into step by a cam.

    Parameters
    ----------
    amap : AngleMap
    times_s, rising : array, shape (n,)
        Edges of one cam.

    Returns
    -------
    AngleMap
        Parts moved by whole sectors (turns, on a wheel with one index) so that the cam's edges fall on one another.
    settled : tuple of bool
        For each part, whether the cam showed enough of itself there to decide.
    """
    if amap.n_parts < 2:
        return amap, (True,) * amap.n_parts
    times, up = np.asarray(times_s, dtype=np.float64), np.asarray(rising, dtype=bool)
    angles = amap.at(times)
    wide = _wide_enough(times, angles) & angles.known
    sizes = [int((wide & (angles.part == p)).sum()) for p in range(amap.n_parts)]
    lead = int(np.argmax(sizes))
    model = {k: angles.deg[wide & (angles.part == lead) & (up == k)] % CYCLE_DEG for k in (True, False)}
    settled = [False] * amap.n_parts
    settled[lead] = sizes[lead] >= 2
    for p in range(amap.n_parts):
        if p == lead or sizes[p] < 2:
            continue
        own = {k: angles.deg[wide & (angles.part == p) & (up == k)] for k in (True, False)}
        shifts = np.arange(0.0, CYCLE_DEG, amap.sector_deg)
        misses = np.array([_miss(own, model, shift) for shift in shifts])
        order = np.argsort(misses)
        # The best must beat the next clearly, else a cam alike in both turns would be trusted.
        if misses[order[0]] < 15.0 and (order.size == 1 or misses[order[0]] < 0.5 * misses[order[1]]):
            amap = amap.shifted(p, float(shifts[order[0]]))
            settled[p] = True
    return amap, tuple(settled)


def _miss(own: dict[bool, FloatArray], model: dict[bool, FloatArray], shift: float) -> float:
    """Mean distance of edges, moved by ``shift``, to the nearest of their kind in the model; glitches capped."""
    distances = [
        np.abs(wrapped(own[k][:, None] + shift - model[k])).min(axis=1) for k in own if own[k].size and model[k].size
    ]
    return float(np.minimum(np.concatenate(distances), _FAR_DEG).mean()) if distances else np.inf


def settle_turn(amap: AngleMap, angle_deg: float) -> AngleMap:
    """Turn the zero of a map by whole sectors so that an edge at ``angle_deg`` falls into the first of them.

    On a wheel with one index: into the first of the two turns of the cycle.
    """
    back = -np.floor(angle_deg % CYCLE_DEG / amap.sector_deg) * amap.sector_deg
    return replace(amap, knots_deg=amap.knots_deg + back)

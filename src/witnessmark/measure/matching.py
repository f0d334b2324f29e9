"""Measured cam edges paired with described ones: in which turn of the cycle, which way wired, how far moved."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.cam import CYCLE_DEG, RepeatingEdge, wrapped
from witnessmark.measure.camwheel import Described

__all__ = ["Matched", "match_cams"]

FloatArray = NDArray[np.float64]

# A cam further than this from its described place is paired with nothing: two edges could be mixed up.
_FURTHEST_DEG = 75.0
# Standard deviation of one edge about the pattern (cutting, tooth places, swing of the cam), what a wild one costs at
# most [nats], and beyond which no pair.
_EDGE_SD_DEG, _WILD_EDGE, _PAIR_DEG = 1.0, 3.0, 7.0
# How far cams are usually off, phasers moved; our guess.
_USUAL_OFF_DEG = 25.0
# Odds [nats] against a signal turned over, and against an edge too few or too many.
_TURNED_OVER, _ODD_EDGE = 3.0, 4.0
# A pairing must be this much likelier than another that gives a different angle [nats].
_CLEARLY = 3.0
_DIFFERENT_DEG = 3.0
_LEAST_SHARE = 0.6


@dataclass(frozen=True, slots=True, eq=False)
class Matched:
    """Measured edges paired with described ones.

    Parameters
    ----------
    late_deg : array, shape (n,) [deg]
        Measured less described, + = later.
    measured : tuple of int
        Number of the measured edge of each pair.
    described : tuple of int
    shift_deg : float [deg]
        What the description adds to the measured angles to count turns as it does.
    inverted : bool
        True where rising and falling are exchanged against the description.
    alike_deg : tuple of float [deg]
        Mean lateness by every pairing as likely as this one, itself among them; several where the wheel looks the same
        from several edges and nothing ties it to the crank.
    """

    late_deg: FloatArray
    measured: tuple[int, ...]
    described: tuple[int, ...]
    shift_deg: float
    inverted: bool
    alike_deg: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class _Pairing:
    score: float
    matched: Matched

    @property
    def late(self) -> float:
        return float(np.mean(self.matched.late_deg))


def match_cams(
    edges: Sequence[Sequence[RepeatingEdge]],
    described: Sequence[Described | None],
    sector_deg: float,
    *,
    counts_deg: Sequence[float] = (0.0,),
) -> list[Matched | str]:
    """Pair the edges of all cams of a recording with their descriptions.

    Parameters
    ----------
    edges : sequence of sequence of RepeatingEdge
        For each cam.
    described : sequence of Described or None
        None where nothing is described.
    sector_deg : float [deg]
        Crank angle after which the crank wheel looks the same again; 360 for a wheel with one index.
    counts_deg : sequence of float [deg]
        What may have to be added to the crank's angle; several where teeth are gone and the index is in doubt.

    Returns
    -------
    list of (Matched or str)
        The reason in words where there is no pairing that is clearly the likeliest.

    Notes
    -----
    The crank wheel cannot tell the turns of a cycle apart (nor its sectors, if it looks the same from several edges),
    so each is tried; all cams of a recording count them alike. A signal may be turned over, and a phase of up to 75°
    either way is considered. What would give another angle and is nearly as likely leaves the cam unpaired.
    """
    turns = np.arange(0.0, CYCLE_DEG, min(sector_deg, CYCLE_DEG / 2))
    shifts = [float(turn + count) for count in counts_deg for turn in turns]
    tied = [d is not None and d.is_absolute for d in described]
    ways = [
        [_best_first(own, d, s) if d is not None and own else [] for s in shifts]
        for own, d in zip(edges, described, strict=True)
    ]
    # A cam with no pairing at a shift speaks against it as much as a whole pattern gone.
    worst = [min((w[0].score for w in each if w), default=0.0) - _ODD_EDGE for each in ways]
    totals = [sum(_score(ways[c][s], worst[c]) for c in range(len(edges)) if tied[c]) for s in range(len(shifts))]
    best = int(np.argmax(totals)) if any(tied) else 0
    return [
        _decide(ways[c], totals if tied[c] else None, best, described[c], bool(edges[c])) for c in range(len(edges))
    ]


def _score(ways: list[_Pairing], worst: float) -> float:
    return ways[0].score if ways else worst


def _decide(
    ways: list[list[_Pairing]], totals: list[float] | None, best: int, described: Described | None, seen: bool
) -> Matched | str:
    if described is None:
        return "The description does not place this wheel's edges"
    if not seen:
        return "No edge of this channel comes again every two turns of the crank"
    if totals is None:  # on a zero of its own: turns count as they were read
        alike = [way for way in ways[0] if way.score > ways[0][0].score - _CLEARLY]
        return replace(alike[0].matched, alike_deg=tuple(way.late for way in alike)) if alike else _FOREIGN
    if not ways[best]:
        return _FOREIGN
    chosen = ways[best][0]
    for s, each in enumerate(ways):
        for way in each:
            rest = totals[s] - each[0].score
            behind = totals[best] - (rest + way.score)
            off = abs(float(wrapped(way.late - chosen.late)))
            if behind < _CLEARLY and off > _DIFFERENT_DEG:
                return f"Its edges fit the description {-chosen.late:+.0f}° off and {-way.late:+.0f}° off alike"
    return chosen.matched


_FOREIGN = "The edges do not follow the described cam wheel, or stand too far off to say which is which"


def _best_first(edges: Sequence[RepeatingEdge], described: Described, shift_deg: float) -> list[_Pairing]:
    """Every pairing at one count of the turns, the likeliest first."""
    found = []
    for inverted, off in _starts(edges, described, shift_deg):
        pairing = _pair(edges, described, shift_deg, inverted, off)
        # Once more from their own middle: the edge begun with may be the wildest.
        again = _pair(edges, described, shift_deg, inverted, pairing.late) if pairing is not None else None
        found += [p for p in (pairing, again) if p is not None]
    return sorted(found, key=lambda pairing: -pairing.score)


def _starts(edges: Sequence[RepeatingEdge], described: Described, shift_deg: float) -> Iterator[tuple[bool, float]]:
    """How far off the cam may be, from each measured edge put to each described one."""
    angles = np.array([edge.angle_deg for edge in edges]) + shift_deg
    turned = (False, True) if any(kind is not None for kind in described.rising) else (False,)
    for inverted, (j, target), k in itertools.product(turned, enumerate(described.deg), range(len(edges))):
        wanted = described.rising[j]
        if wanted is not None and edges[k].rising != (wanted != inverted):
            continue
        off = float(wrapped(angles[k] - target))
        if not described.is_absolute or abs(off) <= _FURTHEST_DEG:
            yield inverted, off


def _pair(
    edges: Sequence[RepeatingEdge], described: Described, shift_deg: float, inverted: bool, off_deg: float
) -> _Pairing | None:
    """Pair every described edge with the measured one at the expected place, and weigh what is left over."""
    angles = np.array([edge.angle_deg for edge in edges]) + shift_deg
    rising = np.array([edge.rising for edge in edges])
    late: list[float] = []
    measured: list[int] = []
    ideal: list[int] = []
    for j, target in enumerate(described.deg):
        wanted = described.rising[j]
        allowed = np.ones(len(edges), dtype=bool) if wanted is None else rising == (wanted != inverted)
        allowed[measured] = False
        if not allowed.any():
            continue
        own = np.where(allowed, np.abs(wrapped(angles - target - off_deg)), np.inf)
        k = int(np.argmin(own))
        if own[k] <= _PAIR_DEG:
            late.append(off_deg + float(wrapped(angles[k] - target - off_deg)))
            measured.append(k)
            ideal.append(j)
    n = len(described.deg)
    if len(late) < max(1, _LEAST_SHARE * n):
        return None
    kinds = {kind if kind is None else kind != inverted for kind in described.rising}
    rivals = len(edges) if None in kinds else sum(edge.rising in kinds for edge in edges)
    odd = (n - len(late)) + max(rivals - len(late), 0)
    lateness = np.array(late)
    centre = float(lateness.mean())
    if described.is_absolute and abs(centre) > _FURTHEST_DEG:
        return None
    spread = np.minimum(0.5 * ((lateness - np.median(lateness)) / _EDGE_SD_DEG) ** 2, _WILD_EDGE).sum()
    far = 0.5 * (centre / _USUAL_OFF_DEG) ** 2 if described.is_absolute else 0.0
    score = -float(spread) - far - _ODD_EDGE * odd - (_TURNED_OVER if inverted else 0.0)
    return _Pairing(score, Matched(lateness, tuple(measured), tuple(ideal), shift_deg, inverted))

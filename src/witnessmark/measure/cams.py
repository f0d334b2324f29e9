"""What a recording shows of the cams: every edge in crank degrees, and what follows from the description."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from witnessmark.decode.anglemap import AngleMap
from witnessmark.decode.cam import CYCLE_DEG, RepeatingEdge, wrapped
from witnessmark.engine.types import cam_of_id
from witnessmark.finding import Finding, NotMeasured, Provenance
from witnessmark.measure.averaging import LAG_SD_S, mean_speed_deg_s, sd_of_mean
from witnessmark.measure.camwheel import Described
from witnessmark.measure.footing import Footing, footing_of
from witnessmark.measure.matching import Matched
from witnessmark.measure.runout import RunOut
from witnessmark.measure.spread import spread_behind
from witnessmark.vocabulary import Condition, Place

__all__ = [
    "NO_INDEX",
    "SETTLED",
    "CamSeen",
    "cam_findings",
    "edge_names",
    "place_of",
    "separations",
    "steady",
    "zero_wander_deg",
]

NO_REFERENCE = "Nothing recorded here knows where the piston is"
NO_INDEX = "Teeth of the crank wheel are gone, and which gap is its index cannot be told"
SETTLED = "this engine known good as reference; a cylinder's TDC by pressure; the maker's number"
# What a cam edge that was not found leaves in the mean over the others: cutting, and the cam's swing.
_OWN_SD_DEG = 0.15
# Doubt of what the measurement itself puts into a scatter's square.
_NOISE_DOUBT = 0.4
# Variance, over the fourth power and the readings, of comparing neighbours beside comparing all with their mean, for
# edges that share what the cam does.
_COMPARED = 5.0
# One kind of edges scatters this much more than the other, and more than edges of a sound cam do.
_FAR_MORE, _FINE_SCATTER_DEG = 1.8, 0.05
_LEAST_FOR_SCATTER = 4
# The crossings of a coil between its teeth that move so far, and so many times as far as those at the teeth, tell that
# the zero of the signal wanders.
_WANDERS_DEG, _WANDERS_MORE = 1.0, 3.0
_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")


@dataclass(frozen=True, slots=True, eq=False)
class CamSeen:
    """One cam channel with its edges, and how they stand against the description.

    Parameters
    ----------
    name : str
        Of the trace.
    cam : str, optional
        Cam id, where known.
    why : str
        How it is known, or that it is not.
    edges : tuple of RepeatingEdge
        In the operating state that the findings speak of; angles count from the first turn
        (:mod:`witnessmark.measure.turncount`).
    every : tuple of RepeatingEdge
        The same edges over the whole recording.
    amap : AngleMap
        What they were read by.
    run_out : RunOut
        Of the crank wheel, taken off the angles.
    described : Described, optional
    matched : Matched, optional
        Its shift is what the description adds to these angles.
    unmatched : str
        Why there is none.
    lag_s : float [s]
        Doubt of how much later its sensor speaks than the crank's.
    skew_s : float [s]
        Doubt of the time between its channel and the crank's; below 0 where that comes after it.
    zero_known : bool
        False where the crank wheel does not show where it counts from.
    coil : bool
        True where its sensor is described as a reluctance sensor.
    """

    name: str
    cam: str | None
    why: str
    edges: tuple[RepeatingEdge, ...]
    every: tuple[RepeatingEdge, ...]
    amap: AngleMap
    run_out: RunOut
    described: Described | None = None
    matched: Matched | None = None
    unmatched: str = ""
    lag_s: float = LAG_SD_S
    skew_s: float = 0.0
    zero_known: bool = True
    coil: bool = False

    @property
    def is_tied(self) -> bool:
        """True where the description places its edges against the crank wheel, and they were found."""
        return self.matched is not None and self.described is not None and self.described.is_absolute

    @property
    def lag_deg(self) -> float:
        """Doubt that the time from tooth to signal puts into an angle between two sensors [deg]."""
        return mean_speed_deg_s(self.edges) * float(np.hypot(self.lag_s, self.skew_s))

    def edge_sd(self, edge: RepeatingEdge) -> float:
        """Standard deviation of the mean angle of one edge.

        Parameters
        ----------
        edge : RepeatingEdge

        Returns
        -------
        float [deg]
        """
        teeth = footing_of(self.amap, edge.times_s).sd_deg(self.amap, self.run_out)
        return float(np.sqrt(teeth**2 + sd_of_mean([edge]) ** 2 + self.lag_deg**2))

    def paired(self) -> list[RepeatingEdge]:
        """The edges that have a described place.

        Returns
        -------
        list of RepeatingEdge
        """
        return [self.edges[k] for k in self.matched.measured] if self.matched is not None else []

    def footing(self) -> Footing:
        """Where the mean over the paired edges stands on the crank wheel.

        Returns
        -------
        Footing
        """
        return Footing.mean([footing_of(self.amap, edge.times_s) for edge in self.paired()])

    def own_sd(self) -> float:
        """What the mean over the paired edges is in doubt by for the cam wheel's and the readings' own sake.

        Returns
        -------
        float [deg]
        """
        assert self.matched is not None and self.described is not None
        n, gone = len(self.matched.late_deg), len(self.described.deg) - len(self.matched.late_deg)
        wheel = _OWN_SD_DEG**2 * gone / n / len(self.described.deg)
        return float(np.sqrt(wheel + sd_of_mean(self.paired()) ** 2))

    def error(self) -> tuple[float, float] | None:
        """Mean of described less measured, + = early, and its standard deviation.

        Returns
        -------
        tuple of (float, float) [deg] or None
            None where not paired.
        """
        if self.matched is None or self.described is None:
            return None
        doubts = (self.footing().sd_deg(self.amap, self.run_out), self.own_sd(), self.lag_deg, self.described.doubt_deg)
        return -float(np.mean(self.matched.late_deg)), float(np.sqrt(np.sum(np.square(doubts))))


def place_of(seen: CamSeen, **more: str | int) -> Place:
    """The place of a cam's finding: bank and cam where known, else the channel's name.

    Parameters
    ----------
    seen : CamSeen
    **more : str or int
        Further keys.

    Returns
    -------
    Place
    """
    shaft = cam_of_id(seen.cam) if seen.cam is not None else None
    if shaft is None:
        return Place.of(sensor=seen.name, **more)
    return Place.of(bank=shaft.bank, cam=shaft.kind, **more)


def steady(edges: Sequence[RepeatingEdge], *, coil: bool = False) -> list[RepeatingEdge]:
    """The edges of a cam that stand at its teeth: the other crossing of a coil lies anywhere between them.

    Parameters
    ----------
    edges : sequence of RepeatingEdge
        Of one cam.
    coil : bool
        Whether its sensor is known for a coil.

    Returns
    -------
    list of RepeatingEdge
        Those of the kind that keeps its place better, for a coil or where the other scatters far more; else all. The
        described places do not enter: a scatter is the same whether or not they are known.
    """
    scatter = {
        kind: float(np.median(own))
        for kind in (True, False)
        if (own := [e.spread_deg if coil else e.scatter_deg for e in edges if e.rising == kind and e.count > 2])
    }
    if len(scatter) < 2:
        return list(edges)
    better = min(scatter, key=lambda kind: scatter[kind])
    if not coil and scatter[not better] < _FAR_MORE * max(scatter[better], _FINE_SCATTER_DEG):
        return list(edges)
    return [edge for edge in edges if edge.rising == better]


def zero_wander_deg(edges: Sequence[RepeatingEdge]) -> float:
    """By how much a coil's edges move because the zero of its signal wanders under the instrument.

    Parameters
    ----------
    edges : sequence of RepeatingEdge
        Of a cam under a coil, over the whole recording.

    Returns
    -------
    float [deg]
        Standard deviation over the recording; 0 where the crossings between the teeth, which move far more, stand.
    """
    kept = steady(edges, coil=True)
    others = [edge.spread_deg for edge in edges if edge.count > 2 and edge.rising != kept[0].rising] if kept else []
    own = float(np.median([edge.spread_deg for edge in kept])) if kept else 0.0
    moved = float(np.median(others)) if others else 0.0
    return own if moved > max(_WANDERS_DEG, _WANDERS_MORE * own) else 0.0


def edge_names(edges: Sequence[RepeatingEdge]) -> list[str]:
    """A name for each edge of a cam in the order of their angles: "first_rising", "second_falling" …

    Parameters
    ----------
    edges : sequence of RepeatingEdge

    Returns
    -------
    list of str
        In the order given.
    """
    order = sorted(range(len(edges)), key=lambda k: edges[k].angle_deg)
    names, counted = [""] * len(edges), {True: 0, False: 0}
    for k in order:
        up = edges[k].rising
        n = counted[up]
        counted[up] += 1
        names[k] = f"{_ORDINALS[n] if n < len(_ORDINALS) else f'{n + 1}th'}_{'rising' if up else 'falling'}"
    return names


def cam_findings(
    seen: CamSeen, condition: Condition, source: Provenance, crank_edges: str, *, spoilt: NotMeasured | None = None
) -> tuple[list[Finding], list[NotMeasured]]:
    """Edges, scatter and, where the reference is known, the phase error of one cam.

    Parameters
    ----------
    seen : CamSeen
    condition : Condition
    source : Provenance
    crank_edges : str
        "rising" or "falling": those of the crank wheel that the angles are read between.
    spoilt : NotMeasured, optional
        Why angles here do not count from the described index edge. Then no edge has a place either: it would be off by
        the width of a tooth, and surely so.

    Returns
    -------
    tuple of (findings, not measured)
        Quantities ``cam_edge_angle`` (one for each edge, named in the order of angle), ``phase_scatter``,
        ``cam_phase_error``.
    """
    found = []
    left = []
    if spoilt is None:
        names = edge_names(seen.edges)
        found += [
            _edge(seen, edge, name, condition, source, crank_edges)
            for edge, name in zip(seen.edges, names, strict=True)
        ]
    else:
        left.append(replace(spoilt, quantity="cam_edge_angle", place=place_of(seen)))
    scatter = _scatter(seen, condition, source)
    found += [scatter] if scatter is not None else []
    left += [] if scatter is not None else [_no_scatter(seen)]
    error = seen.error()
    if spoilt is None and (error is None or not seen.is_tied):
        return found, [*left, _no_error(seen)]
    if spoilt is not None or error is None:
        assert spoilt is not None
        return found, [*left, replace(spoilt, quantity="cam_phase_error", place=place_of(seen))]
    assert seen.described is not None and seen.matched is not None
    how = "TDC of cylinder 1" if seen.described.through_tdc else "the crank wheel's index edge"
    n = len(seen.matched.measured)
    method = f"mean over {n} edge{'' if n == 1 else 's'}, described against {how}"
    told = [] if condition.phaser == "parked" else ["no command to the phaser is known"]
    told += ["high and low are exchanged against the description"] if seen.matched.inverted else []
    return [*found, Finding("cam_phase_error", place_of(seen), *error, condition, source, method, tuple(told))], left


def _edge(
    seen: CamSeen, edge: RepeatingEdge, name: str, condition: Condition, source: Provenance, crank_edges: str
) -> Finding:
    kind = "rising" if edge.rising else "falling"
    span = replace(source, from_s=float(edge.times_s[0]), to_s=float(edge.times_s[-1]))
    count = "one cycle" if edge.count == 1 else f"mean of {edge.count} cycles"
    method = f"{kind} edge, {count}, between the crank wheel's {crank_edges} edges"
    if seen.is_tied and seen.matched is not None and seen.matched.shift_deg % CYCLE_DEG:
        method += f"; the description counts it as {(edge.angle_deg + seen.matched.shift_deg) % CYCLE_DEG:.1f}°"
    place = place_of(seen, edge=name)
    return Finding("cam_edge_angle", place, edge.angle_deg, seen.edge_sd(edge), condition, span, method)


def _no_error(seen: CamSeen) -> NotMeasured:
    if seen.cam is None:
        reason = "Nothing says which cam this channel watches"
        settled = "the channel's wheel named in the note beside the recording"
    elif seen.described is None or not seen.described.is_absolute:
        reason, settled = NO_REFERENCE, SETTLED
    else:
        reason = seen.unmatched
        settled = "the wheel's part number against the list; the description against a good engine"
    return NotMeasured("cam_phase_error", place_of(seen), reason, settled)


def _scatter(seen: CamSeen, condition: Condition, source: Provenance) -> Finding | None:
    """Scatter from one cycle to the next, what the measurement itself scatters taken off."""
    usable = [edge for edge in steady(seen.edges, coil=seen.coil) if edge.count >= _LEAST_FOR_SCATTER]
    if not usable:
        return None
    readings = sum(edge.count - 1 for edge in usable)
    seen_var = float(np.mean([edge.scatter_deg**2 for edge in usable]))
    noise = float(np.mean([edge.scatter_sd_deg**2 for edge in usable]))
    true = max(seen_var - noise, 0.0)
    # Noise crossed with the true scatter, noise with itself; neighbours compared instead of all with the mean.
    sampling = (4.0 * true * noise + 2.0 * noise**2 + _COMPARED * true**2) / readings
    value, sd = spread_behind(seen_var, noise, float(np.sqrt(sampling + (_NOISE_DOUBT * noise) ** 2)))
    n = len(usable)
    method = f"from one cycle to the next, {readings + n} readings of {n} edge{'' if n == 1 else 's'}, noise taken off"
    return Finding("phase_scatter", place_of(seen), value, sd, condition, source, method)


def _no_scatter(seen: CamSeen) -> NotMeasured:
    why = f"No edge was seen in {_LEAST_FOR_SCATTER} cycles at one speed"
    return NotMeasured("phase_scatter", place_of(seen), why, "a recording of twenty cycles at a steady speed")


def separations(
    cams: Sequence[CamSeen], condition: Condition, source: Provenance
) -> tuple[list[Finding], list[NotMeasured]]:
    """Every cam against the first of its recording, less the described.

    Parameters
    ----------
    cams : sequence of CamSeen
    condition : Condition
    source : Provenance

    Returns
    -------
    tuple of (findings, not measured)
        Quantity ``cam_separation`` [deg]: no reference to the piston is needed, only the described spacing.
    """
    known = sorted((seen for seen in cams if seen.cam is not None), key=lambda seen: str(seen.cam))
    found, left = [], []
    for other in known[1:]:
        first, shaft = known[0], cam_of_id(str(other.cam))
        assert shaft is not None
        place = place_of(first, other_cam=shaft.kind, other_bank=shaft.bank)
        apart = _apart(first, other)
        if isinstance(apart, str):
            settled = "this engine known good as reference; the maker's number"
            left.append(NotMeasured("cam_separation", place, apart, settled))
            continue
        method = "both against the same crank teeth, less the described"
        found.append(Finding("cam_separation", place, *apart, condition, source, method))
    return found, left


def _apart(one: CamSeen, other: CamSeen) -> tuple[float, float] | str:
    """By how much one cam is earlier than another against the described, and its sd [deg]; else why not."""
    if one.described is None or other.described is None or one.described.is_absolute != other.described.is_absolute:
        return "The description does not say how these cams stand to one another"
    if one.matched is None or other.matched is None:
        return one.unmatched or other.unmatched
    chosen = one.matched.alike_deg or (float(np.mean(one.matched.late_deg)),)
    against = other.matched.alike_deg or (float(np.mean(other.matched.late_deg)),)
    ways = np.unique(np.round([float(wrapped(b - a)) for a in chosen for b in against], 3))
    near = ways[np.argsort(np.abs(ways))]
    if near.size > 1 and abs(near[1]) < 75.0 and abs(near[1] - near[0]) > 3.0:
        return f"Their wheels fit the description {near[0]:+.0f}° and {near[1]:+.0f}° apart alike"
    doubts = (
        (one.footing() - other.footing()).sd_deg(one.amap, one.run_out),
        one.own_sd(),
        other.own_sd(),
        _lag_between(one, other),
        one.described.doubt_deg,
        other.described.doubt_deg,
    )
    return float(near[0]), float(np.sqrt(np.sum(np.square(doubts))))


def _lag_between(one: CamSeen, other: CamSeen) -> float:
    """What the time from tooth to signal leaves in doubt between two cams: what the crank's sensor adds is in both."""
    unlike = one.lag_s != other.lag_s
    lag = max(one.lag_s, other.lag_s) if unlike else LAG_SD_S
    return mean_speed_deg_s([*one.edges, *other.edges]) * float(np.hypot(lag, one.skew_s - other.skew_s))

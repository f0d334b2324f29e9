"""What a recording shows of the cams: every edge in crank degrees, and what follows from the description."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from witnessmark.decode.cam import CYCLE_DEG, RepeatingEdge
from witnessmark.engine.types import Engine
from witnessmark.finding import Finding, NotMeasured, Provenance
from witnessmark.measure.camwheel import Described, Matched, described_edges, match_edges
from witnessmark.vocabulary import Condition, Place

__all__ = ["CamSeen", "cam_findings", "place_of", "separations"]

NO_REFERENCE = "Nothing recorded here knows where the piston is"
SETTLED = "this engine known good as reference; a cylinder's TDC by pressure; the maker's number"


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
    described : Described, optional
    matched : Matched, optional
    """

    name: str
    cam: str | None
    why: str
    edges: tuple[RepeatingEdge, ...]
    described: Described | None
    matched: Matched | None

    @classmethod
    def of(
        cls,
        name: str,
        cam: str | None,
        why: str,
        edges: Sequence[RepeatingEdge],
        engine: Engine | None,
        half_cycle: bool | None = None,
    ) -> CamSeen:
        """Set a channel's edges against the description."""
        described = described_edges(engine, cam) if cam is not None else None
        matched = match_edges(edges, described, half_cycle=half_cycle) if described is not None else None
        return cls(name, cam, why, tuple(edges), described, matched)

    def error(self) -> tuple[float, float] | None:
        """Mean of described less measured, + = early, and its standard deviation [deg]; None where not matched."""
        if self.matched is None:
            return None
        variances = np.array([self.edges[k].sd_deg ** 2 for k in self.matched.measured])
        n = len(variances)
        # Teeth beside one another err alike in part: half of the variance does not average away.
        sd = float(np.sqrt(np.mean(variances) * (0.5 + 0.5 / n)))
        return -float(np.mean(self.matched.late_deg)), sd


def place_of(seen: CamSeen, **more: str | int) -> Place:
    """The place of a cam's finding: bank and cam where known, else the channel's name."""
    if seen.cam is None:
        return Place.of(sensor=seen.name, **more)
    bank, kind = seen.cam[1:].split(".", 1)
    return Place.of(bank=int(bank), cam=kind, **more)


def cam_findings(seen: CamSeen, condition: Condition, source: Provenance) -> tuple[list[Finding], list[NotMeasured]]:
    """Edges, scatter and, where the reference is known, the phase error of one cam.

    Parameters
    ----------
    seen : CamSeen
    condition : Condition
    source : Provenance

    Returns
    -------
    tuple of (findings, not measured)
        Quantities ``cam_edge_angle`` (one for each edge, numbered behind the index), ``phase_scatter``,
        ``cam_phase_error``.
    """
    found = []
    move = CYCLE_DEG / 2.0 if seen.matched is not None and seen.matched.half_cycle else 0.0
    for number, edge in enumerate(seen.edges, start=1):
        kind = "rising" if edge.rising else "falling"
        span = replace(source, from_s=float(edge.times_s[0]), to_s=float(edge.times_s[-1]))
        method = f"{kind} edge, mean of {edge.count} cycles, between the crank wheel's teeth"
        angle = (edge.angle_deg + move) % CYCLE_DEG
        place = place_of(seen, edge=str(number))
        found.append(Finding("cam_edge_angle", place, angle, edge.sd_deg, condition, span, method))
    scatter = _scatter(seen, condition, source)
    found += [scatter] if scatter is not None else []
    error = seen.error()
    if error is not None and seen.described is not None and seen.described.is_absolute:
        how = "TDC of cylinder 1" if seen.described.through_tdc else "the crank wheel's index edge"
        method = f"mean over {len(seen.matched.measured) if seen.matched else 0} edges, described against {how}"
        told = () if condition.phaser == "parked" else ("the phaser is taken as the condition says",)
        found.append(Finding("cam_phase_error", place_of(seen), *error, condition, source, method, told))
        return found, []
    return found, [_no_error(seen)]


def _no_error(seen: CamSeen) -> NotMeasured:
    if seen.cam is None:
        reason, settled = (
            "Nothing says which cam this channel watches",
            "the channel's wheel named in the note beside it",
        )
    elif seen.described is None or not seen.described.is_absolute:
        reason, settled = NO_REFERENCE, SETTLED
    else:
        reason = "The edges do not follow the described cam wheel"
        settled = "the wheel's part number against the list; the description against a good engine"
    return NotMeasured("cam_phase_error", place_of(seen), reason, settled)


def _scatter(seen: CamSeen, condition: Condition, source: Provenance) -> Finding | None:
    """Scatter from one cycle to the next, what the measurement itself scatters taken off."""
    usable = [edge for edge in seen.edges if edge.count >= 4]
    if not usable:
        return None
    cycles = sum(edge.count for edge in usable)
    seen_var = float(np.mean([edge.scatter_deg**2 for edge in usable]))
    own_var = float(np.mean([edge.scatter_sd_deg**2 for edge in usable]))
    value = float(np.sqrt(max(seen_var - own_var, 0.0)))
    # Chi-square of the difference; the measurement's own scatter is known to about a third.
    sd = float(np.hypot(seen_var / np.sqrt(cycles), 0.3 * own_var) / (2.0 * max(value, 0.3 * np.sqrt(seen_var), 0.01)))
    method = f"from one cycle to the next, {cycles} readings of {len(usable)} edges"
    return Finding("phase_scatter", place_of(seen), value, sd, condition, source, method)


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
    known = [seen for seen in cams if seen.cam is not None]
    found, left = [], []
    for other in known[1:]:
        first = known[0]
        place = place_of(first, other_cam=str(other.cam).split(".", 1)[1], other_bank=int(str(other.cam)[1]))
        a, b = first.error(), other.error()
        if a is None or b is None:
            why = "The description does not say how these cams stand to one another"
            left.append(
                NotMeasured("cam_separation", place, why, "this engine known good as reference; the maker's number")
            )
            continue
        apart = (a[0] - b[0] + CYCLE_DEG / 4) % (CYCLE_DEG / 2) - CYCLE_DEG / 4
        method = "both against the same crank teeth, less the described"
        found.append(Finding("cam_separation", place, apart, float(np.hypot(a[1], b[1])), condition, source, method))
    return found, left

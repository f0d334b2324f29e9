"""What the crank wheel itself shows: teeth in a turn, edges missing and extra, places of the teeth."""

from __future__ import annotations

import numpy as np

from witnessmark.decode.anglemap import AngleMap
from witnessmark.finding import Finding, NotMeasured, Provenance
from witnessmark.vocabulary import Condition, Place

__all__ = ["measure_wheel"]

_LEAST_TURNS = 2


def measure_wheel(amap: AngleMap, condition: Condition, source: Provenance) -> tuple[list[Finding], list[NotMeasured]]:
    """Teeth, missing and extra edges, and the places of the teeth.

    Parameters
    ----------
    amap : AngleMap
    condition : Condition
    source : Provenance

    Returns
    -------
    tuple of (findings, not measured)
        Quantities ``wheel_teeth_seen``, ``edges_missing``, ``edges_extra``, ``wheel_pitch_error``.
    """
    place = Place.of(wheel="crank")
    turns = amap.lock.turns()
    if len(turns) < _LEAST_TURNS:
        reason = f"Only {len(turns)} whole turn{'' if len(turns) == 1 else 's'} of the crank wheel were read"
        settled = "a recording of twenty turns without a break"
        return [], [NotMeasured(name, place, reason, settled) for name in ("wheel_teeth_seen", "wheel_pitch_error")]
    teeth = np.array([turn.teeth for turn in turns])
    usual = int(np.bincount(teeth).argmax())
    agree = int((teeth == usual).sum())
    found = [
        Finding(
            "wheel_teeth_seen",
            place,
            float(usual),
            0.01,
            condition,
            source,
            f"even edges between index edges; the same in {agree} of {len(turns)} turns",
        )
    ]
    for name, counts in (("edges_missing", [t.missing for t in turns]), ("edges_extra", [t.extra for t in turns])):
        rate = float(np.mean(counts))
        sd = float(np.sqrt(max(sum(counts), 1.0)) / len(turns))  # Poisson; one event where none was seen
        method = f"{sum(counts)} in {len(turns)} whole turns"
        found.append(Finding(name, place, rate, sd, condition, source, method))
    pitch = amap.pitch
    if not pitch.is_learnt:
        why = "The places of the teeth could not be learnt: too few whole turns at a steady speed"
        return found, [NotMeasured("wheel_pitch_error", place, why, "twenty turns at a steady speed, idle or faster")]
    noise = float(np.mean(pitch.sd_deg**2))
    size = float(np.sqrt(max(float(np.mean(pitch.error_deg**2)) - noise, 0.0)))
    sd = float(np.sqrt(noise / (2.0 * len(pitch.error_deg))) + 0.3 * np.sqrt(noise))
    method = f"root mean square of {len(pitch.error_deg)} learnt places, {pitch.n_turns} turns"
    found.append(Finding("wheel_pitch_error", place, size, sd, condition, source, method))
    return found, []

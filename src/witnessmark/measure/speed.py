"""Crank speed: of whole turns, and by operating state."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from witnessmark.decode.anglemap import AngleMap, TurnSpeeds
from witnessmark.finding import Finding, Provenance
from witnessmark.vocabulary import Condition, Place

__all__ = ["measure_speed", "speed_states", "state_of"]

# A starter turns a warm engine at 150 to 300 rpm; no engine idles below 450: common practice, no source.
_CRANKING_BELOW_RPM = 420.0
_IDLE_BELOW_RPM = 1200.0


def state_of(speed_rpm: float, told: str | None) -> str:
    """The operating state, as told or from the speed.

    Parameters
    ----------
    speed_rpm : float [rpm]
    told : str, optional
        From the sidecar.

    Returns
    -------
    str
        "cranking", "idle" or "raised" where nobody told.
    """
    if told is not None:
        return told
    if speed_rpm < _CRANKING_BELOW_RPM:
        return "cranking"
    return "idle" if speed_rpm < _IDLE_BELOW_RPM else "raised"


def speed_states(turns: TurnSpeeds, told: str | None) -> list[tuple[str, np.ndarray]]:
    """Whole turns sorted by operating state.

    Parameters
    ----------
    turns : TurnSpeeds
    told : str, optional
        A state told for the whole recording.

    Returns
    -------
    list of (state, indices)
        In the order in which they first appear.
    """
    found: dict[str, list[int]] = {}
    for k, rpm in enumerate(turns.rpm):
        found.setdefault(state_of(float(rpm), told), []).append(k)
    return [(state, np.array(members, dtype=np.intp)) for state, members in found.items()]


def measure_speed(amap: AngleMap, condition: Condition, source: Provenance) -> list[Finding]:
    """Mean speed over whole turns, one finding for each operating state.

    Parameters
    ----------
    amap : AngleMap
    condition : Condition
        As told by the sidecar.
    source : Provenance

    Returns
    -------
    list of Finding
        Quantity ``speed_measured`` [rpm]; empty where there is no whole turn.
    """
    turns = amap.turn_speeds()
    found = []
    for state, members in speed_states(turns, condition.state):
        rpm = float(np.mean(turns.rpm[members]))
        sd = float(np.sqrt(np.mean(turns.sd_rpm[members] ** 2) / len(members)))
        spread = f"{turns.rpm[members].min():.0f} to {turns.rpm[members].max():.0f} rpm"
        span = replace(source, from_s=float(turns.from_s[members[0]]), to_s=float(turns.to_s[members[-1]]))
        taken = replace(condition, state=state, speed_rpm=round(rpm, 1))
        method = f"mean of {len(members)} whole turns, {spread}"
        found.append(Finding("speed_measured", Place(), rpm, sd, taken, span, method))
    return found

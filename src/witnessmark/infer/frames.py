"""Readings of a freeze frame under the circumstances that it tells itself: its speed, and by its load its state."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from witnessmark.finding import Finding

__all__ = ["in_their_frames"]

_LOADS = ("absolute_load", "load_reported")
_IDLES_BELOW_RPM = 1100.0  # our guess
# Load from which on a frame is taken for hard driving, and for a throttle wide open: between what sound engines show in
# the states "cruise" and "acceleration", and near what they show in "full_load"; percent, our guess.
_HARD, _WIDE_OPEN = 45.0, 80.0


def in_their_frames(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Findings, those out of freeze frames with the state and speed in which the frame was taken.

    Parameters
    ----------
    findings : sequence of Finding

    Returns
    -------
    tuple of Finding
        In their order; as they were where a frame tells no speed, or their own condition says a state.

    Notes
    -----
    All readings of a frame were stored at one moment (ISO 15031-5, service 02). The speed in it is the driver's choice
    and no symptom; what else stands in it is to be expected at that speed and load.
    """
    return tuple(_framed(finding, findings) for finding in findings)


def _framed(finding: Finding, findings: Sequence[Finding]) -> Finding:
    condition = finding.condition
    if condition.freeze is None or condition.state is not None or finding.quantity == "code_state":
        return finding
    own = [other for other in findings if other.condition.freeze == condition.freeze]
    speed = next((other.value for other in own if other.quantity == "engine_speed"), None)
    load = next((other.value for other in own if other.quantity in _LOADS), None)
    if speed is None or not speed > 0.0:
        return finding
    state = _state_of(speed, load)
    idles = state == "idle" or (state is None and speed < _IDLES_BELOW_RPM)
    rpm = None if idles else speed  # at idle the speed is a reading like any other
    return replace(finding, condition=replace(condition, state=state, speed_rpm=condition.speed_rpm or rpm))


def _state_of(speed: float, load: float | None) -> str | None:
    if load is None:
        return None
    if load < _HARD:
        return "idle" if speed < _IDLES_BELOW_RPM else "cruise"
    return "acceleration" if load < _WIDE_OPEN else "full_load"

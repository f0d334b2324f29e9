"""What scopes and computers read of a cam: the equation of DESIGN §2, and what follows from it."""

from __future__ import annotations

import numpy as np

from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import State
from witnessmark.physics.reported import actual_deg, apparent_phase_deg, deviation_deg
from witnessmark.predict.model import DriveModel, Numbers, Values
from witnessmark.vocabulary import Condition, Query

__all__ = ["apparent_phase", "command_of", "phaser_position", "reported_phase", "true_phase"]

# A reluctance sensor with its leads the wrong way round triggers on the other flank of the tooth:
# about half a tooth away (HANDBOOK §4, from memory). Half of a 6° pitch.
POLARITY_SHIFT_DEG = 3.0


def command_of(model: DriveModel, cam: str, condition: Condition) -> tuple[float, float]:
    """Commanded phaser position under a condition: mean and spread, crank degrees, + = advance.

    Parameters
    ----------
    model : DriveModel
    cam : str
    condition : Condition
        ``phaser="parked"`` means no command; otherwise idle is mostly parked and everything
        else may be anywhere in the phaser's range.

    Returns
    -------
    tuple of float
    """
    assert model.engine.drive is not None
    phaser = model.engine.drive.phaser(cam)
    reach = phaser.range_deg.mean if phaser is not None else None
    if phaser is None or condition.phaser == "parked" or condition.state in ("off", "key_on", "cranking"):
        return 0.0, 0.0
    reach = reach if reach is not None else (50.0 if cam.endswith("intake") else -45.0)
    if condition.phaser == "moved":
        return 0.5 * reach, abs(reach) / 12.0**0.5
    if condition.state in ("idle", "warm_up", None):
        return 0.03 * reach, 0.05 * abs(reach)
    return 0.4 * reach, abs(reach) / 12.0**0.5


def phaser_position(model: DriveModel, cam: str, state: State, command: Values) -> Values:
    """Where the phaser holds the cam, crank degrees from the described rest, + = advance.

    Parameters
    ----------
    model : DriveModel
    cam : str
    state : State
    command : float or array [deg]

    Returns
    -------
    float or array, shape (n,)

    Notes
    -----
    A spool stuck off its middle drives the phaser toward one end of its range, however it is
    commanded; a worn lock lets drag pull the cam half its play late.
    """
    assert model.engine.drive is not None
    phaser = model.engine.drive.phaser(cam)
    rest = state.get("phaser_rest", cam) - 0.5 * state.get("phaser_lock_play", cam)
    if phaser is None:
        return rest
    reach = phaser.range_deg.mean or (50.0 if cam.endswith("intake") else -45.0)
    moved = state.get("phaser_gain", cam) * command
    driven = moved + state.get("spool_offset", cam) * reach
    low, high = min(0.0, reach), max(0.0, reach)
    stuck_spool = np.abs(np.asarray(state.get("spool_offset", cam))) > 0.1
    return rest + np.where(stuck_spool, np.clip(driven, low, high), moved)


def true_phase(model: DriveModel, cam: str, state: State, numbers: Numbers, command: Values) -> Values:
    """True phase of a cam against its described rest position, crank degrees, + = early."""
    return model.sprocket_phase(cam, state, numbers) + phaser_position(model, cam, state, command)


def _sensor_offset(state: State, wheel: str) -> Values:
    """How much earlier than its wheel a sensor speaks, crank degrees."""
    flipped = 0.5 * (1.0 - np.asarray(state.get("sensor_polarity", wheel)))
    return state.get("sensor_offset", wheel) + POLARITY_SHIFT_DEG * flipped


def apparent_phase(model: DriveModel, cam: str, state: State, numbers: Numbers, command: Values) -> Values:
    """Phase of a cam as its sensor and the crank's show it, crank degrees, + = early.

    Parameters
    ----------
    model : DriveModel
    cam : str
    state : State
    numbers : mapping
    command : float or array [deg]

    Returns
    -------
    float or array, shape (n,)
        NaN where the cam stands still because the drive has let go.

    Notes
    -----
    DESIGN §2: true phase + cam-wheel slip - crank-wheel slip.
    """
    phase = apparent_phase_deg(
        true_phase(model, cam, state, numbers, command),
        cam_wheel_slip_deg=state.get("wheel_slip", cam),
        crank_wheel_slip_deg=state.get("wheel_slip", CRANK),
        sensor_offset_deg=_sensor_offset(state, cam) - _sensor_offset(state, CRANK),
    )
    return np.where(np.asarray(model.connected(cam, state)) > 0.5, phase, np.nan)


def reported_phase(
    model: DriveModel, cam: str, state: State, numbers: Numbers, command: Values, *, less_target: bool
) -> Values:
    """What the computer reports for a cam, in its own sign.

    Notes
    -----
    DESIGN §2: actual = sign * (apparent phase - learnt zero); deviation = actual - target.
    """
    sign = numbers.get("sign", model.engine.reporting.sign.mean or 1.0)
    apparent = apparent_phase(model, cam, state, numbers, command)
    actual = actual_deg(apparent, sign=sign, learnt_zero_deg=state.get("learnt_error", f"cam_zero:{cam}"))
    return deviation_deg(actual, sign * command) if less_target else actual


def cam_of(model: DriveModel, query: Query, *, other: bool = False) -> str:
    """The cam a query speaks of (or the other one it is compared with)."""
    if other:
        return model.engine.cam_at(query.place, key="other_cam", bank_key="other_bank")
    return model.engine.cam_at(query.place)

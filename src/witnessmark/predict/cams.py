"""What scopes and computers read of a cam: docs/physics.md, "reported values", and what follows from it."""

from __future__ import annotations

import numpy as np

from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import State
from witnessmark.engine.stateplaces import bank_of_cylinder
from witnessmark.engine.types import Engine
from witnessmark.physics.reported import actual_deg, apparent_phase_deg, deviation_deg
from witnessmark.predict.model import DriveModel, Numbers, Values
from witnessmark.vocabulary import Condition, Query

__all__ = [
    "POLARITY_SHIFT_DEG",
    "apparent_phase",
    "cam_of",
    "cam_of_bank",
    "cam_of_cylinder",
    "command_of",
    "phaser_position",
    "reported_phase",
    "sensor_offset",
    "true_phase",
]

# A reluctance sensor with its leads the wrong way round triggers on the other flank of the tooth:
# about half a tooth away (from memory). Half of a 6° pitch, whatever the wheel: our simplification.
POLARITY_SHIFT_DEG = 3.0


def cam_of_bank(engine: Engine, bank: int, kind: str) -> str | None:
    """The cam that lifts a kind of valves of a bank.

    Parameters
    ----------
    engine : Engine
    bank : int
        From 1.
    kind : str
        "intake" or "exhaust".

    Returns
    -------
    str or None
        The bank's own, else the only one there is; None where none is described.
    """
    fitting = [cam for cam in engine.cams if cam.kind in (kind, "single")]
    own = [cam for cam in fitting if cam.bank == bank]
    return next((cam.id for cam in own or fitting), None)


def cam_of_cylinder(engine: Engine, cylinder: int, kind: str) -> str | None:
    """The cam that lifts a cylinder's valves.

    Parameters
    ----------
    engine : Engine
    cylinder : int
        From 1.
    kind : str
        "intake" or "exhaust".

    Returns
    -------
    str or None
        Its bank's, as :func:`cam_of_bank`.
    """
    return cam_of_bank(engine, bank_of_cylinder(engine, cylinder), kind)


def command_of(model: DriveModel, cam: str, condition: Condition) -> tuple[float, float]:
    """Commanded phaser position under a condition: mean and spread, crank degrees, + = advance.

    Parameters
    ----------
    model : DriveModel
    cam : str
    condition : Condition
        ``phaser="parked"`` means no command; otherwise idle is mostly parked, an engine raised without load moves its
        cams a little, for a small charge bears little exhaust, and everything else may be anywhere in the phaser's
        range.

    Returns
    -------
    tuple of (float, float), shape () each [deg]
        A range not described is taken as 50° (intake) or -45° (exhaust, single); all shares of it are our guess.
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
    if condition.state == "raised":
        return 0.2 * reach, 0.15 * abs(reach)
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
    """True phase of a cam against its described rest position, crank degrees, + = early.

    Parameters
    ----------
    model : DriveModel
    cam : str
    state : State
        n states side by side.
    numbers : mapping of str to float or array, shape (n,)
        Description numbers assumed for this batch.
    command : float or array, shape (n,) [deg]

    Returns
    -------
    float or array, shape (n,) [deg]

    Notes
    -----
    docs/physics.md, "reported values": sprocket plus phaser.
    """
    return model.sprocket_phase(cam, state, numbers) + phaser_position(model, cam, state, command)


def sensor_offset(state: State, wheel: str) -> Values:
    """How much earlier than its wheel a sensor speaks.

    Parameters
    ----------
    state : State
        n states side by side.
    wheel : str
        "crank" or a cam id.

    Returns
    -------
    float or array, shape (n,) [deg]
        Crank degrees; reversed leads included.
    """
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
    docs/physics.md, "reported values": true phase + cam-wheel slip - crank-wheel slip.
    """
    phase = apparent_phase_deg(
        true_phase(model, cam, state, numbers, command),
        cam_wheel_slip_deg=state.get("wheel_slip", cam),
        crank_wheel_slip_deg=state.get("wheel_slip", CRANK),
        sensor_offset_deg=sensor_offset(state, cam) - sensor_offset(state, CRANK),
    )
    return np.where(np.asarray(model.connected(cam, state)) > 0.5, phase, np.nan)


def reported_phase(
    model: DriveModel, cam: str, state: State, numbers: Numbers, command: Values, *, less_target: bool
) -> Values:
    """What the computer reports for a cam, in its own sign.

    Parameters
    ----------
    model : DriveModel
    cam : str
    state : State
        n states side by side.
    numbers : mapping of str to float or array, shape (n,)
        Description numbers assumed for this batch; "sign" goes before the description's.
    command : float or array, shape (n,) [deg]
        Target, + = advance.
    less_target : bool
        True for the deviation, False for the actual value.

    Returns
    -------
    float or array, shape (n,) [deg]
        NaN where the cam stands still.

    Notes
    -----
    docs/physics.md, "reported values": actual = sign * (apparent phase - learnt zero); deviation = actual - target.
    """
    sign = numbers.get("sign", model.engine.reporting.sign.mean or 1.0)
    apparent = apparent_phase(model, cam, state, numbers, command)
    actual = actual_deg(apparent, sign=sign, learnt_zero_deg=state.get("learnt_error", f"cam_zero:{cam}"))
    return deviation_deg(actual, sign * command) if less_target else actual


def cam_of(model: DriveModel, query: Query, *, other: bool = False) -> str:
    """The cam a query speaks of (or the other one it is compared with).

    Parameters
    ----------
    model : DriveModel
    query : Query
    other : bool
        True for the other one.

    Returns
    -------
    str
        Cam id: "b1.intake".
    """
    if other:
        return model.engine.cam_at(query.place, key="other_cam", bank_key="other_bank")
    return model.engine.cam_at(query.place)

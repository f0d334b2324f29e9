"""What eyes and rules see of the drive: marks, pins, tensioners, wheels on their shafts."""

from __future__ import annotations

import numpy as np

from witnessmark.engine.drive import CRANK, Stage
from witnessmark.engine.state import State
from witnessmark.errors import InputError, one_of
from witnessmark.physics.wear import GUIDE_TURNING_DEG, TRAVEL_PER_SURPLUS, slack_surplus_mm, tensioner_travel_mm
from witnessmark.predict.model import DriveModel, Numbers, Values

__all__ = ["mark_offset", "pins_between", "shaft_of", "stage_of", "tensioner_extension", "wheel_angle"]


def shaft_of(model: DriveModel, name: str) -> str:
    """A shaft by its id, or by the cam's kind where that is enough ("intake" on a one-bank engine).

    Parameters
    ----------
    model : DriveModel
    name : str
        "crank", "b1.intake", "intake", an idler's name.

    Returns
    -------
    str
        Shaft id.

    Raises
    ------
    InputError
        If the engine has no such shaft.
    """
    shafts = [CRANK, *model.legs]
    if name in shafts:
        return name
    if f"b1.{name}" in shafts:
        return f"b1.{name}"
    raise one_of(
        "shaft of this drive", name, [*shafts, *(s.removeprefix("b1.") for s in shafts if s.startswith("b1."))]
    )


def stage_of(model: DriveModel, mesh: str, other: str | None) -> tuple[Stage, str, str]:
    """The stage and the two shafts between whose marks pins are counted.

    Parameters
    ----------
    model : DriveModel
    mesh : str
        A mesh id ("primary.b1.intake") or a shaft.
    other : str, optional
        The other one; the stage's driver where left out.

    Returns
    -------
    stage : Stage
    second, shaft : str
        Shaft ids: the other one, then the one asked for.

    Raises
    ------
    InputError
        If no one chain runs over both.
    """
    assert model.engine.drive is not None
    stages = model.engine.drive.stages
    for stage in stages:
        for sprocket in stage.sprockets:
            if mesh == stage.mesh(sprocket.shaft):
                mesh, stages = sprocket.shaft, (stage,)
    shaft = shaft_of(model, mesh)
    for stage in stages:
        on = {sprocket.shaft for sprocket in stage.sprockets}
        second = stage.driver.shaft if other is None else shaft_of(model, other.removeprefix(f"{stage.id}."))
        if shaft in on and second in on and shaft != second:
            return stage, second, shaft
    raise InputError(f"No one chain runs over {mesh} and {other or 'its driver'}", given=mesh)


def pins_between(model: DriveModel, stage: Stage, near: str, far: str, state: State) -> tuple[Values, float | None]:
    """Pins between two marks along the tight side, and the described number.

    Parameters
    ----------
    model : DriveModel
    stage : Stage
    near, far : str
        Two shafts of the stage, in either order.
    state : State
        n states side by side.

    Returns
    -------
    more : float or array, shape (n,) [pin]
        How many more than described.
    nominal : float or None, shape () [pin]
        The described number, neither marked pin counted.

    Notes
    -----
    A cam one pitch early has its mark one pitch further along the chain's travel, toward the
    crank: one pin fewer between crank and cam (docs/physics.md, "pins", neither marked pin counted).
    """
    order = [sprocket.shaft for sprocket in stage.sprockets]
    if order.index(near) > order.index(far):
        near, far = far, near

    def early(shaft: str) -> Values:
        own = state.get("pitch_slip", stage.mesh(shaft))
        return own if shaft != stage.driver.shaft else -1.0 * own

    described = dict(stage.pins)
    nominal = described[far].mean if far in described else None
    if near != stage.driver.shaft and nominal is not None:
        before = described[near].mean if near in described else None
        nominal = nominal - before - 1.0 if before is not None else None
    return early(near) - early(far), nominal


def mark_offset(model: DriveModel, shaft: str, state: State, numbers: Numbers) -> Values:
    """How far a sprocket's mark stands from where it belongs, in its own teeth, + = ahead.

    Parameters
    ----------
    model : DriveModel
    shaft : str
        Shaft id; the last stage's sprocket on it is meant.
    state : State
        n states side by side.
    numbers : mapping of str to float or array, shape (n,)
        Description numbers assumed for this batch.

    Returns
    -------
    float or array, shape (n,) [tooth]
        0 for the crank: its own mark is what the others are judged by. NaN where nothing drives the shaft any more: its
        mark stands wherever it stopped.

    Notes
    -----
    docs/physics.md, "marks": phase of the sprocket over the crank degrees of one pitch there.
    """
    if shaft == CRANK:
        return 0.0
    last = model.legs[shaft][-1]
    teeth = model.sprocket_phase(shaft, state, numbers, own_slip=False) / model.step(last.stage, numbers)
    return np.where(np.asarray(model.connected(shaft, state)) > 0.0, teeth, np.nan)


def tensioner_extension(model: DriveModel, stage: Stage, state: State) -> Values:
    """How much further than with a new chain the tensioner stands out.

    Parameters
    ----------
    model : DriveModel
    stage : Stage
    state : State
        n states side by side.

    Returns
    -------
    float or array, shape (n,) [mm]

    Notes
    -----
    docs/physics.md, "tensioner". The whole length of the chain stands for its untoothed part, which is somewhat
    shorter, and the middle of :data:`witnessmark.physics.wear.TRAVEL_PER_SURPLUS` for the plunger's own gain.
    """
    if stage.kind != "chain":
        return state.get("slack", stage.id)
    surplus = slack_surplus_mm(
        state.get("elongation", stage.id),
        model.untoothed_mm(stage),
        guide_wear_mm=state.get("guide_wear", stage.id),
        turning_deg=GUIDE_TURNING_DEG.mean or 0.0,
    )
    return tensioner_travel_mm(surplus, TRAVEL_PER_SURPLUS.mean or 1.0) + state.get("slack", stage.id)


def wheel_angle(model: DriveModel, wheel: str, state: State) -> Values:
    """How far a tone wheel stands ahead on its shaft, as an angle gauge there shows it.

    Parameters
    ----------
    model : DriveModel
    wheel : str
        Wheel id.
    state : State
        n states side by side.

    Returns
    -------
    float or array, shape (n,) [deg]
        Degrees of that shaft: on a cam half the crank degrees.
    """
    slip = state.get("wheel_slip", wheel)
    return slip if wheel == CRANK else 0.5 * slip

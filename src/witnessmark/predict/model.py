"""An engine's timing drive, laid out for arithmetic: what moves which cam, by how much.

Built once per candidate engine; then every quantity of the drive is a short sum over arrays.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.drive import CRANK, Stage
from witnessmark.engine.state import State
from witnessmark.engine.teeth import Steps, stage_steps
from witnessmark.engine.types import Engine
from witnessmark.physics.path import chain_path, loop_of_stage
from witnessmark.physics.wear import GUIDE_TURNING_DEG, guide_retard_deg, wear_retard_deg

__all__ = ["DriveModel", "Leg", "Numbers", "Values"]

Values = float | NDArray[np.float64]
Numbers = Mapping[str, Values]

# Where no pitch is described: the middle of the usual 6.35 .. 9.525 mm (from memory).
_USUAL_PITCH_MM = 8.0
_USUAL_TIGHT_PITCHES = {True: 44.0, False: 13.0}  # from the crank; between neighbours


@dataclass(frozen=True, slots=True)
class Leg:
    """One stage on the way to a cam.

    Parameters
    ----------
    stage, kind : str
    driver, arrived : str
        Mesh ids at the two ends.
    tight : tuple of (str, float), shape (spans,) [pitch]
        Number key and untoothed length of every tight span between driver and arrived sprocket.
    """

    stage: str
    kind: str
    driver: str
    arrived: str
    tight: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class DriveModel:
    """The drive of one engine whose layout is settled; tooth counts may still be open.

    Parameters
    ----------
    engine : Engine
    legs : mapping of str to tuple of Leg
        The way from the crank to every shaft, crank end first.
    steps : mapping of str to Steps
        Possible crank degrees of one pitch, by stage.
    """

    engine: Engine
    legs: Mapping[str, tuple[Leg, ...]] = field(default_factory=dict)
    steps: Mapping[str, Steps] = field(default_factory=dict)

    @classmethod
    def of(cls, engine: Engine) -> DriveModel:
        """Lay out an engine's drive.

        Parameters
        ----------
        engine : Engine
            With its drive described.

        Returns
        -------
        DriveModel
        """
        drive = engine.drive
        assert drive is not None
        shafts = {sprocket.shaft for stage in drive.stages for sprocket in stage.driven}
        legs = {shaft: tuple(_leg(stage, arrived) for stage, arrived in drive.path(shaft)) for shaft in sorted(shafts)}
        return cls(engine, legs, {stage.id: stage_steps(drive, stage) for stage in drive.stages})

    def step(self, stage: str, numbers: Numbers) -> Values:
        """Crank degrees of one pitch of a stage: as assumed in ``numbers``, else the mean of what is possible.

        Parameters
        ----------
        stage : str
        numbers : mapping of str to float or array, shape (n,)
            "step:<stage>", where it is assumed.

        Returns
        -------
        float or array, shape (n,) [deg]
        """
        assumed = numbers.get(f"step:{stage}")
        if assumed is not None:
            return assumed
        steps = self.steps[stage]
        return float(np.dot(steps.deg, steps.weights))

    def sprocket_phase(self, shaft: str, state: State, numbers: Numbers, *, own_slip: bool = True) -> Values:
        """Phase of a shaft's sprocket in crank degrees, + = early.

        Parameters
        ----------
        shaft : str
        state : State
        numbers : mapping of str to float or array, shape (n,)
            Description numbers assumed for this batch.
        own_slip : bool
            False leaves out how far the shaft's own last sprocket has turned on it: where the
            sprocket's mark stands, rather than the shaft.

        Returns
        -------
        float or array, shape (n,) [deg]

        Notes
        -----
        docs/physics.md, "one pitch" and "elongation": sum over stages of whole pitches times step and sprocket slips,
        less the retard of elongation along the untoothed tight side and of guide wear.
        """
        phase: Values = 0.0
        legs = self.legs.get(shaft, ())
        for i, leg in enumerate(legs):
            step = self.step(leg.stage, numbers)
            pitches = state.get("pitch_slip", leg.driver) + state.get("pitch_slip", leg.arrived)
            phase = phase + pitches * step - self.retard(leg, state, numbers) + state.get("sprocket_slip", leg.driver)
            if own_slip or i < len(legs) - 1:
                phase = phase + state.get("sprocket_slip", leg.arrived)
        return phase

    def retard(self, leg: Leg, state: State, numbers: Numbers) -> Values:
        """Crank degrees that wear of one stage has taken, elongation and guide together.

        Parameters
        ----------
        leg : Leg
        state : State
            n states side by side.
        numbers : mapping
            Tight spans assumed, in pitches.

        Returns
        -------
        float or array, shape (n,) [deg]
            Zero for belts and gears.
        """
        if leg.kind != "chain":
            return 0.0
        tight: Values = 0.0
        for key, usual in leg.tight:
            tight = tight + numbers.get(key, usual)
        pitch, step = self._pitch_mm(leg.stage), self.step(leg.stage, numbers)
        longer = wear_retard_deg(state.get("elongation", leg.stage), tight * pitch, pitch, step)
        turning = GUIDE_TURNING_DEG.mean or 0.0
        return longer + guide_retard_deg(state.get("guide_wear", leg.stage), turning, pitch, step)

    def connected(self, shaft: str, state: State) -> Values:
        """1 where the shaft is still driven, 0 where a stage before it has let go.

        Parameters
        ----------
        shaft : str
        state : State
            n states side by side.

        Returns
        -------
        float or array, shape (n,) [-]
        """
        whole: Values = 1.0
        for leg in self.legs.get(shaft, ()):
            whole = whole * state.get("drive_connected", leg.stage)
        return whole

    def _pitch_mm(self, stage: str) -> float:
        assert self.engine.drive is not None
        return self.engine.drive.stage(stage).pitch_mm.mean or _USUAL_PITCH_MM

    def untoothed_mm(self, stage: Stage) -> float:
        """Length of a loop that no tooth holds: by its coordinates, else twice its tight side and a tenth (our guess).

        Parameters
        ----------
        stage : Stage

        Returns
        -------
        float, shape () [mm]
        """
        loop = loop_of_stage(stage)
        if loop is not None:
            return 1000.0 * chain_path(loop).untoothed
        pitch = self._pitch_mm(stage.id)
        last = stage.driven[-1].shaft
        tight = sum(p for leg in self.legs[last] if leg.stage == stage.id for _, p in leg.tight)
        return 2.2 * tight * pitch


def _leg(stage: Stage, arrived: str) -> Leg:
    tight = []
    for sprocket in stage.driven:
        pitch = stage.pitch_mm.mean or _USUAL_PITCH_MM
        length = sprocket.tight_mm.mean
        first = stage.driver.shaft == CRANK and sprocket is stage.driven[0]
        pitches = length / pitch if length is not None else _USUAL_TIGHT_PITCHES[first]
        tight.append((f"tight:{stage.mesh(sprocket.shaft)}", pitches))
        if sprocket.shaft == arrived:
            break
    return Leg(stage.id, stage.kind, stage.mesh(stage.driver.shaft), stage.mesh(arrived), tuple(tight))

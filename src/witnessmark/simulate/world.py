"""Where a state puts every cam and every wheel: shaft by shaft from the crank outward, in each shaft's own degrees.

Written apart from ``predict`` on purpose. That sums crank degrees along each cam's path; this turns one shaft after the
other by what its chain gives and takes. Where both agree, neither has slipped a sign.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.drive import CRANK, Stage, TimingDrive
from witnessmark.engine.state import State, state_variables
from witnessmark.engine.types import Engine
from witnessmark.simulate.draws import stream
from witnessmark.simulate.vehicle import Vehicle
from witnessmark.simulate.wheels import CutWheel

__all__ = ["World", "build_world", "healthy_state"]

FloatArray = NDArray[np.float64]

_USUAL_PITCH_MM = 8.0
_USUAL_TIGHT_MM = {True: 350.0, False: 110.0}  # from the crank; between neighbours
_USUAL_REACH_DEG = {"intake": 50.0, "exhaust": -45.0, "single": -40.0}
_SPOOL_DEAD_BAND = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class World:
    """A vehicle in a state.

    Parameters
    ----------
    vehicle : Vehicle
    state : State
    rest_deg : mapping of cam id to float [deg]
        True phase of each cam with nothing commanded, + = early.
    turns : mapping of cam id to bool
        False where the drive has let go.
    wheels : mapping of wheel id to CutWheel
        As they stand on their shafts: lost teeth are gone, run-out is in.
    early_deg : mapping of wheel id to float [deg]
        By how much each wheel's signal comes before its shaft: slip on the shaft and the sensor's place.
    """

    vehicle: Vehicle
    state: State
    rest_deg: Mapping[str, float]
    turns: Mapping[str, bool]
    wheels: Mapping[str, CutWheel]
    early_deg: Mapping[str, float]

    def at_sensors_deg(self, cam: str, phase_deg: float) -> float:
        """Phase of a cam at its true phase, as an ideal instrument at the two sensors shows it [deg]."""
        return phase_deg + self.early_deg[cam] - self.early_deg[CRANK]

    def commanded_deg(self, cam: str, command_deg: float) -> float:
        """Where a command moves a cam from its rest [deg]."""
        reach = _reach(self.vehicle.engine.drive, cam)
        moved = _number(self.state, "phaser_gain", cam) * command_deg
        spool = _number(self.state, "spool_offset", cam)
        if abs(spool) > _SPOOL_DEAD_BAND:
            # A spool stuck off its middle keeps feeding one side until the vane meets its stop.
            moved = float(np.clip(moved + spool * reach, min(0.0, reach), max(0.0, reach)))
        return moved


def build_world(vehicle: Vehicle, state: State) -> World:
    """Put a vehicle into a state.

    Parameters
    ----------
    vehicle : Vehicle
    state : State
        One row only.

    Returns
    -------
    World
    """
    drive = vehicle.engine.drive
    assert drive is not None
    ahead, connected = _shafts(vehicle, drive, state)
    rest, turns = {}, {}
    for cam in vehicle.engine.cams:
        sprocket_deg = 2.0 * ahead.get(cam.id, 0.0)  # a cam turns once in two turns of the crank
        late = vehicle.lock_share * _number(state, "phaser_lock_play", cam.id)
        rest[cam.id] = sprocket_deg + _number(state, "phaser_rest", cam.id) - late
        turns[cam.id] = connected.get(cam.id, True)
    wheels = {name: _standing(wheel, name, state, vehicle.seed) for name, wheel in vehicle.wheels.items()}
    early = {
        name: _number(state, "wheel_slip", name) + _number(state, "sensor_offset", name) for name in vehicle.wheels
    }
    return World(vehicle, state, rest, turns, wheels, early)


def _number(state: State, variable: str, place: str) -> float:
    return float(np.asarray(state.get(variable, place)).ravel()[0])


def _reach(drive: TimingDrive | None, cam: str) -> float:
    phaser = drive.phaser(cam) if drive is not None else None
    known = phaser.range_deg.mean if phaser is not None else None
    return known if known is not None else _USUAL_REACH_DEG[cam.split(".", 1)[1]]


def _shafts(vehicle: Vehicle, drive: TimingDrive, state: State) -> tuple[dict[str, float], dict[str, bool]]:
    """How far each shaft stands ahead of its place, in its own degrees, and whether it still turns."""
    ahead, connected = {CRANK: 0.0}, {CRANK: True}
    speed = {CRANK: 1.0}
    for stage in drive.stages:
        source = stage.driver.shaft
        driver_teeth = vehicle.teeth[stage.id, source]
        # The driver's sprocket may have turned on its shaft: crank degrees over the shaft's own.
        turned = ahead[source] + _number(state, "sprocket_slip", stage.mesh(source)) * speed[source]
        links_ahead = turned / 360.0 * driver_teeth + _number(state, "pitch_slip", stage.mesh(source))
        lost = _links_lost(vehicle, stage, state)
        for k, sprocket in enumerate(stage.driven):
            shaft = sprocket.shaft
            teeth = vehicle.teeth[stage.id, shaft]
            speed[shaft] = speed[source] * driver_teeth / teeth
            links = links_ahead - lost[k] + _number(state, "pitch_slip", stage.mesh(shaft))
            slipped = _number(state, "sprocket_slip", stage.mesh(shaft)) * speed[shaft]
            ahead[shaft] = links / teeth * 360.0 + slipped
            connected[shaft] = connected[source] and _number(state, "drive_connected", stage.id) > 0.5
    return ahead, connected


def _links_lost(vehicle: Vehicle, stage: Stage, state: State) -> list[float]:
    """Links that each driven sprocket lags, from wear of the chain and of its guide on the tight side."""
    if stage.kind != "chain":
        return [0.0] * len(stage.driven)
    pitch = stage.pitch_mm.mean or _USUAL_PITCH_MM
    stretch = _number(state, "elongation", stage.id) / 100.0
    # On a bow worn down by w the chain runs round a smaller circle through the same angle.
    straightened_mm = np.radians(vehicle.guide_turning_deg) * _number(state, "guide_wear", stage.id)
    lost, tight_mm = [], 0.0
    for k, sprocket in enumerate(stage.driven):
        length = sprocket.tight_mm.mean
        tight_mm += length if length is not None else _USUAL_TIGHT_MM[stage.driver.shaft == CRANK and k == 0]
        lost.append((tight_mm * stretch + straightened_mm) / pitch)
    return lost


def _standing(wheel: CutWheel, name: str, state: State, seed: int) -> CutWheel:
    """The wheel with run-out and without its lost teeth."""
    rng = stream(seed, "damage", name)
    once = wheel.made_deg / wheel.period_deg * 2.0 * np.pi + rng.uniform(0.0, 2.0 * np.pi)
    swing = _number(state, "wheel_runout", name) * np.sin(once) * (wheel.period_deg / 360.0)
    if wheel.even.sum() > 1:
        swing = swing - swing[wheel.even].mean()
    bent = replace(wheel, errors_deg=wheel.errors_deg + swing)
    lost = round(_number(state, "wheel_bad_teeth", name))
    if lost < 1:
        return bent
    gone = np.zeros(wheel.made_deg.size, dtype=bool)
    teeth = np.flatnonzero(wheel.even)
    for tooth in rng.choice(teeth, min(lost, teeth.size - 1), replace=False):
        gone[[tooth, (tooth + 1) % gone.size]] = True
    return bent.without(gone)


def healthy_state(engine: Engine, rng: np.random.Generator) -> State:
    """A healthy engine drawn from the healthy spread of the drive's state variables.

    Parameters
    ----------
    engine : Engine
        With its drive described.
    rng : numpy.random.Generator

    Returns
    -------
    State
    """
    drive = engine.drive
    assert drive is not None
    cams = [cam.id for cam in engine.cams]
    wheels = [CRANK, *cams]
    places = {
        "elongation": [s.id for s in drive.stages if s.kind == "chain"],
        "guide_wear": [s.id for s in drive.stages if s.kind == "chain"],
        "sprocket_slip": [s.mesh(p.shaft) for s in drive.stages for p in s.sprockets],
        "phaser_rest": cams,
        "phaser_gain": cams,
        "phaser_rate": cams,
        "phaser_lock_play": cams,
        "wheel_slip": wheels,
        "wheel_runout": wheels,
        "sensor_gap": wheels,
        "sensor_gain": wheels,
        "sensor_noise": wheels,
        "sensor_offset": wheels,
    }
    variables = state_variables()
    edits: dict[tuple[str, str], float | FloatArray] = {}
    for name, where in places.items():
        known = variables[name]
        for place in where:
            drawn = rng.normal(known.healthy, known.sd)
            edits[name, place] = float(np.clip(drawn, known.low, known.high))
    return State(edits)

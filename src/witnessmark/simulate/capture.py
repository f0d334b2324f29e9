"""A seeded capture: engine, state and test condition in; a recording as an instrument gives it, and the truth, out.

What the simulated engine and instruments do beyond what the measurement assumes is listed in :data:`UNMODELLED`; each
capture says which of it is in it. A truth found again in spite of it means something.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import HEALTHY, State
from witnessmark.engine.types import Engine
from witnessmark.recording.types import Recording
from witnessmark.simulate.cammotion import cam_phase
from witnessmark.simulate.channels import Channel, Window, channel_of, conditioned
from witnessmark.simulate.draws import stream
from witnessmark.simulate.happened import truth_of
from witnessmark.simulate.instruments import LogicAnalyser, Scope
from witnessmark.simulate.motion import Motion, integrate_motion
from witnessmark.simulate.record import recording_of
from witnessmark.simulate.scenario import Scenario, draw_scenario, drive_of
from witnessmark.simulate.truth import Truth
from witnessmark.simulate.unmodelled import UNMODELLED
from witnessmark.simulate.vehicle import Vehicle, build_vehicle
from witnessmark.simulate.world import World, build_world

__all__ = ["UNMODELLED", "Capture", "capture_from_seed", "simulate_capture"]

FloatArray = NDArray[np.float64]

_ALWAYS = ("cutting", "cam_swing", "cam_restless", "sensor_lag", "flux", "ripple", "clock")


@dataclass(frozen=True, slots=True, eq=False)
class Capture:
    """A simulated recording with all that is known of it.

    Parameters
    ----------
    recording : Recording
    truth : Truth
    world : World
    scenario : Scenario
    unmodelled : tuple of str
        Names out of :data:`UNMODELLED`.
    seed : int
    """

    recording: Recording
    truth: Truth
    world: World
    scenario: Scenario
    unmodelled: tuple[str, ...]
    seed: int


def capture_from_seed(engine: Engine, seed: int, *, state: State = HEALTHY, running: str | None = None) -> Capture:
    """A capture with its test condition drawn too; the same seed gives the same capture.

    Parameters
    ----------
    engine : Engine
    seed : int
    state : State
    running : str, optional
        Held instead of drawn.

    Returns
    -------
    Capture
    """
    return simulate_capture(engine, state, draw_scenario(seed, running=running), seed=seed)


def simulate_capture(
    engine: Engine | Vehicle, state: State, scenario: Scenario, *, seed: int, name: str | None = None
) -> Capture:
    """A capture of an engine in a state under a test condition.

    Parameters
    ----------
    engine : Engine or Vehicle
        An engine's vehicle is built from the seed; give a vehicle to record the same one again.
    state : State
        One row.
    scenario : Scenario
    seed : int
    name : str, optional
        File name of the recording.

    Returns
    -------
    Capture

    Raises
    ------
    EngineDefinitionError
        If the engine's drive or cams are not described.
    """
    vehicle = engine if isinstance(engine, Vehicle) else build_vehicle(engine, seed)
    world = build_world(vehicle, state)
    motion, window = _motion(vehicle, scenario, seed)
    phases = {cam.id: cam_phase(world, cam.id, motion, scenario, window.from_s, seed) for cam in vehicle.engine.cams}
    shafts = {CRANK: motion.crank_deg + world.early_deg[CRANK]}
    for cam, phase in phases.items():
        turned = motion.crank_deg + phase.true_deg + phase.swing_deg + world.early_deg[cam]
        shafts[cam] = turned if world.turns[cam] else np.full(turned.size, turned[0])
    channels = [
        _channel(world, wheel, motion, shafts[wheel], scenario, window, stream(seed, "channel", wheel))
        for wheel in vehicle.wheels
    ]
    recording = recording_of(channels, world, motion, shafts, scenario, window, seed, name or f"simulated_{seed}.csv")
    truth = truth_of(channels, world, motion, shafts, phases, window)
    return Capture(recording, truth, world, scenario, _unmodelled(scenario), seed)


def _motion(vehicle: Vehicle, scenario: Scenario, seed: int) -> tuple[Motion, Window]:
    drive, before_s, heavier = drive_of(scenario, stream(seed, "drive"))
    rng = stream(seed, "motion")
    mechanics = replace(vehicle.mechanics, inertia_kgm2=vehicle.mechanics.inertia_kgm2 * heavier)
    cylinders = len(vehicle.firing_deg)
    # Each cylinder burns a little differently from the others, and from cycle to cycle.
    own = rng.normal(1.0, 0.03, cylinders)
    strength = np.clip(own * rng.normal(1.0, 0.08, (256, cylinders)), 0.0, 2.0)
    motion = integrate_motion(
        mechanics,
        drive,
        seconds=before_s + scenario.seconds + 0.02,
        firing_deg=vehicle.firing_deg,
        strength=strength,
        start_deg=float(rng.uniform(0.0, 720.0)),
    )
    clock_ppm = scenario.instrument.clock_ppm
    return motion, Window(before_s, before_s + scenario.seconds, scenario.time_zero_s, clock_ppm)


def _channel(
    world: World,
    wheel: str,
    motion: Motion,
    shaft_deg: FloatArray,
    scenario: Scenario,
    window: Window,
    rng: np.random.Generator,
) -> Channel:
    channel = channel_of(world, wheel, motion, shaft_deg, scenario, window, rng)
    if channel.level is None and isinstance(scenario.instrument, LogicAnalyser):
        return conditioned(channel, world, motion, shaft_deg, scenario, window, rng)
    return channel


def _unmodelled(scenario: Scenario) -> tuple[str, ...]:
    found = list(_ALWAYS)
    if scenario.commands:
        found.append("hunting")
    instrument = scenario.instrument
    if isinstance(instrument, Scope):
        found += ["pull_up", "clipping"]
        if instrument.skew_s:
            found.append("skew")
        if instrument.drift_v or instrument.hum_v:
            found.append("drift")
    what = scenario.disturbances
    if what.glitches_hz or what.lost_hz or what.dropouts_hz or what.sparks_v:
        found.append("strays")
    return tuple(found)

"""How a cam moves about its place: commands followed at the phaser's pace, hunting, and the swing its lobes cause."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.simulate.draws import stream
from witnessmark.simulate.motion import Motion
from witnessmark.simulate.scenario import Scenario
from witnessmark.simulate.world import World

__all__ = ["CamPhase", "cam_phase"]

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class CamPhase:
    """Phase of one cam over a motion, + = early, in crank degrees.

    Parameters
    ----------
    command_deg : array, shape (n,) [deg]
        What is commanded.
    true_deg : array, shape (n,) [deg]
        Where the cam stands, without the swing within a cycle.
    swing_deg : array, shape (n,) [deg]
        That swing, zero in the mean over a cycle, and what differs from firing to firing.
    """

    command_deg: FloatArray
    true_deg: FloatArray
    swing_deg: FloatArray


def cam_phase(world: World, cam: str, motion: Motion, scenario: Scenario, before_s: float, seed: int) -> CamPhase:
    """Phase of a cam over a motion.

    Parameters
    ----------
    world : World
    cam : str
    motion : Motion
    scenario : Scenario
    before_s : float [s]
        When in the motion the recording starts; commands count from there.
    seed : int

    Returns
    -------
    CamPhase
    """
    rng = stream(seed, "phase", cam)
    make = world.vehicle.cams[cam]
    command = np.zeros(motion.times_s.size)
    for step in sorted(scenario.commands, key=lambda c: c.at_s):
        if step.cam == cam:
            command[motion.times_s >= before_s + step.at_s] = step.advance_deg
    moved = _followed(world, cam, command, motion)
    # Held between its stops a phaser hunts; locked at rest it cannot.
    off_stop = np.clip(np.abs(moved) / 2.0, 0.0, 1.0)
    hunting = make.hunting_deg * np.sin(2.0 * np.pi * (make.hunting_hz * motion.times_s + rng.random()))
    true = world.rest_deg[cam] + moved + off_stop * hunting
    return CamPhase(command, true, _swing(world, cam, motion, rng))


def _followed(world: World, cam: str, command: FloatArray, motion: Motion) -> FloatArray:
    """Where the phaser stands: it goes after what is wanted at no more than its own rate."""
    changes = np.flatnonzero(np.diff(command)) + 1
    wanted = [world.commanded_deg(cam, float(command[k])) for k in (0, *changes)]
    rate = max(float(np.asarray(world.state.get("phaser_rate", cam)).ravel()[0]), 0.0)
    stands = np.full(command.size, wanted[0])
    for k, goal in zip(changes, wanted[1:], strict=True):
        start = stands[k - 1]
        since = motion.times_s[k:] - motion.times_s[k]
        reached = np.minimum(np.abs(goal - start), rate * since)
        stands[k:] = start + np.sign(goal - start) * reached
    return stands


def _swing(world: World, cam: str, motion: Motion, rng: np.random.Generator) -> FloatArray:
    make = world.vehicle.cams[cam]
    engine = world.vehicle.engine
    lobes = max(1, engine.cylinders // (engine.banks or 1))
    cycle = motion.crank_deg / 720.0
    steady = make.wobble_deg * np.sin(2.0 * np.pi * lobes * cycle + make.wobble_at)
    # From firing to firing: a fresh value at each lobe, straight in between.
    first, last = int(np.floor(cycle.min() * lobes)), int(np.ceil(cycle.max() * lobes)) + 1
    fresh = rng.normal(0.0, make.restless_deg, last - first + 1)
    restless = np.interp(cycle * lobes, np.arange(first, last + 1), fresh)
    # A worn lock lets the cam flap in its play as the lobes push and pull it.
    play = float(np.asarray(world.state.get("phaser_lock_play", cam)).ravel()[0])
    flap = 0.25 * max(play - 0.6, 0.0) * np.sin(2.0 * np.pi * lobes * cycle + make.wobble_at + 1.0)
    return np.asarray(steady + restless + flap)

"""Channels that say where in the cycle the engine stands: crank, cam, or one cylinder's ignition trigger."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.drive import CRANK
from witnessmark.simulate.bench import Setup
from witnessmark.simulate.cammotion import cam_phase
from witnessmark.simulate.channels import channel_of, sampled_volts
from witnessmark.simulate.draws import stream
from witnessmark.simulate.enginerun import EngineRun
from witnessmark.simulate.instruments import hall_volts
from witnessmark.simulate.probes import lead
from witnessmark.simulate.sampling import Sampling, Signal
from witnessmark.simulate.scenario import Disturbances, Scenario
from witnessmark.simulate.sensors import Level

__all__ = ["reference_signal", "trigger_times", "wheel_signal"]

FloatArray = NDArray[np.float64]

_CRANKING_SPARK_DEG = 8.0
_CRANKING_DWELL_S = 0.004


def wheel_signal(
    run: EngineRun, wheel: str, sampling: Sampling, disturbances: Disturbances, *, state: str, column: int, seed: int
) -> Signal:
    """The signal of the crank's or a cam's position sensor beside other things.

    Parameters
    ----------
    run : EngineRun
    wheel : str
        "crank", or a cam's id.
    sampling : Sampling
    disturbances : Disturbances
    state : str
        How it runs.
    column : int
    seed : int

    Returns
    -------
    Signal
    """
    world, motion, window = run.breather.world, run.motion, sampling.window
    scenario = Scenario("cranking" if state == "cranking" else "idle", None, sampling.seconds, sampling.scope,
                        disturbances=disturbances)  # fmt: skip
    shaft = motion.crank_deg + world.early_deg[wheel]
    if wheel != CRANK:
        phase = cam_phase(world, wheel, motion, scenario, window.from_s, seed)
        turned = shaft + phase.true_deg + phase.swing_deg
        shaft = turned if world.turns[wheel] else np.full(turned.size, turned[0])
    rng = stream(seed, "channel", wheel)
    channel = channel_of(world, wheel, motion, shaft, scenario, window, rng)
    volts = sampled_volts(channel, sampling.times_s(column), world, motion, shaft, scenario, sampling.scope, rng)
    role = CRANK if wheel == CRANK else "cam"
    name = "crank sensor" if wheel == CRANK else "cam sensor"
    return Signal(name, role, volts, lead(stream(seed, "lead", wheel)), wheel)


def trigger_times(run: EngineRun, cylinder: int) -> tuple[FloatArray, FloatArray]:
    """When the computer switches one coil on and off, shape (n,) each [s].

    Parameters
    ----------
    run : EngineRun
    cylinder : int

    Returns
    -------
    on, off : array, shape (n,) [s]
    """
    if run.combustion is not None:
        off = np.array([one.at_s for one in run.sparks if one.cylinder == cylinder])
        dwell = run.combustion.dwell_s
    else:
        early = _CRANKING_SPARK_DEG + run.breather.world.early_deg[CRANK]
        angle = run.motion.crank_deg
        cycles = np.arange(np.ceil(angle[0] / 720.0) - 1.0, np.ceil(angle[-1] / 720.0) + 1.0)
        at = 720.0 * cycles + run.breather.tops_deg[cylinder] - early
        at = at[(at > angle[0]) & (at < angle[-1])]
        # The first turn passes before the computer knows where the engine stands.
        at = at[at > angle[0] + 400.0]
        off = np.interp(at, np.maximum.accumulate(angle), run.motion.times_s)
        dwell = _CRANKING_DWELL_S
    return off - dwell, off


def reference_signal(run: EngineRun, setup: Setup, sampling: Sampling, *, column: int, seed: int) -> Signal:
    """What stands beside a recording so that cylinders can be counted: a cam sensor, or one cylinder's trigger.

    Parameters
    ----------
    run : EngineRun
    setup : Setup
        Says which; where the engine has no cam sensor, the trigger.
    sampling : Sampling
    column : int
    seed : int

    Returns
    -------
    Signal
    """
    cams = run.breather.engine.cams
    if setup.reference == "cam" and cams:
        return wheel_signal(
            run, cams[0].id, sampling, setup.disturbances, state=setup.running, column=column, seed=seed
        )
    return _ignition_trigger(run, setup.cylinder, sampling, column=column, seed=seed)


def _ignition_trigger(run: EngineRun, cylinder: int, sampling: Sampling, *, column: int, seed: int) -> Signal:
    """The computer's command to one cylinder's coil: high while the coil is fed, the spark at its fall."""
    rng = stream(seed, "trigger", str(cylinder))
    on, off = trigger_times(run, cylinder)
    level = Level(False, np.sort(np.concatenate([on, off])))
    high, low = float(rng.uniform(4.6, 5.1)), float(rng.uniform(0.0, 0.15))
    volts = hall_volts(level, sampling.times_s(column), high_v=high, low_v=low, rise_s=4e-6, fall_s=2e-6)
    volts = volts + rng.normal(0.0, 0.01, volts.size)
    return Signal(
        f"ignition trigger {cylinder}", "ignition", volts, lead(stream(seed, "lead", "trigger")), range_v=(-10.0, 10.0)
    )

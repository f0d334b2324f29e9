"""Starter current and battery voltage while cranking, beside a channel that says which cylinder is which."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.simulate.bench import Bench, BenchCapture, Setup, capture_of, engine_run, window_of
from witnessmark.simulate.draws import stream
from witnessmark.simulate.enginerun import EngineRun
from witnessmark.simulate.filters import low_pass
from witnessmark.simulate.probes import clamp, lead, probed
from witnessmark.simulate.reference import reference_signal
from witnessmark.simulate.sampling import Sampling, Signal

__all__ = ["starter_current"]

FloatArray = NDArray[np.float64]

_WINDING_S = 1.6e-3  # inductance over resistance of the circuit; our guess
_SAG_V, _SAG_S = (0.15, 0.45), (0.3, 1.2)
_BARS = 25


def starter_current(bench: Bench, setup: Setup, seed: int) -> BenchCapture:
    """Current and voltage of a cranked engine; what each cylinder's compression asks for is in both.

    Parameters
    ----------
    bench : Bench
    setup : Setup
        Cranking.
    seed : int

    Returns
    -------
    BenchCapture
        Truth: "amps" [A], "volts" [V] and "rpm" at the samples; "tops" [s], where each cylinder passed its firing top
        dead centre; rows of (time in the file, cylinder).
    """
    run = engine_run(bench, setup, seed)
    sampling = window_of(run, setup, seed)
    rng, step, times = stream(seed, "starter current"), setup.scope.step_s, sampling.times_s()
    amps = _battery_amps(run, times, step, rng)
    volts = _battery_volts(run, times, amps, rng)
    large, plain = clamp(600.0, rng), lead(rng, divided=1.0)
    signals = [
        Signal("battery current", "starter_current", probed(amps, step, large, rng), large),
        Signal("battery voltage", "supply_voltage", probed(volts, step, plain, rng), plain, range_v=(-20.0, 20.0)),
        reference_signal(run, setup, sampling, column=2, seed=seed),
    ]
    speed = np.interp(times, run.motion.times_s, run.motion.speed_rpm)
    truth = {"amps": amps[sampling.lead :], "volts": volts[sampling.lead :], "rpm": speed[sampling.lead :]}
    truth["tops"] = _tops(run, sampling)
    effects = ("clamp", "brushes", "polarisation", "winding_lag", "valve_train", "wall_heat", "oil_film")
    return capture_of(
        signals, run, sampling, setup, bench, test="current_compression", seed=seed, truth=truth, effects=effects
    )


def _battery_amps(run: EngineRun, times: FloatArray, step_s: float, rng: np.random.Generator) -> FloatArray:
    """Of the starter with its winding's lag and its commutator's ripple, and of what else is on."""
    assert run.starting is not None
    engaged = (times >= run.engaged_s).astype(np.float64)
    quick = np.interp(times, run.motion.times_s, run.starter_amps) * engaged
    amps = low_pass(quick, step_s, 1.0 / (2.0 * np.pi * _WINDING_S))
    turned = np.radians(np.interp(times, run.motion.times_s, run.motion.crank_deg)) * run.starting.motor.ratio
    ripple = float(rng.uniform(0.01, 0.03)) * np.sin(_BARS * turned + rng.uniform(0.0, 6.0))
    # The solenoid pulls in first, with tens of amperes, and then only holds.
    pull = run.engaged_s - 0.03
    solenoid = np.where(times > pull, np.where(times > run.engaged_s, 9.0, 32.0), 0.0)
    other = run.starting.other_amps * np.where(times > pull, 1.0, 0.7)
    return np.asarray(amps * (1.0 + ripple) + low_pass(solenoid, step_s, 150.0) + other)


def _battery_volts(run: EngineRun, times: FloatArray, amps: FloatArray, rng: np.random.Generator) -> FloatArray:
    """At the posts: what the resistance takes, and what the loaded acid takes more and more of."""
    starting = run.starting
    assert starting is not None
    since = np.maximum(times - run.engaged_s, 0.0)
    sag = float(rng.uniform(*_SAG_V)) * (1.0 - np.exp(-since / float(rng.uniform(*_SAG_S))))
    return np.asarray(starting.emf_v - starting.battery_ohm * amps - sag)


def _tops(run: EngineRun, sampling: Sampling) -> FloatArray:
    rows = []
    angle, window = np.maximum.accumulate(run.motion.crank_deg), sampling.window
    for n, top in run.breather.tops_deg.items():
        cycles = np.arange(np.floor(angle[0] / 720.0), np.ceil(angle[-1] / 720.0) + 1.0)
        at = 720.0 * cycles + top
        at = at[(at > angle[0]) & (at < angle[-1])]
        when = np.interp(at, angle, run.motion.times_s)
        when = when[(when > window.from_s) & (when < window.to_s)]
        rows += [(float(t), float(n)) for t in window.to_file(when)]
    return np.asarray(sorted(rows), dtype=np.float64).reshape(-1, 2)

"""Charging: the battery's voltage, its ripple, and the alternator's current, with the engine running."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.physics.rectifier import rectified
from witnessmark.simulate.bench import Bench, BenchCapture, Setup, capture_of, engine_run, window_of
from witnessmark.simulate.draws import stream
from witnessmark.simulate.enginerun import EngineRun
from witnessmark.simulate.filters import low_pass
from witnessmark.simulate.onboard import Onboard, build_onboard
from witnessmark.simulate.probes import Probe, clamp, lead, probed
from witnessmark.simulate.sampling import Signal

__all__ = ["bridge_amps", "charging"]

FloatArray = NDArray[np.float64]

_COARSE = 720


def charging(bench: Bench, setup: Setup, seed: int) -> BenchCapture:
    """Battery voltage, its ripple on a channel that shows no level, and the alternator's current.

    Parameters
    ----------
    bench : Bench
    setup : Setup
        Running.
    seed : int

    Returns
    -------
    BenchCapture
        Truth: "amps" [A] and "volts" [V] at the samples; "ripple" [V], peak to peak of the bridge alone, and "mean"
        [V], shape (1,) each.
    """
    run = engine_run(bench, setup, seed)
    sampling = window_of(run, setup, seed)
    rng, step, times = stream(seed, "charging"), setup.scope.step_s, sampling.times_s()
    board = build_onboard(bench.state, bench.seed, loads_on=setup.loads_on)
    mean_rpm = float(np.mean(run.motion.speed_rpm))
    angle = _electrical(run, board, times, rng)
    pushed = bridge_amps(board, angle, board.amps(mean_rpm))
    volts = board.volts(mean_rpm) + board.battery_ohm * (pushed - pushed.mean())
    bare = float(np.percentile(volts, 99.9) - np.percentile(volts, 0.1))
    volts = volts - board.battery_ohm * _other_amps(run, times, step, rng)
    fast, level = clamp(200.0, rng), lead(rng)
    ac = Probe("V", 1.0, gain=level.gain, offset=0.0, low_hz=float(rng.uniform(0.5, 2.0)), noise=0.002)
    signals = [
        Signal("battery voltage", "supply_voltage", probed(volts, step, level, rng), level, range_v=(-20.0, 20.0)),
        Signal("battery ripple", "other", probed(volts, step, ac, rng), ac),
        Signal("alternator current", "other", probed(pushed, step, fast, rng), fast),
    ]
    truth = {
        "amps": pushed[sampling.lead :], "volts": volts[sampling.lead :], "ripple": np.array([bare]),
        "mean": np.array([board.volts(mean_rpm)]),
    }  # fmt: skip
    effects = ("clamp", "belt", "regulator", "burning")
    return capture_of(
        signals, run, sampling, setup, bench, test="scope_charging", seed=seed, truth=truth, effects=effects
    )


def _electrical(run: EngineRun, board: Onboard, times: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Electrical angle of the alternator: the crank's, through a belt that stretches and slips a little [rad]."""
    crank = np.radians(np.interp(times, run.motion.times_s, run.motion.crank_deg))
    even = np.linspace(crank[0], crank[-1], crank.size)
    share = float(rng.uniform(0.4, 0.9))  # of the ripple; the rest the belt takes up
    slip = float(rng.uniform(0.0, 0.012))
    shaft = board.alternator.pulley * (1.0 - slip) * (even + share * (crank - even))
    return np.asarray(board.alternator.pole_pairs * shaft + rng.uniform(0.0, 2.0 * np.pi))


def bridge_amps(board: Onboard, angle_rad: FloatArray, mean_amps: float) -> FloatArray:
    """What the bridge pushes into battery and consumers, shape (n,) [A].

    Parameters
    ----------
    board : Onboard
    angle_rad : array, shape (n,) [rad]
        Electrical.
    mean_amps : float [A]

    Returns
    -------
    array, shape (n,) [A]

    Notes
    -----
    (w U - E)/(R_a + R) while above zero, as :func:`witnessmark.physics.charging.ripple_volts` has it; the crest U that
    gives the mean is found by halving.
    """
    if mean_amps <= 0.0:
        return np.zeros(angle_rad.size)
    whole = board.alternator.phase_ohm + board.battery_ohm
    emf = board.emf_v
    turn = np.asarray(rectified(2.0 * np.pi * np.arange(_COARSE) / _COARSE, board.open_diodes))
    if turn.max() <= 0.0:
        return np.zeros(angle_rad.size)
    low = emf / float(turn.max())
    high = low + 4.0 * (mean_amps * whole + emf) / float(turn.mean())
    for _ in range(50):
        middle = 0.5 * (low + high)
        given = float(np.mean(np.maximum(middle * turn - emf, 0.0))) / whole
        low, high = (middle, high) if given < mean_amps else (low, middle)
    wave = np.asarray(rectified(angle_rad, board.open_diodes))
    return np.asarray(np.maximum(high * wave - emf, 0.0) / whole)


def _other_amps(run: EngineRun, times: FloatArray, step_s: float, rng: np.random.Generator) -> FloatArray:
    """Coils that are charged, and a regulator and a fan that switch [A]."""
    amps = np.zeros(times.size)
    dwell = run.combustion.dwell_s if run.combustion is not None else 0.0
    for spark in run.sparks:
        first, last = np.searchsorted(times, [spark.at_s - dwell, spark.at_s])
        amps[first:last] += 7.0 * (times[first:last] - (spark.at_s - dwell)) / max(dwell, 1e-9)
    hz, duty = float(rng.uniform(90.0, 220.0)), float(rng.uniform(0.3, 0.7))
    switching = np.where(np.mod(times * hz, 1.0) < duty, 1.0 - duty, -duty)
    return np.asarray(amps + low_pass(float(rng.uniform(1.0, 3.0)) * switching, step_s, 300.0))

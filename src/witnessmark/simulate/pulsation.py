"""Pressure pulses in intake and exhaust, and the waves that ride on them in the pipes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.simulate.bench import Bench, BenchCapture, Setup, capture_of, engine_run, window_of
from witnessmark.simulate.draws import stream
from witnessmark.simulate.enginerun import EngineRun
from witnessmark.simulate.filters import low_pass, resonance
from witnessmark.simulate.parts import banks_of
from witnessmark.simulate.probes import probed
from witnessmark.simulate.reference import reference_signal
from witnessmark.simulate.sampling import Sampling, Signal
from witnessmark.simulate.transducer import draw_transducer, sensed_kpa

__all__ = ["Pipes", "pipes_of", "pulses", "with_waves"]

FloatArray = NDArray[np.float64]

_INTAKE_M_S, _EXHAUST_M_S = 345.0, 560.0


@dataclass(frozen=True, slots=True)
class Pipes:
    """How long this vehicle's pipes are, as far as the gas swings in them.

    Parameters
    ----------
    runner_m, exhaust_m, tail_m : float [m]
    damping : float [-]
    """

    runner_m: float
    exhaust_m: float
    tail_m: float
    damping: float

    @property
    def runner_hz(self) -> float:
        """A quarter wave of the runner [Hz]."""
        return _INTAKE_M_S / (4.0 * self.runner_m)

    @property
    def exhaust_hz(self) -> float:
        """A quarter wave of the manifold's pipe [Hz]."""
        return _EXHAUST_M_S / (4.0 * self.exhaust_m)


def pipes_of(seed: int) -> Pipes:
    """The pipes of a vehicle.

    Parameters
    ----------
    seed : int
        Of the vehicle.

    Returns
    -------
    Pipes
    """
    rng = stream(seed, "pipes")
    return Pipes(*(float(rng.uniform(*ends)) for ends in ((0.3, 0.55), (0.5, 1.1), (2.6, 4.2), (0.1, 0.25))))


def with_waves(run: EngineRun, cylinder: int, times_s: FloatArray, step_s: float, seed: int) -> FloatArray:
    """Pressure in a cylinder with the waves that come through its open valves, shape (n,) [Pa].

    Parameters
    ----------
    run : EngineRun
    cylinder : int
    times_s : array, shape (n,) [s]
        Evenly spaced, in the motion's time.
    step_s : float [s]
    seed : int
        Of the vehicle.

    Returns
    -------
    array, shape (n,) [Pa]

    Notes
    -----
    The volumes of the gas path know no distance; a quarter wave of the pipe is laid over their pressure, as much of
    it as the valve is open. Its size is our guess.
    """
    pipes, breather = pipes_of(seed), run.breather
    pressure = np.interp(times_s, run.motion.times_s, run.of(f"c{cylinder}"))
    angle = np.interp(times_s, run.motion.times_s, run.motion.crank_deg) - breather.tops_deg[cylinder]
    bank = banks_of(breather.engine)[cylinder]
    for kind, volume, hz in (
        ("intake", f"runner{cylinder}", pipes.runner_hz), ("exhaust", f"exhaust{bank}", pipes.exhaust_hz)
    ):  # fmt: skip
        area = breather.opened_m2[kind, cylinder]
        opened = np.interp(angle % 720.0, np.arange(area.size) * 720.0 / area.size, area, period=720.0) / area.max()
        source = np.interp(times_s, run.motion.times_s, run.of(volume))
        pressure = pressure + opened * (resonance(source, step_s, hz, pipes.damping) - source)
    return np.asarray(pressure)


def pulses(bench: Bench, setup: Setup, seed: int) -> BenchCapture:
    """Intake and exhaust pressure beside one cylinder's ignition trigger.

    Parameters
    ----------
    bench : Bench
    setup : Setup
    seed : int

    Returns
    -------
    BenchCapture
        Truth: "plenum", "tail" [kPa over the surroundings] at the samples.
    """
    run = engine_run(bench, setup, seed)
    sampling = window_of(run, setup, seed)
    step, rng = setup.scope.step_s, stream(seed, "pulses")
    intake, exhaust = _at_intake(run, sampling, bench.seed, step), _at_tail(run, sampling, bench.seed, step)
    signals: list[Signal] = []
    truth: dict[str, FloatArray] = {}
    what = (
        ("plenum", "intake pressure", "manifold_pressure", intake, 120.0),
        ("tail", "tail pipe pressure", "exhaust_pressure", exhaust, 6.0),
    )
    for key, name, role, kpa, full in what:
        one = draw_transducer(rng, full_scale_kpa=full)
        shown = sensed_kpa(one, 1e3 * kpa, step, least_kpa=-99.0)
        signals.append(Signal(name, role, probed(shown, step, one.probe, rng), one.probe))
        truth[key] = kpa[sampling.lead :]
    signals.append(reference_signal(run, setup, sampling, column=2, seed=seed))
    effects: tuple[str, ...] = ("valve_train", "wall_heat", "oil_film", "waves", "tube_ringing", "transducer_drift")
    if run.combustion is not None:
        effects = (*effects, "burning")
    return capture_of(signals, run, sampling, setup, bench, test="pulses", seed=seed, truth=truth, effects=effects)


def _at_intake(run: EngineRun, sampling: Sampling, seed: int, step_s: float) -> FloatArray:
    """At the plenum's hose: the plenum, and what swings in the runners [kPa, gauge]."""
    times, pipes = sampling.times_s(), pipes_of(seed)
    outside = run.of("air")[0]
    pressure = np.interp(times, run.motion.times_s, run.of("plenum"))
    for n in run.breather.numbers:
        runner = np.interp(times, run.motion.times_s, run.of(f"runner{n}"))
        pressure = pressure + 0.25 * (resonance(runner, step_s, pipes.runner_hz, pipes.damping) - runner)
    return np.asarray((pressure - outside) / 1e3)


def _at_tail(run: EngineRun, sampling: Sampling, seed: int, step_s: float) -> FloatArray:
    """At the end of the tail pipe: the manifolds' pulses, late and rounded, rung by the pipe [kPa, gauge]."""
    times, pipes = sampling.times_s(), pipes_of(seed)
    outside = run.of("air")[0]
    banks = sorted(set(banks_of(run.breather.engine).values()))
    late = pipes.tail_m / 400.0
    pressure = np.zeros(times.size)
    for bank in banks:
        pressure += np.interp(times - late, run.motion.times_s, run.of(f"exhaust{bank}") - outside) / len(banks)
    smooth = low_pass(pressure, step_s, 90.0)
    return np.asarray(0.6 * resonance(smooth, step_s, 400.0 / (4.0 * pipes.tail_m), 0.25) / 1e3)

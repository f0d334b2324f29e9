"""Currents of one cylinder's coil and injector and of the fuel pump, as clamps show them with the engine running."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.physics.actuator import Injector, PumpMotor, injector_current, pump_current, pump_speed, ramp_current
from witnessmark.physics.ignition import Coil
from witnessmark.physics.injector import dead_time, injector_scale
from witnessmark.simulate.airway import air_path_of
from witnessmark.simulate.bench import Bench, BenchCapture, Setup, capture_of, engine_run, operating_at, window_of
from witnessmark.simulate.draws import stream
from witnessmark.simulate.enginerun import EngineRun
from witnessmark.simulate.filters import low_pass
from witnessmark.simulate.parts import edit_of, place
from witnessmark.simulate.probes import clamp, probed
from witnessmark.simulate.reference import trigger_times
from witnessmark.simulate.sampling import Signal

__all__ = ["actuator_currents", "coil_amps", "injector_amps", "pump_amps"]

FloatArray = NDArray[np.float64]

_OPEN = 1e6  # a winding of so many times its resistance carries nothing
_INJECTION_DEG = 420.0  # after firing TDC: where a port injector's pulse ends, before the intake valve opens next
_DIRECT_DEG = 440.0
_STEADY_S, _DEAD_S = 0.4, 0.9e-3
_BOOST_V, _PEAK_A, _HOLD_A = 65.0, 10.0, 2.6


def actuator_currents(bench: Bench, setup: Setup, seed: int) -> BenchCapture:
    """Coil, injector and pump current.

    Parameters
    ----------
    bench : Bench
    setup : Setup
        Running.
    seed : int

    Returns
    -------
    BenchCapture
        Truth: "coil", "injector", "pump" [A] at the samples; "pulse" [s], the injector's, shape (1,).
    """
    run = engine_run(bench, setup, seed)
    sampling = window_of(run, setup, seed)
    rng, step = stream(seed, "actuators"), setup.scope.step_s
    assert run.combustion is not None
    n, volts, times = setup.cylinder, run.combustion.volts, sampling.times_s()
    pulse = _pulse_s(bench, run, setup.speed_rpm, volts)
    exact = {
        "coil": coil_amps(run, bench, n, times, rng),
        "injector": injector_amps(run, bench, n, times, pulse, rng),
        "pump": pump_amps(bench, run, setup.speed_rpm, times, rng),
    }
    roles = {"coil": "ignition", "injector": "injector", "pump": "other"}
    names = {"coil": f"coil {n} current", "injector": f"injector {n} current", "pump": "fuel pump current"}
    signals = []
    for key, amps in exact.items():
        small = clamp(30.0, rng)
        quick = low_pass(amps, step, 25e3) if key == "injector" else amps  # eddy currents round what is quick
        signals.append(Signal(names[key], roles[key], probed(quick, step, small, rng), small))
    truth = {key: amps[sampling.lead :] for key, amps in exact.items()}
    truth["pulse"] = np.array([pulse])
    effects = ("clamp", "saturation", "eddy", "uneven_bars", "burning")
    return capture_of(
        signals, run, sampling, setup, bench, test="scope_actuators", seed=seed, truth=truth, effects=effects
    )


def coil_amps(run: EngineRun, bench: Bench, cylinder: int, times_s: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Primary current of a coil, shape (n,) [A].

    Parameters
    ----------
    run : EngineRun
    bench : Bench
    cylinder : int
    times_s : array, shape (n,) [s]
    rng : numpy.random.Generator

    Returns
    -------
    array, shape (n,) [A]

    Notes
    -----
    The ramp of :func:`witnessmark.physics.actuator.ramp_current`; iron that saturates bends it upward, shorted turns
    take of the inductance. How much: our guess.
    """
    assert run.combustion is not None
    coil, way = run.combustion.coil, run.combustion.way(place("coil", cylinder))
    volts = run.combustion.volts * way.share
    winding = edit_of(bench.state, "winding", place("coil", cylinder))
    energy = float(np.clip(edit_of(bench.state, "coil_energy", place("coil", cylinder)), 0.02, 1.2))
    amps = np.zeros(times_s.size)
    if winding > _OPEN:
        return amps
    ohm = coil.ohm * max(winding, 1e-3) + way.more_ohm
    henry = coil.henry * (0.35 + 0.65 * min(energy, 1.0))
    bend = float(rng.uniform(0.05, 0.25))
    for on, off in zip(*trigger_times(run, cylinder), strict=True):
        first, last = np.searchsorted(times_s, [on, off + 1e-3])
        since = times_s[first:last] - on
        ramp = np.asarray(ramp_current(since, volts, ohm, henry))
        ramp = ramp * (1.0 + bend * np.minimum(ramp / coil.limit_amps, 1.5) ** 4)
        flat = _limited(ramp, coil, since, rng)
        until = off - on
        # Cut off: gone within some tens of microseconds.
        gone = np.exp(-np.maximum(since - until, 0.0) / 12e-6)
        held = float(np.interp(until, since, flat)) if since.size else 0.0
        amps[first:last] = np.where(since < until, flat, held * gone)
    return amps


def _limited(ramp: FloatArray, coil: Coil, since: FloatArray, rng: np.random.Generator) -> FloatArray:
    """At the limit the driver holds the current, with a little swing as it gets there."""
    over = np.flatnonzero(ramp >= coil.limit_amps)
    flat = np.minimum(ramp, coil.limit_amps)
    if over.size:
        later = since[over] - since[over[0]]
        flat[over] += (
            0.03 * coil.limit_amps * np.exp(-later / 150e-6) * np.sin(2.0 * np.pi * rng.uniform(5e3, 9e3) * later)
        )
    return flat


def _pulse_s(bench: Bench, run: EngineRun, rpm: float, volts: float) -> float:
    """How long each injector is driven, for the fuel that the engine takes."""
    breather = run.breather
    found = operating_at(bench, breather, rpm)
    path = air_path_of(
        bench.engine, breather.swept_m3, breather.skeleton.cylinders[0].geometry.compression_ratio, bench.seed
    )
    each = float(found.fuelling.fuel_flow[0]) / len(path.bank_of) * 120.0 / rpm
    drop = max(float(found.fuelling.rail_pressure[0]), 1e4)
    rate = path.injector_flow * float(np.asarray(injector_scale(drop, path.supply.set_pressure)))
    if bench.engine.breathing.air.injection == "direct":
        return each / (rate * 2.5) + 0.35e-3
    return each / rate + min(float(np.asarray(dead_time(volts))), 4e-3)


def injector_amps(
    run: EngineRun, bench: Bench, cylinder: int, times_s: FloatArray, pulse_s: float, rng: np.random.Generator
) -> FloatArray:
    """Current of an injector, shape (n,) [A].

    Parameters
    ----------
    run : EngineRun
    bench : Bench
    cylinder : int
    times_s : array, shape (n,) [s]
    pulse_s : float [s]
        While nothing changes.
    rng : numpy.random.Generator

    Returns
    -------
    array, shape (n,) [A]

    Notes
    -----
    A port injector as :func:`witnessmark.physics.actuator.injector_current` has it, its needle a little different each
    time; a direct one is driven by a boosted voltage to a peak and then held by chopping (our guess of the sizes).
    """
    assert run.combustion is not None
    direct = bench.engine.breathing.air.injection == "direct"
    winding = edit_of(bench.state, "winding", place("injector", cylinder))
    usual = Injector(ohm=float(rng.uniform(11.0, 15.5)), pull_amps=float(rng.uniform(0.45, 0.65)))
    usual = replace(usual, rest_henry=usual.rest_henry * float(rng.uniform(0.8, 1.3)), ohm=usual.ohm * winding)
    amps = np.zeros(times_s.size)
    way = run.combustion.way(place("injector", cylinder))
    if winding > _OPEN:
        return amps
    usual = replace(usual, ohm=usual.ohm + way.more_ohm)
    angle = np.maximum.accumulate(run.motion.crank_deg) - run.breather.tops_deg[cylinder]
    ends = np.arange(np.floor(angle[0] / 720.0), np.ceil(angle[-1] / 720.0)) * 720.0
    ends = ends + (_DIRECT_DEG if direct else _INJECTION_DEG)
    ends = ends[(ends > angle[0]) & (ends < angle[-1])]
    volts = run.combustion.volts * way.share
    if volts <= 0.1:
        return amps
    steady, plenum = pulse_s, run.of("plenum")
    usual_pa = float(np.mean(plenum[run.motion.times_s < run.motion.times_s[0] + _STEADY_S]))
    for off in np.interp(ends, angle, run.motion.times_s):
        # More air, more fuel: what is left of the pulse behind its dead time goes with the plenum's pressure.
        filled = float(np.interp(off, run.motion.times_s, plenum)) / usual_pa
        pulse_s = _DEAD_S + max(steady - _DEAD_S, 0.0) * filled
        on = off - pulse_s
        first, last = np.searchsorted(times_s, [on, off + 2e-3])
        since = times_s[first:last] - on
        if direct:
            amps[first:last] = _chopped(since, pulse_s, volts, max(winding, 1e-3))
            continue
        each = replace(usual, pull_amps=usual.pull_amps * float(rng.normal(1.0, 0.015)))
        each = replace(each, travel_seconds=each.travel_seconds * float(rng.normal(1.0, 0.04)))
        course = np.asarray(injector_current(since, volts, each))
        held = float(np.interp(pulse_s, since, course)) if since.size else 0.0
        amps[first:last] = np.where(since < pulse_s, course, held * np.exp(-np.maximum(since - pulse_s, 0.0) / 70e-6))
    return amps


def _chopped(since: FloatArray, pulse_s: float, volts: float, winding: float) -> FloatArray:
    """Peak and hold: up on the boosted voltage, down freely, then sawteeth about the holding current."""
    ohm, henry = 1.5 * winding, 1.8e-4
    up = np.asarray(ramp_current(since, _BOOST_V, ohm, henry))
    peak_at = float(since[np.argmax(up >= _PEAK_A)]) if np.any(up >= _PEAK_A) else np.inf
    fall = _PEAK_A * np.exp(-np.maximum(since - peak_at, 0.0) / 1.1e-4)
    saw = _HOLD_A * (1.0 + 0.12 * (2.0 * np.mod(since / 5.5e-5, 1.0) - 1.0)) * min(volts / (ohm * _HOLD_A), 1.0)
    driven = np.where(since < peak_at, up, np.maximum(fall, saw))
    held = float(np.interp(pulse_s, since, driven)) if since.size else 0.0
    gone = held * np.exp(-np.maximum(since - pulse_s, 0.0) / 2.5e-5)
    return np.asarray(np.where(since < 0.0, 0.0, np.where(since < pulse_s, driven, gone)))


def pump_amps(bench: Bench, run: EngineRun, rpm: float, times_s: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Current of the fuel pump, shape (n,) [A].

    Parameters
    ----------
    bench : Bench
    run : EngineRun
    rpm : float [rpm]
    times_s : array, shape (n,) [s]
    rng : numpy.random.Generator

    Returns
    -------
    array, shape (n,) [A]

    Notes
    -----
    Torque by the pressure it works against and by its own friction; the current dips once for each commutator bar, and
    no two bars are alike. A worn pump (``lift_pump_flow``) has a bar that is worse than the others: our guess.
    """
    assert run.combustion is not None
    winding = edit_of(bench.state, "winding", "pump")
    way = run.combustion.way("pump")
    if winding > _OPEN or way.share <= 0.05:
        return np.zeros(times_s.size)
    worn = float(np.clip(1.0 - edit_of(bench.state, "lift_pump_flow", "pump"), 0.0, 1.0))
    motor = PumpMotor(ohm=PumpMotor().ohm * max(winding, 1e-3), bars=int(rng.choice([8, 8, 10, 12])))
    rail = float(operating_at(bench, run.breather, rpm).fuelling.rail_pressure[0])
    torque = 0.012 + 0.13e-6 * rail * float(rng.uniform(0.9, 1.1)) + 0.02 * worn
    mean = float(np.asarray(pump_current(torque, motor)))
    speed = float(np.asarray(pump_speed(torque, run.combustion.volts * way.share, motor, wiring_ohm=way.more_ohm)))
    wander = np.cumsum(rng.normal(0.0, 1.0, times_s.size)) * 0.002 * np.sqrt(max(times_s[1] - times_s[0], 1e-9))
    turned = speed * (times_s - times_s[0]) * (1.0 + wander) + rng.uniform(0.0, 6.0)
    bars = rng.normal(0.0, 0.06, motor.bars)
    bars[0] -= 0.5 * worn
    at = np.mod(turned / (2.0 * np.pi) * motor.bars, motor.bars)
    which = at.astype(np.int64) % motor.bars
    between = at - np.floor(at)
    # Within a bar the current swings with the EMF; at the change-over it dips.
    swing = 0.09 * (np.cos(2.0 * np.pi * (between - 0.5)) - 0.3 * np.cos(4.0 * np.pi * (between - 0.5)))
    return np.asarray(mean * (1.0 + swing + bars[which] * np.sin(np.pi * between)))

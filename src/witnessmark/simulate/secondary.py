"""Secondary voltage of every coil: firing line, burning, the ring-down of what is left."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from witnessmark.physics.firing import Firing, GasAtSpark
from witnessmark.physics.ignition import Coil, spark_duration, stored_energy
from witnessmark.physics.spark import burn_volts
from witnessmark.simulate.bench import Bench, BenchCapture, Setup, capture_of, engine_run, window_of
from witnessmark.simulate.combustion import firing_of
from witnessmark.simulate.draws import stream
from witnessmark.simulate.enginerun import EngineRun, Spark
from witnessmark.simulate.parts import edit_of, place
from witnessmark.simulate.probes import kilovolt_pickup, probed
from witnessmark.simulate.sampling import Signal

__all__ = ["secondary_voltage"]

FloatArray = NDArray[np.float64]

_TAIL_S = 4e-3
_SCATTER = 0.08  # of the demand from firing to firing, as the physics has it


def secondary_voltage(bench: Bench, setup: Setup, seed: int) -> BenchCapture:
    """Secondary voltage of all cylinders, one pick-up each; the voltage counts upward whatever its sign.

    Parameters
    ----------
    bench : Bench
    setup : Setup
        Running.
    seed : int

    Returns
    -------
    BenchCapture
        Truth: "firings", rows of (time in the file [s], cylinder, firing voltage [kV], spark duration [ms]).
    """
    run = engine_run(bench, setup, seed)
    sampling = window_of(run, setup, seed)
    step, times = setup.scope.step_s, sampling.times_s()
    signals, rows = [], []
    for n in run.breather.numbers:
        rng = stream(seed, "secondary", str(n))
        kv = np.zeros(times.size)
        for spark in (one for one in run.sparks if one.cylinder == n):
            row = _lay(kv, times, spark, run, bench, rng)
            file_s = float(sampling.window.to_file(np.array([spark.at_s]))[0])
            if sampling.window.from_s < spark.at_s < sampling.window.to_s - _TAIL_S:
                rows.append((file_s, float(n), *row))
        pickup = kilovolt_pickup(rng)
        signals.append(Signal(f"secondary {n}", "ignition", probed(kv, step, pickup, rng), pickup, range_v=(-5.0, 5.0)))
    truth = {"firings": np.asarray(sorted(rows), dtype=np.float64).reshape(-1, 4)}
    effects = ("pickup", "turbulence", "burning", "valve_train", "wall_heat")
    return capture_of(
        signals, run, sampling, setup, bench, test="scope_secondary", seed=seed, truth=truth, effects=effects
    )


def _lay(
    kv: FloatArray, times: FloatArray, spark: Spark, run: EngineRun, bench: Bench, rng: np.random.Generator
) -> tuple[float, float]:
    """Lay one firing over the trace; its firing voltage [kV] and how long it burnt [ms]."""
    combustion = run.combustion
    assert combustion is not None
    gas = GasAtSpark(spark.pressure_pa, spark.kelvin)
    firing = firing_of(combustion, bench.state, spark.cylinder, gas, gap_scale=float(np.exp(rng.normal(0.0, _SCATTER))))
    n = spark.cylinder
    gap = max(edit_of(bench.state, "spark_gap", place("plug", n)), 0.05)
    burning = float(np.asarray(burn_volts(gap, spark.pressure_pa))) / 1e3 * float(rng.normal(1.0, 0.06))
    lasts = _lasting(firing, combustion.coil, bench, n, burning)
    top = float(np.asarray(firing.firing_kv))
    begin = spark.at_s - combustion.dwell_s
    first, last = np.searchsorted(times, [begin - 1e-4, spark.at_s + lasts + _TAIL_S])
    t = times[first:last]
    kv[first:last] += _dwell_ring(t - begin, combustion.dwell_s, float(np.asarray(firing.primary_amps)))
    kv[first:last] += _fired(t - spark.at_s, top, burning, lasts, combustion.coil, rng)
    return top, 1e3 * lasts


def _lasting(firing: Firing, coil: Coil, bench: Bench, n: int, burning_kv: float) -> float:
    """How long the spark burns with this firing's own burning voltage [s]."""
    if float(np.asarray(firing.spark_seconds)) <= 0.0:
        return 0.0
    share = max(edit_of(bench.state, "coil_energy", place("coil", n)), 0.0)
    energy = stored_energy(firing.primary_amps, coil, coil_energy=share)
    more = max(edit_of(bench.state, "resistance", place("boot", n)), 0.0)
    series = 0.0 if more >= 1e7 else more
    # Flow draws the arc out: the voltage climbs, and the spark is shorter than a quiet one.
    found = spark_duration(energy, firing.firing_kv, coil, burn_volts=1e3 * burning_kv * 1.25, more_ohm=series)
    return float(np.asarray(found))


def _dwell_ring(since: FloatArray, dwell_s: float, amps: float) -> FloatArray:
    """Switching the primary on rings the secondary, by about a kilovolt."""
    if amps < 0.05:
        return np.zeros(since.size)
    inside = (since > 0.0) & (since < dwell_s)
    swing = np.exp(-np.maximum(since, 0.0) / 2.2e-4) * np.cos(2.0 * np.pi * 9e3 * np.maximum(since, 0.0))
    return np.asarray(np.where(inside, -0.9 * (0.25 * np.exp(-np.maximum(since, 0.0) / 1.5e-3) + 0.75 * swing), 0.0))


def _fired(
    since: FloatArray, top_kv: float, burning_kv: float, lasts_s: float, coil: Coil, rng: np.random.Generator
) -> FloatArray:
    """Up to the firing voltage, down to the burning one, and the ring of what energy is left."""
    own = 1.0 / (2.0 * np.pi * np.sqrt(coil.henry * coil.turns**2 * coil.picofarad * 1e-12))
    rise_s = 0.25 / own * min(top_kv / 30.0, 1.0) + 6e-6
    rising = np.clip((since + rise_s) / rise_s, 0.0, 1.0) ** 1.3 * top_kv
    after = np.maximum(since, 0.0)
    if lasts_s <= 0.0:
        # Nothing breaks down: the coil swings with its capacitance until that has died away.
        swing = top_kv * np.exp(-after / 2.5e-4) * np.cos(2.0 * np.pi * own * after)
        return np.asarray(np.where(since < 0.0, rising * (since > -rise_s), swing))
    share = np.clip(after / lasts_s, 0.0, 1.0)
    climb = 1.0 + float(rng.uniform(0.1, 0.5)) * share**2
    points = np.cumsum(rng.normal(0.0, 0.04, 40))
    flicker = np.interp(share, np.linspace(0.0, 1.0, 40), points - np.linspace(points[0], points[-1], 40))
    strike = (top_kv - burning_kv) * np.exp(-after / 3e-6)
    burning = burning_kv * np.maximum(climb + flicker, 0.3) + strike
    left = np.maximum(since - lasts_s, 0.0)
    ring = 2.2 * burning_kv * np.exp(-left / 3.0e-4) * np.cos(2.0 * np.pi * 0.8 * own * left)
    return np.asarray(np.where(since < 0.0, rising * (since > -rise_s), np.where(since < lasts_s, burning, ring)))

"""Tests of which a recording can be computed: how each is set up, and which stretch of it wants a closer look."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from witnessmark.engine.types import Engine
from witnessmark.errors import InputError, one_of

if TYPE_CHECKING:
    from witnessmark.engine.state import State
    from witnessmark.recording.types import Recording, Trace
    from witnessmark.simulate.bench import BenchCapture
    from witnessmark.simulate.instruments import Scope

__all__ = ["BENCH_TESTS", "BenchTest", "bench_capture", "closer_looks"]


@dataclass(frozen=True, slots=True)
class BenchTest:
    """One test.

    Parameters
    ----------
    words : str
        What is done, in words.
    shows : str
        What the picture shows, in a sentence.
    running : tuple of str
        How the engine may run, the usual way first; "drive" for values logged on the way.
    seconds : float [s]
    rate_hz : float [Hz]
        Usual samples a second; 0 where values are logged.
    snap_seconds : float [s]
        Of a recording with the throttle snapped.
    """

    words: str
    shows: str
    running: tuple[str, ...]
    seconds: float = 0.0
    rate_hz: float = 0.0
    snap_seconds: float = 1.1


BENCH_TESTS: Mapping[str, BenchTest] = {
    "current_compression": BenchTest(
        "Crank with fuel or spark off and record battery current and voltage beside a cylinder reference",
        "Current and voltage of the battery from before the starter engages, and the command to one cylinder’s coil: "
        "its fall stands just before that cylinder’s top dead centre.",
        ("cranking",), 2.6, 20e3,
    ),
    "incylinder_crank": BenchTest(
        "Take a pressure trace in one cylinder while cranking, with the crank signal beside it",
        "Pressure in the cylinder, absolute, as the transducer gives it, and the crank sensor.",
        ("cranking",), 2.0, 50e3,
    ),
    "incylinder_run": BenchTest(
        "Take a pressure trace in one cylinder without its spark, the engine running, with the crank signal beside it",
        "Pressure in the cylinder that does not fire, absolute, as the transducer gives it, and the crank sensor.",
        ("idle", "raised", "snap"), 1.0, 50e3, 2.4,
    ),
    "incylinder_fired": BenchTest(
        "Take a pressure trace in one cylinder that fires, with the crank signal beside it",
        "Pressure in the firing cylinder, absolute, as the transducer gives it, and the crank sensor.",
        ("idle", "raised"), 1.0, 50e3,
    ),
    "scope_actuators": BenchTest(
        "Clamp coil, injector and fuel pump and record their currents",
        "Currents of one cylinder’s coil and injector and of the fuel pump.",
        ("idle", "snap", "raised"), 0.5, 200e3,
    ),
    "scope_secondary": BenchTest(
        "Record the secondary voltage of every coil",
        "Secondary voltage of every cylinder, counted upward.",
        ("idle", "snap", "raised"), 0.5, 200e3,
    ),
    "scope_charging": BenchTest(
        "Record battery voltage, its ripple and the alternator’s current with loads on",
        "Voltage at the battery’s posts, its ripple alone, and the alternator’s current.",
        ("idle", "raised"), 0.4, 50e3,
    ),
    "pulses": BenchTest(
        "Record the pressure pulses in the intake and at the tail pipe beside a cylinder reference",
        "Pressure in the intake and at the tail pipe over the surroundings, and the command to one cylinder’s coil.",
        ("idle", "cranking"), 1.0, 20e3,
    ),
    "trims_at_speeds": BenchTest(
        "Log trims and air values warm, at idle, at 2500 rpm and on the road", "Values as the computer gave them.",
        ("drive",),
    ),
    "air_readings": BenchTest(
        "Log air values from key-on through start, idle and 2500 rpm to a snapped throttle",
        "Values as the computer gave them.", ("drive",),
    ),
    "cold_to_hot": BenchTest(
        "Log temperatures and trims from a cold start until warm", "Values as the computer gave them.", ("drive",),
    ),
    "road_recorder": BenchTest(
        "Leave a recorder on the diagnostic port for a drive", "Values as the computer gave them.", ("drive",),
    ),
}  # fmt: skip


def bench_capture(
    test: str, engine: Engine, state: State, *, running: str, cylinder: int, rate_hz: float | None, seed: int
) -> BenchCapture:
    """Compute the recording of a test.

    Parameters
    ----------
    test : str
        One of :data:`BENCH_TESTS`.
    engine : Engine
        With its drive described.
    state : State
        Of the drive, with what is wrong; everything else is drawn sound.
    running : str
    cylinder : int
    rate_hz : float, optional [Hz]
        Usual where left out.
    seed : int

    Returns
    -------
    BenchCapture

    Raises
    ------
    InputError
        For a way of running or a rate that the test does not have.
    """
    from witnessmark.simulate.bench import Setup, build_bench
    from witnessmark.simulate.parts import healthy_engine
    from witnessmark.simulate.scanlog import ScanSetup, scan_log
    from witnessmark.simulate.scenario import Disturbances

    known = BENCH_TESTS[test]
    if running not in known.running:
        raise one_of("way of running", running, known.running)
    whole = healthy_engine(engine, state, np.random.default_rng([seed, 41]))
    bench = build_bench(engine, whole, seed)
    if not known.rate_hz:
        if rate_hz is not None:
            raise InputError(f"{test} is a log and has no sampling rate", todo="Leave --rate out")
        return scan_log(bench, ScanSetup(test), seed)
    rng = np.random.default_rng([seed, 42])
    setup = Setup(
        running, known.snap_seconds if running == "snap" else known.seconds,
        _scope(rate_hz or known.rate_hz, rng), cylinder,
        from_rest=test == "current_compression", loads_on=test == "scope_charging",
        disturbances=Disturbances(sparks_v=float(rng.uniform(0.1, 0.6)) if running != "cranking" else 0.0),
        coolant_c=25.0 if running == "cranking" else 88.0,
    )  # fmt: skip
    return _recorders()[test](bench, setup, seed)


def _scope(rate_hz: float, rng: np.random.Generator) -> Scope:
    from witnessmark.simulate.instruments import Scope

    return Scope(
        step_s=1.0 / rate_hz, bits=int(rng.choice([8, 12, 12, 16])), ranged=True,
        noise_v=float(rng.uniform(0.002, 0.012)), drift_v=float(rng.uniform(0.0, 0.03)),
        hum_v=float(rng.uniform(0.0, 0.006)), clock_ppm=float(rng.normal(0.0, 30.0)),
    )  # fmt: skip


def _recorders() -> Mapping[str, Callable[..., BenchCapture]]:
    from witnessmark.simulate.actuatorcurrent import actuator_currents
    from witnessmark.simulate.cylinderpressure import cylinder_pressure
    from witnessmark.simulate.pulsation import pulses
    from witnessmark.simulate.ripple import charging
    from witnessmark.simulate.secondary import secondary_voltage
    from witnessmark.simulate.startercurrent import starter_current

    return {
        "current_compression": starter_current,
        "incylinder_crank": cylinder_pressure,
        "incylinder_run": cylinder_pressure,
        "incylinder_fired": lambda bench, setup, seed: cylinder_pressure(bench, setup, seed, fired=True),
        "scope_actuators": actuator_currents,
        "scope_secondary": secondary_voltage,
        "scope_charging": charging,
        "pulses": pulses,
    }


def closer_looks(test: str, recording: Recording, cylinder: int) -> list[tuple[tuple[int, ...], float, float]]:
    """Stretches of a recording to draw once more, larger.

    Parameters
    ----------
    test : str
    recording : Recording
    cylinder : int

    Returns
    -------
    list of (channels, from, to)
        Which traces, and the stretch [s].
    """
    traces, every = recording.traces, tuple(range(len(recording.traces)))
    low, high = recording.span_s
    if test.startswith("incylinder") and high - low < 2.2:
        peak = _peak(traces[0], low + 0.25 * (high - low), high - 0.15 * (high - low))
        wide = 0.45 if test == "incylinder_crank" else 0.1
        return [(every, max(peak - 0.45 * wide, low), min(peak + 0.55 * wide, high))]
    if test == "current_compression":
        return [(every, low + 0.55 * (high - low), low + 0.95 * (high - low))]
    if test == "scope_actuators":
        found: list[tuple[tuple[int, ...], float, float]] = []
        for channel, before, after in ((0, 0.004, 0.003), (1, 0.004, 0.006), (2, 0.0, 0.02)):
            at = _peak(traces[channel], low + 0.02, high - 0.03)
            found.append(((channel,), at - before, at + after))
        return found
    if test == "scope_secondary":
        channel = min(cylinder, len(traces)) - 1
        at = _peak(traces[channel], low + 0.01, high - 0.01)
        return [((channel,), at - 0.005, at + 0.005)]
    if test == "scope_charging":
        middle = 0.5 * (low + high)
        return [(every, middle - 0.008, middle + 0.008)]
    return []


def _peak(trace: Trace, low: float, high: float) -> float:
    times, values = trace.times_s, trace.values
    inside = np.flatnonzero((times > low) & (times < high))
    return float(times[inside[np.argmax(values[inside])]]) if inside.size else low

"""A vehicle on the bench: its world, how it is set up for a test, and what a test gives."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import State
from witnessmark.engine.types import Engine
from witnessmark.errors import InputError, one_of
from witnessmark.physics.demand import idling
from witnessmark.physics.demand import running as held
from witnessmark.physics.operating import OperatingPoint, operating_point
from witnessmark.recording.types import Recording
from witnessmark.simulate.airway import air_path_of, air_state_of
from witnessmark.simulate.breathing import Breather, build_breather
from witnessmark.simulate.channels import Window
from witnessmark.simulate.combustion import build_combustion
from witnessmark.simulate.cranking import build_starting
from witnessmark.simulate.draws import stream
from witnessmark.simulate.enginerun import EngineRun, cranked, running
from witnessmark.simulate.instruments import Scope
from witnessmark.simulate.onboard import build_onboard
from witnessmark.simulate.sampling import Sampling, Signal, recorded
from witnessmark.simulate.scenario import Disturbances
from witnessmark.simulate.vehicle import Vehicle, build_vehicle
from witnessmark.simulate.wiring import starters_way_ohm
from witnessmark.simulate.world import World, build_world
from witnessmark.vocabulary import Condition

__all__ = [
    "FASTEST_S",
    "SLOWEST_S",
    "Bench",
    "BenchCapture",
    "Setup",
    "build_bench",
    "capture_of",
    "engine_run",
    "operating_at",
    "window_of",
]

FloatArray = NDArray[np.float64]

SLOWEST_S, FASTEST_S = 1e-4, 5e-7
"""From sample to sample: 10 kS/s to 2 MS/s."""

_STATES = ("cranking", "idle", "raised", "snap")
_USUAL_RPM = {"idle": 780.0, "raised": 2500.0, "snap": 780.0}
_SPARK_DEG = {"idle": 12.0, "raised": 28.0, "snap": 14.0}
_WALL_K = {"cranking": 315.0, "idle": 400.0, "raised": 420.0, "snap": 405.0}
_LEAD_S = 0.12
_SNAP_S = 0.35  # after the recording began


@dataclass(frozen=True, slots=True)
class Setup:
    """How a test is recorded.

    Parameters
    ----------
    running : str
        "cranking", "idle", "raised" or "snap".
    seconds : float [s]
    scope : Scope
    cylinder : int
        That is looked at.
    rpm : float, optional [rpm]
        Usual where left out.
    from_rest : bool
        A cranking recording that begins before the starter engages; else anywhere in the cycle.
    reference : str
        What stands beside: "ignition" or "cam".
    loads_on : bool
        Lamps, fan and rear window.
    disturbances : Disturbances
    coolant_c : float, optional [C]
    time_zero_s : float [s]
        What the file calls the time of its first row.
    """

    running: str = "idle"
    seconds: float = 1.0
    scope: Scope = field(default_factory=Scope)
    cylinder: int = 1
    rpm: float | None = None
    from_rest: bool = False
    reference: str = "ignition"
    loads_on: bool = False
    disturbances: Disturbances = field(default_factory=Disturbances)
    coolant_c: float | None = None
    time_zero_s: float = 0.0

    def __post_init__(self) -> None:
        if self.running not in _STATES:
            raise one_of("way of running", self.running, _STATES)
        if self.reference not in ("ignition", "cam"):
            raise one_of("reference", self.reference, ("ignition", "cam"))
        if not 0.999 * FASTEST_S <= self.scope.step_s <= 1.001 * SLOWEST_S:
            raise InputError(
                f"{1e-3 / self.scope.step_s:g} kS/s given", expected="10 kS/s to 2 MS/s", where="sampling rate"
            )

    @property
    def speed_rpm(self) -> float:
        """Speed aimed at, where it runs [rpm]."""
        return self.rpm if self.rpm is not None else _USUAL_RPM.get(self.running, 780.0)

    def condition(self) -> Condition:
        """As a technician would note it."""
        return Condition(state=self.running, coolant_c=self.coolant_c)


@dataclass(frozen=True, slots=True, eq=False)
class Bench:
    """A vehicle in a state.

    Parameters
    ----------
    world : World
    """

    world: World

    @property
    def engine(self) -> Engine:
        """As described."""
        return self.world.vehicle.engine

    @property
    def state(self) -> State:
        """What is wrong with it."""
        return self.world.state

    @property
    def seed(self) -> int:
        """Of the vehicle."""
        return self.world.vehicle.seed


@dataclass(frozen=True, slots=True, eq=False)
class BenchCapture:
    """A simulated recording of a whole engine, with what is known of it.

    Parameters
    ----------
    recording : Recording
    run : EngineRun, optional
        What the engine did; the motion's time.
    window : Window, optional
        The stretch of it that was recorded.
    truth : mapping of str to array
        What an ideal instrument would have shown, by name; units with the test that made it.
    unmodelled : tuple of str
        Names out of :data:`witnessmark.simulate.unmodelled.UNMODELLED`.
    seed : int
    """

    recording: Recording
    run: EngineRun | None
    window: Window | None
    truth: Mapping[str, FloatArray]
    unmodelled: tuple[str, ...]
    seed: int


def build_bench(engine: Engine | Vehicle, state: State, seed: int) -> Bench:
    """Put a vehicle on the bench.

    Parameters
    ----------
    engine : Engine or Vehicle
        An engine's vehicle is built from the seed; give a vehicle to record the same one again.
    state : State
        One row.
    seed : int

    Returns
    -------
    Bench
    """
    vehicle = engine if isinstance(engine, Vehicle) else build_vehicle(engine, seed)
    return Bench(build_world(vehicle, state))


def operating_at(bench: Bench, breather: Breather, rpm: float, *, load_pa: float = 0.0) -> OperatingPoint:
    """Where air and fuel settle at a speed without load, or with some.

    Parameters
    ----------
    bench : Bench
    breather : Breather
    rpm : float [rpm]
    load_pa : float [Pa]
        Brake mean effective pressure.

    Returns
    -------
    OperatingPoint
    """
    ratio = breather.skeleton.cylinders[0].geometry.compression_ratio
    path = air_path_of(bench.engine, breather.swept_m3, ratio, bench.seed)
    demand = idling(path, rpm) if rpm < 1200.0 and load_pa == 0.0 else held(path, rpm, load_pa)
    return operating_point(path, air_state_of(bench.engine, bench.state), demand)


def engine_run(
    bench: Bench,
    setup: Setup,
    seed: int,
    *,
    silent: tuple[int, ...] = (),
    adaptors_m3: Mapping[int, float] | None = None,
) -> EngineRun:
    """The engine as the test wants it to run.

    Parameters
    ----------
    bench : Bench
    setup : Setup
    seed : int
    silent : tuple of int
        Cylinders that shall not fire.
    adaptors_m3 : mapping of int to float [m3], optional
        What transducer and adaptor add above a piston.

    Returns
    -------
    EngineRun

    Raises
    ------
    InputError
        For a cylinder that the engine does not have, or an engine that does not keep running.
    """
    if not 1 <= setup.cylinder <= bench.engine.cylinders:
        raise InputError(f"cylinder {setup.cylinder} given", expected=f"1 to {bench.engine.cylinders}")
    breather = build_breather(bench.world, wall_k=_WALL_K[setup.running], adaptors_m3=adaptors_m3)
    long = setup.seconds + _LEAD_S + 1.3
    if setup.running == "cranking":
        more = starters_way_ohm(bench.engine, bench.state)
        starting = build_starting(bench.state, breather.swept_m3, bench.seed, more_ohm=more)
        return cranked(breather, starting, seconds=long, seed=seed)
    rpm = setup.speed_rpm
    found = operating_at(bench, breather, rpm)
    mixture = dict(zip(breather.numbers, found.fuelling.lambda_cylinder[0].tolist(), strict=True))
    volts = build_onboard(bench.state, bench.seed, loads_on=setup.loads_on).volts(rpm) - 0.6  # driver and wiring
    combustion = build_combustion(bench.world, mixture, spark_deg=_SPARK_DEG[setup.running], volts=volts, silent=silent)
    snap = _LEAD_S + 0.3 + _SNAP_S if setup.running == "snap" else None
    return running(breather, combustion, rpm=rpm, seconds=long, seed=seed, snap_s=snap)


def window_of(run: EngineRun, setup: Setup, seed: int) -> Sampling:
    """Which stretch of a run is recorded: from before it was cranked, or from anywhere in the cycle.

    Parameters
    ----------
    run : EngineRun
    setup : Setup
    seed : int

    Returns
    -------
    Sampling
    """
    rng = stream(seed, "window")
    if setup.from_rest:
        begin = max(run.engaged_s - float(rng.uniform(0.06, 0.12)), _LEAD_S)
    else:
        settled = 0.75 if run.starting is not None else _LEAD_S  # the first turns pass before anybody presses record
        begin = settled + float(rng.uniform(0.0, 0.35 if run.starting is not None else 0.16))
    if setup.running == "snap":
        begin = _LEAD_S + 0.3
    window = Window(begin, begin + setup.seconds, setup.time_zero_s, setup.scope.clock_ppm)
    return Sampling(window, setup.scope, setup.seconds)


def capture_of(
    signals: list[Signal], run: EngineRun | None, sampling: Sampling, setup: Setup, bench: Bench, *, test: str,
    seed: int, truth: Mapping[str, FloatArray], effects: tuple[str, ...],
) -> BenchCapture:  # fmt: skip
    """A capture from its signals.

    Parameters
    ----------
    signals : list of Signal
    run : EngineRun, optional
    sampling : Sampling
    setup : Setup
    bench : Bench
    test : str
    seed : int
    truth : mapping of str to array
    effects : tuple of str
        Names out of :data:`witnessmark.simulate.unmodelled.UNMODELLED` that this test brings with it.

    Returns
    -------
    BenchCapture
    """
    recording = recorded(signals, sampling, setup.condition(), name=f"{test}.csv", seed=seed, vehicle=bench.seed)
    found = ["clipping", *effects]
    scope, what = setup.scope, setup.disturbances
    if scope.clock_ppm:
        found.append("clock")
    if scope.skew_s:
        found.append("skew")
    if scope.drift_v or scope.hum_v:
        found.append("drift")
    if any(signal.role in (CRANK, "cam") for signal in signals):
        found += ["cutting", "sensor_lag", "ripple", "pull_up"]
    if any(signal.role == "cam" for signal in signals):
        found += ["cam_swing", "cam_restless"]
    if what.glitches_hz or what.lost_hz or what.dropouts_hz or what.sparks_v:
        found.append("strays")
    return BenchCapture(recording, run, sampling.window, truth, tuple(dict.fromkeys(found)), seed)

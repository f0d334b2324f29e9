"""A seeded capture: engine, state and test condition in; a recording as an instrument gives it, and the truth, out.

What the simulated engine and instruments do beyond what the measurement assumes is listed in :data:`UNMODELLED`; each
capture says which of it is in it. A truth found again in spite of it means something.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.drive import CRANK
from witnessmark.engine.state import HEALTHY, State
from witnessmark.engine.types import Engine
from witnessmark.recording.types import ExplicitTime, Recording, RegularTime, TimeBase, Trace
from witnessmark.simulate.cammotion import CamPhase, cam_phase
from witnessmark.simulate.channels import Channel, Window, channel_of, conditioned, sampled_volts
from witnessmark.simulate.instruments import LogicAnalyser, Scope, edge_rows, sampled
from witnessmark.simulate.motion import Motion, integrate_motion
from witnessmark.simulate.scenario import Scenario, draw_scenario, drive_of
from witnessmark.simulate.sensors import Level
from witnessmark.simulate.truth import CamTruth, Truth, WheelTruth
from witnessmark.simulate.vehicle import Vehicle, build_vehicle, stream
from witnessmark.simulate.wheels import passes_of
from witnessmark.simulate.world import World, build_world
from witnessmark.source import Step, digest_bytes

__all__ = ["UNMODELLED", "Capture", "capture_from_seed", "simulate_capture"]

FloatArray = NDArray[np.float64]

UNMODELLED: Mapping[str, str] = {
    "cutting": "every tooth of every wheel stands a little off its place, and each wheel a little off centre",
    "cam_swing": "the valve springs swing each cam once per lobe: its edges stand off its mean phase by a fixed amount",
    "cam_restless": "each firing moves the cam a little differently",
    "sensor_lag": "each sensor answers some microseconds late, one more than the other",
    "flux": "the edges of the other kind come early or late beside a gap",
    "ripple": "speed changes within a tooth gap: time is not shared evenly over angle",
    "clock": "the instrument's clock runs a little fast or slow",
    "hunting": "a phaser held off its stop hunts slowly about its place",
    "pull_up": "a switched signal rises more slowly than it falls",
    "skew": "the converter takes its channels one after the other and notes one time for all",
    "drift": "the zero of a channel wanders, and mains hum rides on it",
    "clipping": "the converter's range cuts the peaks",
    "strays": "stray pulses, teeth without a trace, loose terminals, ignition ringing",
}
"""Effects that the measurement model leaves out, by name."""

_ALWAYS = ("cutting", "cam_swing", "cam_restless", "sensor_lag", "flux", "ripple", "clock")
_TRUTH_POINTS = 20_000


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
    recording = _recording(channels, world, motion, shafts, scenario, window, seed, name or f"simulated_{seed}.csv")
    truth = _truth(channels, world, motion, shafts, phases, window)
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


def _recording(
    channels: Sequence[Channel],
    world: World,
    motion: Motion,
    shafts: Mapping[str, FloatArray],
    scenario: Scenario,
    window: Window,
    seed: int,
    name: str,
) -> Recording:
    rng = stream(seed, "instrument")
    order = _column_order(channels, rng)
    instrument = scenario.instrument
    if isinstance(instrument, LogicAnalyser):
        traces = _edge_traces(order, instrument, window)
    else:
        traces = _sampled_traces(order, instrument, world, motion, shafts, scenario, window, seed)
    content = b"".join(np.ascontiguousarray(trace.raw).tobytes() for trace in traces)
    times = np.asarray(traces[0].time.span_s).tobytes()
    return Recording(
        traces=traces,
        digest=digest_bytes(times + content),
        name=name,
        format="simulated",
        history=(Step("simulate", f"seed {seed}, vehicle {world.vehicle.seed}"),),
        condition=scenario.condition(),
    )


def _column_order(channels: Sequence[Channel], rng: np.random.Generator) -> list[Channel]:
    """The crank comes first as a rule, and not always."""
    order = list(channels)
    if rng.random() < 0.25:
        return [order[k] for k in rng.permutation(len(order))]
    return order


def _trace(
    channel: Channel, column: int, raw: NDArray[np.generic], time: TimeBase, scale: float, offset: float
) -> Trace:
    return Trace(
        name=f"channel {column}",
        channel=column,
        raw=raw,
        time=time,
        role=CRANK if channel.wheel == CRANK else "cam",
        scale=scale,
        offset=offset,
        wheel=channel.wheel,
    )


def _edge_traces(order: Sequence[Channel], analyser: LogicAnalyser, window: Window) -> tuple[Trace, ...]:
    levels = []
    for channel in order:
        assert channel.level is not None
        levels.append(Level(channel.level.starts_high, window.to_file(channel.level.times_s)))
    first, last = window.to_file(np.array([window.from_s, window.to_s]))
    times, states = edge_rows(levels, analyser.tick_s, float(first), float(last))
    time = ExplicitTime(times)
    return tuple(
        replace(_trace(channel, k, states[:, k], time, 1.0, 0.0), kind="levels", stamp_s=analyser.tick_s)
        for k, channel in enumerate(order)
    )


def _sampled_traces(
    order: Sequence[Channel],
    scope: Scope,
    world: World,
    motion: Motion,
    shafts: Mapping[str, FloatArray],
    scenario: Scenario,
    window: Window,
    seed: int,
) -> tuple[Trace, ...]:
    count = int(scenario.seconds / scope.step_s)
    time = RegularTime(window.zero_s, scope.step_s, count)
    at = window.to_motion(np.asarray(time.times_s))
    traces = []
    for k, channel in enumerate(order):
        rng = stream(seed, "sampling", channel.wheel)
        taken = at + k * scope.skew_s
        volts = sampled_volts(channel, taken, world, motion, shafts[channel.wheel], scenario, scope, rng)
        counts, per_count, at_zero = sampled(volts, scope, rng)
        traces.append(replace(_trace(channel, k, counts, time, per_count, at_zero), unit="V"))
    return tuple(traces)


def _truth(
    channels: Sequence[Channel],
    world: World,
    motion: Motion,
    shafts: Mapping[str, FloatArray],
    phases: Mapping[str, CamPhase],
    window: Window,
) -> Truth:
    inside = np.flatnonzero((motion.times_s >= window.from_s) & (motion.times_s <= window.to_s))
    thinned = inside[:: max(1, inside.size // _TRUTH_POINTS)]
    index = (world.vehicle.reference_deg - world.early_deg[CRANK]) % 360.0
    cams = {
        cam: _cam_truth(world, cam, motion, shafts[cam], phase, window, thinned, index) for cam, phase in phases.items()
    }
    return Truth(
        times_s=window.to_file(motion.times_s[thinned]),
        crank_deg=motion.crank_deg[thinned],
        speed_rpm=motion.speed_rpm[thinned],
        index_deg=index,
        cams=cams,
        wheels={
            channel.wheel: _wheel_truth(channel, world, shafts[channel.wheel], inside, window) for channel in channels
        },
    )


def _cam_truth(
    world: World,
    cam: str,
    motion: Motion,
    shaft_deg: FloatArray,
    phase: CamPhase,
    window: Window,
    thinned: NDArray[np.intp],
    index_deg: float,
) -> CamTruth:
    wheel = world.wheels[cam]
    passes = passes_of(motion.times_s, shaft_deg, wheel.at_deg, wheel.period_deg)
    seen = (passes.times_s >= window.from_s) & (passes.times_s <= window.to_s) & passes.forward
    behind = (motion.angle_at(passes.times_s[seen]) - index_deg) % 720.0
    edge = passes.edge[seen]
    places, spread, left = np.full(wheel.made_deg.size, np.nan), 0.0, 0
    for k in range(wheel.made_deg.size):
        own = behind[edge == k]
        if own.size:
            near = own[0] + (own - own[0] + 360.0) % 720.0 - 360.0
            places[k] = near.mean() % 720.0
            spread += float(((near - near.mean()) ** 2).sum())
            left += own.size - 1
    sensed = phase.true_deg[thinned] + world.early_deg[cam] - world.early_deg[CRANK]
    return CamTruth(
        rest_deg=world.rest_deg[cam],
        at_sensors_deg=sensed,
        command_deg=phase.command_deg[thinned],
        edges_rising=wheel.rising,
        edges_made_deg=wheel.made_deg,
        edges_deg=places,
        scatter_deg=float(np.sqrt(spread / left)) if left > 0 else float("nan"),
        passes=int(edge.size),
    )


def _wheel_truth(
    channel: Channel, world: World, shaft_deg: FloatArray, inside: NDArray[np.intp], window: Window
) -> WheelTruth:
    cut = channel.cut
    even = cut.rising[cut.even]
    turned = float(np.abs(np.diff(shaft_deg[inside])).sum()) / cut.period_deg
    errors = cut.even_errors_deg
    return WheelTruth(
        teeth=int(cut.even.sum()),
        made=int(world.vehicle.wheels[channel.wheel].even.sum()),
        even_edge="rising" if even[0] else "falling",
        polarity=channel.polarity,
        pitch_errors_deg=errors - errors.mean(),
        turns=turned,
        lost_s=_within(channel.lost_s, window),
        added_s=_within(channel.added_s, window),
    )


def _within(times_s: FloatArray, window: Window) -> FloatArray:
    return window.to_file(times_s[(times_s >= window.from_s) & (times_s <= window.to_s)])


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

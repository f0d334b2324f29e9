"""Signals to a recording: columns, clock, converter."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.drive import CRANK
from witnessmark.recording.types import ExplicitTime, Recording, RegularTime, TimeBase, Trace
from witnessmark.simulate.channels import Channel, Window, sampled_volts
from witnessmark.simulate.draws import stream
from witnessmark.simulate.instruments import LogicAnalyser, Scope, edge_rows, sampled, set_range
from witnessmark.simulate.motion import Motion
from witnessmark.simulate.scenario import Scenario
from witnessmark.simulate.sensors import Level
from witnessmark.simulate.world import World
from witnessmark.source import Step, digest_bytes

__all__ = ["recording_of"]

FloatArray = NDArray[np.float64]


def recording_of(
    channels: Sequence[Channel],
    world: World,
    motion: Motion,
    shafts: Mapping[str, FloatArray],
    scenario: Scenario,
    window: Window,
    seed: int,
    name: str,
) -> Recording:
    """The file that an instrument would have written.

    Parameters
    ----------
    channels : sequence of Channel
    world : World
    motion : Motion
    shafts : mapping of wheel id to array [deg]
        How far each wheel has turned, at ``motion.times_s``.
    scenario : Scenario
    window : Window
    seed : int
    name : str

    Returns
    -------
    Recording
    """
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
        own = set_range(scope, volts) if scope.ranged else scope
        counts, per_count, at_zero = sampled(volts, own, rng)
        traces.append(replace(_trace(channel, k, counts, time, per_count, at_zero), unit="V"))
    return tuple(traces)

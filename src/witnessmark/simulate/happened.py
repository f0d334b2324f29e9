"""From the motion of an engine to the truth of its recording."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from witnessmark.engine.drive import CRANK
from witnessmark.simulate.cammotion import CamPhase
from witnessmark.simulate.channels import Channel, Window
from witnessmark.simulate.motion import Motion
from witnessmark.simulate.truth import CamTruth, Truth, WheelTruth
from witnessmark.simulate.wheels import passes_of
from witnessmark.simulate.world import World

__all__ = ["truth_of"]

FloatArray = NDArray[np.float64]

_TRUTH_POINTS = 20_000


def truth_of(
    channels: Sequence[Channel],
    world: World,
    motion: Motion,
    shafts: Mapping[str, FloatArray],
    phases: Mapping[str, CamPhase],
    window: Window,
) -> Truth:
    """What an ideal instrument at ideal places would have seen.

    Parameters
    ----------
    channels : sequence of Channel
    world : World
    motion : Motion
    shafts : mapping of wheel id to array [deg]
    phases : mapping of cam id to CamPhase
    window : Window

    Returns
    -------
    Truth
    """
    inside = np.flatnonzero((motion.times_s >= window.from_s) & (motion.times_s <= window.to_s))
    thinned = inside[:: max(1, inside.size // _TRUTH_POINTS)]
    index = world.vehicle.reference_deg - world.early_deg[CRANK]
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
    # Where the edges should be, less where they were: early is positive.
    passed = places + index_deg + world.early_deg[CRANK]
    early = (wheel.at_deg - passed + 360.0) % 720.0 - 360.0
    sensed = phase.true_deg[thinned] + world.early_deg[cam] - world.early_deg[CRANK]
    return CamTruth(
        rest_deg=world.rest_deg[cam],
        at_sensors_deg=sensed,
        command_deg=phase.command_deg[thinned],
        edges_rising=wheel.rising,
        edges_made_deg=wheel.made_deg,
        edges_deg=places,
        phase_at_edges_deg=float(np.nanmean(early)) if np.isfinite(early).any() else float("nan"),
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

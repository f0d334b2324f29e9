"""What each channel of a recording is, from its edges alone: headings may lie.

The crank is the channel whose edges follow a known wheel; a cam is one whose edges come again every two turns of it.
What does neither (coils, injectors) stays unknown.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from witnessmark.decode.anglemap import AngleMap, angle_map
from witnessmark.decode.cam import CamReading, join_parts, read_cam
from witnessmark.decode.identify import Identification, WheelGuess, identify_wheel
from witnessmark.decode.lock import WheelLock
from witnessmark.decode.wheel import lock_wheel
from witnessmark.engine.tonewheel import WheelPattern

__all__ = ["Channel", "ChannelRole", "Roles", "find_roles"]

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

_LEAST_EDGES = 12
# A wheel is taken at these odds; the description makes it known for certain.
_SURE = 0.8
# Of a cam's edges at a known crank angle at least this share must come again.
_CAM_SHARE = 0.7
_CAM_SCATTER_DEG = 5.0
# Pulses of coils and injectors last a time, those of wheels an angle: told once the speed varies by this share.
_SPEED_VARIES = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class Channel:
    """Edges of one channel.

    Parameters
    ----------
    times_s : array, shape (n,) [s]
    rising : array of bool, shape (n,)
    sd_s : array, shape (n,) [s]
    """

    times_s: FloatArray
    rising: BoolArray
    sd_s: FloatArray

    @property
    def count(self) -> int:
        """Number of edges."""
        return int(self.times_s.size)

    def of_kind(self, rising: bool) -> FloatArray:
        """Times of the edges of one kind [s]."""
        return np.asarray(self.times_s[self.rising == rising])

    def sd_of_kind(self, rising: bool) -> FloatArray:
        """Standard deviations of the edges of one kind [s]."""
        return np.asarray(self.sd_s[self.rising == rising])

    def lock(self, pattern: WheelPattern, rising: bool, *, crank_per_turn: float = 1.0) -> WheelLock:
        """The edges of one kind read against a wheel."""
        return lock_wheel(
            self.of_kind(rising),
            pattern,
            others_s=self.of_kind(not rising),
            sd_s=self.sd_of_kind(rising),
            crank_per_turn=crank_per_turn,
        )


@dataclass(frozen=True, slots=True, eq=False)
class ChannelRole:
    """What one channel is.

    Parameters
    ----------
    role : str
        "crank", "cam", "unknown" or "silent".
    reason : str
        In words.
    wheel : Identification, optional
        What its edges say about a wheel, where that was asked.
    reading : CamReading, optional
        Its repeating edges, where there is a crank.
    """

    role: str
    reason: str
    wheel: Identification | None = None
    reading: CamReading | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Roles:
    """What all channels are.

    Parameters
    ----------
    channels : tuple of ChannelRole
        In the order given.
    crank : int, optional
        Number of the crank's channel; None where no channel follows a known wheel.
    guess : WheelGuess, optional
        Its wheel.
    map : AngleMap, optional
        Made from it, its parts in step.
    """

    channels: tuple[ChannelRole, ...]
    crank: int | None
    guess: WheelGuess | None
    map: AngleMap | None


def find_roles(
    channels: Sequence[Channel],
    *,
    crank: int | None = None,
    patterns: Sequence[WheelPattern] = (),
    even: bool | None = None,
    learn: bool = True,
) -> Roles:
    """Find the crank, its wheel and even edge, and the cams.

    Parameters
    ----------
    channels : sequence of Channel
    crank : int, optional
        The crank's channel where it is known.
    patterns : sequence of WheelPattern
        Wheels its wheel may be, where that is known.
    even : bool, optional
        Whether its even edges rise, where that is known.
    learn : bool
        Learn the places of the teeth.

    Returns
    -------
    Roles
    """
    asked = [crank] if crank is not None else sorted(range(len(channels)), key=lambda i: -channels[i].count)
    identified: dict[int, Identification] = {}
    chosen: int | None = crank
    for i in asked:
        if channels[i].count < _LEAST_EDGES:
            continue
        identified[i] = _identify(channels[i], patterns, even)
        best = identified[i].best
        if best is not None and best.odds >= _SURE and chosen is None:
            chosen = i
            break
    guess = _guess(identified.get(chosen) if chosen is not None else None, patterns, forced=crank is not None)
    if chosen is None or guess is None:
        return Roles(tuple(_alone(c, identified.get(i)) for i, c in enumerate(channels)), None, None, None)
    lock = channels[chosen].lock(guess.pattern, guess.rising)
    amap = _in_step(angle_map(lock, learn=learn), channels, chosen)
    roles = []
    for i, channel in enumerate(channels):
        if i == chosen:
            roles.append(ChannelRole("crank", _crank_reason(guess, crank is not None), identified.get(i)))
        else:
            roles.append(_beside_crank(channel, amap, identified.get(i)))
    return Roles(tuple(roles), chosen, guess, amap)


def _identify(channel: Channel, patterns: Sequence[WheelPattern], even: bool | None) -> Identification:
    noise = float(np.median(channel.sd_s)) if channel.count else 0.0
    return identify_wheel(channel.times_s, channel.rising, patterns=patterns, even=even, sd_s=noise)


def _guess(found: Identification | None, patterns: Sequence[WheelPattern], *, forced: bool) -> WheelGuess | None:
    if found is None or not found.guesses:
        return None
    if forced and patterns:
        return found.guesses[0]  # channel and wheel are described: a poor fit shows in the lock
    best = found.best
    return best if best is not None and best.odds >= _SURE else None


def _crank_reason(guess: WheelGuess, told: bool) -> str:
    kind = "rising" if guess.rising else "falling"
    return f"{'described as the crank' if told else 'its edges follow a wheel'}: {guess.pattern}, {kind} edges even"


def _alone(channel: Channel, wheel: Identification | None) -> ChannelRole:
    if channel.count < 2:
        return ChannelRole("silent", "fewer than two edges")
    if wheel is not None and wheel.regular:
        return ChannelRole(
            "unknown", "regular edges without an index: the shaft and the number of teeth are not known", wheel
        )
    return ChannelRole("unknown", "follows no wheel that is known here", wheel)


def _in_step(amap: AngleMap, channels: Sequence[Channel], crank: int) -> AngleMap:
    """Parts of the map brought into step by the channel that is likeliest a cam."""
    if amap.n_parts < 2:
        return amap
    best, most = amap, 0
    for i, channel in enumerate(channels):
        if i == crank or channel.count < 4:
            continue
        joined, settled = join_parts(amap, channel.times_s, channel.rising)
        if sum(settled) > most and sum(settled) > 1:
            best, most = joined, sum(settled)
    return best


def _beside_crank(channel: Channel, amap: AngleMap, wheel: Identification | None) -> ChannelRole:
    if channel.count < 2:
        return ChannelRole("silent", "fewer than two edges", wheel)
    reading = read_cam(amap, channel.times_s, channel.rising, sd_s=channel.sd_s)
    taken = sum(edge.count for edge in reading.edges)
    placed = channel.count - reading.unplaced
    if not reading.edges or taken < _CAM_SHARE * placed:
        return ChannelRole("unknown", "its edges do not come again every two turns of the crank", wheel, reading)
    scatter = float(np.median([edge.scatter_deg for edge in reading.edges]))
    if scatter > _CAM_SCATTER_DEG:
        return ChannelRole("unknown", f"its edges wander by {scatter:.0f}° from one cycle to the next", wheel, reading)
    if _lasts_a_time(channel, amap):
        return ChannelRole("unknown", "its pulses last a time, not an angle: a coil or an injector", wheel, reading)
    if reading.every_turn:
        return ChannelRole(
            "cam", "its edges come again at fixed angles, alike in both turns of the crank", wheel, reading
        )
    return ChannelRole("cam", "its edges come again every two turns of the crank", wheel, reading)


def _lasts_a_time(channel: Channel, amap: AngleMap) -> bool:
    """True where pulses of one level keep their duration while the speed changes."""
    angles = amap.at(channel.times_s)
    duration, turned = np.diff(channel.times_s), np.diff(angles.deg)
    same = (np.diff(angles.part) == 0) & (angles.part[1:] >= 0)
    for level in (True, False):
        own = same & (channel.rising[:-1] == level) & (turned > 0.0)
        if own.sum() < 6 or np.std(np.log(duration[own] / turned[own])) < _SPEED_VARIES:
            continue
        if np.std(np.log(duration[own])) < 0.5 * np.std(np.log(turned[own])):
            return True
    return False
